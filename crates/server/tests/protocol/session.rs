//! Beginning, end, and everything that a rude client may do in between.

use crate::client::Client;
use serde_json::{Value, json};

const URI: &str = "untitled:a.keyon";

#[test]
fn a_proper_session_ends_with_zero() {
    let mut client = Client::bare();
    let result = client.initialize(json!({}));
    assert_eq!(result["serverInfo"]["name"], "keyon");
    assert_eq!(result["capabilities"]["positionEncoding"], "utf-16");
    client.finish();
}

#[test]
fn exit_without_shutdown_ends_with_one() {
    let mut client = Client::start();
    client.notify("exit", Value::Null);
    assert_eq!(client.exit_code(), 1);
}

#[test]
fn exit_ends_the_server_though_the_pipe_stays_open() {
    let mut client = Client::start();
    client.ask("shutdown", json!({})).expect("shutdown with an empty object");
    client.notify("exit", Value::Null);
    assert_eq!(client.exit_code(), 0);
}

#[test]
fn the_end_of_input_ends_the_server_after_the_last_answer() {
    let mut client = Client::start();
    client.open(URI, 1, "circuit a\n");
    let id = client.request("textDocument/documentSymbol", json!({ "textDocument": { "uri": URI } }));
    assert_eq!(client.end(), 1);
    assert_eq!(client.answer(id).unwrap()[0]["name"], "a");
}

#[test]
fn nothing_goes_before_initialize_or_after_shutdown() {
    let mut client = Client::bare();
    assert_eq!(client.refusal("textDocument/hover", json!({})), -32002);
    assert_eq!(client.refusal("no/such", json!({})), -32002);
    assert_eq!(client.refusal("shutdown", Value::Null), -32002);
    client.open(URI, 1, "circuit a\n"); // dropped
    client.initialize(json!({}));
    let again = json!({ "processId": null, "capabilities": {} });
    assert_eq!(client.refusal("initialize", again), -32600);
    client.ask("shutdown", Value::Null).unwrap();
    assert_eq!(client.refusal("textDocument/hover", json!({})), -32600);
    assert_eq!(client.refusal("no/such", json!({})), -32600);
    assert_eq!(client.refusal("shutdown", Value::Null), -32600);
    client.notify("exit", Value::Null);
    assert_eq!(client.exit_code(), 0);
}

#[test]
fn unknown_methods_and_bad_parameters_are_said_so() {
    let mut client = Client::start();
    assert_eq!(client.refusal("no/such", json!({})), -32601);
    assert_eq!(client.refusal("$/no/such", json!({})), -32601);
    assert_eq!(client.refusal("textDocument/implementation", json!({})), -32601);
    assert_eq!(client.refusal("textDocument/hover", json!({})), -32602);
    assert_eq!(client.refusal("textDocument/hover", json!([1, "x"])), -32602);
    let nowhere = json!({ "textDocument": { "uri": "file:///no/such.keyon" }, "position": { "line": 0, "character": 0 } });
    assert_eq!(client.refusal("textDocument/hover", nowhere), -32602);
    assert_eq!(client.refusal("workspace/executeCommand", json!({ "command": "no.such" })), -32602);
    assert_eq!(
        client.refusal("workspace/executeCommand", json!({ "command": "keyon.table", "arguments": [] })),
        -32602
    );
    client.notify("no/such", json!({}));
    client.notify("$/setTrace", json!({ "value": "verbose" }));
    client.notify("textDocument/didChange", json!({ "nonsense": true }));
    client.notify("textDocument/didClose", json!({ "textDocument": { "uri": "untitled:never-opened" } }));
    client.change("untitled:never-opened", 3, json!([{ "text": "x" }]));
    client.finish();
}

#[test]
fn malformed_messages_do_no_harm() {
    let mut client = Client::start();
    let complained = |client: &mut Client, bytes: &[u8], code: i64| {
        client.raw(bytes);
        let complaint = client.wait_for("a complaint", |m| m.get("method").is_none() && m["id"].is_null());
        assert_eq!(complaint["error"]["code"], code, "{}", String::from_utf8_lossy(bytes));
    };
    complained(&mut client, b"Content-Length: 1\r\n\r\n{", -32700);
    complained(&mut client, b"Content-Length: 2\r\n\r\n\xff\xfe", -32700);
    complained(&mut client, b"Content-Length: 2\r\n\r\n[]", -32600);
    complained(&mut client, b"Content-Length: 2\r\n\r\n{}", -32600);
    complained(&mut client, b"Content-Length: many\r\n\r\n", -32700);
    complained(&mut client, b"hello\r\n", -32700);
    complained(&mut client, b"Content-Length: 28\r\n\r\n{\"method\":\"exit\",\"id\": null}", -32600);
    let mut deep = "[".repeat(100_000);
    deep = format!("Content-Length: {}\r\n\r\n{deep}", deep.len());
    complained(&mut client, deep.as_bytes(), -32700);
    client.open(URI, 1, "circuit a\n");
    assert_eq!(client.diagnostics(URI, 1), Vec::<Value>::new());
    client.finish();
}

#[test]
fn text_ids_and_notifications_with_ids() {
    let mut client = Client::start();
    client.send(&json!({ "jsonrpc": "2.0", "id": "seven", "method": "keyon/explain", "params": { "rule": "syntax" } }));
    let answer = client.wait_for("an answer to a text id", |m| m["id"] == "seven");
    assert!(answer["result"].as_str().unwrap().contains("syntax"), "{answer}");
    client.send(&json!({ "jsonrpc": "2.0", "id": 77, "method": "textDocument/didOpen", "params": {} }));
    assert_eq!(client.answer(77).unwrap_err()["code"], -32600);
    // A request without an id gets no answer, and stops nobody.
    client.send(&json!({ "jsonrpc": "2.0", "method": "textDocument/hover", "params": {} }));
    client.finish();
}

#[test]
fn a_cancelled_request_says_so_and_others_go_on() {
    let mut client = Client::start();
    let text = std::iter::once("circuit a\n".to_owned())
        .chain((0..3000).map(|n| format!("splice S{n}\n")))
        .collect::<String>();
    client.open(URI, 1, &text);
    let ask = |client: &mut Client| {
        client.request("textDocument/documentSymbol", json!({ "textDocument": { "uri": URI } }))
    };
    let first = ask(&mut client);
    client.notify("$/cancelRequest", json!({ "id": first }));
    client.notify("$/cancelRequest", json!({ "id": 999_999 }));
    let second = ask(&mut client);
    if let Err(error) = client.answer(first) {
        assert_eq!(error["code"], -32800);
    }
    assert_eq!(client.answer(second).unwrap().as_array().unwrap().len(), 3001);
    client.finish();
}

#[test]
fn many_requests_at_once() {
    let mut client = Client::start();
    client.open(URI, 1, "circuit a\nsplice S1\n");
    let ids: Vec<_> = (0..300)
        .map(|_| client.request("textDocument/documentSymbol", json!({ "textDocument": { "uri": URI } })))
        .collect();
    for id in ids {
        assert_eq!(client.answer(id).unwrap().as_array().unwrap().len(), 2);
    }
    client.finish();
}
