//! A diode in a feed or a return that never conducts.

use crate::{Context, Finding, words};
use keyon_solve::Cancelled;

crate::rule::rule! {
    name: "blocked-diode",
    level: Warning,
    group: "power",
    summary: "A diode in series in a path is the wrong way round: it carries nothing in any state, or joins two feeds that it was to part.",
    why: "\
Two diodes that feed one device from two sides hide each other: with one of them the wrong way round everything works by the other, until \
its fuse blows or its switch is off. Told is only what would feed something, turned round, without a short. Diodes across a \
coil or across what switches it, those from a driver's output to a supply and those from or to ground, which conduct for a moment only, and the diode of a second supply that waits for the first to fail are sound. \
Told, too, is a diode out of a junction \
that one other diode feeds and nothing else, towards loads with a switch of their own: they work by the other switch, the junction does not \
work by theirs, and the other diode has nothing to block. \
Where nothing else feeds the device, `no-feed-path` or `no-return-path` names the diode.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let (circuit, facts) = (context.circuit, context.facts);
    for blocked in facts.blocked_diodes()? {
        let Some(place) = facts.place(blocked.diode) else { continue };
        let load = words::thing(circuit, blocked.load);
        let fuse =
            blocked.fuse.map_or(String::new(), |f| format!(" with {} blown", words::thing(circuit, f)));
        let diode = words::diode(circuit, blocked.diode);
        let message = match blocked.beside {
            None => format!(
                "{diode} conducts in no state: turned round it would feed {load}{fuse}, as it stands it is as good as a cut wire"
            ),
            Some(beside) => format!(
                "{diode} leads away from where {} leads to, and that one has nothing to block: turned round it would feed \
                 {load}, as it stands it feeds what has a switch of its own",
                words::diode(circuit, beside)
            ),
        };
        let mut finding = RULE
            .at(place, message)
            .help(format!("turn {diode} round: current passes a diode towards its bar only"));
        if let Some(see) = facts.place(blocked.load).filter(|see| *see != place) {
            finding = finding.see(see, "what it would feed");
        }
        out.push(finding);
    }
    Ok(())
}
