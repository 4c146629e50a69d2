//! Round numbers along an axis.

use crate::figure;

/// Round values that cover a span, with their decimals.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Ticks {
    pub(crate) values: Vec<f64>,
    decimals: usize,
}

impl Ticks {
    /// About `count` steps of 1, 2 or 5 times a power of ten. With `around` the first and last lie at or beyond the ends
    /// of the span, else within it.
    pub(crate) fn new(low: f64, high: f64, count: usize, around: bool) -> Self {
        let span = (high - low).abs().max(f64::MIN_POSITIVE);
        let rough = span / count.max(1) as f64;
        let power = rough.log10().floor();
        let base = 10f64.powf(power);
        let step = [1.0, 2.0, 5.0, 10.0].map(|f| f * base).into_iter().find(|s| *s >= rough * 0.999_999);
        let step = step.unwrap_or(10.0 * base);
        let decimals = if step < 0.999_999 { (-step.log10().floor()) as usize } else { 0 };
        // Rounding must not cost the tick at an end.
        let slack = 1e-9;
        let (first, last) = if around {
            ((low / step + slack).floor(), (high / step - slack).ceil())
        } else {
            ((low / step - slack).ceil(), (high / step + slack).floor())
        };
        let values = (0..=(last - first).max(0.0) as usize).map(|n| (first + n as f64) * step).collect();
        Self { values, decimals }
    }

    /// A value as it is written at its tick.
    pub(crate) fn text(&self, value: f64) -> String {
        figure::fixed(value, self.decimals)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(low: f64, high: f64, around: bool) -> String {
        let ticks = Ticks::new(low, high, 6, around);
        ticks.values.iter().map(|v| ticks.text(*v)).collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn ticks_are_round() {
        assert_eq!(shown(-40.0, 120.0, false), "0 50 100");
        assert_eq!(shown(0.0, 5.0, true), "0 1 2 3 4 5");
        assert_eq!(shown(0.11, 4.84, true), "0 1 2 3 4 5");
        assert_eq!(shown(0.0, 100.0, false), "0 20 40 60 80 100");
        assert_eq!(shown(11.0, 14.8, false), "11 12 13 14");
        assert_eq!(shown(0.0, 0.3, true), "0.00 0.05 0.10 0.15 0.20 0.25 0.30");
        assert_eq!(shown(-0.4, 0.9, true), "-0.5 0.0 0.5 1.0");
    }
}
