//! The handlers. Each puts a message into the main loop's queue at once, without waiting for anything before it, so that
//! nothing is overtaken; requests then wait for their answer.

use crate::{
    capabilities, diagnostics,
    handlers::{self, execute_command},
    main_loop::Message,
    outbox::{Outbox, ToClient},
    position::Encoding,
    snapshot::Snapshot,
    token::{StopOnDrop, Token},
};
use keyon_solve::{Cancel, Cancelled};
use serde_json::{Value, json};
use std::{
    sync::{
        Arc, OnceLock,
        atomic::{AtomicBool, Ordering},
        mpsc::Sender,
    },
    time::Duration,
};
use tokio::sync::oneshot;
use tower_lsp::{
    LanguageServer,
    jsonrpc::{Error, Result},
    lsp_types::{self as lsp, *},
};

/// What the client told at the start that later answers depend on.
#[derive(Debug, Default)]
struct Client {
    symbol_tree: bool,
    watches: bool,
}

pub(crate) struct Backend {
    queue: Sender<Message>,
    outbox: Outbox,
    client: OnceLock<Client>,
    refresh: Arc<AtomicBool>,
    debounce: Duration,
}

impl Backend {
    pub(crate) fn new(
        queue: Sender<Message>,
        outbox: Outbox,
        refresh: Arc<AtomicBool>,
        debounce: Duration,
    ) -> Self {
        Self { queue, outbox, client: OnceLock::new(), refresh, debounce }
    }

    fn tell(&self, message: Message) {
        let _ = self.queue.send(message); // the main loop has ended: so will we
    }

    /// Asks a worker about a document.
    async fn ask<P, R>(
        &self,
        uri: Url,
        params: P,
        run: fn(&Snapshot, P) -> std::result::Result<R, Cancelled>,
    ) -> Result<R>
    where
        P: Send + 'static,
        R: Send + 'static,
    {
        let token = Arc::new(Token::default());
        let _stop = StopOnDrop(Arc::clone(&token));
        let (tx, rx) = oneshot::channel();
        let unknown = Error::invalid_params(format!("{uri} is neither open nor a file that can be read"));
        self.tell(Message::Ask {
            uri,
            token,
            answer: Box::new(move |snapshot| {
                let answer = match snapshot {
                    None => Err(unknown),
                    Some(snapshot) if snapshot.token.cancelled() => Err(Error::content_modified()),
                    Some(snapshot) => run(&snapshot, params).map_err(|Cancelled| Error::content_modified()),
                };
                let _ = tx.send(answer); // cancelled meanwhile
            }),
        });
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

    /// `keyon/explain`
    pub(crate) async fn explain(&self, params: execute_command::ExplainParams) -> Result<Option<String>> {
        Ok(keyon_ide::explain(&params.rule))
    }
}

/// A worker died over the request; the panic has been written to standard error.
fn bug() -> Error {
    let mut error = Error::internal_error();
    error.message = "this request ran into a bug in Keyon; everything else goes on".into();
    error
}

fn parse<T: serde::de::DeserializeOwned>(value: Value) -> Result<T> {
    serde_json::from_value(value).map_err(|error| Error::invalid_params(error.to_string()))
}

/// A command's arguments: one object, or its values in order.
fn arguments(arguments: Vec<Value>, names: [&str; 2]) -> Value {
    match arguments.first() {
        Some(Value::Object(_)) => arguments.into_iter().next().unwrap_or_default(),
        _ => Value::Object(names.map(String::from).into_iter().zip(arguments).collect()),
    }
}

#[tower_lsp::async_trait]
impl LanguageServer for Backend {
    async fn initialize(&self, params: InitializeParams) -> Result<InitializeResult> {
        let capabilities = params.capabilities;
        let general = capabilities.general.as_ref();
        let encoding = Encoding::negotiate(general.and_then(|g| g.position_encodings.as_deref()));
        let text = capabilities.text_document.unwrap_or_default();
        let workspace = capabilities.workspace.unwrap_or_default();
        let option = |name: &str| params.initialization_options.as_ref()?.get(name)?.as_u64();
        let debounce = option("debounce").map_or(self.debounce, Duration::from_millis);
        let refresh = workspace.inlay_hint.and_then(|hint| hint.refresh_support);
        self.refresh.store(refresh == Some(true), Ordering::Relaxed);
        let _ = self.client.set(Client {
            symbol_tree: text.document_symbol.and_then(|s| s.hierarchical_document_symbol_support)
                == Some(true),
            watches: workspace.did_change_watched_files.and_then(|w| w.dynamic_registration) == Some(true),
        });
        let features = diagnostics::Features::of(text.publish_diagnostics.as_ref());
        self.tell(Message::Start { encoding, features, debounce });
        if let Some(parent) = params.process_id {
            crate::parent::watch(parent);
        }
        Ok(InitializeResult {
            capabilities: capabilities::announce(encoding),
            server_info: Some(ServerInfo {
                name: "keyon".into(),
                version: Some(env!("CARGO_PKG_VERSION").into()),
            }),
        })
    }

