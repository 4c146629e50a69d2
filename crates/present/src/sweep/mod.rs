//! A quantity taken through its span: as a table, as JSON, as a drawing.

mod axis;
mod drawing;
mod json;
mod remarks;
mod table;

use axis::Unit;

pub use drawing::sweep_svg;
pub use json::sweep_json;
pub use table::{sweep_csv, sweep_markdown, sweep_text};

use crate::shown::cavity_alias;
use keyon_circuit::{ids::*, model::Circuit};
use keyon_solve::{
    NodeState,
    sweep::{Read, Watch},
    view::plausible,
};

/// How a watched point is called: an input by its name, `SCU.temp_in`, a point as it is listed.
fn watch_name(circuit: &Circuit, watch: Watch) -> String {
    match watch {
        Watch::Point(p) => circuit.points.get(p.index()).map_or_else(String::new, |p| p.name.to_string()),
        Watch::Input(m, c, k) => cavity_alias(circuit, m, c, k).map_or_else(String::new, |n| n.to_string()),
    }
}

/// What an input is judged by.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Limits {
    /// Lowest and highest plausible volts: as stated, and with the rails left out.
    Range { stated: (f64, f64), plausible: (f64, f64) },
    /// Volts from which it reads high.
    Threshold(f64),
}

fn limits(circuit: &Circuit, watch: Watch) -> Option<Limits> {
    let Watch::Input(m, c, k) = watch else { return None };
    let cavity = circuit.cavity(m, c, k)?;
    match (cavity.threshold, cavity.range) {
        (Some(threshold), _) => Some(Limits::Threshold(threshold)),
        (None, Some(stated)) => Some(Limits::Range { stated, plausible: plausible(circuit, m, cavity)? }),
        (None, None) => None,
    }
}

/// What an input's volts mean: `high`, `signal low` …; nothing for a plain point.
fn signal_words(limits: Option<Limits>, read: Read) -> &'static str {
    match (limits, read.volts) {
        (None, _) => "",
        (Some(_), None) => "no reading",
        (Some(Limits::Threshold(limit)), Some(volts)) if volts >= limit => "high",
        (Some(Limits::Threshold(_)), Some(_)) => "low",
        (Some(Limits::Range { plausible: (low, _), .. }), Some(volts)) if volts < low => "signal low",
        (Some(Limits::Range { plausible: (_, high), .. }), Some(volts)) if volts > high => "signal high",
        (Some(Limits::Range { .. }), Some(_)) => "plausible",
    }
}

/// Why there are no volts.
fn gap_words(read: Read) -> &'static str {
    match read.state {
        NodeState::Open => "floats",
        NodeState::Clash => "clash",
        NodeState::Chatters => "chatters",
        _ => "not settled",
    }
}

/// The device's or supply's name.
fn axis_name(circuit: &Circuit, axis: keyon_solve::sweep::Axis) -> String {
    use keyon_solve::sweep::Axis;
    match axis {
        Axis::Stimulus(id) => {
            circuit.stimuli.get(id.index()).map_or_else(String::new, |s| s.name.to_string())
        }
        Axis::Supply(i) => circuit.supplies.get(i).map_or_else(String::new, |s| s.name.to_string()),
    }
}

/// Devices that are listed in remarks: those with a load.
fn listed(circuit: &Circuit) -> impl Iterator<Item = DeviceId> + '_ {
    (0..circuit.devices.len()).map(DeviceId::from).filter(|&d| crate::state::has_loads(circuit, d))
}
