//! Usual values, where a statement still lacks the one that it cannot do without.

use super::{CompletionKind as Kind, List, context::Context, units::has_unit};

/// Values for what a statement of this kind measures first, with a word about each, and the units that show that it is there.
type Usual = (&'static [&'static str], &'static [&'static str], &'static [(&'static str, &'static str)]);

const USUAL: &[Usual] = &[
    (
        &["wire"],
        &["mm2", "AWG"],
        &[
            ("0.5 mm2", "signals"),
            ("0.75 mm2", "small loads"),
            ("1 mm2", "cross-section"),
            ("1.5 mm2", "cross-section"),
            ("2.5 mm2", "cross-section"),
            ("4 mm2", "motors, heaters"),
            ("6 mm2", "main feeds"),
        ],
    ),
    (&["thermistor"], &["ohm", "kohm"], &[("2.5 kohm at 25 degC beta 3500 K", "falls as it warms up")]),
    (&["variable"], &["ohm", "kohm"], &[("0 .. 10 kohm", "lowest and highest")]),
    (
        &["fuse", "breaker", "link"],
        &["A", "mA"],
        &[
            ("5 A", "rating"),
            ("7.5 A", "rating"),
            ("10 A", "rating"),
            ("15 A", "rating"),
            ("20 A", "rating"),
            ("30 A", "rating"),
        ],
    ),
    (
        &["supply"],
        &["V", "mV", "kV"],
        &[("12.6 V", "a resting 12 V battery"), ("25.2 V", "a resting 24 V battery")],
    ),
    (
        &["lamp"],
        &["W", "kW", "mW", "V"],
        &[
            ("5 W 12 V", "power at a voltage"),
            ("10 W 12 V", "power at a voltage"),
            ("21 W 12 V", "power at a voltage"),
        ],
    ),
    (
        &["heater"],
        &["W", "kW", "mW", "V"],
        &[("60 W 12 V", "power at a voltage"), ("180 W 12 V", "power at a voltage")],
    ),
    (&["resistor"], &["ohm", "kohm", "mohm"], &[("470 ohm", "resistance"), ("4.7 kohm", "resistance")]),
    (&["coil"], &["ohm", "kohm", "mohm"], &[("24 ohm", "of a valve"), ("85 ohm", "of a relay")]),
    (&["winding", "motor"], &["ohm", "kohm", "mohm"], &[("0.6 ohm", "standing still")]),
];

/// Of statements with these heads (none: of cavities) a clause, and what is written behind it with a word about each.
type Clause = (&'static [&'static str], &'static str, &'static [(&'static str, &'static str)]);

const CLAUSES: &[Clause] = &[
    (&["supply"], "inner", &[("15 mohm", "a starter battery"), ("40 mohm", "a small battery")]),
    (&["supply"], "range", &[("11 .. 14.8 V", "a 12 V system"), ("22 .. 29.6 V", "a 24 V system")]),
    (&["supply"], "limit", &[("20 A", "most that it gives")]),
    (&["lamp", "heater"], "cold", &[("1.2 ohm", "resistance when cold")]),
    (&["coil"], "pulls_in", &[("85 mA", "from here it is energised")]),
    (&["coil"], "drops_out", &[("14 mA", "below this it lets go")]),
    (&["coil"], "rated", &[("12 V", "made for this"), ("24 V", "made for this")]),
    (&["winding", "motor"], "turns_at", &[("2 A", "from here it turns")]),
    (&["winding", "motor"], "runs", &[("4 A", "draws this turning")]),
    (&["winding", "motor"], "rated", &[("12 V", "made for this"), ("24 V", "made for this")]),
    (&["contact", "changeover"], "rated", &[("30 A", "most that it carries")]),
    (&["thermistor"], "at", &[("25 degC", "where it has that resistance")]),
    (&["thermistor"], "beta", &[("3500 K", "how steeply it falls")]),
    (&["thermistor"], "span", &[("-20 .. 90 degC", "what it senses")]),
    (&["thermistor"], "nominal", &[("20 degC", "unless a scenario says more")]),
    (&["track"], "travel", &[("5 .. 95 %", "what the wiper reaches")]),
    (&["track"], "nominal", &[("50 %", "unless a scenario says more")]),
    (&["transducer"], "over", &[("0 .. 1000 kPa", "what it senses")]),
    (&["diode"], "drop", &[("0.7 V", "silicon")]),
    (&[], "on", &[("120 mohm", "of a closed stage")]),
    (&[], "limit", &[("2 A", "most that it gives")]),
    (&[], "pwm", &[("100 Hz", "pulsed")]),
    (&[], "reference", &[("5 V", "for sensors")]),
    (&[], "inner", &[("5 ohm", "inside the source")]),
    (&[], "pull_up", &[("2.2 kohm to 5 V", "for two-wire sensors")]),
    (&[], "pull_down", &[("220 kohm", "for three-wire sensors")]),
    (&[], "threshold", &[("2.5 V", "from here it reads high")]),
    (&[], "range", &[("0.2 .. 4.8 V", "plausible volts")]),
    (&[], "draws", &[("80 mA", "the module's own")]),
];

