//! A module's own view, a probe that loads, the moment of starting, a low supply.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;
use keyon_circuit::{ids::*, model::*};
use keyon_solve::{
    ModuleView, Never, module_view,
    probe::{Bench, Glow, Instrument, Shown, glow},
    starting,
    view::{Beyond, InputView, Seen, Signal},
};
use support::*;

const CONTROL: &str = r#"circuit control
supply battery 12 V range 8 .. 14.4 V
ground G1
fuse F1 battery -> ECU.A.1 5 A
fuse F2 battery -> S1 5 A
splice S1
wire 1 ECU.A.2 -> G1 1.5 mm2 1 m
wire 2 ECU.A.3 -> level.1 0.5 mm2 2 m
wire 3 ECU.A.4 -> S2 0.5 mm2 2 m
splice S2
wire 4 S2 -> level.3 0.5 mm2 1 m
wire 5 S2 -> temp.2 0.5 mm2 1 m
wire 6 ECU.A.5 -> level.2 0.5 mm2 2 m
wire 7 ECU.A.6 -> temp.1 0.5 mm2 2 m
wire 8 ECU.A.3 -> press.1 0.5 mm2 2 m
wire 9 S2 -> press.2 0.5 mm2 1 m
wire 10 press.3 -> ECU.A.7 0.5 mm2 2 m
wire 11 S1 -> valve.1 0.75 mm2 2 m
wire 12 valve.2 -> ECU.A.8 0.75 mm2 2 m
wire 13 ECU.A.9 -> lamp.1 0.75 mm2 2 m
wire 14 lamp.2 -> G1 0.75 mm2 1 m
switch door ECU.A.10 -> G1
device level { pins 1, 2, 3
  track 1 -> 3 wiper 2 5 kohm travel 5 .. 95 % }
thermistor temp 2.5 kohm at 25 degC beta 3500 K
device press { pins 1, 2, 3
  transducer 1 -> 2 out 3 0.5 .. 4.5 V over 0 .. 1000 kPa ratio }
coil valve 24 ohm
lamp lamp 10 W 12 V cold 1.2 ohm
module ECU {
  connector A {
    1 ub feed
    2 gnd ground
    3 vref reference 5 V inner 5 ohm limit 50 mA
    4 lo return
    5 level_in senses pull_down 220 kohm
    6 temp_in senses pull_up 2.2 kohm to 5 V
    7 press_in senses pull_down 100 kohm range 0.3 .. 4.7 V
    8 valve_cmd drives low on 120 mohm limit 2 A
    9 lamp_cmd drives high on 90 mohm limit 5 A
    10 door_in senses digital threshold 2.5 V pull_up 4.7 kohm to 5 V
  }
}
"#;

struct Looked {
    solved: Solved,
    view: ModuleView,
}

#[track_caller]
fn look(settings: &[&str], faults: &[&str], adjust: impl FnOnce(&mut keyon_solve::State)) -> Looked {
    look_at(CONTROL, settings, faults, adjust)
}

#[track_caller]
fn look_at(
    text: &str,
    settings: &[&str],
    faults: &[&str],
    adjust: impl FnOnce(&mut keyon_solve::State),
) -> Looked {
    let elaboration = circuit(text);
    let changes: Vec<Change> =
        faults.iter().flat_map(|fault| elaboration.parse_fault(fault).unwrap()).collect();
    let solved = solved_with(text, settings, |_, state| {
        state.changes.extend(changes);
        adjust(state);
    });
    let view = module_view(solved.circuit(), &solved.solution, ModuleId(0), &Never).unwrap();
    Looked { solved, view }
}

