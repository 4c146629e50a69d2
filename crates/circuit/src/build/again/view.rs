//! What an item has made, in words that do not depend on what other items there are.

use super::super::{Slot, marks::Made};
use crate::{Entity, ids::*, model::*};
use std::fmt::Write;

/// What a name means, without numbers.
pub(super) fn meaning(circuit: &Circuit, entity: Entity) -> (std::mem::Discriminant<Entity>, String) {
    let name = match entity {
        // Their short names depend on all other controls.
        Entity::Control(c) | Entity::Position(c, _) => {
            circuit.controls.get(c.index()).map(|c| c.qualified.to_string()).unwrap_or_default()
        }
        Entity::Part(_) | Entity::Param(..) | Entity::Inside(..) | Entity::Library(_) => {
            format!("{entity:?}")
        }
        entity => circuit.name_of(entity).to_string(),
    };
    (std::mem::discriminant(&entity), name)
}

/// Everything that [`take`](super::take::take) takes, and by whom it is joined.
pub(super) fn view(circuit: &Circuit, made: &Made) -> String {
    let mut out = String::new();
    // Writing to a text does not fail.
    let _ = write(circuit, made, &mut out);
    out
}

/// What of it volts and amps depend on.
pub(super) fn electric(circuit: &Circuit, made: &Made) -> String {
    let mut out = String::new();
    for e in circuit.elements.get(made.elements.clone()).unwrap_or_default() {
        let _ = writeln!(out, "{:?} {:?}", without_ids(&e.law), e.rating);
    }
    let module = match made.slot {
        Slot::Module(m) => circuit.modules.get(m.index()),
        _ => None,
    };
    for k in module.iter().flat_map(|m| &m.connectors).flat_map(|c| &c.cavities) {
        let Cavity { role, limit, clamp, pwm, range, threshold, .. } = k;
        let _ = writeln!(out, "{role:?} {limit:?} {clamp} {pwm:?} {range:?} {threshold:?}");
    }
    out
}

/// What of it is neither a number with a unit nor a place.
pub(super) fn shape(circuit: &Circuit, made: &Made) -> String {
    let mut out = String::new();
    for e in circuit.elements.get(made.elements.clone()).unwrap_or_default() {
        // A ground point without resistance holds its potential.
        let joint = e.kind == ElementKind::Ground && matches!(e.law, Law::Joint);
        let _ = writeln!(out, "{:?} {joint} {}", e.kind, e.rating.is_some());
    }
    for wire in circuit.wires.get(made.wires.clone()).unwrap_or_default() {
        let colours: Vec<_> = wire.stretches.iter().map(|s| &s.colour).collect();
        let gauged: Vec<_> = wire.stretches.iter().map(|s| (s.gauge.is_some(), s.length.is_some())).collect();
        let _ = writeln!(out, "{:?} {colours:?} {gauged:?}", wire.title);
    }
    for c in circuit.controls.get(made.controls.clone()).unwrap_or_default() {
        let _ = writeln!(out, "{:?}", c.title);
    }
    for b in circuit.branches.get(made.branches.clone()).unwrap_or_default() {
        let _ = writeln!(out, "{:?}", b.title);
    }
    let said = match made.slot {
        Slot::Ground(i) => circuit.grounds.get(i).map(|g| format!("{:?} {:?}", g.title, g.attributes)),
        Slot::Splice(i) => circuit.splices.get(i).map(|s| format!("{:?} {:?}", s.title, s.attributes)),
        Slot::Inline(i) => {
            circuit.inlines.get(i.index()).map(|i| format!("{:?} {:?}", i.title, i.attributes))
        }
        Slot::Fuse(i) => circuit.fuses.get(i).map(|f| format!("{:?} {:?}", f.title, f.attributes)),
        Slot::Device(d) => {
            circuit.devices.get(d.index()).map(|d| format!("{:?} {:?}", d.title, d.attributes))
        }
        Slot::Module(m) => circuit.modules.get(m.index()).map(|m| {
            let connectors = m.connectors.iter().map(|c| {
                let cavities = c.cavities.iter().map(|k| {
                    let pulses = k.pwm.is_some();
                    (std::mem::discriminant(&k.role), k.clamp, k.limit.is_some(), pulses)
                });
                (&c.title, &c.attributes, cavities.collect::<Vec<_>>())
            });
            format!("{:?} {:?} {:?}", m.title, m.attributes, connectors.collect::<Vec<_>>())
        }),
        _ => None,
    };
    out + &said.unwrap_or_default()
}

