//! Results that are sent piece by piece, to a client that gave a token for them. They go straight to where answers are
//! written: a piece can never come after the answer that ends it.

use serde::Serialize;
use serde_json::json;
use std::sync::{Mutex, PoisonError, mpsc::Sender};
use tower_lsp::lsp_types::ProgressToken;

/// Where pieces of one answer go; nowhere if the client gave no token.
#[derive(Debug, Default)]
pub(crate) struct Stream(Option<Mutex<(Sender<Vec<u8>>, ProgressToken)>>);

impl Stream {
    pub(crate) fn new(out: Sender<Vec<u8>>, token: Option<ProgressToken>) -> Self {
        Self(token.map(|token| Mutex::new((out, token))))
    }

    /// Whether somebody wants pieces.
    pub(crate) fn is_wanted(&self) -> bool {
        self.0.is_some()
    }

    /// Sends a piece.
    pub(crate) fn send(&self, piece: impl Serialize) {
        let Some(place) = &self.0 else { return };
        let place = place.lock().unwrap_or_else(PoisonError::into_inner);
        let (out, token) = &*place;
        let message =
            json!({ "jsonrpc": "2.0", "method": "$/progress", "params": { "token": token, "value": piece } });
        let _ = serde_json::to_vec(&message).map(|bytes| out.send(bytes)); // the client is gone
    }
}
