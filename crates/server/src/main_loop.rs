//! The one thread that owns documents and settings. Messages come in the order in which the client sent them;
//! work goes out as snapshots to the pool and comes back as messages.

use crate::{
    board::Board,
    changes::Changes,
    diagnostics,
    document::Document,
    files::{self, Disk, Files},
    outbox::{Outbox, ToClient},
    parts,
    pool::Pool,
    position::Encoding,
    snapshot::{Cell, Checked, Snapshot},
    token::Token,
};
use keyon_solve::{Cancel, Cancelled};
use smol_str::SmolStr;
use std::{
    collections::BTreeMap,
    panic::{AssertUnwindSafe, catch_unwind},
    sync::{
        Arc, Weak,
        mpsc::{Receiver, RecvTimeoutError, Sender},
    },
    time::{Duration, Instant},
};
use tower_lsp::lsp_types::{
    DidChangeTextDocumentParams, FileChangeType, FileEvent, MessageType, TextDocumentItem, Url,
};

/// What a request does with its snapshot; `None` if there is no such document.
pub(crate) type Answer = Box<dyn FnOnce(Option<Snapshot>) + Send>;

/// What the main loop is told.
pub(crate) enum Message {
    /// What the client can do, and how long to wait after a change.
    Start {
        encoding: Encoding,
        features: diagnostics::Features,
        debounce: Duration,
        /// The client asks for diagnostics: it is told none.
        pulls: bool,
    },
    /// The client's settings, as they are now.
    Configure(serde_json::Value),
    Open(TextDocumentItem),
    Change(DidChangeTextDocumentParams),
    /// Saved, with its text if the client sends it.
    Save(Url, Option<String>),
    Close(Url),
    Watched(Vec<FileEvent>),
    /// A request about a document.
    Ask {
        uri: Url,
        token: Arc<Token>,
        answer: Answer,
    },
    /// A request about the workspace.
    AskAll(Box<dyn FnOnce(Files, Encoding) + Send>),
    /// Shows a scenario in hover and hints; `None` goes back to the file's own choice.
    Hold {
        uri: Url,
        scenario: Option<SmolStr>,
    },
    /// A check is done, or what is known of a large text before that.
    Checked(Arc<Cell>, Arc<Checked>),
    Stop,
}

/// What is known of an open document.
struct Open {
    document: Document,
    /// The current cell, as long as neither the document nor a file that it asked for has changed.
    cell: Option<Arc<Cell>>,
    /// When to check it, if it is to be checked.
    due: Option<Instant>,
    /// The running check, and requests that are being answered.
    running: Vec<Weak<Token>>,
    /// Publish once even if nothing is found.
    fresh: bool,
}

pub(crate) struct MainLoop {
    inbox: Receiver<Message>,
    /// For workers.
    sender: Sender<Message>,
    outbox: Outbox,
    pool: Pool,
    disk: Arc<Disk>,
    open: BTreeMap<SmolStr, Open>,
    board: Board,
    encoding: Encoding,
    features: diagnostics::Features,
    debounce: Duration,
    pulls: bool,
    changes: Arc<Changes>,
    /// Checks that were begun, to tell them apart.
    begun: u64,
}

impl MainLoop {
    pub(crate) fn new(
        inbox: Receiver<Message>,
        sender: Sender<Message>,
        outbox: Outbox,
        changes: Arc<Changes>,
    ) -> Self {
        let threads = std::thread::available_parallelism().map_or(2, usize::from).clamp(2, 4);
        Self {
            inbox,
            sender,
            outbox,
            pool: Pool::new(threads),
            disk: Arc::default(),
            open: BTreeMap::new(),
            board: Board::default(),
            encoding: Encoding::default(),
            features: diagnostics::Features::default(),
            debounce: Duration::ZERO,
            pulls: false,
            changes,
            begun: 0,
        }
    }

