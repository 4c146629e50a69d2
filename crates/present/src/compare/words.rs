//! How a change is said, for text and Markdown alike.

use super::{CircuitChange, Comparison, ExpectationChange};
use crate::{figure, reports::Placed};
use keyon_check::{
    Verdict,
    compare::{CellChange, Reading, ReadingChange, Value},
};

/// What a meter would not show apart: people are spared it, programs are not.
const VOLTS: f64 = 0.01;
const AMPS: f64 = 0.01;

/// A row of readings.
pub(super) struct ReadingRow {
    pub(super) name: String,
    /// `0.519 -> 0.621 A`.
    pub(super) change: String,
    /// `within …`, or what else there is to say.
    pub(super) remark: String,
}

/// One sentence on how much there is.
pub(super) fn summary(comparison: &Comparison) -> String {
    let changed = comparison.circuits.iter().filter(|c| !c.is_same()).count();
    let same = comparison.circuits.len() - changed;
    let mut parts: Vec<String> = Vec::new();
    let mut count = |n: usize, one: &str, many: &str| {
        if n > 0 {
            parts.push(format!("{n} {}", if n == 1 { one } else { many }));
        }
    };
    count(comparison.parts.len(), "part changed", "parts changed");
    count(changed, "circuit differs", "circuits differ");
    count(same, "circuit edited with the same answers", "circuits edited with the same answers");
    count(comparison.added.len(), "circuit new", "circuits new");
    count(comparison.removed.len(), "circuit gone", "circuits gone");
    count(
        comparison.untouched.len(),
        "file untouched (it, all it uses and its settings are the same)",
        "files untouched (they, all they use and their settings are the same)",
    );
    if parts.is_empty() { "nothing to compare".to_owned() } else { parts.join(", ") }
}

/// Rows of one state that people are shown.
const MOST_ROWS: usize = 12;

/// The readings of a state as a person wants to see them.
#[derive(Default)]
pub(super) struct Readings {
    pub(super) rows: Vec<ReadingRow>,
    /// How many changed by less than a meter shows.
    pub(super) small: usize,
    /// How many rows were left out: those that changed least.
    pub(super) more: usize,
}

/// What changed in a state: readings that read alike before and after are one row.
pub(super) fn readings(circuit: &CircuitChange, scenario: &str, changes: &[ReadingChange]) -> Readings {
    let mut out = Readings::default();
    // By what they say: the row, and names of those that say the same.
    let mut groups: Vec<(&ReadingChange, String, Vec<&str>, Option<&String>)> = Vec::new();
    for change in changes {
        let held = circuit.holding.get(&(scenario.to_owned(), change.name.to_string()));
        let words = change_words(change);
        let unlike = words.split_once(" -> ").is_none_or(|(old, new)| old != new);
        // What somebody expects something of is shown also where it changes little.
        if !unlike || (held.is_none() && is_small(change)) {
            out.small += 1 + change.alike.len();
            continue;
        }
        let alike = change.alike.iter().map(|name| name.as_str());
        let known = groups.iter_mut().find(|(first, other, _, said)| {
            said.is_none() && held.is_none() && first.reading == change.reading && *other == words
        });
        match known {
            Some((_, _, names, _)) => names.extend(std::iter::once(change.name.as_str()).chain(alike)),
            None => groups.push((change, words, alike.collect(), held)),
        }
    }
    let mut sizes: Vec<f64> =
        groups.iter().map(|(change, _, _, held)| size(change, held.is_some())).collect();
    sizes.sort_by(|a, b| b.total_cmp(a));
    let least = sizes.get(MOST_ROWS - 1).copied().unwrap_or(f64::NEG_INFINITY);
    for (change, words, alike, held) in groups {
        if size(change, held.is_some()) < least || out.rows.len() == MOST_ROWS {
            out.more += 1;
            continue;
        }
        let mut remarks: Vec<String> = held.iter().map(|text| format!("still within `{text}`")).collect();
        match alike.len() {
            0 => {}
            1..=3 => remarks.push(format!("so do {}", alike.join(", "))),
            more => remarks.push(format!("so do {more} others")),
        }
        out.rows.push(ReadingRow {
            name: change.name.to_string(),
            change: words,
            remark: remarks.join("; "),
        });
    }
    out
}

