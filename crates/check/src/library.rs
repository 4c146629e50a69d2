//! What the files of a library say against one another: one cavity of a unit, one wire number, with two meanings.
//!
//! Only files that belong together are compared: those that draw the same unit, whether it comes from one parts library
//! or bears the same name and title. Circuits of different machines may number their wires as they like.

use crate::{Checked, Finding, rules::wiring};
use keyon_circuit::{
    ids::*,
    model::{Loc, Module, Owner},
};
use smol_str::{SmolStr, format_smolstr};
use std::collections::{BTreeMap, BTreeSet};

/// What one file says of a cavity or of a wire number.
struct Said {
    file: usize,
    loc: Loc,
    meaning: Option<SmolStr>,
    wire: Option<SmolStr>,
    colours: BTreeSet<SmolStr>,
    gauges: BTreeSet<SmolStr>,
}

/// The findings of `cavity-conflict` and `wire-conflict` over the circuits of a library, each with the index of the
/// file in which it stands; the other file is named in the message. In the order of files and places.
pub fn conflicts(files: &[&Checked]) -> Vec<(usize, Finding)> {
    let mut found = Vec::new();
    let mut cavities: BTreeMap<(SmolStr, SmolStr), Vec<Said>> = BTreeMap::new();
    let mut belongs: Vec<usize> = (0..files.len()).collect();
    let mut first_with: BTreeMap<SmolStr, usize> = BTreeMap::new();
    for (file, checked) in files.iter().enumerate() {
        for module in &checked.elaboration.circuit.modules {
            let unit = unit(checked, module);
            let first = *first_with.entry(unit.clone()).or_insert(file);
            join(&mut belongs, first, file);
            for connector in &module.connectors {
                for cavity in connector.cavities.iter().filter(|c| !c.landings.is_empty()) {
                    let key = (unit.clone(), format_smolstr!("{}.{}", connector.name, cavity.number));
                    let mut said = of_wires(checked, file, &cavity.landings, module.loc);
                    said.meaning = (!cavity.name.is_empty()).then(|| cavity.name.clone());
                    if cavity.loc.file == FileId(0) {
                        said.loc = cavity.loc;
                    }
                    cavities.entry(key).or_default().push(said);
                }
            }
        }
    }
    for ((_, cavity), said) in &cavities {
        compare(files, said, wiring::cavity_conflict::RULE.name, &format!("cavity `{cavity}`"), &mut found);
    }
    let mut numbers: BTreeMap<(usize, SmolStr), Vec<Said>> = BTreeMap::new();
    for (file, checked) in files.iter().enumerate() {
        for wire in checked.elaboration.circuit.wires.iter().filter(|w| w.numbered) {
            let elements: Vec<ElementId> = wire.stretches.iter().map(|s| s.element).collect();
            let mut said = of_wires(checked, file, &elements, wire.loc);
            (said.wire, said.loc) = (None, wire.loc);
            let list = numbers.entry((root(&belongs, file), wire.name.clone())).or_default();
            // Within one file a number may go on in another colour.
            match list.last_mut().filter(|last| last.file == file) {
                Some(last) => {
                    last.colours.extend(said.colours);
                    last.gauges.extend(said.gauges);
                }
                None => list.push(said),
            }
        }
    }
    for ((_, number), said) in &numbers {
        compare(files, said, wiring::wire_conflict::RULE.name, &format!("wire `{number}`"), &mut found);
    }
    found.sort_by_cached_key(|(file, f)| {
        let at = files.get(*file).map_or(0, |c| c.elaboration.span(f.loc).start);
        (*file, at, f.rule, f.message.clone())
    });
    found
}

/// Of which unit a module is one, across files.
fn unit(checked: &Checked, module: &Module) -> SmolStr {
    let part = module.part.as_ref().and_then(|part| {
        let file = checked.elaboration.files.get(part.loc?.file.index())?;
        Some(format_smolstr!("{}#{}", file.key, part.name))
    });
    part.unwrap_or_else(|| format_smolstr!("{}\"{}", module.name, module.title.as_deref().unwrap_or("")))
}

fn of_wires(checked: &Checked, file: usize, elements: &[ElementId], loc: Loc) -> Said {
    let circuit = &checked.elaboration.circuit;
    let mut said =
        Said { file, loc, meaning: None, wire: None, colours: BTreeSet::new(), gauges: BTreeSet::new() };
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
            said.loc = e.loc;
        }
    }
    said
}

/// Each later saying against the first that speaks of the same thing.
fn compare(
    files: &[&Checked],
    said: &[Said],
    rule: &'static str,
    what: &str,
    out: &mut Vec<(usize, Finding)>,
) {
    for (i, this) in said.iter().enumerate() {
        let others = || said.iter().take(i).filter(|other| other.file != this.file);
        let apart = |a: &BTreeSet<SmolStr>, b: &BTreeSet<SmolStr>| {
            !a.is_empty() && !b.is_empty() && a.intersection(b).next().is_none()
        };
        let differs = others().find_map(|other| {
            let pair = |a: &SmolStr, b: &SmolStr| (a.to_string(), b.to_string());
            let all =
                |set: &BTreeSet<SmolStr>| set.iter().map(SmolStr::as_str).collect::<Vec<_>>().join(", ");
            let found = if let (Some(a), Some(b)) = (&this.meaning, &other.meaning)
                && a != b
            {
                Some(("", pair(a, b)))
            } else if apart(&this.colours, &other.colours) {
                Some(("the colour ", (all(&this.colours), all(&other.colours))))
            } else if apart(&this.gauges, &other.gauges) {
                Some(("the gauge ", (all(&this.gauges), all(&other.gauges))))
            } else if let (Some(a), Some(b)) = (&this.wire, &other.wire)
                && a != b
            {
                Some(("wire ", pair(a, b)))
            } else {
                None
            };
            found.map(|found| (other, found))
        });
        let Some((other, (kind, (here, there)))) = differs else { continue };
        let place = files.get(other.file).map_or(String::new(), |checked| {
            let file = checked.elaboration.files.first();
            let at = checked.elaboration.span(other.loc).start as usize;
            let text = file.and_then(|f| f.text.get(..at)).unwrap_or("");
            let key = file.map_or("", |f| f.key.as_str());
            format!("{key}, line {}", text.matches('\n').count() + 1)
        });
        let finding = Finding {
            rule,
            level: crate::Level::Warning,
            loc: this.loc,
            message: format!(
                "{what} has {kind}`{here}` here and {kind}`{there}` in {place}: one of the two is wrong"
            ),
            help: Some("find out on the machine which is right, and correct the other file".to_owned()),
            related: Vec::new(),
            fixes: Vec::new(),
        };
        out.push((this.file, finding));
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
