//! The one task that talks to the client. Nothing else waits for it, so a client that does not answer delays
//! nobody.

use std::time::Duration;
use tokio::sync::mpsc::{UnboundedReceiver, UnboundedSender, unbounded_channel};
use tower_lsp::{
    Client,
    lsp_types::{Diagnostic, MessageType, Registration, Url},
};

/// How long to wait for a client's answer.
const PATIENCE: Duration = Duration::from_secs(10);

/// What the client is told.
pub(crate) enum ToClient {
    Publish(Url, Vec<Diagnostic>, Option<i32>),
    Log(MessageType, String),
    Show(MessageType, String),
    Register(Vec<Registration>),
    RefreshHints,
}

/// The way to the client task; never blocks.
#[derive(Clone)]
pub(crate) struct Outbox(UnboundedSender<ToClient>);

impl Outbox {
    pub(crate) fn new() -> (Self, UnboundedReceiver<ToClient>) {
        let (sender, receiver) = unbounded_channel();
        (Self(sender), receiver)
    }
    pub(crate) fn send(&self, what: ToClient) {
        let _ = self.0.send(what); // the client is gone: then nobody misses it
    }
    pub(crate) fn log(&self, level: MessageType, text: String) {
        self.send(ToClient::Log(level, text));
    }
}

/// Runs the client task. `refresh` tells whether the client redraws hints when asked to.
pub(crate) async fn run(
    client: Client,
    mut messages: UnboundedReceiver<ToClient>,
    refresh: impl Fn() -> bool + Send,
) {
    while let Some(message) = messages.recv().await {
        match message {
            ToClient::Publish(uri, diagnostics, version) => {
                client.publish_diagnostics(uri, diagnostics, version).await;
            }
            ToClient::Log(level, text) => client.log_message(level, text).await,
            ToClient::Show(level, text) => client.show_message(level, text).await,
            // Requests wait for an answer, and must not hold up what comes after them.
            ToClient::Register(registrations) => {
                let client = client.clone();
                tokio::spawn(async move {
                    let _ = tokio::time::timeout(PATIENCE, client.register_capability(registrations)).await;
                });
            }
            ToClient::RefreshHints if refresh() => {
                let client = client.clone();
                tokio::spawn(async move {
                    let _ = tokio::time::timeout(PATIENCE, client.inlay_hint_refresh()).await;
                });
            }
            ToClient::RefreshHints => {}
        }
    }
}
