//! What the files of a library say against one another: one cavity of a unit, one wire number, with two meanings.
//!
//! Only files that belong together are compared: those that draw the same unit, whether it comes from one parts library
//! or bears the same name and title. Circuits of different machines may number their wires as they like.
//!
//! Each file is first brought down to a [`Summary`], so that a big library is never in memory as a whole, and so that
//! what is known of an unchanged file can be kept.

use crate::{Checked, Finding, Level, allow, rules::wiring};
use keyon_circuit::{
    Elaboration,
    ids::*,
    model::{Loc, Module, Owner},
};
use keyon_syntax::Span;
use smol_str::{SmolStr, format_smolstr};
use std::collections::{BTreeMap, BTreeSet};

/// What one circuit says of the cavities and the wire numbers that other circuits may speak of too.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Summary {
    /// The units that it draws: a part of a library, or a name and a title.
    pub units: Vec<SmolStr>,
    #[allow(missing_docs)]
    pub said: Vec<Said>,
}

/// What one file says of a cavity or of a wire number.
#[derive(Clone, Debug, PartialEq)]
pub struct Said {
    /// Of which.
    pub subject: Subject,
    /// Where.
    pub at: Spot,
    /// A cavity's name.
    pub meaning: Option<SmolStr>,
    /// The number of the wire that lands in a cavity.
    pub wire: Option<SmolStr>,
    #[allow(missing_docs)]
    pub colours: BTreeSet<SmolStr>,
    #[allow(missing_docs)]
    pub gauges: BTreeSet<SmolStr>,
    /// An `allow` silences what is said against it.
    pub allowed: bool,
}

/// A cavity of a unit, or a wire number.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[allow(missing_docs)]
pub enum Subject {
    Cavity { unit: SmolStr, cavity: SmolStr },
    Wire(SmolStr),
}

/// A place that needs no tree: bytes of one of the elaboration's files.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[allow(missing_docs)]
pub struct Spot {
    pub file: FileId,
    /// Absolute.
    pub span: Span,
    /// From 1.
    pub line: u32,
}

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

impl Summary {
    /// What a circuit says.
    pub fn new(elaboration: &Elaboration) -> Self {
        let circuit = &elaboration.circuit;
        let mut summary = Self::default();
        // A circuit without a unit belongs to no other.
        if circuit.modules.is_empty() {
            return summary;
        }
        let mut spots = Spots::new(elaboration);
        for module in &circuit.modules {
            let unit = unit(elaboration, module);
            for connector in &module.connectors {
                for cavity in connector.cavities.iter().filter(|c| !c.landings.is_empty()) {
                    let name = format_smolstr!("{}.{}", connector.name, cavity.number);
                    let (mut said, mut loc) = of_wires(elaboration, &cavity.landings, module.loc);
                    said.meaning = (!cavity.name.is_empty()).then(|| cavity.name.clone());
                    if cavity.loc.file == FileId(0) {
                        loc = cavity.loc;
                    }
                    said.subject = Subject::Cavity { unit: unit.clone(), cavity: name };
                    summary.said.push(spots.placed(said, loc, wiring::cavity_conflict::RULE.name));
                }
            }
            summary.units.push(unit);
        }
        // Within one file a number may go on in another colour.
        let mut numbers: BTreeMap<SmolStr, usize> = BTreeMap::new();
        for wire in circuit.wires.iter().filter(|w| w.numbered) {
            let elements: Vec<ElementId> = wire.stretches.iter().map(|s| s.element).collect();
            let (mut said, _) = of_wires(elaboration, &elements, wire.loc);
            said.wire = None;
            said.subject = Subject::Wire(wire.name.clone());
            let known = numbers.get(&wire.name).copied();
            if let Some(first) = known.and_then(|i| summary.said.get_mut(i)) {
                first.colours.extend(said.colours);
                first.gauges.extend(said.gauges);
                continue;
            }
            numbers.insert(wire.name.clone(), summary.said.len());
            summary.said.push(spots.placed(said, wire.loc, wiring::wire_conflict::RULE.name));
        }
        summary
    }
}

/// Makes places of a file's trees.
struct Spots<'a> {
    elaboration: &'a Elaboration,
    lines: BTreeMap<FileId, keyon_syntax::line::LineIndex>,
    allows: allow::Allows<'a>,
}

impl<'a> Spots<'a> {
    fn new(elaboration: &'a Elaboration) -> Self {
        Self { elaboration, lines: BTreeMap::new(), allows: allow::Allows::new(elaboration) }
    }

