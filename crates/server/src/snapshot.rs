//! What a worker gets: one document at one moment, with everything it depends on.

use crate::{
    files::Files,
    glance::Told,
    parts::is_note,
    position::{Encoding, Lines, Walk},
    token::Token,
};
use keyon_check::{
    Finding, Run, Settings,
    settings::{Finder, Found},
};
use keyon_circuit::{Elaboration, Source, model::Loc};
use keyon_ide::View;
use keyon_solve::{Cancel, Cancelled, Never};
use keyon_syntax::Span;
use smol_str::SmolStr;
use std::{
    collections::BTreeSet,
    path::Path,
    sync::{Arc, Condvar, Mutex, OnceLock, PoisonError},
    time::Duration,
};
use tower_lsp::lsp_types::{Location, Position, Range, Url};

/// Bytes of a text above which what its first reading finds is shown while the rest is still looked at.
const LARGE: usize = 1 << 16;

/// A circuit and its findings.
#[derive(Debug)]
pub(crate) struct Checked {
    pub(crate) elaboration: Arc<Elaboration>,
    pub(crate) findings: Vec<Finding>,
    /// The settings files that hold for it, to say what is wrong in them.
    pub(crate) settings: Vec<Arc<Found>>,
}

/// What is kept of a circuit from one version of its text to the next, so that not all is computed anew.
#[derive(Debug, Default)]
pub(crate) struct Known {
    /// What its pieces found.
    memo: keyon_check::Memo,
    /// The last elaboration.
    last: Mutex<Option<Arc<Elaboration>>>,
    /// What was solved for questions.
    states: keyon_solve::Memory,
    /// What the last check told, of a large text.
    told: Mutex<Option<Arc<Told>>>,
}

/// What holds for the files of a circuit.
#[derive(Debug, Default)]
struct Rulings {
    /// One a file of the elaboration.
    settings: Vec<Arc<Settings>>,
    found: Vec<Arc<Found>>,
}

/// One document with its libraries at one moment. What is computed of it is kept for whoever asks next.
#[derive(Debug)]
pub(crate) struct Cell {
    pub(crate) uri: Url,
    pub(crate) source: Source,
    pub(crate) files: Files,
    /// A Markdown note: all outside its circuit is blank.
    pub(crate) is_note: bool,
    /// Of a note: where its circuit stands.
    blocks: Vec<std::ops::Range<usize>>,
    /// The other circuits of the same note.
    pub(crate) also: Vec<Arc<Self>>,
    known: Arc<Known>,
    lines: OnceLock<Arc<Lines>>,
    elaboration: Mutex<Option<Arc<Elaboration>>>,
    rulings: OnceLock<Rulings>,
    checked: Mutex<Slot>,
    done: Condvar,
}

/// Where the findings are.
#[derive(Debug, Default)]
enum Slot {
    #[default]
    Empty,
    Running,
    Done(Arc<Checked>),
}

/// Whoever computes the findings. Gives the slot free when it gives up, by cancellation or by a panic.
struct Claim<'a> {
    cell: &'a Cell,
    result: Slot,
}

impl Drop for Claim<'_> {
    fn drop(&mut self) {
        let mut slot = self.cell.checked.lock().unwrap_or_else(PoisonError::into_inner);
        *slot = std::mem::take(&mut self.result);
        drop(slot);
        self.cell.done.notify_all();
    }
}

impl Cell {
    pub(crate) fn new(uri: Url, source: Source, files: Files, known: Arc<Known>) -> Self {
        let is_note = is_note(&source.key);
        Self {
            uri,
            source,
            files,
            is_note,
            blocks: Vec::new(),
            also: Vec::new(),
            known,
            lines: OnceLock::new(),
            elaboration: Mutex::default(),
            rulings: OnceLock::new(),
            checked: Mutex::default(),
            done: Condvar::new(),
        }
    }

    /// A circuit of a note, with where it stands and the note's other circuits.
    #[must_use]
    pub(crate) fn in_note(self, blocks: Vec<std::ops::Range<usize>>, also: Vec<Arc<Self>>) -> Self {
        Self { blocks, also, ..self }
    }

    /// The same with the lines of its text, for who has them already.
    #[must_use]
    pub(crate) fn with_lines(self, lines: Arc<Lines>) -> Self {
        Self { lines: OnceLock::from(lines), ..self }
    }

    pub(crate) fn lines(&self) -> &Lines {
        self.lines.get_or_init(|| Arc::new(Lines::new(&self.source.text)))
    }

    /// The circuit. The first who asks computes it, others wait: it takes milliseconds.
    pub(crate) fn elaboration(&self) -> Arc<Elaboration> {
        let mut slot = self.elaboration.lock().unwrap_or_else(PoisonError::into_inner);
        let elaboration = slot.get_or_insert_with(|| {
            let elaboration = self.elaborate();
            // Looked for here, so that all that the answers hang on is known as soon as the circuit is.
            let _ = self.rulings.set(self.rulings(&elaboration));
            elaboration
        });
        Arc::clone(elaboration)
    }