/// What is said of readings without a row.
pub(super) fn left_out(readings: &Readings) -> impl Iterator<Item = String> {
    let rows = |n: usize, what: &str| {
        (n > 0).then(|| format!("{n} {} {what}", if n == 1 { "reading" } else { "readings" }))
    };
    let more = rows(readings.more, "and those alike change less");
    more.into_iter().chain(rows(readings.small, "by less than a meter shows"))
}

/// How much of a change it is: states that change and what somebody expects something of before figures.
fn size(change: &ReadingChange, held: bool) -> f64 {
    match (&change.old, &change.new) {
        _ if held => f64::INFINITY,
        (Some(Value::Volts(Some(a), x)), Some(Value::Volts(Some(b), y))) if x == y => (a - b).abs(),
        (Some(Value::Amps(Some(a))), Some(Value::Amps(Some(b)))) => (a - b).abs(),
        _ => f64::INFINITY,
    }
}

fn is_small(change: &ReadingChange) -> bool {
    match (&change.old, &change.new) {
        (Some(Value::Volts(Some(a), x)), Some(Value::Volts(Some(b), y))) => x == y && (a - b).abs() < VOLTS,
        (Some(Value::Amps(Some(a))), Some(Value::Amps(Some(b)))) => {
            (a - b).abs() < AMPS * a.abs().max(b.abs()).max(0.1)
        }
        _ => false,
    }
}

fn change_words(change: &ReadingChange) -> String {
    let (old, new) = (&change.old, &change.new);
    match (old, new) {
        (Some(old), None) => format!("{} -> gone", value(old, None)),
        (None, Some(new)) => format!("new: {}", value(new, None)),
        (Some(old), Some(new)) => format!("{} -> {}", value(old, Some(new)), value(new, Some(old))),
        (None, None) => String::new(),
    }
}

/// A value; its node state only where that differs from the other one's.
fn value(this: &Value, other: Option<&Value>) -> String {
    match this {
        Value::Volts(volts, state) => {
            let figure = volts.map_or_else(|| "no reading".to_owned(), |v| format!("{} V", figure::volts(v)));
            let same = matches!(other, Some(Value::Volts(_, other)) if other == state);
            if same { figure } else { format!("{figure} ({})", state.words()) }
        }
        Value::Amps(Some(amps)) => format!("{} A", figure::amps(*amps)),
        Value::Amps(None) => "unlimited".to_owned(),
        Value::Words(words) => words.to_string(),
    }
}

/// What is read, for a program.
pub(super) fn reading_word(reading: Reading) -> &'static str {
    match reading {
        Reading::Point => "point",
        Reading::Fuse => "fuse",
        Reading::Device => "device",
    }
}

/// `key run, left_cmd on`; `always` where no control matters.
pub(super) fn when(cell: &CellChange) -> String {
    if cell.when.is_empty() {
        return "in every position".to_owned();
    }
    let held = cell.when.iter().map(|(control, position)| format!("{control} {position}"));
    format!("with {}", held.collect::<Vec<_>>().join(", "))
}

/// How a row of an `expect` block came out, before and now.
pub(super) fn expectation(change: &ExpectationChange) -> (&'static str, String) {
    let got = |verdict: &Option<Verdict>| match verdict {
        Some(Verdict::Holds(got) | Verdict::Fails(got) | Verdict::Silenced(got)) => format!("computed {got}"),
        Some(Verdict::Refused(why)) => format!("cannot be judged: {why}"),
        Some(Verdict::Unknown) => "cannot be judged: what it looks at could not be read".to_owned(),
        None => String::new(),
    };
    let row = format!("`{}` in {}", change.text, change.scenario);
    match (&change.old, &change.new) {
        (_, None) => ("gone", row),
        (None, Some(_)) if !change.fails() => ("new", row),
        (Some(Verdict::Fails(_) | Verdict::Refused(_)), Some(Verdict::Holds(_))) => ("holds again", row),
        (old @ Some(_), new) if change.fails() => {
            ("FAILS", format!("{row}: {}; it {}", got(new), before(old)))
        }
        (_, new) if change.fails() => ("FAILS", format!("{row}: {}; it is new", got(new))),
        (_, new) => ("changed", format!("{row}: {}", got(new))),
    }
}

