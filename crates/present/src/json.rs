//! One state, a table or a trace as JSON. `JSON.md` beside this crate documents every key; none is ever taken away.

use crate::{
    about::Asked,
    figure,
    path::path_names,
    shown::{net_names, shown_elements, shown_points},
    state::{device_amps, drop_volts, inputs},
    trace::{Step, Trace},
};
use keyon_circuit::{
    ids::*,
    model::{Circuit, ElementKind},
};
use keyon_solve::{Amps, NodeState, Solution, State, Table, TableGroup, Ways};
use serde_json::{Map, Value, json};

/// Amps, or null where they are unlimited.
fn amps(amps: Amps) -> Value {
    match amps {
        Amps::Known(amps) => clean(amps),
        Amps::Unlimited => Value::Null,
    }
}

/// A number; a minus before a zero is dropped, what is not finite is null.
fn clean(value: f64) -> Value {
    json!(if value == 0.0 { 0.0 } else { value })
}

fn volts(volts: Option<f64>) -> Value {
    volts.map_or(Value::Null, clean)
}

fn element_name(circuit: &Circuit, element: ElementId) -> String {
    circuit.elements.get(element.index()).map_or_else(String::new, |e| e.name.to_string())
}

fn point_name(circuit: &Circuit, point: PointId) -> String {
    circuit.points.get(point.index()).map_or_else(String::new, |p| p.name.to_string())
}

