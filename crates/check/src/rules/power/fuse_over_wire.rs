//! A fuse rated above what a wire behind it carries.
//!
//! Who is to blame: where some wires behind the fuse are thick enough, the thin ones, each at its line. Where none is,
//! the fuse, if a smaller one would carry the load and protect them; else the wires.

use crate::{Context, Finding, facts::protection::Gauged, fix::edit, words};
use keyon_circuit::{
    Fix,
    ids::ElementId,
    model::{Fuse, Loc},
};
use keyon_solve::Cancelled;
use keyon_syntax::tree::ItemKind;

crate::rule::rule! {
    name: "fuse-over-wire",
    level: Error,
    group: "power",
    summary: "A fuse is rated above what a wire behind it carries.",
    why: "\
A fuse protects the wire, not the load. When the wire carries less than the fuse, a short in it heats the wire until \
its insulation burns, and the fuse stays whole. What counts is every wire from the fuse to the next fuse, to the load, or to \
a driver that limits the current itself.",
    settings: ["ampacity", "ambient", "insulation", "fuses", "fuse-load"],
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let circuit = context.circuit;
    for fuse in &circuit.fuses {
        let Some(rating) = circuit.elements.get(fuse.element.index()).and_then(|e| e.rating) else {
            continue;
        };
        let rating = rating.nominal;
        let behind = context.facts.behind(fuse.element);
        let wires: Vec<Gauged> = circuit
            .elements
            .iter()
            .enumerate()
            .filter(|(_, e)| behind.has(e.from) && behind.has(e.to))
            .filter_map(|(i, _)| context.facts.gauged(i.into()))
            .collect();
        let (thin, thick): (Vec<Gauged>, Vec<Gauged>) =
            wires.into_iter().partition(|w| w.carries < rating * (1.0 - 1e-9));
        let Some(weakest) = thin.iter().min_by(|a, b| a.carries.total_cmp(&b.carries)) else { continue };
        if thick.is_empty() {
            let worst = context.facts.worst(fuse.element)?;
            // The largest that protects the wire: it carries the load with the most to spare.
            let fits = context.settings.fuse_ratings.iter().rfind(|r| **r <= weakest.carries);
            if let Some(&needed) = fits.filter(|r| **r * context.settings.fuse_load >= worst.amps.abs()) {
                out.push(blame_fuse(context, fuse, rating, &thin, weakest, needed));
                continue;
            }
        }
        for wire in &thin {
            out.extend(blame_wire(context, fuse, rating, wire));
        }
    }
    Ok(())
}

fn blame_fuse(
    context: &Context<'_>,
    fuse: &Fuse,
    rating: f64,
    thin: &[Gauged],
    weakest: &Gauged,
    needed: f64,
) -> Finding {
    let circuit = context.circuit;
    let names: Vec<_> = thin.iter().map(|w| words::name(circuit, w.element)).collect();
    let (plural, carry) = if thin.len() == 1 { ("wire", "carries") } else { ("wires", "carry") };
    let mut finding = RULE
        .at(
            fuse.loc,
            format!(
                "`{}` is rated {}, but the {plural} {} behind it {carry} {} ({}) at most: in a short the wire burns before \
                 the fuse blows",
                fuse.name,
                words::quantity(rating, "A"),
                words::names(&names),
                words::quantity(weakest.carries, "A"),
                words::quantity(weakest.area, "mm2"),
            ),
        )
        .help(format!("a fuse of {} carries the load and protects the {plural}", words::quantity(needed, "A")))
        .fixes(smaller(context, fuse, needed));
    for wire in thin.iter().take(4) {
        if let Some(place) = context.facts.place(wire.element) {
            finding = finding.see(place, format!("carries {}", words::quantity(wire.carries, "A")));
        }
    }
    finding
}

/// Writes another rating.
fn smaller(context: &Context<'_>, fuse: &Fuse, rating: f64) -> Option<Fix> {
    let ItemKind::Fuse(item) = &edit::item(context.elaboration, fuse.loc)?.kind else { return None };
    let loc = Loc { span: item.rating.as_ref()?.span, ..fuse.loc };
    let rating = words::quantity(rating, "A");
    Some(edit::review(format!("fit {rating}"), vec![(loc, rating)]))
}

fn blame_wire(context: &Context<'_>, fuse: &Fuse, rating: f64, wire: &Gauged) -> Option<Finding> {
    let name = words::name(context.circuit, wire.element);
    let place = context.facts.place(wire.element)?;
    Some(
        RULE.at(
            place,
            format!(
                "wire `{name}` ({}) carries {} at most, but `{}` before it is rated {}: in a short the wire burns before the \
                 fuse blows",
                words::quantity(wire.area, "mm2"),
                words::quantity(wire.carries, "A"),
                fuse.name,
                words::quantity(rating, "A"),
            ),
        )
        .help(help(context, rating))
        .fixes(thicker(context, rating, wire.element))
        .see(fuse.loc, format!("rated {}", words::quantity(rating, "A"))),
    )
}

fn thicker(context: &Context<'_>, rating: f64, wire: ElementId) -> Option<Fix> {
    let (area, _) = context.settings.ampacity.iter().find(|(_, amps)| *amps >= rating)?;
    crate::rules::wiring::thin_wire::thicker(context, wire, *area)
}

fn help(context: &Context<'_>, rating: f64) -> String {
    let rows = &context.settings.ampacity;
    match rows.iter().find(|(_, amps)| *amps >= rating) {
        Some((area, _)) => {
            format!("use {} or more, or a smaller fuse if the load allows it", words::quantity(*area, "mm2"))
        }
        None => "use a thicker wire, or a smaller fuse if the load allows it".to_owned(),
    }
}
