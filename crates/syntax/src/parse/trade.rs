//! Words of the trade that begin no item, and how the language says what is meant by them.

/// How what a person means by `word` is written.
pub(super) fn said(word: &str) -> Option<&'static str> {
    let known = SAID.iter().find(|(words, _)| words.iter().any(|w| w.eq_ignore_ascii_case(word)));
    known.map(|(_, help)| *help)
}

const SAID: &[(&[&str], &str)] = &[
    (
        &["relay"],
        "a relay is a `device` whose body has a `coil` and a `contact … closed when COIL energised`: `keyon explain relay`",
    ),
    (
        &["sensor", "sender", "ntc", "ptc", "pot", "potentiometer", "probe"],
        "a sensor is a `thermistor`, a `variable`, or a `device` with a `track` or a `transducer` in its body: `keyon explain sensor`",
    ),
    (
        &["horn", "buzzer", "valve", "solenoid", "injector", "magnet", "load", "consumer"],
        "write what it is to the circuit: `coil NAME 12 ohm rated 12 V`, `lamp`, `heater`, `motor` or `resistor`",
    ),
    (&["bulb", "light", "led"], "write `lamp NAME 21 W 12 V`"),
    (
        &["fan", "pump", "blower"],
        "write `motor NAME 0.6 ohm turns_at 2 A`, or a `lamp` or `heater` of so many watts",
    ),
    (
        &["button", "key", "push", "pushbutton", "toggle", "contactor"],
        "write `switch NAME`; several contacts that move together are a `device` with `positions`: `keyon explain switch`",
    ),
    (
        &["gang", "ganged"],
        "contacts that move together are a `device` with `positions` and several `contact` or `changeover` lines: `keyon explain \
         switch`; `gang` stands in the body of a module, for its stages",
    ),
    (&["battery", "source", "alternator", "psu"], "write `supply NAME 12.6 V inner 15 mohm`"),
    (&["earth", "gnd", "chassis", "mass", "frame"], "write `ground NAME \"where it is\"`"),
    (
        &["ecu", "controller", "unit", "box"],
        "write `module NAME { connector A { 1 bplus feed … } }`: `keyon explain module`",
    ),
    (&["joint", "node", "junction"], "write `splice NAME`"),
    (&["cable", "lead", "line"], "write `wire NUMBER A -> B 0.75 mm2 RD 1.2 m`"),
    (&["plug", "socket", "inline", "coupling", "coupler"], "write `connector NAME { 1, 2 }`"),
];
