//! The one task that talks to the client. Nothing else waits for it, so a client that does not answer delays
//! nobody.

use crate::main_loop::Message;
use std::{
    collections::HashMap,
    sync::{
        Arc,
        atomic::{AtomicBool, Ordering},
    },
    time::Duration,
};
use tokio::sync::{
    mpsc::{UnboundedReceiver, UnboundedSender, unbounded_channel},
    oneshot,
};
use tower_lsp::{
    Client,
    lsp_types::{
        ConfigurationItem, Diagnostic, MessageType, NumberOrString, ProgressParams, ProgressParamsValue,
        Registration, Url, WorkDoneProgress, WorkDoneProgressBegin, WorkDoneProgressCreateParams,
        WorkDoneProgressEnd, notification::Progress, request::WorkDoneProgressCreate,
    },
};

/// How long to wait for a client's answer.
const PATIENCE: Duration = Duration::from_secs(10);

/// What the client is told.
pub(crate) enum ToClient {
    Publish(Url, Vec<Diagnostic>, Option<i32>),
    Log(MessageType, String),
    Show(MessageType, String),
    Register(Vec<Registration>),
    /// Another scenario is held: hints and lenses speak of it.
    RefreshHeld,
    /// What other files say of a document has changed: it is asked for again.
    RefreshDiagnostics,
    /// Asks for the client's settings, and passes them on.
    Configuration(std::sync::mpsc::Sender<Message>),
    /// Work that may take long has begun: its number and its title.
    Busy(u64, String),
    /// It has ended.
    Idle(u64),
}

/// What the client does when it is asked to.
#[derive(Debug, Default)]
pub(crate) struct Refreshes {
    pub(crate) hints: AtomicBool,
    pub(crate) lenses: AtomicBool,
    pub(crate) diagnostics: AtomicBool,
    /// Shows how work goes on.
    pub(crate) progress: AtomicBool,
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

/// How long work takes before the client is told that it goes on.
const LONG: Duration = Duration::from_millis(700);

/// Runs the client task.
pub(crate) async fn run(
    client: Client,
    mut messages: UnboundedReceiver<ToClient>,
    refreshes: Arc<Refreshes>,
) {
    let can = |flag: &AtomicBool| flag.load(Ordering::Relaxed);
    let mut busy: HashMap<u64, oneshot::Sender<()>> = HashMap::new();
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
            ToClient::RefreshHeld => {
                let (hints, lenses) = (can(&refreshes.hints), can(&refreshes.lenses));
                let client = client.clone();
                tokio::spawn(async move {
                    if hints {
                        let _ = tokio::time::timeout(PATIENCE, client.inlay_hint_refresh()).await;
                    }
                    if lenses {
                        let _ = tokio::time::timeout(PATIENCE, client.code_lens_refresh()).await;
                    }
                });
            }
            ToClient::RefreshDiagnostics if can(&refreshes.diagnostics) => {
                let client = client.clone();
                tokio::spawn(async move {
                    let _ = tokio::time::timeout(PATIENCE, client.workspace_diagnostic_refresh()).await;
                });
            }
            ToClient::RefreshDiagnostics => {}
            ToClient::Configuration(queue) => {
                let client = client.clone();
                let item = ConfigurationItem { scope_uri: None, section: Some("keyon".into()) };
                tokio::spawn(async move {
                    let answer = tokio::time::timeout(PATIENCE, client.configuration(vec![item])).await;
                    if let Ok(Ok(mut settings)) = answer
                        && let Some(settings) = settings.pop()
                    {
                        let _ = queue.send(Message::Configure(settings)); // the main loop has ended
                    }
                });
            }
            ToClient::Busy(number, title) if can(&refreshes.progress) => {
                let (end, ended) = oneshot::channel();
                busy.insert(number, end);
                tokio::spawn(show_progress(client.clone(), number, title, ended));
            }
            ToClient::Busy(..) => {}
            ToClient::Idle(number) => drop(busy.remove(&number)),
        }
    }
}

/// Shows that work goes on, from when it has taken long until it ends.
async fn show_progress(client: Client, number: u64, title: String, mut ended: oneshot::Receiver<()>) {
    if tokio::time::timeout(LONG, &mut ended).await.is_ok() {
        return;
    }
    let token = NumberOrString::String(format!("keyon-{number}"));
    let create = WorkDoneProgressCreateParams { token: token.clone() };
    let created = client.send_request::<WorkDoneProgressCreate>(create);
    if !matches!(tokio::time::timeout(PATIENCE, created).await, Ok(Ok(()))) {
        return;
    }
    let send = |value| {
        let params = ProgressParams { token: token.clone(), value: ProgressParamsValue::WorkDone(value) };
        client.send_notification::<Progress>(params)
    };
    let begin = WorkDoneProgressBegin { title, cancellable: Some(false), ..Default::default() };
    send(WorkDoneProgress::Begin(begin)).await;
    let _ = ended.await; // dropped when the work ends
    send(WorkDoneProgress::End(WorkDoneProgressEnd::default())).await;
}
