//! Every kind of problem with its message.

#![allow(clippy::unwrap_used)]

mod common;

use common::{alone, bench, problems, with};

/// A snapshot without the expression, which is as long as the result.
macro_rules! said {
    ($text:expr) => {
        insta::with_settings!({omit_expression => true}, { insta::assert_snapshot!($text) })
    };
}

/// Lines in a circuit with a battery and a ground, and what is said of them.
fn cases(cases: &[&str]) -> String {
    let mut out = String::new();
    for case in cases {
        let said = problems(&alone(&bench(case)));
        out.push_str(&format!(
            "{case}\n--------\n{}\n",
            if said.is_empty() { "nothing\n".to_owned() } else { said }
        ));
    }
    out
}

/// A part, read for its own sake.
fn parts(cases: &[&str]) -> String {
    let mut out = String::new();
    for case in cases {
        out.push_str(&format!("{case}\n--------\n{}\n", problems(&alone(case))));
    }
    out
}

#[test]
fn relays() {
    said!(cases(&[
        "device K {\n  pins 30, 85, 86, 87\n  coil K 86 -> 85\n  contact 30 -> 87 closed when K energised\n}",
        "device K {\n  pins 30, 85, 86, 87\n  coil K 86 -> 85 85 ohm\n  contact 30 -> 87 closed when K energised\n}\nwire 1 K.88 -> G1",
        "part relay(ohms: resistance = 80 ohm) {\n  pins 85, 86\n  coil ohm 86 -> 85\n}\ndevice K : relay",
    ]));
}

#[test]
fn dimensions() {
    said!(cases(&[
        "resistor R1 battery -> G1 470 V",
        "resistor R1 battery -> G1 470",
        "lamp L1 battery -> G1 21 W 12 A",
        "coil K1 battery -> G1 85 ohm pulls_in 8 V drops_out 0.04 A",
        "wire 1 battery -> G1 0.75 mm2 24 ohm",
        "wire 1 battery -> G1 0.75 mm2 2 m at 5 V",
        "fuse F1 battery -> G1 10 V",
        "thermistor T battery -> G1 2.5 kohm at 25 ohm beta 3500 K",
        "thermistor T battery -> G1 2.5 kohm at 25 degC beta 3500 degC",
        "variable R battery -> G1 0 .. 10 V",
        "variable R battery -> G1 0 V .. 10 kohm",
        "supply second 12 A",
        "resistor R1 battery -> G1 470 ohm +- 5 V",
        "resistor R1 battery -> G1 size",
        "elsewhere \"fan\" 3 V battery",
        "supply aux 12 V inner 3 V range 11 .. 14 A",
    ]));
}

#[test]
fn impossible_values() {
    said!(cases(&[
        "resistor R1 battery -> G1 -470 ohm",
        "resistor R1 battery -> G1 0 ohm",
        "lamp L1 battery -> G1 21 W 0 V",
        "coil K1 battery -> G1 24 Mohm",
        "coil K1 battery -> G1 85 ohm pulls_in 0.04 A drops_out 0.1 A",
        "fuse F1 battery -> G1 0 A",
        "fuse F1 battery -> G1 -5 A",
        "thermistor T battery -> G1 2.5 kohm at 25 degC beta 3 K",
        "thermistor T battery -> G1 2.5 kohm at -300 degC beta 3500 K",
        "thermistor T battery -> G1 2.5 kohm at 25 degC beta 3500 K span 100 .. -40 degC",
        "thermistor T battery -> G1 2.5 kohm at 25 degC beta 3500 K span 0 .. 50 degC nominal 80 degC",
        "thermistor T battery -> G1 steinhart 1 2 3",
        "thermistor T battery -> G1 9 kohm at 25 degC steinhart 1.129e-3 2.341e-4 8.775e-8",
        "variable R battery -> G1 10 .. 5 kohm",
        "resistor R1 battery -> G1 470 ohm +- 120 %",
        "resistor R1 battery -> G1 470 ohm +- 500 ohm",
        "supply second 0 V",
        "supply second 12 V range 14 .. 11 V",
        "supply second 10 V range 11 .. 14 V",
        "supply second 12 V inner 15 Mohm",
        "ground G2 2 Mohm",
        "wire 1 battery -> G1 0 mm2 2 m",
        "wire 1 battery -> G1 AWG 60 2 m",
        "wire 1 battery -> G1 0.75 mm2 -2 m",
        "wire 1 battery -> battery",
        "resistor R1 battery -> G1 1e999 ohm",
        "diode D battery -> G1 drop -0.7 V",
        "device S {\n  pins 1, 2, 3\n  track 1 -> 3 5 kohm wiper 2 travel 5 .. 195 %\n}",
        "device S {\n  pins 1, 2, 3\n  track 1 -> 3 5 mohm wiper 2 travel 95 .. 5 %\n}",
        "device K {\n  pins 1, 2\n  positions only\n  contact 1 -> 2 closed in only\n}",
        "device K {\n  pins 1, 2\n  positions a, b\n  contact 1 -> 1 closed in a\n}",
        "lamp L1 G1 -> G1 21 W 12 V",
        "scenario s { battery -3 V }\nview s",
        "switch sw battery -> G1\nscenario s { sw on 40 % }\nview s",
    ]));
}

