//! From phases and cycles to one solution.

use crate::{
    Amps, DeviceState, ElementState, NodeState, Solution, nets,
    plan::Plan,
    rating,
    readings::{Readings, readings},
    settle::{Settled, Still},
    solution,
};
use keyon_circuit::{ids::*, model::Device};

/// What one set of relays gives: the mean over the pulse.
struct Snapshot {
    node_states: Vec<NodeState>,
    volts: Vec<Option<f64>>,
    unloaded: Vec<Option<f64>>,
    amps: Vec<Amps>,
    devices: Vec<DeviceState>,
}

pub(crate) fn assemble(plan: &Plan<'_>, settled: Settled) -> Solution {
    let snapshots: Vec<Snapshot> =
        settled.cycle.iter().map(|still| snapshot(plan, still, &settled)).collect();
    let first = &settled.cycle[0].flows[0];
    let mut conducts = first.conducts.clone();
    for &diode in &plan.diodes {
        conducts[diode] &= first.on[diode];
    }
    let merged = merge(snapshots);
    let still = &settled.cycle[0];
    let clash_amps = still.flows.iter().filter_map(|flow| flow.prospective(plan, &still.held.turning));
    let clash_amps = clash_amps.reduce(f64::max);
    let clashes =
        (0..plan.points).filter(|&p| merged.node_states[p] == NodeState::Clash).map(PointId::from).collect();
    let coils = |coils: &[usize]| coils.iter().map(|&coil| ElementId::from(plan.coils[coil])).collect();
    Solution {
        state: plan.state.clone(),
        nets: nets::nets(plan, &conducts),
        node_states: merged.node_states,
        volts: merged.volts,
        unloaded: merged.unloaded,
        amps: merged.amps,
        devices: merged.devices,
        alive: first.alive.clone(),
        blown: settled.blown.iter().map(|&(part, amps)| (ElementId::from(part), amps)).collect(),
        chatters: coils(&settled.chatters),
        holds: coils(&settled.holds),
        turning: still.held.turning.iter().map(|&(part, _)| ElementId::from(part)).collect(),
        conducts,
        clashes,
        clash_amps,
    }
}

fn snapshot(plan: &Plan<'_>, still: &Still, settled: &Settled) -> Snapshot {
    let on = &still.flows[0];
    let node_states = (0..plan.points).map(|p| still.trace.states[on.stiff.of(p)]).collect();
    let counted: Vec<usize> = match plan.phases.len() {
        1 => vec![0],
        count => (0..count).filter(|&i| plan.phases[i].weight > 0.0).collect(),
    };
    let weight = |index: usize| if counted.len() == 1 { 1.0 } else { plan.phases[index].weight };
    let read: Vec<(f64, Readings)> = counted
        .iter()
        .map(|&index| (weight(index), readings(plan, &still.flows[index], &still.held.turning)))
        .collect();
    let mean = |of: fn(&Readings) -> &Vec<Option<f64>>| -> Vec<Option<f64>> {
        // Nearly always there is one phase: its readings are the mean.
        if let [(weight, only)] = read.as_slice() {
            let one = |volts: &Option<f64>| volts.map(|volts| solution::sum(std::iter::once(weight * volts)));
            return of(only).iter().map(one).collect();
        }
        let one = |point: usize| {
            let parts: Option<Vec<f64>> =
                read.iter().map(|(weight, read)| Some(weight * of(read)[point]?)).collect();
            parts.map(|parts| solution::sum(parts.into_iter()))
        };
        (0..plan.points).map(one).collect()
    };
    let (volts, unloaded) = (mean(|read| &read.meter), mean(|read| &read.unloaded));
    let amps = (0..plan.parts.len())
        .map(|part| {
            if counted.iter().any(|&i| still.flows[i].unlimited(part)) {
                Amps::Unlimited
            } else {
                Amps::Known(still.amps(plan, part))
            }
        })
        .collect();
    let devices =
        plan.circuit.devices.iter().map(|device| device_state(plan, still, settled, device)).collect();
    Snapshot { node_states, volts, unloaded, amps, devices }
}

/// The state of one load.
fn element_state(plan: &Plan<'_>, still: &Still, settled: &Settled, part: usize) -> ElementState {
    let coil = plan.coils.binary_search(&part).ok();
    if coil.is_some_and(|coil| settled.chatters.contains(&coil)) {
        return ElementState::Chatters;
    }
    let amps = still.amps(plan, part);
    let flow = &still.flows[0];
    let state = match rating::threshold(plan, part, flow, &still.trace) {
        Some(threshold) => threshold.state(amps),
        None => ElementState::Rests,
    };
    let turns = still.held.turning.binary_search_by_key(&part, |t| t.0).is_ok();
    let operates = match coil {
        Some(coil) => still.held.energised[coil],
        None => state.operates() || turns,
    };
    let is_winding = plan.circuit.elements[part].kind == keyon_circuit::model::ElementKind::Winding;
    match (operates, is_winding) {
        (true, true) if amps < 0.0 => ElementState::OperatesReverse,
        (true, true) => ElementState::OperatesForward,
        (true, false) => ElementState::Operates,
        // A coil that has not pulled in yet, however much it carries, is weak at most.
        (false, _) if state.operates() => ElementState::Weak,
        (false, _) => state,
    }
}

