//! Whether tables and worst currents agree with every combination solved by itself.

use super::{
    brute::{combinations, depends, differs, solve_at},
    read,
};
use keyon_circuit::{ids::*, model::*};
use keyon_solve::{Never, State, Survey, device_words, table, worst_base};

/// Fuses stay whole: that one group's current may blow another's fuse is not what factoring is about.
fn base(circuit: &Circuit) -> State {
    worst_base(circuit, &State::rest(circuit), false)
}

fn probed(circuit: &Circuit) -> Vec<PointId> {
    let shown =
        |p: &Point| matches!(p.kind, PointKind::Splice(_) | PointKind::Pin(..) | PointKind::Cavity(..));
    circuit.points.iter().enumerate().filter(|(_, p)| shown(p)).map(|(i, _)| i.into()).collect()
}

/// Tables, their columns and worst currents of one circuit; what is wrong with them.
pub(crate) fn check(text: &str) -> Result<(), String> {
    let elaboration = read("random", text);
    let circuit = &elaboration.circuit;
    let base = base(circuit);
    let all: Vec<_> = combinations(circuit, 1 << 12).iter().map(|p| solve_at(circuit, &base, p)).collect();
    let points = probed(circuit);
    let devices = table(circuit, &base, &[], &[], &[], &Never).expect("never cancelled");
    let nodes = table(circuit, &base, &[], &points, &[], &Never).expect("never cancelled");
    for group in devices.groups.iter().chain(&nodes.groups) {
        if group.cut.is_some() {
            return Err("cut".into());
        }
        for solution in &all {
            // Rows are joined where they say the same to the millivolt.
            differs(circuit, group, solution, 1e-3)
                .map_err(|e| format!("{e} at {:?}", solution.state.positions))?;
        }
        for &d in &group.devices {
            let words: Vec<_> = all
                .iter()
                .map(|s| (s.state.positions.clone(), device_words(&s.devices[d.index()])))
                .collect();
            let truly = depends(circuit, &words);
            if truly != group.controls {
                let name = &circuit.devices[d.index()].name;
                return Err(format!("{name} depends on {truly:?}, the table has {:?}", group.controls));
            }
        }
    }
    let survey = Survey::new(circuit, &base);
    for e in (0..circuit.elements.len()).map(ElementId::from) {
        let kind = circuit.elements[e.index()].kind;
        if !(kind.is_load() || matches!(kind, ElementKind::Fuse(_) | ElementKind::Supply)) {
            continue;
        }
        let worst = survey.worst_current(e, &Never).expect("never cancelled");
        let most = all.iter().filter_map(|s| s.amps[e.index()].known()).fold(0.0, |m: f64, a| m.max(a.abs()));
        let name = &circuit.elements[e.index()].name;
        if worst.amps.abs() > most + 1e-6 || (worst.exact && worst.amps.abs() < most - 1e-6) {
            return Err(format!(
                "{name} carries {most} A at worst, found {} (exact: {})",
                worst.amps, worst.exact
            ));
        }
        if !worst.exact {
            return Err(format!("{name}: a circuit as small as this is searched in full"));
        }
        let unlimited = all.iter().any(|s| s.amps[e.index()].known().is_none());
        if unlimited != worst.unlimited.is_some() {
            return Err(format!("{name} unlimited: {unlimited}"));
        }
    }
    Ok(())
}