#[test]
fn unknown_names() {
    said!(cases(&[
        "wire 1 batery -> G1",
        "splice S12\nwire 1 S21 -> G1\nwire 2 S21 -> battery\nwire 3 S12 -> battery",
        "lamp L1 5 W 12 V\nwire 1 battery -> L1",
        "lamp L1 5 W 12 V\nwire 1 battery -> L1.3",
        "lamp L1 5 W 12 V\nwire 1 battery -> L2.1",
        "wire 1 battery -> nowhere_near",
        "wire 1 battery -> G1.x",
        "fuse F1 battery -> G1 5 A\nwire 1 F1 -> G1",
        "connector C1 { 1, 2 }\nwire 1 battery -> C1.3 -> G1",
        "connector C1 { 1, 2 }\nwire 1 battery -> C1 -> G1",
        "device V : valve\nwire 1 V.1 -> G1\nwire 2 V.2 -> battery",
        "device V : valv\nuse \"trade\"",
        "use \"trade\"\ndevice V : valve(coil = 2 ohm, other = 3 ohm)",
        "use \"trade\"\ndevice V : valve(coli = 2 ohm)",
        "use \"trade\"\ndevice R : relay4(85 ohm)",
        "use \"trade\"\ndevice R : relay4(coil = 85 ohm, coil = 90 ohm)",
        "use \"trade\"\ndevice R : relay4(coil = 8 V)",
        "use \"trade\"\ndevice R : relay4(coil = 0 ohm)",
        "use \"trade\"\ndevice R : relay4(drop_out = 2 A)",
        "use \"trade\"\nmodule R : relay4",
        "unused G1",
        "device K {\n  pins 1, 2\n  coil J 1 -> 3 85 ohm\n  contact 1 -> 2 closed when K energised\n}",
        "device K {\n  pins 1, 2\n  positions off, on\n  contact 1 -> 2 closed in onn\n  grade best { one }\n}",
        "device K {\n  pins 1, 2\n  contact 1 -> 2 closed in on\n}",
        "device K {\n  coil 24 ohm\n}",
        "switch sw battery -> G1\ndevice K {\n  pins 1, 2\n  contact 1 -> 2 closed when sw energised\n}",
        "view runing\nscenario running { }",
        "switch sw battery -> G1 positions open, shut closed in shutt",
        "exercise e {\n  fault open F1\n  ask vlots battery\n  ask ohms battery\n}",
        "supply alt 14 V live in engine running",
        "control engine positions stopped, running\nsupply alt 14 V live in engine runing",
    ]));
}

#[test]
fn lost_in_damage() {
    said!(cases(&[
        "splcie S20\nwire 1 S20 -> G1",
        "device V : \nwire 1 V.1 -> G1",
        "module M {\n  connector A {\n    1 x drives sideways\n  }\n}\nwire 1 M.A.2 -> G1\nwire 2 M.A.1 -> G1",
        "use \"missing.keyon\"\ndevice V : thing\nwire 1 V.1 -> G1",
        "use \"missing.keyon\" as m\ndevice V : m.thing\nwire 1 V.1 -> G1",
        "resistor R1 battery -> G1",
        "wire 1 battery ->\nwire 2 battery -> G1",
    ]));
}

#[test]
fn duplicates() {
    said!(cases(&[
        "splice S1\nground S1\nwire 1 battery -> S1 -> G1",
        "fuse F1 battery -> G1 1 A\nfuse F1 battery -> G1 2 A",
        "device D {\n  pins p, q, p\n  resistor q p -> q 5 ohm\n  resistor A p -> q 5 ohm\n  resistor A p -> q 6 ohm\n}",
        "connector C1 { 1, 2, 1 }",
        "scenario a { }\nscenario a { }\nview a",
        "scenario s { }\nexercise e in s { }\nexercise e in s { }",
        "device K {\n  pins 1, 2\n  positions off, on, off\n  contact 1 -> 2 closed in on\n}",
        "wire 431 battery -> G1\nwire 431 battery -> G1\nscenario s { }\nexercise e in s {\n  fault open 431\n}",
        "control battery positions a, b",
    ]));
}

