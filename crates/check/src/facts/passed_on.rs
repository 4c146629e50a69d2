//! Diodes that lead out of a junction into which they were to lead.
//!
//! Two feeds with loads of their own are joined by two diodes, so that neither reaches the loads of the other. With one of them the
//! wrong way round nothing is dead: the junction works by the other feed, which now reaches the loads of the first one, too.

use super::{
    Facts, Flood,
    blocked::{Blocked, Turned},
    graph::is_continuity,
    paths::works,
};
use keyon_circuit::{
    ids::*,
    model::{COMMON, Element, ElementKind},
};
use keyon_solve::Cancelled;

impl Facts<'_> {
    /// What a diode would feed, turned round, if it leads out of a junction that only one other diode feeds, and that one then has
    /// nothing to block: on either side of the two, and between them, are loads, and either side has a switch of its own.
    pub(super) fn passed_on(&self, diode: ElementId, e: &Element) -> Result<Option<Blocked>, Cancelled> {
        let (junction, out) = (self.wired(e.from), self.wired(e.to));
        let ways = junction.order.iter().flat_map(|&at| self.graph().steps(at));
        let mut others = ways.filter(|way| !way.forward && way.element != diode).filter_map(|way| {
            let other = self.circuit.elements.get(way.element.index())?;
            (other.kind == ElementKind::Diode).then_some((way.element, other))
        });
        let (Some((by, inward)), None) = (others.next(), others.next()) else { return Ok(None) };
        let source = self.wired(inward.from);
        let apart = !junction.has(e.to) && !junction.has(inward.from) && !source.has(e.to);
        let always_fed = self.always_fed();
        // What the junction feeds may stand behind a switch.
        let fed_by = self.graph().flood(&[e.from], |e, step| {
            is_continuity(e)
                && !matches!(e.kind, ElementKind::Diode | ElementKind::Stage)
                && step.to != COMMON
                && !always_fed.has(step.to)
        });
        let loaded = [&fed_by, &out, &source].iter().all(|net| self.has_work(net));
        if !apart || !loaded || self.is_shunt(inward) {
            return Ok(None);
        }
        let switched = |point| !always_fed.has(point);
        let fed = |point, without| self.reached_without(without, &self.source_points(), true).has(point);
        if !switched(e.to) || !switched(inward.from) || fed(e.from, by) || !fed(e.to, diode) {
            return Ok(None);
        }
        let base = self.mend(self.base())?;
        Ok(match self.turned(diode, e, &base)? {
            Turned::Feeds(load) => Some(Blocked { diode, load, fuse: None, beside: Some(by) }),
            _ => None,
        })
    }

    /// Whether something that works hangs on a net.
    fn has_work(&self, net: &Flood) -> bool {
        let mut ways = net.order.iter().flat_map(|&at| self.graph().steps(at));
        ways.any(|way| self.circuit.elements.get(way.element.index()).is_some_and(|e| works(e.kind)))
    }

    /// What sources reach by wires alone.
    fn always_fed(&self) -> Flood {
        self.graph().flood(&self.source_points(), |e, _| super::graph::is_wiring(e.kind))
    }
}
