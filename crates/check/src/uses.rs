//! What is wrong inside a part is told once, however often the part is used.

use crate::Finding;
use keyon_circuit::{
    Elaboration,
    model::{Loc, PartUse},
};
use keyon_syntax::tree::ItemKind;

/// Of findings of one rule at one place of a part, one a use, leaves the first, and says with it which uses it is told of.
/// The findings are sorted.
pub(crate) fn once(elaboration: &Elaboration, findings: &mut Vec<Finding>) {
    let mut told: Vec<Finding> = Vec::with_capacity(findings.len());
    for finding in findings.drain(..) {
        let in_part = is_in_part(elaboration, finding.loc);
        let used = if in_part { used_at(elaboration, &finding) } else { None };
        let another = |before: &Finding| {
            let first = used_at(elaboration, before);
            first.is_some_and(|(at, _)| used.as_ref().is_some_and(|(other, _)| at != *other))
        };
        let same =
            |before: &Finding| (before.rule, before.loc) == (finding.rule, finding.loc) && another(before);
        // Others may stand between those of one rule at one place.
        let here = told.iter().rposition(|before| before.loc != finding.loc).map_or(0, |at| at + 1);
        let before = told.get_mut(here..).and_then(|here| here.iter_mut().find(|before| same(before)));
        let Some(before) = before.filter(|_| in_part) else {
            told.push(finding);
            continue;
        };
        for of in [used_at(elaboration, before), used] {
            let new = of.filter(|(at, _)| before.related.iter().all(|(known, _)| known != at));
            before.related.extend(new);
        }
    }
    *findings = told;
}

fn is_in_part(elaboration: &Elaboration, loc: Loc) -> bool {
    let file = elaboration.files.get(loc.file.index());
    let placed = file.and_then(|f| f.parse.file.items.get(loc.item as usize));
    placed.is_some_and(|placed| matches!(placed.item.kind, ItemKind::Part(_)))
}

/// The use of the part in which a finding stands that its message names.
fn used_at(elaboration: &Elaboration, finding: &Finding) -> Option<(Loc, String)> {
    let circuit = &elaboration.circuit;
    let of_part = |part: &Option<PartUse>| {
        let at = part.as_ref().and_then(|part| part.loc);
        at.is_some_and(|at| (at.file, at.item) == (finding.loc.file, finding.loc.item))
    };
    let devices = circuit.devices.iter().filter(|d| of_part(&d.part)).map(|d| (d.loc, d.name.as_str()));
    let modules = circuit.modules.iter().filter(|m| of_part(&m.part)).map(|m| (m.loc, m.name.as_str()));
    let named = |name: &str| {
        let quoted = finding.message.split('`').skip(1).step_by(2);
        // A path is a list of names without quotes.
        let path = finding.message.split_once("The path: ").map_or("", |(_, path)| path);
        let mut names = quoted.chain(path.split(" - "));
        names.any(|text| text.trim_end_matches('.').split('.').next() == Some(name))
    };
    devices
        .chain(modules)
        .find(|(_, name)| named(name))
        .map(|(at, name)| (at, format!("so it is in `{name}`")))
}