#[test]
fn modules() {
    let module = |rows: &str, gang: &str| format!("module M {{\n  connector A {{\n{rows}\n  }}\n{gang}}}");
    let base = "    1 bplus feed\n    2 gnd ground\n    3 a switches { bplus, gnd }\n    4 b drives half\n    5 c drives low";
    let all = [
        module("    1 x feed\n    1 y ground\n    2 x ground\n    3 A senses", ""),
        module("    1 x drives low to gmd\n    2 gnd ground", ""),
        module("    1 x switches { bplus, gnd }\n    2 gnd ground", ""),
        module("    1 x switches { gnd, gnd }\n    2 gnd ground", ""),
        module(
            "    1 x senses pull_up 2 V to 5 V\n    2 y senses pull_up 2.2 kohm to vreff\n    3 vref reference 5 A",
            "",
        ),
        module("    1 x drives low on 120 Mohm limit 0 A pwm 0 Hz\n    2 y drives low on 120 V", ""),
        module("    1 x senses range 4 .. 1 V\n    2 y senses pull_down 2 mohm\n    3 z reference 0 V", ""),
        module("    1 r return shared by levl\n    2 gnd ground", ""),
        module(base, "  gang g {\n    stop a bplus b low\n    go a gnd b hi\n  }\n"),
        module(base, "  gang g {\n    stop a bplus a gnd\n    go aa gnd c on\n    stop c off\n  }\n"),
        module(base, "  gang g {\n    stop bplus on c off\n  }\n"),
        module(
            base,
            "  gang g {\n    stop a bplus\n    go a gnd\n  }\n  gang h {\n    x a gnd b open\n    y a bplus b high\n  }\n",
        ),
        module(base, "  gang a {\n    stop c off\n    go c on\n  }\n"),
        format!(
            "{}\nscenario s {{ c on, M.c of, g stop, a gnd }}\nview s",
            module(base, "  gang g {\n    stop a bplus b low\n    go a gnd b high\n  }\n")
        ),
        format!(
            "{}\nwire 1 battery -> M.A.9\nwire 2 battery -> M.B.1\nwire 3 battery -> M.nope\nwire 4 battery -> M\nwire 5 battery -> M.A\nwire 6 battery -> M.A.bplus",
            module(base, "")
        ),
    ];
    said!(cases(&all.iter().map(String::as_str).collect::<Vec<_>>()));
}

#[test]
fn ambiguous_bare_names() {
    let text = "module M {\n  connector A { \n    1 cmd drives low\n  }\n}\nmodule N {\n  connector A {\n    1 cmd drives low\n  }\n}\nscenario s { cmd on }\nscenario t { M.cmd on }\nview s\nexpect in t {\n}\n";
    said!(cases(&[text]));
}

#[test]
fn states() {
    let body = "lamp L1 battery -> G1 21 W 12 V\nsplice S1\nswitch sw battery -> S1\nfuse F1 S1 -> G1 5 A\nwire 7 S1 -> L1.1 1 mm2 1 m\nthermistor temp S1 -> G1 2 kohm at 25 degC beta 3500 K\n";
    let rows = [
        "scenario s { sw onn, temp 25 V, temp 500 K, L1 on, S1 4 V, sw }\nview s",
        "scenario s { unplug S1, pull S1, jumper S1 to nix, load S1 to G1 3 V, load S1 to G1 0 ohm }\nview s",
        "scenario s { sw on }\nexpect in s {\n  L1 operatess\n  L1 fed\n  S1 2 A\n  S1 operates\n  L1 2 kPa\n  F1 high\n  nope rests\n  S1 5 .. 2 V\n  S1 2 .. 5 A\n  S1 about 3 V +- 2 A\n  7 0.5 A\n  7 12 V\n  L1 12 V\n  F1 blown\n  battery 12.31 V\n  battery 1 A\n}",
        "scenario s { sw on }\nexpect in t {\n}\nreadings in q {\n}",
        "scenario s { sw on }\nreadings r in s {\n  lamp S1 bright\n  lamp S1 3 V\n  clamp 7 0.5 A\n  clamp 7 0.5 V\n  ohms S1 to G1 3 ohm\n  ohms S1 to G1 3 V\n  S1 to G1 3 V\n  S1 to G1 3 A\n}",
    ];
    let all: Vec<String> = rows.iter().map(|r| format!("{body}{r}")).collect();
    said!(cases(&all.iter().map(String::as_str).collect::<Vec<_>>()));
}

