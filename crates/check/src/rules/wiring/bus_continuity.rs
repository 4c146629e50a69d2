//! Data lines that do not lead from unit to unit.
//!
//! A pin on a supply or on ground is told at the wire that leads there, what is crossed and what ends nowhere at the pin.

use crate::{
    Context, Finding,
    facts::graph::{Flood, is_wiring},
    words,
};
use keyon_circuit::{
    ids::*,
    model::{COMMON, Cavity, Element, ElementKind, Law, Role},
};
use keyon_solve::Cancelled;
use std::rc::Rc;

crate::rule::rule! {
    name: "bus-continuity",
    level: Warning,
    group: "wiring",
    summary: "A bus pin lies on a supply or on ground, is crossed with its neighbour, or reaches no other pin of its bus.",
    why: "\
On a bus every unit hangs on the same two lines. One line on a supply or on ground silences all of them; a unit whose two lines are crossed, \
or whose line ends somewhere, is not heard, and stores faults that name all its neighbours. What the lines carry is not computed, only where they \
lead: a bus of which the file shows one unit only is taken to go on elsewhere.",
    absence: true,
    check: check,
}

/// A bus pin that a wire reaches.
struct Pin<'a> {
    module: ModuleId,
    cavity: &'a Cavity,
    bus: &'a str,
    volts: Option<f64>,
    /// What wires, connectors and fuses join to it.
    reach: Rc<Flood>,
}

fn check(context: &Context<'_>, out: &mut Vec<Finding>) -> Result<(), Cancelled> {
    let damaged = context.facts.damaged();
    let mut pins: Vec<Pin<'_>> = Vec::new();
    // A line that no wire reaches is told as that.
    let mut open: Vec<&str> = Vec::new();
    for (module, _, cavity) in context.facts.cavities() {
        let Role::Bus { name, volts } = &cavity.role else { continue };
        if cavity.landings.is_empty() {
            if cavity.unused.is_none() {
                open.push(name);
            }
            continue;
        }
        let known = pins.iter().find(|pin| pin.reach.has(cavity.outside)).map(|pin| pin.reach.clone());
        let reach = known.unwrap_or_else(|| Rc::new(context.facts.wired(cavity.outside)));
        if !reach.order.iter().any(|p| damaged.contains(p)) {
            pins.push(Pin { module, cavity, bus: name, volts: *volts, reach });
        }
    }
    let held = held(context, &pins, out);
    let crossed = crossed(context, &pins, out);
    for (i, pin) in pins.iter().enumerate() {
        if !held.contains(&i) && !crossed.contains(&i) && !open.contains(&pin.bus) {
            out.extend(lone(context, &pins, i));
        }
    }
    Ok(())
}

/// Pins on a supply or on ground: all that one wire joins to it are one finding.
fn held(context: &Context<'_>, pins: &[Pin<'_>], out: &mut Vec<Finding>) -> Vec<usize> {
    let circuit = context.circuit;
    let mut held = Vec::new();
    let firm = |reach: &Flood| {
        let supply = circuit.supplies.iter().find(|s| reach.has(s.point));
        supply.map(|s| s.point).or(reach.has(COMMON).then_some(COMMON))
    };
    for (i, pin) in pins.iter().enumerate() {
        let Some(point) = firm(&pin.reach).filter(|_| !held.contains(&i)) else { continue };
        let from_there = context.facts.graph().flood(&[point], |e, _| is_wiring(e.kind));
        let wire =
            |e: &ElementId| circuit.elements.get(e.index()).is_some_and(|e| e.kind == ElementKind::Wire);
        let way = |pin: &Pin<'_>| from_there.path(pin.cavity.outside);
        let same =
            (i..pins.len()).filter(|&j| pins.get(j).is_some_and(|pin| from_there.has(pin.cavity.outside)));
        let same: Vec<&Pin<'_>> = same.inspect(|&j| held.push(j)).filter_map(|j| pins.get(j)).collect();
        let mut common: Vec<ElementId> = way(pin);
        for other in &same {
            let other = way(other);
            common.retain(|e| other.contains(e));
        }
        let wire = common.iter().rev().find(|e| wire(e)).copied();
        let Some(place) = wire
            .and_then(|wire| context.facts.place(wire))
            .or_else(|| context.facts.pin_place(pin.module, pin.cavity))
        else {
            continue;
        };
        let what = match circuit.supplies.iter().find(|s| s.point == point) {
            Some(supply) => format!("the supply `{}`", supply.name),
            None => "ground".to_owned(),
        };
        let names: Vec<_> = same.iter().map(|pin| context.facts.pin_name(pin.module, pin.cavity)).collect();
        let (lie, pin_words) = if names.len() == 1 { ("lies", "bus pin") } else { ("lie", "bus pins") };
        let message = format!(
            "the {pin_words} {} {lie} on {what} with no load between: no unit can move that line of the bus `{}`, so nothing is heard on it",
            words::names(&names),
            pin.bus
        );
        out.push(RULE.at(place, message).help("lead this wire to the other units' pins of the same line"));
    }
    held
}

