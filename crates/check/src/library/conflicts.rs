//! Laying what files say side by side.

use super::{Said, Spot, Subject, Summary, Words};
use crate::{Checked, Finding, Level, rules::wiring};
use keyon_circuit::{hash::Map, model::Loc};
use smol_str::SmolStr;

/// What to do about any conflict.
pub const HELP: &str = "find out on the machine which is right, and correct the other file";

/// Two files that speak against one another.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Conflict {
    /// Index of the file that is blamed: the later of the two.
    pub file: usize,
    pub at: Spot,
    pub rule: &'static str,
    /// Of what both speak, as a person says it.
    pub what: String,
    pub message: String,
    pub help: &'static str,
    /// Index of the other file, and where it says so.
    pub other: usize,
    pub other_at: Spot,
}

/// The findings of `cavity-conflict` and `wire-conflict` over the circuits of a library, each with the index of the
/// file in which it stands; the other file is named in the message. In the order of files and places.
pub fn conflicts(files: &[&Checked]) -> Vec<(usize, Finding)> {
    let summaries: Vec<Summary> = files.iter().map(|c| Summary::new(&c.elaboration)).collect();
    let summaries: Vec<&Summary> = summaries.iter().collect();
    let name = |file: usize, at: &Spot| {
        let source = files.get(file).and_then(|c| c.elaboration.files.get(at.file.index()));
        source.map_or_else(String::new, |source| source.key.to_string())
    };
    let found = conflicts_of(&summaries, &name).into_iter().map(|conflict| {
        let finding = Finding {
            rule: conflict.rule,
            level: Level::Warning,
            // No item: the bytes stand as they are.
            loc: Loc { file: conflict.at.file, item: u32::MAX, span: conflict.at.span },
            message: conflict.message,
            help: Some(conflict.help.to_owned()),
            related: Vec::new(),
            fixes: Vec::new(),
        };
        (conflict.file, finding)
    });
    found.collect()
}

/// The same from summaries; `name` says how a place's file is called. In the order of files and places.
pub fn conflicts_of(files: &[&Summary], name: &dyn Fn(usize, &Spot) -> String) -> Vec<Conflict> {
    let together = Together::new(files);
    let mut cavities: Map<(u32, &SmolStr), Vec<(usize, &Said)>> = Map::default();
    let mut numbers: Map<(usize, &SmolStr), Vec<(usize, &Said)>> = Map::default();
    for (file, summary) in files.iter().enumerate() {
        // Nobody can speak against who stands alone.
        let Some(group) = together.group(file) else { continue };
        for said in &summary.said {
            match &said.subject {
                Subject::Cavity { unit, cavity } => {
                    if let Some(unit) = together.shared(unit) {
                        cavities.entry((unit, cavity)).or_default().push((file, said));
                    }
                }
                Subject::Wire(number) => numbers.entry((group, number)).or_default().push((file, said)),
            }
        }
    }
    let mut found = Vec::new();
    for ((_, cavity), said) in &cavities {
        let rule = wiring::cavity_conflict::RULE.name;
        compare(said, rule, &|| format!("cavity `{cavity}`"), name, &mut found);
    }
    for ((_, number), said) in &numbers {
        compare(said, wiring::wire_conflict::RULE.name, &|| format!("wire `{number}`"), name, &mut found);
    }
    found.sort_by(|a: &Conflict, b| {
        (a.file, a.at.span.start, a.rule, &a.message, a.other, a.other_at).cmp(&(
            b.file,
            b.at.span.start,
            b.rule,
            &b.message,
            b.other,
            b.other_at,
        ))
    });
    found
}

/// Which files draw the same units, directly or by way of others.
struct Together<'a> {
    /// Units that more than one file draws are `Some`.
    units: Map<&'a SmolStr, (usize, Option<u32>)>,
    belongs: Vec<usize>,
    /// Of each group's first file: whether it has others.
    several: Vec<bool>,
}

