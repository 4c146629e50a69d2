//! Which piece of a short circuit is the mistake.

use super::{
    Facts,
    graph::{Flood, is_continuity},
    paths::{senses, works},
};
use keyon_circuit::{
    ids::*,
    model::{COMMON, ElementKind},
};

impl Facts<'_> {
    /// The element of a short without which most loads still have their feed and their return; of several the one
    /// nearest to the end of the path, wires and joints before what switches.
    pub(super) fn blame(
        &self,
        source: ElementId,
        other: Option<ElementId>,
        path: &[ElementId],
    ) -> Option<ElementId> {
        let circuit = self.circuit;
        let kind = |e: &ElementId| circuit.elements.get(e.index()).map(|e| e.kind);
        let mut best: Option<(i64, u8, usize, ElementId)> = None;
        for (order, &e) in path.iter().enumerate() {
            use ElementKind::*;
            let rank = match kind(&e)? {
                Diode => 5,
                Wire | Tie => 4,
                Fuse(_) => 3,
                Contact => 2,
                Stage | Return => 1,
                _ => continue,
            };
            let score = self.left_over(source, other, e);
            let this = (score, rank, order, e);
            if best.is_none_or(|best| (this.0, this.1, this.2) > (best.0, best.1, best.2)) {
                best = Some(this);
            }
        }
        best.map(|(.., e)| e)
    }

    /// How well off the loads are without an element.
    fn left_over(&self, source: ElementId, other: Option<ElementId>, without: ElementId) -> i64 {
        let circuit = self.circuit;
        let flood = |start: PointId, down: bool| -> Flood {
            self.graph().flood(&[start], |e, step| {
                let diode = e.kind == ElementKind::Diode && step.forward != down;
                is_continuity(e) && !diode && step.element != without
            })
        };
        let at = |e: ElementId| circuit.elements.get(e.index()).map(|e| (e.to, e.kind));
        let up = flood(COMMON, false);
        let sources = [Some(source), other].into_iter().flatten().filter_map(at);
        let mut score = 0;
        for (start, kind) in sources {
            let down = flood(start, true);
            for device in &circuit.devices {
                let loads = device.elements.iter().filter_map(|e| circuit.elements.get(e.index()));
                let loads: Vec<_> = loads.filter(|e| e.kind.is_load()).collect();
                let any = |reach: &Flood| loads.iter().flat_map(|e| [e.from, e.to]).find(|&p| reach.has(p));
                let (Some(feed), Some(ground)) = (any(&down), any(&up)) else { continue };
                if feed == ground {
                    continue;
                }
                let reference = kind == ElementKind::Reference;
                let working = loads.iter().any(|e| works(e.kind));
                let sensor = loads.iter().any(|e| senses(e.kind));
                score += match (working, sensor) {
                    (true, _) if reference => -2,
                    (_, true) if reference => 2,
                    (_, true) => 1,
                    _ => 2,
                };
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
            }
        }
        score
    }
}
