//! The limits that a `keyon.toml` can set: one table, from which reading, the manual page and the schema follow.

use super::Settings;
use keyon_syntax::unit::Dimension;

/// One limit.
pub struct Limit {
    /// Its key below `[limits]`.
    pub key: &'static str,
    #[allow(missing_docs)]
    pub dimension: Dimension,
    /// What it is when nobody sets it, as it would be written.
    pub usual: &'static str,
    /// Least and most that make sense, in SI units (degrees Celsius for temperatures).
    pub span: (f64, f64),
    /// What it limits, in a sentence.
    pub what: &'static str,
    pub(super) set: fn(&mut Settings, f64),
    pub(super) get: fn(&Settings) -> f64,
}

impl std::fmt::Debug for Limit {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.key)
    }
}

macro_rules! limit {
    ($key:literal, $dimension:ident, $usual:literal, $low:literal ..= $high:literal, $field:ident, $what:literal) => {
        Limit {
            key: $key,
            dimension: Dimension::$dimension,
            usual: $usual,
            span: ($low, $high),
            what: $what,
            set: |settings, value| settings.$field = value,
            get: |settings| settings.$field,
        }
    };
}

/// All limits, in the order of the manual page.
pub const LIMITS: &[Limit] = &[
    limit!(
        "voltage-drop",
        Ratio,
        "3 %",
        0.0..=1.0,
        voltage_drop,
        "What the wiring on one side of a load may take of the supply's voltage."
    ),
    limit!("starter-voltage-drop", Ratio, "5 %", 0.0..=1.0, starter_voltage_drop, "The same for a starter."),
    limit!(
        "over-voltage",
        Ratio,
        "130 %",
        1.0..=100.0,
        over_voltage,
        "What a load may get of its rated voltage."
    ),
    limit!(
        "ground-offset",
        Voltage,
        "50 mV",
        0.0..=1000.0,
        ground_offset,
        "How far other loads may lift a module's ground pin."
    ),
    limit!(
        "key-off-draw",
        Current,
        "50 mA",
        0.0..=1000.0,
        key_off,
        "The current that may flow with every control at rest."
    ),
    limit!(
        "unprotected-length",
        Length,
        "0.3 m",
        0.0..=1000.0,
        unprotected,
        "How long a wire may be between a battery and its first fuse."
    ),
    limit!(
        "fuse-load",
        Ratio,
        "80 %",
        0.01..=1.0,
        fuse_load,
        "How much of its rating a fuse may carry for long."
    ),
    limit!(
        "starter-current",
        Current,
        "60 A",
        0.0..=100000.0,
        starter,
        "From how many amps on a load counts as a starter, whose cables have no fuse."
    ),
    limit!(
        "ambient",
        Temperature,
        "30 degC",
        -60.0..=250.0,
        ambient,
        "The temperature around the wires: the hotter, the less they carry."
    ),
    limit!(
        "insulation",
        Temperature,
        "105 degC",
        30.0..=400.0,
        insulation,
        "The temperature that the insulation stands."
    ),
    limit!(
        "ampacity-at",
        Temperature,
        "30 degC",
        -60.0..=250.0,
        ampacity_at,
        "The ambient temperature for which the rows of the ampacity table hold."
    ),
];

/// The limit of this key.
pub fn find(key: &str) -> Option<&'static Limit> {
    LIMITS.iter().find(|limit| limit.key == key)
}

impl Limit {
    /// Its value in these settings, SI units.
    pub fn of(&self, settings: &Settings) -> f64 {
        (self.get)(settings)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_usual_values_are_those_of_the_defaults() {
        let settings = Settings::default();
        for limit in LIMITS {
            let usual = super::super::quantity::read(limit.usual, limit.dimension).unwrap();
            assert!((usual - limit.of(&settings)).abs() < 1e-12, "{}", limit.key);
            assert!((limit.span.0..=limit.span.1).contains(&usual), "{}", limit.key);
            assert!(limit.what.ends_with('.'), "{}", limit.key);
        }
    }
}
