//! Units as they are spelt, and what they measure.

/// What a quantity measures. The nine that a part's parameter can have, and those that only built-in clauses use.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[allow(missing_docs)]
pub enum Dimension {
    Resistance,
    Current,
    Voltage,
    Power,
    Length,
    Temperature,
    Ratio,
    Frequency,
    Pressure,
    Area,
}

/// A unit, spelt exactly. SI value = number * `factor` + `offset`; temperatures are kept in degrees Celsius
/// (a `K` is a kelvin: as a temperature it has the offset, as a beta value or a tolerance it has not).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum Unit {
    Volt,
    Millivolt,
    Kilovolt,
    Microvolt,
    Ampere,
    Milliampere,
    Microampere,
    Kiloampere,
    Ohm,
    Milliohm,
    Kiloohm,
    Megaohm,
    Watt,
    Milliwatt,
    Kilowatt,
    SquareMillimetre,
    Metre,
    Centimetre,
    Millimetre,
    Kilometre,
    Foot,
    Inch,
    Celsius,
    Fahrenheit,
    Kelvin,
    Percent,
    Hertz,
    Kilohertz,
    Pascal,
    Kilopascal,
    Megapascal,
    Bar,
    Millibar,
    Psi,
}
