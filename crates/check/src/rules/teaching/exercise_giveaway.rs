//! An exercise whose own words tell the answer.

use crate::{Context, Finding};
use keyon_circuit::model::{Exercise, Loc};
use keyon_solve::Cancelled;
use keyon_solve::fault::test_points_of;

crate::rule::rule! {
    name: "exercise-giveaway",
    level: Error,
    group: "teaching",
    summary: "The learner's sheet names the fault, or an answer.",
    why: "\
Title and questions are printed on the learner's sheet. Where they name what has failed, or hold the reading that is asked for, nobody has to reason.",
    check: check,
}

/// What people call each kind of fault, by the first word of the fault.
const CALLED: &[(&str, &[&str])] = &[
    ("open", &["open", "broken", "cut", "interrupted", "blown", "disconnected"]),
    ("short", &["short", "shorted", "bridged"]),
    ("stuck", &["stuck", "welded", "jammed"]),
    ("resistance", &["resistance", "corroded", "corrosion", "chafed"]),
    ("drift", &["drift", "drifted", "drifts"]),
    ("fuse", &["blown", "open"]),
];

/// Words that tell of a fault only beside what can have it: a gate is open as well, and a drive is short.
const AMBIGUOUS: &[&str] = &["open", "broken", "cut", "short", "stuck", "jammed"];

/// What can have a fault.
const ELECTRIC: &[&str] = &[
    "wire",
    "wires",
    "wiring",
    "circuit",
    "fuse",
    "ground",
    "grounds",
    "feed",
    "return",
    "supply",
    "splice",
    "connector",
    "contact",
    "contacts",
    "pin",
    "pins",
    "terminal",
    "joint",
    "lead",
    "cable",
    "line",
    "loom",
    "harness",
    "driver",
    "stage",
    "relay",
    "coil",
    "winding",
    "element",
    "diode",
    "resistor",
    "sensor",
    "filament",
];

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    for exercise in &context.circuit.exercises {
        let asks = exercise.asks.iter().filter_map(|ask| Some((ask.text.as_deref()?, ask.loc)));
        let texts = exercise.title.iter().map(|title| (title.as_str(), exercise.loc)).chain(asks);
        for (text, loc) in texts {
            if let Some(what) = names_fault(context, exercise, text) {
                out.push(say(loc, text, &what));
            } else if let Some(what) = holds_answer(context, exercise, text) {
                out.push(say(loc, text, &what));
            }
        }
    }
    Ok(())
}

fn say(loc: Loc, text: &str, what: &str) -> Finding {
    RULE.at(loc, format!("\"{text}\" stands on the learner's sheet and {what}"))
        .help("say what is seen or asked, not what has failed or what comes out")
}

/// The words of a text, lower case, with the marks that names have.
fn words(text: &str) -> Vec<String> {
    let inside = |c: char| c.is_alphanumeric() || matches!(c, '_' | '.' | '-');
    text.split(|c: char| !inside(c))
        .map(|w| w.trim_matches(['.', '-']).to_lowercase())
        .filter(|w| !w.is_empty())
        .collect()
}

/// The kind of the fault said of a thing, or the very wire, splice or fuse that has failed. The thing that shows the
/// symptom is named on any sheet, so its name alone tells nothing.
fn names_fault(context: &Context<'_>, exercise: &Exercise, text: &str) -> Option<String> {
    let said = words(text);
    let shown: Vec<String> =
        exercise.symptoms.iter().flat_map(|row| words(context.elaboration.text(row.loc))).collect();
    for (_, fault, _) in &exercise.faults {
        let mut parts = fault.split_whitespace();
        let kind = parts.next().unwrap_or_default();
        let called = CALLED.iter().find(|(k, _)| *k == kind).map_or(&[][..], |(_, called)| called);
        let parts: Vec<String> = parts.map(str::to_lowercase).collect();
        let tells = |(i, word): &(usize, &String)| {
            let beside = |w: &String| ELECTRIC.contains(&w.as_str()) || parts.contains(w) && !is_filler(w);
            let near = &said[i.saturating_sub(2)..(i + 3).min(said.len())];
            called.contains(&word.as_str())
                && (!AMBIGUOUS.contains(&word.as_str()) || near.iter().any(beside))
        };
        if let Some((_, word)) = said.iter().enumerate().find(tells) {
            return Some(format!("says `{word}`, which tells the kind of its fault `{fault}`"));
        }
        for thing in parts.into_iter().filter(|w| !is_filler(w)) {
            // A figure is a wire's number only where it stands as one.
            let named = said.contains(&thing) && !shown.contains(&thing);
            let figure = thing.parse::<f64>().is_ok() && fault.starts_with("resistance");
            if named && !figure {
                return Some(format!("names `{thing}`, which its fault `{fault}` is about"));
            }
        }
    }
    None
}

/// Words of a fault that name nothing.
fn is_filler(word: &str) -> bool {
    ["to", "in", "on", "off", "ohm", "kohm", "mohm", "ground", "open", "%", "@"].contains(&word)
}

/// A number of volts in a text that is the answer to a question for volts.
fn holds_answer(context: &Context<'_>, exercise: &Exercise, text: &str) -> Option<String> {
    let said = words(text);
    let volts: Vec<f64> = said
        .iter()
        .enumerate()
        .filter_map(|(i, w)| match w.strip_suffix('v') {
            Some(number) => number.parse().ok(),
            None => (said.get(i + 1).map(String::as_str) == Some("v")).then(|| w.parse().ok()).flatten(),
        })
        .collect();
    if volts.is_empty() {
        return None;
    }
    let staged = context.facts.staged(exercise)?;
    let asked =
        exercise.asks.iter().filter(|ask| ask.kind.as_deref() == Some("volts")).flat_map(|ask| &ask.about);
    for point in asked.flat_map(|&entity| test_points_of(context.circuit, entity)) {
        let Some(answer) = staged.faulty.volts.get(point.index()).copied().flatten() else { continue };
        if let Some(said) = volts.iter().find(|v| (**v - answer).abs() <= 0.05 + 0.005 * answer.abs()) {
            let name = context.circuit.points.get(point.index()).map_or("a point", |p| p.name.as_str());
            return Some(format!("holds {said} V, the answer for `{name}`"));
        }
    }
    None
}
