//! A signal that nothing gives a voltage to.

use crate::{
    Context, Facts, Finding,
    facts::{modules::Life, paths::node, signals::Input},
    words,
};
use keyon_circuit::model::{ElementKind, PointKind};
use keyon_solve::{Cancelled, Cases, NodeState};

crate::rule::rule! {
    name: "signal-without-reference",
    level: Error,
    group: "signal",
    summary: "A signal wire reaches a sensing pin, but no reference, supply or pull-up in any state.",
    why: "\
A sensor makes no voltage by itself: it divides one that a reference, a supply or a pull-up gives. Without any the module reads whatever the \
wire picks up, or 0 V whatever happens, and takes it for a measurement.",
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let facts = context.facts;
    for input in facts.inputs() {
        if facts.life(input.module)? != Life::Lives || facts.doubtful(input.cavity.outside) {
            continue;
        }
        let cases = facts.cases_of(&[input.cavity.inside], &[])?;
        // A sender at nothing pulls its input to ground, pull-up or not.
        let pulled =
            input.cavity.elements.iter().any(|e| {
                context.circuit.elements.get(e.index()).is_some_and(|e| e.kind == ElementKind::PullUp)
            });
        if cases.cut.is_some() || pulled || has_source(&cases, &input) || only_a_switch(facts, &input, &cases)
        {
            continue;
        }
        // A sensor that is turned round, or has no return, gives nothing either, and is told as that.
        let on = facts.wired(input.cavity.outside);
        let mut ailing = false;
        for sensor in facts.devices_on(&on).into_iter().flat_map(|device| facts.sensors_of(device)) {
            ailing |= facts.reversed(&sensor).is_some() || facts.lacks_return(&sensor)?;
        }
        if ailing {
            continue;
        }
        // What reaches it and is led away is there: `stuck-input` tells it of an input that knows high and low.
        let drained = facts.drained_by(&input)?;
        if drained.is_some() && input.digital && input.cavity.threshold.is_some() {
            continue;
        }
        let Some(place) = facts.pin_place(input.module, input.cavity) else { continue };
        let pin = facts.pin_name(input.module, input.cavity);
        if let Some(id) = drained {
            let diode = words::diode(context.circuit, id);
            let finding = RULE
                .at(place, format!("{diode} leads to ground what reaches `{pin}`, in every state: what it reads means nothing"))
                .help(format!("turn {diode} round: a diode that keeps spikes off an input has its bar on the higher side"));
            out.push(match facts.place(id).filter(|see| *see != place) {
                Some(see) => finding.see(see, "the diode"),
                None => finding,
            });
            continue;
        }
        let devices: Vec<_> = facts
            .devices_on(&facts.wired(input.cavity.outside))
            .into_iter()
            .filter_map(|d| context.circuit.devices.get(d.index()))
            .map(|d| d.name.clone())
            .collect();
        let from = if devices.is_empty() { "its wire".to_owned() } else { words::names(&devices) };
        out.push(
            RULE.at(
                place,
                format!(
                    "no reference, supply or pull-up reaches `{pin}` by way of {from} in any state: what it reads means nothing"
                ),
            )
            .help("give the input a pull-up (`pull_up 2.2 kohm to 5 V`), or wire the sensor to the module's reference"),
        );
    }
    Ok(())
}

fn has_source(cases: &Cases, input: &Input<'_>) -> bool {
    use NodeState::{Between, Chatters, Clash, Fed, FedViaLoad, Referenced};
    cases.cases.iter().any(|case| {
        matches!(
            node(&case.solution, input.cavity.inside),
            Fed | Referenced | FedViaLoad | Between | Clash | Chatters
        )
    })
}

/// A switch to ground without a pull-up, or another module's output: open in some state, which is `floating-input`.
pub(super) fn only_a_switch(facts: &Facts<'_>, input: &Input<'_>, cases: &Cases) -> bool {
    let open = |state| matches!(state, NodeState::Open | NodeState::Grounded);
    let states_fit = cases.cases.iter().all(|case| open(node(&case.solution, input.cavity.inside)));
    let reach = facts.wired(input.cavity.outside);
    let switch = facts
        .devices_on(&reach)
        .into_iter()
        .any(|d| facts.elements_of(d).any(|(_, e)| matches!(e.kind, ElementKind::Contact)));
    let other = reach.order.iter().any(|p| {
        let kind = facts.circuit.points.get(p.index()).map(|p| p.kind);
        matches!(kind, Some(PointKind::Cavity(m, c, k)) if (m, (c, k)) != (input.module, input.at))
    });
    states_fit && (switch || other)
}
