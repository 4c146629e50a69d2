//! A load on a supply of more volts than it is made for.

use super::common::devices;
use crate::{
    Context, Finding,
    facts::paths::{LoadPaths, state_of},
    words,
};
use keyon_circuit::model::{Element, Law, Rated};
use keyon_solve::{Cancelled, Solution};

crate::rule::rule! {
    name: "over-voltage",
    level: Warning,
    group: "power",
    summary: "A lamp, a heater, a coil or a motor gets more than 130 % of its rated voltage in some state.",
    why: "\
A 12 V lamp on a 24 V circuit is bright for a minute; a 12 V coil there takes four times its heat and chars. It is ordered by its \
socket, and on the shelf the two look alike. A charging battery stands some 20 % above its stated voltage and does no harm. \
Loads in series share the voltage and are judged by their share; what a pulsed output feeds is left out, for the pulse may \
be there to lower the mean. (130 %: common practice, no source.)",
    settings: ["over-voltage"],
    check: check,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    for found in devices(context) {
        let (id, device, paths) = found?;
        for load in &paths.loads {
            let Some(e) = context.circuit.elements.get(load.element.index()) else { continue };
            let Some(rated) = rated_volts(e).filter(|_| state_is_known(load)) else { continue };
            let limit = rated * context.settings.over_voltage;
            let over = |s: &Solution| volts(s, e).is_some_and(|v| v > limit * (1.0 + 1e-9));
            let cases = context.facts.device_cases(id)?;
            let Some(case) = cases.cases.iter().find(|case| over(&case.solution)) else { continue };
            if context.facts.is_pulsed(e) {
                continue;
            }
            let (away, solution) = context.facts.fewest(&case.solution.state, over);
            let works = state_of(&solution, id, load.element).operates();
            let but = if works { "it works, and burns out soon" } else { "it takes harm" };
            out.push(
                RULE.at(
                    device.loc,
                    format!(
                        "{}, `{}` gets {}, and is made for {}: {but}",
                        words::with(context.circuit, &away),
                        words::name(context.circuit, load.element),
                        words::quantity(volts(&solution, e).unwrap_or_default(), "V"),
                        words::quantity(rated, "V")
                    ),
                )
                .help("fit one for this supply's voltage, or feed it from the supply that it is made for"),
            );
        }
    }
    Ok(())
}

/// A short, or a relay that cannot settle, is a finding of its own.
fn state_is_known(load: &LoadPaths) -> bool {
    !load.beyond
}

fn rated_volts(e: &Element) -> Option<f64> {
    match &e.law {
        Law::Rated { volts, .. } => Some(volts.nominal),
        Law::Coil { rated: Some(Rated::Volts(volts)), .. }
        | Law::Winding { rated: Some(Rated::Volts(volts)), .. } => Some(volts.nominal),
        _ => None,
    }
}

fn volts(solution: &Solution, e: &Element) -> Option<f64> {
    let at = |p: keyon_circuit::ids::PointId| solution.unloaded.get(p.index()).copied().flatten();
    Some((at(e.from)? - at(e.to)?).abs())
}