impl Looked {
    fn pin(&self, name: &str) -> (usize, usize) {
        let cavities = &self.solved.circuit().modules[0].connectors[0].cavities;
        (0, cavities.iter().position(|c| c.name == name).unwrap_or_else(|| panic!("no {name}")))
    }
    #[track_caller]
    fn input(&self, name: &str) -> &InputView {
        let at = self.pin(name);
        self.view.inputs.iter().find(|i| i.at == at).unwrap()
    }
    #[track_caller]
    fn taken(&self, name: &str) -> (f64, Option<Beyond>) {
        let taken = self.input(name).taken_for.as_ref().unwrap();
        assert_eq!(taken.values.len(), 1, "{taken:?}");
        (taken.values[0], taken.beyond)
    }
    #[track_caller]
    fn seen(&self, name: &str) -> Seen {
        let at = self.pin(name);
        self.view.outputs.iter().find(|o| o.at == at).unwrap().seen
    }
}

/// Without a fault a module takes each signal for what is sensed; what is left is what wiring adds.
#[test]
fn a_sound_sensor_is_taken_for_what_it_senses() {
    for (temp, level, press) in [(-40.0, 0.0, 0.0), (-5.0, 0.3, 2e5), (25.0, 0.5, 5e5), (90.0, 1.0, 1e6)] {
        let settings = [
            format!("temp={temp} degC"),
            format!("level={} %", level * 100.0),
            format!("press={} kPa", press / 1e3),
        ];
        let looked = look(&settings.iter().map(String::as_str).collect::<Vec<_>>(), &[], |_| ());
        for (name, expected, within) in
            [("temp_in", temp, 0.05), ("level_in", level, 2e-3), ("press_in", press, 500.0)]
        {
            let (value, beyond) = looked.taken(name);
            assert!((value - expected).abs() <= within, "{name}: {value} instead of {expected}");
            // At the very end of a span what wiring adds may lie beyond it.
            assert!(beyond.is_none() || (value - expected).abs() < 1e-9, "{name} {beyond:?}");
            assert_eq!(looked.input(name).signal, Signal::Plausible, "{name} at {expected}");
        }
    }
}

/// On wires without resistance there is nothing left: the inverse is the curve's own.
#[test]
fn on_ideal_wires_the_inverse_is_exact() {
    let ideal: String =
        CONTROL.lines().map(|l| l.split(" 0.5 mm2").next().unwrap().to_owned() + "\n").collect();
    let ideal = ideal.replace(" 1.5 mm2 1 m", "");
    for temp in [-40.0, -11.5, 3.25, 25.0, 77.7, 120.0] {
        let looked =
            look_at(&ideal, &[&format!("temp={temp} degC"), "level=37 %", "press=123 kPa"], &[], |_| ());
        for (name, expected) in [("temp_in", temp), ("level_in", 0.37), ("press_in", 123e3)] {
            let (value, beyond) = looked.taken(name);
            assert!((value - expected).abs() <= 1e-7 * expected.abs().max(1.0), "{name}: {value} {expected}");
            assert_eq!(beyond, None);
        }
    }
}

#[test]
fn a_faulty_sensor_is_taken_for_something_else() {
    // A kilohm in the signal wire makes it colder: R(T) = 2500 + 1000 ohm.
    let looked = look(&["temp=25 degC"], &["resistance 1 kohm in 7"], |_| ());
    let kelvin = 1.0 / (1.0 / 298.15 + (3500.0f64 / 2500.0).ln() / 3500.0);
    let (value, beyond) = looked.taken("temp_in");
    assert!((value - (kelvin - 273.15)).abs() < 0.02, "{value}");
    assert_eq!((beyond, looked.input("temp_in").signal), (None, Signal::Plausible));
    // Open: at the rail, colder than the coldest.
    let looked = look(&[], &["open 7"], |_| ());
    assert_eq!(looked.taken("temp_in"), (-40.0, Some(Beyond::Lowest)));
    assert_eq!(looked.input("temp_in").signal, Signal::High);
    // Bridged: at ground, hotter than the hottest.
    let looked = look(&[], &["short temp"], |_| ());
    assert_eq!(looked.taken("temp_in"), (120.0, Some(Beyond::Highest)));
    assert_eq!(looked.input("temp_in").signal, Signal::Low);
    // The wiper's wire open: the pull-down takes it to ground.
    let looked = look(&[], &["open 6"], |_| ());
    assert_eq!(looked.taken("level_in"), (0.0, Some(Beyond::Lowest)));
    assert_eq!(looked.input("level_in").signal, Signal::Low);
    // Outside of a stated range.
    let looked = look(&[], &["open 8"], |_| ());
    assert_eq!(looked.input("press_in").signal, Signal::Low);
}

