//! Numbers of twice the usual length: an unevaluated sum of two `f64`, about 31 decimal digits.
//!
//! The sums and products without error are those of Dekker, "A floating-point technique for extending the available
//! precision", Numerische Mathematik 18 (1971), and Knuth, "The Art of Computer Programming", volume 2, section 4.2.2.

use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub, SubAssign};

/// A number of twice the usual length. `low` is at most half a unit in the last place of `high`.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Wide {
    high: f64,
    low: f64,
}

/// Sum and its rounding error, whichever is larger.
fn two_sum(a: f64, b: f64) -> Wide {
    let sum = a + b;
    let part = sum - a;
    Wide { high: sum, low: (a - (sum - part)) + (b - part) }
}

/// Sum and its rounding error where `|a| >= |b|`.
fn quick_two_sum(a: f64, b: f64) -> Wide {
    let sum = a + b;
    Wide { high: sum, low: b - (sum - a) }
}

/// Two halves whose products are exact.
fn split(a: f64) -> (f64, f64) {
    // 2^27 + 1: the mantissa's 53 bits fall into 26 and 27.
    let scaled = 134_217_729.0 * a;
    let high = scaled - (scaled - a);
    (high, a - high)
}

/// Product and its rounding error.
fn two_product(a: f64, b: f64) -> Wide {
    let product = a * b;
    let (ah, al) = split(a);
    let (bh, bl) = split(b);
    Wide { high: product, low: ((ah * bh - product) + ah * bl + al * bh) + al * bl }
}

impl Wide {
    /// Zero.
    pub const ZERO: Self = Self { high: 0.0, low: 0.0 };
    /// One.
    pub const ONE: Self = Self { high: 1.0, low: 0.0 };

    /// The nearest `f64`.
    pub fn value(self) -> f64 {
        self.high
    }

    /// Whether it is exactly zero.
    pub fn is_zero(self) -> bool {
        self.high == 0.0
    }

    /// Its absolute value.
    pub fn abs(self) -> Self {
        if self.high < 0.0 { -self } else { self }
    }

    /// The reciprocal of an `f64`.
    pub fn reciprocal(of: f64) -> Self {
        Self::ONE / Self::from(of)
    }
}

impl From<f64> for Wide {
    fn from(high: f64) -> Self {
        Self { high, low: 0.0 }
    }
}

impl Neg for Wide {
    type Output = Self;
    fn neg(self) -> Self {
        Self { high: -self.high, low: -self.low }
    }
}

impl Add for Wide {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        let high = two_sum(self.high, other.high);
        let low = two_sum(self.low, other.low);
        let sum = quick_two_sum(high.high, high.low + low.high);
        quick_two_sum(sum.high, sum.low + low.low)
    }
}

impl AddAssign for Wide {
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl Sub for Wide {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        self + -other
    }
}

impl SubAssign for Wide {
    fn sub_assign(&mut self, other: Self) {
        *self = *self - other;
    }
}

impl Mul for Wide {
    type Output = Self;
    fn mul(self, other: Self) -> Self {
        let product = two_product(self.high, other.high);
        quick_two_sum(product.high, product.low + (self.high * other.low + self.low * other.high))
    }
}

impl Div for Wide {
    type Output = Self;
    fn div(self, other: Self) -> Self {
        let first = self.high / other.high;
        let rest = self - other * Self::from(first);
        let second = rest.high / other.high;
        let rest = rest - other * Self::from(second);
        let third = rest.high / other.high;
        quick_two_sum(first, second) + Self::from(third)
    }
}

impl std::iter::Sum for Wide {
    fn sum<I: Iterator<Item = Self>>(iter: I) -> Self {
        iter.fold(Self::ZERO, |sum, item| sum + item)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keeps_what_a_usual_number_loses() {
        let sum = Wide::from(1e16) + Wide::from(1.0) - Wide::from(1e16);
        assert_eq!(sum.value(), 1.0);
        let third = Wide::ONE / Wide::from(3.0);
        let rest = third * Wide::from(3.0) - Wide::ONE;
        assert!(rest.value().abs() < 1e-31, "{rest:?}");
        let tenth = Wide::reciprocal(10.0);
        assert!((tenth.low - (0.1f64 - 0.1)).abs() < 1e-17);
        assert!((tenth * Wide::from(10.0) - Wide::ONE).value().abs() < 1e-31);
    }

    #[test]
    fn zero_stays_exact() {
        assert!((Wide::from(0.1) - Wide::from(0.1)).is_zero());
        assert!((Wide::ZERO * Wide::from(7.0)).is_zero());
        assert!((Wide::ZERO / Wide::from(7.0)).is_zero());
    }
}
