//! What the server says it can do. A test compares it with what the server does, both ways.

use crate::{
    handlers::{execute_command::COMMANDS, semantic_tokens},
    position::Encoding,
};
use tower_lsp::lsp_types::*;

/// The requests that have a handler. The protocol's others are refused as unknown, whatever their parameters.
pub(crate) const REQUESTS: [&str; 44] = [
    "callHierarchy/incomingCalls",
    "callHierarchy/outgoingCalls",
    "completionItem/resolve",
    "initialize",
    "inlayHint/resolve",
    "shutdown",
    "textDocument/codeAction",
    "textDocument/codeLens",
    "textDocument/colorPresentation",
    "textDocument/completion",
    "textDocument/declaration",
    "textDocument/definition",
    "textDocument/diagnostic",
    "textDocument/documentColor",
    "textDocument/documentHighlight",
    "textDocument/documentLink",
    "textDocument/documentSymbol",
    "textDocument/foldingRange",
    "textDocument/formatting",
    "textDocument/hover",
    "textDocument/inlayHint",
    "textDocument/linkedEditingRange",
    "textDocument/onTypeFormatting",
    "textDocument/prepareCallHierarchy",
    "textDocument/prepareRename",
    "textDocument/rangeFormatting",
    "textDocument/references",
    "textDocument/rename",
    "textDocument/selectionRange",
    "textDocument/semanticTokens/full",
    "textDocument/semanticTokens/full/delta",
    "textDocument/semanticTokens/range",
    "textDocument/signatureHelp",
    "textDocument/typeDefinition",
    "workspace/diagnostic",
    "workspace/executeCommand",
    "workspace/symbol",
    "workspace/willRenameFiles",
    "keyon/draw",
    "keyon/explain",
    "keyon/hold",
    "keyon/locate",
    "keyon/rules",
    "keyon/table",
];

/// The notifications that have a handler.
pub(crate) const NOTIFICATIONS: [&str; 10] = [
    "initialized",
    "exit",
    "$/cancelRequest",
    "textDocument/didOpen",
    "textDocument/didChange",
    "textDocument/didSave",
    "textDocument/didClose",
    "workspace/didChangeConfiguration",
    "workspace/didChangeWatchedFiles",
    "workspace/didChangeWorkspaceFolders",
];

/// What the client asked for that decides what is announced.
pub(crate) struct Wishes {
    /// Diagnostics are asked for, not told.
    pub(crate) pulls: bool,
}

