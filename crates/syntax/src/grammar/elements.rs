//! Elements, at top level and in bodies: from pieces to the tree.

use super::{
    build::Pieces,
    sources::{ATTRIBUTES, named, nameless},
};
use crate::{
    Span,
    tree::{
        Condition, Curve, Edge, ItemKind, Law, Name, Quantity, StimulusClauses, Switch, TopElement, Value,
    },
};

/// Rows of a thermistor's `table { … }`, and the whole block.
pub(crate) type TableRows = Option<(Vec<(Quantity, Quantity)>, Span)>;

/// The words of an element's clauses, for the nearest one to a misspelt word.
fn clauses(keyword: &str) -> &'static [&'static str] {
    match keyword {
        "lamp" | "heater" => &["cold"],
        "coil" => &["pulls_in", "drops_out", "rated"],
        "winding" | "motor" => &["turns_at", "rated", "runs"],
        "thermistor" => &["at", "beta", "steinhart", "table", "span", "nominal"],
        "variable" => &["span", "nominal"],
        "diode" => &["drop"],
        "track" => &["wiper", "travel", "span", "nominal"],
        "transducer" => &["out", "over", "ratio", "span", "nominal"],
        "contact" => &["closed in", "open in", "closed when", "open when", "rated"],
        "changeover" => &["when", "in", "rated"],
        _ => &[],
    }
}

/// How many loose values the element's law has, for telling a name from a parameter.
fn values_of(keyword: &str, p: &Pieces<'_>) -> usize {
    match keyword {
        "thermistor" => usize::from(p.has("at")),
        "lamp" | "heater" => 2,
        "resistor" | "coil" | "winding" | "motor" | "track" => 1,
        _ => 0,
    }
}

fn law(p: &mut Pieces<'_>, keyword: &str, table: TableRows) -> Law {
    let stimulus =
        |p: &mut Pieces<'_>| StimulusClauses { span: p.with_range("span"), nominal: p.with("nominal") };
    match keyword {
        "lamp" | "heater" => {
            let first = p.value();
            let watts = p.need(first, "the rated watts and volts", "for example `21 W 12 V`");
            let second = p.value();
            let volts = p.need(second, "the rated volts (or watts)", "for example `21 W 12 V`");
            let (watts, volts) = in_order(watts, volts);
            let cold = p.with("cold");
            if keyword == "lamp" {
                Law::Lamp { watts, volts, cold }
            } else {
                Law::Heater { watts, volts, cold }
            }
        }
        "coil" => {
            let ohms = p.value();
            Law::Coil {
                ohms: p.need(ohms, "the coil's resistance", "for example `85 ohm`"),
                pulls_in: p.with("pulls_in"),
                drops_out: p.with("drops_out"),
                rated: p.with("rated"),
            }
        }
        "winding" | "motor" => {
            let ohms = p.value();
            Law::Winding {
                ohms: p.need(ohms, "the winding's resistance", "for example `6 ohm`"),
                turns_at: p.with("turns_at"),
                rated: p.with("rated"),
                runs: p.with("runs"),
            }
        }
        "thermistor" => {
            let curve = curve(p, table);
            let curve =
                p.need(curve, "the thermistor's curve", "for example `2.5 kohm at 25 degC beta 3500 K`");
            Law::Thermistor { curve, stimulus: stimulus(p) }
        }
        "variable" => {
            let range = p.range();
            Law::Variable {
                range: p.need(range, "the range", "for example `0 .. 10 kohm`"),
                stimulus: stimulus(p),
            }
        }
        "diode" => {
            let drop = p.with("drop");
            Law::Diode { drop: p.need(drop, "the diode's drop", "for example `drop 0.7 V`") }
        }
        "track" => {
            let ohms = p.value();
            let wiper = p.with_name("wiper");
            Law::Track {
                ohms: p.need(ohms, "the track's resistance", "for example `5 kohm`"),
                wiper: p.need(wiper, "the wiper's pin", "for example `wiper 2`"),
                travel: p.with_range("travel"),
                stimulus: stimulus(p),
            }
        }
        "transducer" => {
            let out = p.with_name("out").or_else(|| p.word());
            let volts = p.range();
            let over = p.with_range("over");
            Law::Transducer {
                out: p.need(out, "the output's pin", "for example `out 2`"),
                volts: p.need(volts, "the output's range", "for example `0.5 .. 4.5 V`"),
                over: p.need(over, "what it measures", "for example `over 0 .. 1000 kPa`"),
                ratio: p.flag("ratio"),
                stimulus: stimulus(p),
            }
        }
        "contact" => {
            let condition = condition(p);
            Law::Contact {
                // Without its condition a loose word is what is left of one.
                ohms: if condition.is_some() { p.value() } else { p.quantity_value() },
                rated: p.with("rated"),
                condition: p.need(
                    condition,
                    "when the contact is closed",
                    "for example `closed in run` or `closed when K energised`",
                ),
            }
        }
        "changeover" => {
            let throw = p.throw();
            let throw = p.need(throw, "the three pins", "for example `30 -> (rest 87a, active 87)`");
            let condition = condition(p);
            let condition = p.need(condition, "what moves the changeover", "for example `when K energised`");
            let (common, rest, active) = match throw {
                Some(throw) => (Some(throw.common), Some(throw.rest), Some(throw.active)),
                None => (None, None, None),
            };
            Law::Changeover { common, rest, active, ohms: p.value(), rated: p.with("rated"), condition }
        }
        _ => {
            let ohms = p.value();
            Law::Resistor { ohms: p.need(ohms, "the resistance", "for example `470 ohm`") }
        }
    }
}

