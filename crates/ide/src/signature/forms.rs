//! How each statement is written: what stands in it, in the order of writing. In brackets what may be left out, which begins with a
//! word of its own; in capitals what is to be filled in.

/// A statement by its first word.
pub(super) type Form = (&'static str, &'static str);

/// Items.
pub(super) const ITEMS: &[Form] = &[
    ("about", "{ author \"…\" }"),
    ("allow", "RULE [\"reason\"]"),
    ("breaker", "NAME [\"title\"] FROM -> TO RATING [where \"…\"]"),
    ("circuit", "NAME [\"title\"]"),
    (
        "coil",
        "NAME [\"title\"] OHMS [FROM -> TO] [pulls_in AMPS] [drops_out AMPS] [rated VALUE] [where \"…\"]",
    ),
    ("connector", "NAME [\"title\"] [where \"…\"] { CAVITIES }"),
    ("control", "NAME [\"title\"] positions POSITIONS"),
    ("device", "NAME [\"title\"] : PART [where \"…\"] [access EASY]"),
    ("diode", "NAME [\"title\"] [FROM -> TO] [drop VOLTS] [where \"…\"]"),
    ("elsewhere", "[\"title\"] AMPS POINT"),
    ("exercise", "NAME [\"title\"] [in SCENARIO] { … }"),
    ("expect", "in SCENARIO { … }"),
    ("fuse", "NAME [\"title\"] FROM -> TO RATING [where \"…\"]"),
    ("ground", "NAME [\"title\"] [OHMS] [where \"…\"]"),
    ("heater", "NAME [\"title\"] WATTS VOLTS [FROM -> TO] [cold OHMS] [where \"…\"]"),
    ("lamp", "NAME [\"title\"] WATTS VOLTS [FROM -> TO] [cold OHMS] [where \"…\"]"),
    ("link", "NAME [\"title\"] FROM -> TO RATING [where \"…\"]"),
    ("module", "NAME [\"title\"] : PART [uses CAVITIES] [where \"…\"]"),
    ("motor", "NAME [\"title\"] OHMS [FROM -> TO] [turns_at AMPS] [rated VALUE] [runs AMPS] [where \"…\"]"),
    ("part", "NAME [\"title\"] { … }"),
    ("readings", "NAME [\"title\"] in SCENARIO [accuracy VALUE] { … }"),
    ("resistor", "NAME [\"title\"] OHMS [FROM -> TO] [where \"…\"]"),
    ("scenario", "NAME [\"title\"] { … }"),
    ("splice", "NAME [\"title\"] [shared by DEVICES] [where \"…\"]"),
    (
        "supply",
        "NAME [\"title\"] VOLTS [inner OHMS] [range LOW .. HIGH] [negative POINT] [limit AMPS] [live in CONTROL POSITION]",
    ),
    ("switch", "NAME [\"title\"] [FROM -> TO] [positions POSITIONS] [closed in POSITIONS] [where \"…\"]"),
    (
        "thermistor",
        "NAME [\"title\"] OHMS [FROM -> TO] [at TEMPERATURE] [beta KELVIN] [span LOW .. HIGH] [nominal TEMPERATURE] [where \"…\"]",
    ),
    ("unused", "POINTS"),
    ("use", "\"file\" [as NAME]"),
    (
        "variable",
        "NAME [\"title\"] LOW .. HIGH [FROM -> TO] [span LOW .. HIGH] [nominal VALUE] [where \"…\"]",
    ),
    ("variant", "NAME [\"title\"]"),
    ("view", "SCENARIO"),
    ("winding", "NAME [\"title\"] OHMS [FROM -> TO] [turns_at AMPS] [rated VALUE] [runs AMPS] [where \"…\"]"),
    (
        "wire",
        "NUMBER [\"title\"] FROM -> TO GAUGE COLOUR LENGTH [at TEMPERATURE] [fitted with VARIANT] [fitted without VARIANT]",
    ),
];

