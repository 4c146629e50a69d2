//! One client's session: what it told of itself, and how its requests get to the main loop and back.

use crate::{
    changes::Changes,
    circuits::{self, Answer, Asks},
    diagnostics::Features,
    files::Files,
    handlers::{self, execute_command},
    main_loop::Message,
    outbox::{Outbox, Refreshes},
    position::Encoding,
    shelf::Shelf,
    snapshot::Snapshot,
    stream::Stream,
    token::{StopOnDrop, Token},
};
use keyon_solve::{Cancel, Cancelled};
use std::{
    collections::HashMap,
    path::PathBuf,
    sync::{Arc, Mutex, OnceLock, PoisonError, mpsc::Sender},
    time::Duration,
};
use tokio::sync::oneshot;
use tower_lsp::{
    jsonrpc::{Error, Result},
    lsp_types::{PartialResultParams, SemanticToken, Url, WorkspaceDiagnosticReport},
};

/// What the client told at the start that later answers depend on.
#[derive(Debug, Default)]
pub(crate) struct Client {
    pub(crate) symbol_tree: bool,
    pub(crate) watches: bool,
    /// Whether it fills in templates.
    pub(crate) snippets: bool,
    /// Whether it asks for diagnostics instead of being told.
    pub(crate) pulls: bool,
    /// Whether it answers for its configuration.
    pub(crate) configures: bool,
    pub(crate) features: Features,
}

pub(crate) struct Backend {
    queue: Sender<Message>,
    pub(crate) outbox: Outbox,
    pub(crate) client: OnceLock<Client>,
    /// The workspace folders.
    roots: Mutex<Vec<PathBuf>>,
    pub(crate) refreshes: Arc<Refreshes>,
    pub(crate) debounce: Duration,
    /// Where messages are written.
    out: Sender<Vec<u8>>,
    /// Counts what changes in the workspace.
    changes: Arc<Changes>,
    /// What is known of files that are not open.
    pub(crate) shelf: Arc<Shelf>,
    /// The tokens that were sent last, by document, with their number.
    tokens: Mutex<HashMap<Url, (u64, Vec<SemanticToken>)>>,
}

impl Backend {
    pub(crate) fn new(
        queue: Sender<Message>,
        outbox: Outbox,
        refreshes: Arc<Refreshes>,
        debounce: Duration,
        out: Sender<Vec<u8>>,
        changes: Arc<Changes>,
    ) -> Self {
        Self {
            queue,
            outbox,
            client: OnceLock::new(),
            roots: Mutex::default(),
            refreshes,
            debounce,
            out,
            changes,
            shelf: Arc::default(),
            tokens: Mutex::default(),
        }
    }

    /// For who tells the main loop something later.
    pub(crate) fn queue(&self) -> Sender<Message> {
        self.queue.clone()
    }

    pub(crate) fn tell(&self, message: Message) {
        let _ = self.queue.send(message); // the main loop has ended: so will we
    }

    /// Asks a worker about a document.
    pub(crate) async fn ask<P, R>(
        &self,
        uri: Url,
        params: P,
        run: fn(&Snapshot, P) -> std::result::Result<R, Cancelled>,
    ) -> Result<R>
    where
        P: Asks + Send + 'static,
        R: Answer + Send + 'static,
    {
        let unknown = Error::invalid_params(format!("{uri} is neither open nor a file that can be read"));
        self.answer(|token, tx| Message::Ask {
            uri,
            token,
            answer: Box::new(move |snapshot| {
                let answer = match snapshot {
                    None => Err(unknown),
                    Some(snapshot) if snapshot.token.cancelled() => Err(Error::content_modified()),
                    Some(snapshot) => circuits::answer(&snapshot, params, run)
                        .map_err(|Cancelled| Error::content_modified()),
                };
                let _ = tx.send(answer); // cancelled meanwhile
            }),
        })
        .await
    }

    /// Tells the main loop a request, and waits for what it makes of it; stops the work if nobody waits any more.
    async fn answer<R>(
        &self,
        request: impl FnOnce(Arc<Token>, oneshot::Sender<Result<R>>) -> Message,
    ) -> Result<R> {
        let token = Arc::new(Token::default());
        let _stop = StopOnDrop(Arc::clone(&token));
        let (tx, rx) = oneshot::channel();
        self.tell(request(token, tx));
        rx.await.unwrap_or_else(|_| Err(bug()))
    }

    /// `keyon/table`
    pub(crate) async fn table(
        &self,
        params: execute_command::TableParams,
    ) -> Result<execute_command::TableResult> {
        self.ask(params.uri.clone(), params, execute_command::table).await
    }

