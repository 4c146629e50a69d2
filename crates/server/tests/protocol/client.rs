//! A client that speaks the protocol over pipes, with its own reading of it: nothing here is shared with the server.

use serde_json::{Value, json};
use std::{
    io::{BufRead, BufReader, PipeWriter, Write},
    sync::mpsc::{Receiver, channel},
    thread::JoinHandle,
    time::Duration,
};

/// Longer than any answer takes, even on a machine that does something else.
const PATIENCE: Duration = Duration::from_secs(240);

pub(crate) struct Client {
    input: Option<PipeWriter>,
    messages: Receiver<Value>,
    server: Option<JoinHandle<i32>>,
    /// Messages that were read while something else was waited for.
    waiting: Vec<Value>,
    next_id: i64,
    pub(crate) encoding: String,
    pub(crate) capabilities: Value,
}

impl Client {
    /// A started server that has heard nothing yet.
    pub(crate) fn bare() -> Self {
        let (server_in, input) = std::io::pipe().unwrap();
        let (output, server_out) = std::io::pipe().unwrap();
        let options = keyon_server::Options { debounce: Duration::ZERO };
        let server = std::thread::spawn(move || keyon_server::run(server_in, server_out, options).unwrap());
        let (send, messages) = channel();
        std::thread::spawn(move || {
            let mut output = BufReader::new(output);
            while let Some(message) = read(&mut output) {
                if send.send(message).is_err() {
                    break;
                }
            }
        });
        Self {
            input: Some(input),
            messages,
            server: Some(server),
            waiting: Vec::new(),
            next_id: 0,
            encoding: "utf-16".into(),
            capabilities: Value::Null,
        }
    }

    /// A session with a client that can do everything.
    pub(crate) fn start() -> Self {
        Self::start_with(&["utf-16"])
    }

    pub(crate) fn start_with(encodings: &[&str]) -> Self {
        let mut client = Self::bare();
        client.initialize(json!({
            "general": { "positionEncodings": encodings },
            "textDocument": {
                "publishDiagnostics": { "relatedInformation": true, "tagSupport": { "valueSet": [1, 2] } },
                "documentSymbol": { "hierarchicalDocumentSymbolSupport": true },
            },
        }));
        client
    }

    pub(crate) fn initialize(&mut self, capabilities: Value) -> Value {
        self.initialize_with(json!({ "processId": null, "rootUri": null, "capabilities": capabilities }))
    }

    pub(crate) fn initialize_with(&mut self, params: Value) -> Value {
        let result = self.ask("initialize", params);
        let result = result.expect("initialize succeeds");
        self.encoding = result["capabilities"]["positionEncoding"].as_str().unwrap_or("utf-16").into();
        self.capabilities = result["capabilities"].clone();
        self.notify("initialized", json!({}));
        result
    }

    /// Sends bytes as they are.
    pub(crate) fn raw(&mut self, bytes: &[u8]) {
        self.input.as_mut().unwrap().write_all(bytes).unwrap();
    }

    pub(crate) fn send(&mut self, message: &Value) {
        let content = message.to_string();
        self.raw(format!("Content-Length: {}\r\n\r\n{content}", content.len()).as_bytes());
    }

    pub(crate) fn notify(&mut self, method: &str, params: Value) {
        self.send(&json!({ "jsonrpc": "2.0", "method": method, "params": params }));
    }

    /// Sends a request; its id.
    pub(crate) fn request(&mut self, method: &str, params: Value) -> i64 {
        self.next_id += 1;
        let id = self.next_id;
        self.send(&json!({ "jsonrpc": "2.0", "id": id, "method": method, "params": params }));
        id
    }

    /// The answer to a request: its result or its error.
    pub(crate) fn answer(&mut self, id: i64) -> Result<Value, Value> {
        let message = self
            .wait_for(&format!("the answer to request {id}"), |m| m.get("method").is_none() && m["id"] == id);
        match message.get("error") {
            Some(error) => Err(error.clone()),
            None => Ok(message["result"].clone()),
        }
    }

    pub(crate) fn ask(&mut self, method: &str, params: Value) -> Result<Value, Value> {
        let id = self.request(method, params);
        self.answer(id)
    }

    /// The code of the error that a request gets.
    pub(crate) fn refusal(&mut self, method: &str, params: Value) -> i64 {
        match self.ask(method, params) {
            Ok(result) => panic!("{method} was answered: {result}"),
            Err(error) => error["code"].as_i64().unwrap(),
        }
    }