    async fn initialized(&self, _: InitializedParams) {
        if self.client.get().is_some_and(|client| client.watches) {
            let watchers =
                json!({ "watchers": [{ "globPattern": "**/*.keyon" }, { "globPattern": "**/keyon.toml" }] });
            self.outbox.send(ToClient::Register(vec![Registration {
                id: "keyon-files".into(),
                method: "workspace/didChangeWatchedFiles".into(),
                register_options: Some(watchers),
            }]));
        }
    }

    async fn shutdown(&self) -> Result<()> {
        Ok(())
    }

    async fn did_open(&self, params: DidOpenTextDocumentParams) {
        self.tell(Message::Open(params.text_document));
    }
    async fn did_change(&self, params: DidChangeTextDocumentParams) {
        self.tell(Message::Change(params));
    }
    async fn did_save(&self, params: DidSaveTextDocumentParams) {
        self.tell(Message::Save(params.text_document.uri, params.text));
    }
    async fn did_close(&self, params: DidCloseTextDocumentParams) {
        self.tell(Message::Close(params.text_document.uri));
    }
    async fn did_change_watched_files(&self, params: DidChangeWatchedFilesParams) {
        self.tell(Message::Watched(params.changes));
    }

    async fn hover(&self, params: HoverParams) -> Result<Option<Hover>> {
        let uri = params.text_document_position_params.text_document.uri.clone();
        self.ask(uri, params, handlers::hover::run).await
    }
    async fn goto_definition(&self, params: GotoDefinitionParams) -> Result<Option<GotoDefinitionResponse>> {
        let uri = params.text_document_position_params.text_document.uri.clone();
        self.ask(uri, params, handlers::definition::run).await
    }
    async fn references(&self, params: ReferenceParams) -> Result<Option<Vec<Location>>> {
        let uri = params.text_document_position.text_document.uri.clone();
        self.ask(uri, params, handlers::references::run).await
    }
    async fn document_highlight(
        &self,
        params: DocumentHighlightParams,
    ) -> Result<Option<Vec<DocumentHighlight>>> {
        let uri = params.text_document_position_params.text_document.uri.clone();
        self.ask(uri, params, handlers::document_highlight::run).await
    }
    async fn document_symbol(&self, params: DocumentSymbolParams) -> Result<Option<DocumentSymbolResponse>> {
        let tree = self.client.get().is_some_and(|client| client.symbol_tree);
        let uri = params.text_document.uri.clone();
        self.ask(uri, (params, tree), handlers::document_symbol::run).await
    }
    async fn completion(&self, params: CompletionParams) -> Result<Option<CompletionResponse>> {
        let uri = params.text_document_position.text_document.uri.clone();
        self.ask(uri, params, handlers::completion::run).await
    }
    async fn formatting(&self, params: DocumentFormattingParams) -> Result<Option<Vec<TextEdit>>> {
        let uri = params.text_document.uri.clone();
        self.ask(uri, params, handlers::formatting::run).await
    }
    async fn code_action(&self, params: CodeActionParams) -> Result<Option<CodeActionResponse>> {
        let uri = params.text_document.uri.clone();
        self.ask(uri, params, handlers::code_action::run).await
    }
    async fn folding_range(&self, params: FoldingRangeParams) -> Result<Option<Vec<FoldingRange>>> {
        let uri = params.text_document.uri.clone();
        self.ask(uri, params, handlers::folding_range::run).await
    }
    async fn inlay_hint(&self, params: InlayHintParams) -> Result<Option<Vec<lsp::InlayHint>>> {
        let uri = params.text_document.uri.clone();
        self.ask(uri, params, handlers::inlay_hint::run).await
    }

    async fn execute_command(&self, params: ExecuteCommandParams) -> Result<Option<Value>> {
        let result = match params.command.as_str() {
            "keyon.table" => {
                let params = parse(arguments(params.arguments, ["uri", "name"]))?;
                serde_json::to_value(self.table(params).await?)
            }
            "keyon.hold" => {
                let params = parse(arguments(params.arguments, ["uri", "scenario"]))?;
                serde_json::to_value(self.hold(params).await?)
            }
            "keyon.explain" => {
                let params = parse(arguments(params.arguments, ["rule", ""]))?;
                serde_json::to_value(self.explain(params).await?)
            }
            other => {
                let known = execute_command::COMMANDS.join(", ");
                return Err(Error::invalid_params(format!("no command `{other}`; there are: {known}")));
            }
        };
        result.map(Some).map_err(|_| bug())
    }
}