/// The keys that say which state it is: `circuit`, `title`, `scenario`, `controls`, `duties`, `stimuli`, …
fn head(circuit: &Circuit, state: &State, asked: &Asked) -> Map<String, Value> {
    let mut out = Map::new();
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

/// A solved state.
pub fn state_json(circuit: &Circuit, solution: &Solution, asked: &Asked) -> Value {
    let mut out = head(circuit, &solution.state, asked);
    out.insert("points".into(), points_json(circuit, solution));
    out.insert("elements".into(), elements_json(circuit, solution));
    out.insert("devices".into(), devices_json(circuit, solution));
    let modules = circuit.modules.iter().zip(&solution.alive);
    let modules: Map<String, Value> =
        modules.map(|(m, &alive)| (m.name.to_string(), json!({ "alive": alive }))).collect();
    out.insert("modules".into(), Value::Object(modules));
    let inputs = inputs(circuit, solution).into_iter().map(|input| {
        let mut value = Map::new();
        value.insert("node_state".into(), json!(input.state.words()));
        value.insert("volts".into(), volts(input.volts));
        if let Some(high) = input.high {
            value.insert("reads".into(), json!(if high { "high" } else { "low" }));
        }
        value.insert("outside_range".into(), json!(input.outside_range));
        (input.name, Value::Object(value))
    });
    out.insert("inputs".into(), Value::Object(inputs.collect()));
    let names = |list: &[ElementId]| list.iter().map(|&e| element_name(circuit, e)).collect::<Vec<_>>();
    let blown: Vec<ElementId> = solution.blown.iter().map(|b| b.0).collect();
    out.insert("blown".into(), json!(names(&blown)));
    let blown_at = solution.blown.iter().map(|&(e, at)| (element_name(circuit, e), volts(at)));
    out.insert("blown_at".into(), Value::Object(blown_at.collect()));
    out.insert("chatters".into(), json!(names(&solution.chatters)));
    out.insert("holds".into(), json!(names(&solution.holds)));
    let clashes: Vec<String> = solution.clashes.iter().map(|&p| point_name(circuit, p)).collect();
    out.insert("clashes".into(), json!(clashes));
    Value::Object(out)
}

fn points_json(circuit: &Circuit, solution: &Solution) -> Value {
    let nets = net_names(circuit, solution);
    let ways = Ways::new(circuit, solution);
    let mut points = Map::new();
    for shown in shown_points(circuit, Some(solution)) {
        let index = shown.point.index();
        let state = solution.node_states.get(index).copied().unwrap_or(NodeState::Open);
        let net = solution.nets.get(index).and_then(|net| nets.get(net)).map(|n| n.as_str());
        let path = ways.to_source(shown.point).map(|path| {
            let mut names = path_names(circuit, &path);
            names.reverse();
            names
        });
        let ground = ways.to_ground(shown.point).map(|path| path_names(circuit, &path));
        let strings = |names: Option<Vec<smol_str::SmolStr>>| -> Vec<String> {
            names.unwrap_or_default().iter().map(ToString::to_string).collect()
        };
        let mut value = Map::new();
        value.insert("net".into(), json!(net));
        value.insert("node_state".into(), json!(state.words()));
        value.insert("volts".into(), volts(solution.volts.get(index).copied().flatten()));
        value.insert("path".into(), json!(strings(path)));
        value.insert("ground_path".into(), json!(strings(ground)));
        if let Some(alias) = &shown.alias
            && !points.contains_key(alias.as_str())
        {
            let mut same = value.clone();
            same.insert("same_as".into(), json!(shown.name.as_str()));
            points.insert(shown.name.to_string(), Value::Object(value));
            points.insert(alias.to_string(), Value::Object(same));
        } else {
            points.insert(shown.name.to_string(), Value::Object(value));
        }
    }
    Value::Object(points)
}

fn elements_json(circuit: &Circuit, solution: &Solution) -> Value {
    let mut elements = Map::new();
    for id in shown_elements(circuit) {
        let Some(element) = circuit.elements.get(id.index()) else { continue };
        let current = solution.amps.get(id.index()).copied().unwrap_or(Amps::Known(0.0));
        let mut value = Map::new();
        value.insert("amps".into(), amps(current));
        if current == Amps::Unlimited {
            value.insert("unlimited".into(), json!(true));
        }
        value.insert("kind".into(), json!(kind_word(element.kind)));
        value.insert("from".into(), json!(point_name(circuit, element.from)));
        value.insert("to".into(), json!(point_name(circuit, element.to)));
        value.insert("drop".into(), volts(drop_volts(solution, element.from, element.to)));
        value.insert("conducts".into(), json!(solution.conducts.get(id.index()).copied().unwrap_or(false)));
        elements.insert(element.name.to_string(), Value::Object(value));
    }
    Value::Object(elements)
}

fn devices_json(circuit: &Circuit, solution: &Solution) -> Value {
    let mut devices = Map::new();
    for (index, (device, state)) in circuit.devices.iter().zip(&solution.devices).enumerate() {
        let mut value = Map::new();
        value.insert("state".into(), json!(state.state.words()));
        if let Some(grade) = &state.grade {
            value.insert("grade".into(), json!(grade.as_str()));
        }
        value.insert("amps".into(), amps(device_amps(circuit, solution, index.into())));
        value.insert("duty".into(), clean(state.duty));
        value.insert("holds".into(), json!(state.holds));
        let elements = state.elements.iter().map(|&(id, state)| {
            let current = solution.amps.get(id.index()).copied().unwrap_or(Amps::Known(0.0));
            (element_name(circuit, id), json!({ "state": state.words(), "amps": amps(current) }))
        });
        value.insert("elements".into(), Value::Object(elements.collect()));
        devices.insert(device.name.to_string(), Value::Object(value));
    }
    Value::Object(devices)
}

/// What an element is, for programs.
fn kind_word(kind: ElementKind) -> &'static str {
    use keyon_circuit::model::FuseKind;
    match kind {
        ElementKind::Wire => "wire",
        ElementKind::Terminal => "terminal",
        ElementKind::Inline => "inline",
        ElementKind::Tie => "tie",
        ElementKind::Fuse(FuseKind::Fuse) => "fuse",
        ElementKind::Fuse(FuseKind::Breaker) => "breaker",
        ElementKind::Fuse(FuseKind::Link) => "link",
        ElementKind::Ground => "ground",
        ElementKind::Supply => "supply",
        ElementKind::Contact => "contact",
        ElementKind::Stage => "stage",
        ElementKind::Reference => "reference",
        ElementKind::Rail => "rail",
        ElementKind::Return => "return",
        ElementKind::PullUp => "pull_up",
        ElementKind::PullDown => "pull_down",
        ElementKind::Draw => "draw",
        ElementKind::Resistor => "resistor",
        ElementKind::Lamp => "lamp",
        ElementKind::Heater => "heater",
        ElementKind::Coil => "coil",
        ElementKind::Winding => "winding",
        ElementKind::Thermistor => "thermistor",
        ElementKind::Track(_) => "track",
        ElementKind::Variable => "variable",
        ElementKind::Transducer => "transducer",
        ElementKind::Diode => "diode",
        ElementKind::Elsewhere => "elsewhere",
    }
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
    Value::Object(out)
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
        json!({
            "when": Value::Object(when.collect()),
            "devices": Value::Object(devices.collect()),
            "points": Value::Object(points.collect()),
        })
    });
    // More combinations than a u64 counts are given as the most that it holds.
    let cut = group.cut.map(|n| u64::try_from(n).unwrap_or(u64::MAX));
    json!({ "controls": names, "rows": rows.collect::<Vec<_>>(), "cut": cut })
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