/// Offers what the clause right before the cursor asks for; whether it is one that asks for something. Without a head: in a cavity.
pub(super) fn behind(head: Option<&str>, context: &Context<'_>, list: &mut List) -> bool {
    let last = context.last().unwrap_or_default();
    let fits = |heads: &[&str]| head.map_or(heads.is_empty(), |head| heads.contains(&head));
    let Some((.., values)) = CLAUSES.iter().find(|(heads, clause, _)| *clause == last && fits(heads)) else {
        return false;
    };
    for (value, about) in *values {
        list.add(Kind::Word, *value, Some((*about).into()));
    }
    true
}

/// Offers them, if the statement has none yet.
pub(super) fn usual(head: &str, context: &Context<'_>, list: &mut List) {
    // Of watts and volts the second.
    if matches!(head, "lamp" | "heater")
        && has_unit(context, &["W", "kW", "mW"])
        && !has_unit(context, &["V"])
    {
        for volts in ["12 V", "24 V"] {
            list.add(Kind::Word, volts, Some("at this voltage".into()));
        }
    }
    let known = USUAL.iter().filter(|(heads, units, _)| heads.contains(&head) && !has_unit(context, units));
    for (value, about) in known.flat_map(|(_, _, values)| *values) {
        list.add(Kind::Word, *value, Some((*about).into()));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_are_written_as_the_language_has_them() {
        for (heads, _, values) in USUAL {
            for (head, (value, _)) in
                heads.iter().flat_map(|head| values.iter().map(move |value| (head, value)))
            {
                let text = match *head {
                    "wire" => format!("circuit c\nwire 1 a.1 -> b.1 {value}\n"),
                    "fuse" | "breaker" | "link" => format!("circuit c\n{head} F1 a.1 -> b.1 {value}\n"),
                    head => format!("circuit c\n{head} x {value}\n"),
                };
                let parse = keyon_syntax::parse(&text);
                assert!(parse.errors.is_empty(), "{text}: {:?}", parse.errors);
            }
        }
        for (heads, clause, values) in CLAUSES {
            for (value, _) in *values {
                let text = match (heads.first(), *clause) {
                    (Some(&"supply"), _) => format!("circuit c\nsupply b 12 V {clause} {value}\n"),
                    (Some(&"lamp"), _) => format!("circuit c\nlamp l 5 W 12 V {clause} {value}\n"),
                    (Some(&"coil"), _) => format!("circuit c\ncoil l 5 ohm {clause} {value}\n"),
                    (Some(&"winding"), _) => format!("circuit c\nwinding l 5 ohm {clause} {value}\n"),
                    (Some(&"contact"), _) => format!(
                        "device d {{\n  pins 1, 2\n  contact 1 -> 2 closed in on {clause} {value}\n}}\n"
                    ),
                    (Some(&"thermistor"), "at" | "beta") => continue,
                    (Some(&"thermistor"), _) => {
                        format!("circuit c\nthermistor t 2 kohm at 25 degC beta 3500 K {clause} {value}\n")
                    }
                    (Some(&"track"), _) => format!(
                        "device d {{\n  pins 1, 2, 3\n  track 1 -> 3 5 kohm wiper 2 {clause} {value}\n}}\n"
                    ),
                    (Some(&"transducer"), _) => format!(
                        "device d {{\n  pins 1, 2, 3\n  transducer 1 -> 3 out 2 0.5 .. 4.5 V {clause} {value}\n}}\n"
                    ),
                    (Some(&"diode"), _) => format!("circuit c\ndiode d a -> b {clause} {value}\n"),
                    (Some(other), _) => panic!("{other}"),
                    (None, "reference") => {
                        format!("module m {{\n  connector A {{\n    1 a reference {value}\n  }}\n}}\n")
                    }
                    (None, _) => {
                        let role = match *clause {
                            "on" | "limit" | "pwm" => "drives low",
                            "inner" => "reference 5 V",
                            "draws" => "feed",
                            "threshold" => "senses digital",
                            _ => "senses",
                        };
                        format!("module m {{\n  connector A {{\n    1 a {role} {clause} {value}\n  }}\n}}\n")
                    }
                };
                let parse = keyon_syntax::parse(&text);
                assert!(parse.errors.is_empty(), "{text}: {:?}", parse.errors);
            }
        }
    }
}
