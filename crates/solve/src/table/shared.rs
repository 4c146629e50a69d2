//! Fuses that what they feed blows.
//!
//! Groups are parted at nets that one potential holds, and a fuse between is taken as whole (decision 29). That is so until
//! their currents together open it: then what one of them does hangs on the others. Where a fuse may carry so much, what it
//! feeds becomes one table, in which each row says whether it blows; where that would have too many states the table
//! keeps its groups and tells of the fuse.

use super::{Overload, joint::Joint};
use crate::{
    Cancel, Cancelled,
    cases::{Survey, query::Query, worst_base},
    settle::BLOWS_AT,
};
use keyon_circuit::{
    ids::*,
    model::{Circuit, ElementKind},
};

/// States up to which what a fuse feeds is one table.
const STATES: usize = 256;

/// A fuse that may blow, with what hangs on it.
struct Fuse {
    overload: Overload,
    /// By net of the graph in which every joint is an edge.
    below: Vec<bool>,
}

/// Joins the groups that blow a fuse together. Those that are too many stay apart: their fuses come beside them.
pub(super) fn join(
    survey: &Survey<'_>,
    groups: Vec<Joint>,
    open: &[u64],
    cancel: &dyn Cancel,
) -> Result<(Vec<Joint>, Vec<Overload>), Cancelled> {
    let mut groups: Vec<Option<Joint>> = groups.into_iter().map(Some).collect();
    let mut overloads = Vec::new();
    for fuse in fuses(survey, open, cancel)? {
        let feeds = |group: &Option<Joint>| group.as_ref().is_some_and(|group| fuse.feeds(survey, group));
        let hanging: Vec<usize> = (0..groups.len()).filter(|&at| feeds(&groups[at])).collect();
        let Some((&first, others)) = hanging.split_first() else { continue };
        let mut all =
            Joint { controls: Vec::new(), devices: Vec::new(), points: Vec::new(), fuses: Vec::new() };
        for group in hanging.iter().filter_map(|&at| groups[at].as_ref()) {
            all.controls.extend(&group.controls);
            all.devices.extend(group.devices.iter().map(|(device, _)| (*device, None)));
            all.points.extend(&group.points);
            all.fuses.extend(&group.fuses);
        }
        all.fuses.push(fuse.overload.fuse);
        let query = Query {
            devices: all.devices.iter().map(|(device, _)| *device).collect(),
            points: all.points.clone(),
            volts: !all.points.is_empty(),
            fuses: all.fuses.clone(),
            ..Query::default()
        };
        let found = survey.unmerged().explore(&query, open.to_vec(), STATES, cancel)?;
        if !found.left.is_empty() {
            overloads.push(fuse.overload);
            continue;
        }
        all.controls = found.controls;
        for &other in others {
            groups[other] = None;
        }
        groups[first] = Some(all);
    }
    Ok((groups.into_iter().flatten().collect(), overloads))
}

/// The fuses that may blow by what flows through them, as their controls may stand.
fn fuses(survey: &Survey<'_>, open: &[u64], cancel: &dyn Cancel) -> Result<Vec<Fuse>, Cancelled> {
    let circuit = survey.circuit;
    if survey.base.options.keep_fuses {
        return Ok(Vec::new());
    }
    let mut fuses = Vec::new();
    let mut whole: Option<Survey<'_>> = None;
    for (index, element) in circuit.elements.iter().enumerate() {
        let (ElementKind::Fuse(_), Some(rating)) = (element.kind, element.rating) else { continue };
        let fuse = ElementId::from(index);
        let most = BLOWS_AT * rating.nominal * (1.0 + 1e-9);
        if survey.current_bound(fuse) <= most {
            continue;
        }
        let whole =
            whole.get_or_insert_with(|| Survey::new(circuit, &worst_base(circuit, &survey.base, false)));
        let worst = whole.worst_within(fuse, open.to_vec(), cancel)?;
        let (amps, at) = match worst.unlimited {
            Some(short) => (None, short),
            None if worst.amps.abs() > most => (Some(worst.amps.abs()), worst.solution),
            None => continue,
        };
        let overload = Overload { fuse, amps, positions: at.state.positions.clone() };
        fuses.push(Fuse { overload, below: survey.unmerged().below(fuse, open) });
    }
    Ok(fuses)
}

impl Fuse {
    /// Whether something of a group hangs on the fuse.
    fn feeds(&self, survey: &Survey<'_>, group: &Joint) -> bool {
        let frame = &survey.unmerged().frame;
        let circuit: &Circuit = survey.circuit;
        let below = |point: PointId| self.below.get(frame.net(point) as usize).copied().unwrap_or(false);
        let loads = group.devices.iter().filter_map(|(device, _)| circuit.devices.get(device.index()));
        let mut elements = loads.flat_map(|d| &d.elements).filter_map(|e| circuit.elements.get(e.index()));
        elements.any(|e| e.kind.is_load() && (below(e.from) || below(e.to)))
            || group.points.iter().any(|&point| below(point))
    }
}
