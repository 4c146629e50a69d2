//! Units, by what the number in front of them measures.

use super::{CompletionKind as Kind, List, context::Context, names};
use crate::View;
use keyon_circuit::Entity;
use keyon_syntax::unit::Dimension;

/// What the number before the cursor may measure; nothing where the place does not say.
pub(super) fn dimensions(view: &View<'_>, context: &Context<'_>) -> Vec<Dimension> {
    match clause_dimension(view, context) {
        Some(dimension) => vec![dimension],
        None => match context.head() {
            Some("wire") if has_unit(context, &["mm2", "AWG"]) => vec![Dimension::Length],
            Some("wire") => vec![Dimension::Area, Dimension::Length],
            Some("lamp" | "heater") if has_unit(context, &["W", "kW", "mW"]) => vec![Dimension::Voltage],
            Some("lamp" | "heater") => vec![Dimension::Power, Dimension::Voltage],
            Some("elsewhere") => vec![Dimension::Current, Dimension::Power],
            Some("ohms") => vec![Dimension::Resistance],
            Some("clamp") => vec![Dimension::Current],
            Some(name) if matches!(context.body(), Some("expect" | "readings")) => {
                let circuit = &view.elaboration.circuit;
                match circuit.lookup(name).first() {
                    Some(Entity::Fuse(_) | Entity::Wire(_)) => return vec![Dimension::Current],
                    Some(&entity) if circuit.point_of(entity).is_some() => return vec![Dimension::Voltage],
                    _ => {}
                }
                vec![Dimension::Voltage, Dimension::Current, Dimension::Resistance]
            }
            _ => Vec::new(),
        },
    }
}

/// Whether a value with one of these units stands in the statement already.
pub(super) fn has_unit(context: &Context<'_>, units: &[&str]) -> bool {
    let unit =
        |word: &str| -> String { word.trim_start_matches(|c: char| c.is_ascii_digit() || c == '.').into() };
    context.before.iter().any(|word| units.contains(&unit(word).as_str()))
}

/// What the clause before the number asks for.
fn clause_dimension(view: &View<'_>, context: &Context<'_>) -> Option<Dimension> {
    let head = context.head().unwrap_or_default();
    // Behind `A ..` and `+-` stands what stood before them.
    let mut at = context.before.len().checked_sub(2)?;
    while matches!(context.before.get(at).copied(), Some(".." | "+-" | "-" | "+")) {
        at = at.checked_sub(1)?;
        while context
            .before
            .get(at)
            .is_some_and(|word| word.starts_with(|c: char| c.is_ascii_digit()) || is_unit(word))
        {
            at = at.checked_sub(1)?;
        }
    }
    let before = context.before.get(at).copied().or(context.before_number())?;
    let clause = match before {
        "inner" | "pull_up" | "pull_down" | "on" | "cold" | "resistance" => Some(Dimension::Resistance),
        "limit" | "pulls_in" | "drops_out" | "turns_at" | "runs" | "draws" | "rated" | "clamp" => {
            Some(Dimension::Current)
        }
        "drop" | "reference" | "threshold" | "range" | "out" => Some(Dimension::Voltage),
        "pwm" => Some(Dimension::Frequency),
        "at" | "beta" => Some(Dimension::Temperature),
        "travel" => Some(Dimension::Ratio),
        "to" if context.has("pull_up") => Some(Dimension::Voltage),
        _ => None,
    };
    if clause.is_some() {
        return clause;
    }
    if context.body() == Some("scenario") || context.has("with") {
        let subject = if context.has("with") { before } else { head };
        // `left_cmd on 40 %`: a duty.
        return names::stimulus_dimension(view, subject).or(Some(Dimension::Ratio));
    }
    match head {
        "supply" => Some(Dimension::Voltage),
        "ground" | "resistor" | "variable" | "track" | "coil" | "winding" | "motor" | "thermistor" => {
            Some(Dimension::Resistance)
        }
        "fuse" | "breaker" | "link" => Some(Dimension::Current),
        "transducer" => Some(if context.has("over") { Dimension::Pressure } else { Dimension::Voltage }),
        "device" | "module" => {
            let colon = context.before.iter().position(|word| *word == ":")?;
            let part = context.before.get(colon + 1)?;
            let name = (before == "=").then(|| context.before.get(at.checked_sub(1)?).copied()).flatten();
            names::parameter_dimension(view, part, name)
        }
        _ => None,
    }
}

fn is_unit(word: &str) -> bool {
    UNITS.iter().any(|(_, units)| units.contains(&word))
}

/// Units by dimension, the usual ones first.
const UNITS: &[(Dimension, &[&str])] = &[
    (Dimension::Resistance, &["ohm", "kohm", "mohm", "Mohm"]),
    (Dimension::Current, &["A", "mA", "uA", "kA"]),
    (Dimension::Voltage, &["V", "mV", "kV", "uV"]),
    (Dimension::Power, &["W", "kW", "mW"]),
    (Dimension::Area, &["mm2"]),
    (Dimension::Length, &["m", "cm", "mm", "km", "ft", "in"]),
    (Dimension::Temperature, &["degC", "K", "degF"]),
    (Dimension::Ratio, &["%"]),
    (Dimension::Frequency, &["Hz", "kHz"]),
    (Dimension::Pressure, &["kPa", "bar", "psi", "Pa", "MPa", "mbar"]),
];

/// A number that is being typed, with the units that it may have.
pub(super) fn amounts(number: &str, expected: &[Dimension], small: bool, list: &mut List) {
    for dimension in expected {
        if small && *dimension == Dimension::Resistance {
            list.add(Kind::Unit, format!("{number} mohm"), Some("resistance".into()));
        }
        let units =
            UNITS.iter().filter(|(of, _)| of == dimension).flat_map(|(_, units)| units.iter().take(2));
        for unit in units {
            list.add(Kind::Unit, format!("{number} {unit}"), Some(format!("{dimension:?}").to_lowercase()));
        }
    }
}

/// Whether a resistance is one that is left where there should be none: inside of a supply, of a closed stage.
pub(super) fn is_small(context: &Context<'_>) -> bool {
    let clause = context.before_number();
    context.head() == Some("supply") || clause == Some("on") || context.last() == Some("on")
}

/// The units of what is expected; all of them where the place does not tell. Of a `small` resistance milliohms first.
pub(super) fn units(expected: &[Dimension], small: bool, list: &mut List) {
    let mut rows: Vec<_> =
        UNITS.iter().filter(|(dimension, _)| expected.is_empty() || expected.contains(dimension)).collect();
    rows.sort_by_key(|(dimension, _)| expected.iter().position(|expected| expected == dimension));
    for (dimension, units) in rows {
        let mut units = units.to_vec();
        if small && *dimension == Dimension::Resistance {
            units.sort_by_key(|unit| *unit != "mohm");
        }
        for unit in units {
            list.add(Kind::Unit, unit, Some(format!("{dimension:?}").to_lowercase()));
        }
    }
}
