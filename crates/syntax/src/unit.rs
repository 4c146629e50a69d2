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

impl Dimension {
    /// As a person says it, with an example of how it is written.
    pub fn words(self) -> &'static str {
        match self {
            Self::Resistance => "a resistance such as `470 ohm`",
            Self::Current => "a current such as `10 A`",
            Self::Voltage => "a voltage such as `12 V`",
            Self::Power => "a power such as `21 W`",
            Self::Length => "a length such as `2.4 m`",
            Self::Temperature => "a temperature such as `25 degC`",
            Self::Ratio => "a share such as `35 %`",
            Self::Frequency => "a frequency such as `150 Hz`",
            Self::Pressure => "a pressure such as `400 kPa`",
            Self::Area => "a conductor area such as `0.75 mm2`",
        }
    }
}

macro_rules! units {
    ($($unit:ident $dimension:ident $factor:literal $offset:literal $($spelling:literal)+;)*) => {
        /// A unit, spelt exactly. SI value = number * factor + offset; temperatures are kept in degrees Celsius (a `K`
        /// has the offset as a temperature, and has it not as a beta value or a tolerance).
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
        #[allow(missing_docs)]
        pub enum Unit { $($unit,)* }

        impl Unit {
            /// The unit that is spelt so, capitals and all.
            pub fn from_spelling(text: &str) -> Option<Self> {
                match text {
                    $($($spelling)|+ => Some(Self::$unit),)*
                    _ => None,
                }
            }
            /// What it measures.
            pub fn dimension(self) -> Dimension {
                match self { $(Self::$unit => Dimension::$dimension,)* }
            }
            /// SI value = number * factor. International foot and inch; psi by the international pound and standard
            /// gravity.
            pub fn factor(self) -> f64 {
                match self { $(Self::$unit => $factor,)* }
            }
            /// … + offset, for temperatures.
            pub fn offset(self) -> f64 {
                match self { $(Self::$unit => $offset,)* }
            }
            /// Its first spelling.
            pub fn spelling(self) -> &'static str {
                match self { $(Self::$unit => first(&[$($spelling),+]),)* }
            }
            /// All spellings that are read, in the order of this table.
            pub const SPELLINGS: &'static [&'static str] = &[$($($spelling),+),*];
            /// All units, in the order of this table.
            pub const ALL: &'static [Self] = &[$(Self::$unit,)*];
        }
    };
}

