//! What an editor asks, answered as plain structs with byte ranges. One file a feature; no protocol, no thread.
//!
//! Everything works on a [`View`]: one file with its libraries at one moment, and the scenario that is held.

mod actions;
mod around;
mod calls;
mod carries;
mod colours;
mod completion;
mod display;
mod drawing;
mod expecting;
mod explain;
mod folding;
mod format;
mod hints;
mod hover;
mod lenses;
mod links;
mod navigate;
mod place;
mod reason;
mod refactor;
mod rename;
mod shown;
mod signature;
mod symbols;
mod table;
mod tokens;
mod topics;

pub use actions::{Action, actions};
pub use around::selection;
pub use calls::{Stop, Towards, next_stops, stops_at};
pub use colours::{Swatch, swatches};
pub use completion::{Completion, CompletionKind, complete, preview};
pub use drawing::{Look, drawing};
pub use expecting::{Expecting, expecting};
pub use explain::{Rule, explain, rules};
pub use folding::{Fold, folds};
pub use format::{edits, format};
pub use hints::{Hint, hint_reason, hints};
pub use hover::{Hover, hover};
pub use lenses::{Lens, LensKind, lenses};
pub use links::{links, uses};
pub use navigate::{definition, highlight, references, type_definition, whereabouts};
pub use refactor::{Refactor, refactors};
pub use rename::{declared_at, prepare_rename, rename, uses_of};
pub use shown::{scenarios, shown};
pub use signature::{Param, Signature, signature};
pub use symbols::{Symbol, SymbolKind, is_circuit, symbols, symbols_of};
pub use table::truth_table;
pub use tokens::{SemanticToken, TokenClass, semantic_tokens};
pub use topics::{nearest_topic, topic, topics};

use keyon_circuit::{Elaboration, Source};
use keyon_solve::{Cancel, Memory, Solution, State, Survey};
use std::sync::Arc;

/// One file with its libraries at one moment.
pub struct View<'a> {
    /// File 0 is the one that is asked about.
    pub elaboration: &'a Elaboration,
    /// The scenario to show, if one is held.
    pub held: Option<&'a str>,
    /// Asked in every long loop.
    pub cancel: &'a dyn Cancel,
    /// What was solved for questions before; for who asks again and again.
    pub memory: Option<&'a Memory>,
}

impl<'a> View<'a> {
    /// The file that is asked about.
    fn source(&self) -> Option<&'a Source> {
        self.elaboration.files.first()
    }
    /// A state, solved.
    fn solve(&self, state: &State) -> Arc<Solution> {
        let circuit = &self.elaboration.circuit;
        match self.memory {
            Some(memory) => memory.solve(circuit, self.elaboration.electric(), state),
            None => Arc::new(keyon_solve::solve(circuit, state)),
        }
    }
    /// A search for the states that matter.
    fn survey(&self, base: &State) -> Survey<'a> {
        let elaboration = self.elaboration;
        match self.memory {
            Some(memory) => memory.survey(&elaboration.circuit, elaboration.electric(), base),
            None => Survey::new(&elaboration.circuit, base),
        }
    }
    /// Its text.
    fn text(&self) -> &'a str {
        self.source().map_or("", |source| &source.text)
    }
}
