//! What was said against what is found.

use super::{Got, Outcome, Refusal, measure::measure};
use crate::{NodeState, Solution, State, solve};
use keyon_circuit::model::*;
use keyon_syntax::unit::Dimension;

/// Slack at the edges of a window, so that a value stated in full is within itself.
const SLACK: f64 = 1e-9;

/// Judges a row in a state that is solved already, with the row's own settings in it.
pub fn judge(circuit: &Circuit, solution: &Solution, row: &Row) -> Outcome {
    let (wanted, found) = match &row.assertion {
        Assertion::State(words) => return state(circuit, solution, row.probe, words),
        Assertion::Below(limit, d) => (*d, Window::Below(*limit)),
        Assertion::Above(limit, d) => (*d, Window::Above(*limit)),
        Assertion::Between(low, high, d) => (*d, Window::Between(low.min(*high), low.max(*high))),
        Assertion::Is(value, d) => (*d, around(*value, *d)),
    };
    match measure(circuit, solution, row.probe, Some(wanted)) {
        Err(refused) => Outcome { holds: false, got: Got::Nothing, refused: Some(refused) },
        Ok(got) => {
            let holds = match &got {
                // A clamp has no direction of its own: without a sign it is asked how much.
                Got::Number { value, .. } if matches!(row.probe, Probe::Clamp(_)) && !found.signed() => {
                    found.holds(value.abs())
                }
                Got::Number { value, .. } => found.holds(*value),
                Got::Words(words) => words == "unlimited" && matches!(found, Window::Above(_)),
                Got::Nothing => false,
            };
            Outcome { holds, got, refused: None }
        }
    }
}

/// Judges a row on top of a state: the scenario with the block's set-ups.
pub fn judge_row(circuit: &Circuit, base: &State, row: &Row) -> Outcome {
    judge(circuit, &solve(circuit, &base.clone().with(&row.settings)), row)
}

/// Judges all rows of a block; rows without settings of their own share one solution.
pub fn judge_all(circuit: &Circuit, base: &State, rows: &[Row]) -> Vec<Outcome> {
    let plain = |s: &Settings| {
        s.controls.is_empty() && s.stimuli.is_empty() && s.supplies.is_empty() && s.changes.is_empty()
    };
    let shared = rows.iter().any(|r| plain(&r.settings)).then(|| solve(circuit, base));
    rows.iter()
        .map(|row| match &shared {
            Some(solution) if plain(&row.settings) => judge(circuit, solution, row),
            _ => judge_row(circuit, base, row),
        })
        .collect()
}

/// The values that a row lets pass.
#[derive(Clone, Copy, Debug)]
enum Window {
    Below(f64),
    Above(f64),
    Between(f64, f64),
}

impl Window {
    fn holds(self, value: f64) -> bool {
        let slack = |limit: f64| SLACK * limit.abs().max(1e-3);
        match self {
            Self::Below(limit) => value < limit,
            Self::Above(limit) => value > limit,
            Self::Between(low, high) => value >= low - slack(low) && value <= high + slack(high),
        }
    }

    /// Whether a direction is meant.
    fn signed(self) -> bool {
        match self {
            Self::Below(limit) | Self::Above(limit) => limit < 0.0,
            Self::Between(low, _) => low < 0.0,
        }
    }
}

/// A reading taken with a meter: ±(0.5 % + 10 mV, 10 mA or 0.1 ohm), decision 41.
fn around(value: f64, dimension: Dimension) -> Window {
    let least = match dimension {
        Dimension::Voltage | Dimension::Current => 0.01,
        Dimension::Resistance => 0.1,
        _ => 0.0,
    };
    let off = 0.005 * value.abs() + least;
    // What reads nearly nothing may read a little below it.
    let low = if value >= 0.0 && matches!(dimension, Dimension::Resistance) {
        (value - off).max(0.0)
    } else {
        value - off
    };
    Window::Between(low, value + off)
}

fn state(circuit: &Circuit, solution: &Solution, probe: Probe, words: &str) -> Outcome {
    let got = match measure(circuit, solution, subject(circuit, probe, words), None) {
        Ok(got) => got,
        Err(refused) => return Outcome { holds: false, got: Got::Nothing, refused: Some(refused) },
    };
    let holds = match probe {
        Probe::Device(d) => solution.devices.get(d.index()).is_some_and(|s| match words {
            "operates" => s.state.operates(),
            "holds" => s.holds,
            _ => s.state.words() == words || s.grade.as_deref() == Some(words),
        }),
        Probe::Element(e) | Probe::Clamp(e) => match words {
            "holds" => solution.holds.contains(&e),
            "chatters" => solution.chatters.contains(&e),
            "operates" => said(&got, |w| w.starts_with("operates")),
            _ => said(&got, |w| w == words),
        },
        Probe::Ohms(..) => match &got {
            Got::Number { value, .. } => words == "open" && value.is_infinite(),
            _ => false,
        },
        _ => said(&got, |w| w == words),
    };
    Outcome { holds, got, refused: unknown(probe, words) }.checked()
}

impl Outcome {
    /// A refused row does not hold.
    fn checked(mut self) -> Self {
        self.holds &= self.refused.is_none();
        self
    }
}

fn said(got: &Got, is: impl Fn(&str) -> bool) -> bool {
    matches!(got, Got::Words(words) if is(words))
}

/// `high` and `low` of a cavity that was named as a point, node states of an input.
fn subject(circuit: &Circuit, probe: Probe, words: &str) -> Probe {
    let level = matches!(words, "high" | "low");
    match probe {
        Probe::Point(p) if level => match circuit.points.get(p.index()).map(|p| p.kind) {
            Some(PointKind::Cavity(m, c, k) | PointKind::CavityInside(m, c, k)) => Probe::Input(m, c, k),
            _ => probe,
        },
        Probe::Input(m, c, k) if !level => circuit
            .modules
            .get(m.index())
            .and_then(|m| m.connectors.get(c)?.cavities.get(k))
            .map_or(probe, |cavity| Probe::Point(cavity.outside)),
        _ => probe,
    }
}

/// Words that can never be found there.
fn unknown(probe: Probe, words: &str) -> Option<Refusal> {
    let node = NODE_STATES.iter().any(|s| s.words() == words);
    let fits = match probe {
        Probe::Point(_) | Probe::Input(..) => node || matches!(words, "high" | "low"),
        Probe::Lamp(..) => matches!(words, "bright" | "dim" | "dark"),
        Probe::Across(..) => false,
        Probe::Ohms(..) => words == "open",
        Probe::Device(_) => !node || words == "chatters",
        Probe::Element(_) | Probe::Clamp(_) => true,
    };
    (!fits).then(|| {
        let can = match probe {
            Probe::Point(_) => {
                "a point is fed, grounded, referenced, fed via load, grounded via load, between or open"
            }
            Probe::Input(..) => "an input is high or low, or has a node state",
            Probe::Lamp(..) => "a test lamp is bright, dim or dark",
            Probe::Ohms(..) | Probe::Across(..) => "between two points there is a number",
            Probe::Device(_) | Probe::Element(_) | Probe::Clamp(_) => "a device operates, is weak or rests",
        };
        Refusal::Unfit(format!("`{words}` cannot be found here: {can}"))
    })
}

const NODE_STATES: [NodeState; 9] = [
    NodeState::Fed,
    NodeState::Grounded,
    NodeState::Referenced,
    NodeState::FedViaLoad,
    NodeState::GroundedViaLoad,
    NodeState::Between,
    NodeState::Open,
    NodeState::Clash,
    NodeState::Chatters,
];
