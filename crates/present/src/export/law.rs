//! How elements behave, as values.

use super::Exporter;
use keyon_circuit::{
    ids::*,
    model::{Curve, Law, Rated, When},
    value::Num,
};
use serde_json::{Value, json};

/// A value with its tolerance band.
pub(super) fn num(num: Num) -> Value {
    json!({ "nominal": num.nominal, "low": num.low, "high": num.high })
}

pub(super) fn maybe(value: Option<Num>) -> Value {
    value.map_or(Value::Null, num)
}

fn rated(rated: &Option<Rated>) -> Value {
    match rated {
        Some(Rated::Amps(amps)) => json!({ "amps": num(*amps) }),
        Some(Rated::Volts(volts)) => json!({ "volts": num(*volts) }),
        None => Value::Null,
    }
}

fn curve(curve: &Curve) -> Value {
    match curve {
        Curve::Beta { r0, t0, beta } => {
            json!({ "kind": "beta", "ohms": num(*r0), "at": t0, "beta": num(*beta) })
        }
        Curve::Steinhart { a, b, c } => json!({ "kind": "steinhart", "a": a, "b": b, "c": c }),
        Curve::Table(rows) => json!({ "kind": "table", "rows": rows }),
    }
}

impl Exporter<'_> {
    fn stimulus_id(&self, stimulus: StimulusId) -> Value {
        let stimulus = self.circuit.stimuli.get(stimulus.index());
        stimulus.map_or(Value::Null, |s| json!(format!("stimulus:{}", s.name)))
    }

    /// What it does while it conducts. SI units, degrees Celsius, travel and ratios 0 … 1.
    pub(super) fn law(&self, law: &Law) -> Value {
        match law {
            Law::Joint => json!({ "kind": "joint" }),
            Law::Resistance(ohms) => json!({ "kind": "resistance", "ohms": num(*ohms) }),
            Law::Rated { watts, volts, cold } => {
                json!({ "kind": "rated", "watts": num(*watts), "volts": num(*volts), "cold": maybe(*cold) })
            }
            Law::Coil { ohms, pulls_in, drops_out, rated: said } => json!({
                "kind": "coil",
                "ohms": num(*ohms),
                "pulls_in": maybe(*pulls_in),
                "drops_out": maybe(*drops_out),
                "rated": rated(said),
            }),
            Law::Winding { ohms, turns_at, rated: said, runs } => json!({
                "kind": "winding",
                "ohms": num(*ohms),
                "turns_at": maybe(*turns_at),
                "rated": rated(said),
                "runs": maybe(*runs),
            }),
            Law::Thermistor { curve: said, stimulus } => {
                json!({ "kind": "thermistor", "curve": curve(said), "stimulus": self.stimulus_id(*stimulus) })
            }
            Law::Track { ohms, travel, stimulus } => json!({
                "kind": "track",
                "ohms": num(*ohms),
                "travel": [travel.0, travel.1],
                "stimulus": self.stimulus_id(*stimulus),
            }),
            Law::Variable { low, high, stimulus } => {
                json!({ "kind": "variable", "low": low, "high": high, "stimulus": self.stimulus_id(*stimulus) })
            }
            Law::Transducer { feed, volts, over, ratio, stimulus } => json!({
                "kind": "transducer",
                "feed": self.point_id(*feed),
                "volts": [volts.0, volts.1],
                "over": [over.0, over.1],
                "ratio": ratio,
                "stimulus": self.stimulus_id(*stimulus),
            }),
            Law::Diode { drop } => json!({ "kind": "diode", "drop": num(*drop) }),
            Law::Source { volts, inner, limit, range } => json!({
                "kind": "source",
                "volts": num(*volts),
                "inner": num(*inner),
                "limit": maybe(*limit),
                "range": range.map(|(low, high)| [low, high]),
            }),
        }
    }

    /// When it conducts.
    pub(super) fn when(&self, when: &When) -> Value {
        match when {
            When::Always => json!({ "kind": "always" }),
            When::Never => json!({ "kind": "never" }),
            When::Energised { coil, open } => {
                let kind = if *open { "not_energised" } else { "energised" };
                json!({ "kind": kind, "coil": self.element_id(*coil) })
            }
            When::In { control, positions } => {
                let Some(control) = self.circuit.controls.get(control.index()) else {
                    return json!({ "kind": "never" });
                };
                let names = control.positions.iter().enumerate();
                let names =
                    names.filter(|(index, _)| positions.checked_shr(*index as u32).unwrap_or(0) & 1 == 1);
                json!({
                    "kind": "in",
                    "control": format!("control:{}", control.qualified),
                    "positions": names.map(|(_, name)| name.as_str()).collect::<Vec<_>>(),
                })
            }
        }
    }
}