    /// Runs until told to stop, or until nobody is left who could tell.
    pub(crate) fn run(mut self) {
        loop {
            let due = self.open.values().filter_map(|open| open.due).min();
            let message = match due {
                None => self.inbox.recv().map_err(|_| RecvTimeoutError::Disconnected),
                Some(due) => self.inbox.recv_timeout(due.saturating_duration_since(Instant::now())),
            };
            match message {
                Ok(Message::Stop) | Err(RecvTimeoutError::Disconnected) => break,
                Ok(message) => self.handle(message),
                Err(RecvTimeoutError::Timeout) => {}
            }
            self.start_checks();
        }
        for open in self.open.values_mut() {
            open.outdate();
        }
    }

    fn handle(&mut self, message: Message) {
        let change = matches!(
            message,
            Message::Open(_)
                | Message::Change(_)
                | Message::Save(..)
                | Message::Close(_)
                | Message::Watched(_)
        );
        self.take(message);
        if change {
            self.changes.count();
        }
    }

    fn take(&mut self, message: Message) {
        match message {
            Message::Start { encoding, features, debounce, pulls } => {
                (self.encoding, self.features, self.debounce) = (encoding, features, debounce);
                self.pulls = pulls;
            }
            Message::Configure(settings) => {
                if let Some(debounce) = settings.get("debounce").and_then(serde_json::Value::as_u64) {
                    self.debounce = Duration::from_millis(debounce);
                }
            }
            Message::Open(item) => self.on_open(item),
            Message::Change(params) => self.on_change(&params),
            Message::Save(uri, text) => self.on_save(&uri, text),
            Message::Close(uri) => self.on_close(&uri),
            Message::Watched(events) => self.on_watched(&events),
            Message::Ask { uri, token, answer } => self.on_ask(uri, token, answer),
            Message::AskAll(answer) => {
                let (files, encoding) = (self.files(), self.encoding);
                self.pool.request(Box::new(move || answer(files, encoding)));
            }
            Message::Hold { uri, scenario } => {
                // What is held already changes no hint.
                let open = self.open.get_mut(&files::key(&uri)).filter(|open| open.document.held != scenario);
                if let Some(open) = open {
                    open.document.held = scenario;
                    self.outbox.send(ToClient::RefreshHeld);
                }
            }
            Message::Checked(cell, checked) => self.on_checked(&cell, &checked),
            Message::Stop => {}
        }
    }

    fn on_open(&mut self, item: TextDocumentItem) {
        let key = files::key(&item.uri);
        let document = Document::new(item.uri, key.clone(), item.version, item.text);
        let now = Instant::now();
        let open = Open { document, cell: None, due: Some(now), running: Vec::new(), fresh: true };
        if let Some(mut old) = self.open.insert(key.clone(), open) {
            old.outdate();
        }
        self.outdate_dependents(&key, now);
    }

    fn on_change(&mut self, params: &DidChangeTextDocumentParams) {
        let key = files::key(&params.text_document.uri);
        let (encoding, due) = (self.encoding, Instant::now() + self.debounce);
        let Some(open) = self.open.get_mut(&key) else {
            let uri = &params.text_document.uri;
            return self.outbox.log(MessageType::WARNING, format!("a change of {uri}, which is not open"));
        };
        let known = !open.document.lost;
        open.outdate();
        if open.document.change(params.text_document.version, &params.content_changes, encoding) {
            open.due = Some(due);
        } else if known {
            open.due = None;
            let name = open.document.uri.path().rsplit('/').next().unwrap_or_default().to_owned();
            self.publish_none(&key);
            self.outbox.send(ToClient::Show(
                MessageType::WARNING,
                format!(
                    "Keyon lost track of the text of {name}: an edit did not fit what it knew. \
                     Save the file, or close and open it again, to go on."
                ),
            ));
        }
        self.outdate_dependents(&key, due);
    }

