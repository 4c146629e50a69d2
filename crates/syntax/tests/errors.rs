//! What a person reads about text that does not fit: place, words, fix.
#![allow(missing_docs, clippy::unwrap_used)]

mod common;

/// Each snippet's errors, and whether its items count as damaged.
fn errors_of(snippets: &[&str]) -> String {
    let mut out = String::new();
    for text in snippets {
        let parse = keyon_syntax::parse(text);
        let damaged: String =
            parse.file.items.iter().map(|placed| if placed.item.damaged { 'D' } else { '.' }).collect();
        if parse.errors.is_empty() {
            out.push_str(&format!("NO ERROR: {text}\n"));
        }
        out.push_str(&common::show_errors(text, &parse.errors));
        out.push_str(&format!("    ({damaged})\n\n"));
    }
    out
}

macro_rules! errors {
    ($name:ident, $($text:expr),+ $(,)?) => {
        #[test]
        fn $name() {
            insta::assert_snapshot!(errors_of(&[$($text),+]));
        }
    };
}

errors!(
    word_processor_slips,
    "wire 431 S12 → left_valve.1 0.75 mm2 OG",
    "device key “Key switch” : key_switch",
    "device key ‘Key switch’ : key_switch",
    "supply battery 12.6 V range 11.0 … 14.8 V",
    "thermistor T 2 kohm at −10 degC beta 3500 K",
    "thermistor T 2 kohm at –10 degC beta 3500 K",
    "splice S12;",
    "splice S12; splice S13",
    "wire 431 S12\u{200B} -> b",
    "wire 431 S12 => b",
    "wire 431 S12 --> b",
    "lamp L1 5 W 12 V “",
    "circuit x \"Orchard sprayer",
    "module M \"Unit {\n  connector A \"x {\n    1 a feed\n  }\n}",
);

errors!(
    numbers_and_units,
    "wire 431 a -> b 0,75 mm2 OG 1,9 m",
    "resistor R .5 ohm",
    "resistor R 5. ohm",
    "resistor R 1.5.0 ohm",
    "resistor R 2k2",
    "resistor R 470R",
    "resistor R 4R7 a -> b",
    "resistor R 470 Ohm",
    "resistor R 470",
    "fuse F1 a -> b 10 a",
    "fuse F1 a -> b 10 amps",
    "fuse F1 a -> b 10a",
    "fuse F1 10 a -> b",
    "fuse F1 60 battery -> key.B",
    "module M { \n connector A {\n 1 a drives low pwm 150 hz\n }\n}",
    "supply battery 12.6 v",
    "supply battery 12.6v inner 15 mOhm",
    "wire 431 a -> b AWG18",
    "wire 431 a -> b 18AWG",
    "wire 431 a -> b 0.75 OG 1.9 m",
    "wire 431 a -> b 0.75 mm OG 1.9 m",
    "wire 431 a -> b 0.75 mm^2 OG",
    "wire 431 a -> b 0.75 sqmm OG",
    "wire 431 a -> b 3 metres",
    "lamp L 21 W",
    "lamp L 21 W 12",
    "supply battery 12.6 V range 11 .. 14.8",
    "thermistor T 2 kohm at 25 °c beta 3500",
    "expect in s {\n  a below 0.4 v\n  b 0.4 .. 0.7\n F7 0,4 A\n c about 5 V\n}",
    "scenario s { temp 25 c }",
    "coil K1 85 ohm pulls_in 0.1 drops_out 0.04 a",
);

errors!(
    misspelt_words,
    "wier 431 a -> b",
    "Wire 431 a -> b",
    "DEVICE key : key_switch",
    "foo bar baz\nmore junk\n12 V",
    "}",
    "pins 1, 2",
    "gang g { a b c }",
    "coil K1 85 ohm puls_in 0.1 A",
    "supply battery 12.6 V iner 15 mohm",
    "lamp L1 21 W 12 V cool 0.7 ohm",
    "device K4 {\n  pin 30, 85\n  coil K 85 -> 86 90 ohm pullsin 0.1 A\n}",
    "device K4 {\n  pins 30, 85\n  contacts 30 -> 87 closed when K energised\n}",
    "device K4 {\n  pins 30, 87\n  contact 30 -> 87 closed when K energized\n}",
    "module M {\n  connector A {\n    1 a fed\n    2 b drive low\n    3 c drives lo\n    4 d drives low lmit 2 A\n  }\n}",
    "module M {\n  conector A {\n    1 a feed\n  }\n}",
    "expect in s {\n  a operats\n  b bellow 0.4 V\n}",
    "exercise e {\n  falt open 431\n  symptom a rest\n  fault opn 431\n  fault stuck a\n}",
    "splice S12 share by a, b",
    "part p(a: resistence = 5 ohm) { pins 1 }",
    "connector C1 \"x\" { 1, 2 } acces easy",
    "splice S1 acces easy",
    "splice S1 access hard",
    "use parts/spray.keyon",
    "alow unused-name \"x\"\nsplice S1",
    "allow \"x\"\nsplice S1",
    "allow unused name \"x\"\nsplice S1",
);