#[test]
fn switches_read_high_and_low() {
    let looked = look(&[], &[], |_| ());
    assert_eq!((looked.input("door_in").high, looked.input("door_in").taken_for.clone()), (Some(true), None));
    assert_eq!(look(&["door=on"], &[], |_| ()).input("door_in").high, Some(false));
}

/// Two thermistors in parallel with a gap between them cannot be told apart by one voltage; a curve that bends gives
/// every value that fits.
#[test]
fn a_curve_that_bends_gives_all_values() {
    let text = CONTROL
        .replace("wire 6 ECU.A.5 -> level.2 0.5 mm2 2 m", "wire 6 ECU.A.5 -> level.3")
        .replace("wire 4 S2 -> level.3 0.5 mm2 1 m", "wire 4 S2 -> level.2")
        // Both ends of the track on one pull: in the middle of the travel the resistance to the wiper is highest.
        .replace("wire 2 ECU.A.3 -> level.1 0.5 mm2 2 m", "wire 2 level.3 -> level.1")
        .replace("5 level_in senses pull_down 220 kohm", "5 level_in senses pull_up 1 kohm to 5 V");
    let looked = look_at(&text, &["level=30 %"], &[], |_| ());
    let taken = looked.input("level_in").taken_for.clone().unwrap();
    assert_eq!(taken.values.len(), 2, "{taken:?}");
    assert!((taken.values[0] - 0.3).abs() < 1e-3 && (taken.values[1] - 0.7).abs() < 1e-3, "{taken:?}");
}

#[test]
fn outputs_tell_open_loads_and_shorts() {
    let sound = look(&[], &[], |_| ());
    assert_eq!((sound.seen("valve_cmd"), sound.seen("lamp_cmd")), (Seen::Normal, Seen::Normal));
    assert_eq!(sound.seen("vref"), Seen::Normal);
    let on = look(&["valve_cmd=on", "lamp_cmd=on"], &[], |_| ());
    assert_eq!((on.seen("valve_cmd"), on.seen("lamp_cmd")), (Seen::Normal, Seen::Normal));
    // Off without a pull through the load; on without current.
    for settings in [&[][..], &["valve_cmd=on", "lamp_cmd=on"]] {
        let open = look(settings, &["open 12", "open 13"], |_| ());
        assert_eq!((open.seen("valve_cmd"), open.seen("lamp_cmd")), (Seen::OpenLoad, Seen::OpenLoad));
    }
    // The fuse of the valve gone: nothing pulls its pin up.
    assert_eq!(look(&[], &["open F2"], |_| ()).seen("valve_cmd"), Seen::OpenLoad);
    // On with the pin at the supply, fuses whole: the moment in which the module sees it.
    let short = look(&["valve_cmd=on"], &["short valve"], |s| s.options.keep_fuses = true);
    assert_eq!(short.seen("valve_cmd"), Seen::ShortToSupply);
    let short = look(&["lamp_cmd=on"], &["short lamp"], |s| s.options.keep_fuses = true);
    assert_eq!(short.seen("lamp_cmd"), Seen::ShortToGround);
    // Off and held without a load.
    assert_eq!(look(&[], &["short 12 to ground"], |_| ()).seen("valve_cmd"), Seen::ShortToGround);
    assert_eq!(look(&[], &["short 13 to battery"], |_| ()).seen("lamp_cmd"), Seen::ShortToSupply);
    // More than its limit, and no short.
    let text = CONTROL.replace("limit 2 A", "limit 0.4 A");
    assert_eq!(look_at(&text, &["valve_cmd=on"], &[], |_| ()).seen("valve_cmd"), Seen::Overload);
    assert_eq!(look_at(&text, &[], &[], |_| ()).seen("valve_cmd"), Seen::Normal);
}