/// Lines of a device's or part's body.
pub(super) const BODY: &[Form] = &[
    ("changeover", "FROM -> (rest PIN, active PIN) when COIL energised"),
    ("coil", "FROM -> TO OHMS [pulls_in AMPS] [drops_out AMPS] [rated VALUE]"),
    ("contact", "FROM -> TO [rated AMPS] [closed in POSITIONS] [closed when COIL energised]"),
    ("diode", "FROM -> TO drop VOLTS"),
    ("grade", "NAME { ELEMENTS }"),
    ("heater", "FROM -> TO WATTS VOLTS [cold OHMS]"),
    ("lamp", "FROM -> TO WATTS VOLTS [cold OHMS]"),
    ("motor", "FROM -> TO OHMS [turns_at AMPS] [rated VALUE] [runs AMPS]"),
    ("pins", "PINS"),
    ("positions", "POSITIONS"),
    ("resistor", "FROM -> TO OHMS"),
    ("thermistor", "FROM -> TO OHMS [at TEMPERATURE] [beta KELVIN] [span LOW .. HIGH] [nominal TEMPERATURE]"),
    ("track", "FROM -> TO OHMS wiper PIN [travel LOW .. HIGH] [span LOW .. HIGH] [nominal VALUE]"),
    (
        "transducer",
        "FROM -> TO out PIN LOW .. HIGH over LOW .. HIGH [ratio] [span LOW .. HIGH] [nominal VALUE]",
    ),
    ("variable", "FROM -> TO LOW .. HIGH [span LOW .. HIGH] [nominal VALUE]"),
    ("winding", "FROM -> TO OHMS [turns_at AMPS] [rated VALUE] [runs AMPS]"),
];

/// Lines of a module's body.
pub(super) const MODULE: &[Form] =
    &[("connector", "NAME [\"title\"] { … }"), ("gang", "NAME [\"title\"] [pwm FREQUENCY] { … }")];

/// Rows of cavities, by their role; what stands before the role is in front of each.
pub(super) const CAVITIES: &[Form] = &[
    ("bus", "NAME [OHMS]"),
    ("drives", "WAY [on OHMS] [limit AMPS] [pwm FREQUENCY] [clamp] [to CAVITY] [from CAVITY]"),
    ("feed", "[draws AMPS]"),
    ("ground", ""),
    ("reference", "VOLTS [inner OHMS] [limit AMPS]"),
    ("return", "[switched] [shared by DEVICES] [on OHMS] [limit AMPS]"),
    ("senses", "[digital] [pull_up OHMS to VOLTS] [pull_down OHMS] [threshold VOLTS] [range LOW .. HIGH]"),
    ("switches", "{ CAVITY, CAVITY } [on OHMS] [limit AMPS] [pwm FREQUENCY] [clamp]"),
];

/// Set-ups, in scenarios and beside what is expected.
pub(super) const SETUPS: &[Form] = &[
    ("do", "\"what a person does\""),
    ("jumper", "POINT to POINT"),
    ("load", "POINT to POINT WATTS VOLTS"),
    ("pull", "FUSE"),
    ("unplug", "DEVICE"),
];

/// Readings that are not of one point.
pub(super) const READINGS: &[Form] =
    &[("clamp", "WIRE CLAIM"), ("lamp", "POINT [to POINT] LIGHT"), ("ohms", "POINT to POINT CLAIM")];

/// Lines of an exercise.
pub(super) const EXERCISE: &[Form] = &[
    ("ask", "KIND SUBJECT"),
    ("fault", "KIND SUBJECT"),
    ("in", "SCENARIO"),
    ("probes", "POINTS"),
    ("symptom", "SUBJECT STATE"),
];