    /// The first message that fits, whether it came already or is yet to come.
    pub(crate) fn wait_for(&mut self, what: &str, fits: impl Fn(&Value) -> bool) -> Value {
        if let Some(at) = self.waiting.iter().position(&fits) {
            return self.waiting.remove(at);
        }
        loop {
            let message =
                self.messages.recv_timeout(PATIENCE).unwrap_or_else(|_| panic!("never came: {what}"));
            if fits(&message) {
                return message;
            }
            self.waiting.push(message);
        }
    }

    /// What has come until now without being asked for.
    pub(crate) fn unasked(&mut self) -> Vec<Value> {
        self.waiting.extend(self.messages.try_iter());
        std::mem::take(&mut self.waiting)
    }

    pub(crate) fn open(&mut self, uri: &str, version: i64, text: &str) {
        let document = json!({ "uri": uri, "languageId": "keyon", "version": version, "text": text });
        self.notify("textDocument/didOpen", json!({ "textDocument": document }));
    }

    pub(crate) fn close(&mut self, uri: &str) {
        self.notify("textDocument/didClose", json!({ "textDocument": { "uri": uri } }));
    }

    pub(crate) fn change(&mut self, uri: &str, version: i64, changes: Value) {
        let document = json!({ "uri": uri, "version": version });
        self.notify("textDocument/didChange", json!({ "textDocument": document, "contentChanges": changes }));
    }

    /// The diagnostics of a version of a document.
    pub(crate) fn diagnostics(&mut self, uri: &str, version: i64) -> Vec<Value> {
        let message = self.wait_for(&format!("diagnostics of {uri} version {version}"), |m| {
            m["method"] == "textDocument/publishDiagnostics"
                && m["params"]["uri"] == uri
                && m["params"]["version"] == version
        });
        message["params"]["diagnostics"].as_array().unwrap().clone()
    }

    /// Asks something about a position that is marked by a byte offset.
    pub(crate) fn at(&mut self, method: &str, uri: &str, text: &str, offset: usize) -> Value {
        let position = position(text, offset, &self.encoding);
        let params = json!({
            "textDocument": { "uri": uri }, "position": position, "context": { "includeDeclaration": true, "isRetrigger": false, "triggerKind": 1 }
        });
        self.ask(method, params).unwrap_or_else(|error| panic!("{method}: {error}"))
    }

    /// Closes the pipe and gives the server's exit code.
    pub(crate) fn end(&mut self) -> i32 {
        self.input = None;
        self.server.take().unwrap().join().unwrap()
    }

    /// Shuts down as a client should.
    pub(crate) fn finish(mut self) {
        assert_eq!(self.ask("shutdown", Value::Null), Ok(Value::Null));
        self.notify("exit", Value::Null);
        assert_eq!(self.server.take().unwrap().join().unwrap(), 0, "exit code");
    }

    /// Waits for the server to end by itself.
    pub(crate) fn exit_code(mut self) -> i32 {
        self.server.take().unwrap().join().unwrap()
    }
}

fn read(output: &mut impl BufRead) -> Option<Value> {
    let mut length = 0;
    loop {
        let mut line = String::new();
        if output.read_line(&mut line).ok()? == 0 {
            return None;
        }
        match line.trim_end() {
            "" => break,
            header => {
                if let Some(value) = header.strip_prefix("Content-Length: ") {
                    length = value.parse().unwrap();
                }
            }
        }
    }
    let mut content = vec![0; length];
    output.read_exact(&mut content).ok()?;
    Some(serde_json::from_slice(&content).unwrap())
}

/// A byte offset as a position.
pub(crate) fn position(text: &str, offset: usize, encoding: &str) -> Value {
    let before = text[..offset].replace("\r\n", "\n").replace('\r', "\n");
    let column = before.rsplit('\n').next().unwrap();
    let column = match encoding {
        "utf-8" => column.len(),
        "utf-16" => column.encode_utf16().count(),
        "utf-32" => column.chars().count(),
        other => panic!("{other}"),
    };
    json!({ "line": before.matches('\n').count(), "character": column })
}

/// A byte range as a range.
pub(crate) fn range(text: &str, bytes: std::ops::Range<usize>, encoding: &str) -> Value {
    json!({ "start": position(text, bytes.start, encoding), "end": position(text, bytes.end, encoding) })
}
