//! A supply joined to ground with no load between.
//!
//! The finding stands at the element that closes the path: the one without which most loads keep their feed and their
//! return. Of several in a row that is the wire (or the diode, the fuse) nearest to ground.

use crate::{Context, Finding, facts::shorts::Short, words};
use keyon_circuit::model::ElementKind;
use keyon_solve::Cancelled;

crate::rule::rule! {
    name: "supply-to-ground",
    level: Error,
    group: "power",
    summary: "Some state of the controls joins a supply to ground with no load between: a short circuit.",
    why: "\
Nothing but the wiring limits the current. With a fuse on the way the fuse blows and everything behind it is dead; \
without one the wire glows and its insulation burns. A bigger fuse is never the answer: find the short.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let circuit = context.circuit;
    for short in context.facts.shorts()?.iter().filter(|s| s.other.is_none() && !between_stages(context, s)) {
        let Some(place) = context.facts.place(short.blame) else { continue };
        let source = words::name(circuit, short.source);
        let path = words::path(circuit, short.start, &short.path);
        // Of several in line the smallest goes first.
        let fuses = short.path.iter().filter_map(|&id| {
            let e = circuit.elements.get(id.index()).filter(|e| matches!(e.kind, ElementKind::Fuse(_)))?;
            Some((id, e.rating.map_or(f64::INFINITY, |amps| amps.nominal)))
        });
        let fuse = fuses.min_by(|a, b| a.1.total_cmp(&b.1)).map(|(fuse, _)| fuse);
        let (ends, see) = match fuse {
            Some(fuse) => (format!("{} blows", words::thing(circuit, fuse)), context.facts.place(fuse)),
            None => ("nothing limits the current and the wiring burns".to_owned(), None),
        };
        let diode = circuit.elements.get(short.blame.index()).is_some_and(|e| e.kind == ElementKind::Diode);
        let help = if diode {
            "turn the diode round: its cathode belongs on the fed side"
        } else {
            "take this connection off, or put the load into it that was meant"
        };
        let mut finding = RULE
            .at(
                place,
                format!(
                    "{}, this joins `{source}` to ground with no load between: {ends}. The path: {path}",
                    words::with(circuit, &short.away)
                ),
            )
            .help(help);
        if let Some(see) = see.filter(|see| *see != place) {
            finding = finding.see(see, "this one blows");
        }
        out.push(finding);
    }
    Ok(())
}

/// Two driver stages against each other are told as such.
pub(super) fn between_stages(context: &Context<'_>, short: &Short) -> bool {
    let stage = |e: &&keyon_circuit::ids::ElementId| {
        context.circuit.elements.get(e.index()).is_some_and(|e| e.kind == ElementKind::Stage)
    };
    short.path.iter().filter(stage).nth(1).is_some()
}
