//! What a state is, in words: the foot of every page, and what stands at the head of it.

use crate::{figure, path::control_words};
use keyon_circuit::{
    ids::{ControlId, ScenarioId},
    model::{Change, Circuit, Law},
};
use keyon_solve::State;

/// Stands under everything that is computed.
pub const FOOT: &str = "computed for teaching and planning; the maker's data wins; copper at 20 °C";

/// Explains the mark behind volts that carry nothing.
pub const STAR_NOTE: &str = "* through a load or a module's pull-up, no current: it cannot carry a load";

/// Explains `floats`.
pub const FLOAT_NOTE: &str = "floats: nothing holds this point; a meter shows about 0 V, or drifts";

/// What was asked for, beside the state that came of it.
#[derive(Clone, Debug, Default)]
pub struct Asked {
    /// The scenario to start from.
    pub scenario: Option<ScenarioId>,
    /// Set-ups and faults beyond the scenario's own, as they were said: `unplug left_valve`, `open 431`.
    pub said: Vec<String>,
    /// Controls that a table holds where the state has them.
    pub held: Vec<ControlId>,
}

impl Asked {
    /// The scenario's name and title, if one was asked for.
    pub fn scenario_line(&self, circuit: &Circuit) -> Option<String> {
        let scenario = circuit.scenarios.get(self.scenario?.index())?;
        Some(match &scenario.title {
            Some(title) => format!("scenario {}  {title}", scenario.name),
            None => format!("scenario {}", scenario.name),
        })
    }

    /// All set-ups and faults in words.
    pub(crate) fn changes(&self, circuit: &Circuit, state: &State) -> Vec<String> {
        if self.said.is_empty() {
            return change_words(circuit, &state.changes);
        }
        let scenario = self.scenario.and_then(|s| circuit.scenarios.get(s.index()));
        let own = scenario.map_or(0, |s| s.settings.changes.len()).min(state.changes.len());
        let mut words = change_words(circuit, state.changes.get(..own).unwrap_or_default());
        words.extend(self.said.iter().cloned());
        words
    }
}

/// A circuit's name and title: `orchard_sprayer  Orchard sprayer, spray control`.
pub fn title(circuit: &Circuit) -> String {
    match &circuit.title {
        Some(title) => format!("{}  {title}", circuit.name),
        None => circuit.name.to_string(),
    }
}

/// A state as lines of label and words: which controls are set, which rest, stimuli, supplies, set-ups and faults.
pub fn state_lines(circuit: &Circuit, state: &State, asked: &Asked) -> Vec<(&'static str, String)> {
    let mut lines = Vec::new();
    let (mut set, mut rest) = (Vec::new(), Vec::new());
    for (index, _) in circuit.controls.iter().enumerate() {
        let position = state.positions.get(index).map_or(0, |&p| usize::from(p));
        let duty = state.duty.get(index).copied().unwrap_or(1.0);
        let words = control_words(circuit, index.into(), position, duty);
        if position == 0 { rest.push(words) } else { set.push(words) }
    }
    if !set.is_empty() {
        lines.push(("set", set.join(", ")));
    }
    if !rest.is_empty() {
        lines.push(("at rest", rest.join(", ")));
    }
    let stimuli: Vec<String> = circuit
        .stimuli
        .iter()
        .zip(&state.stimuli)
        .map(|(stimulus, &value)| format!("{} {}", stimulus.name, figure::of_stimulus(value, stimulus)))
        .collect();
    if !stimuli.is_empty() {
        lines.push(("senses", stimuli.join(", ")));
    }
    let supplies: Vec<String> = circuit
        .supplies
        .iter()
        .zip(&state.supplies)
        .map(|(supply, &volts)| {
            #[allow(clippy::float_cmp)] // an end of the range is set as just that number
            let end = match supply.range {
                Some((low, _)) if volts == low && volts != supply.volts.nominal => Some(false),
                Some((_, high)) if volts == high && volts != supply.volts.nominal => Some(true),
                _ => None,
            };
            // Only a battery is cranked on and charged; another supply just varies.
            let word = match (end, is_battery(supply)) {
                (None, _) => "",
                (Some(false), true) => " (cranking)",
                (Some(true), true) => " (running)",
                (Some(false), false) => " (lowest)",
                (Some(true), false) => " (highest)",
            };
            format!("{} {} V{word}", supply.name, figure::volts(volts))
        })
        .collect();
    if !supplies.is_empty() {
        lines.push(("supply", supplies.join(", ")));
    }
    let changes = asked.changes(circuit, state);
    if !changes.is_empty() {
        lines.push(("changed", changes.join(", ")));
    }
    if state.options.keep_fuses {
        lines.push(("fuses", "kept whole, to show the moment before they blow".to_owned()));
    }
    lines
}