    /// `keyon/hold`
    pub(crate) async fn hold(
        &self,
        params: execute_command::HoldParams,
    ) -> Result<execute_command::HoldResult> {
        let hold = |scenario| Message::Hold { uri: params.uri.clone(), scenario };
        // Before anything is waited for, so that what the client asks next is answered in the new state.
        self.tell(hold(params.scenario.as_deref().map(Into::into)));
        let result = self.ask(params.uri.clone(), params.scenario.clone(), execute_command::hold).await?;
        if !result.known {
            self.tell(hold(None));
            let names = result.scenarios.join(", ");
            let wish = params.scenario.unwrap_or_default();
            let offer =
                if names.is_empty() { "the file has none".into() } else { format!("there are: {names}") };
            return Err(Error::invalid_params(format!("no scenario `{wish}`; {offer}")));
        }
        Ok(result)
    }

    /// `keyon/draw`
    pub(crate) async fn draw(
        &self,
        params: execute_command::DrawParams,
    ) -> Result<execute_command::DrawResult> {
        self.ask(params.uri.clone(), params, execute_command::draw).await
    }

    /// `keyon/locate`
    pub(crate) async fn locate(
        &self,
        params: execute_command::LocateParams,
    ) -> Result<Option<tower_lsp::lsp_types::Location>> {
        self.ask(params.uri.clone(), params, execute_command::locate).await
    }

    /// Asks a worker about all files of the workspace.
    pub(crate) async fn ask_all<P, R>(
        &self,
        params: P,
        run: fn(&Files, Encoding, &Token, P) -> std::result::Result<R, Cancelled>,
    ) -> Result<R>
    where
        P: Send + 'static,
        R: Send + 'static,
    {
        self.answer(|token, tx| {
            Message::AskAll(Box::new(move |files, encoding| {
                let found = run(&files, encoding, &token, params);
                let _ = tx.send(found.map_err(|Cancelled| Error::content_modified())); // cancelled meanwhile
            }))
        })
        .await
    }

    /// Where pieces of an answer go, if the client asked for pieces.
    pub(crate) fn stream(&self, params: &PartialResultParams) -> Stream {
        Stream::new(self.out.clone(), params.partial_result_token.clone())
    }

    /// Asks for the reports of all files. While there is nothing that the client does not know, the answer is held, until
    /// something changes: clients ask again as soon as they have one.
    pub(crate) async fn all_diagnostics(
        &self,
        asked: Arc<handlers::diagnostic::All>,
    ) -> Result<WorkspaceDiagnosticReport> {
        let mut changes = self.changes.watch();
        loop {
            let _ = changes.borrow_and_update();
            let asking = (Arc::clone(&asked), self.roots());
            let (report, news) = self.ask_all(asking, handlers::diagnostic::all).await?;
            // The first time there is nothing that it could know.
            if news || asked.previous.is_empty() || changes.changed().await.is_err() || self.changes.ended() {
                return Ok(report);
            }
            // Changes come in rows, and all circuits of the folder are asked.
            tokio::time::sleep(self.debounce.max(Duration::from_millis(50))).await;
        }
    }

    /// The workspace folders.
    pub(crate) fn roots(&self) -> Vec<PathBuf> {
        self.roots.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Other workspace folders: these are gone, those have come.
    pub(crate) fn change_roots(&self, gone: &[PathBuf], come: Vec<PathBuf>) {
        let mut roots = self.roots.lock().unwrap_or_else(PoisonError::into_inner);
        roots.retain(|root| !gone.contains(root));
        for root in come {
            if !roots.contains(&root) {
                roots.push(root);
            }
        }
        self.changes.count();
    }

    /// Forgets what was sent of a document.
    pub(crate) fn forget_tokens(&self, uri: &Url) {
        self.tokens.lock().unwrap_or_else(PoisonError::into_inner).remove(uri);
    }

    /// The tokens of a document, with the number that they go by.
    pub(crate) async fn all_tokens(
        &self,
        uri: &Url,
    ) -> Result<(u64, Vec<SemanticToken>, Option<(u64, Vec<SemanticToken>)>)> {
        let data = self.ask(uri.clone(), (), handlers::semantic_tokens::full).await?;
        let mut known = self.tokens.lock().unwrap_or_else(PoisonError::into_inner);
        let before = known.get(uri).cloned();
        let number = before.as_ref().map_or(1, |(number, _)| number + 1);
        known.insert(uri.clone(), (number, data.clone()));
        Ok((number, data, before))
    }

    /// `keyon/explain`
    pub(crate) async fn explain(&self, params: execute_command::ExplainParams) -> Result<Option<String>> {
        Ok(keyon_ide::explain(&params.rule))
    }

    /// `keyon/rules`
    pub(crate) async fn rules(&self) -> Result<Vec<execute_command::RuleResult>> {
        Ok(execute_command::rules())
    }
}

/// A worker died over the request; the panic has been written to standard error.
pub(crate) fn bug() -> Error {
    let mut error = Error::internal_error();
    error.message = "this request ran into a bug in Keyon; everything else goes on".into();
    error
}