const fn first(spellings: &[&'static str]) -> &'static str {
    spellings[0]
}

units! {
    Volt Voltage 1.0 0.0 "V";
    Millivolt Voltage 1e-3 0.0 "mV";
    Kilovolt Voltage 1e3 0.0 "kV";
    Microvolt Voltage 1e-6 0.0 "uV" "\u{b5}V" "\u{3bc}V";
    Ampere Current 1.0 0.0 "A";
    Milliampere Current 1e-3 0.0 "mA";
    Microampere Current 1e-6 0.0 "uA" "\u{b5}A" "\u{3bc}A";
    Kiloampere Current 1e3 0.0 "kA";
    Ohm Resistance 1.0 0.0 "ohm" "\u{3a9}" "\u{2126}";
    Milliohm Resistance 1e-3 0.0 "mohm" "m\u{3a9}" "m\u{2126}";
    Kiloohm Resistance 1e3 0.0 "kohm" "k\u{3a9}" "k\u{2126}";
    Megaohm Resistance 1e6 0.0 "Mohm" "M\u{3a9}" "M\u{2126}";
    Watt Power 1.0 0.0 "W";
    Milliwatt Power 1e-3 0.0 "mW";
    Kilowatt Power 1e3 0.0 "kW";
    SquareMillimetre Area 1.0 0.0 "mm2" "mm\u{b2}";
    Metre Length 1.0 0.0 "m";
    Centimetre Length 1e-2 0.0 "cm";
    Millimetre Length 1e-3 0.0 "mm";
    Kilometre Length 1e3 0.0 "km";
    Foot Length 0.3048 0.0 "ft";
    Inch Length 0.0254 0.0 "in";
    Celsius Temperature 1.0 0.0 "degC" "\u{b0}C" "\u{2103}";
    Fahrenheit Temperature 0.5555555555555556 -17.77777777777778 "degF" "\u{b0}F" "\u{2109}";
    Kelvin Temperature 1.0 -273.15 "K";
    Percent Ratio 1e-2 0.0 "%";
    Hertz Frequency 1.0 0.0 "Hz";
    Kilohertz Frequency 1e3 0.0 "kHz";
    Pascal Pressure 1.0 0.0 "Pa";
    Kilopascal Pressure 1e3 0.0 "kPa";
    Megapascal Pressure 1e6 0.0 "MPa";
    Bar Pressure 1e5 0.0 "bar";
    Millibar Pressure 1e2 0.0 "mbar";
    Psi Pressure 6894.757293168361 0.0 "psi";
}

/// The spelling that was most likely meant by a word that is no unit: another case, a plural, a full name, a letter off.
pub fn nearest_unit(text: &str) -> Option<&'static str> {
    const HABITS: &[(&str, &str)] = &[
        ("r", "ohm"),
        ("ohms", "ohm"),
        ("volt", "V"),
        ("volts", "V"),
        ("amp", "A"),
        ("amps", "A"),
        ("ampere", "A"),
        ("watt", "W"),
        ("watts", "W"),
        ("milliohm", "mohm"),
        ("kiloohm", "kohm"),
        ("kilohm", "kohm"),
        ("megohm", "Mohm"),
        ("k", "kohm"),
        ("meter", "m"),
        ("metre", "m"),
        ("meters", "m"),
        ("metres", "m"),
        ("feet", "ft"),
        ("foot", "ft"),
        ("inch", "in"),
        ("inches", "in"),
        ("sqmm", "mm2"),
        ("qmm", "mm2"),
        ("mm\u{b3}", "mm2"),
        ("celsius", "degC"),
        ("deg", "degC"),
        ("c", "degC"),
        ("f", "degF"),
        ("fahrenheit", "degF"),
        ("kelvin", "K"),
        ("percent", "%"),
        ("hertz", "Hz"),
        ("pascal", "Pa"),
        ("va", "W"),
        ("vdc", "V"),
        ("adc", "A"),
        ("mt", "m"),
        ("mtr", "m"),
    ];
    let lower = text.to_lowercase();
    if let Some((_, unit)) = HABITS.iter().find(|(habit, _)| *habit == lower) {
        return Some(unit);
    }
    // `mohm` and `Mohm` differ by case alone: the one that begins as it was written comes first.
    let same_case = |spelling: &&&str| spelling.chars().next() == text.chars().next();
    let alike = || Unit::SPELLINGS.iter().filter(|spelling| spelling.to_lowercase() == lower);
    if let Some(spelling) = alike().find(same_case).or_else(|| alike().next()) {
        return Unit::from_spelling(spelling).map(Unit::spelling);
    }
    let long = Unit::SPELLINGS.iter().copied().filter(|spelling| spelling.chars().count() > 2);
    crate::nearest::nearest(text, long.filter(|_| lower.chars().count() > 2))
}

#[cfg(test)]
mod tests {
    use super::{Dimension, Unit, nearest_unit};

    #[test]
    fn every_spelling_reads_as_its_unit() {
        for unit in Unit::ALL {
            assert_eq!(Unit::from_spelling(unit.spelling()), Some(*unit));
        }
        for spelling in Unit::SPELLINGS {
            assert!(Unit::from_spelling(spelling).is_some(), "{spelling}");
        }
        for spelling in [
            "k\u{3a9}",
            "k\u{2126}",
            "\u{b5}A",
            "\u{3bc}A",
            "mm\u{b2}",
            "\u{b0}C",
            "\u{2103}",
            "\u{b0}F",
            "\u{2109}",
        ] {
            assert!(Unit::from_spelling(spelling).is_some(), "{spelling}");
        }
        assert_eq!(Unit::from_spelling("KOHM"), None);
    }

    #[test]
    fn factors_lead_to_si() {
        let si = |number: f64, unit: Unit| number * unit.factor() + unit.offset();
        let close = |a: f64, b: f64| assert!((a - b).abs() < 1e-9 * b.abs().max(1.0), "{a} {b}");
        close(si(212.0, Unit::Fahrenheit), 100.0);
        close(si(-40.0, Unit::Fahrenheit), -40.0);
        close(si(300.0, Unit::Kelvin), 26.85);
        close(si(2.2, Unit::Kiloohm), 2200.0);
        close(si(10.0, Unit::Foot), 3.048);
        // NIST SP 811, appendix B: 1 psi = 6.894 757 E+03 Pa.
        assert!((si(1.0, Unit::Psi) - 6894.757).abs() < 1e-3);
        assert_eq!(Unit::Bar.dimension(), Dimension::Pressure);
    }

    #[test]
    fn a_wrong_unit_has_a_nearest_one() {
        for (written, meant) in [
            ("a", Some("A")),
            ("Ohm", Some("ohm")),
            ("OHMS", Some("ohm")),
            ("khz", Some("kHz")),
            ("KOhm", Some("kohm")),
            ("mOhm", Some("mohm")),
            ("MOhm", Some("Mohm")),
            ("v", Some("V")),
            ("\u{b0}c", Some("degC")),
            ("omh", Some("ohm")),
            ("degree", None),
            ("OG", None),
            ("battery", None),
        ] {
            assert_eq!(nearest_unit(written), meant, "{written}");
        }
    }
}
