//! One reading in a cell.

use crate::figure;
use keyon_circuit::{
    ids::PointId,
    model::{Circuit, StimulusKind},
};
use keyon_solve::{
    Amps, DeviceState, Method, NodeState, Solution, Window,
    probe::Shown,
    view::{Beyond, Taken},
};

/// Stands behind a window that was sampled.
const SAMPLED: &str = " ~";

/// Volts of a node as people read them: `12.6 V` without the unit, `12.60 *` for full supply without current,
/// `floats`, `clash`, `chatters`.
pub fn volts_cell(state: NodeState, volts: Option<f64>) -> String {
    match (state, volts) {
        (NodeState::Open, _) => "floats".to_owned(),
        (NodeState::Clash, _) => "clash".to_owned(),
        (NodeState::FedViaLoad, Some(volts)) => format!("{} *", figure::volts(volts)),
        (_, Some(volts)) => figure::volts(volts),
        (NodeState::Chatters, None) => "chatters".to_owned(),
        (_, None) => "not settled".to_owned(),
    }
}

/// What a meter on the common ground says of a point: what has a potential, but none against ground, floats as well (all that
/// hangs on a supply which is tied to nothing).
pub(crate) fn reading_cell(solution: &Solution, point: PointId) -> String {
    let state = solution.node_states.get(point.index()).copied().unwrap_or(NodeState::Open);
    let volts = solution.volts.get(point.index()).copied().flatten();
    let adrift = volts.is_some() && solution.unloaded.get(point.index()).copied().flatten().is_none();
    volts_cell(if adrift { NodeState::Open } else { state }, volts)
}

/// Amps as people read them.
pub fn amps_cell(amps: Amps) -> String {
    match amps {
        Amps::Known(amps) => figure::amps(amps),
        Amps::Unlimited => "unlimited".to_owned(),
    }
}

/// What a device does: the state word, the grade's name, the duty, and whether it would hold.
pub fn device_cell(state: &DeviceState) -> String {
    let mut text = state.state.words().to_owned();
    if let Some(grade) = &state.grade {
        text.push_str(&format!(" ({grade})"));
    }
    if state.duty < 1.0 && state.duty > 0.0 && state.state != keyon_solve::ElementState::Rests {
        text.push_str(&format!(" at {} duty", figure::percent(state.duty)));
    }
    if state.holds {
        text.push_str(", would hold if energised");
    }
    text
}

/// Says of a window that it was sampled, not proved.
pub(crate) fn window_mark(window: &Window) -> &'static str {
    if window.method == Method::Sampled { SAMPLED } else { "" }
}

/// The two cells of a window, lowest and highest.
pub(super) fn window_cells(window: Option<&Window>, figure: fn(f64) -> String) -> [String; 2] {
    let Some(window) = window else { return Default::default() };
    let mark = window_mark(window);
    [figure(window.low), format!("{}{mark}", figure(window.high))]
}

/// Volts that an instrument shows.
pub(super) fn shown_cell(shown: Shown) -> String {
    match shown {
        Shown::Volts(volts) => figure::volts(volts),
        Shown::Floating => "floats".to_owned(),
        Shown::Clash => "clash".to_owned(),
        Shown::Unsettled => "alternates".to_owned(),
    }
}

/// What an input is taken for: `temp 25 degC`, `temp above 120 degC`, `level 20 or 80 %`.
pub fn taken_words(circuit: &Circuit, taken: &Taken) -> String {
    let Some(stimulus) = circuit.stimuli.get(taken.stimulus.index()) else { return String::new() };
    let value = |value: &f64| figure::of_stimulus(settled(*value, stimulus.kind), stimulus);
    let values: Vec<String> = taken.values.iter().map(value).collect();
    let word = match (taken.beyond, stimulus.kind) {
        (None, _) => "",
        (Some(Beyond::Lowest), StimulusKind::Temperature) => "colder than ",
        (Some(Beyond::Highest), StimulusKind::Temperature) => "hotter than ",
        (Some(Beyond::Lowest), _) => "below ",
        (Some(Beyond::Highest), _) => "above ",
        (Some(Beyond::Bend), _) => "beyond that of ",
    };
    format!("{} {word}{}", stimulus.name, values.join(" or "))
}

/// Without the last digits of a search: a tenth of a degree or of a percent is more than a curve is worth.
fn settled(value: f64, kind: StimulusKind) -> f64 {
    match kind {
        StimulusKind::Temperature => (value * 10.0).round() / 10.0,
        StimulusKind::Travel => (value * 1e3).round() / 1e3,
        StimulusKind::Over(_) | StimulusKind::Resistance => value,
    }
}

/// Volts from one point to another without a meter; `None` where one of them floats or clashes.
pub fn drop_volts(solution: &Solution, from: PointId, to: PointId) -> Option<f64> {
    let at = |p: PointId| solution.unloaded.get(p.index()).copied().flatten();
    Some(keyon_solve::difference(at(from)?, at(to)?))
}
