//! One state, a table or a trace as JSON. `JSON.md` beside this crate documents every key; none is ever taken away.

mod figures;
mod modules;
mod state;

pub use figures::figures_json;
pub(crate) use state::kind_word;
pub use state::state_json;

use crate::{
    about::Asked,
    figure,
    trace::{Step, Trace},
};
use keyon_circuit::{ids::*, model::Circuit};
use keyon_solve::{Amps, Basis, Overload, Solution, State, Table, TableGroup};
use serde_json::{Map, Value, json};

/// Which shape states, tables, traces and sweeps have; see `schemas/`.
const VERSION: u32 = 1;

/// Amps, or null where they are unlimited.
fn amps(amps: Amps) -> Value {
    match amps {
        Amps::Known(amps) => clean(amps),
        Amps::Unlimited => Value::Null,
    }
}

/// A number; a minus before a zero is dropped, what is not finite is null.
pub(crate) fn clean(value: f64) -> Value {
    json!(if value == 0.0 { 0.0 } else { value })
}

pub(crate) fn volts(volts: Option<f64>) -> Value {
    volts.map_or(Value::Null, clean)
}

fn element_name(circuit: &Circuit, element: ElementId) -> String {
    circuit.elements.get(element.index()).map_or_else(String::new, |e| e.name.to_string())
}

fn point_name(circuit: &Circuit, point: PointId) -> String {
    circuit.points.get(point.index()).map_or_else(String::new, |p| p.name.to_string())
}

/// The keys that say which state it is: `circuit`, `title`, `scenario`, `controls`, `duties`, `stimuli`, …
pub(crate) fn head(circuit: &Circuit, state: &State, asked: &Asked) -> Map<String, Value> {
    let mut out = Map::new();
    out.insert("version".into(), json!(VERSION));
    out.insert("circuit".into(), json!(circuit.name.as_str()));
    out.insert("title".into(), json!(circuit.title));
    let scenario = asked.scenario.and_then(|s| circuit.scenarios.get(s.index()));
    out.insert("scenario".into(), json!(scenario.map(|s| s.name.as_str())));
    let (mut controls, mut duties) = (Map::new(), Map::new());
    for (index, control) in circuit.controls.iter().enumerate() {
        let position = state.positions.get(index).map_or(0, |&p| usize::from(p));
        let word = control.positions.get(position).map_or("", |p| p.as_str());
        controls.insert(control.name.to_string(), json!(word));
        if control.pwm.is_some() {
            duties.insert(control.name.to_string(), clean(state.duty.get(index).copied().unwrap_or(1.0)));
        }
    }
    out.insert("controls".into(), Value::Object(controls));
    out.insert("duties".into(), Value::Object(duties));
    let (mut stimuli, mut units) = (Map::new(), Map::new());
    for (stimulus, &value) in circuit.stimuli.iter().zip(&state.stimuli) {
        stimuli.insert(stimulus.name.to_string(), clean(value));
        units.insert(stimulus.name.to_string(), json!(figure::stimulus_unit(stimulus.kind)));
    }
    out.insert("stimuli".into(), Value::Object(stimuli));
    out.insert("stimulus_units".into(), Value::Object(units));
    let supplies = circuit.supplies.iter().zip(&state.supplies);
    let supplies: Map<String, Value> = supplies.map(|(s, &v)| (s.name.to_string(), clean(v))).collect();
    out.insert("supplies".into(), Value::Object(supplies));
    out.insert("changes".into(), json!(asked.changes(circuit, state)));
    out
}

/// A truth table.
pub fn table_json(circuit: &Circuit, table: &Table, base: &State, asked: &Asked) -> Value {
    let mut out = head(circuit, base, asked);
    // Those of the table itself are in its rows; what the base has is only what stands still.
    out.shift_remove("controls");
    out.shift_remove("duties");
    let varying = |control: ControlId| table.groups.iter().any(|g| g.controls.contains(&control));
    let held = circuit.controls.iter().enumerate().filter(|(i, _)| !varying(ControlId::from(*i)));
    let held: Map<String, Value> = held
        .map(|(i, control)| {
            let position = base.positions.get(i).map_or(0, |&p| usize::from(p));
            (control.name.to_string(), json!(control.positions.get(position).map(|p| p.as_str())))
        })
        .collect();
    out.insert("elsewhere".into(), Value::Object(held));
    out.insert("groups".into(), table.groups.iter().map(|group| group_json(circuit, group)).collect());
    out.insert("overloads".into(), table.overloads.iter().map(|o| overload_json(circuit, o)).collect());
    Value::Object(out)
}

