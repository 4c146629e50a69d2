//! What was said of the thing that a point or device belongs to.

use crate::{ids::*, model::*};

impl Circuit {
    /// What was said of the place and dangers of the things that a point belongs to, each with its name: of a cavity the
    /// module's, then its connector's.
    pub fn attributes_at(&self, point: PointId) -> Vec<(&str, &Attributes)> {
        let Some(kind) = self.points.get(point.index()).map(|p| p.kind) else { return Vec::new() };
        let mut found: Vec<(&str, &Attributes)> = Vec::new();
        match kind {
            PointKind::Pin(d, _) | PointKind::PinInside(d, _) => {
                found.extend(self.devices.get(d.index()).map(|d| (d.name.as_str(), &d.attributes)));
            }
            PointKind::Cavity(m, c, _) | PointKind::CavityInside(m, c, _) => {
                if let Some(module) = self.modules.get(m.index()) {
                    found.push((module.name.as_str(), &module.attributes));
                    found.extend(module.connectors.get(c).map(|c| (c.name.as_str(), &c.attributes)));
                }
            }
            PointKind::Splice(i) => {
                found.extend(self.splices.get(i).map(|s| (s.name.as_str(), &s.attributes)));
            }
            PointKind::Ground(i) => {
                found.extend(self.grounds.get(i).map(|g| (g.name.as_str(), &g.attributes)));
            }
            PointKind::InlineSide(i, ..) => {
                found.extend(self.inlines.get(i.index()).map(|i| (i.name.as_str(), &i.attributes)));
            }
            PointKind::Common | PointKind::Supply(_) | PointKind::Internal => {}
        }
        found
    }

    /// Whether a point belongs to something that is left to trained, licensed people.
    pub fn is_restricted_at(&self, point: PointId) -> bool {
        self.attributes_at(point).iter().any(|(_, attributes)| attributes.restricted)
    }

    /// Whether a device is a relay: a coil, and contacts.
    pub fn is_relay(&self, device: DeviceId) -> bool {
        let elements = self.devices.get(device.index()).map_or(&[][..], |d| d.elements.as_slice());
        let has =
            |kind| elements.iter().any(|e| self.elements.get(e.index()).is_some_and(|e| e.kind == kind));
        has(ElementKind::Coil) && has(ElementKind::Contact)
    }
}