    /// Elaborates, beginning with what was there before. Versions of one text wait for each other: the later one has less to do.
    fn elaborate(&self) -> Arc<Elaboration> {
        let mut last = self.known.last.lock().unwrap_or_else(PoisonError::into_inner);
        let elaboration = match last.take() {
            Some(before) => keyon_circuit::elaborate_after(&self.files, &self.source, before, elsewhere),
            None => Arc::new(keyon_circuit::elaborate(&self.files, &self.source)),
        };
        *last = Some(Arc::clone(&elaboration));
        elaboration
    }

    /// What is wrong with the names of a few items, by the last elaboration, if that is at hand.
    pub(crate) fn early_problems(
        &self,
        items: std::ops::Range<usize>,
    ) -> Option<Vec<keyon_circuit::Problem>> {
        let before = self.known.last.try_lock().ok()?.clone()?;
        keyon_circuit::early_problems(&self.files, &self.source, &before, items)
    }

    /// The settings of each file, by the same search as the terminal's.
    fn rulings(&self, elaboration: &Elaboration) -> Rulings {
        let finder = Finder::new(Box::new(|path| self.files.settings(path)));
        let of = |key: &str| {
            let path = Path::new(key);
            // Built-in parts and documents that were never saved have no folder.
            let path = if path.is_absolute() { path } else { Path::new(self.source.key.as_str()) };
            if path.is_absolute() { finder.settings(path) } else { Arc::default() }
        };
        let settings = elaboration.files.iter().map(|file| of(&file.key)).collect();
        Rulings { settings, found: finder.all() }
    }

    /// The findings. Computed once: whoever asks meanwhile waits for them, or for its own cancellation.
    ///
    /// # Errors
    /// When `cancel` asks for it.
    pub(crate) fn checked(&self, cancel: &dyn Cancel) -> Result<Arc<Checked>, Cancelled> {
        let mut slot = self.checked.lock().unwrap_or_else(PoisonError::into_inner);
        loop {
            match &*slot {
                Slot::Done(checked) => return Ok(Arc::clone(checked)),
                Slot::Empty => break,
                Slot::Running => {
                    let wait = self.done.wait_timeout(slot, Duration::from_millis(20));
                    slot = wait.unwrap_or_else(PoisonError::into_inner).0;
                    if cancel.cancelled() {
                        return Err(Cancelled);
                    }
                }
            }
        }
        if cancel.cancelled() {
            return Err(Cancelled);
        }
        *slot = Slot::Running;
        drop(slot);
        let mut claim = Claim { cell: self, result: Slot::Empty };
        let elaboration = self.elaboration();
        let findings = self.run(cancel).report(&elaboration)?.findings;
        let checked = Arc::new(Checked { elaboration, findings, settings: self.settings_files() });
        if self.is_large() {
            let settings = self.rulings.get().map_or(&[][..], |rulings| &rulings.settings);
            let told = Told::new(&checked, settings, &checked.settings);
            *self.known.told.lock().unwrap_or_else(PoisonError::into_inner) = Some(Arc::new(told));
        }
        claim.result = Slot::Done(Arc::clone(&checked));
        Ok(checked)
    }

    /// So long a text that what its first reading finds is shown while the rest is still looked at.
    pub(crate) fn is_large(&self) -> bool {
        self.source.text.len() > LARGE && self.also.is_empty()
    }

    /// What the check of an earlier version told, if the text is large.
    pub(crate) fn told(&self) -> Option<Arc<Told>> {
        let told = self.known.told.lock().unwrap_or_else(PoisonError::into_inner);
        told.clone().filter(|_| self.is_large())
    }

    /// What to show as soon as names are known; what holds of them is kept until a check has told all.
    pub(crate) fn names_told(&self, told: &Arc<Told>) -> Option<Checked> {
        let (show, now) = told.of_names(self)?;
        let mut last = self.known.told.lock().unwrap_or_else(PoisonError::into_inner);
        // A check that has ended meanwhile knows more.
        if last.as_ref().is_some_and(|last| Arc::ptr_eq(last, told)) {
            *last = Some(Arc::new(now));
        }
        show
    }

    /// What is wrong with the text and its names alone.
    pub(crate) fn first_look(&self) -> Checked {
        let elaboration = self.elaboration();
        let findings = self.run(&Never).first_look(&elaboration);
        Checked { elaboration, findings, settings: self.settings_files() }
    }

