//! What is offered where.

use crate::fixture::{Fixture, pump_with};
use keyon_ide::complete;

/// The first labels that are offered, and what they replace.
fn offered(fixture: &Fixture) -> String {
    let items = fixture.view(|view| complete(view, fixture.offset));
    let replaced: Vec<_> = items.iter().map(|item| &fixture.text()[item.replace.range()]).collect();
    assert!(replaced.windows(2).all(|w| w[0] == w[1]), "all replace the same");
    let labels: Vec<_> = items.iter().take(14).map(|item| item.label.as_str()).collect();
    let more = items.len().saturating_sub(14);
    let more = if more > 0 { format!(" and {more} more") } else { String::new() };
    format!("{:?}: {}{more}", replaced.first().unwrap_or(&""), labels.join(", "))
}

#[test]
fn by_place() {
    let cases = [
        "|",
        "wi|",
        "wire |",
        "wire 8 |",
        "wire 8 S1 -> pu|",
        "wire 8 S1 -> pump.|",
        "wire 8 S1 -> ECU.|",
        "wire 8 S1 -> ECU.A.|",
        "wire 8 S1 -> pump.1 0.75|",
        "wire 8 S1 -> pump.1 0.75 |",
        "wire 8 S1 -> pump.1 0.75 mm2 |",
        "wire 8 S1 -> pump.1 0.75 mm2 R|",
        "fuse F2 S1 -> |",
        "fuse F2 S1 -> pump.1 10 |",
        "supply spare 12 |",
        "supply spare 12 V inner 20 |",
        "splice S2 shared by |",
        "lamp L1 21 |",
        "lamp L1 21 W |",
        "device d |",
        "device d : |",
        "device d : valve(|",
        "device d : valve(ohms = 3 |",
        "module M : |",
        "part p(x: |",
        "part p {\n  |",
        "part p {\n  pins 1, 2, 3\n  contact 1 -> |",
        "part p {\n  pins 1, 2\n  positions off, on\n  contact 1 -> 2 closed in |",
        "part p {\n  pins 1, 2\n  coil K 1 -> 2 80 ohm\n  contact 1 -> 2 closed when |",
        "part p {\n  pins 1, 2\n  coil K 1 -> 2 80 |",
        "part p {\n  pins 1, 2\n  coil K 1 -> 2 80 ohm |",
        "module M {\n  |",
        "module M {\n  connector A {\n    1 gnd |",
        "module M {\n  connector A {\n    1 gnd ground\n    2 cmd drives |",
        "module M {\n  connector A {\n    1 gnd ground\n    2 cmd drives low |",
        "module M {\n  connector A {\n    1 gnd ground\n    2 cmd drives low on 120 |",
        "module M {\n  connector A {\n    1 gnd ground\n    2 up feed\n    3 a switches { |",
        "module M {\n  connector A {\n    1 gnd ground\n    2 up feed\n    3 a switches { gnd, up }\n  }\n  gang g {\n    stop |",
        "module M {\n  connector A {\n    1 gnd ground\n    2 up feed\n    3 a switches { gnd, up }\n  }\n  gang g {\n    stop a |",
        "scenario s { |",
        "scenario s { float |",
        "scenario s {\n  float high\n  pump_cmd |",
        "scenario s { level 20 |",
        "scenario s { unplug |",
        "scenario s { pull |",
        "expect in |",
        "expect in filling {\n  |",
        "expect in filling {\n  pump |",
        "expect in filling {\n  pump.2 below 0.4 |",
        "expect in filling {\n  pump operates with |",
        "expect in filling {\n  pump operates with float |",
        "exercise e in filling {\n  fault |",
        "exercise e in filling {\n  fault open |",
        "view |",
        "allow |",
        "allow no-fe|",
        "use \"|",
        "# wire |",
        "supply |",
        "wire 8 S1 |",
        "wire 8 S1 -> pump.1 |",
        "wire 8 S1 -> pump.1 0.|",
        "fuse F2 S1 -> pump.1 |",
        "lamp L1 |",
        "switch s \"Switch\"|",
        "scenario s { float high }|",
        "expect in filling {|",
        "expect in filling {\n  pump operates |",
        "exercise |",
        "exercise e in filling {\n  ask |",
        "switch s positions off, |",
        "switch s positions off, on |",
        "use |",
        "about {\n  |",
        "wire 8 S1 -> pump.1 0.75 mm2 RD |",
        "diode D1 S1 |",
        "part p {\n  pins 1, 2\n  lamp 1 |",
        "part p {\n  pins 1, 2\n  lamp 1 -> 2 |",
        "wire 8 S1 -> pump.1 RD \"ti|",
    ];
    let shown: Vec<_> = cases
        .iter()
        .map(|case| format!("{}\n    {}", case.replace('\n', "\\n"), offered(&pump_with(case))))
        .collect();
    insta::assert_snapshot!(shown.join("\n"));
}

#[test]
fn points_that_nothing_reaches_come_first() {
    let fixture = pump_with("lamp L1 21 W 12 V\nwire 8 S1 -> |");
    let items = fixture.view(|view| complete(view, fixture.offset));
    assert_eq!(items[0].label, "L1.1");
    assert!(items[0].detail.as_ref().unwrap().contains("not wired yet"), "{:?}", items[0]);
}

