//! A part, splice, scenario or parameter that nothing uses. Found by elaboration.

use crate::fix::{edit, wiring};
use keyon_circuit::{Elaboration, Fix, Problem};
use keyon_syntax::tree::ItemKind;

crate::rule::rule! {
    name: "unused-name",
    level: Warning,
    group: "names",
    summary: "A part, a splice, a scenario or a part's parameter that nothing uses.",
    why: "\
A splice that no wire reaches, or a parameter that no element takes, is most often the other half of a mistake: a wire \
that was meant to land there, a value that was meant to come from there. A reader looks for it on the machine in vain. \
Scenarios count where the file claims something in any of them.",
}

/// Takes out what nothing uses: a whole item, or one parameter.
pub(crate) fn fix(elaboration: &Elaboration, problem: &Problem) -> Option<Fix> {
    if problem.rule != RULE.name {
        return None;
    }
    let item = edit::item(elaboration, problem.loc)?;
    let name = item.kind.name()?;
    if name.span == problem.loc.span {
        let line = edit::remove(elaboration, edit::whole(elaboration, problem.loc)?)?;
        return Some(edit::review(format!("take `{}` out", name.text), vec![line]));
    }
    let ItemKind::Part(part) = &item.kind else { return None };
    let index = part.params.iter().position(|param| param.name.span == problem.loc.span)?;
    let ends: Vec<_> = part
        .params
        .iter()
        .map(|p| {
            let end = p.default.as_ref().map_or(p.dimension.span, |value| value.span);
            keyon_syntax::tree::Name { span: p.name.span.to(end), ..p.name.clone() }
        })
        .collect();
    let edit = wiring::without(&ends, index, problem.loc)?;
    Some(edit::review(format!("take the parameter `{}` out", part.params.get(index)?.name.text), vec![edit]))
}
