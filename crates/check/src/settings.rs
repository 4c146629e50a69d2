//! Limits that a user can change.

/// Limits of the rules, in SI units.
#[derive(Clone, Debug, PartialEq)]
pub struct Settings {
    /// Largest wiring drop on one side of a load, as a ratio of the supply's nominal volts. Common practice, no source:
    /// 3 % for critical loads.
    pub voltage_drop: f64,
    /// Largest lift of a module's ground pin by other loads, volts. Common practice, no source.
    pub ground_offset: f64,
    /// Largest current at rest, amps. Common practice, no source.
    pub key_off: f64,
    /// Longest wire between a battery and its first fuse, metres. Common practice, no source.
    pub unprotected: f64,
    /// Continuous load of a fuse as a ratio of its rating from which it is called hard pressed. Common practice, no
    /// source.
    pub fuse_load: f64,
    /// Amps from which a load counts as a starter or a generator cable's (such cables are laid without a fuse). Common
    /// practice, no source.
    pub starter: f64,
    /// Area in mm² against amps that one conductor carries, sorted by area.
    pub ampacity: Vec<(f64, f64)>,
}

/// Nominal current of single thin-wall road-vehicle cable by conductor area, from a UK cable supplier's list (conductor
/// to ISO 6722, PVC class B, −40 to 105 °C; in free air at 30 °C taken, the list names no ambient). Bundles carry less.
const THIN_WALL: [(f64, f64); 12] = [
    (0.5, 11.0),
    (0.75, 14.0),
    (1.0, 16.5),
    (1.5, 21.0),
    (2.0, 25.0),
    (2.5, 29.0),
    (3.0, 33.0),
    (4.0, 39.0),
    (4.5, 42.0),
    (6.0, 50.0),
    (8.5, 63.0),
    (10.0, 70.0),
];

impl Default for Settings {
    fn default() -> Self {
        Self {
            voltage_drop: 0.03,
            ground_offset: 0.05,
            key_off: 0.05,
            unprotected: 0.3,
            fuse_load: 0.8,
            starter: 60.0,
            ampacity: THIN_WALL.to_vec(),
        }
    }
}

impl Settings {
    /// Amps that a conductor of this many mm² carries. Between and beyond the rows of the table a power law through
    /// the two nearest rows is taken; `None` for an empty table or an area that is none.
    pub fn ampacity(&self, area: f64) -> Option<f64> {
        if area.is_nan() || area <= 0.0 {
            return None;
        }
        let rows = &self.ampacity;
        if let [only] = rows.as_slice() {
            return Some(only.1 * (area / only.0).sqrt());
        }
        let above = rows.partition_point(|row| row.0 < area).clamp(1, rows.len().checked_sub(1)?);
        let (a0, i0) = *rows.get(above - 1)?;
        let (a1, i1) = *rows.get(above)?;
        if (area - a1).abs() < 1e-9 {
            return Some(i1);
        }
        let power = (i1 / i0).ln() / (a1 / a0).ln();
        Some(i0 * (area / a0).powf(power))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ampacity_follows_the_table() {
        let settings = Settings::default();
        for (area, amps) in THIN_WALL {
            assert!((settings.ampacity(area).unwrap() - amps).abs() < 1e-9);
        }
        let between = settings.ampacity(1.25).unwrap();
        assert!(16.5 < between && between < 21.0, "{between}");
        assert!(settings.ampacity(0.35).unwrap() < 11.0);
        assert!(settings.ampacity(16.0).unwrap() > 70.0);
        assert_eq!(settings.ampacity(0.0), None);
        assert_eq!(settings.ampacity(f64::NAN), None);
    }
}
