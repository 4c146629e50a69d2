//! Devices and points that depend on the same controls, as one table.

use super::{Basis, TableGroup, TableRow, by_cases, by_function::Function};
use crate::{
    Cancel, Cancelled,
    cases::{Survey, query::Query},
    diagram::{self, Diagram, Ref, Rows},
    lanes::DOUBT,
};
use keyon_circuit::hash::Map;
use keyon_circuit::ids::*;
use smol_str::SmolStr;

/// Rows up to which states are solved to confirm what separate bounds say.
const CONFIRMED: usize = 64;

/// A group before its rows are made.
pub(super) struct Joint {
    /// In the circuit's order.
    pub(super) controls: Vec<ControlId>,
    /// Each with what it does, if that is a function.
    pub(super) devices: Vec<(DeviceId, Option<Function>)>,
    pub(super) points: Vec<PointId>,
    /// Fuses before them that may blow: their states are solved.
    pub(super) fuses: Vec<ElementId>,
}

/// One function for several devices.
struct Merged {
    controls: Vec<ControlId>,
    positions: Vec<Vec<u8>>,
    diagram: Diagram,
    root: Ref,
    /// Of each device.
    roots: Vec<Ref>,
    /// Codes of each device, by code of the root.
    codes: Vec<Vec<u32>>,
}

impl Joint {
    pub(super) fn of_function(device: DeviceId, function: Function) -> Self {
        let support = function.diagram.support(function.root);
        let mut controls: Vec<ControlId> = support.iter().map(|&level| function.controls[level]).collect();
        controls.sort_unstable();
        Self { controls, devices: vec![(device, Some(function))], points: Vec::new(), fuses: Vec::new() }
    }

    /// Joins the group with the same controls, or is one of its own.
    pub(super) fn enter(self, groups: &mut Vec<Self>) {
        match groups.iter_mut().find(|g| g.controls == self.controls) {
            Some(group) => {
                group.devices.extend(self.devices);
                group.points.extend(self.points);
            }
            None => groups.push(self),
        }
    }

    /// Makes the rows.
    pub(super) fn table(
        self,
        survey: &Survey<'_>,
        open: &[u64],
        limit: usize,
        cancel: &dyn Cancel,
    ) -> Result<TableGroup, Cancelled> {
        if self.points.is_empty()
            && self.fuses.is_empty()
            && self.devices.iter().all(|(_, f)| f.is_some())
            && let Some(group) = self.by_functions(survey, limit)
        {
            return Ok(group);
        }
        let query = Query {
            devices: self.devices.into_iter().map(|(device, _)| device).collect(),
            volts: true,
            points: self.points,
            fuses: self.fuses,
            ..Query::default()
        };
        // What flows through a fuse is asked where it is an edge of its own.
        let survey = if query.fuses.is_empty() { survey } else { survey.unmerged() };
        let cases = survey.cases(&query, open.to_vec(), limit, cancel)?;
        Ok(by_cases::rows(survey, open, query, cases, limit))
    }

    /// From functions alone. `None` where a solved state contradicts what bounds say with everything else at rest.
    fn by_functions(&self, survey: &Survey<'_>, limit: usize) -> Option<TableGroup> {
        let functions: Vec<&Function> = self.devices.iter().filter_map(|(_, f)| f.as_ref()).collect();
        let mut merged = Merged::new(&self.controls, &functions)?;
        let Rows { rows, least, left } = diagram::rows(&mut merged.diagram, merged.root, limit);
        let separated = functions.iter().any(|f| f.separated);
        let mut group = TableGroup {
            controls: self.controls.clone(),
            devices: self.devices.iter().map(|(device, _)| *device).collect(),
            points: Vec::new(),
            rows: Vec::new(),
            least,
            basis: if separated { Basis::Separate } else { Basis::Proved },
            cut: None,
            counts: Vec::new(),
        };
        let combinations = |when: &[Option<usize>]| {
            let free = when.iter().zip(&merged.positions).filter(|(w, _)| w.is_none());
            free.fold(1u128, |n, (_, p)| n.saturating_mul(p.len() as u128))
        };
        let mut missing = left.iter().fold(0u128, |n, (when, _)| n.saturating_add(combinations(when)));
        for row in rows {
            let codes = &merged.codes[row.code as usize];
            if codes.contains(&DOUBT) {
                missing = missing.saturating_add(combinations(&row.when));
                continue;
            }
            let words = functions.iter().zip(codes).map(|(f, &code)| f.words[code as usize - 1].clone());
            let made = merged.row(&self.controls, survey, &row.when, words.collect());
            group.rows.push(made);
        }
        if missing > 0 {
            group.cut = Some(missing);
            group.least = 0;
            group.counts =
                functions.iter().zip(&merged.roots).map(|(f, &root)| merged.count(f, root)).collect();
        }
        let confirmed = || group.rows.iter().all(|row| confirms(survey, &group.devices, row));
        if separated && group.rows.len() <= CONFIRMED && !confirmed() {
            return None;
        }
        super::by_cases::sort(&mut group.rows);
        Some(group)
    }
}