/// Watts and volts may stand in either order.
fn in_order(first: Option<Value>, second: Option<Value>) -> (Option<Value>, Option<Value>) {
    let dimension = |v: &Option<Value>| match v.as_ref().map(|v| &v.kind) {
        Some(crate::tree::ValueKind::Quantity(q)) => q.unit.map(crate::unit::Unit::dimension),
        _ => None,
    };
    use crate::unit::Dimension::{Power, Voltage};
    if dimension(&first) == Some(Voltage) || dimension(&second) == Some(Power) {
        (second, first)
    } else {
        (first, second)
    }
}

fn curve(p: &mut Pieces<'_>, table: TableRows) -> Option<Curve> {
    let ohms = p.quantity_value();
    let at = p.with("at");
    let ohms = ohms.or_else(|| if at.is_some() { p.value() } else { None });
    let beta = p.with("beta");
    let steinhart = p.numbers();
    let flag = p.flag("table");
    match (ohms, at, beta, steinhart) {
        (Some(ohms), Some(at), Some(beta), None) => Some(Curve::Beta { ohms, at, beta }),
        (ohms, at, None, Some((span, [a, b, c]))) => {
            Some(Curve::Steinhart { at: ohms.zip(at), a, b, c, span })
        }
        (ohms, at, None, None) if flag.is_some() => {
            let (rows, span) = table?;
            Some(Curve::Table { at: ohms.zip(at), rows, span: flag.map_or(span, |f| f.to(span)) })
        }
        _ => None,
    }
}

fn condition(p: &mut Pieces<'_>) -> Option<Condition> {
    if let Some(coil) = p.with_name("closed when") {
        return Some(Condition::Energised { coil, open: false });
    }
    if let Some(coil) = p.with_name("open when") {
        return Some(Condition::Energised { coil, open: true });
    }
    if let Some(positions) = p.with_names("closed in") {
        return Some(Condition::Positions { positions, open: false });
    }
    p.with_names("open in").map(|positions| Condition::Positions { positions, open: true })
}

/// An element at top level.
pub(crate) fn top_element(mut p: Pieces<'_>, keyword: Name, table: TableRows) -> (ItemKind, bool) {
    let name = named(&mut p, &keyword.text).unwrap_or_else(|| nameless(p.head));
    let title = p.title();
    let path = p.path();
    let law = law(&mut p, &keyword.text, table);
    let attributes = p.attributes();
    let damaged = p.finish(&keyword.text, &[clauses(&keyword.text), ATTRIBUTES].concat());
    (ItemKind::Element(Box::new(TopElement { keyword, name, title, path, law, attributes })), damaged)
}

/// An element in a body.
pub(crate) fn edge(mut p: Pieces<'_>, keyword: Name, table: TableRows) -> (Edge, bool) {
    // A clause that was begun and not finished is no name.
    let words = p.words_beside(clauses(&keyword.text));
    let is_named = match keyword.text.as_str() {
        // A contact's resistance stands behind its path, its name before.
        "contact" | "changeover" => p.word_before_path(),
        "transducer" => words > usize::from(!p.has("out")),
        // A lone word is the value, two words are name and value: the first is a name where values stay without it.
        element => words > values_of(element, &p).saturating_sub(p.values()),
    };
    let name = if is_named { p.word() } else { None };
    let path = p.path();
    let span = p.span;
    let law = law(&mut p, &keyword.text, table);
    let damaged = p.finish(&keyword.text, clauses(&keyword.text));
    (Edge { keyword, name, path, law, span }, damaged)
}

/// `switch NAME …`.
pub(crate) fn switch(mut p: Pieces<'_>) -> (ItemKind, bool) {
    let name = named(&mut p, "switch").unwrap_or_else(|| nameless(p.head));
    let item = Switch {
        name,
        title: p.title(),
        path: p.path(),
        positions: p.with_names("positions").unwrap_or_default(),
        closed_in: p.with_names("closed in"),
        attributes: p.attributes(),
    };
    (ItemKind::Switch(Box::new(item)), p.finish("switch", &["positions", "closed in"]))
}
