//! Cuts a piece out of a circuit, with what stands for all that is left out of it.

use super::cut::Cut;
use crate::{Facts, words};
use keyon_circuit::{Elaboration, Region, ids::*, model::*};
use keyon_solve::{Cancelled, Solution, solve};
use smol_str::{SmolStr, format_smolstr};
use std::collections::{BTreeMap, BTreeSet};

/// Currents below this are none, in amps.
const NOTHING: f64 = 1e-9;

/// What is needed to cut pieces.
pub(super) struct Cutter<'a> {
    elaboration: &'a Elaboration,
    cut: &'a Cut,
    /// Points that hang on what could not be read, ascending.
    held: &'a [PointId],
    /// The elements between ground points and the common ground, which belong to no region, by their points.
    still: BTreeMap<PointId, Vec<ElementId>>,
}

/// A region with all on which it hangs, as a circuit of its own.
pub(super) struct Piece<'a> {
    pub(super) elaboration: Elaboration,
    region: &'a Region,
    /// Of the whole: the points and elements in the piece's order.
    points: Vec<PointId>,
    elements: Vec<ElementId>,
}

/// The loads that a piece is to that on which it hangs, at one point.
#[derive(Clone, Debug)]
pub(super) struct StandIn {
    /// The element by which it hangs.
    name: SmolStr,
    pub(super) at: PointId,
    /// What it takes with its own controls at rest.
    rest: Option<f64>,
    /// What it takes more in its worst state, and the control that stands for those which bring it there.
    more: Option<(f64, Control)>,
    loc: Loc,
}

impl StandIn {
    /// All that is said of it, its places by what `rank` makes of their items.
    pub(super) fn telling(&self, rank: impl Fn(u32) -> Option<(usize, usize)>) -> String {
        let control = self.more.as_ref().map(|(ohms, control)| {
            let loc = (control.loc.file, rank(control.loc.item), control.loc.span);
            (ohms.to_bits(), &control.name, &control.title, &control.positions, loc)
        });
        let loc = (self.loc.file, rank(self.loc.item), self.loc.span);
        format!("{} {:?} {control:?} {loc:?}", self.name, self.rest.map(f64::to_bits))
    }

    /// The places that it names.
    pub(super) fn locs(&self) -> Vec<Loc> {
        self.more.iter().map(|(_, control)| control.loc).chain([self.loc]).collect()
    }

    /// The same where things stand now.
    pub(super) fn moved(&self, at: PointId, moved: impl Fn(Loc) -> Loc) -> Self {
        let more = self
            .more
            .as_ref()
            .map(|(ohms, control)| (*ohms, Control { loc: moved(control.loc), ..control.clone() }));
        Self { at, more, loc: moved(self.loc), ..self.clone() }
    }
}

impl<'a> Cutter<'a> {
    pub(super) fn new(elaboration: &'a Elaboration, cut: &'a Cut, held: &'a [PointId]) -> Self {
        let regions = &cut.regions;
        let circuit = &elaboration.circuit;
        let mut owned = vec![false; circuit.elements.len()];
        for e in regions.iter().flat_map(|r| &r.elements) {
            if let Some(owned) = owned.get_mut(e.index()) {
                *owned = true;
            }
        }
        let mut still: BTreeMap<PointId, Vec<ElementId>> = BTreeMap::new();
        for (i, e) in circuit.elements.iter().enumerate().filter(|(i, _)| !owned[*i]) {
            for end in [e.from, e.to].into_iter().filter(|&end| end != COMMON) {
                still.entry(end).or_default().push(i.into());
            }
        }
        Self { elaboration, cut, held, still }
    }

    pub(super) fn piece(&self, index: usize, stand_ins: &[StandIn]) -> Piece<'a> {
        let (mut elements, mut points) = (Vec::new(), Vec::new());
        if let Some(region) = self.cut.regions.get(index) {
            elements.extend_from_slice(&region.elements);
            points.extend_from_slice(&region.points);
        }
        for core in self.cut.way(index).skip(1).filter_map(|above| self.cut.cores.get(above)) {
            elements.extend_from_slice(&core.elements);
            points.extend_from_slice(&core.points);
        }
        self.ground(&mut elements);
        let part = self.elaboration.circuit.excerpt(&elements, &points);
        let mut circuit = part.circuit;
        let held = |(i, p): (usize, &PointId)| self.held.binary_search(p).is_ok().then(|| i.into());
        circuit.tainted = part.points.iter().enumerate().filter_map(held).collect();
        let mut stand_ins: Vec<&StandIn> = stand_ins.iter().collect();
        stand_ins.sort_by_key(|s| s.loc);
        for stand_in in stand_ins {
            let Ok(at) = part.points.binary_search(&stand_in.at) else { continue };
            if let Some(ohms) = stand_in.rest {
                circuit.stand_in(stand_in.name.clone(), [at.into(), COMMON], ohms, None, stand_in.loc);
            }
            if let Some((ohms, control)) = &stand_in.more {
                circuit.stand_in(
                    stand_in.name.clone(),
                    [at.into(), COMMON],
                    *ohms,
                    Some(control.clone()),
                    stand_in.loc,
                );
            }
        }
        let elaboration = self.elaboration.with_circuit(circuit);
        Piece { elaboration, region: &self.cut.regions[index], points: part.points, elements: part.elements }
    }

    /// Adds the way to ground of every ground point that is touched.
    fn ground(&self, elements: &mut Vec<ElementId>) {
        let circuit = &self.elaboration.circuit;
        let ends = |e: &ElementId| circuit.elements.get(e.index()).map(|e| [e.from, e.to]);
        let mut open: Vec<PointId> = elements.iter().filter_map(ends).flatten().collect();
        let mut seen = BTreeSet::new();
        while let Some(point) = open.pop() {
            let Some(more) = self.still.get(&point).filter(|_| seen.insert(point)) else { continue };
            elements.extend_from_slice(more);
            open.extend(more.iter().filter_map(ends).flatten());
        }
    }
}

