//! What a module makes of what it measures: which value each input is taken for, whether a signal is plausible, whether
//! an output looks open or shorted. Only volts and amps at its own pins go in: a module sees neither wires nor sensors.

mod curve;
mod outputs;
mod signal;

pub use curve::{Beyond, Taken};
pub use outputs::{OutputView, Seen};
pub use signal::{InputView, Signal, plausible};

use crate::{Cancel, Cancelled, Solution};
use keyon_circuit::{
    ids::*,
    model::{COMMON, Circuit, Module},
};

/// A module's own view of one state.
#[derive(Clone, Debug, PartialEq)]
pub struct ModuleView {
    #[allow(missing_docs)]
    pub module: ModuleId,
    /// A dead module sees nothing: then both lists are empty.
    pub alive: bool,
    /// Its inputs in source order.
    pub inputs: Vec<InputView>,
    /// Its stages and references in source order.
    pub outputs: Vec<OutputView>,
}

/// What every module makes of a solved state.
///
/// # Errors
/// When `cancel` asks for it.
pub fn module_views(
    circuit: &Circuit,
    solution: &Solution,
    cancel: &dyn Cancel,
) -> Result<Vec<ModuleView>, Cancelled> {
    let mut curves = curve::Curves::new(circuit, solution);
    (0..circuit.modules.len()).map(|m| view(circuit, solution, m.into(), &mut curves, cancel)).collect()
}

/// What one module makes of a solved state.
///
/// # Errors
/// When `cancel` asks for it.
pub fn module_view(
    circuit: &Circuit,
    solution: &Solution,
    module: ModuleId,
    cancel: &dyn Cancel,
) -> Result<ModuleView, Cancelled> {
    view(circuit, solution, module, &mut curve::Curves::new(circuit, solution), cancel)
}

fn view(
    circuit: &Circuit,
    solution: &Solution,
    id: ModuleId,
    curves: &mut curve::Curves<'_>,
    cancel: &dyn Cancel,
) -> Result<ModuleView, Cancelled> {
    let alive = solution.alive.get(id.index()).copied().unwrap_or(false);
    let mut view = ModuleView { module: id, alive, inputs: Vec::new(), outputs: Vec::new() };
    let Some(module) = circuit.modules.get(id.index()).filter(|_| alive) else { return Ok(view) };
    for (c, connector) in module.connectors.iter().enumerate() {
        for (k, cavity) in connector.cavities.iter().enumerate() {
            if let Some(mut input) = signal::input(circuit, solution, id, (c, k), cavity) {
                // A switch has no curve.
                if input.high.is_none()
                    && let Some(volts) = input.volts
                {
                    input.taken_for = curves.taken_for((id, c, k), volts, cancel)?;
                }
                view.inputs.push(input);
            }
            view.outputs.extend(outputs::output(circuit, solution, module, (c, k), cavity));
        }
    }
    Ok(view)
}

/// The inside of a module's first ground: what it measures against.
fn ground_of(module: &Module) -> PointId {
    let inside = |&(c, k): &(usize, usize)| Some(module.connectors.get(c)?.cavities.get(k)?.inside);
    module.grounds.first().and_then(inside).unwrap_or(COMMON)
}