fn write(circuit: &Circuit, made: &Made, out: &mut String) -> std::fmt::Result {
    let point = |p: PointId| circuit.points.get(p.index()).map_or("", |p| p.name.as_str());
    for p in made.declared.clone().chain(made.points.clone()).filter_map(|p| circuit.points.get(p)) {
        writeln!(out, "point {} {:?}", p.name, p.loc)?;
    }
    for at in made.elements.clone() {
        let Some(e) = circuit.elements.get(at) else { continue };
        let when = match e.when {
            When::In { positions, .. } => format!("in {positions}"),
            When::Energised { coil, open } => {
                format!("{open} {}", circuit.elements.get(coil.index()).map_or("", |c| c.name.as_str()))
            }
            when => format!("{when:?}"),
        };
        let own = circuit.index.element_names.get(&at.into());
        writeln!(
            out,
            "{} {} {} {:?} {:?} {when} {} {:?} {:?} {own:?}",
            e.name,
            point(e.from),
            point(e.to),
            e.kind,
            without_ids(&e.law),
            e.alive.is_some(),
            e.rating,
            e.loc
        )?;
    }
    for wire in circuit.wires.get(made.wires.clone()).unwrap_or_default() {
        writeln!(out, "wire {} {} {:?} {:?}", wire.name, wire.numbered, wire.title, wire.loc)?;
        for s in &wire.stretches {
            writeln!(out, "{:?} {:?} {:?} {:?} {:?}", s.area, s.gauge, s.length, s.colour, s.ends)?;
        }
    }
    for at in made.controls.clone() {
        let Some(c) = circuit.controls.get(at) else { continue };
        let positions = circuit.index.positions.get(at);
        writeln!(
            out,
            "control {} {:?} {:?} {:?} {:?} {positions:?}",
            c.qualified, c.title, c.positions, c.pwm, c.loc
        )?;
    }
    for s in circuit.stimuli.get(made.stimuli.clone()).unwrap_or_default() {
        writeln!(
            out,
            "stimulus {} {:?} {} {:?} {} {:?} {:?}",
            s.name, s.kind, s.nominal, s.span, s.stated, s.unit, s.loc
        )?;
    }
    for b in circuit.branches.get(made.branches.clone()).unwrap_or_default() {
        writeln!(out, "branch {:?} {} {:?}", b.title, b.element.is_some(), b.loc)?;
    }
    write_thing(circuit, made.slot, out)
}

fn write_thing(circuit: &Circuit, slot: Slot, out: &mut String) -> std::fmt::Result {
    match slot {
        Slot::Ground(i) => match circuit.grounds.get(i) {
            Some(g) => writeln!(out, "ground {} {:?} {:?} {:?}", g.name, g.title, g.attributes, g.loc),
            None => Ok(()),
        },
        Slot::Splice(i) => match circuit.splices.get(i) {
            Some(s) => writeln!(out, "splice {} {:?} {:?} {:?}", s.name, s.title, s.attributes, s.loc),
            None => Ok(()),
        },
        Slot::Inline(i) => {
            let Some(inline) = circuit.inlines.get(i.index()) else { return Ok(()) };
            writeln!(
                out,
                "inline {} {:?} {:?} {:?}",
                inline.name, inline.title, inline.attributes, inline.loc
            )?;
            inline.cavities.iter().try_for_each(|k| writeln!(out, "{} {:?}", k.name, k.loc))
        }
        Slot::Fuse(i) => match circuit.fuses.get(i) {
            Some(f) => {
                writeln!(out, "fuse {} {:?} {:?} {:?} {:?}", f.name, f.kind, f.title, f.attributes, f.loc)
            }
            None => Ok(()),
        },
        Slot::Device(d) => {
            let Some(d) = circuit.devices.get(d.index()) else { return Ok(()) };
            writeln!(
                out,
                "device {} {:?} {:?} {:?} {} {:?}",
                d.name, d.title, d.part, d.attributes, d.bare, d.loc
            )?;
            d.pins.iter().try_for_each(|pin| writeln!(out, "{} {:?}", pin.name, pin.loc))
        }
        Slot::Module(m) => match circuit.modules.get(m.index()) {
            Some(module) => write_module(module, out),
            None => Ok(()),
        },
        _ => Ok(()),
    }
}

fn write_module(m: &Module, out: &mut String) -> std::fmt::Result {
    writeln!(out, "module {} {:?} {:?} {:?} {:?}", m.name, m.title, m.part, m.attributes, m.loc)?;
    writeln!(out, "{:?} {:?}", m.feeds, m.grounds)?;
    for connector in &m.connectors {
        writeln!(
            out,
            "{} {:?} {:?} {:?}",
            connector.name, connector.title, connector.attributes, connector.loc
        )?;
        for k in &connector.cavities {
            let shared = k.shared_by.as_ref().map(|(all, loc)| (all.len(), *loc));
            writeln!(
                out,
                "{} {} {:?} {:?} {} {:?} {shared:?} {:?} {:?} {:?} {:?}",
                k.number, k.name, k.role, k.limit, k.clamp, k.pwm, k.range, k.threshold, k.name_loc, k.loc
            )?;
        }
    }
    for gang in &m.gangs {
        let Gang { stages, named, gaps, rows, loc, .. } = gang;
        writeln!(out, "gang {stages:?} {named} {gaps:?} {rows:?} {loc:?}")?;
    }
    Ok(())
}

/// A law as it is in any circuit.
fn without_ids(law: &Law) -> Law {
    let mut law = law.clone();
    match &mut law {
        Law::Thermistor { stimulus, .. } | Law::Track { stimulus, .. } | Law::Variable { stimulus, .. } => {
            *stimulus = StimulusId(0);
        }
        Law::Transducer { feed, stimulus, .. } => (*feed, *stimulus) = (COMMON, StimulusId(0)),
        _ => {}
    }
    law
}
