//! What modules see, as JSON.

use super::{clean, volts};
use crate::{figure, state::signal_word};
use keyon_circuit::model::Circuit;
use keyon_solve::{
    ModuleView,
    view::{Beyond, InputView, OutputView, Taken},
};
use serde_json::{Map, Value, json};

/// By module: its inputs and outputs by name.
pub(super) fn views_json(circuit: &Circuit, views: &[ModuleView]) -> Value {
    let all = views.iter().filter_map(|view| {
        let module = circuit.modules.get(view.module.index())?;
        let name = |(c, k): (usize, usize)| {
            circuit.cavity(view.module, c, k).map_or_else(String::new, |cavity| cavity.name.to_string())
        };
        let inputs: Map<String, Value> =
            view.inputs.iter().map(|input| (name(input.at), input_json(circuit, input))).collect();
        let outputs: Map<String, Value> =
            view.outputs.iter().map(|o| (name(o.at), output_json(circuit, view, o))).collect();
        let value = json!({ "alive": view.alive, "inputs": inputs, "outputs": outputs });
        Some((module.name.to_string(), value))
    });
    Value::Object(all.collect())
}

fn input_json(circuit: &Circuit, input: &InputView) -> Value {
    let mut value = Map::new();
    value.insert("volts".into(), volts(input.volts));
    value.insert("signal".into(), json!(signal_word(input.signal)));
    if let Some(high) = input.high {
        value.insert("reads".into(), json!(if high { "high" } else { "low" }));
    }
    if let Some(taken) = &input.taken_for {
        value.insert("taken_for".into(), taken_json(circuit, taken));
    }
    Value::Object(value)
}

fn taken_json(circuit: &Circuit, taken: &Taken) -> Value {
    let stimulus = circuit.stimuli.get(taken.stimulus.index());
    let beyond = taken.beyond.map(|beyond| match beyond {
        Beyond::Lowest => "lowest",
        Beyond::Highest => "highest",
        Beyond::Bend => "bend",
    });
    json!({
        "stimulus": stimulus.map(|s| s.name.as_str()),
        "values": taken.values.iter().map(|&v| clean(v)).collect::<Vec<_>>(),
        "unit": stimulus.map(|s| figure::stimulus_unit(s.kind)),
        "beyond": beyond,
    })
}

fn output_json(circuit: &Circuit, view: &ModuleView, output: &OutputView) -> Value {
    let (c, k) = output.at;
    let control = circuit.cavity(view.module, c, k).and_then(|cavity| cavity.control);
    let control = control.and_then(|control| circuit.controls.get(control.index()));
    let set = output.position.and_then(|p| control?.positions.get(p)).map(|p| p.as_str());
    json!({ "set": set, "volts": volts(output.volts), "seen": output.seen.words() })
}