    fn on_save(&mut self, uri: &Url, text: Option<String>) {
        let key = files::key(uri);
        let now = Instant::now();
        let Some((open, text)) = self.open.get_mut(&key).zip(text) else { return };
        if open.document.lost || *open.document.text != *text {
            open.document.replace(text);
            open.outdate();
            open.due = Some(now);
            open.fresh = true;
            self.outdate_dependents(&key, now);
        }
    }

    fn on_close(&mut self, uri: &Url) {
        let key = files::key(uri);
        let Some(mut open) = self.open.remove(&key) else { return };
        open.outdate();
        let changed = self.board.clear(&key);
        // The closed document's own URI may be spelt in another way than its key suggests.
        for (file, diagnostics) in changed {
            let uri = if file == key { Some(open.document.uri.clone()) } else { self.uri_of(&file) };
            if let Some(uri) = uri.filter(|_| !self.pulls) {
                let version = self.open.get(&file).map(|open| open.document.version);
                self.outbox.send(ToClient::Publish(uri, diagnostics, version));
            }
        }
        self.outdate_dependents(&key, Instant::now());
    }

    fn on_watched(&mut self, events: &[FileEvent]) {
        for event in events {
            let key = files::key(&event.uri);
            self.disk.forget(&key);
            // What the editor has open is what counts, whatever happened below it.
            if !self.open.contains_key(&key) {
                self.outdate_dependents(&key, Instant::now());
                if event.typ == FileChangeType::DELETED {
                    self.publish_none(&key);
                }
            }
        }
    }

    fn on_ask(&mut self, uri: Url, token: Arc<Token>, answer: Answer) {
        let key = files::key(&uri);
        let held = self.open.get(&key).and_then(|open| open.document.held.clone());
        let cell = match self.open.get(&key) {
            Some(open) if open.document.lost => None,
            Some(_) => self.cell(&key),
            None => self.disk.read(&key).and_then(|parts| {
                let files = self.files();
                parts::cell(&uri, parts, &mut Vec::new(), None, &|| files.fresh()).map(Arc::new)
            }),
        };
        if let Some(open) = self.open.get_mut(&key) {
            open.running.retain(|token| token.strong_count() > 0);
            open.running.push(Arc::downgrade(&token));
        }
        let encoding = self.encoding;
        let snapshot = cell.map(|cell| Snapshot { cell, held, encoding, token });
        self.pool.request(Box::new(move || answer(snapshot)));
    }

    fn on_checked(&mut self, cell: &Arc<Cell>, checked: &Checked) {
        let key = &cell.source.key;
        let Some(open) = self.open.get_mut(key) else { return };
        // A cell that is not the current one is older: a newer check is on its way, or the document was reopened.
        if open.document.lost || !open.cell.as_ref().is_some_and(|current| Arc::ptr_eq(current, cell)) {
            return;
        }
        if self.pulls {
            return;
        }
        let fresh = std::mem::take(&mut open.fresh);
        let found = diagnostics::of_document(cell, checked, self.encoding, &self.features);
        for (file, diagnostics) in self.board.put(key, found, fresh.then_some(key)) {
            self.publish(&file, diagnostics);
        }
    }

    /// Sends what a file shows to the client.
    fn publish(&self, file: &SmolStr, diagnostics: Vec<tower_lsp::lsp_types::Diagnostic>) {
        if self.pulls {
            return;
        }
        if let Some(uri) = self.uri_of(file) {
            let version = self.open.get(file).map(|open| open.document.version);
            self.outbox.send(ToClient::Publish(uri, diagnostics, version));
        }
    }

    /// Takes back what the check of this document said.
    fn publish_none(&mut self, key: &SmolStr) {
        for (file, diagnostics) in self.board.clear(key) {
            self.publish(&file, diagnostics);
        }
    }

    /// As the client spells it, where it does.
    fn uri_of(&self, key: &SmolStr) -> Option<Url> {
        self.open.get(key).map(|open| open.document.uri.clone()).or_else(|| files::uri(key))
    }

