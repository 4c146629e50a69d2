//! Ends at which a wire is missing.

use super::{Circuit, Role};
use crate::ids::PointId;

impl Circuit {
    /// Pins and cavities without a wire that are no spares, sides of in-line cavities with one wire, splices that join too few.
    pub fn loose_ends(&self) -> Vec<PointId> {
        let pins = self.devices.iter().flat_map(|d| &d.pins);
        let pins = pins.filter(|pin| pin.landings.is_empty() && pin.unused.is_none()).map(|pin| pin.outside);
        let cavities = self.modules.iter().flat_map(|m| &m.connectors).flat_map(|c| &c.cavities);
        let cavities = cavities
            .filter(|cavity| cavity.landings.is_empty() && !matches!(cavity.role, Role::Unused))
            .map(|cavity| cavity.outside);
        let inlines =
            self.inlines.iter().flat_map(|i| &i.cavities).filter(|cavity| cavity.landings.len() < 2);
        let splices = self.splices.iter().filter(|splice| splice.legs.len() < 3).map(|splice| splice.point);
        pins.chain(cavities).chain(inlines.flat_map(|cavity| [cavity.a, cavity.b])).chain(splices).collect()
    }
}
