//! Edits of wires, fuses and the points between them.

use super::edit::{self, Edit};
use crate::Context;
use keyon_circuit::{
    ids::*,
    model::{Loc, Owner},
};
use keyon_syntax::{
    Span,
    tree::{Gauge, ItemKind, Name},
};
use smol_str::{SmolStr, format_smolstr};

/// Where the name of a point stands at the end of a wire, or in the path of a fuse or a top-level element.
pub(crate) fn end_at(context: &Context<'_>, landing: ElementId, point: PointId) -> Option<Loc> {
    let circuit = context.circuit;
    let e = circuit.elements.get(landing.index())?;
    if let Owner::Wire(wire) = e.owner {
        let stretch = circuit.wires.get(wire.index())?.stretches.iter().find(|s| s.element == landing)?;
        let [from, to] = stretch.ends;
        return Some(if e.from == point { from } else { to });
    }
    let path = match &edit::item(context.elaboration, e.loc)?.kind {
        ItemKind::Fuse(fuse) => fuse.path.as_ref()?,
        ItemKind::Element(element) => element.path.as_ref()?,
        ItemKind::Switch(switch) => switch.path.as_ref()?,
        _ => return None,
    };
    let means = |name: &&Name| {
        circuit.lookup(&name.text).into_iter().any(|entity| circuit.point_of(entity) == Some(point))
    };
    let name = [&path.from, &path.to].into_iter().find(means)?;
    Some(Loc { span: name.span, ..e.loc })
}

/// The edit that gives a stretch of wire another gauge.
pub(crate) fn gauge(context: &Context<'_>, stretch: ElementId, area: f64) -> Option<Edit> {
    let circuit = context.circuit;
    let e = circuit.elements.get(stretch.index())?;
    let Owner::Wire(wire) = e.owner else { return None };
    let index = circuit.wires.get(wire.index())?.stretches.iter().position(|s| s.element == stretch)?;
    let ItemKind::Wire(tree) = &edit::item(context.elaboration, e.loc)?.kind else { return None };
    // What stands only at the end of a chain is the whole wire's.
    let own = tree.stretches.get(index).and_then(|s| s.gauge.as_ref());
    let span = match own.or(tree.stretches.last()?.gauge.as_ref())? {
        Gauge::Area(quantity) => quantity.span,
        Gauge::Awg(_, span) => *span,
    };
    Some((Loc { span, ..e.loc }, crate::words::quantity(area, "mm2")))
}

/// The gauge of a stretch of wire as it is written, with a blank before it; nothing where there is none.
pub(crate) fn gauge_text(context: &Context<'_>, stretch: ElementId) -> String {
    let owner = context.circuit.elements.get(stretch.index()).map(|e| e.owner);
    let Some(Owner::Wire(wire)) = owner else { return String::new() };
    let stretches = context.circuit.wires.get(wire.index()).map_or(&[][..], |w| &w.stretches);
    let gauge = stretches.iter().find(|s| s.element == stretch).and_then(|s| s.gauge.as_ref());
    gauge.map_or(String::new(), |gauge| format!("  {gauge}"))
}

/// The first of `F1`, `F2` … that nothing bears.
pub(crate) fn numbered(context: &Context<'_>, letter: &str) -> SmolStr {
    let count = context.circuit.elements.len() + context.circuit.points.len() + 2;
    let mut names = (1..count).map(|n| format_smolstr!("{letter}{n}"));
    names.find(|name| context.circuit.lookup(name).is_empty()).unwrap_or_default()
}

/// The name itself, if nothing bears it, else with a number behind it.
pub(crate) fn fresh(context: &Context<'_>, name: &str) -> SmolStr {
    if context.circuit.lookup(name).is_empty() {
        return name.into();
    }
    numbered(context, &format!("{name}_"))
}

/// The edit that takes one name out of a list that is written with commas. `None` if it is the only one.
pub(crate) fn without(names: &[Name], index: usize, near: Loc) -> Option<Edit> {
    let this = names.get(index)?.span;
    let span = match (index.checked_sub(1).and_then(|i| names.get(i)), names.get(index + 1)) {
        (Some(before), _) => Span { start: before.span.end, end: this.end },
        (None, Some(after)) => Span { start: this.start, end: after.span.start },
        (None, None) => return None,
    };
    Some((Loc { span, ..near }, String::new()))
}
