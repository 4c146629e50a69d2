//! A comparison for programs: everything, also what a meter would not show apart.

use super::{CircuitChange, Comparison, ExpectationChange, words};
use crate::reports::findings::finding_json;
use keyon_check::{
    Verdict,
    compare::{ReadingChange, StateChange, Value as Read},
};
use serde_json::{Map, Value, json};

const VERSION: u32 = 1;

/// The comparison as JSON; see `schemas/compare.schema.json`.
pub fn comparison_json(comparison: &Comparison) -> Value {
    let parts: Vec<Value> = comparison
        .parts
        .iter()
        .map(|part| json!({ "file": part.file, "part": part.part, "old": part.old, "new": part.new }))
        .collect();
    json!({
        "version": VERSION,
        "old": comparison.old,
        "new": comparison.new,
        "worse": comparison.is_worse(),
        "parts": parts,
        "circuits": comparison.circuits.iter().map(circuit_json).collect::<Vec<_>>(),
        "untouched": comparison.untouched,
        "added": comparison.added,
        "removed": comparison.removed,
    })
}

fn circuit_json(circuit: &CircuitChange) -> Value {
    let tables = &circuit.difference.tables;
    let cells = tables.cells.iter().map(|cell| {
        let when: Map<String, Value> =
            cell.when.iter().map(|(control, position)| (control.to_string(), json!(position.as_str()))).collect();
        json!({ "device": cell.device.as_str(), "when": when, "old": cell.old.as_str(), "new": cell.new.as_str() })
    });
    let devices = |new: bool| -> Vec<&str> {
        tables.devices.iter().filter(|(_, is_new)| *is_new == new).map(|(name, _)| name.as_str()).collect()
    };
    let names = |names: &[smol_str::SmolStr]| names.iter().map(ToString::to_string).collect::<Vec<_>>();
    let sheets: Vec<Value> =
        circuit.sheets().map(|(name, answers)| json!({ "exercise": name, "answers": answers })).collect();
    json!({
        "file": circuit.file,
        "moved_from": circuit.moved.as_ref().map(|moved| &moved.from),
        "circuit": circuit.circuit,
        "same": circuit.is_same(),
        "states": circuit.difference.states.iter().map(state_json).collect::<Vec<_>>(),
        "states_added": names(&circuit.difference.added),
        "states_removed": names(&circuit.difference.removed),
        "table": cells.collect::<Vec<_>>(),
        "table_cut": names(&tables.cut),
        "devices_added": devices(true),
        "devices_removed": devices(false),
        "findings_new": circuit.new_findings.iter().map(finding_json).collect::<Vec<_>>(),
        "findings_gone": circuit.gone_findings.iter().map(finding_json).collect::<Vec<_>>(),
        "expectations": circuit.expectations.iter().map(expectation_json).collect::<Vec<_>>(),
        "sheets": sheets,
    })
}

fn state_json(state: &StateChange) -> Value {
    json!({
        "name": state.name.as_str(),
        "exercise": state.exercise,
        "readings": state.readings.iter().map(reading_json).collect::<Vec<_>>(),
    })
}

fn reading_json(change: &ReadingChange) -> Value {
    let alike: Vec<&str> = change.alike.iter().map(|name| name.as_str()).collect();
    json!({
        "kind": words::reading_word(change.reading),
        "name": change.name.as_str(),
        "alike": alike,
        "old": change.old.as_ref().map(value_json),
        "new": change.new.as_ref().map(value_json),
    })
}

fn value_json(value: &Read) -> Value {
    let number = |value: Option<f64>| value.map(|value| if value == 0.0 { 0.0 } else { value });
    match value {
        Read::Volts(volts, state) => json!({ "volts": number(*volts), "node_state": state.words() }),
        Read::Amps(amps) => json!({ "amps": number(*amps) }),
        Read::Words(words) => json!({ "state": words.as_str() }),
    }
}

fn expectation_json(change: &ExpectationChange) -> Value {
    json!({
        "scenario": change.scenario,
        "text": change.text,
        "old": change.old.as_ref().map(verdict_json),
        "new": change.new.as_ref().map(verdict_json),
        "fails": change.fails(),
    })
}

fn verdict_json(verdict: &Verdict) -> Value {
    let (word, words) = match verdict {
        Verdict::Holds(got) => ("holds", Some(got)),
        Verdict::Fails(got) => ("fails", Some(got)),
        Verdict::Silenced(got) => ("silenced", Some(got)),
        Verdict::Refused(why) => ("refused", Some(why)),
        Verdict::Unknown => ("unknown", None),
    };
    json!({ "verdict": word, "computed": words })
}