impl<'a> Together<'a> {
    fn new(files: &[&'a Summary]) -> Self {
        let mut units: Map<&SmolStr, (usize, Option<u32>)> = Map::default();
        let mut belongs: Vec<usize> = (0..files.len()).collect();
        let mut shared = 0;
        for (file, summary) in files.iter().enumerate() {
            for unit in &summary.units {
                let (first, number) = units.entry(unit).or_insert((file, None));
                if *first == file {
                    continue;
                }
                join(&mut belongs, *first, file);
                number.get_or_insert_with(|| {
                    shared += 1;
                    shared
                });
            }
        }
        let mut several = vec![false; files.len()];
        for file in 0..files.len() {
            let first = root(&belongs, file);
            if let Some(slot) = several.get_mut(first).filter(|_| first != file) {
                *slot = true;
            }
        }
        Self { units, belongs, several }
    }

    /// The number of a unit that several files draw.
    fn shared(&self, unit: &SmolStr) -> Option<u32> {
        self.units.get(unit)?.1
    }

    /// The first file of the group to which a file belongs; `None` if it is alone.
    fn group(&self, file: usize) -> Option<usize> {
        let first = root(&self.belongs, file);
        self.several.get(first).copied().unwrap_or(false).then_some(first)
    }
}

/// How two sayings differ: a word on it, what the one says, what the other says.
fn difference(this: &Said, other: &Said) -> Option<(&'static str, String, String)> {
    let all = |set: &Words| set.iter().map(SmolStr::as_str).collect::<Vec<_>>().join(", ");
    let apart = |a: &Words, b: &Words| {
        !a.is_empty() && !b.is_empty() && a.iter().all(|word| b.binary_search(word).is_err())
    };
    let differ = |a: &Option<SmolStr>, b: &Option<SmolStr>| match (a, b) {
        (Some(a), Some(b)) if a != b => Some((a.to_string(), b.to_string())),
        _ => None,
    };
    if let Some((a, b)) = differ(&this.meaning, &other.meaning) {
        Some(("", a, b))
    } else if apart(&this.colours, &other.colours) {
        Some(("the colour ", all(&this.colours), all(&other.colours)))
    } else if apart(&this.gauges, &other.gauges) {
        Some(("the gauge ", all(&this.gauges), all(&other.gauges)))
    } else {
        differ(&this.wire, &other.wire).map(|(a, b)| ("wire ", a, b))
    }
}

/// Each later saying against the first that speaks of the same thing otherwise.
fn compare(
    said: &[(usize, &Said)],
    rule: &'static str,
    what: &dyn Fn() -> String,
    name: &dyn Fn(usize, &Spot) -> String,
    out: &mut Vec<Conflict>,
) {
    // What was said so far, each kind once: a thousand files that agree are one to compare with.
    let mut kinds: Vec<(usize, &Said)> = Vec::new();
    for &(file, this) in said {
        // As a rule all agree.
        if kinds.len() == 2 && kinds.iter().all(|(_, kind)| same(kind, this)) {
            continue;
        }
        let mut others = kinds.iter().filter(|(other, _)| *other != file);
        let differs = others.find_map(|&(o, other)| Some((o, other, difference(this, other)?)));
        // Two of a kind are kept, of two files: a file is not compared with itself.
        let mut alike = kinds.iter().filter(|(_, kind)| same(kind, this)).map(|(file, _)| *file);
        if alike.clone().count() < 2 && alike.all(|other| other != file) {
            kinds.push((file, this));
        }
        let Some((other, there, (kind, a, b))) = differs else { continue };
        if this.allowed {
            continue;
        }
        let what = what();
        out.push(Conflict {
            file,
            at: this.at,
            rule,
            what: what.clone(),
            message: format!(
                "{what} has {kind}`{a}` here and {kind}`{b}` in {}, line {}: one of the two is wrong",
                name(other, &there.at),
                there.at.line
            ),
            help: HELP,
            other,
            other_at: there.at,
        });
    }
}

/// Whether two say the same of their subject.
fn same(a: &Said, b: &Said) -> bool {
    (&a.meaning, &a.wire, &a.colours, &a.gauges) == (&b.meaning, &b.wire, &b.colours, &b.gauges)
}

fn root(belongs: &[usize], mut at: usize) -> usize {
    while let Some(&next) = belongs.get(at).filter(|next| **next != at) {
        at = next;
    }
    at
}

fn join(belongs: &mut [usize], a: usize, b: usize) {
    let (a, b) = (root(belongs, a), root(belongs, b));
    if let Some(slot) = belongs.get_mut(a.max(b)) {
        *slot = a.min(b);
    }
}
