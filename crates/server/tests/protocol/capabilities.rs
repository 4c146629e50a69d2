//! What is announced is done, and what is not announced is refused.

use crate::client::Client;
use serde_json::json;

/// A capability, and the requests that it promises.
const CAPABILITIES: &[(&str, &[&str])] = &[
    ("callHierarchyProvider", &["textDocument/prepareCallHierarchy"]),
    ("codeActionProvider", &["textDocument/codeAction"]),
    ("codeLensProvider", &["textDocument/codeLens"]),
    ("colorProvider", &["textDocument/documentColor", "textDocument/colorPresentation"]),
    ("completionProvider", &["textDocument/completion", "completionItem/resolve"]),
    ("declarationProvider", &["textDocument/declaration"]),
    ("definitionProvider", &["textDocument/definition"]),
    ("diagnosticProvider", &["textDocument/diagnostic"]),
    ("documentFormattingProvider", &["textDocument/formatting"]),
    ("documentHighlightProvider", &["textDocument/documentHighlight"]),
    ("documentLinkProvider", &["textDocument/documentLink"]),
    ("documentOnTypeFormattingProvider", &["textDocument/onTypeFormatting"]),
    ("documentRangeFormattingProvider", &["textDocument/rangeFormatting"]),
    ("documentSymbolProvider", &["textDocument/documentSymbol"]),
    ("executeCommandProvider", &["workspace/executeCommand"]),
    ("foldingRangeProvider", &["textDocument/foldingRange"]),
    ("hoverProvider", &["textDocument/hover"]),
    ("implementationProvider", &["textDocument/implementation"]),
    ("inlayHintProvider", &["textDocument/inlayHint"]),
    ("inlineValueProvider", &["textDocument/inlineValue"]),
    ("linkedEditingRangeProvider", &["textDocument/linkedEditingRange"]),
    ("monikerProvider", &["textDocument/moniker"]),
    ("referencesProvider", &["textDocument/references"]),
    ("renameProvider", &["textDocument/prepareRename", "textDocument/rename"]),
    ("selectionRangeProvider", &["textDocument/selectionRange"]),
    (
        "semanticTokensProvider",
        &[
            "textDocument/semanticTokens/full",
            "textDocument/semanticTokens/full/delta",
            "textDocument/semanticTokens/range",
        ],
    ),
    ("signatureHelpProvider", &["textDocument/signatureHelp"]),
    ("typeDefinitionProvider", &["textDocument/typeDefinition"]),
    ("typeHierarchyProvider", &["textDocument/prepareTypeHierarchy"]),
    ("workspace", &["workspace/willRenameFiles"]),
    ("workspaceSymbolProvider", &["workspace/symbol"]),
];

/// Capabilities that promise no request.
const OTHERS: &[&str] = &["positionEncoding", "textDocumentSync"];

#[test]
fn announced_is_implemented_both_ways() {
    let mut client = Client::start();
    let uri = "untitled:a.keyon";
    client.open(uri, 1, "circuit a\nsplice S1\n");
    let announced = client.capabilities.clone();
    for key in announced.as_object().unwrap().keys() {
        let known = CAPABILITIES.iter().any(|(name, _)| name == key) || OTHERS.contains(&key.as_str());
        assert!(known, "{key} is announced, and this test does not know what it promises");
    }
    let position = json!({ "line": 0, "character": 0 });
    let range = json!({ "start": position, "end": position });
    let params = json!({
        "textDocument": { "uri": uri }, "position": position, "range": range, "positions": [position],
        "context": { "diagnostics": [], "includeDeclaration": true, "isRetrigger": false, "triggerKind": 1, "frameId": 0, "stoppedLocation": range },
        "options": { "tabSize": 2, "insertSpaces": true }, "ch": "}", "newName": "b", "query": "", "previousResultId": "1",
        "color": { "red": 0, "green": 0, "blue": 0, "alpha": 0 }, "files": [], "command": "keyon.explain", "arguments": ["syntax"],
    });
    for (capability, methods) in CAPABILITIES {
        let announced = announced.get(*capability).is_some_and(|value| !value.is_null() && value != false);
        for method in *methods {
            let mut params = params.clone();
            if *method == "completionItem/resolve" {
                params = json!({ "label": "wire" });
            }
            let answer = client.ask(method, params);
            match (announced, &answer) {
                (true, Ok(_)) => {}
                (false, Err(error)) if error["code"] == -32601 => {}
                _ => panic!("{capability} announced: {announced}, but {method} gives {answer:?}"),
            }
        }
    }
    client.finish();
}

#[test]
fn every_announced_command_is_known() {
    let mut client = Client::start();
    let uri = "untitled:a.keyon";
    client.open(uri, 1, "circuit a\n");
    let commands = client.capabilities["executeCommandProvider"]["commands"].as_array().unwrap().clone();
    assert!(!commands.is_empty());
    for command in commands {
        let arguments = json!([{ "uri": uri, "rule": "syntax" }]);
        let params = json!({ "command": command, "arguments": arguments });
        client.ask("workspace/executeCommand", params).unwrap_or_else(|error| panic!("{command}: {error}"));
    }
    client.finish();
}

#[test]
fn encodings_are_negotiated() {
    for (offered, chosen) in [
        (&["utf-16", "utf-8"][..], "utf-8"),
        (&["utf-16"], "utf-16"),
        (&["utf-32"], "utf-32"),
        (&[], "utf-16"),
    ] {
        let client = Client::start_with(offered);
        assert_eq!(client.encoding, chosen);
        client.finish();
    }
}