/// Whether a supply says that it is a battery: by its name or its title.
fn is_battery(supply: &keyon_circuit::model::Supply) -> bool {
    let said = [supply.name.as_str(), supply.title.as_deref().unwrap_or_default()];
    said.iter().map(|text| text.to_lowercase()).any(|text| text.contains("bat") || text.contains("accu"))
}

/// Set-ups and faults in words; openings of one thing's many contacts are said once.
pub(crate) fn change_words(circuit: &Circuit, changes: &[Change]) -> Vec<String> {
    let element = |id: keyon_circuit::ids::ElementId| {
        circuit.elements.get(id.index()).map_or_else(String::new, |e| e.name.to_string())
    };
    let point = |id: keyon_circuit::ids::PointId| {
        circuit.points.get(id.index()).map_or_else(String::new, |p| p.name.to_string())
    };
    changes
        .iter()
        .map(|change| match change {
            Change::Open(id) => format!("{} open", element(*id)),
            Change::Add { from, to, law: Law::Joint } => format!("{} joined to {}", point(*from), point(*to)),
            Change::Add { from, to, law } => {
                format!("{} from {} to {}", law_words(law), point(*from), point(*to))
            }
            Change::Replace(id, law) => format!("{} has become {}", element(*id), law_words(law)),
            Change::Stuck(id, true) => format!("{} stuck closed", element(*id)),
            Change::Stuck(id, false) => format!("{} stuck open", element(*id)),
            Change::Drift(id, factor) => {
                let percent = figure::percent((factor - 1.0).abs());
                format!("{} reads {percent} {}", element(*id), if *factor < 1.0 { "low" } else { "high" })
            }
        })
        .collect()
}

/// What a law gives, in a few words: `24 ohm`, `21 W 12 V`, `a joint`.
pub fn law_words(law: &Law) -> String {
    match law {
        Law::Joint => "a joint without resistance".to_owned(),
        Law::Resistance(ohms) | Law::Coil { ohms, .. } | Law::Winding { ohms, .. } => {
            figure::ohms(ohms.nominal)
        }
        Law::Rated { watts, volts, .. } => {
            format!("{} W {} V", trimmed(watts.nominal), trimmed(volts.nominal))
        }
        Law::Thermistor { .. } => "thermistor".to_owned(),
        Law::Track { ohms, .. } => format!("track {}", figure::ohms(ohms.nominal)),
        Law::Variable { low, high, .. } => format!("{} .. {}", figure::ohms(*low), figure::ohms(*high)),
        Law::Transducer { volts, .. } => format!("transducer {} .. {} V", trimmed(volts.0), trimmed(volts.1)),
        Law::Diode { drop } => format!("drop {} V", trimmed(drop.nominal)),
        Law::Source { volts, inner, .. } if inner.nominal > 0.0 => {
            format!("{} V behind {}", trimmed(volts.nominal), figure::ohms(inner.nominal))
        }
        Law::Source { volts, .. } => format!("{} V", trimmed(volts.nominal)),
    }
}

/// A written number as it is: 12, 12.6, 0.7.
fn trimmed(value: f64) -> String {
    let text = figure::fixed(value, 3);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
