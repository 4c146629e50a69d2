//! Large answers, written as bytes by who makes them. The protocol's library makes a tree of values of every answer first,
//! and in such a tree a number takes the room of thirty letters: for a long file that is most of what the server holds.

use serde::Serialize;
use std::cell::RefCell;
use tower_lsp::jsonrpc::{Id, Response};

tokio::task_local! {
    /// What takes the place of the result of the request that is being answered.
    static INSTEAD: RefCell<Option<Vec<u8>>>;
}

/// An answer, and what is written in place of its result.
#[derive(Debug)]
pub(crate) struct Outgoing {
    pub(crate) response: Response,
    instead: Option<Vec<u8>>,
}

impl From<Response> for Outgoing {
    fn from(response: Response) -> Self {
        Self { response, instead: None }
    }
}

impl Outgoing {
    /// The message's bytes.
    ///
    /// # Errors
    /// Never in practice: what is written has no maps with odd keys.
    pub(crate) fn bytes(self) -> serde_json::Result<Vec<u8>> {
        match self.instead.filter(|_| self.response.is_ok()) {
            Some(result) => around(&result, self.response.id()),
            None => serde_json::to_vec(&self.response),
        }
    }
}

fn around(result: &[u8], id: &Id) -> serde_json::Result<Vec<u8>> {
    let mut bytes = Vec::with_capacity(result.len() + 64);
    bytes.extend_from_slice(br#"{"jsonrpc":"2.0","result":"#);
    bytes.extend_from_slice(result);
    bytes.extend_from_slice(br#","id":"#);
    serde_json::to_writer(&mut bytes, id)?;
    bytes.push(b'}');
    Ok(bytes)
}

/// Leaves the result of the request that is being answered, for whoever sends the answer; what is given back stands for it
/// on the way there. Outside a request it is the result itself.
pub(crate) fn leave<R: Serialize>(result: R, empty: impl FnOnce() -> R) -> R {
    let Ok(bytes) = serde_json::to_vec(&result) else { return result };
    match INSTEAD.try_with(|instead| *instead.borrow_mut() = Some(bytes)) {
        Ok(()) => empty(),
        Err(_) => result,
    }
}

/// Answers a request whose handler may leave its result as bytes.
pub(crate) async fn answer(handler: impl Future<Output = Response>) -> Outgoing {
    let with_place = async {
        let response = handler.await;
        Outgoing { response, instead: INSTEAD.with(RefCell::take) }
    };
    INSTEAD.scope(RefCell::default(), with_place).await
}

#[cfg(test)]
mod tests {
    use super::*;
    use futures_util::FutureExt;
    use serde_json::{Value, json};
    use tower_lsp::jsonrpc::Error;

    fn sent(handler: impl Future<Output = Response>) -> Value {
        let outgoing = answer(handler).now_or_never().unwrap();
        serde_json::from_slice(&outgoing.bytes().unwrap()).unwrap()
    }

    fn id() -> Id {
        Id::String("a \"b\"".into())
    }

    #[test]
    fn what_is_left_is_sent() {
        let large = json!({ "data": [1, 2, "drei\u{e4}"] });
        let plain = sent(async { Response::from_ok(id(), large.clone()) });
        let left = sent(async { Response::from_ok(id(), leave(large.clone(), || Value::Null)) });
        assert_eq!(plain, left);
    }

    #[test]
    fn an_error_stays_one() {
        let failed = sent(async {
            leave(json!([1]), || Value::Null);
            Response::from_error(id(), Error::internal_error())
        });
        assert!(failed.get("error").is_some() && failed.get("result").is_none());
    }

    #[test]
    fn one_answer_leaves_nothing_for_the_next() {
        sent(async { Response::from_ok(id(), leave(json!([1]), || Value::Null)) });
        assert_eq!(sent(async { Response::from_ok(id(), json!(2)) })["result"], 2);
        assert_eq!(leave(json!(3), || Value::Null), json!(3));
    }
}