    /// The world as it is now.
    fn files(&mut self) -> Files {
        let lost = |open: &&mut Open| !open.document.lost;
        let buffers = self.open.values_mut().filter(lost);
        let buffers = buffers.map(|open| (open.document.key.clone(), open.document.buffer())).collect();
        Files { buffers: Arc::new(buffers), disk: Arc::clone(&self.disk), asked: Default::default() }
    }

    /// The current cell of an open document.
    fn cell(&mut self, key: &SmolStr) -> Option<Arc<Cell>> {
        if let Some(cell) = &self.open.get(key)?.cell {
            return Some(Arc::clone(cell));
        }
        let files = self.files();
        let open = self.open.get_mut(key)?;
        let cell = Arc::new(open.document.cell(&|| files.fresh()));
        open.cell = Some(Arc::clone(&cell));
        Some(cell)
    }

    /// A file changed: whoever asked for it has to be checked again.
    fn outdate_dependents(&mut self, changed: &SmolStr, due: Instant) {
        let mut others = false;
        for (key, open) in &mut self.open {
            let depends = |cell: &Arc<Cell>| cell.asked().is_none_or(|asked| asked.contains(changed));
            if key != changed && open.cell.as_ref().is_some_and(depends) {
                open.outdate();
                open.due = Some(due);
                others = true;
            }
        }
        if others {
            self.outbox.send(ToClient::RefreshDiagnostics);
        }
    }

    /// Starts the checks that are due.
    fn start_checks(&mut self) {
        let now = Instant::now();
        let due = self.open.iter().filter(|(_, open)| open.due.is_some_and(|due| due <= now));
        for key in due.map(|(key, _)| key.clone()).collect::<Vec<_>>() {
            let Some(cell) = self.cell(&key) else { continue };
            let Some(open) = self.open.get_mut(&key) else { continue };
            open.due = None;
            let token = Arc::new(Token::default());
            open.running.retain(|token| token.strong_count() > 0);
            open.running.push(Arc::downgrade(&token));
            let (sender, outbox) = (self.sender.clone(), self.outbox.clone());
            self.begun += 1;
            let number = self.begun;
            let (fresh, early) = (open.fresh, !self.pulls && cell.is_large());
            self.pool.check(Box::new(move || {
                let name = cell.uri.path().rsplit('/').next().unwrap_or_default();
                outbox.send(ToClient::Busy(number, format!("Checking {name}")));
                let check = || {
                    // Where the main loop has ended, so will the check.
                    let show = |early: Checked| {
                        let _ = sender.send(Message::Checked(Arc::clone(&cell), Arc::new(early)));
                    };
                    if early && fresh {
                        show(cell.first_look());
                    } else if let Some(told) = cell.told().filter(|_| early) {
                        told.of_writing(&cell.source).into_iter().for_each(show);
                        if token.cancelled() {
                            return Err(Cancelled);
                        }
                        told.of_touched(&cell).into_iter().for_each(show);
                        cell.names_told(&told).into_iter().for_each(show);
                    }
                    let first = cell.checked(&*token)?;
                    cell.also.iter().try_for_each(|other| other.checked(&*token).map(drop))?;
                    Ok(first)
                };
                match catch_unwind(AssertUnwindSafe(check)) {
                    Ok(Ok(checked)) => {
                        let _ = sender.send(Message::Checked(cell, checked));
                    }
                    Ok(Err(Cancelled)) => {}
                    // What was shown before stays, and the next change tries again.
                    Err(_) => {
                        let text = format!("checking {} ran into a bug in Keyon", cell.uri);
                        outbox.log(MessageType::ERROR, text);
                    }
                }
                outbox.send(ToClient::Idle(number));
            }));
        }
    }
}

impl Open {
    /// Text or libraries have changed: stops what runs on the old ones.
    fn outdate(&mut self) {
        self.cell = None;
        for token in self.running.drain(..).filter_map(|token| token.upgrade()) {
            token.outdate();
        }
    }
}
