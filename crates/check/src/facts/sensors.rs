//! Sensors one by one, and what each hangs on.

use super::{
    Facts,
    graph::{Flood, is_continuity},
    paths::{node, senses},
};
use keyon_circuit::{
    ids::*,
    model::{COMMON, Element, ElementKind, Law, Owner, Role},
};
use keyon_solve::{Cancelled, NodeState, Solution};

/// One thing that a device senses.
#[derive(Clone, Debug)]
pub struct Sensor {
    #[allow(missing_docs)]
    pub device: DeviceId,
    #[allow(missing_docs)]
    pub stimulus: StimulusId,
    /// The points inside of the device that belong to it.
    pub points: Vec<PointId>,
}

impl Facts<'_> {
    /// The sensors of a device, one for each thing that it senses: a pedal may have two tracks that know nothing of each
    /// other.
    pub fn sensors_of(&self, device: DeviceId) -> Vec<Sensor> {
        let mut sensors: Vec<Sensor> = Vec::new();
        for (_, e) in self.elements_of(device) {
            let Some(stimulus) = e.law.stimulus() else { continue };
            let mut points = vec![e.from, e.to];
            if let Law::Transducer { feed, .. } = e.law {
                points.push(feed);
            }
            match sensors.iter_mut().find(|sensor| sensor.stimulus == stimulus) {
                Some(sensor) => sensor.points.extend(points),
                None => sensors.push(Sensor { device, stimulus, points }),
            }
        }
        for sensor in &mut sensors {
            // What stands between the sensor and its pins: a resistor, a diode, a contact.
            let own = |e: &Element| e.owner == Owner::Device(device) && !senses(e.kind);
            sensor.points =
                self.graph().flood(&sensor.points, |e, _| own(e) && e.kind != ElementKind::Terminal).order;
        }
        sensors
    }

    /// The wire sides of a sensor's pins.
    pub fn sensor_pins(&self, sensor: &Sensor) -> Vec<PointId> {
        let pins = self.circuit.devices.get(sensor.device.index()).map_or(&[][..], |d| &d.pins);
        pins.iter().filter(|pin| sensor.points.contains(&pin.inside)).map(|pin| pin.outside).collect()
    }

    /// The wire sides of the pins at which a sensor gives its signal: the wiper of a track, the output of a transducer; of two
    /// wires either. At the others an input sees the sensor's supply or its return.
    pub fn signal_pins(&self, sensor: &Sensor) -> Vec<PointId> {
        let elements: Vec<(ElementId, &Element)> = self
            .elements_of(sensor.device)
            .filter(|(_, e)| e.law.stimulus() == Some(sensor.stimulus))
            .collect();
        let (_, two_wires) = self.ends_of(sensor, &elements);
        if two_wires {
            return self.sensor_pins(sensor);
        }
        let signal = |e: &Element| match e.kind {
            ElementKind::Track(false) => e.from,
            _ => e.to,
        };
        let starts: Vec<PointId> = elements.iter().map(|(_, e)| signal(e)).collect();
        let own = |e: &Element| {
            e.owner == Owner::Device(sensor.device) && !senses(e.kind) && e.kind != ElementKind::Terminal
        };
        let reach = self.graph().flood(&starts, |e, _| own(e));
        let pins = self.circuit.devices.get(sensor.device.index()).map_or(&[][..], |d| &d.pins);
        pins.iter().filter(|pin| reach.has(pin.inside)).map(|pin| pin.outside).collect()
    }

    /// The reference end and the return end of a sweep sensor or a transducer, if they are wired the other way round.
    pub fn reversed(&self, sensor: &Sensor) -> Option<(PointId, PointId)> {
        let elements = || {
            self.elements_of(sensor.device)
                .map(|(_, e)| e)
                .filter(|e| e.law.stimulus() == Some(sensor.stimulus))
        };
        let (reference, ret) = elements().find_map(|e| match (e.kind, &e.law) {
            (ElementKind::Track(true), _) => {
                let lower = elements().find(|e| e.kind == ElementKind::Track(false))?;
                Some((e.from, lower.to))
            }
            (ElementKind::Transducer, Law::Transducer { feed, .. }) => Some((*feed, e.from)),
            _ => None,
        })?;
        let (above, below) = (self.wired(reference), self.wired(ret));
        let on = |reach: &Flood, wanted: fn(&Role) -> bool| {
            self.cavities_within(reach).iter().any(|(.., c)| wanted(&c.role))
        };
        let returned = above.has(COMMON) || on(&above, |r| matches!(r, Role::Return { .. } | Role::Ground));
        let fed = on(&below, |r| matches!(r, Role::Reference { .. }))
            || self.circuit.supplies.iter().any(|s| below.has(s.point));
        (returned && fed).then_some((reference, ret))
    }

    /// Whether a sensor that something feeds has no return of its own in any state. A way through another sensor, or
    /// through the pull-down of its own signal, is none, for nothing could be measured by it; a divider's resistor is
    /// one, and so is the pull-down for a sensor of two wires.
    ///
    /// # Errors
    /// When the check is cancelled.
    pub fn lacks_return(&self, sensor: &Sensor) -> Result<bool, Cancelled> {
        if self.reversed(sensor).is_some() {
            return Ok(false);
        }
        let Some(paths) = self.device_paths(sensor.device)? else { return Ok(false) };
        let elements: Vec<(ElementId, &Element)> = self
            .elements_of(sensor.device)
            .filter(|(_, e)| e.law.stimulus() == Some(sensor.stimulus))
            .collect();
        let of_it = |id: ElementId| elements.iter().any(|(e, _)| *e == id);
        let mut loads = paths.loads.iter().filter(|load| of_it(load.element));
        let fed = |end: super::paths::End| end.fed || end.fed_via;
        if !loads.clone().any(|load| fed(load.from) || fed(load.to)) || loads.any(|load| load.beyond) {
            return Ok(false);
        }
        let (ends, two_wires) = self.ends_of(sensor, &elements);
        let cases = self.device_cases(sensor.device)?;
        let returned = |s: &Solution| ends.iter().any(|&end| self.reaches_ground(s, sensor, end, two_wires));
        Ok(cases.cut.is_none() && !cases.cases.iter().any(|case| returned(&case.solution)))
    }

    /// The ends of a sensor that may be its return, and whether it has but two wires.
    fn ends_of(&self, sensor: &Sensor, elements: &[(ElementId, &Element)]) -> (Vec<PointId>, bool) {
        let pins = self.circuit.devices.get(sensor.device.index()).map_or(&[][..], |d| &d.pins);
        let spare = |p: PointId| pins.iter().any(|pin| pin.inside == p && pin.unused.is_some());
        let (mut ends, mut two_wires) = (Vec::new(), false);
        for (_, e) in elements {
            match e.kind {
                // A track of which one end is spare is a mere resistor: the wiper is its other end.
                ElementKind::Track(upper) => {
                    let (end, wiper) = if upper { (e.from, e.to) } else { (e.to, e.from) };
                    two_wires |= spare(end);
                    ends.push(if spare(end) { wiper } else { end });
                }
                ElementKind::Transducer => ends.push(e.from),
                _ => {
                    two_wires = true;
                    ends.extend([e.from, e.to]);
                }
            }
        }
        (ends, two_wires)
    }

    /// Whether a point reaches ground in a state without another device's load; see [`Facts::lacks_return`].
    fn reaches_ground(&self, solution: &Solution, sensor: &Sensor, point: PointId, two_wires: bool) -> bool {
        let reach = self.graph().flood(&[point], |e, step| {
            let conducts = solution.conducts.get(step.element.index()).copied().unwrap_or(false);
            let divider = e.kind == ElementKind::Resistor || (two_wires && e.kind == ElementKind::PullDown);
            conducts && (is_continuity(e) || divider) && e.law.stimulus() != Some(sensor.stimulus)
        });
        let ends = |p: &PointId| {
            *p == COMMON || matches!(node(solution, *p), NodeState::Grounded | NodeState::Clash)
        };
        reach.order.iter().any(ends)
    }
}