/// Units of which two lines are crossed against another unit's.
fn crossed(context: &Context<'_>, pins: &[Pin<'_>], out: &mut Vec<Finding>) -> Vec<usize> {
    let joined = |a: &Pin<'_>, b: &Pin<'_>| a.reach.has(b.cavity.outside);
    let mut pairs: Vec<[usize; 4]> = Vec::new();
    for (i, p) in pins.iter().enumerate() {
        for (j, q) in pins.iter().enumerate().skip(i + 1).filter(|(_, q)| q.module == p.module) {
            for (k, other_q) in
                pins.iter().enumerate().skip(i + 1).filter(|(_, o)| o.module != p.module && joined(p, o))
            {
                let other_p = |(_, o): &(usize, &Pin<'_>)| o.module == other_q.module && joined(q, o);
                let Some((l, other_p)) = pins.iter().enumerate().find(other_p) else { continue };
                if l != k && !joined(p, q) && crosses(p, q, other_p, other_q) {
                    pairs.push([i, j, l, k]);
                }
            }
        }
    }
    // The unit that is crossed against most of the others is the one; of two the later.
    let mut told = Vec::new();
    let module = |i: usize| pins.get(i).map(|pin| pin.module);
    while !pairs.is_empty() {
        let count = |m: Option<ModuleId>| {
            pairs.iter().filter(|[i, _, l, _]| module(*i) == m || module(*l) == m).count()
        };
        let modules = pairs.iter().flat_map(|[i, _, l, _]| [module(*i), module(*l)]);
        let Some(worst) = modules.max_by_key(|m| (count(*m), *m)) else { break };
        let own = pairs.iter().find_map(|&[i, j, l, k]| {
            (module(i) == worst).then_some([i, j, l, k]).or((module(l) == worst).then_some([l, k, i, j]))
        });
        pairs.retain(|[i, _, l, _]| module(*i) != worst && module(*l) != worst);
        let Some([mut p, mut q, mut other_p, mut other_q]) = own else { break };
        if p > q {
            (p, q, other_p, other_q) = (q, p, other_q, other_p);
        }
        told.extend([p, q, other_p, other_q]);
        out.extend(say_crossed(context, pins, [p, q, other_q]));
    }
    // Those of the others that hang on the same two nets have nothing amiss either.
    let on = |i: usize| {
        (0..pins.len()).filter(move |&j| pins.get(i).zip(pins.get(j)).is_some_and(|(a, b)| joined(a, b)))
    };
    told.iter().flat_map(|&i| on(i)).collect()
}

/// Whether two lines of one unit (`p`, `q`) are known to be another's by their bus, by their volts or by their names, and each is
/// joined to the wrong one of them.
fn crosses(p: &Pin<'_>, q: &Pin<'_>, other_p: &Pin<'_>, other_q: &Pin<'_>) -> bool {
    fn by<T: PartialEq>(of: impl Fn(&Pin<'_>) -> T, [p, q, other_p, other_q]: [&Pin<'_>; 4]) -> bool {
        let (a, b) = (of(p), of(q));
        a != b && a == of(other_p) && b == of(other_q)
    }
    let all = [p, q, other_p, other_q];
    by(|pin| pin.bus.to_owned(), all) || by(|pin| pin.volts, all) || by(|pin| pin.cavity.name.clone(), all)
}

fn say_crossed(context: &Context<'_>, pins: &[Pin<'_>], [p, q, other]: [usize; 3]) -> Option<Finding> {
    let facts = context.facts;
    let (p, q, other) = (pins.get(p)?, pins.get(q)?, pins.get(other)?);
    let [p_name, q_name, other_name] = [p, q, other].map(|pin| facts.pin_name(pin.module, pin.cavity));
    let message = format!(
        "`{p_name}` and `{q_name}` are crossed: `{p_name}` is joined to `{other_name}`, which is the other line of the bus, so this unit \
         is not heard"
    );
    let finding = RULE
        .at(facts.pin_place(p.module, p.cavity)?, message)
        .help(format!("change the wires of `{p_name}` and `{q_name}` over"));
    let see = [(q, "the other line of this unit"), (other, "joined to this one")];
    Some(see.into_iter().fold(
        finding,
        |finding, (pin, words)| match facts.pin_place(pin.module, pin.cavity) {
            Some(place) => finding.see(place, words),
            None => finding,
        },
    ))
}

