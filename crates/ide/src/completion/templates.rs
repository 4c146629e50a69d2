//! How items and lines of bodies are written, to be filled in.

/// How an item is written, what is to be filled in between `‹` and `›`.
pub(crate) fn template(word: &str) -> Option<&'static str> {
    find(TEMPLATES, word)
}

/// How a line of a body is written; `None` outside of all bodies, where items stand.
pub(super) fn template_in(body: Option<&str>, word: &str) -> Option<&'static str> {
    match body {
        None => find(TEMPLATES, word),
        Some("module") => find(MODULE, word),
        // A part with connectors is a module.
        Some("device" | "part") => find(BODY, word).or_else(|| find(MODULE, word)),
        Some(_) => None,
    }
}

fn find(templates: &[(&'static str, &'static str)], word: &str) -> Option<&'static str> {
    templates.iter().find(|(name, _)| *name == word).map(|(_, text)| *text)
}

/// A template with its examples filled in.
pub(crate) fn plain(template: &str) -> String {
    template.replace(['‹', '›'], "")
}

const TEMPLATES: &[(&str, &str)] = &[
    ("wire", "wire ‹10›  ‹S1› -> ‹lamp.1›  ‹0.75 mm2›  ‹RD›  ‹1.2 m›"),
    ("fuse", "fuse ‹F1›  ‹battery› -> ‹S1›  ‹10 A›"),
    ("splice", "splice ‹S1›"),
    ("ground", "ground ‹G1›  \"‹frame stud›\""),
    ("supply", "supply ‹battery›  ‹12.6 V›  inner ‹15 mohm›"),
    ("lamp", "lamp ‹work_lamp›  ‹10 W› ‹12 V›"),
    ("switch", "switch ‹arm›  \"‹Lamp switch›\""),
    ("resistor", "resistor ‹R1›  ‹470 ohm›"),
    ("heater", "heater ‹plug›  ‹180 W› ‹12 V›"),
    ("coil", "coil ‹valve›  ‹24 ohm›  rated ‹12 V›"),
    ("winding", "winding ‹fan›  ‹0.6 ohm›  turns_at ‹2 A›"),
    ("thermistor", "thermistor ‹probe›  ‹2.5 kohm› at ‹25 degC›  beta ‹3500 K›"),
    ("diode", "diode ‹D1›  ‹S1› -> ‹S2›  drop ‹0.7 V›"),
    ("device", "device ‹valve›  \"‹Valve›\" : ‹part›"),
    (
        "module",
        "module ‹CU›  \"‹Control unit›\" {\n  connector A \"‹3-way›\" {\n    1  plus      feed\n    2  gnd       ground\n    3  ‹lamp_out›  drives low  on ‹120 mohm›  limit ‹2 A›\n  }\n}",
    ),
    ("connector", "connector ‹C1›  \"‹At the bulkhead›\" { ‹1, 2› }"),
    ("scenario", "scenario ‹working› { ‹key on› }"),
    ("expect", "expect in ‹working› {\n  ‹lamp›  ‹operates›\n}"),
    (
        "exercise",
        "exercise ‹dead_lamp›  \"‹The lamp stays dark›\" in ‹working› {\n  fault   open ‹11›\n  symptom ‹lamp› rests\n  probes  ‹lamp›\n  ask     volts ‹lamp›.1\n}",
    ),
    ("use", "use \"‹trade›\""),
    ("circuit", "circuit ‹my_lamp›  \"‹My lamp›\""),
];

/// Lines of a module's body.
const MODULE: &[(&str, &str)] = &[
    ("connector", "connector ‹A›  \"‹3-way›\" {\n  1  ‹plus›  feed\n  2  ‹gnd›   ground\n}"),
    ("gang", "gang ‹drive› {\n  ‹stop›  ‹out_a› ‹gnd›\n}"),
];

/// Lines of a device's or part's body.
const BODY: &[(&str, &str)] = &[
    ("pins", "pins ‹1, 2›"),
    ("positions", "positions ‹off, on›"),
    ("contact", "contact ‹1› -> ‹2›  closed in ‹on›"),
    ("coil", "coil ‹1› -> ‹2›  ‹24 ohm›"),
    ("winding", "winding ‹1› -> ‹2›  ‹0.6 ohm›  turns_at ‹2 A›"),
    ("motor", "motor ‹1› -> ‹2›  ‹0.6 ohm›  turns_at ‹2 A›"),
    ("resistor", "resistor ‹1› -> ‹2›  ‹470 ohm›"),
    ("lamp", "lamp ‹1› -> ‹2›  ‹10 W› ‹12 V›"),
    ("heater", "heater ‹1› -> ‹2›  ‹60 W› ‹12 V›"),
    ("diode", "diode ‹1› -> ‹2›  drop ‹0.7 V›"),
    ("thermistor", "thermistor ‹1› -> ‹2›  ‹2.5 kohm› at ‹25 degC›  beta ‹3500 K›"),
];

#[cfg(test)]
mod tests {
    use super::*;

    fn sound(word: &str, text: &str) {
        let parse = keyon_syntax::parse(text);
        assert!(parse.errors.is_empty(), "{word}: {:?}", parse.errors);
    }

    #[test]
    fn templates_are_written_as_the_language_has_it() {
        for (word, text) in TEMPLATES {
            let text = plain(text);
            sound(word, &if *word == "circuit" { text } else { format!("circuit c\n{text}\n") });
        }
        for (word, text) in MODULE {
            sound(word, &format!("circuit c\nmodule M {{\n{}\n}}\n", plain(text)));
        }
        for (word, text) in BODY {
            sound(word, &format!("circuit c\ndevice d {{\n{}\n}}\n", plain(text)));
        }
    }
}