errors!(
    missing_things,
    "wire",
    "wire 431",
    "wire 431 S12",
    "wire 431 S12 ->",
    "wire 431 S12 -> b ->",
    "wire S12 b 0.75 mm2",
    "wire 431 S12 b",
    "wire 431 441 -> 442",
    "fuse F1 10 A",
    "fuse F1 a -> b",
    "fuse a -> b 10 A",
    "supply battery",
    "supply 12 V",
    "circuit",
    "circuit \"Orchard\"",
    "device",
    "device key",
    "device key :",
    "device key : key_switch(",
    "device key : key_switch(a = )",
    "module SCU \"x\"",
    "part p \"x\"",
    "scenario s",
    "scenario { key run }",
    "scenario s { key }",
    "expect { a operates }",
    "expect in s\n",
    "expect in s {\n  left_valve\n  a to b\n  ohms a 5 ohm\n}",
    "connector C1 \"x\"",
    "ground",
    "diode D1",
    "diode D1 0.7 V",
    "use",
    "switch s positions",
    "device K {\n  changeover 30 -> 87\n  changeover 30 -> (rest 87a) when K energised\n  contact 30 -> 87\n  coil\n  pins\n}",
    "module M {\n  connector A {\n    1\n    2 b\n    c\n    3 d switches\n    4 e reference\n    5 f pull_up 2 kohm\n  }\n gang g { stop a gnd b }\n}",
    "exercise e {\n  fault\n  fault short\n  symptom\n  probes\n  ask\n  fault resistance 10 ohm\n}",
    "elsewhere \"fan\" 3 A",
    "view",
    "unused",
);

errors!(
    brackets_and_commas,
    "device K4 \"Relay\" {\n  pins 30, 85\n  coil K 85 ohm\nwire 431 a -> b",
    "device K4 {\n  pins 30, 85,\n  coil K 85 ohm\n}\nsplice S1",
    "wire 431 a ->\nwire 432 b -> c",
    "unused K4.1, K4.2,\nsplice S1",
    "part p(a: resistance = 5 ohm {\n  pins 1, 2\n}",
    "device key : p(a = 5 ohm\nsplice S1",
    "device K {\n  changeover 30 -> (rest 87a, active 87 when K energised\n  diode 1 -> 2 drop 0.7 V\n}",
    "module M {\n  connector A {\n    1 a switches { b, c\n    2 b feed\n  }\n}",
    "module M {\n  connector A {\n    1 a feed\n  connector B {\n    2 b feed\n  }\n}\nsplice S1",
    "device K { pins 1, 2 } }",
    "device K { pins 1, 2 } splice S1",
    "wire 431 a -> b {\n  pins 1\n}",
    "wire 431 a -> b )",
    "wire 431 (a -> b)",
    "scenario s { key run, , b on }",
    "splice S1 }",
    "device a { device b { device c { device d { device e { device f { device g { device h { device i { x",
);

errors!(
    too_much,
    "wire 431 a -> b 0.75 mm2 1 mm2",
    "wire 431 a -> b 2 m 3 m",
    "wire 431 a -> b OG BK",
    "fuse F1 a -> b 10 A 20 A",
    "fuse F1 a -> b c -> d 10 A",
    "supply battery 12 V inner 5 mohm inner 6 mohm",
    "splice S1 S2",
    "circuit a b \"x\"",
    "circuit a \"x\" \"y\"",
    "device key : a : b",
    "lamp L 21 W 12 V 5 A",
    "ground G1 5 mohm 6 mohm",
    "resistor R 5 ohm 6 ohm",
    "view a b",
    "connector C { 8 .. 1 }",
    "connector C { 1 2 3 }",
    "device K { pins 1 2 }",
);

errors!(
    one_row_costs_that_row_only,
    "module SCU {\n  connector A {\n    1 bplus feed\n    2 ??? ground\n    3 x drives sideways\n    4 y senses\n  }\n}",
    "expect in s {\n  a operates\n  b !\n  c rests\n}",
    "scenario s {\n  key run\n  ? on\n  lamp on\n}",
    "device K {\n  pins 1, 2\n  coil K 85\n  contact 1 -> 2 closed when K energised\n}",
);

/// What is typed of a word is answered with what it may become, not with all that there is.
#[test]
fn half_a_word() {
    let helped = |text: &str| -> Vec<String> {
        let parse = keyon_syntax::parse(text);
        parse
            .errors
            .iter()
            .map(|e| format!("{}: {}", e.message, e.help.as_deref().unwrap_or_default()))
            .collect()
    };
    let item = |word: &str| helped(&format!("circuit c\n{word}\n")).join("; ");
    assert_eq!(item("sup"), "no item begins with `sup`: did you mean `supply`?");
    assert_eq!(item("res"), "no item begins with `res`: did you mean `resistor`?");
    assert!(item("s").ends_with("`switch`?") && item("s").contains("`supply`, "), "{}", item("s"));
    assert!(item("zzz").contains("an item begins with a word such as"), "{}", item("zzz"));
    for word in ["above", "below", "about"] {
        let said = helped(&format!("circuit c\nexpect in s {{\n  a.1 {word}\n}}\n")).join("; ");
        assert!(said.starts_with("the line ends too early: expected "), "{said}");
    }
}
