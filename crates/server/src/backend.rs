//! The handlers. Each puts a message into the main loop's queue at once, without waiting for anything before it, so that
//! nothing is overtaken; requests then wait for their answer.

use crate::{
    bulk,
    capabilities::{self, Wishes},
    diagnostics,
    handlers::{self, completion, execute_command},
    main_loop::Message,
    outbox::ToClient,
    position::Encoding,
    session::{Backend, Client, bug},
};
use serde_json::{Value, json};
use std::{
    path::PathBuf,
    sync::{Arc, atomic::Ordering},
    time::Duration,
};
use tower_lsp::{
    LanguageServer,
    jsonrpc::{Error, ErrorCode, Result},
    lsp_types::{self as lsp, *},
};

fn parse<T: serde::de::DeserializeOwned>(value: Value) -> Result<T> {
    serde_json::from_value(value).map_err(|error| Error::invalid_params(error.to_string()))
}

/// A check that was overtaken by a change: the client is to ask for its findings again.
fn again(error: Error) -> Error {
    if error.code != ErrorCode::ContentModified {
        return error;
    }
    let retrigger = Some(json!({ "retriggerRequest": true }));
    Error { code: ErrorCode::ServerError(-32802), message: error.message, data: retrigger }
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
        #[allow(deprecated)] // older clients send nothing else
        let root = params.root_uri.as_ref().and_then(|uri| uri.to_file_path().ok());
        let folders = params.workspace_folders.iter().flatten().filter_map(|f| f.uri.to_file_path().ok());
        let mut roots: Vec<PathBuf> = folders.collect();
        if roots.is_empty() {
            roots.extend(root);
        }
        let capabilities = params.capabilities;
        let general = capabilities.general.as_ref();
        let encoding = Encoding::negotiate(general.and_then(|g| g.position_encodings.as_deref()));
        let text = capabilities.text_document.unwrap_or_default();
        let workspace = capabilities.workspace.unwrap_or_default();
        let option = |name: &str| params.initialization_options.as_ref()?.get(name);
        let debounce = option("debounce").and_then(Value::as_u64);
        let debounce = debounce.map_or(self.debounce, Duration::from_millis);
        // Told unless the client wants to ask: one that can do both would show everything twice.
        let pulls = text.diagnostic.is_some() && option("diagnostics").is_some_and(|way| way == "pull");
        let snippets = (|| text.completion.as_ref()?.completion_item.as_ref()?.snippet_support)();
        let store = |flag: &std::sync::atomic::AtomicBool, on: Option<bool>| {
            flag.store(on == Some(true), Ordering::Relaxed);
        };
        store(&self.refreshes.lenses, workspace.code_lens.and_then(|lens| lens.refresh_support));
        store(&self.refreshes.hints, workspace.inlay_hint.and_then(|hint| hint.refresh_support));
        // Whether the client refreshes stands under a name that the protocol's library spells otherwise: who pulls is asked.
        store(&self.refreshes.diagnostics, Some(pulls));
        store(&self.refreshes.progress, capabilities.window.and_then(|w| w.work_done_progress));
        let features = diagnostics::Features::of(text.publish_diagnostics.as_ref());
        let _ = self.client.set(Client {
            symbol_tree: text.document_symbol.and_then(|s| s.hierarchical_document_symbol_support)
                == Some(true),
            watches: workspace.did_change_watched_files.and_then(|w| w.dynamic_registration) == Some(true),
            snippets: snippets == Some(true) && option("snippets").is_none_or(|wish| wish != false),
            pulls,
            configures: workspace.configuration == Some(true),
            features: features.clone(),
        });
        self.change_roots(&[], roots);
        self.tell(Message::Start { encoding, features, debounce, pulls });
        if let Some(parent) = params.process_id {
            crate::parent::watch(parent);
        }
        Ok(InitializeResult {
            capabilities: capabilities::announce(encoding, Wishes { pulls }),
            server_info: Some(ServerInfo {
                name: "keyon".into(),
                version: Some(env!("CARGO_PKG_VERSION").into()),
            }),
        })
    }

    async fn initialized(&self, _: InitializedParams) {
        if self.client.get().is_some_and(|client| client.watches) {
            let watchers = json!({ "watchers": [{ "globPattern": "**/*.keyon" }, { "globPattern": "**/keyon.toml" }, { "globPattern": "**/*.md" }] });
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
        self.forget_tokens(&params.text_document.uri);
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
    async fn goto_declaration(
        &self,
        params: request::GotoDeclarationParams,
    ) -> Result<Option<request::GotoDeclarationResponse>> {
        let uri = params.text_document_position_params.text_document.uri.clone();
        self.ask(uri, params, handlers::definition::run).await
    }
    async fn references(&self, params: ReferenceParams) -> Result<Option<Vec<Location>>> {
        let uri = params.text_document_position.text_document.uri.clone();
        let stream = Arc::new(self.stream(&params.partial_result_params));
        self.ask(uri, (params, self.roots(), stream), handlers::references::run).await
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
        let symbols = self.ask(uri, (params, tree), handlers::document_symbol::run).await?;
        Ok(bulk::leave(symbols, || None))
    }
    async fn completion(&self, params: CompletionParams) -> Result<Option<CompletionResponse>> {
        let uri = params.text_document_position.text_document.uri.clone();
        let snippets = self.client.get().is_some_and(|client| client.snippets);
        let list = self.ask(uri, (params, snippets), completion::run).await?;
        Ok(bulk::leave(list, || None))
    }
    async fn completion_resolve(&self, item: CompletionItem) -> Result<CompletionItem> {
        let Some(asked) = item.data.clone().and_then(|data| serde_json::from_value(data).ok()) else {
            return Ok(item);
        };
        let asked: completion::Asked = asked;
        self.ask(asked.uri.clone(), (item, asked), completion::resolve).await
    }
    async fn diagnostic(&self, params: DocumentDiagnosticParams) -> Result<DocumentDiagnosticReportResult> {
        let Some(client) = self.client.get().filter(|client| client.pulls) else {
            return Err(Error::method_not_found());
        };
        let uri = params.text_document.uri.clone();
        let stream = Arc::new(self.stream(&params.partial_result_params));
        let asked = (params, client.features.clone(), stream);
        let report = self.ask(uri, asked, handlers::diagnostic::document).await.map_err(again)?;
        Ok(DocumentDiagnosticReportResult::Report(report))
    }
    async fn workspace_diagnostic(
        &self,
        params: WorkspaceDiagnosticParams,
    ) -> Result<WorkspaceDiagnosticReportResult> {
        let Some(client) = self.client.get().filter(|client| client.pulls) else {
            return Err(Error::method_not_found());
        };
        let asked = handlers::diagnostic::All {
            stream: self.stream(&params.partial_result_params),
            previous: params.previous_result_ids.into_iter().map(|p| (p.uri, p.value)).collect(),
            features: client.features.clone(),
            shelf: Arc::clone(&self.shelf),
        };
        let report = self.all_diagnostics(Arc::new(asked)).await.map_err(again)?;
        Ok(WorkspaceDiagnosticReportResult::Report(report))
    }
    async fn will_rename_files(&self, params: RenameFilesParams) -> Result<Option<WorkspaceEdit>> {
        self.ask_all((params.files, self.roots()), handlers::will_rename_files::run).await
    }
    async fn did_change_workspace_folders(&self, params: DidChangeWorkspaceFoldersParams) {
        let paths = |folders: Vec<WorkspaceFolder>| -> Vec<PathBuf> {
            folders.into_iter().filter_map(|f| f.uri.to_file_path().ok()).collect()
        };
        self.change_roots(&paths(params.event.removed), paths(params.event.added));
    }
    async fn did_change_configuration(&self, params: DidChangeConfigurationParams) {
        // Some clients send their settings along, under our name or bare; the others are asked.
        let settings = params.settings.get("keyon").cloned().unwrap_or(params.settings);
        if settings.get("debounce").is_some() {
            self.tell(Message::Configure(settings));
        } else if self.client.get().is_some_and(|client| client.configures) {
            self.outbox.send(ToClient::Configuration(self.queue()));
        }
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
    async fn inlay_hint_resolve(&self, hint: lsp::InlayHint) -> Result<lsp::InlayHint> {
        let Some(asked) = hint.data.clone().and_then(|data| serde_json::from_value(data).ok()) else {
            return Ok(hint);
        };
        let asked: handlers::inlay_hint::Asked = asked;
        self.ask(asked.uri.clone(), (hint, asked), handlers::inlay_hint::resolve).await
    }

    async fn prepare_rename(
        &self,
        params: TextDocumentPositionParams,
    ) -> Result<Option<PrepareRenameResponse>> {
        let uri = params.text_document.uri.clone();
        self.ask(uri, params, handlers::rename::prepare).await
    }
    async fn rename(&self, params: RenameParams) -> Result<Option<WorkspaceEdit>> {
        let uri = params.text_document_position.text_document.uri.clone();
        let found = self.ask(uri, (params, self.roots()), handlers::rename::run).await?;
        found.map_err(Error::invalid_params)
    }
    async fn goto_type_definition(
        &self,
        params: request::GotoTypeDefinitionParams,
    ) -> Result<Option<request::GotoTypeDefinitionResponse>> {
        let uri = params.text_document_position_params.text_document.uri.clone();
        self.ask(uri, params, handlers::type_definition::run).await
    }
    async fn symbol(&self, params: WorkspaceSymbolParams) -> Result<Option<Vec<SymbolInformation>>> {
        let stream = self.stream(&params.partial_result_params);
        let asked = (params.query, self.roots(), stream);
        self.ask_all(asked, handlers::workspace_symbol::run).await.map(Some)
    }
    async fn semantic_tokens_full(
        &self,
        params: SemanticTokensParams,
    ) -> Result<Option<SemanticTokensResult>> {
        let (number, data, _) = self.all_tokens(&params.text_document.uri).await?;
        let tokens = Some(SemanticTokens { result_id: Some(number.to_string()), data }.into());
        Ok(bulk::leave(tokens, || None))
    }
    async fn semantic_tokens_full_delta(
        &self,
        params: SemanticTokensDeltaParams,
    ) -> Result<Option<SemanticTokensFullDeltaResult>> {
        let (number, data, before) = self.all_tokens(&params.text_document.uri).await?;
        let result_id = Some(number.to_string());
        Ok(Some(match before.filter(|(number, _)| number.to_string() == params.previous_result_id) {
            Some((_, old)) => {
                let edits = handlers::semantic_tokens::delta(&old, &data);
                SemanticTokensDelta { result_id, edits }.into()
            }
            None => SemanticTokens { result_id, data }.into(),
        }))
    }
    async fn semantic_tokens_range(
        &self,
        params: SemanticTokensRangeParams,
    ) -> Result<Option<SemanticTokensRangeResult>> {
        let uri = params.text_document.uri.clone();
        let data = self.ask(uri, params, handlers::semantic_tokens::range).await?;
        Ok(Some(SemanticTokens { result_id: None, data }.into()))
    }
    async fn signature_help(&self, params: SignatureHelpParams) -> Result<Option<SignatureHelp>> {
        let uri = params.text_document_position_params.text_document.uri.clone();
        self.ask(uri, params, handlers::signature_help::run).await
    }
    async fn code_lens(&self, params: CodeLensParams) -> Result<Option<Vec<CodeLens>>> {
        let uri = params.text_document.uri.clone();
        self.ask(uri, params, handlers::code_lens::run).await
    }
    async fn document_link(&self, params: DocumentLinkParams) -> Result<Option<Vec<DocumentLink>>> {
        let uri = params.text_document.uri.clone();
        self.ask(uri, params, handlers::document_link::run).await
    }
    async fn document_color(&self, params: DocumentColorParams) -> Result<Vec<ColorInformation>> {
        let uri = params.text_document.uri.clone();
        self.ask(uri, params, handlers::document_color::run).await
    }
    async fn color_presentation(&self, params: ColorPresentationParams) -> Result<Vec<ColorPresentation>> {
        let uri = params.text_document.uri.clone();
        self.ask(uri, params, handlers::document_color::presentation).await
    }
    async fn selection_range(&self, params: SelectionRangeParams) -> Result<Option<Vec<SelectionRange>>> {
        let uri = params.text_document.uri.clone();
        self.ask(uri, params, handlers::selection_range::run).await
    }
    async fn linked_editing_range(
        &self,
        params: LinkedEditingRangeParams,
    ) -> Result<Option<LinkedEditingRanges>> {
        let uri = params.text_document_position_params.text_document.uri.clone();
        self.ask(uri, params, handlers::linked_editing_range::run).await
    }
    async fn range_formatting(&self, params: DocumentRangeFormattingParams) -> Result<Option<Vec<TextEdit>>> {
        let uri = params.text_document.uri.clone();
        self.ask(uri, params, handlers::range_formatting::run).await
    }
    async fn on_type_formatting(
        &self,
        params: DocumentOnTypeFormattingParams,
    ) -> Result<Option<Vec<TextEdit>>> {
        let uri = params.text_document_position.text_document.uri.clone();
        self.ask(uri, params, handlers::range_formatting::on_type).await
    }
    async fn prepare_call_hierarchy(
        &self,
        params: CallHierarchyPrepareParams,
    ) -> Result<Option<Vec<CallHierarchyItem>>> {
        let uri = params.text_document_position_params.text_document.uri.clone();
        self.ask(uri, params, handlers::call_hierarchy::prepare).await
    }
    async fn incoming_calls(
        &self,
        params: CallHierarchyIncomingCallsParams,
    ) -> Result<Option<Vec<CallHierarchyIncomingCall>>> {
        let uri = handlers::call_hierarchy::document(&params.item).unwrap_or_else(|| params.item.uri.clone());
        self.ask(uri, params.item, handlers::call_hierarchy::incoming).await
    }
    async fn outgoing_calls(
        &self,
        params: CallHierarchyOutgoingCallsParams,
    ) -> Result<Option<Vec<CallHierarchyOutgoingCall>>> {
        let uri = handlers::call_hierarchy::document(&params.item).unwrap_or_else(|| params.item.uri.clone());
        self.ask(uri, params.item, handlers::call_hierarchy::outgoing).await
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
            "keyon.draw" => {
                let params = parse(arguments(params.arguments, ["uri", "view"]))?;
                serde_json::to_value(self.draw(params).await?)
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
