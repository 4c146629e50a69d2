//! Which elements conduct: by the positions of controls, relays, modules, and what was done to them.

use crate::plan::{Gate, Phase, Plan};

/// What decides besides the positions.
#[derive(Clone, Debug, Default)]
pub(crate) struct Held {
    /// Energised coils, as `Plan::coils`.
    pub(crate) energised: Vec<bool>,
    /// Fuses that opened: a mark for each part.
    pub(crate) blown: Vec<bool>,
    /// Ohms of windings that turn.
    pub(crate) turning: Vec<(usize, f64)>,
}

/// Whether each part conducts as far as its gate goes, all modules taken as alive. A diode counts as conducting here:
/// its own state is another matter.
pub(crate) fn gates(plan: &Plan<'_>, phase: &Phase, held: &Held) -> Vec<bool> {
    let open = |part: usize| held.blown.get(part).copied().unwrap_or(false);
    plan.parts
        .iter()
        .enumerate()
        .map(|(index, part)| {
            let closed = match part.gate {
                Gate::Always => true,
                Gate::Never => false,
                Gate::In { control, positions } => {
                    phase.positions.get(control).is_some_and(|&at| at < 64 && positions >> at & 1 == 1)
                }
                Gate::Energised { coil, open } => held.energised.get(coil).copied().unwrap_or(false) != open,
            };
            closed && !open(index)
        })
        .collect()
}
