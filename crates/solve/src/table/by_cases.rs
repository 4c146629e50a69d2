//! Rows from solved cases.

use super::{Basis, TableGroup, TableRow, by_function::Function, device_words, joint::Joint};
use crate::{
    Cancel, Cancelled, NodeState, Solution,
    cases::{Case, Cases, Survey, query::Query},
    diagram::{self, Diagram, NO, Ref, YES},
    lanes::{
        DOUBT,
        program::{Algebra, Op},
    },
};
use keyon_circuit::hash::Map;
use keyon_circuit::ids::*;
use smol_str::SmolStr;

/// Cases up to which rows are sought anew; more of them are joined as they were found.
const SOUGHT: usize = 1024;

/// Cases that are solved before a function that is in doubt is made use of.
const PLAIN: usize = 512;

/// A device whose states are solved: all of them, or where they are many those in which its function is in doubt.
///
/// # Errors
/// When `cancel` asks for it.
pub(super) fn device(
    survey: &Survey<'_>,
    device: DeviceId,
    function: Option<Function>,
    open: &[u64],
    limit: usize,
    cancel: &dyn Cancel,
) -> Result<Joint, Cancelled> {
    let query = Query { devices: vec![device], volts: true, ..Query::default() };
    let plain = if function.is_some() { limit.min(PLAIN) } else { limit };
    let cases = survey.cases(&query, open.to_vec(), plain, cancel)?;
    if let (Some(function), Some(_)) = (function, cases.cut)
        && let Some(function) = settle(survey, &query, function, open, limit, cancel)?
    {
        return Ok(Joint::of_function(device, function));
    }
    Ok(Joint {
        controls: cases.controls,
        devices: vec![(device, None)],
        points: Vec::new(),
        fuses: Vec::new(),
    })
}

/// Solves what is in doubt of a function, as far as the limit goes. `None` where it hangs on other controls.
fn settle(
    survey: &Survey<'_>,
    query: &Query,
    mut function: Function,
    open: &[u64],
    limit: usize,
    cancel: &dyn Cancel,
) -> Result<Option<Function>, Cancelled> {
    let map: Map<u32, u32> =
        (0..=function.words.len() as u32).map(|code| (code, u32::from(code == DOUBT))).collect();
    let doubt = function.diagram.relabel(function.root, &map);
    let sets = diagram::rows(&mut function.diagram, doubt, limit).rows;
    let mut budget = limit;
    for set in sets.into_iter().filter(|set| set.code == 1) {
        let mut masks = open.to_vec();
        for ((control, positions), when) in function.controls.iter().zip(&function.positions).zip(&set.when) {
            if let (Some(branch), Some(mask)) = (when, masks.get_mut(control.index())) {
                *mask = 1 << positions[*branch];
            }
        }
        let found = survey.explore(query, masks.clone(), budget, cancel)?;
        budget -= found.leaves.len().min(budget);
        for leaf in found.leaves {
            let mut all = YES;
            for (control, &mask) in leaf.masks.iter().enumerate() {
                let level = function.controls.iter().position(|c| c.index() == control);
                match level {
                    None if mask == masks[control] => {}
                    None => return Ok(None),
                    Some(level) => {
                        let positions = &function.positions[level];
                        let literal = function.diagram.literal(level, |p| mask >> positions[p] & 1 == 1);
                        let mut both = NO;
                        function.diagram.apply(Op::And, &all, &literal, &mut both);
                        all = both;
                    }
                }
            }
            let state = query.devices.first().and_then(|d| leaf.solution.devices.get(d.index()));
            let Some(words) = state.map(device_words) else { return Ok(None) };
            let at = function.words.iter().position(|w| *w == words).unwrap_or_else(|| {
                function.words.push(words);
                function.words.len() - 1
            });
            function.root = function.diagram.pick(all, at as u32 + 1, function.root);
        }
    }
    function.separated = true;
    Ok((!function.diagram.full).then_some(function))
}

/// A point, whose volts are always solved.
///
/// # Errors
/// When `cancel` asks for it.
pub(super) fn point(
    survey: &Survey<'_>,
    point: PointId,
    open: &[u64],
    limit: usize,
    cancel: &dyn Cancel,
) -> Result<Joint, Cancelled> {
    let query = Query { points: vec![point], volts: true, ..Query::default() };
    let controls = survey.cases(&query, open.to_vec(), limit, cancel)?.controls;
    Ok(Joint { controls, devices: Vec::new(), points: vec![point], fuses: Vec::new() })
}

/// The rows of cases.
pub(super) fn rows(
    survey: &Survey<'_>,
    open: &[u64],
    query: Query,
    cases: Cases,
    limit: usize,
) -> TableGroup {
    let Cases { controls, cases, mut cut } = cases;
    let sought = if cut.is_none() && cases.len() <= SOUGHT {
        fewest(survey, open, &query, &controls, &cases, limit)
    } else {
        None
    };
    let (mut rows, least) = match sought {
        Some(found) => found,
        None => {
            let mut rows = Vec::new();
            for case in cases {
                for when in expand(open, &controls, &case) {
                    if rows.len() < limit {
                        rows.push(row(&query, when, &case.solution));
                    } else {
                        cut = Some(cut.unwrap_or(0).saturating_add(1));
                    }
                }
            }
            (rows, 0)
        }
    };
    sort(&mut rows);
    TableGroup {
        controls,
        devices: query.devices,
        points: query.points,
        rows,
        least,
        basis: Basis::Separate,
        cut,
        counts: Vec::new(),
    }
}

