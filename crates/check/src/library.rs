//! What the files of a library say against one another: one cavity of a unit, one wire number, with two meanings.
//!
//! Only files that belong together are compared: those that draw the same unit, whether it comes from one parts library
//! or bears the same name and title. Circuits of different machines may number their wires as they like.
//!
//! Each file is first brought down to a [`Summary`], so that a big library is never in memory as a whole, and so that
//! what is known of an unchanged file can be kept.

mod conflicts;

use crate::{allow, rules::wiring};
pub use conflicts::{Conflict, HELP, conflicts, conflicts_of};
use keyon_circuit::{
    Elaboration,
    hash::Map,
    ids::*,
    joined::dotted,
    model::{Loc, Module, Owner},
};
use keyon_syntax::Span;
use smallvec::SmallVec;
use smol_str::{SmolStr, format_smolstr};
use std::collections::BTreeMap;

/// Words in order, each once. A wire has one colour and one gauge, as a rule.
pub type Words = SmallVec<[SmolStr; 1]>;

/// Adds words, keeping them in order and each once.
fn add(words: &mut Words, more: impl IntoIterator<Item = SmolStr>) {
    for word in more {
        if let Err(at) = words.binary_search(&word) {
            words.insert(at, word);
        }
    }
}

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
    pub colours: Words,
    #[allow(missing_docs)]
    pub gauges: Words,
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

impl Said {
    /// Nothing yet of a subject.
    fn of(subject: Subject, loc: Loc) -> Self {
        Self {
            subject,
            at: Spot { file: loc.file, span: loc.span, line: 1 },
            meaning: None,
            wire: None,
            colours: Words::new(),
            gauges: Words::new(),
            allowed: false,
        }
    }
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
        let cavities = circuit.modules.iter().flat_map(|m| &m.connectors).map(|c| c.cavities.len());
        summary.said.reserve(circuit.wires.len() + cavities.sum::<usize>());
        for module in &circuit.modules {
            let unit = unit(elaboration, module);
            for connector in &module.connectors {
                for cavity in connector.cavities.iter().filter(|c| !c.landings.is_empty()) {
                    let name = dotted(&connector.name, &cavity.number);
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
        let mut numbers: Map<&SmolStr, usize> = Map::default();
        numbers.reserve(circuit.wires.len());
        for wire in circuit.wires.iter().filter(|w| w.numbered) {
            let colours = wire.stretches.iter().filter_map(|s| s.colour.clone());
            let gauges = wire.stretches.iter().filter_map(|s| s.gauge.clone());
            let known = numbers.get(&wire.name).copied();
            if let Some(first) = known.and_then(|i| summary.said.get_mut(i)) {
                add(&mut first.colours, colours);
                add(&mut first.gauges, gauges);
                continue;
            }
            let mut said = Said::of(Subject::Wire(wire.name.clone()), wire.loc);
            add(&mut said.colours, colours);
            add(&mut said.gauges, gauges);
            numbers.insert(&wire.name, summary.said.len());
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
    let mut said = Said::of(Subject::Wire(SmolStr::default()), loc);
    for element in elements {
        let Some(e) = circuit.elements.get(element.index()) else { continue };
        let Owner::Wire(id) = e.owner else { continue };
        let Some(wire) = circuit.wires.get(id.index()) else { continue };
        let Some(stretch) = wire.stretches.iter().find(|s| s.element == *element) else { continue };
        add(&mut said.colours, stretch.colour.clone());
        add(&mut said.gauges, stretch.gauge.clone());
        if wire.numbered {
            said.wire = Some(wire.name.clone());
        }
        if loc.file != FileId(0) || e.loc.file == FileId(0) {
            place = e.loc;
        }
    }
    (said, place)
}
