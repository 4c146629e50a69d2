//! The answers themselves, each from one of the crates below: for who asks in a page, and for who records them for one.

use keyon_circuit::{Entity, ids::*, model::Circuit};
use keyon_present::{
    Answer, Drawn, View, Wanted,
    about::Asked,
    pinout::{self, Pinout, PinoutState},
};
use keyon_solve::{
    Never, NodeState, Solution, State,
    probe::{Instrument, Shown, TEST_LAMP, glow},
};
use serde_json::{Map, Value, json};

/// Nothing asks to stop; the type does not know it.
const STOPPED: &str = "stopped";

/// A solved state.
pub(crate) fn state(circuit: &Circuit, solution: &Solution, asked: &Asked) -> Result<Value, String> {
    Ok(keyon_present::state_json(circuit, &answer(circuit, solution)?, asked))
}

/// A solved state in the words that the terminal prints.
pub(crate) fn shown(circuit: &Circuit, solution: &Solution, asked: &Asked) -> Result<Value, String> {
    Ok(keyon_present::figures_json(circuit, &answer(circuit, solution)?, asked))
}

fn answer<'a>(circuit: &'a Circuit, solution: &'a Solution) -> Result<Answer<'a>, String> {
    let wanted = Wanted { windows: None, probe: None };
    Ok(Answer::new(circuit, solution, wanted, &Never).map_err(|_| STOPPED)?)
}

/// A drawing that no state changes.
pub(crate) fn drawing(circuit: &Circuit, view: View<'_>) -> String {
    keyon_present::drawing_svg(circuit, view, &Drawn { tappable: true, ..Drawn::default() })
}

/// What every device does in every position of its controls, from a state on.
pub(crate) fn table(circuit: &Circuit, state: &State) -> Result<String, String> {
    let devices: Vec<DeviceId> = (0..circuit.devices.len())
        .map(DeviceId::from)
        .filter(|&d| keyon_present::state::has_loads(circuit, d))
        .collect();
    let rest = State { positions: State::rest(circuit).positions, ..state.clone() };
    let table = keyon_solve::table(circuit, &rest, &devices, &[], &[], &Never).map_err(|_| STOPPED)?;
    Ok(keyon_present::groups_html(circuit, &table))
}

/// The pin-outs of all modules.
pub(crate) fn pinouts(circuit: &Circuit, state: &State) -> Result<String, String> {
    let states = vec![PinoutState { name: "volts".to_owned(), state: state.clone() }];
    let wanted = Pinout { states, ..Pinout::default() };
    let mut html = String::new();
    for m in 0..circuit.modules.len() {
        let tables = pinout::pinout(circuit, Entity::Module(m.into()), &wanted, &Never);
        html.push_str(&pinout::pinout_html(&tables.map_err(|_| STOPPED)?));
    }
    Ok(html)
}

/// The way from the supply to a point and on to ground.
pub(crate) fn way(circuit: &Circuit, solution: &Solution, point: PointId, asked: &Asked) -> String {
    let trace = keyon_present::trace(circuit, solution, point);
    keyon_present::trace_text(circuit, solution, &trace, asked)
}

/// What to take care of at a point: the gravest.
pub(crate) fn cautions(circuit: &Circuit, solution: &Solution, point: PointId) -> Vec<String> {
    let mut cautions = keyon_present::cautions::at_point(circuit, solution, point);
    cautions.truncate(3);
    cautions
}

/// Volts that a meter on an open point shows at the most.
const NOUGHT: f64 = 1e-3;

/// A meter as the state has it, or a test lamp.
pub(crate) fn instrument(state: &State, lamp: bool) -> Instrument {
    if lamp { Instrument::Lamp(TEST_LAMP) } else { Instrument::Meter(state.options.meter) }
}

/// What an instrument shows between two points of a solved state, in figures and in words.
pub(crate) fn reading(
    circuit: &Circuit,
    solution: &Solution,
    leads: [PointId; 2],
    shown: Shown,
    instrument: Instrument,
) -> Map<String, Value> {
    let open = |p: &PointId| solution.node_states.get(p.index()) == Some(&NodeState::Open);
    // What a meter alone joins to ground is no plain nought.
    let shown = match shown {
        Shown::Volts(volts)
            if volts.abs() < NOUGHT
                && leads[0] != leads[1]
                && matches!(instrument, Instrument::Meter(_))
                && leads.iter().any(open) =>
        {
            Shown::Floating
        }
        other => other,
    };
    let (reading, brightness) = match shown {
        Shown::Volts(volts) => (Some(volts), glow(circuit, volts).words()),
        Shown::Floating => (None, "dark"),
        Shown::Unsettled => (None, "flickers"),
        Shown::Clash => (None, ""),
    };
    let words = match (reading, shown) {
        (Some(volts), _) => format!("{} V", keyon_present::figure::volts(volts)),
        (None, Shown::Floating) => "floats, about 0 V".to_owned(),
        (None, Shown::Unsettled) => "alternates with a relay that cannot settle".to_owned(),
        _ => "no settled reading".to_owned(),
    };
    let lamp = if matches!(instrument, Instrument::Lamp(_)) { brightness } else { "" };
    let mut answer = Map::new();
    answer.insert("volts".into(), json!(reading));
    answer.insert("words".into(), json!(words));
    answer.insert("lamp".into(), json!(lamp));
    answer
}
