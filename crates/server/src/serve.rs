//! Messages in, messages out. Each request's handler is begun in the order in which requests arrive, before the next
//! message is looked at; its answer may come in any order.

use crate::{
    bulk::{self, Outgoing},
    capabilities::{NOTIFICATIONS, REQUESTS},
    changes::Changes,
    frame::Frame,
};
use futures_util::{FutureExt, SinkExt, StreamExt, future::BoxFuture, stream::FuturesUnordered};
use serde_json::Value;
use std::{
    panic::AssertUnwindSafe,
    task::{Context, Poll, Waker},
    time::Duration,
};
use tokio::sync::mpsc::UnboundedReceiver;
use tower_lsp::{
    ClientSocket,
    jsonrpc::{Error, ErrorCode, Id, Request, Response},
};
use tower_service::Service;

/// How long answers may still take after the last message came.
const LINGER: Duration = Duration::from_secs(10);

/// Where the session stands.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Phase {
    Waiting,
    Running,
    ShutDown,
}

/// Serves until `exit` or the end of input. `true` if the client had said `shutdown`.
pub(crate) async fn serve<S>(
    mut service: S,
    client: ClientSocket,
    mut frames: UnboundedReceiver<Frame>,
    out: std::sync::mpsc::Sender<Vec<u8>>,
    changes: &Changes,
) -> bool
where
    S: Service<Request, Response = Option<Response>>,
    S::Future: Future<Output = Result<Option<Response>, S::Error>> + Send + 'static,
    S::Error: Send + 'static,
{
    let (requests, mut responses) = client.split();
    let mut requests = requests.fuse();
    let mut pending: FuturesUnordered<BoxFuture<'static, Outgoing>> = FuturesUnordered::new();
    let mut phase = Phase::Waiting;
    let send = |message: serde_json::Result<Vec<u8>>| {
        let _ = message.map(|bytes| out.send(bytes)); // the writer has ended: the client is gone
    };
    loop {
        tokio::select! {
            frame = frames.recv() => {
                let Some(frame) = frame else { break };
                match read(frame) {
                    Err(response) => send(serde_json::to_vec(&response)),
                    Ok(Incoming::Response(response)) => {
                        let _ = responses.send(response).await;
                    }
                    Ok(Incoming::Request(request)) => {
                        let method = request.method().to_owned();
                        if let Some(refusal) = refuse(phase, &request) {
                            send(serde_json::to_vec(&refusal));
                            continue;
                        }
                        if let Some(id) = request.id().cloned() {
                            let answer = begin(&mut service, request, id);
                            match answer {
                                Begun::Done(answer) => {
                                    phase = match method.as_str() {
                                        "initialize" if answer.response.is_ok() => Phase::Running,
                                        "shutdown" if answer.response.is_ok() => Phase::ShutDown,
                                        _ => phase,
                                    };
                                    send(answer.bytes());
                                }
                                Begun::Later(future) => pending.push(future),
                            }
                        } else {
                            notify(&mut service, request);
                        }
                        if method == "exit" {
                            return phase == Phase::ShutDown;
                        }
                    }
                }
            }
            Some(answer) = pending.next(), if !pending.is_empty() => send(answer.bytes()),
            Some(request) = requests.next() => send(serde_json::to_vec(&request)),
        }
    }
    changes.end();
    // The end of input: whoever still reads gets the answers that were asked for.
    let rest = async {
        while let Some(answer) = pending.next().await {
            send(answer.bytes());
        }
    };
    let _ = tokio::time::timeout(LINGER, rest).await;
    phase == Phase::ShutDown
}

enum Incoming {
    Request(Request),
    Response(Response),
}

