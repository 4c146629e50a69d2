//! A sweep as JSON.

use super::{Limits, axis_name, limits, remarks::remarks, signal_words, watch_name};
use crate::{
    about::Asked,
    figure,
    json::{clean, head, volts},
};
use keyon_circuit::model::Circuit;
use keyon_solve::{
    State,
    sweep::{Axis, Sweep, Watch},
};
use serde_json::{Map, Value, json};

/// A sweep: what every step reads, and what else changes on the way.
pub fn sweep_json(circuit: &Circuit, sweep: &Sweep, base: &State, asked: &Asked) -> Value {
    let mut out = head(circuit, base, asked);
    let unit = match sweep.axis {
        Axis::Stimulus(id) => circuit.stimuli.get(id.index()).map_or("", |s| figure::stimulus_unit(s.kind)),
        Axis::Supply(_) => "V",
    };
    let ends = (sweep.steps.first(), sweep.steps.last());
    let (from, to) = (ends.0.map_or(0.0, |s| s.value), ends.1.map_or(0.0, |s| s.value));
    let name = axis_name(circuit, sweep.axis);
    out.insert("sweep".into(), json!({ "of": name, "unit": unit, "from": clean(from), "to": clean(to) }));
    let points = sweep.watches.iter().map(|&watch| {
        let mut value = Map::new();
        let is = if matches!(watch, Watch::Input(..)) { "input" } else { "point" };
        value.insert("is".into(), json!(is));
        match limits(circuit, watch) {
            Some(Limits::Range { stated: (low, high), .. }) => {
                value.insert("range".into(), json!([low, high]));
            }
            Some(Limits::Threshold(limit)) => _ = value.insert("threshold".into(), json!(limit)),
            None => {}
        }
        (watch_name(circuit, watch), Value::Object(value))
    });
    out.insert("points".into(), Value::Object(points.collect()));
    let steps = sweep.steps.iter().zip(remarks(circuit, &sweep.steps)).map(|(step, remarks)| {
        let reads = sweep.watches.iter().zip(&step.reads).map(|(&watch, &read)| {
            let mut value = Map::new();
            value.insert("volts".into(), volts(read.volts));
            value.insert("node_state".into(), json!(read.state.words()));
            if let Some(limits) = limits(circuit, watch) {
                value.insert("signal".into(), json!(signal_words(Some(limits), read)));
            }
            (watch_name(circuit, watch), Value::Object(value))
        });
        let reads: Map<String, Value> = reads.collect();
        json!({ "value": clean(step.value), "reads": reads, "changes": remarks })
    });
    out.insert("steps".into(), steps.collect());
    Value::Object(out)
}