fn overload_json(circuit: &Circuit, overload: &Overload) -> Value {
    let controls = circuit.controls.iter().zip(&overload.positions).map(|(control, &position)| {
        let word = control.positions.get(usize::from(position)).map_or("", |p| p.as_str());
        (control.name.to_string(), json!(word))
    });
    json!({
        "fuse": element_name(circuit, overload.fuse),
        "amps": volts(overload.amps),
        "controls": Value::Object(controls.collect()),
    })
}

fn group_json(circuit: &Circuit, group: &TableGroup) -> Value {
    let control = |id: &ControlId| circuit.controls.get(id.index());
    let names: Vec<&str> =
        group.controls.iter().filter_map(|c| control(c).map(|c| c.name.as_str())).collect();
    let rows = group.rows.iter().map(|row| {
        let when = group.controls.iter().zip(&row.when).filter_map(|(id, position)| {
            let control = control(id)?;
            let word = position.map_or("-", |p| control.positions.get(p).map_or("", |p| p.as_str()));
            Some((control.name.to_string(), json!(word)))
        });
        let devices = group.devices.iter().zip(&row.devices).filter_map(|(id, words)| {
            Some((circuit.devices.get(id.index())?.name.to_string(), json!(words.as_str())))
        });
        let points = group.points.iter().zip(&row.points).map(|(&id, &(state, at))| {
            (point_name(circuit, id), json!({ "node_state": state.words(), "volts": volts(at) }))
        });
        let blown: Vec<String> = row.blown.iter().map(|&fuse| element_name(circuit, fuse)).collect();
        json!({
            "when": Value::Object(when.collect()),
            "devices": Value::Object(devices.collect()),
            "points": Value::Object(points.collect()),
            "blown": blown,
        })
    });
    // More combinations than a u64 counts are given as the most that it holds.
    let cut = group.cut.map(|n| u64::try_from(n).unwrap_or(u64::MAX));
    let counts = group.devices.iter().zip(&group.counts).filter_map(|(id, counts)| {
        // As text: more combinations than a double holds without loss are usual.
        let words = counts.iter().map(|(words, count)| (words.to_string(), json!(count.to_string())));
        Some((circuit.devices.get(id.index())?.name.to_string(), Value::Object(words.collect())))
    });
    let mut out = json!({
        "controls": names,
        "rows": rows.collect::<Vec<_>>(),
        "least_rows": group.least,
        "proved": group.basis == Basis::Proved,
        "cut": cut,
    });
    if cut.is_some() {
        out["counts"] = Value::Object(counts.collect());
    }
    out
}

/// A trace.
pub fn trace_json(circuit: &Circuit, solution: &Solution, trace: &Trace, asked: &Asked) -> Value {
    let mut out = head(circuit, &solution.state, asked);
    out.insert("point".into(), json!(point_name(circuit, trace.point)));
    out.insert("node_state".into(), json!(trace.state.words()));
    out.insert("volts".into(), volts(trace.volts));
    let source = trace.source.as_ref().map(|source| {
        json!({
            "name": source.name,
            "volts": clean(source.volts),
            "base": volts(source.base),
            "amps": amps(source.amps),
            "drop": volts(source.drop),
            "then": volts(source.behind),
        })
    });
    out.insert("source".into(), json!(source));
    let steps = |steps: &Option<Vec<Step>>| match steps {
        Some(steps) => steps.iter().filter(|s| !s.joint).map(|s| step_json(circuit, s)).collect(),
        None => Value::Null,
    };
    out.insert("feed".into(), steps(&trace.feed));
    out.insert("ground".into(), steps(&trace.ground));
    out.insert("sum".into(), volts(trace.sum()));
    Value::Object(out)
}

fn step_json(circuit: &Circuit, step: &Step) -> Value {
    json!({
        "element": element_name(circuit, step.element),
        "name": step.name,
        "what": step.words,
        "from": point_name(circuit, step.from),
        "to": point_name(circuit, step.to),
        "amps": amps(step.amps),
        "drop": volts(step.drop),
        "then": volts(step.behind),
    })
}
