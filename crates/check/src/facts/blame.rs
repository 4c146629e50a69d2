//! Which piece of a short circuit is the mistake.

use super::{
    Facts,
    closing::Need,
    graph::{Flood, Step, is_continuity},
    paths::{senses, works},
};
use keyon_circuit::{
    hash::Set,
    ids::*,
    model::{COMMON, Change, Element, ElementKind, Law, Module, Owner, When},
};
use keyon_solve::{State, solve};

/// States in which the pieces of a short are compared.
const STATES: usize = 32;
/// Pieces that are compared so.
const PIECES: usize = 12;

/// A piece that may be the mistake, with what speaks for it: how well off the loads are without it, what it is, how far on
/// the path it lies.
type Suspect = (Left, u8, usize, ElementId);

/// How well off the loads are: first those with a feed and a return of their own, then those that have one of them by way of
/// another load, then those with both while the switches on the path are open. Two wires that change places leave two loads
/// in series; the common ground taken away leaves none; what only a wrong switch still feeds has lost its own feed.
type Left = (i64, i64, i64);

impl Facts<'_> {
    /// The element of a short without which most loads still have their feed and their return; of several the one
    /// nearest to the end of the path, wires and joints before what switches.
    pub(super) fn blame(
        &self,
        source: ElementId,
        other: Option<ElementId>,
        path: &[ElementId],
    ) -> Option<ElementId> {
        let suspects = self.pieces_to_blame(source, other, path);
        suspects.into_iter().max_by_key(|&(score, rank, order, _)| (score, rank, order)).map(|(.., e)| e)
    }

    /// The same when it is known what closes the path: of several, the one without which most loads work in the positions
    /// of the path's controls. A wire that only the short's switch leads to is as necessary as any; a contact that closes in
    /// one position too many is not.
    pub(super) fn blame_at_work(
        &self,
        (source, other, path): (ElementId, Option<ElementId>, &[ElementId]),
        need: &Need,
        away: &[(ControlId, usize)],
        cut: &[Change],
    ) -> Option<ElementId> {
        let mut suspects = self.pieces_to_blame(source, other, path);
        let most = suspects.iter().map(|s| s.0).max()?;
        suspects.retain(|s| s.0 == most);
        suspects.sort_by_key(|&(_, rank, order, _)| std::cmp::Reverse((rank, order)));
        let first = suspects.first().map(|s| s.3);
        if suspects.len() < 2 || need.controls.is_empty() {
            return first;
        }
        let states = self.states_beside(need, away);
        // The first of those that leave most at work.
        let mut best: Option<(usize, ElementId)> = None;
        for &(.., e) in suspects.iter().take(PIECES) {
            let works = states.iter().map(|state| self.loads_at_work(state, e, cut)).sum();
            if best.is_none_or(|(most, _)| works > most) {
                best = Some((works, e));
            }
        }
        best.map(|(_, e)| e).or(first)
    }

    fn pieces_to_blame(
        &self,
        source: ElementId,
        other: Option<ElementId>,
        path: &[ElementId],
    ) -> Vec<Suspect> {
        let circuit = self.circuit;
        let element = |e: &ElementId| circuit.elements.get(e.index());
        // A diode that lies across a load and conducts past it is turned round, whatever else there is.
        let diode = |e: &&ElementId| element(e).is_some_and(|e| e.kind == ElementKind::Diode);
        for &diode in path.iter().filter(diode) {
            let loads = circuit.elements.iter().enumerate().filter(|(_, load)| works(load.kind));
            if loads.map(|(i, _)| self.across(i.into())).any(|shunts| shunts.contains(&diode)) {
                return vec![((0, 0, 0), 0, 0, diode)];
            }
        }
        let switch = |e: &ElementId| {
            element(e).is_some_and(|e| e.kind == ElementKind::Contact && matches!(e.when, When::In { .. }))
        };
        let switches: Vec<ElementId> = path.iter().copied().filter(switch).collect();
        let mut suspects = Vec::new();
        for (order, &e) in path.iter().enumerate() {
            use ElementKind::*;
            let rank = match element(&e).map(|e| e.kind) {
                Some(Diode) => 5,
                Some(Wire | Tie) => 4,
                Some(Fuse(_)) => 3,
                Some(Contact) => 2,
                Some(Stage | Return) => 1,
                _ => continue,
            };
            let (own, by_others) = self.left_over(source, other, &[e]);
            let switched_off = if switches.is_empty() {
                0
            } else {
                self.left_over(source, other, &[&[e], switches.as_slice()].concat()).0
            };
            suspects.push(((own, by_others, switched_off), rank, order, e));
        }
        suspects
    }

    /// The positions of a path's controls, all else as it is when the path closes.
    fn states_beside(&self, need: &Need, away: &[(ControlId, usize)]) -> Vec<State> {
        let mut first = self.base();
        let set = |state: &mut State, control: ControlId, position: usize| {
            if let Some(at) = state.positions.get_mut(control.index()) {
                *at = u8::try_from(position).unwrap_or(0);
            }
        };
        for &(control, position) in away {
            set(&mut first, control, position);
        }
        let mut states = vec![first];
        for &(control, _) in &need.controls {
            let positions = self.circuit.controls.get(control.index()).map_or(1, |c| c.positions.len());
            if states.len() * positions > STATES {
                break;
            }
            let with = |state: &State, position| {
                let mut state = state.clone();
                set(&mut state, control, position);
                state
            };
            states = states.iter().flat_map(|s| (0..positions).map(move |p| with(s, p))).collect();
        }
        states
    }

    /// How many devices work in a state without an element.
    fn loads_at_work(&self, state: &State, without: ElementId, cut: &[Change]) -> usize {
        let mut state = state.clone();
        state.changes.extend(cut.iter().cloned());
        state.changes.push(Change::Open(without));
        let solution = solve(self.circuit, &state);
        solution.devices.iter().filter(|device| device.state.operates()).count()
    }

    /// How well off the loads are without some elements.
    fn left_over(&self, source: ElementId, other: Option<ElementId>, without: &[ElementId]) -> (i64, i64) {
        let circuit = self.circuit;
        let insides = |list: fn(&Module) -> &Vec<(usize, usize)>| -> Set<PointId> {
            let cavities = circuit.modules.iter().flat_map(|m| list(m).iter().map(move |&at| (m, at)));
            cavities.filter_map(|(m, at)| Some(super::modules::cavity(m, at)?.inside)).collect()
        };
        // Both stages of a leg are never on: no way leads through a module from its feed to its ground.
        let rails = [insides(|m| &m.feeds), insides(|m| &m.grounds)];
        let across = |step: Step, down: bool| rails[usize::from(down)].contains(&step.to);
        // Down from a source, or up from ground against the diodes.
        let walk = |start: PointId, down: bool, through: &dyn Fn(&Element, Step) -> bool| -> Flood {
            self.graph().flood(&[start], |e, step| {
                let blocks = e.kind == ElementKind::Diode && step.forward != down;
                !blocks && !without.contains(&step.element) && through(e, step)
            })
        };
        let flood = |start: PointId, down: bool| {
            walk(start, down, &|e, step| is_continuity(e) && !across(step, down))
        };
        // The same through loads, up to what is held the other way.
        let beyond = |start: PointId, down: bool, held: &Flood| {
            walk(start, down, &|e, step| {
                (is_continuity(e) || works(e.kind)) && !across(step, down) && !held.has(step.to)
            })
        };
        // By the loom alone: what a module joins inside is no reason for a second feed or ground.
        let outside = |start: PointId, down: bool| {
            walk(start, down, &|e, _| is_continuity(e) && !matches!(e.owner, Owner::Module(..)))
        };
        let up_outside = outside(COMMON, false);
        let at = |e: ElementId| circuit.elements.get(e.index()).map(|e| (e.to, e.kind));
        let up = flood(COMMON, false);
        let sources = [Some(source), other].into_iter().flatten().filter_map(at);
        let (mut score, mut by_others) = (0, 0);
        for (start, kind) in sources {
            let (down, down_outside) = (flood(start, true), outside(start, true));
            let (down_via, up_via) = (beyond(start, true, &up), beyond(COMMON, false, &down));
            let mut senses_by_it = false;
            for device in &circuit.devices {
                let loads = device.elements.iter().filter_map(|e| circuit.elements.get(e.index()));
                let loads: Vec<_> = loads.filter(|e| e.kind.is_load()).collect();
                let working = loads.iter().any(|e| works(e.kind));
                // Two ends of its own: what lies at both ends of a bridge is reached from both sides.
                let ends = || {
                    let fed = |e: &Element| match e.law {
                        Law::Transducer { feed, .. } => Some(feed),
                        _ => None,
                    };
                    loads.iter().flat_map(move |e| [Some(e.from), Some(e.to), fed(e)]).flatten()
                };
                let held = ends().any(|feed| down.has(feed) && ends().any(|g| g != feed && up.has(g)));
                if !held {
                    let via = |e: &&Element| {
                        let ends = [(e.from, e.to), (e.to, e.from)];
                        ends.iter().any(|&(a, b)| down_via.has(a) && up_via.has(b))
                    };
                    by_others += i64::from(working && loads.iter().any(via));
                    continue;
                }
                let reference = kind == ElementKind::Reference;
                let sensor = loads.iter().any(|e| senses(e.kind));
                senses_by_it |= sensor;
                score += match (working, sensor) {
                    (true, _) if reference => -2,
                    (_, true) if reference => 2,
                    (_, true) => 1,
                    _ => 2,
                };
            }
            if kind == ElementKind::Reference {
                // One that feeds no sensor has lost them.
                score -= if senses_by_it { 0 } else { 3 };
                continue;
            }
            for module in &circuit.modules {
                let any = |list: &[(usize, usize)], reach: &Flood| {
                    list.iter()
                        .filter_map(|&at| super::modules::cavity(module, at))
                        .any(|c| reach.has(c.inside))
                };
                if any(&module.feeds, &down) && any(&module.grounds, &up) {
                    score += 4;
                }
                let reached = |list: &[(usize, usize)], reach: &Flood| {
                    let cavities = list.iter().filter_map(|&at| super::modules::cavity(module, at));
                    cavities.filter(|c| reach.has(c.outside)).count() as i64
                };
                score += reached(&module.feeds, &down_outside) + reached(&module.grounds, &up_outside);
            }
        }
        (score, by_others)
    }
}