    fn placed(&mut self, mut said: Said, loc: Loc, rule: &'static str) -> Said {
        let span = self.elaboration.span(loc);
        let text = self.elaboration.files.get(loc.file.index()).map_or("", |f| &*f.text);
        let lines = self.lines.entry(loc.file).or_insert_with(|| keyon_syntax::line::LineIndex::new(text));
        let line = lines.position(text, span.start, keyon_syntax::line::Encoding::Utf32).line + 1;
        said.at = Spot { file: loc.file, span, line };
        said.allowed = self.allows.cover(rule, loc);
        said
    }
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
    let mut cavities: BTreeMap<(&SmolStr, &SmolStr), Vec<(usize, &Said)>> = BTreeMap::new();
    let mut belongs: Vec<usize> = (0..files.len()).collect();
    let mut first_with: BTreeMap<&SmolStr, usize> = BTreeMap::new();
    for (file, summary) in files.iter().enumerate() {
        for unit in &summary.units {
            let first = *first_with.entry(unit).or_insert(file);
            join(&mut belongs, first, file);
        }
        for said in &summary.said {
            if let Subject::Cavity { unit, cavity } = &said.subject {
                cavities.entry((unit, cavity)).or_default().push((file, said));
            }
        }
    }
    let mut found = Vec::new();
    for ((_, cavity), said) in &cavities {
        let rule = wiring::cavity_conflict::RULE.name;
        compare(said, rule, &format!("cavity `{cavity}`"), name, &mut found);
    }
    let mut numbers: BTreeMap<(usize, &SmolStr), Vec<(usize, &Said)>> = BTreeMap::new();
    for (file, summary) in files.iter().enumerate() {
        let root = root(&belongs, file);
        for said in &summary.said {
            if let Subject::Wire(number) = &said.subject {
                numbers.entry((root, number)).or_default().push((file, said));
            }
        }
    }
    for ((_, number), said) in &numbers {
        compare(said, wiring::wire_conflict::RULE.name, &format!("wire `{number}`"), name, &mut found);
    }
    found.sort_by(|a, b| {
        (a.file, a.at.span.start, a.rule, &a.message).cmp(&(b.file, b.at.span.start, b.rule, &b.message))
    });
    found
}

/// Of which unit a module is one, across files.
fn unit(elaboration: &Elaboration, module: &Module) -> SmolStr {
    let part = module.part.as_ref().and_then(|part| {
        let file = elaboration.files.get(part.loc?.file.index())?;
        Some(format_smolstr!("{}#{}", file.key, part.name))
    });
    part.unwrap_or_else(|| format_smolstr!("{}\"{}", module.name, module.title.as_deref().unwrap_or("")))
}

fn of_wires(elaboration: &Elaboration, elements: &[ElementId], loc: Loc) -> (Said, Loc) {
    let circuit = &elaboration.circuit;
    let mut place = loc;
    let mut said = Said {
        subject: Subject::Wire(SmolStr::default()),
        at: Spot { file: loc.file, span: loc.span, line: 1 },
        meaning: None,
        wire: None,
        colours: BTreeSet::new(),
        gauges: BTreeSet::new(),
        allowed: false,
    };
    for element in elements {
        let Some(e) = circuit.elements.get(element.index()) else { continue };
        let Owner::Wire(id) = e.owner else { continue };
        let Some(wire) = circuit.wires.get(id.index()) else { continue };
        let Some(stretch) = wire.stretches.iter().find(|s| s.element == *element) else { continue };
        said.colours.extend(stretch.colour.clone());
        said.gauges.extend(stretch.gauge.clone());
        if wire.numbered {
            said.wire = Some(wire.name.clone());
        }
        if loc.file != FileId(0) || e.loc.file == FileId(0) {
            place = e.loc;
        }
    }
    (said, place)
}

/// How two sayings differ: a word on it, what the one says, what the other says.
fn difference(this: &Said, other: &Said) -> Option<(&'static str, String, String)> {
    let all = |set: &BTreeSet<SmolStr>| set.iter().map(SmolStr::as_str).collect::<Vec<_>>().join(", ");
    let apart = |a: &BTreeSet<SmolStr>, b: &BTreeSet<SmolStr>| {
        !a.is_empty() && !b.is_empty() && a.intersection(b).next().is_none()
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
    what: &str,
    name: &dyn Fn(usize, &Spot) -> String,
    out: &mut Vec<Conflict>,
) {
    // What was said so far, each kind once: a thousand files that agree are one to compare with.
    let mut kinds: Vec<(usize, &Said)> = Vec::new();
    for &(file, this) in said {
        let mut others = kinds.iter().filter(|(other, _)| *other != file);
        let differs = others.find_map(|&(o, other)| Some((o, other, difference(this, other)?)));
        let same = |k: &Said| {
            (&k.meaning, &k.wire, &k.colours, &k.gauges)
                == (&this.meaning, &this.wire, &this.colours, &this.gauges)
        };
        // Two of a kind are kept, of two files: a file is not compared with itself.
        let alike: Vec<usize> = kinds.iter().filter(|(_, k)| same(k)).map(|(file, _)| *file).collect();
        if alike.len() < 2 && !alike.contains(&file) {
            kinds.push((file, this));
        }
        let Some((other, there, (kind, a, b))) = differs else { continue };
        if this.allowed {
            continue;
        }
        out.push(Conflict {
            file,
            at: this.at,
            rule,
            what: what.to_owned(),
            message: format!(
                "{what} has {kind}`{a}` here and {kind}`{b}` in {}, line {}: one of the two is wrong",
                name(other, &there.at),
                there.at.line
            ),
            help: "find out on the machine which is right, and correct the other file",
            other,
            other_at: there.at,
        });
    }
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
