//! What is there to tell of a blown fuse: a lamp, or a diode with its resistor, from one side of a fuse to the other.

use super::{
    Facts,
    graph::is_continuity,
    paths::{state_of, works},
};
use keyon_circuit::{
    ids::*,
    model::{COMMON, Change, Element, ElementKind, When},
};
use keyon_solve::{Cancelled, DEFAULT_LIMIT, ElementState, Survey};

/// Amps from which a resistor in line with a diode carries something.
const SOME: f64 = 50e-6;

impl Facts<'_> {
    /// Whether a load lies across a fuse and gets current in some state once that fuse is open. With the fuse whole both its ends
    /// hang on the supply, as they should.
    ///
    /// # Errors
    /// When the check is cancelled.
    pub fn tells_of_a_blown_fuse(&self, device: DeviceId, load: ElementId) -> Result<bool, Cancelled> {
        let circuit = self.circuit;
        let Some(e) = circuit.elements.get(load.index()) else { return Ok(false) };
        for fuse in circuit.fuses.iter().filter(|fuse| self.across_fuse(load, e, fuse.element)) {
            let mut base = self.mend(self.base())?;
            base.changes.push(Change::Open(fuse.element));
            let cases = Survey::new(circuit, &base).cases_of_device(device, DEFAULT_LIMIT, self.cancel)?;
            let works = cases.cases.iter().any(|case| {
                let amps = case.solution.amps.get(load.index()).and_then(|a| a.known());
                state_of(&case.solution, device, load) >= ElementState::Weak
                    || amps.is_some_and(|amps| amps.abs() > SOME)
            });
            if works {
                return Ok(true);
            }
        }
        Ok(false)
    }

    /// Whether a load gets current in some state once another load is open: a lamp on the rest contact of a relay whose coil stands
    /// in series with what it watches.
    ///
    /// # Errors
    /// When the check is cancelled.
    pub fn tells_of_an_open_load(&self, device: DeviceId, load: ElementId) -> Result<bool, Cancelled> {
        let circuit = self.circuit;
        let Some(e) = circuit.elements.get(load.index()) else { return Ok(false) };
        let reach = self.graph().flood(&[e.from, e.to], |e, step| is_continuity(e) && step.to != COMMON);
        let coils = circuit.elements.iter().filter_map(|contact| match contact.when {
            When::Energised { coil, open: true } if reach.has(contact.from) => Some(coil),
            _ => None,
        });
        for coil in coils {
            let Some(c) = circuit.elements.get(coil.index()) else { continue };
            for end in [c.from, c.to] {
                let net = self.wired(end);
                let hangs = |e: &Element| works(e.kind) && (net.has(e.from) || net.has(e.to));
                let mut others =
                    circuit.elements.iter().enumerate().filter(|(i, e)| hangs(e) && *i != coil.index());
                // Just one other load, and nothing that feeds or grounds the net between the two.
                let (Some((other, _)), None) = (others.next(), others.next()) else { continue };
                if net.has(COMMON) || self.fed_somehow().has(end) || other == load.index() {
                    continue;
                }
                let mut base = self.mend(self.base())?;
                base.changes.push(Change::Open(other.into()));
                let cases =
                    Survey::new(circuit, &base).cases_of_device(device, DEFAULT_LIMIT, self.cancel)?;
                if cases.cases.iter().any(|c| state_of(&c.solution, device, load) >= ElementState::Weak) {
                    return Ok(true);
                }
            }
        }
        Ok(false)
    }

    /// Whether one end of a load leads to one side of a fuse and the other to its other side, with nothing between but what stands
    /// in line with an indicator: wiring, contacts, diodes, resistors.
    fn across_fuse(&self, load: ElementId, e: &Element, fuse: ElementId) -> bool {
        let Some(sides) = self.circuit.elements.get(fuse.index()) else { return false };
        let passes = |e: &Element| is_continuity(e) || e.kind == ElementKind::Resistor;
        let [from, to] = [e.from, e.to].map(|end| {
            self.graph().flood(&[end], |e, step| passes(e) && step.element != fuse && step.element != load)
        });
        let (a, b) = (sides.from, sides.to);
        (from.has(a) && to.has(b)) || (from.has(b) && to.has(a))
    }
}
