//! What the server says it can do. A test compares it with what the server does, both ways.

use crate::{handlers::execute_command::COMMANDS, position::Encoding};
use tower_lsp::lsp_types::{
    CodeActionKind, CodeActionOptions, CodeActionProviderCapability, CompletionOptions,
    ExecuteCommandOptions, FoldingRangeProviderCapability, HoverProviderCapability, OneOf, SaveOptions,
    ServerCapabilities, TextDocumentSyncCapability, TextDocumentSyncKind, TextDocumentSyncOptions,
    TextDocumentSyncSaveOptions,
};

/// The requests that have a handler. The protocol's others are refused as unknown, whatever their parameters.
pub(crate) const REQUESTS: [&str; 16] = [
    "initialize",
    "shutdown",
    "textDocument/codeAction",
    "textDocument/completion",
    "textDocument/definition",
    "textDocument/documentHighlight",
    "textDocument/documentSymbol",
    "textDocument/foldingRange",
    "textDocument/formatting",
    "textDocument/hover",
    "textDocument/inlayHint",
    "textDocument/references",
    "workspace/executeCommand",
    "keyon/explain",
    "keyon/hold",
    "keyon/table",
];

/// The notifications that have a handler.
pub(crate) const NOTIFICATIONS: [&str; 8] = [
    "initialized",
    "exit",
    "$/cancelRequest",
    "textDocument/didOpen",
    "textDocument/didChange",
    "textDocument/didSave",
    "textDocument/didClose",
    "workspace/didChangeWatchedFiles",
];

pub(crate) fn announce(encoding: Encoding) -> ServerCapabilities {
    ServerCapabilities {
        position_encoding: Some(encoding.kind()),
        text_document_sync: Some(TextDocumentSyncCapability::Options(TextDocumentSyncOptions {
            open_close: Some(true),
            change: Some(TextDocumentSyncKind::INCREMENTAL),
            // With the text: the occasion to find out that we lost step with the editor.
            save: Some(TextDocumentSyncSaveOptions::SaveOptions(SaveOptions { include_text: Some(true) })),
            ..TextDocumentSyncOptions::default()
        })),
        hover_provider: Some(HoverProviderCapability::Simple(true)),
        definition_provider: Some(OneOf::Left(true)),
        references_provider: Some(OneOf::Left(true)),
        document_highlight_provider: Some(OneOf::Left(true)),
        document_symbol_provider: Some(OneOf::Left(true)),
        completion_provider: Some(CompletionOptions {
            // Behind these something of a known kind follows; letters open the list anyway.
            trigger_characters: Some([".", " ", ":", ">", "/", "\""].map(String::from).to_vec()),
            ..CompletionOptions::default()
        }),
        document_formatting_provider: Some(OneOf::Left(true)),
        code_action_provider: Some(CodeActionProviderCapability::Options(CodeActionOptions {
            code_action_kinds: Some(vec![CodeActionKind::QUICKFIX]),
            ..CodeActionOptions::default()
        })),
        folding_range_provider: Some(FoldingRangeProviderCapability::Simple(true)),
        inlay_hint_provider: Some(OneOf::Left(true)),
        execute_command_provider: Some(ExecuteCommandOptions {
            commands: COMMANDS.map(String::from).to_vec(),
            ..ExecuteCommandOptions::default()
        }),
        ..ServerCapabilities::default()
    }
}
