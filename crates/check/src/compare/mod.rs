//! What differs between two versions of one circuit: readings, device states, rows of its truth tables. Things are the
//! same where they have the same name.

mod readings;
mod tables;

pub use readings::{Reading, ReadingChange, Value};
pub use tables::{CellChange, Tables};

use keyon_circuit::model::Circuit;
use keyon_solve::{Cancel, Cancelled};
use smol_str::SmolStr;

/// What differs.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Difference {
    /// Scenarios (and faults of exercises) that both have, each with the readings that changed.
    pub states: Vec<StateChange>,
    /// Scenarios and exercises that only the new version has.
    pub added: Vec<SmolStr>,
    /// … and those that only the old one has.
    pub removed: Vec<SmolStr>,
    #[allow(missing_docs)]
    pub tables: Tables,
}

/// A scenario, or the fault of an exercise, in which something changed.
#[derive(Clone, Debug, PartialEq)]
pub struct StateChange {
    /// The scenario's name, or `exercise NAME`.
    pub name: SmolStr,
    /// It is an exercise: what changed are answers on its sheet.
    pub exercise: bool,
    /// In the order of the new circuit; those that are gone come last.
    pub readings: Vec<ReadingChange>,
}

impl Difference {
    /// Nothing differs that is compared.
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }
}

/// Compares two versions.
///
/// # Errors
/// When `cancel` asks for it.
pub fn compare(old: &Circuit, new: &Circuit, cancel: &dyn Cancel) -> Result<Difference, Cancelled> {
    let (mut difference, before, after) =
        (Difference::default(), readings::states(old), readings::states(new));
    for state in &after {
        if cancel.cancelled() {
            return Err(Cancelled);
        }
        let Some(known) = before.iter().find(|known| known.name == state.name) else {
            difference.added.push(state.name.clone());
            continue;
        };
        let changes = readings::changes(known.readings(old), state.readings(new));
        if !changes.is_empty() {
            difference.states.push(StateChange {
                name: state.name.clone(),
                exercise: state.exercise,
                readings: changes,
            });
        }
    }
    let gone = before.iter().filter(|known| after.iter().all(|state| state.name != known.name));
    difference.removed.extend(gone.map(|known| known.name.clone()));
    difference.tables = tables::changes(old, new, cancel)?;
    Ok(difference)
}