fn device_state(plan: &Plan<'_>, still: &Still, settled: &Settled, device: &Device) -> DeviceState {
    let elements: Vec<(ElementId, ElementState)> = device
        .elements
        .iter()
        .copied()
        .filter(|e| plan.circuit.elements.get(e.index()).is_some_and(|e| rating::can_operate(e.kind)))
        .map(|e| (e, element_state(plan, still, settled, e.index())))
        .collect();
    let mut state = summary(device, elements);
    let (strongest, _) = strongest(&state.elements);
    let is_coil = |part: usize| state.elements.iter().any(|(e, _)| e.index() == part);
    state.holds = settled.holds.iter().any(|&coil| is_coil(plan.coils[coil]));
    state.duty = strongest.map_or(1.0, |element| duty(plan, still, element.index()));
    state
}

/// The element that does most, the first of equals, and what it does.
fn strongest(elements: &[(ElementId, ElementState)]) -> (Option<ElementId>, ElementState) {
    let strength = |state: ElementState| match state {
        ElementState::Rests => 0,
        ElementState::Weak => 1,
        ElementState::Chatters => 3,
        _ => 2,
    };
    let mut strongest: Option<(ElementId, ElementState)> = None;
    for &(element, state) in elements {
        if strongest.is_none_or(|(_, best)| strength(state) > strength(best)) {
            strongest = Some((element, state));
        }
    }
    (strongest.map(|(element, _)| element), strongest.map_or(ElementState::Rests, |(_, state)| state))
}

/// What a device does whose elements do this, without a pulse.
pub(crate) fn summary(device: &Device, elements: Vec<(ElementId, ElementState)>) -> DeviceState {
    let operating: Vec<ElementId> = elements.iter().filter(|(_, s)| s.operates()).map(|(e, _)| *e).collect();
    let grade = device.grades.iter().find(|(_, of)| {
        !of.is_empty() && of.len() == operating.len() && of.iter().all(|e| operating.contains(e))
    });
    DeviceState {
        state: strongest(&elements).1,
        grade: grade.map(|(name, _)| name.clone()),
        duty: 1.0,
        holds: false,
        elements,
    }
}

/// The share of the period in which a load has its current; 1 where it is steady.
fn duty(plan: &Plan<'_>, still: &Still, part: usize) -> f64 {
    let amps = |index: usize| still.flows[index].electric.amps[part].abs();
    let most = (0..still.flows.len()).map(amps).fold(0.0, f64::max);
    let steady = (0..still.flows.len()).all(|i| most - amps(i) <= 1e-6 * most);
    if steady {
        return 1.0;
    }
    plan.phases.iter().enumerate().filter(|&(i, _)| amps(i) > 0.5 * most).map(|(_, phase)| phase.weight).sum()
}

/// Over a cycle what stays the same is so, the rest chatters.
fn merge(snapshots: Vec<Snapshot>) -> Snapshot {
    let count = snapshots.len() as f64;
    let mut all = snapshots.into_iter();
    let Some(mut merged) = all.next() else {
        return Snapshot {
            node_states: Vec::new(),
            volts: Vec::new(),
            unloaded: Vec::new(),
            amps: Vec::new(),
            devices: Vec::new(),
        };
    };
    let mut sums: Vec<Option<f64>> = merged.amps.iter().map(|a| a.known()).collect();
    for next in all {
        for (state, other) in merged.node_states.iter_mut().zip(&next.node_states) {
            if state != other {
                *state = NodeState::Chatters;
            }
        }
        // What the meter's own load changes is no change: less than a meter shows.
        let same = |a: f64, b: f64| (a - b).abs() < 0.5e-3;
        for (mine, other) in [(&mut merged.volts, &next.volts), (&mut merged.unloaded, &next.unloaded)] {
            for (volts, other) in mine.iter_mut().zip(other) {
                *volts = volts.zip(*other).and_then(|(a, b)| same(a, b).then_some(a));
            }
        }
        for (sum, other) in sums.iter_mut().zip(&next.amps) {
            *sum = sum.zip(other.known()).map(|(a, b)| a + b);
        }
        for (device, other) in merged.devices.iter_mut().zip(next.devices) {
            for (mine, other) in device.elements.iter_mut().zip(&other.elements) {
                if mine.1 != other.1 {
                    mine.1 = ElementState::Chatters;
                }
            }
            if device.state != other.state
                || device.elements.iter().any(|(_, s)| *s == ElementState::Chatters)
            {
                device.state = ElementState::Chatters;
                device.grade = None;
            }
        }
    }
    merged.amps =
        sums.into_iter().map(|sum| sum.map_or(Amps::Unlimited, |sum| Amps::Known(sum / count))).collect();
    merged
}
