//! One solved state as text: what blew, what is dead, devices, points, currents.

use crate::{
    about::{self, Asked},
    figure,
    grid::{Column, Grid, wrap},
    shown::{PartOf, ShownPoint, element_is_shown, shown_points},
};
use keyon_circuit::{
    ids::*,
    model::{Circuit, ElementKind},
};
use keyon_solve::{Amps, DeviceState, NodeState, Solution};

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

/// Current into a device: what flows in at its pins.
pub fn device_amps(circuit: &Circuit, solution: &Solution, device: DeviceId) -> Amps {
    let Some(device) = circuit.devices.get(device.index()) else { return Amps::Known(0.0) };
    let mut sum = 0.0;
    for pin in &device.pins {
        match solution.amps.get(pin.terminal.index()) {
            // A terminal runs from the wire side inwards: what is positive flows in.
            Some(Amps::Known(amps)) => sum += amps.max(0.0),
            Some(Amps::Unlimited) => return Amps::Unlimited,
            None => {}
        }
    }
    Amps::Known(sum)
}

/// The devices that are listed: those with something that a current makes do something.
pub fn has_loads(circuit: &Circuit, device: DeviceId) -> bool {
    circuit.devices.get(device.index()).is_some_and(|device| {
        device.elements.iter().any(|e| circuit.elements.get(e.index()).is_some_and(|e| e.kind.is_load()))
    })
}

/// The whole page.
pub fn state_text(circuit: &Circuit, solution: &Solution, asked: &Asked) -> String {
    let mut out = about::title(circuit);
    out.push('\n');
    if let Some(line) = asked.scenario_line(circuit) {
        out.push_str(&line);
        out.push('\n');
    }
    out.push_str(&labelled(&about::state_lines(circuit, &solution.state, asked)));
    let alarms = alarms(circuit, solution);
    if !alarms.is_empty() {
        out.push('\n');
        for alarm in alarms {
            out.push_str(&wrap(&format!("! {alarm}"), 80, 2));
            out.push('\n');
        }
    }
    let devices = devices_grid(circuit, solution);
    if !devices.rows.is_empty() {
        out.push('\n');
        out.push_str(&devices.text(80));
    }
    let inputs = inputs_grid(circuit, solution);
    if !inputs.rows.is_empty() {
        out.push('\n');
        out.push_str(&inputs.text(80));
    }
    let shown = shown_points(circuit, Some(solution));
    out.push('\n');
    out.push_str(&points_grid(circuit, solution, &shown).text(80));
    out.push('\n');
    out.push_str(&elements_text(circuit, solution));
    out.push('\n');
    for note in notes(solution, shown.iter().map(|p| p.point)) {
        out.push_str(&note);
        out.push('\n');
    }
    out.push_str(about::FOOT);
    out.push('\n');
    out
}