fn before(verdict: &Option<Verdict>) -> String {
    match verdict {
        Some(Verdict::Holds(got)) => format!("held with {got}"),
        _ => "did not hold before".to_owned(),
    }
}

/// A part's change: each pair of lines, `coil 24 ohm -> coil 20 ohm`.
pub(super) fn part_lines(old: &[String], new: &[String]) -> Vec<String> {
    let count = old.len().max(new.len());
    (0..count)
        .map(|index| match (old.get(index), new.get(index)) {
            (Some(old), Some(new)) => {
                let (old, new) = shortened(old, new);
                format!("{old} -> {new}")
            }
            (Some(old), None) => format!("gone: {old}"),
            (None, new) => format!("new: {}", new.map_or("", String::as_str)),
        })
        .collect()
}

/// Lines longer than this are cut down to the words that differ and a few around them.
const LONG_LINE: usize = 40;

fn shortened(old: &str, new: &str) -> (String, String) {
    let (a, b): (Vec<&str>, Vec<&str>) = (old.split(' ').collect(), new.split(' ').collect());
    let most = a.len().min(b.len());
    let before = a.iter().zip(&b).take_while(|(a, b)| a == b).count();
    let behind = a.iter().rev().zip(b.iter().rev()).take(most - before).take_while(|(a, b)| a == b).count();
    if old.len().max(new.len()) <= LONG_LINE || before + behind == 0 {
        return (old.to_owned(), new.to_owned());
    }
    let cut = |words: &[&str]| {
        let (from, to) = (before.saturating_sub(3), (words.len() - behind + 1).min(words.len()));
        let middle = words.get(from..to).unwrap_or_default().join(" ");
        let (left, right) = (if from > 0 { "… " } else { "" }, if to < words.len() { " …" } else { "" });
        format!("{left}{middle}{right}")
    };
    (cut(&a), cut(&b))
}

/// Findings that are told beside the rows of `expect` blocks: those that say that such a row fails are told there.
pub(super) fn told(findings: &[Placed]) -> impl Iterator<Item = &Placed> {
    let row = keyon_check::rules::teaching::expectation_failed::RULE.name();
    findings.iter().filter(move |finding| finding.rule != row)
}

/// Sheets that have to be printed anew: `orchard_sprayer dead_left (2 answers)`.
pub(super) fn sheets(comparison: &Comparison) -> Vec<String> {
    let all = comparison.circuits.iter().flat_map(|circuit| {
        circuit.sheets().map(|(name, count)| {
            let answers = if count == 1 { "1 answer".to_owned() } else { format!("{count} answers") };
            format!("{} {name} ({answers})", circuit.circuit)
        })
    });
    all.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_line_is_cut_down_to_what_differs() {
        let line = |ohms: &str| format!("part boom_valve(coil: resistance = {ohms} ohm) \"Boom valve\" {{");
        let (old, new) = shortened(&line("24"), &line("20"));
        assert_eq!(old, "… boom_valve(coil: resistance = 24 ohm) …");
        assert_eq!(new, "… boom_valve(coil: resistance = 20 ohm) …");
        assert_eq!(shortened("coil 24 ohm", "coil 20 ohm"), ("coil 24 ohm".into(), "coil 20 ohm".into()));
        let long = "a ".repeat(30);
        let (old, new) = shortened(long.trim_end(), &format!("{long}b"));
        assert!(old.ends_with("a a a") && new.ends_with("a a a b"), "{old} {new}");
    }
}