/// A dash stands where its first position would.
pub(super) fn sort(rows: &mut [TableRow]) {
    rows.sort_by_cached_key(|row| row.when.iter().rev().map(|w| w.unwrap_or(0)).collect::<Vec<_>>());
}

fn row(query: &Query, when: Vec<Option<usize>>, solution: &Solution) -> TableRow {
    let words = |d: &DeviceId| solution.devices.get(d.index()).map_or_else(SmolStr::default, device_words);
    let point = |p: &PointId| {
        let state = solution.node_states.get(p.index()).copied().unwrap_or(NodeState::Open);
        (state, solution.volts.get(p.index()).copied().flatten())
    };
    TableRow {
        when,
        devices: query.devices.iter().map(words).collect(),
        points: query.points.iter().map(point).collect(),
        positions: solution.state.positions.clone(),
        blown: query.fuses.iter().copied().filter(|e| solution.blown.iter().any(|(b, _)| b == e)).collect(),
    }
}

/// The cases' function as few rows, and a bound from below for their number. `None` where these are too many.
fn fewest(
    survey: &Survey<'_>,
    open: &[u64],
    query: &Query,
    controls: &[ControlId],
    cases: &[Case],
    limit: usize,
) -> Option<(Vec<TableRow>, usize)> {
    let positions: Vec<Vec<usize>> = controls
        .iter()
        .map(|c| (0..64).filter(|p| open.get(c.index()).is_some_and(|mask| mask >> p & 1 == 1)).collect())
        .collect();
    let mut diagram = Diagram::new(positions.iter().map(Vec::len).collect());
    let mut of: Map<String, u32> = Map::default();
    let mut root = Ref::leaf(0);
    let mut codes = Vec::new();
    for case in cases {
        let next = of.len() as u32 + 1;
        let code = *of.entry(query.key(survey.circuit, &case.solution)).or_insert(next);
        let mut all = YES;
        for (level, &mask) in case.when.iter().enumerate() {
            let literal = diagram.literal(level, |p| mask >> positions[level][p] & 1 == 1);
            let mut both = NO;
            diagram.apply(Op::And, &all, &literal, &mut both);
            all = both;
        }
        root = diagram.pick(all, code, root);
        codes.push(code);
    }
    let found = diagram::rows(&mut diagram, root, limit);
    if diagram.full || !found.left.is_empty() {
        return None;
    }
    let mut rows = Vec::with_capacity(found.rows.len());
    for found in &found.rows {
        let when: Vec<Option<usize>> =
            found.when.iter().zip(&positions).map(|(w, p)| w.map(|branch| p[branch])).collect();
        // Of the solved states that fall into the row the one nearest the base.
        let fits = |solution: &Solution| {
            controls.iter().zip(&when).all(|(c, when)| {
                let at = solution.state.positions.get(c.index()).copied().unwrap_or(0);
                when.is_none_or(|when| when == usize::from(at))
            })
        };
        let alike =
            || cases.iter().zip(&codes).filter(|(_, code)| **code == found.code).map(|(case, _)| case);
        let inside = alike().filter(|case| fits(&case.solution));
        let nearest = inside.min_by_key(|case| survey.departs(&case.solution.state.positions));
        let solution = match nearest {
            Some(case) => case.solution.clone(),
            // None of them: the row's own state says the same, and is solved to be shown.
            None => {
                let mut at = alike().next()?.solution.state.positions.clone();
                for (control, when) in controls.iter().zip(&when) {
                    let base = survey.base.positions.get(control.index()).copied().unwrap_or(0);
                    if let Some(slot) = at.get_mut(control.index()) {
                        *slot = when.map_or(base, |when| when as u8);
                    }
                }
                survey.solve(&at)
            }
        };
        rows.push(row(query, when, &solution));
    }
    Some((rows, found.least))
}

/// A case as rows: a dash for all positions, else a row a position. Made one by one, for a product may be large.
fn expand<'a>(
    open: &'a [u64],
    controls: &'a [ControlId],
    case: &'a Case,
) -> impl Iterator<Item = Vec<Option<usize>>> + 'a {
    let choices: Vec<Vec<Option<usize>>> = controls
        .iter()
        .zip(&case.when)
        .map(|(c, &mask)| {
            if mask == open[c.index()] {
                vec![None]
            } else {
                (0..64).filter(|p| mask >> p & 1 == 1).map(Some).collect()
            }
        })
        .collect();
    let mut at = Some(vec![0usize; choices.len()]);
    std::iter::from_fn(move || {
        let now = at.clone()?;
        let row = now.iter().zip(&choices).map(|(&i, c)| c.get(i).copied().flatten()).collect();
        let mut next = now;
        let turned = next.iter_mut().zip(&choices).any(|(i, c)| {
            *i = (*i + 1) % c.len().max(1);
            *i != 0
        });
        at = turned.then_some(next);
        Some(row)
    })
}