/// Whether the solved state of a row says the same.
fn confirms(survey: &Survey<'_>, devices: &[DeviceId], row: &TableRow) -> bool {
    let solution = survey.solve(&row.positions);
    devices.iter().zip(&row.devices).all(|(device, words)| {
        solution.devices.get(device.index()).is_some_and(|state| super::device_words(state) == *words)
    })
}

impl Merged {
    fn new(controls: &[ControlId], functions: &[&Function]) -> Option<Self> {
        let first = functions.first()?;
        // The levels keep the functions' order, which is one for all.
        let levels: Vec<usize> =
            (0..first.controls.len()).filter(|&l| controls.contains(&first.controls[l])).collect();
        let own: Vec<ControlId> = levels.iter().map(|&l| first.controls[l]).collect();
        let positions: Vec<Vec<u8>> = levels.iter().map(|&l| first.positions[l].clone()).collect();
        let mut diagram = Diagram::new(positions.iter().map(Vec::len).collect());
        let mut all: Vec<Vec<u32>> = vec![Vec::new()];
        let mut of: Map<Vec<u32>, u32> = Map::from_iter([(Vec::new(), 0)]);
        let mut root = Ref::leaf(0);
        let mut roots = Vec::new();
        for function in functions {
            let place = |control: &ControlId| own.iter().position(|c| c == control).unwrap_or(0);
            let levels: Vec<usize> = function.controls.iter().map(place).collect();
            let copy = diagram.copy(&function.diagram, function.root, &levels);
            roots.push(copy);
            root = diagram.combine(root, copy, &mut |joint, own| {
                let (joint, own) = (joint.code()?, own.code()?);
                let mut codes = all.get(joint as usize)?.clone();
                codes.push(own);
                let next = all.len() as u32;
                let code = *of.entry(codes.clone()).or_insert(next);
                if code == next {
                    all.push(codes);
                }
                Some(Ref::leaf(code))
            });
        }
        (!diagram.full).then_some(Self { controls: own, positions, diagram, root, roots, codes: all })
    }

    /// A row of the diagram as one of the table.
    fn row(
        &self,
        controls: &[ControlId],
        survey: &Survey<'_>,
        when: &[Option<usize>],
        words: Vec<SmolStr>,
    ) -> TableRow {
        let at = |control: &ControlId| {
            let level = self.controls.iter().position(|c| c == control)?;
            when[level].map(|branch| usize::from(self.positions[level][branch]))
        };
        let when: Vec<Option<usize>> = controls.iter().map(at).collect();
        let mut positions = survey.base.positions.clone();
        for (control, when) in controls.iter().zip(&when) {
            if let (Some(position), Some(slot)) = (when, positions.get_mut(control.index())) {
                *slot = *position as u8;
            }
        }
        TableRow { when, devices: words, points: Vec::new(), positions, blown: Vec::new() }
    }

    /// Words of a device, and in how many combinations it does that.
    fn count(&self, function: &Function, root: Ref) -> Vec<(SmolStr, u128)> {
        let codes = self.diagram.codes(root).into_iter().filter(|&code| code != DOUBT);
        codes
            .map(|code| (function.words[code as usize - 1].clone(), self.diagram.count(root, code)))
            .collect()
    }
}
