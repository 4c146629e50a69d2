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
        &["W", "kW", "mW"],
        &[
            ("5 W 12 V", "power at a voltage"),
            ("10 W 12 V", "power at a voltage"),
            ("21 W 12 V", "power at a voltage"),
        ],
    ),
    (
        &["heater"],
        &["W", "kW", "mW"],
        &[("60 W 12 V", "power at a voltage"), ("180 W 12 V", "power at a voltage")],
    ),
    (&["resistor"], &["ohm", "kohm", "mohm"], &[("470 ohm", "resistance"), ("4.7 kohm", "resistance")]),
    (&["coil"], &["ohm", "kohm", "mohm"], &[("24 ohm", "of a valve"), ("85 ohm", "of a relay")]),
    (&["winding", "motor"], &["ohm", "kohm", "mohm"], &[("0.6 ohm", "standing still")]),
];

/// Offers them, if the statement has none yet.
pub(super) fn usual(head: &str, context: &Context<'_>, list: &mut List) {
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
    }
}