/// A pin that reaches no other unit of its bus, though the file shows some.
fn lone(context: &Context<'_>, pins: &[Pin<'_>], at: usize) -> Option<Finding> {
    let (circuit, facts) = (context.circuit, context.facts);
    let pin = pins.get(at)?;
    let others = || pins.iter().enumerate().filter(|(_, o)| o.bus == pin.bus && o.module != pin.module);
    // Through a contact, a choke or a filter's resistor a bus goes on; through its terminator it does not.
    let reach = facts.graph().flood(&[pin.cavity.outside], |e, _| {
        is_wiring(e.kind) || e.kind == ElementKind::Contact || in_line(e)
    });
    let leaves = circuit.branches.iter().any(|branch| reach.has(branch.point));
    let met = |o: &Pin<'_>| reach.has(o.cavity.outside);
    if leaves || others().next().is_none() || others().any(|(_, o)| met(o)) {
        return None;
    }
    // Of two ends of one broken line the first is told.
    let ends_too = |o: &Pin<'_>| {
        !pins.iter().any(|p| p.bus == o.bus && p.module != o.module && o.reach.has(p.cavity.outside))
    };
    if let Some((first, _)) = others().find(|(_, o)| ends_too(o))
        && first < at
        && others().all(|(_, o)| ends_too(o))
        && same_line(pins.get(first)?, pin)
    {
        return None;
    }
    let name = facts.pin_name(pin.module, pin.cavity);
    let message = match pins.iter().find(|o| o.module != pin.module && reach.has(o.cavity.outside)) {
        Some(wrong) => format!(
            "`{name}` of the bus `{}` is joined to `{}` of the bus `{}`, and to no other unit of its own",
            pin.bus,
            facts.pin_name(wrong.module, wrong.cavity),
            wrong.bus
        ),
        None => format!(
            "`{name}` reaches no other unit of the bus `{}`: its line ends somewhere, so this unit is not heard",
            pin.bus
        ),
    };
    let finding = RULE
        .at(facts.pin_place(pin.module, pin.cavity)?, message)
        .help("follow its wire to where it ends, and lead it to the other units; if it goes on outside this drawing, say so with `elsewhere`");
    let other = others().find_map(|(_, o)| facts.pin_place(o.module, o.cavity));
    Some(match other {
        Some(place) => finding.see(place, "another unit of this bus"),
        None => finding,
    })
}

/// Ohms up to which a resistor stands in a line, and not between two of them.
const IN_LINE: f64 = 30.0;

fn in_line(e: &Element) -> bool {
    matches!(&e.law, Law::Resistance(ohms) if ohms.nominal < IN_LINE) && e.kind == ElementKind::Resistor
}

/// Whether nothing tells two pins of one bus apart.
fn same_line(a: &Pin<'_>, b: &Pin<'_>) -> bool {
    a.volts == b.volts || a.cavity.name == b.cavity.name
}