impl Piece<'_> {
    /// Whether it hangs on another piece.
    pub(super) fn hangs(&self) -> bool {
        self.region.parent.is_some()
    }

    /// What stands for the piece where it hangs: one for each of its elements that ends at a point which is not its own.
    pub(super) fn stand_ins(&self, facts: &Facts<'_>) -> Result<Vec<StandIn>, Cancelled> {
        let circuit = &self.elaboration.circuit;
        let own: BTreeSet<PointId> = self.region.points.iter().copied().collect();
        let whole = |p: PointId| self.points.get(p.index()).copied();
        let mut all = Vec::new();
        for element in &self.region.elements {
            let Ok(e) = self.elements.binary_search(element) else { continue };
            let id = ElementId::from(e);
            let Some(element) = circuit.elements.get(e) else { continue };
            let hub = [element.from, element.to].into_iter().find(|&p| {
                let ground = circuit.points.get(p.index()).map(|p| p.kind);
                !matches!(ground, None | Some(PointKind::Common | PointKind::Ground(_)))
                    && whole(p).is_some_and(|p| !own.contains(&p))
            });
            let Some(hub) = hub else { continue };
            let worst = facts.worst(id)?;
            let volts = |s: &Solution| s.unloaded.get(hub.index()).copied().flatten();
            let amps = |s: &Solution| s.amps.get(e).and_then(|a| a.known());
            let ohms = |amps: f64, volts: f64| (amps > NOTHING && volts > NOTHING).then(|| volts / amps);
            let Some(at_most) = volts(&worst.solution) else { continue };
            // The same with its own controls at rest.
            let mut state = worst.solution.state.clone();
            let shared = self.shared();
            for (control, position) in state.positions.iter_mut().enumerate() {
                if !shared.contains(&ControlId::from(control)) {
                    *position = 0;
                }
            }
            let resting = solve(circuit, &state);
            let rest = amps(&resting).map_or(0.0, f64::abs).min(worst.amps.abs());
            let more = worst.amps.abs() - rest;
            let enough = |s: &Solution| amps(s).is_some_and(|a| a.abs() >= worst.amps.abs() * 0.999);
            let more = match ohms(more, at_most) {
                Some(ohms) => {
                    let (away, _) = facts.fewest(&worst.solution.state, enough);
                    let away: Vec<_> = away.into_iter().filter(|(c, _)| !shared.contains(c)).collect();
                    self.moved_by(&away).map(|control| (ohms, control))
                }
                None => None,
            };
            let rest = ohms(rest, volts(&resting).unwrap_or(at_most));
            let Some(at) = whole(hub) else { continue };
            all.push(StandIn { name: words::name(circuit, id), at, rest, more, loc: element.loc });
        }
        Ok(all)
    }

    /// Controls that are not the region's own.
    fn shared(&self) -> BTreeSet<ControlId> {
        let circuit = &self.elaboration.circuit;
        let own: BTreeSet<ElementId> = self.region.elements.iter().copied().collect();
        let elements = circuit.elements.iter().enumerate();
        let others = elements.filter(|(i, _)| !self.elements.get(*i).is_some_and(|e| own.contains(e)));
        others
            .filter_map(|(_, e)| match e.when {
                When::In { control, .. } if e.owner != Owner::Elsewhere => Some(control),
                _ => None,
            })
            .collect()
    }

    /// One control for several: it reads as they do.
    fn moved_by(&self, away: &[(ControlId, usize)]) -> Option<Control> {
        let circuit = &self.elaboration.circuit;
        let (&(last, position), before) = away.split_last()?;
        let control = circuit.controls.get(last.index())?;
        let name = |control: &Control| match before {
            [] => control.name.clone(),
            // `with` puts the marks around the whole.
            before => {
                let words = words::with(circuit, before);
                let words = words.trim_start_matches("with `");
                format_smolstr!("{} and `{}", words.replace(" and ", ", "), control.name)
            }
        };
        Some(Control {
            name: name(control),
            qualified: name(control),
            positions: vec![SmolStr::new_static("rest"), control.positions.get(position)?.clone()],
            // Its own stage or device is not in the piece.
            kind: ControlKind::Free,
            pwm: None,
            ..control.clone()
        })
    }
}
