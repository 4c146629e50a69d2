//! One state as JSON.

use super::{amps, clean, element_name, head, modules::views_json, point_name, volts};
use crate::{
    about::Asked,
    answer::{Answer, Probing},
    path::path_names,
    shown::{net_names, shown_elements, shown_points},
    state::{carrying_contacts, device_amps, drop_volts, inputs},
};
use keyon_circuit::{
    ids::*,
    model::{Circuit, ElementKind},
};
use keyon_solve::{
    Amps, NodeState, Ways, Window,
    probe::{Instrument, Shown, glow},
};
use serde_json::{Map, Value, json};

/// A solved state.
pub fn state_json(circuit: &Circuit, answer: &Answer<'_>, asked: &Asked) -> Value {
    let solution = answer.solution;
    let mut out = head(circuit, &solution.state, asked);
    if let Some(windows) = &answer.windows {
        let varies = json!({ "tolerances": windows.bands.tolerances, "ranges": windows.bands.ranges });
        out.insert("windows".into(), varies);
    }
    if let Some(probing) = &answer.probing {
        out.insert("probe".into(), probe_json(circuit, probing));
    }
    out.insert("points".into(), points_json(circuit, answer));
    out.insert("elements".into(), elements_json(circuit, answer));
    out.insert("devices".into(), devices_json(circuit, answer));
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
        let window = answer.windows.as_ref().and_then(|w| w.inputs.get(&input.at));
        insert_window(&mut value, answer, window);
        (input.name, Value::Object(value))
    });
    out.insert("inputs".into(), Value::Object(inputs.collect()));
    out.insert("module_view".into(), views_json(circuit, &answer.views));
    let names = |list: &[ElementId]| list.iter().map(|&e| element_name(circuit, e)).collect::<Vec<_>>();
    let blown: Vec<ElementId> = solution.blown.iter().map(|b| b.0).collect();
    out.insert("blown".into(), json!(names(&blown)));
    let blown_at = solution.blown.iter().map(|&(e, at)| (element_name(circuit, e), volts(at)));
    out.insert("blown_at".into(), Value::Object(blown_at.collect()));
    out.insert("chatters".into(), json!(names(&solution.chatters)));
    out.insert("holds".into(), json!(names(&solution.holds)));
    let clashes: Vec<String> = solution.clashes.iter().map(|&p| point_name(circuit, p)).collect();
    out.insert("clashes".into(), json!(clashes));
    out.insert("clash_amps".into(), volts(solution.clash_amps));
    Value::Object(out)
}

fn points_json(circuit: &Circuit, answer: &Answer<'_>) -> Value {
    let solution = answer.solution;
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
        let window = answer.windows.as_ref().and_then(|w| w.points.get(&shown.point));
        insert_window(&mut value, answer, window);
        if let Some(probing) = &answer.probing {
            value.insert("probe".into(), shown_json(circuit, probing, shown.point));
        }
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

fn elements_json(circuit: &Circuit, answer: &Answer<'_>) -> Value {
    let solution = answer.solution;
    let mut elements = Map::new();
    for id in shown_elements(circuit) {
        let Some(element) = circuit.elements.get(id.index()) else { continue };
        let current = solution.amps.get(id.index()).copied().unwrap_or(Amps::Known(0.0));
        let mut value = Map::new();
        value.insert("amps".into(), amps(current));
        if current == Amps::Unlimited {
            value.insert("unlimited".into(), json!(true));
        }
        insert_window(&mut value, answer, answer.windows.as_ref().and_then(|w| w.amps.get(&id)));
        value.insert("kind".into(), json!(kind_word(element.kind)));
        value.insert("from".into(), json!(point_name(circuit, element.from)));
        value.insert("to".into(), json!(point_name(circuit, element.to)));
        value.insert("drop".into(), volts(drop_volts(solution, element.from, element.to)));
        value.insert("conducts".into(), json!(solution.conducts.get(id.index()).copied().unwrap_or(false)));
        elements.insert(element.name.to_string(), Value::Object(value));
    }
    Value::Object(elements)
}

fn devices_json(circuit: &Circuit, answer: &Answer<'_>) -> Value {
    let solution = answer.solution;
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
            let mut value = Map::new();
            value.insert("state".into(), json!(state.words()));
            value.insert("amps".into(), amps(current));
            if let Some(starting) = answer.starting_amps(id) {
                value.insert("starting_amps".into(), amps(starting));
            }
            (element_name(circuit, id), Value::Object(value))
        });
        value.insert("elements".into(), Value::Object(elements.collect()));
        let contacts = carrying_contacts(circuit, solution, index.into());
        if !contacts.is_empty() {
            let contacts = contacts
                .into_iter()
                .map(|(id, current)| (element_name(circuit, id), json!({ "amps": amps(current) })));
            value.insert("contacts".into(), Value::Object(contacts.collect()));
        }
        devices.insert(device.name.to_string(), Value::Object(value));
    }
    Value::Object(devices)
}

/// `window` and how it was found; null where there is none.
fn insert_window(value: &mut Map<String, Value>, answer: &Answer<'_>, window: Option<&Window>) {
    if answer.windows.is_some() {
        value.insert("window".into(), json!(window.map(|w| [clean(w.low), clean(w.high)])));
        value.insert("window_method".into(), json!(window.map(|w| w.method.words())));
    }
}

fn probe_json(circuit: &Circuit, probing: &Probing) -> Value {
    let with = match probing.instrument {
        Instrument::Lamp(_) => "lamp",
        Instrument::Meter(_) => "meter",
    };
    json!({ "with": with, "ohms": probing.instrument.ohms(), "lead": point_name(circuit, probing.lead) })
}

/// What the instrument shows on a point.
fn shown_json(circuit: &Circuit, probing: &Probing, point: PointId) -> Value {
    let found = probing.shown.get(&point).copied();
    let at = match found {
        Some(Shown::Volts(volts)) => Some(volts),
        Some(Shown::Floating) => Some(0.0),
        _ => None,
    };
    let mut value = Map::new();
    value.insert("volts".into(), volts(at));
    value.insert("floats".into(), json!(found == Some(Shown::Floating)));
    if matches!(probing.instrument, Instrument::Lamp(_)) {
        let glows = match found {
            Some(Shown::Unsettled) => Some("flickers"),
            _ => at.map(|volts| glow(circuit, volts).words()),
        };
        value.insert("lamp".into(), json!(glows));
    }
    Value::Object(value)
}

/// What an element is, for programs.
pub(crate) fn kind_word(kind: ElementKind) -> &'static str {
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