#[test]
fn references_tell_shorts() {
    assert_eq!(look(&[], &["short 2 to ground"], |_| ()).seen("vref"), Seen::ShortToGround);
    let up = look(&[], &["short 2 to battery"], |s| s.options.keep_fuses = true);
    assert_eq!(up.seen("vref"), Seen::ShortToSupply);
    let text = CONTROL.replace("limit 50 mA", "limit 3 mA") + "resistor R9 level.1 -> G1 2 kohm\n";
    assert_eq!(look_at(&text, &[], &[], |_| ()).seen("vref"), Seen::Overload);
}

#[test]
fn a_dead_module_sees_nothing() {
    let dead = look(&[], &["open F1"], |_| ());
    assert!(!dead.view.alive && dead.view.inputs.is_empty() && dead.view.outputs.is_empty());
}

/// A switched return that is off: the module keeps the curve that it has when it is on.
#[test]
fn the_curve_is_that_of_a_return_that_is_on() {
    let text = CONTROL.replace("4 lo return", "4 lo return switched");
    let off = look_at(&text, &["temp=25 degC"], &[], |_| ());
    assert_eq!(off.taken("temp_in"), (-40.0, Some(Beyond::Lowest)));
    let (value, beyond) = look_at(&text, &["temp=25 degC", "lo=on"], &[], |_| ()).taken("temp_in");
    assert!((value - 25.0).abs() < 0.02 && beyond.is_none(), "{value}");
}

#[test]
fn a_test_lamp_tells_a_strong_feed_from_a_weak_one() {
    let text = CONTROL.to_owned() + "splice S3\nresistor leak battery -> S3 500 ohm\n";
    let s = solved(&text, &[]);
    let c = s.circuit();
    let at = |name: &str| PointId::from(s.point(name));
    let mut lamp = Bench::new(c, &s.solution, Instrument::Lamp(40.0), COMMON);
    let mut meter = Bench::new(c, &s.solution, Instrument::Meter(10e6), COMMON);
    let volts = |shown: Shown| match shown {
        Shown::Volts(volts) => volts,
        other => panic!("{other:?}"),
    };
    // Both read the supply's volts on the meter; the lamp draws a third of an ampere.
    assert!(volts(meter.at(at("S1"))) > 11.99 && volts(meter.at(at("S3"))) > 11.99);
    assert!((volts(lamp.at(at("S1"))) - 12.0).abs() < 1e-9);
    assert!((volts(lamp.at(at("S3"))) - 12.0 * 40.0 / 540.0).abs() < 1e-9);
    assert_eq!(glow(c, volts(lamp.at(at("S1")))), Glow::Bright);
    assert_eq!(glow(c, volts(lamp.at(at("S3")))), Glow::Dark);
    // Through the valve's coil: dim.
    assert_eq!(glow(c, volts(lamp.at(at("valve.2")))), Glow::Dim);
    // The clip on the supply looks for grounds.
    let mut clip = Bench::new(c, &s.solution, Instrument::Lamp(40.0), at("battery"));
    assert_eq!(glow(c, volts(clip.at(at("G1")))), Glow::Bright);
    assert_eq!(clip.at(at("battery")), Shown::Volts(0.0));
    assert_eq!(lamp.at(at("door.2")), Shown::Volts(0.0));
}