    /// How it is checked, once it is elaborated.
    fn run<'a>(&'a self, cancel: &'a dyn Cancel) -> Run<'a, Arc<Settings>> {
        let settings = self.rulings.get().map_or(&[][..], |rulings| &rulings.settings);
        let threads = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
        Run { settings, expectations: false, memo: Some(&self.known.memo), done: None, threads, cancel }
    }

    /// The settings files that hold for it.
    fn settings_files(&self) -> Vec<Arc<Found>> {
        self.rulings.get().map(|rulings| rulings.found.clone()).unwrap_or_default()
    }

    /// The settings of its own file.
    pub(crate) fn settings(&self) -> Settings {
        let _ = self.elaboration();
        let own = self.rulings.get().and_then(|rulings| rulings.settings.first());
        own.map(|settings| Settings::clone(settings)).unwrap_or_default()
    }

    /// Which files it asked for, as far as it has looked; `None` if it has not looked at all.
    pub(crate) fn asked(&self) -> Option<BTreeSet<SmolStr>> {
        let looked = self.elaboration.lock().unwrap_or_else(PoisonError::into_inner).is_some();
        let mut asked =
            looked.then(|| self.files.asked.lock().unwrap_or_else(PoisonError::into_inner).clone())?;
        for other in &self.also {
            asked.extend(other.asked()?);
        }
        Some(asked)
    }
}

/// Takes a circuit apart on a thread of its own: while that is done, the next one is made.
fn elsewhere(old: Arc<Elaboration>) {
    // The thread that cannot be had leaves the work here.
    let _ = std::thread::Builder::new().name("apart".to_owned()).spawn(move || drop(old));
}

/// A cell, and how to answer this one request about it.
#[derive(Clone)]
pub(crate) struct Snapshot {
    pub(crate) cell: Arc<Cell>,
    pub(crate) held: Option<SmolStr>,
    pub(crate) encoding: Encoding,
    pub(crate) token: Arc<Token>,
}

impl Snapshot {
    /// Asks the editor part of the core something about this document.
    pub(crate) fn view<T>(&self, ask: impl FnOnce(&View<'_>) -> T) -> T {
        let elaboration = self.cell.elaboration();
        let memory = Some(&self.cell.known.states);
        ask(&View { elaboration: &elaboration, held: self.held.as_deref(), cancel: &*self.token, memory })
    }

    /// The same about the circuit of the note in which a place stands; in its prose about the first.
    pub(crate) fn circuit_at(&self, place: Position) -> Self {
        let offset = self.offset(place) as usize;
        // At the end of a block too: there one types.
        let holds = |cell: &&Arc<Cell>| cell.blocks.iter().any(|b| b.start <= offset && offset <= b.end);
        let cell = std::iter::once(&self.cell).chain(&self.cell.also).find(holds).unwrap_or(&self.cell);
        Self { cell: Arc::clone(cell), ..self.clone() }
    }

    /// Whether a place is outside of all circuits of a note.
    pub(crate) fn in_prose(&self, offset: u32) -> bool {
        let holds = |b: &std::ops::Range<usize>| b.start <= offset as usize && offset as usize <= b.end;
        crate::parts::is_note(&self.cell.source.key) && !self.cell.blocks.iter().any(holds)
    }

    pub(crate) fn text(&self) -> &str {
        &self.cell.source.text
    }

    pub(crate) fn offset(&self, position: Position) -> u32 {
        self.cell.lines().nearest(self.text(), position, self.encoding)
    }

    pub(crate) fn span(&self, range: Range) -> Span {
        Span { start: self.offset(range.start), end: self.offset(range.end).max(self.offset(range.start)) }
    }

    pub(crate) fn range(&self, span: Span) -> Range {
        self.cell.lines().range(self.text(), span, self.encoding)
    }

    /// For positions of many places in their order.
    pub(crate) fn walk(&self) -> Walk<'_> {
        Walk::new(self.cell.lines(), self.text(), self.encoding)
    }

    pub(crate) fn position(&self, offset: u32) -> Position {
        self.cell.lines().position(self.text(), offset, self.encoding)
    }

    /// A place in this file or one of its libraries; `None` for built-in parts, which no editor can open.
    pub(crate) fn location(&self, elaboration: &Elaboration, loc: Loc) -> Option<Location> {
        location(&self.cell, elaboration, loc, self.encoding)
    }
}

/// A place in a document or one of its libraries; `None` for what no editor can open.
pub(crate) fn location(
    cell: &Cell,
    elaboration: &Elaboration,
    loc: Loc,
    encoding: Encoding,
) -> Option<Location> {
    let span = elaboration.span(loc);
    if loc.file.index() == 0 {
        return Some(Location::new(cell.uri.clone(), cell.lines().range(&cell.source.text, span, encoding)));
    }
    let file = elaboration.files.get(loc.file.index())?;
    let uri = crate::files::uri(&file.key)?;
    Some(Location::new(uri, Lines::new(&file.text).range(&file.text, span, encoding)))
}