#[test]
fn faults() {
    let text = "use \"trade\"\nlamp L1 battery -> G1 21 W 12 V\nsplice S1\nwire S1 -> L1.1\nwire 9 S1 -> battery\ndevice K4 : relay5\nmodule M {\n  connector A {\n    1 cmd drives low\n  }\n}\nscenario s { }\nexercise e in s {\n  fault open nope\n  fault open S1.7\n  fault open S1 -> G1\n  fault short 9\n  fault short S1 to nix\n  fault stuck cmd sideways\n  fault stuck K4.30 12\n  fault stuck L1 open\n  fault resistance 3 V in 9\n  fault drift L1 +10 %\n  fault drift S1 +10 %\n  probes S1, nix\n}";
    said!(cases(&[text]));
}

#[test]
fn heads() {
    let mut out = String::new();
    for text in [
        "",
        "# nothing but a comment\n",
        "supply battery 12 V\nground G1\n",
        "supply battery 12 V\ncircuit late\n",
        "circuit one\ncircuit two\n",
        "part p { \n pins 1, 2\n resistor 1 -> 2 5 ohm\n}\n",
        "use \"trade\"\n",
        "part p { \n pins 1, 2\n resistor 1 -> 2 5 ohm\n}\ncircuit late\n",
        "frobnicate\n",
    ] {
        let e = alone(text);
        out.push_str(&format!("{text}--------\nlibrary {}\n{}\n", e.library, problems(&e)));
    }
    said!(out);
}

#[test]
fn parts_by_themselves() {
    said!(parts(&[
        "part p(a: resistance = 5 V, b: resistence, c: current) {\n  pins 1, 2\n  resistor 1 -> 2 c\n}",
        "part p(a: resistance, a: current) {\n  pins 1, 2\n  coil 1 -> 2 a pulls_in 2 V drops_out b\n}",
        "part p(a: resistance = -5 ohm) {\n  pins 1, 2\n  coil 1 -> 3 a\n  contact 1 -> 2 closed when Q energised\n}",
        "part p {\n  connector A {\n    1 x feed\n    2 y drives low to z\n  }\n}",
        "part p {\n  pins 1, 2\n  lamp 1 -> 2 5 W 12 V\n}\npart p {\n  pins 1, 2\n  lamp 1 -> 2 5 W 12 V\n}",
    ]));
}

#[test]
fn libraries() {
    let good = "part valve2(coil: resistance) {\n  pins 1, 2\n  coil 1 -> 2 coil\n}\n";
    let bad = "part broken {\n  pins 1, 2\n  coil 1 -> 9 24 ohm\n}\n";
    let mut out = String::new();
    let mut say = |title: &str, libraries: &[(&str, &str)], text: &str| {
        out.push_str(&format!("{title}\n--------\n{}\n", problems(&with(libraries, text))));
    };
    say(
        "a mistake in a library is reported once, there",
        &[("a", bad)],
        &bench("use \"a\"\ndevice one : broken\ndevice two : broken"),
    );
    say(
        "a value that the part cannot take is reported where it is given",
        &[("a", good)],
        &bench("use \"a\"\ndevice one : valve2(0 ohm)\ndevice two : valve2(coil = 24 Mohm)"),
    );
    say("a missing argument", &[("a", good)], &bench("use \"a\"\ndevice one : valve2"));
    say(
        "two libraries with one part",
        &[("a", good), ("b", good)],
        &bench("use \"a\"\nuse \"b\"\ndevice one : valve2(5 ohm)"),
    );
    say(
        "qualified by a name",
        &[("a", good), ("b", good)],
        &bench(
            "use \"a\"\nuse \"b\" as b\ndevice one : valve2(5 ohm)\ndevice two : b.valve2(5 ohm)\ndevice three : b.valve3",
        ),
    );
    say("one alias twice", &[("a", good), ("b", good)], &bench("use \"a\" as x\nuse \"b\" as x"));
    say(
        "the circuit's own part and a library's",
        &[("a", good)],
        &bench(&format!("use \"a\"\n{good}device one : valve2(5 ohm)")),
    );
    say("a ring", &[("a", "use \"b\"\n"), ("b", "use \"a\"\n")], &bench("use \"a\""));
    say("a file that uses itself", &[("main", "use \"main\"\n")], "use \"main\"\n");
    say("a circuit as a library", &[("a", "circuit other\nsupply battery 12 V\n")], &bench("use \"a\""));
    say(
        "a missing file, and a slip of the built-in name",
        &[],
        &bench("use \"nowhere.keyon\"\nuse \"trad\""),
    );
    say(
        "parts through a library of libraries",
        &[("all", "use \"a\"\n"), ("a", good)],
        &bench("use \"all\"\ndevice one : valve2(5 ohm)"),
    );
    said!(out);
}
