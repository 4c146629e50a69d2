//! What a user can change: limits, tables, and the level of each rule.
//!
//! The rules see a plain [`Settings`]. It comes from a `keyon.toml` ([`Config`], which says where it is wrong as well),
//! found upward from each file by [`Finder`], for the terminal and for the editor alike.

mod file;
mod find;
mod glob;
pub mod limits;
mod page;
mod quantity;
mod tables;

pub use file::{Config, Mistake, Override, TOP_KEYS};
pub use find::{FILE_NAME, Finder, Found, Read};
pub use glob::Glob;
pub use page::page;

use crate::{Level, rules};
use std::collections::BTreeMap;

/// What a finding about a `keyon.toml` is called. It is no rule of circuits: nothing silences it.
pub const RULE: &str = "settings";

/// Limits of the rules, in SI units, and the levels that differ from the rules' own.
#[derive(Clone, Debug, PartialEq)]
pub struct Settings {
    /// Largest wiring drop on one side of a load, as a ratio of the supply's nominal volts. Common practice, no source:
    /// 3 % for critical loads.
    pub voltage_drop: f64,
    /// The same for a starter: 0.6 V of 12 V while cranking is the usual limit of workshop texts.
    pub starter_voltage_drop: f64,
    /// What a load may get of its rated voltage, as a ratio. Common practice, no source.
    pub over_voltage: f64,
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
    /// Degrees Celsius around the wires.
    pub ambient: f64,
    /// Degrees Celsius that the insulation stands.
    pub insulation: f64,
    /// Degrees Celsius at which the rows of the ampacity table were measured.
    pub ampacity_at: f64,
    /// Area in mm² against amps that one conductor carries at `ambient`, sorted by area: what the rules look at. See
    /// [`Settings::set_ampacity`].
    pub ampacity: Vec<(f64, f64)>,
    /// Fuse ratings in amps that can be bought, rising: what a message recommends.
    pub fuse_ratings: Vec<f64>,
    /// Rules whose level was set; `None` is off.
    pub levels: BTreeMap<&'static str, Option<Level>>,
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

/// Ratings of blade fuses in amps, as sold in the usual sizes.
const FUSE_RATINGS: [f64; 18] =
    [1.0, 2.0, 3.0, 4.0, 5.0, 7.5, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0, 50.0, 60.0, 70.0, 80.0, 100.0];

impl Default for Settings {
    fn default() -> Self {
        Self {
            voltage_drop: 0.03,
            starter_voltage_drop: 0.05,
            over_voltage: 1.3,
            ground_offset: 0.05,
            key_off: 0.05,
            unprotected: 0.3,
            fuse_load: 0.8,
            starter: 60.0,
            ambient: 30.0,
            insulation: 105.0,
            ampacity_at: 30.0,
            ampacity: THIN_WALL.to_vec(),
            fuse_ratings: FUSE_RATINGS.to_vec(),
            levels: BTreeMap::new(),
        }
    }
}

impl Settings {
    /// The level of a rule's findings: `Some(None)` is off, `None` leaves each finding its own.
    pub fn level(&self, rule: &str) -> Option<Option<Level>> {
        self.levels.get(rule).copied()
    }

    /// Whether a rule is off.
    pub fn is_off(&self, rule: &str) -> bool {
        self.level(rule) == Some(None)
    }

    /// Takes a table of area in mm² against amps at `ampacity_at`, and brings it to `ambient`: what a wire warms up goes
    /// with the square of its current, so amps go with the root of the degrees that are left up to `insulation`.
    pub fn set_ampacity(&mut self, rows: &[(f64, f64)]) {
        // Something is left in any case: a table of zeros would be of no use to anybody.
        let left = (self.insulation - self.ambient).max(0.01);
        let factor = (left / (self.insulation - self.ampacity_at)).sqrt();
        // The usual case is exact.
        let factor = if factor.is_finite() && self.ambient != self.ampacity_at { factor } else { 1.0 };
        self.ampacity = rows.iter().map(|&(area, amps)| (area, amps * factor)).collect();
        self.ampacity.sort_by(|a, b| a.0.total_cmp(&b.0));
    }

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

/// The rows of the built-in table, at its own temperature.
pub(crate) fn built_in_ampacity() -> &'static [(f64, f64)] {
    &THIN_WALL
}

/// Whether the level of this rule may be set: text that nobody can read stays an error.
pub(crate) fn can_be_set(rule: &str) -> bool {
    rule != rules::files::syntax::RULE.name
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

    #[test]
    fn a_hot_place_leaves_a_wire_fewer_amps() {
        let mut settings = Settings { ambient: 80.0, ..Settings::default() };
        settings.set_ampacity(&THIN_WALL);
        // 25 K are left of 75 K.
        let expected = 14.0 * (25.0f64 / 75.0).sqrt();
        assert!((settings.ampacity(0.75).unwrap() - expected).abs() < 1e-9);
        settings.ambient = 30.0;
        settings.set_ampacity(&THIN_WALL);
        assert_eq!(settings.ampacity(0.75), Some(14.0));
    }

    #[test]
    fn fuse_ratings_rise() {
        assert!(FUSE_RATINGS.windows(2).all(|w| w[0] < w[1]));
    }
}
