//! Names, parts, values: from trees to one graph of points and elements. Computes no voltage.

mod apart;
mod build;
pub mod conductors;
mod dump;
pub mod entity;
mod excerpt;
mod graph;
pub mod hash;
pub mod ids;
pub mod index;
pub mod joined;
mod libraries;
pub mod model;
mod moved;
pub mod near;
pub mod units;
pub mod value;

pub use apart::{Region, regions};
pub use dump::dump;
pub use entity::{Entity, Occurrence, ParamInfo, PartInfo};
pub use excerpt::Excerpt;
pub use libraries::TRADE_TEXT;
pub use moved::Moved;

use keyon_syntax::Span;
use model::{Circuit, Loc};
use smol_str::SmolStr;
use std::sync::Arc;

/// Gives the core its files. Keys are opaque: paths, URIs, names of test fixtures.
pub trait World {
    /// The key and the parsed text of the library that the file `from` names as `path`; `None` if there is none.
    fn library(&self, from: &str, path: &str) -> Option<Source>;

    /// A path that `from` could have meant where it names a library that does not exist, if the world can tell.
    fn near(&self, from: &str, path: &str) -> Option<String> {
        let _ = (from, path);
        None
    }
}

/// One parsed file.
#[derive(Clone, Debug)]
pub struct Source {
    /// Canonical key: two ways to name one file give the same key.
    pub key: SmolStr,
    /// Its text.
    pub text: Arc<str>,
    /// Its tree and errors.
    pub parse: Arc<keyon_syntax::Parse>,
}

impl Source {
    /// The text of one of its items.
    pub fn item_text(&self, placed: &keyon_syntax::tree::PlacedItem) -> Option<&str> {
        self.text.get(placed.item.span.moved(placed.start).range())
    }
}

/// What elaboration found wrong. `check` turns it into a finding.
#[derive(Clone, Debug)]
pub struct Problem {
    /// A rule of `rules.md`: `unknown-name`, `wrong-dimension` …
    pub rule: &'static str,
    /// Where.
    pub loc: Loc,
    /// What is wrong here and why, for a person.
    pub message: String,
    /// What to do.
    pub help: Option<String>,
    /// Other places, each with a word on it.
    pub related: Vec<(Loc, String)>,
    /// A replacement of `loc`'s text that mends it.
    pub fix: Option<Fix>,
    /// No more than a warning, whatever its rule's level: what is computed holds all the same.
    pub mild: bool,
}

/// An edit that mends something.
#[derive(Clone, Debug)]
pub struct Fix {
    /// What it does: "write `S12`".
    pub title: String,
    /// Replacements, in no order, not overlapping.
    pub edits: Vec<(Loc, String)>,
    /// Whether it is safe to make without a look.
    pub safe: bool,
}

/// A circuit (or a parts library) with what was found on the way.
#[derive(Clone, Debug)]
pub struct Elaboration {
    /// File 0 is the circuit's own; then its libraries in order of first use; built-in parts come last.
    pub files: Vec<Source>,
    #[allow(missing_docs)]
    pub circuit: Circuit,
    /// In source order.
    pub problems: Vec<Problem>,
    /// Every name of every file that could be resolved, in source order.
    pub names: Vec<Occurrence>,
    /// The parts of all files, in order.
    pub parts: Vec<PartInfo>,
    /// The parts that file 0 can name, as it has to write them (`units.spray_unit`), sorted by name; indices into
    /// `parts`.
    pub scope: Vec<(SmolStr, usize)>,
    /// File 0 is a parts library: it has no circuit of its own.
    pub library: bool,
    /// What each item of file 0 has made.
    pub(crate) marks: Arc<build::Marks>,
    pub(crate) electric: Likeness,
    pub(crate) shape: Likeness,
}

/// Stands for a side of a circuit. Circuits with equal ones are alike in it: one was made of the other by
/// [`elaborate_again`]. Those with unequal ones may be alike nevertheless.
#[derive(Clone, Debug)]
pub struct Likeness(Arc<u8>);

impl Likeness {
    pub(crate) fn new() -> Self {
        Self(Arc::new(0))
    }
}

impl PartialEq for Likeness {
    fn eq(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.0, &other.0)
    }
}

impl Eq for Likeness {}

/// Elaborates a file: its libraries through the world, its parts, its names, its one graph. Never fails: what is
/// wrong is in [`Elaboration::problems`], and the circuit is what could be read.
pub fn elaborate(world: &dyn World, source: &Source) -> Elaboration {
    let loaded = libraries::load(world, source);
    let (libraries, problems) = libraries::Libraries::new(&loaded);
    build::build(&loaded.files, &libraries, problems)
}

/// Elaborates a file that was elaborated before, and has perhaps changed since: the very same as [`elaborate`] of it. Where
/// only values or blanks have changed, most of what was found before stays, and it costs little; all the less where nobody else
/// holds `before`.
pub fn elaborate_again(world: &dyn World, source: &Source, before: Arc<Elaboration>) -> Arc<Elaboration> {
    elaborate_after(world, source, before, drop)
}

