//! `keyon table`.

use crate::{
    args::{TableArgs, TableFormat},
    load,
    output::{self, Failure, Outcome},
    progress::Progress,
    subjects,
};
use keyon_circuit::{ids::*, model::Circuit};
use keyon_solve::{Basis, State, Table, TableGroup, TableRow};

pub(crate) fn run(args: &TableArgs) -> Result<Outcome, Failure> {
    let loaded = load::load(&args.situation)?;
    let circuit = &loaded.elaboration.circuit;
    let mut asked = subjects::subjects(&loaded.elaboration, &args.of)?;
    if !asked.controls.is_empty() {
        let depending = depending(circuit, &loaded.state, &asked.controls);
        if depending.is_empty() && asked.devices.is_empty() && asked.points.is_empty() {
            return Err(Failure::Message(format!("no device depends on {}", args.of.join(", "))));
        }
        asked.devices.extend(depending);
        asked.devices.dedup();
    }
    let table = tabulate(circuit, &loaded.state, &asked.devices, &asked.points, &loaded.asked.held);
    let (state, asked_for) = (&loaded.state, &loaded.asked);
    let text = match args.format {
        TableFormat::Text => keyon_present::table_text(circuit, &table, state, asked_for, args.width.max(20)),
        TableFormat::Markdown => keyon_present::table_markdown(circuit, &table, state, asked_for),
        TableFormat::Csv => keyon_present::table_csv(circuit, &table),
        TableFormat::Html => keyon_present::table_html(circuit, &table, state, asked_for),
        TableFormat::Json => {
            format!("{:#}\n", keyon_present::table_json(circuit, &table, state, asked_for))
        }
    };
    output::print(&text)?;
    Ok(if loaded.doubtful { Outcome::Findings } else { Outcome::Sound })
}

/// The devices with loads whose state depends on one of the controls.
fn depending(circuit: &Circuit, base: &State, controls: &[ControlId]) -> Vec<DeviceId> {
    let devices = (0..circuit.devices.len()).map(DeviceId::from);
    let loads: Vec<DeviceId> =
        devices.filter(|&device| keyon_present::state::has_loads(circuit, device)).collect();
    let progress = Progress::new();
    let table = keyon_solve::table(circuit, base, &loads, &[], &[], &progress).unwrap_or_default();
    let depends = |group: &&TableGroup| group.controls.iter().any(|c| controls.contains(c));
    let mut found: Vec<DeviceId> =
        table.groups.iter().filter(depends).flat_map(|g| g.devices.iter().copied()).collect();
    found.sort_unstable();
    found
}

/// The table with the held controls standing still.
fn tabulate(
    circuit: &Circuit,
    base: &State,
    devices: &[DeviceId],
    points: &[PointId],
    held: &[ControlId],
) -> Table {
    let all = (0..circuit.controls.len()).map(ControlId::from);
    let free: Vec<ControlId> =
        if held.is_empty() { Vec::new() } else { all.filter(|c| !held.contains(c)).collect() };
    if !held.is_empty() && free.is_empty() {
        return one_row(circuit, base, devices, points);
    }
    // Nothing asks to stop, so this always comes to an end of its own.
    let progress = Progress::new();
    keyon_solve::table(circuit, base, devices, points, &free, &progress).unwrap_or_default()
}

/// Every control is held: the one state there is.
fn one_row(circuit: &Circuit, base: &State, devices: &[DeviceId], points: &[PointId]) -> Table {
    let solution = keyon_solve::solve(circuit, base);
    let devices = if devices.is_empty() && points.is_empty() {
        let all = (0..circuit.devices.len()).map(DeviceId::from);
        all.filter(|&d| keyon_present::state::has_loads(circuit, d)).collect()
    } else {
        devices.to_vec()
    };
    let row = TableRow {
        when: Vec::new(),
        devices: devices
            .iter()
            .filter_map(|d| solution.devices.get(d.index()))
            .map(keyon_solve::device_words)
            .collect(),
        points: points
            .iter()
            .map(|p| {
                let state = solution.node_states.get(p.index()).copied();
                let volts = solution.volts.get(p.index()).copied().flatten();
                (state.unwrap_or(keyon_solve::NodeState::Open), volts)
            })
            .collect(),
        positions: base.positions.clone(),
        blown: solution.blown.iter().map(|(fuse, _)| *fuse).collect(),
    };
    let group = TableGroup {
        controls: Vec::new(),
        devices,
        points: points.to_vec(),
        rows: vec![row],
        least: 1,
        basis: Basis::Separate,
        cut: None,
        counts: Vec::new(),
    };
    Table { groups: vec![group], overloads: Vec::new() }
}