/// What is to be filled in, in a few words.
pub(super) fn about(slot: &str) -> Option<&'static str> {
    Some(match slot {
        "NAME" => "a new name: letters, digits, _",
        "NUMBER" => "the number or name that is printed on the wire; may be left out",
        "FROM" | "TO" | "POINT" => {
            "a point: a splice, a supply, a ground, `device.pin`, `module.connector.cavity`"
        }
        "RATING" => "from more than 1.35 times of it, it opens: `10 A`",
        "GAUGE" => "`0.75 mm2` or `AWG 18`",
        "COLOUR" => "letters of IEC 60757: `RD`, `OG/BK`",
        "LENGTH" => "`1.2 m`",
        "PART" => "a part of this file or of a library, with its values in brackets: `valve(coil = 22 ohm)`",
        "POSITIONS" => "with commas between; the first is the rest position",
        "SCENARIO" => "the name of a scenario",
        "RULE" => "the name of a rule",
        "WAY" => "`low` to ground, `high` from a feed, `half` either",
        "CLAIM" => "`about 5 V +- 0.1 V`, `below 0.4 V`, `11 .. 13 V`, a state",
        "LIGHT" => "`bright`, `dim`, `dark`",
        "WATTS" => "`10 W`",
        "VOLTS" => "`12 V`",
        "OHMS" => "`24 ohm`",
        "AMPS" => "`2 A`",
        "TEMPERATURE" => "`25 degC`",
        "KELVIN" => "`3500 K`",
        "FREQUENCY" => "`100 Hz`",
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::completion::words;

    /// Something that may stand in a slot.
    fn example(slot: &str) -> &str {
        match slot {
            "FROM" | "POINT" | "POINTS" | "DEVICE" | "WIRE" | "SUBJECT" => "a.1",
            "TO" => "b.1",
            "PIN" | "PINS" | "CAVITIES" => "1",
            "RATING" | "AMPS" => "2 A",
            "VOLTS" => "12 V",
            "OHMS" => "24 ohm",
            "WATTS" => "10 W",
            "VALUE" | "LOW" | "HIGH" => "5 V",
            "TEMPERATURE" => "25 degC",
            "KELVIN" => "3500 K",
            "FREQUENCY" => "100 Hz",
            "GAUGE" => "0.75 mm2",
            "COLOUR" => "RD",
            "LENGTH" => "1.2 m",
            "EASY" => "easy",
            "WAY" => "low",
            "LIGHT" => "bright",
            "CLAIM" | "STATE" => "5 V",
            _ => "x",
        }
    }

    fn filled(form: &str) -> String {
        let mut text = form.replace("[\"title\"]", "\"t\"").replace("{ … }", "{ }").replace("[OHMS]", "");
        text = text.replace(['[', ']'], " ");
        let word = |w: &str| {
            let bare = w.trim_matches(|c: char| !c.is_alphanumeric());
            let slot = bare.len() > 1 && bare.chars().all(|c| c.is_ascii_uppercase());
            if slot { w.replace(bare, example(bare)) } else { w.to_owned() }
        };
        text.split_whitespace().map(word).collect::<Vec<_>>().join(" ")
    }

    /// What may be left out, once with all of it and once without.
    fn sound(head: &str, form: &str, around: &str) {
        let mut without = form.replace("[\"title\"] ", "");
        while let (Some(open), Some(close)) = (without.find('['), without.find(']')) {
            without.replace_range(open..=close, "");
        }
        let text = around.replace('@', &format!("{head} {}", filled(&without)));
        let parse = keyon_syntax::parse(&text);
        assert!(parse.errors.is_empty(), "{text}: {:?}", parse.errors);
    }

    #[test]
    fn forms_are_written_as_the_language_has_them() {
        for (head, form) in ITEMS.iter().filter(|(head, _)| *head != "circuit") {
            // These need one of what may be left out.
            let form = match *head {
                "thermistor" => "NAME OHMS at TEMPERATURE beta KELVIN FROM -> TO",
                "diode" => "NAME FROM -> TO drop VOLTS",
                _ => form,
            };
            let after = if *head == "allow" { "\nground G1" } else { "" };
            sound(head, form, &format!("circuit c\n@{after}\n"));
        }
        for (head, form) in BODY {
            let form = match *head {
                "thermistor" => "FROM -> TO OHMS at TEMPERATURE beta KELVIN",
                "contact" => "FROM -> TO closed in POSITIONS",
                _ => form,
            };
            sound(head, &form.replace("FROM", "1").replace("TO", "2"), "circuit c\ndevice d {\n@\n}\n");
        }
        for (head, form) in CAVITIES {
            sound(head, form, "circuit c\nmodule m {\nconnector A {\n1 x @\n}\n}\n");
        }
        for (head, form) in SETUPS {
            sound(head, form, "circuit c\nscenario s {\n@\n}\n");
        }
        for (head, form) in READINGS {
            sound(head, form, "circuit c\nexpect in s {\n@\n}\n");
        }
    }

    #[test]
    fn every_item_has_a_form() {
        for word in words::ITEMS {
            assert!(ITEMS.iter().any(|(head, _)| head == word), "{word}");
        }
    }
}