/// [`elaborate_again`], and `let_go` gets what was known before as soon as nothing of it is needed: taking a large circuit
/// apart takes a fifth of the time of putting one together.
pub fn elaborate_after(
    world: &dyn World,
    source: &Source,
    before: Arc<Elaboration>,
    let_go: impl FnOnce(Arc<Elaboration>),
) -> Arc<Elaboration> {
    let loaded = libraries::load(world, source);
    let (libraries, problems) = libraries::Libraries::new(&loaded);
    // Whatever is wrong with the libraries is found again in full.
    let patch = if problems.is_empty() { build::patch(&before, &loaded.files, &libraries) } else { None };
    let mut before = before;
    if let Some(patch) = patch
        && patch.apply(Arc::make_mut(&mut before)).is_some()
    {
        return before;
    }
    let_go(before);
    Arc::new(build::build(&loaded.files, &libraries, problems))
}

/// What is wrong with the names and values of a few items of a file, `items`, by what was known of it `before`: quickly, and as a rule
/// what [`elaborate`] finds in them. `None` where that cannot be told of them alone.
pub fn early_problems(
    world: &dyn World,
    source: &Source,
    before: &Elaboration,
    items: std::ops::Range<usize>,
) -> Option<Vec<Problem>> {
    let loaded = libraries::load(world, source);
    let (libraries, problems) = libraries::Libraries::new(&loaded);
    if problems.is_empty() { build::early(before, &loaded.files, &libraries, items) } else { None }
}

/// A file and all that it uses, directly or by way of others: itself first, built-in parts last.
pub fn files_of(world: &dyn World, source: &Source) -> Vec<Source> {
    libraries::load(world, source).files
}

/// The circuit's name as far as the text alone tells; `None` for a parts library.
pub fn circuit_name(source: &Source) -> Option<SmolStr> {
    libraries::is_circuit(source).then(|| libraries::circuit_name(source))
}

impl Elaboration {
    /// Reads `NAME=VALUE` as a command line gives it: `left_cmd=on 40 %`, `temp=25 degC`, `battery=11 V`.
    ///
    /// # Errors
    /// A message for a person, with the nearest name.
    pub fn parse_setting(&self, text: &str) -> Result<model::Settings, String> {
        build::parse_setting(self, text)
    }

    /// Reads a set-up as a scenario says it: `unplug left_valve`, `pull F7`, `jumper A to B`, `load A to B 4 ohm`.
    ///
    /// # Errors
    /// A message for a person, with the nearest name.
    pub fn parse_setup(&self, text: &str) -> Result<Vec<model::Change>, String> {
        build::parse_setup(self, text)
    }

    /// Reads a fault as an exercise says it: `open 431`, `short S12 to ground`, `resistance 10 ohm in 431`.
    ///
    /// # Errors
    /// A message for a person, with the nearest name.
    pub fn parse_fault(&self, text: &str) -> Result<Vec<model::Change>, String> {
        build::parse_fault(self, text)
    }

    /// Files of which nothing is known but what reading each of them found.
    #[must_use]
    pub fn of_files(files: Vec<Source>) -> Self {
        let none = Self {
            files,
            circuit: Circuit::default(),
            problems: Vec::new(),
            names: Vec::new(),
            parts: Vec::new(),
            scope: Vec::new(),
            library: false,
            marks: Arc::default(),
            electric: Likeness::new(),
            shape: Likeness::new(),
        };
        Self { library: none.files.first().is_some_and(|file| !libraries::is_circuit(file)), ..none }
    }

    /// The same with problems.
    #[must_use]
    pub fn with_problems(self, problems: Vec<Problem>) -> Self {
        Self { problems, ..self }
    }

    /// The same files with another circuit, and with nothing else of what was found in them.
    #[must_use]
    pub fn with_circuit(&self, circuit: Circuit) -> Self {
        Self {
            files: self.files.clone(),
            circuit,
            problems: Vec::new(),
            names: Vec::new(),
            parts: Vec::new(),
            scope: Vec::new(),
            library: self.library,
            marks: Arc::default(),
            electric: Likeness::new(),
            shape: Likeness::new(),
        }
    }

    /// Stands for all that volts and amps depend on: alike in it, circuits differ in words, gauges and places at most.
    pub fn electric(&self) -> &Likeness {
        &self.electric
    }

    /// Stands for what there is, what it is called and where it leads: alike in it, circuits differ in numbers with units, in
    /// how they are written and in places at most.
    pub fn shape(&self) -> &Likeness {
        &self.shape
    }

    /// The absolute bytes of a place.
    pub fn span(&self, loc: Loc) -> Span {
        let file = &self.files[loc.file.index()];
        file.parse.file.items.get(loc.item as usize).map_or(loc.span, |placed| loc.span.moved(placed.start))
    }

    /// The text at a place; empty if there is none.
    pub fn text(&self, loc: Loc) -> &str {
        let span = self.span(loc);
        self.files.get(loc.file.index()).and_then(|file| file.text.get(span.range())).unwrap_or("")
    }
}