/// What a frame says; a response that complains about it if it says nothing.
fn read(frame: Frame) -> Result<Incoming, Box<Response>> {
    let bytes = match frame {
        Frame::Content(bytes) => bytes,
        Frame::Garbage(what) => return Err(boxed(ErrorCode::ParseError, what, Id::Null)),
    };
    let value: Value = serde_json::from_slice(&bytes)
        .map_err(|error| boxed(ErrorCode::ParseError, error.to_string(), Id::Null))?;
    let Value::Object(mut message) = value else {
        return Err(boxed(ErrorCode::InvalidRequest, "a message is an object".into(), Id::Null));
    };
    let id = message.get("id").cloned().and_then(|id| serde_json::from_value(id).ok()).unwrap_or(Id::Null);
    let invalid = |error: serde_json::Error| boxed(ErrorCode::InvalidRequest, error.to_string(), id.clone());
    if message.contains_key("method") {
        // `null` is how some clients say that there are no parameters.
        let empty = message.get("params").is_some_and(|params| match params {
            Value::Null => true,
            Value::Object(fields) => fields.is_empty(),
            Value::Array(values) => values.is_empty(),
            _ => false,
        });
        let bare = matches!(message.get("method").and_then(Value::as_str), Some("shutdown" | "exit"));
        if empty && bare || message.get("params") == Some(&Value::Null) {
            message.remove("params");
        }
        // A request has an id that is not null.
        if message.get("id") == Some(&Value::Null) {
            return Err(boxed(ErrorCode::InvalidRequest, "a request's id is not null".into(), Id::Null));
        }
        serde_json::from_value(Value::Object(message)).map(Incoming::Request).map_err(invalid)
    } else {
        serde_json::from_value(Value::Object(message)).map(Incoming::Response).map_err(invalid)
    }
}

fn boxed(code: ErrorCode, what: String, id: Id) -> Box<Response> {
    Box::new(complaint(code, what, id))
}

fn complaint(code: ErrorCode, what: String, id: Id) -> Response {
    Response::from_error(id, Error { code, message: what.into(), data: None })
}

/// What a request gets outside the time for it. Notifications outside it are dropped by the service.
fn refuse(phase: Phase, request: &Request) -> Option<Response> {
    let id = request.id()?.clone();
    match phase {
        Phase::Waiting if request.method() != "initialize" => {
            let what = "the session has not been initialized yet".to_owned();
            Some(complaint(ErrorCode::ServerError(-32002), what, id))
        }
        Phase::ShutDown => {
            Some(complaint(ErrorCode::InvalidRequest, "the server has been shut down".into(), id))
        }
        // Not the protocol's notifications with an id, which the service itself calls invalid.
        _ if !REQUESTS.contains(&request.method()) && !NOTIFICATIONS.contains(&request.method()) => {
            let what = format!("Keyon has no method {}", request.method());
            Some(complaint(ErrorCode::MethodNotFound, what, id))
        }
        _ => None,
    }
}

enum Begun {
    Done(Outgoing),
    Later(BoxFuture<'static, Outgoing>),
}

/// Begins a request: its handler runs up to the first thing it waits for.
fn begin<S>(service: &mut S, request: Request, id: Id) -> Begun
where
    S: Service<Request, Response = Option<Response>>,
    S::Future: Future<Output = Result<Option<Response>, S::Error>> + Send + 'static,
    S::Error: Send + 'static,
{
    let method = request.method().to_owned();
    let unknown = Error { data: Some(method.into()), ..Error::method_not_found() };
    let future = AssertUnwindSafe(service.call(request)).catch_unwind().map(move |result| match result {
        Ok(Ok(Some(response))) => response,
        // The service leaves unknown requests of the protocol's own kind (`$/…`) unanswered.
        Ok(_) => Response::from_error(id, unknown),
        Err(_) => Response::from_error(id, Error::internal_error()),
    });
    let mut future = Box::pin(bulk::answer(future));
    match future.as_mut().poll(&mut Context::from_waker(Waker::noop())) {
        Poll::Ready(answer) => Begun::Done(answer),
        Poll::Pending => Begun::Later(future),
    }
}

/// Handles a notification; none of ours waits for anything.
fn notify<S>(service: &mut S, request: Request)
where
    S: Service<Request, Response = Option<Response>>,
    S::Future: Future<Output = Result<Option<Response>, S::Error>> + Send + 'static,
    S::Error: Send + 'static,
{
    let _ = AssertUnwindSafe(service.call(request)).catch_unwind().now_or_never();
}