/// Lines of label and words, the words below each other and wrapped.
pub fn labelled(lines: &[(&'static str, String)]) -> String {
    let wide = lines.iter().map(|(label, _)| label.len()).max().unwrap_or(0);
    let mut out = String::new();
    for (label, words) in lines {
        out.push_str(&wrap_after(&format!("{label:wide$}  "), words));
        out.push('\n');
    }
    out
}

/// Words behind a label, wrapped so that they stay right of it.
fn wrap_after(label: &str, words: &str) -> String {
    let indent = crate::grid::width(label);
    let body = wrap(words, 80usize.saturating_sub(indent).max(20), 0);
    let joined = body.replace('\n', &format!("\n{}", " ".repeat(indent)));
    format!("{label}{joined}")
}

/// The foot notes that the shown points need.
pub fn notes(solution: &Solution, points: impl Iterator<Item = PointId>) -> Vec<String> {
    let (mut star, mut float) = (false, false);
    for point in points {
        match solution.node_states.get(point.index()) {
            Some(NodeState::FedViaLoad) => star = true,
            Some(NodeState::Open) => float = true,
            _ => {}
        }
    }
    let mut notes = Vec::new();
    if star {
        notes.push(about::STAR_NOTE.to_owned());
    }
    if float {
        notes.push(about::FLOAT_NOTE.to_owned());
    }
    notes
}

/// What must not be overlooked: blown fuses, short circuits, relays that cannot settle or would hold, dead modules.
pub fn alarms(circuit: &Circuit, solution: &Solution) -> Vec<String> {
    let element =
        |id: &ElementId| circuit.elements.get(id.index()).map_or_else(String::new, |e| e.name.to_string());
    let mut alarms = Vec::new();
    for (fuse, amps) in &solution.blown {
        let rating = circuit.elements.get(fuse.index()).and_then(|e| e.rating);
        let rating = rating.map_or_else(String::new, |r| format!(" {} A", r.nominal));
        let kind = match circuit.elements.get(fuse.index()).map(|e| e.kind) {
            Some(ElementKind::Fuse(keyon_circuit::model::FuseKind::Breaker)) => "breaker",
            Some(ElementKind::Fuse(keyon_circuit::model::FuseKind::Link)) => "link",
            _ => "fuse",
        };
        alarms.push(match amps {
            Some(amps) => format!("{kind} {}{rating} blows at {} A", element(fuse), figure::amps(*amps)),
            None => format!("{kind} {}{rating} blows: a supply meets ground without a load", element(fuse)),
        });
    }
    let mut clashing: Vec<String> = Vec::new();
    for point in &solution.clashes {
        if let Some(point) = circuit.points.get(point.index()) {
            clashing.push(point.name.to_string());
        }
    }
    if !clashing.is_empty() {
        alarms.push(format!(
            "clash: different potentials meet without a load between at {}; the current is limited by nothing",
            clashing.join(", ")
        ));
    }
    if !solution.chatters.is_empty() {
        let coils: Vec<String> = solution.chatters.iter().map(element).collect();
        alarms.push(format!("chatters: {} cannot settle, each state undoes itself", coils.join(", ")));
    }
    for coil in &solution.holds {
        alarms.push(format!("{} rests here, and would stay energised if it already were", element(coil)));
    }
    for (module, alive) in circuit.modules.iter().zip(&solution.alive) {
        if !alive {
            alarms.push(format!(
                "module {} is dead here (its feed or its ground is missing): drivers open, references off",
                module.name
            ));
        }
    }
    alarms
}

/// Devices with a load: state and current.
pub fn devices_grid(circuit: &Circuit, solution: &Solution) -> Grid {
    let mut grid = Grid {
        columns: vec![Column::key("device"), Column::figures("amps"), Column::words("state")],
        rows: vec![],
    };
    for (index, (device, state)) in circuit.devices.iter().zip(&solution.devices).enumerate() {
        let id = DeviceId::from(index);
        if !has_loads(circuit, id) {
            continue;
        }
        let amps = device_amps(circuit, solution, id);
        let amps = match amps {
            // Nothing flows in or out at the pins of a device that was solved only within itself.
            Amps::Known(amps) => figure::amps(amps),
            Amps::Unlimited => "unlimited".to_owned(),
        };
        grid.rows.push(vec![device.name.to_string(), amps, device_cell(state)]);
        if state.elements.len() > 1 {
            for (element, state) in &state.elements {
                let name = circuit.elements.get(element.index()).map_or("", |e| e.name.as_str());
                let amps = solution.amps.get(element.index()).copied().unwrap_or(Amps::Known(0.0));
                grid.rows.push(vec![format!("  {name}"), amps_cell(amps), state.words().to_owned()]);
            }
        }
    }
    grid
}

/// What the modules' inputs read, against the module's own ground.
pub fn inputs_grid(circuit: &Circuit, solution: &Solution) -> Grid {
    let mut grid = Grid {
        columns: vec![Column::key("input"), Column::figures("reads V"), Column::words("as")],
        rows: vec![],
    };
    for input in inputs(circuit, solution) {
        let volts = match (input.state, input.volts) {
            (NodeState::Open, None) | (_, None) => "floats".to_owned(),
            (_, Some(volts)) => figure::volts(volts),
        };
        let reads = match input.high {
            Some(true) => "high".to_owned(),
            Some(false) => "low".to_owned(),
            None if input.outside_range => "outside its range".to_owned(),
            None => String::new(),
        };
        grid.rows.push(vec![input.name, volts, reads]);
    }
    grid
}

/// What one input of a module reads.
#[derive(Clone, Debug, PartialEq)]
pub struct Input {
    /// `SCU.temp_in`.
    pub name: String,
    /// The wire side's state.
    pub state: NodeState,
    /// Against the module's own ground, without a meter; `None` where it floats or clashes.
    pub volts: Option<f64>,
    /// Of a digital input with a threshold.
    pub high: Option<bool>,
    /// Of an analog input with a range.
    pub outside_range: bool,
}

/// The inputs of all modules, in source order.
pub fn inputs(circuit: &Circuit, solution: &Solution) -> Vec<Input> {
    let mut inputs = Vec::new();
    for (m, module) in circuit.modules.iter().enumerate() {
        for (c, connector) in module.connectors.iter().enumerate() {
            for (k, cavity) in connector.cavities.iter().enumerate() {
                if !matches!(cavity.role, keyon_circuit::model::Role::Senses { .. }) {
                    continue;
                }
                let volts = solution.input_volts(circuit, m.into(), c, k);
                let high = cavity.threshold.and_then(|threshold| volts.map(|v| v >= threshold));
                let outside_range =
                    matches!((cavity.range, volts), (Some((low, top)), Some(v)) if v < low || v > top);
                let state =
                    solution.node_states.get(cavity.outside.index()).copied().unwrap_or(NodeState::Open);
                inputs.push(Input {
                    name: format!("{}.{}", module.name, cavity.name),
                    state,
                    volts,
                    high,
                    outside_range,
                });
            }
        }
    }
    inputs
}

/// Every shown point: volts and node state. A blank row parts what belongs together.
fn points_grid(circuit: &Circuit, solution: &Solution, shown: &[ShownPoint]) -> Grid {
    let mut grid = Grid {
        columns: vec![Column::key("point"), Column::figures("volts"), Column::words("node state")],
        rows: vec![],
    };
    let with_titles = circuit.modules.iter().any(|m| m.connectors.iter().any(|c| !c.cavities.is_empty()));
    if with_titles {
        grid.columns.push(Column::words("known as"));
    }
    let mut last: Option<PartOf> = None;
    for point in shown {
        let blocks = matches!(point.part_of, PartOf::Device(_) | PartOf::Module(_) | PartOf::Inline(_));
        let was_block = matches!(last, Some(PartOf::Device(_) | PartOf::Module(_) | PartOf::Inline(_)));
        let change =
            last.is_some_and(|l| std::mem::discriminant(&l) != std::mem::discriminant(&point.part_of));
        if change && (blocks || was_block) {
            grid.rows.push(vec![String::new(); grid.columns.len()]);
        }
        last = Some(point.part_of);
        let index = point.point.index();
        let state = solution.node_states.get(index).copied().unwrap_or(NodeState::Open);
        let volts = solution.volts.get(index).copied().flatten();
        let mut row = vec![point.name.to_string(), volts_cell(state, volts), state.words().to_owned()];
        if with_titles {
            row.push(point.alias.as_ref().map_or_else(String::new, ToString::to_string));
        }
        grid.rows.push(row);
    }
    grid
}

/// Elements that carry current in a table, the others in a line.
fn elements_text(circuit: &Circuit, solution: &Solution) -> String {
    let mut grid = Grid {
        columns: vec![
            Column::key("element"),
            Column::figures("amps"),
            Column::figures("drop V"),
            Column::words(""),
        ],
        rows: vec![],
    };
    let mut idle: Vec<String> = Vec::new();
    for (index, element) in circuit.elements.iter().enumerate() {
        if !element_is_shown(circuit, index.into()) {
            continue;
        }
        let amps = solution.amps.get(index).copied().unwrap_or(Amps::Known(0.0));
        if amps.known().is_some_and(|a| a.abs() < 0.5e-6) {
            idle.push(element.name.to_string());
            continue;
        }
        let drop =
            drop_volts(solution, element.from, element.to).map_or_else(|| "-".to_owned(), figure::volts);
        let words = crate::trace::element_words(circuit, index.into());
        let drop = if element.kind.is_source() { String::new() } else { drop };
        grid.rows.push(vec![element.name.to_string(), amps_cell(amps), drop, words]);
    }
    let mut out = String::new();
    if !grid.rows.is_empty() {
        out.push_str(&grid.text(80));
    }
    if !idle.is_empty() {
        if !out.is_empty() {
            out.push('\n');
        }
        out.push_str(&wrap_after("no current  ", &idle.join(", ")));
        out.push('\n');
    }
    out
}

/// Volts from one point to another without a meter; `None` where one of them floats or clashes.
pub fn drop_volts(solution: &Solution, from: PointId, to: PointId) -> Option<f64> {
    let at = |p: PointId| solution.unloaded.get(p.index()).copied().flatten();
    Some(at(from)? - at(to)?)
}