pub(crate) fn announce(encoding: Encoding, wishes: Wishes) -> ServerCapabilities {
    ServerCapabilities {
        diagnostic_provider: wishes.pulls.then(|| {
            DiagnosticServerCapabilities::Options(DiagnosticOptions {
                identifier: Some("keyon".into()),
                inter_file_dependencies: true,
                workspace_diagnostics: true,
                ..DiagnosticOptions::default()
            })
        }),
        workspace: Some(WorkspaceServerCapabilities {
            workspace_folders: Some(WorkspaceFoldersServerCapabilities {
                supported: Some(true),
                change_notifications: Some(OneOf::Left(true)),
            }),
            file_operations: Some(WorkspaceFileOperationsServerCapabilities {
                will_rename: Some(renames()),
                ..WorkspaceFileOperationsServerCapabilities::default()
            }),
        }),
        position_encoding: Some(encoding.kind()),
        text_document_sync: Some(TextDocumentSyncCapability::Options(TextDocumentSyncOptions {
            open_close: Some(true),
            change: Some(TextDocumentSyncKind::INCREMENTAL),
            // With the text: the occasion to find out that we lost step with the editor.
            save: Some(TextDocumentSyncSaveOptions::SaveOptions(SaveOptions { include_text: Some(true) })),
            ..TextDocumentSyncOptions::default()
        })),
        hover_provider: Some(HoverProviderCapability::Simple(true)),
        // A name is declared where it is defined: both keys of an editor lead there.
        declaration_provider: Some(DeclarationCapability::Simple(true)),
        definition_provider: Some(OneOf::Left(true)),
        references_provider: Some(OneOf::Left(true)),
        document_highlight_provider: Some(OneOf::Left(true)),
        document_symbol_provider: Some(OneOf::Left(true)),
        completion_provider: Some(CompletionOptions {
            // Behind these something of a known kind follows; letters open the list anyway.
            trigger_characters: Some([".", " ", ":", ">", "/", "\""].map(String::from).to_vec()),
            // What an item carries or does may have to be computed.
            resolve_provider: Some(true),
            ..CompletionOptions::default()
        }),
        document_formatting_provider: Some(OneOf::Left(true)),
        code_action_provider: Some(CodeActionProviderCapability::Options(CodeActionOptions {
            code_action_kinds: Some(vec![
                CodeActionKind::QUICKFIX,
                CodeActionKind::REFACTOR,
                CodeActionKind::REFACTOR_EXTRACT,
                CodeActionKind::new("source.fixAll.keyon"),
            ]),
            ..CodeActionOptions::default()
        })),
        call_hierarchy_provider: Some(CallHierarchyServerCapability::Simple(true)),
        code_lens_provider: Some(CodeLensOptions { resolve_provider: Some(false) }),
        color_provider: Some(ColorProviderCapability::Simple(true)),
        document_link_provider: Some(DocumentLinkOptions {
            resolve_provider: Some(false),
            work_done_progress_options: WorkDoneProgressOptions::default(),
        }),
        document_range_formatting_provider: Some(OneOf::Left(true)),
        document_on_type_formatting_provider: Some(DocumentOnTypeFormattingOptions {
            first_trigger_character: "\n".to_owned(),
            more_trigger_character: Some(vec!["}".to_owned()]),
        }),
        linked_editing_range_provider: Some(LinkedEditingRangeServerCapabilities::Simple(true)),
        rename_provider: Some(OneOf::Right(RenameOptions {
            prepare_provider: Some(true),
            work_done_progress_options: WorkDoneProgressOptions::default(),
        })),
        selection_range_provider: Some(SelectionRangeProviderCapability::Simple(true)),
        semantic_tokens_provider: Some(
            SemanticTokensOptions {
                legend: SemanticTokensLegend {
                    token_types: semantic_tokens::types(),
                    token_modifiers: semantic_tokens::modifiers(),
                },
                range: Some(true),
                full: Some(SemanticTokensFullOptions::Delta { delta: Some(true) }),
                ..SemanticTokensOptions::default()
            }
            .into(),
        ),
        signature_help_provider: Some(SignatureHelpOptions {
            trigger_characters: Some(["(", ",", " "].map(String::from).to_vec()),
            ..SignatureHelpOptions::default()
        }),
        type_definition_provider: Some(TypeDefinitionProviderCapability::Simple(true)),
        workspace_symbol_provider: Some(OneOf::Left(true)),
        folding_range_provider: Some(FoldingRangeProviderCapability::Simple(true)),
        inlay_hint_provider: Some(OneOf::Right(InlayHintServerCapabilities::Options(InlayHintOptions {
            resolve_provider: Some(true),
            ..InlayHintOptions::default()
        }))),
        execute_command_provider: Some(ExecuteCommandOptions {
            commands: COMMANDS.map(String::from).to_vec(),
            ..ExecuteCommandOptions::default()
        }),
        ..ServerCapabilities::default()
    }
}

/// Circuits and libraries, and folders that may hold some.
fn renames() -> FileOperationRegistrationOptions {
    let filter = |glob: &str, kind| FileOperationFilter {
        scheme: Some("file".into()),
        pattern: FileOperationPattern { glob: glob.into(), matches: Some(kind), options: None },
    };
    FileOperationRegistrationOptions {
        filters: vec![
            filter("**/*.keyon", FileOperationPatternKind::File),
            filter("**/*.md", FileOperationPatternKind::File),
            filter("**", FileOperationPatternKind::Folder),
        ],
    }
}
