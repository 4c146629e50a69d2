//! What an editor asks, answered as plain structs with byte ranges. One file a feature; no protocol, no thread.
//!
//! Everything works on a [`View`]: one file with its libraries at one moment, and the scenario that is held.

mod actions;
mod carries;
mod completion;
mod display;
mod explain;
mod folding;
mod format;
mod hints;
mod hover;
mod navigate;
mod place;
mod reason;
mod shown;
mod symbols;
mod table;

pub use actions::{Action, actions};
pub use completion::{Completion, CompletionKind, complete};
pub use explain::explain;
pub use folding::{Fold, folds};
pub use format::format;
pub use hints::{Hint, hints};
pub use hover::{Hover, hover};
pub use navigate::{definition, highlight, references};
pub use shown::{scenarios, shown};
pub use symbols::{Symbol, SymbolKind, symbols};
pub use table::truth_table;

use keyon_circuit::{Elaboration, Source};
use keyon_solve::Cancel;

/// One file with its libraries at one moment.
pub struct View<'a> {
    /// File 0 is the one that is asked about.
    pub elaboration: &'a Elaboration,
    /// The scenario to show, if one is held.
    pub held: Option<&'a str>,
    /// Asked in every long loop.
    pub cancel: &'a dyn Cancel,
}

impl<'a> View<'a> {
    /// The file that is asked about.
    fn source(&self) -> Option<&'a Source> {
        self.elaboration.files.first()
    }
    /// Its text.
    fn text(&self) -> &'a str {
        self.source().map_or("", |source| &source.text)
    }
}
