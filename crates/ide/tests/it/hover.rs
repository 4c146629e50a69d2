//! What is shown under the cursor.

use crate::fixture::{Fixture, pump_at, pump_with};
use keyon_ide::{hover, truth_table};

fn shown(fixture: &Fixture) -> String {
    match fixture.view(|view| hover(view, fixture.offset)).unwrap() {
        Some(hover) => format!("at {}\n\n{}", fixture.place(hover.span), hover.markdown),
        None => "nothing".into(),
    }
}

macro_rules! snapshots {
    ($($name:ident: $fixture:expr;)*) => {$(
        #[test]
        fn $name() {
            insta::assert_snapshot!(shown(&$fixture));
        }
    )*};
}

snapshots! {
    return_side_of_a_driven_coil: Fixture::corpus("circuits/orchard_sprayer.keyon", "left_valve.2");
    supply_side: Fixture::corpus("circuits/orchard_sprayer.keyon", "-> left_valve.1");
    device: pump_at("device pump");
    device_that_is_a_control: pump_at("switch float");
    module: pump_at("module ECU");
    driver: pump_at("3 pump_cmd");
    input: pump_at("4 temp_in");
    connector: pump_at("connector A");
    wire: pump_at("wire 1");
    fuse: pump_at("fuse F1");
    splice: pump_at("splice S1");
    supply: pump_at("supply battery");
    ground: pump_at("ground G1");
    part: pump_at(": valve");
    parameter: pump_at("(ohms");
    position: pump_at("{ float high");
    scenario: pump_at("scenario filling");
    quantity: pump_at("inner 20 mohm");
    keyword: pump_at("pull_up");
    rule: pump_with("allow no-feed|-path \"a spare\"\nlamp L9 5 W 12 V\n");
    gang: Fixture::corpus("circuits/orchard_sprayer.keyon", "gang flap_drive");
    sensor_of_two_wires: pump_at("device level");
    main_fuse: Fixture::corpus("circuits/orchard_sprayer.keyon", "fuse F1");
    sensor: Fixture::corpus("circuits/orchard_sprayer.keyon", "device temp");
}

#[test]
fn nothing_where_nothing_stands() {
    for text in ["|", "\n|\n", "# a remark| on pump\n", "circuit a \"some| title\"\n"] {
        assert_eq!(shown(&Fixture::new(text)), "nothing", "{text:?}");
    }
}

#[test]
fn tables_by_name() {
    let fixture = pump_with("|");
    let of = |name: Option<&str>| fixture.view(|view| truth_table(view, name)).unwrap();
    insta::assert_snapshot!(of(Some("pump")).unwrap());
    assert_eq!(of(Some("ECU")), of(Some("pump_cmd")));
    assert!(of(None).unwrap().contains("pump"));
    assert!(of(Some("pump.2")).unwrap().contains("pump.2"));
    assert_eq!(of(Some("nobody")), None);
}