#[test]
fn a_supply_is_resting_running_or_cranking() {
    let supply =
        "circuit c\nsupply battery 12.6 V range 9 .. 14.8 V\nsupply aux 5 V\nscenario s { WHICH | }\n";
    let offered = |which: &str| -> Vec<String> {
        let fixture = Fixture::new(&supply.replace("WHICH", which));
        let items = fixture.view(|view| complete(view, fixture.offset));
        items.into_iter().map(|i| format!("{} {}", i.label, i.detail.unwrap_or_default())).collect()
    };
    assert_eq!(offered("battery"), ["resting 12.60 V", "running 14.80 V", "cranking 9.00 V"]);
    assert_eq!(offered("aux"), ["resting 5.00 V"]);
}

#[test]
fn in_an_empty_file() {
    let fixture = Fixture::new("|");
    assert!(fixture.view(|view| complete(view, fixture.offset)).iter().any(|item| item.label == "circuit"));
}

#[test]
fn lines_of_a_body_have_templates_of_their_own() {
    let template = |text: &str, label: &str| {
        let fixture = pump_with(text);
        let items = fixture.view(|view| complete(view, fixture.offset));
        items
            .into_iter()
            .find(|item| item.label == label)
            .unwrap_or_else(|| panic!("{label} in {text}"))
            .template
    };
    assert!(template("|", "connector").unwrap().contains("{ ‹1, 2› }"), "an in-line connector");
    assert!(template("module M {\n  |", "connector").unwrap().contains("feed"), "a housing");
    assert!(template("part p {\n  pins 1, 2\n  |", "coil").unwrap().starts_with("coil ‹1› -> ‹2›"));
    assert_eq!(template("expect in filling {\n  |", "lamp"), None, "a test lamp is no item");
}

/// Labels for a circuit that is being written.
fn labels(marked: &str) -> Vec<String> {
    let fixture = Fixture::new(marked);
    fixture.view(|view| complete(view, fixture.offset)).into_iter().map(|item| item.label).collect()
}

#[test]
fn a_new_name_is_the_one_that_is_used_already_or_the_next() {
    let begun = "circuit c\nsupply battery 12 V\nground G1\nfuse F1 battery -> arm.1 5 A\n";
    assert_eq!(labels(&format!("{begun}switch |")), ["arm"]);
    assert_eq!(labels(&format!("{begun}fuse |")), ["arm", "F2"]);
    assert_eq!(labels(&format!("{begun}ground |")), ["arm"]);
    assert_eq!(labels(&format!("{begun}wire |")), ["1"]);
    assert_eq!(labels(&format!("{begun}expect in lit {{ }}\nscenario |")), ["lit"]);
    assert_eq!(labels("circuit |"), ["fixture"]);
    assert_eq!(labels("circuit c\nsupply |"), ["battery"]);
    assert!(labels(&format!("{begun}wire 1 |")).contains(&"arm".to_owned()));
}

#[test]
fn behind_a_clause_stands_its_value_and_behind_digits_a_unit() {
    assert_eq!(labels("circuit c\nsupply b 12 V inner |")[0], "15 mohm");
    assert_eq!(labels("circuit c\nsupply b 12 V inner 2|"), ["2 mohm", "2 ohm", "2 kohm"]);
    assert_eq!(labels("circuit c\nfuse F1 a -> b 5|"), ["5 A", "5 mA"]);
    assert!(!labels("circuit c\nsupply b 12 V inner 15 mohm |").contains(&"inner".to_owned()), "it is there");
    assert_eq!(labels("module M {\n  connector A {\n    1 a reference |")[0], "5 V");
    assert_eq!(labels("circuit c\nlamp l 5 W |")[0], "12 V");
}

#[test]
fn of_a_sensor_nobody_expects_that_it_operates_or_rests() {
    let fixture = pump_with("expect in filling {\n  level |\n}\n");
    let labels: Vec<_> =
        fixture.view(|view| complete(view, fixture.offset)).into_iter().map(|item| item.label).collect();
    assert_eq!(labels, ["below", "above", "about", "to", "with"]);
    let fixture = pump_with("expect in filling {\n  lamp S1 |\n}\n");
    let labels: Vec<_> =
        fixture.view(|view| complete(view, fixture.offset)).into_iter().map(|item| item.label).collect();
    assert_eq!(labels, ["bright", "dim", "dark", "to"]);
}

#[test]
fn points_that_lead_nowhere_sensible_are_left_out() {
    let begun = "circuit c\nsupply b 12 V\nground G1\nsplice S1\n";
    assert_eq!(labels(&format!("{begun}fuse F1 b -> |")), ["S1"], "neither back nor to ground");
    assert!(!labels(&format!("{begun}lamp l |")).iter().any(|label| label.starts_with("l.")), "its own pins");
}

#[test]
fn an_expectation_begins_with_what_is_so_now() {
    let circuit = "circuit c\nsupply b 12 V\nground G1\nlamp l 12 W 12 V b -> G1\nscenario s { b resting }\n";
    let row = |row: &str| labels(&format!("{circuit}expect in s {{\n  {row}|\n}}\n"));
    assert_eq!(row("l "), ["operates", "rests", "weak", "below", "above", "about", "to", "with"]);
    assert!(row("l.1 ").contains(&"about 12 V +- 10 mV".to_owned()), "{:?}", row("l.1 "));
    assert_eq!(row("l.1 about "), ["12 V +- 10 mV"]);
    assert_eq!(row("l.1 above "), ["11.4 V"]);
    assert_eq!(row("l.1 below "), ["12.7 V"]);
}