/// What a lamp draws may itself change the circuit: here it closes a relay's coil circuit.
#[test]
fn a_lamp_may_pull_a_relay_in() {
    let text = r#"circuit pull
supply battery 12 V
ground G1
device K1 { pins 30, 85, 86, 87
  coil K 86 -> 85 90 ohm pulls_in 0.08 A drops_out 0.03 A
  contact 30 -> 87 closed when K energised }
wire 1 battery -> K1.86
wire 2 battery -> K1.30
lamp L1 K1.87 -> G1 12 W 12 V
"#;
    let s = solved(text, &[]);
    assert_eq!(s.does("L1"), "rests");
    let mut lamp = Bench::new(s.circuit(), &s.solution, Instrument::Lamp(40.0), COMMON);
    let Shown::Volts(volts) = lamp.at(PointId::from(s.point("K1.85"))) else { panic!() };
    assert!((volts - 12.0 * 40.0 / 130.0).abs() < 1e-9, "{volts}");
    let probed = solved_with(text, &[], |c, state| {
        let at = c.points.iter().position(|p| p.name == "K1.85").unwrap();
        let law = Law::Resistance(keyon_circuit::value::Num::exact(40.0));
        state.changes.push(Change::Add { from: at.into(), to: COMMON, law });
    });
    assert_eq!(probed.does("L1"), "operates");
}

#[test]
fn what_starts_takes_more() {
    let text = r#"circuit start
supply battery 12 V inner 100 mohm
ground G1
switch sw battery -> S1
splice S1
lamp L1 S1 -> G1 12 W 12 V cold 1 ohm
lamp L2 S1 -> G1 12 W 12 V
motor fan S1 -> G1 2 ohm rated 12 V runs 1 A
"#;
    let off = solved(text, &[]);
    assert!(starting(off.circuit(), &off.solution).is_empty());
    let s = solved(text, &["sw=on"]);
    let c = s.circuit();
    let found = starting(c, &s.solution);
    let named = |device: DeviceId| c.devices[device.index()].name.as_str();
    assert_eq!(found.iter().map(|f| named(f.device)).collect::<Vec<_>>(), ["L1", "fan"]);
    let amps = |at: usize| found[at].elements[0].1.known().unwrap();
    // One starts while the others run: 12 V behind 0.1 ohm, the rest in parallel.
    let alone = |ohms: f64, others: &[f64]| {
        let all = 1.0 / ohms + others.iter().map(|o| 1.0 / o).sum::<f64>();
        12.0 / (0.1 + 1.0 / all) / all / ohms
    };
    assert!((amps(0) - alone(1.0, &[12.0, 12.0])).abs() < 1e-9, "{}", amps(0));
    assert!((amps(1) - alone(2.0, &[12.0, 12.0])).abs() < 1e-9, "{}", amps(1));
    assert!((s.amps("fan") - alone(12.0, &[12.0, 12.0])).abs() < 1e-9, "turning it draws 1 A at 12 V");
}

/// Relays let go while the starter turns: below what they hold at for good, between the two only if they were at rest.
#[test]
fn relays_drop_out_at_a_low_supply() {
    let text = r#"circuit crank
supply battery 12 V range LOW .. 14.4 V
ground G1
device K1 { pins 30, 85, 86, 87
  coil K 86 -> 85 90 ohm pulls_in 0.09 A drops_out 0.05 A
  contact 30 -> 87 closed when K energised }
wire 1 battery -> K1.86
wire 2 battery -> K1.30
switch sw K1.85 -> G1
lamp L1 K1.87 -> G1 12 W 12 V
"#;
    let at = |low: &str, words: &str| solved(&text.replace("LOW", low), &["sw=on", words]);
    for (low, words, does, holds) in [
        ("6 V", "battery=resting", "operates", false),
        ("6 V", "battery=running", "operates", false),
        // 67 mA: too little to pull in, enough to hold.
        ("6 V", "battery=cranking", "weak", true),
        // 44 mA: too little to hold.
        ("4 V", "battery=cranking", "weak", false),
    ] {
        let s = at(low, words);
        assert_eq!(s.does("K1"), does, "{low} {words}");
        assert_eq!(s.device("K1").holds, holds, "{low} {words}");
        assert_eq!(s.does("L1") == "operates", does == "operates", "{low} {words}");
    }
}
