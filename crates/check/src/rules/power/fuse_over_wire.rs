//! A fuse rated above what a wire behind it carries.
//!
//! Who is to blame: where some wires behind the fuse are thick enough, the thin ones, each run of them at the line of its
//! thinnest. Where none is, the fuse, if a smaller one would carry the load and protect them; else the wires.

use crate::{
    Context, Finding,
    facts::{graph::is_continuity, protection::Gauged},
    fix::edit,
    words,
};
use keyon_circuit::{
    Fix,
    ids::ElementId,
    model::{COMMON, ElementKind, Fuse, Loc},
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
        let within = context.facts.graph().within(&behind);
        let wires: Vec<Gauged> = within.into_iter().filter_map(|e| context.facts.gauged(e)).collect();
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
        for run in runs(context, fuse.element, &thin, &thick) {
            out.extend(blame_run(context, fuse, rating, &run));
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

/// The thin wires that follow one another, one list a run: they meet where no other wire and not the fuse is.
fn runs(context: &Context<'_>, fuse: ElementId, thin: &[Gauged], thick: &[Gauged]) -> Vec<Vec<Gauged>> {
    let circuit = context.circuit;
    let element = |id: ElementId| circuit.elements.get(id.index());
    let ends = |wire: &Gauged| element(wire.element).map_or([COMMON; 2], |e| [e.from, e.to]);
    let mut run: Vec<usize> = (0..thin.len()).collect();
    for (index, wire) in thin.iter().enumerate() {
        for end in ends(wire) {
            let joint = context.facts.graph().flood(&[end], |e, step| {
                let ends = matches!(e.kind, ElementKind::Wire | ElementKind::Fuse(_) | ElementKind::Ground);
                is_continuity(e) && !ends && step.to != COMMON
            });
            let meets = |wire: &Gauged| ends(wire).iter().any(|&p| joint.has(p));
            let at_fuse = element(fuse).is_some_and(|e| joint.has(e.from) || joint.has(e.to));
            if at_fuse || thick.iter().any(meets) {
                continue;
            }
            for (other, _) in thin.iter().enumerate().filter(|(other, wire)| *other != index && meets(wire)) {
                let (Some(&a), Some(&b)) = (run.get(index), run.get(other)) else { continue };
                run.iter_mut().filter(|r| **r == a.max(b)).for_each(|r| *r = a.min(b));
            }
        }
    }
    let heads = (0..thin.len()).filter(|&at| run.get(at) == Some(&at));
    let members = |head: usize| thin.iter().zip(&run).filter(move |(_, r)| **r == head).map(|(w, _)| *w);
    heads.map(|head| members(head).collect()).collect()
}

fn blame_run(context: &Context<'_>, fuse: &Fuse, rating: f64, run: &[Gauged]) -> Option<Finding> {
    let wire = run.iter().min_by(|a, b| a.carries.total_cmp(&b.carries))?;
    let place = context.facts.place(wire.element)?;
    let mut finding = blame_wire(context, fuse, rating, wire, place);
    let mut seen = vec![place];
    for other in run {
        let at = context.facts.place(other.element).filter(|at| !seen.contains(at));
        if let Some(at) = at {
            seen.push(at);
            finding = finding
                .see(at, format!("in the same run: it carries {}", words::quantity(other.carries, "A")));
        }
    }
    Some(finding)
}

fn blame_wire(context: &Context<'_>, fuse: &Fuse, rating: f64, wire: &Gauged, place: Loc) -> Finding {
    let name = words::name(context.circuit, wire.element);
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
        .see(fuse.loc, format!("rated {}", words::quantity(rating, "A")))
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
