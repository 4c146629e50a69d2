//! Small circuits and the model that comes of them.

#![allow(clippy::unwrap_used)]

mod common;

use common::{alone, bench, both, with};

macro_rules! said {
    ($text:expr) => {
        insta::with_settings!({omit_expression => true}, { insta::assert_snapshot!($text) })
    };
}

#[test]
fn top_level_elements() {
    said!(both(&alone(&bench(
        "lamp L1 \"Pump beacon\" battery -> S1 21 W 12 V cold 0.7 ohm\nlamp L2 21 W 12 V S1 -> G1\nheater H1 180 W 12 V +- 10 %\n\
         resistor R1 470 ohm +- 5 %\ncoil K1 85 ohm pulls_in 0.1 A drops_out 0.04 A rated 12 V\nmotor M1 6 ohm turns_at 0.4 A runs 0.8 A\n\
         winding W1 6 ohm rated 0.5 A\nthermistor T1 2.5 kohm at 77 degF beta 3500 K\n\
         thermistor T2 10 kohm at 25 degC steinhart 1.129241e-3 2.341077e-4 8.775468e-8\n\
         thermistor T3 table { 60 degC 700 ohm, 0 degC 8 kohm\n 25 degC 2.5 kohm } span 0 .. 50 degC nominal 20 degC\n\
         variable V1 0 .. 10 kohm\ndiode D1 drop 0.7 V\nswitch sw battery -> S1\nswitch three positions low, mid, high closed in mid, high\n\
         switch half S1 -> G1 positions shut, raised closed in shut\nsplice S1\nunused R1.2\n\
         unused R1.1, H1.1, H1.2"
    ))));
}

#[test]
fn wires() {
    said!(both(&alone(&bench(
        "splice A\nsplice B\nsplice C\nconnector C201 \"4-way\" { 1 .. 3, 4 }\n\
         wire 431 A -> C201.1 -> B 0.75 mm2 OG/BK 2.4 m\n\
         wire 432 A -> C201.2 1 mm2 2 m -> B 1.5 mm2 1 m +- 10 % -> C BK\n\
         wire A -> B AWG 18 10 ft\nwire A -> B AWG 2/0 1 m\nwire A -> C201.3 -> B RD\n\
         wire 433 A -> B 0.75 mm2 2 m at 60 degC\nwire 434 A -> B 2 mm2\nwire 434 A -> B 2 m\n\
         wire 435 C201.4.b -> A\nwire 436 C201.4 -> B\nwire 437 \"spare\" A -> battery 0.75 mm2 0 m\n\
         fuse F1 battery -> A 10 A\nbreaker F2 20 A A -> B\nlink F3 B -> C 60 A\nelsewhere \"cab fan\" 3 A A\nelsewhere \"radio\" B\nelsewhere 1 A A"
    ))));
}

#[test]
fn supplies() {
    said!(both(&alone(
        "circuit supplies \"Two batteries and an alternator\"\nsupply low 12 V inner 8 mohm range 10.5 .. 14.4 V\n\
         supply high 12 V negative low limit 60 A\ncontrol engine \"Engine\" positions stopped, running\n\
         supply alt 14.2 V +- 0.2 V live in engine running\nground G1 \"stud\" 2 mohm where \"frame\" access cover\nground G2\n\
         about {\n  author \"me\"\n  level 2\n}\nscenario s { engine running, low 11 V }\nview s"
    )));
}

#[test]
fn devices() {
    said!(both(&alone(&bench(
        "device K4 \"Pump relay\" {\n  pins 30, 85, 86, 87, 87a unused\n  coil K 85 -> 86 90 ohm pulls_in 0.09 A drops_out 0.03 A\n  changeover 30 -> (rest 87a, active 87) 5 mohm rated 30 A when K energised\n  diode 86 -> 85 drop 0.7 V\n  where \"fuse box\"\n  sealed\n}\n\
         device K5 {\n  pins 1, 2, 3, 4\n  contact 1 -> 2 closed when K4.K energised\n  contact 2 -> 3 open when K4.K energised\n  changeover lock 1 -> (active 3, rest 4) when K4 energised\n}\n\
         device key {\n  pins B, R, S, A\n  positions off, run, start\n  contact main B -> R 10 mohm closed in run, start\n  contact B -> S closed in start\n  contact B -> A open in off, start\n  changeover B -> (rest R, active S) in start\n}\n\
         device burner {\n  pins F, 1, 2, 3\n  coil A F -> 1 48 ohm\n  coil B F -> 2 24 ohm\n  coil F -> 3 12 ohm\n  coil 1 -> 2 12 ohm\n  grade trickle { A }\n  grade both { A, B }\n}\n\
         device level {\n  pins 1, 2, 3\n  track wiper 2 5 kohm travel 5 .. 95 %\n}\n\
         device press {\n  pins 1, 2, 3\n  transducer 1 -> 3 out 2 0.5 .. 4.5 V over 0 .. 10 bar ratio\n}\n\
         device temp2 {\n  pins 1, 2, 3\n  transducer out 3 4.5 .. 0.5 V over -40 .. 120 degC nominal 20 degC\n  thermistor 1 -> 2 2 kohm at 25 degC beta 3500 K\n}\n\
         unused K5.1, K5.2"
    ))));
}

const UNIT: &str = "part unit(stage: resistance = 120 mohm, ref: voltage = 5 V) \"Control unit\" {\n\
  sealed\n  connector A \"12-way\" face 2 x 6 {\n    1 bplus feed draws 0.2 A\n    2 gnd ground\n    3 tap feed\n    4 one drives low on stage limit 2 A clamp\n    5 two drives high from tap on stage pwm 100 Hz\n    6 unused\n    7 a switches { bplus, gnd }\n    8 b switches { gnd, bplus }\n  }\n\
  connector B {\n    1 vref reference ref inner 5 ohm limit 50 mA\n    2 back return switched on 1 ohm\n    3 in1 senses pull_up 2.2 kohm to vref\n    4 in2 senses digital pull_up 1 kohm to bplus\n    5 in3 senses digital threshold 2 V pull_down 10 kohm\n    6 bus_h bus can 2.5 V\n    7 c drives half on 50 mohm\n    8 d drives half\n  }\n\
  gang g \"Both\" pwm 150 Hz {\n    stop a gnd b gnd\n    go a bplus b gnd\n    back b bplus\n  }\n  gang h {\n    x c low d open\n    y c high d gnd\n  }\n}\n";

#[test]
fn module_of_a_part() {
    let text = bench(
        "use \"unit\"\nlamp L 5 W 12 V\nmodule M \"Mine\" : unit(stage = 50 mohm) uses A.4, in1, B.6, a\nwire 1 battery -> M.A.1\nwire 2 M.A.2 -> G1\nwire 3 M.one -> L.1\nwire 4 battery -> L.2\nwire 5 M.A.5 -> G1",
    );
    said!(both(&with(&[("unit", UNIT)], &text)));
}

#[test]
fn module_of_a_part_by_reach() {
    let text = bench(
        "use \"unit\" as u\nlamp L 5 W 12 V\nmodule M : u.unit\nfuse F battery -> M.bplus 5 A\nwire 2 M.A.2 -> G1\nwire 3 M.B.4 -> L.1\nwire 4 battery -> L.2\nwire 5 c -> G1\nunused M.B.1\nscenario s { c on, h x, g go 30 % }\nview s",
    );
    said!(both(&with(&[("unit", UNIT)], &text)));
}

#[test]
fn whole_module() {
    let text = format!(
        "{}scenario s {{ g go 30 %, h y, one on, two on 40 %, back on }}\nview s",
        bench(
            &UNIT
                .replacen("part unit(stage: resistance = 120 mohm, ref: voltage = 5 V)", "module M", 1)
                .replace(" on stage", " on 120 mohm")
                .replace("reference ref", "reference 5 V")
        )
    );
    said!(both(&alone(&text)));
}

#[test]
fn modules_that_describe_little() {
    said!(both(&alone(&bench(
        "module M {\n  connector A {\n    1 out drives high\n    2 other drives half\n    3 in senses pull_up 2 kohm to 5 V\n    4 ref reference 5 V\n  }\n}\n\
         module N {\n  connector A {\n    1 gnd ground\n    2 out drives high\n    3 cmd drives low to gnd\n  }\n}\n\
         module O {\n  connector A {\n    1 out drives low\n    2 cmd drives low\n  }\n}"
    ))));
}

#[test]
fn shared_returns() {
    said!(both(&alone(&bench(
        "splice S20 shared by level, temp.1, M\nthermistor temp 2 kohm at 25 degC beta 3500 K\nvariable level 0 .. 5 kohm\n\
         module M {\n  connector A {\n    1 r return shared by temp, level\n  }\n}\nwire 1 S20 -> M.A.1\nwire 2 level.1 -> S20\nwire 3 temp.1 -> S20"
    ))));
}

#[test]
fn states_and_faults() {
    let body = "use \"trade\"\ndevice K4 : relay5\ndevice valve : valve\ndevice level : sweep_sensor\ndevice temp : ntc_sensor\ndevice key : key_switch\nsplice S12\nsplice S20\nconnector C1 { 1 }\nfuse F7 battery -> S12 10 A\n\
      wire 431 S12 -> C1.1 -> valve.1 0.75 mm2 2.4 m\nwire 441 valve.2 -> M.A.1\nwire S12 -> K4.86\nwire S12 -> K4.86\nwire 500 K4.85 -> S20\nwire 501 S20 -> level.1\n\
      module M {\n  connector A {\n    1 cmd drives low\n    2 a switches { feed, gnd }\n    3 feed feed\n    4 gnd ground\n    5 h drives half\n    6 g2 drives half\n    7 in senses\n  }\n  gang g {\n    stop g2 open\n    up g2 high\n  }\n}\n\
      scenario s \"State\" {\n  key run, cmd on 40 %\n  temp 60 degC, level 20 %\n  battery 11 V\n  unplug valve, unplug M.A, unplug C1\n  pull F7\n  pull K4\n  jumper S12 to ground\n  load S12 to G1 21 W 12 V\n  load S12 to S20 4 ohm\n  do \"hold it\"\n}\n\
      view s\n\
      expect in s {\n  unplug valve\n  valve rests\n  valve 0.5 A\n  valve 12 V\n  valve.1 fed\n  valve.1 0.5 A\n  M.A.1 0.5 A\n  in 2 V\n  M.in below 2 V\n  M.A.7 2 V\n  F7 blown\n  F7 0.5 A\n  431 0.5 A\n  431.2 0.5 A\n  431 12 V\n  S12 between\n  G1 1 A\n  battery 1 A\n  K4.K operates\n  level.track 1 A\n  valve.1 to valve.2 12 V\n  S12 about 3 V +- 5 %  with temp 20 degC, unplug valve\n}\n\
      exercise e \"Broken\" in s {\n  fault open 431\n  fault open 431.2\n  fault open S12 -> K4.86\n  fault open K4.86 -> S12 @ 2\n  fault open valve\n  fault open valve.1\n  fault open M.A.1\n  fault open cmd\n  fault open S12\n  fault open S12.2\n  fault open F7\n  fault fuse F7 open\n  fault open G1\n  fault open C1.1\n  fault short S12 to ground\n  fault short S12 to battery\n  fault short 441 to 500\n  fault short valve\n  fault short key\n  fault stuck cmd on\n  fault stuck cmd off\n  fault stuck a feed\n  fault stuck h low\n  fault stuck g2 high\n  fault stuck g up\n  fault stuck key run\n  fault stuck K4.30 87\n  fault stuck K4.30 open\n  fault stuck K4.30_87 closed\n  fault stuck K4 rest\n  fault resistance 10 ohm in 431\n  fault resistance 10 ohm in 441\n  fault resistance 1 ohm in F7\n  fault resistance 1 ohm in G1\n  fault resistance 1 ohm in battery\n  fault resistance 1 ohm in valve\n  fault resistance 1 ohm in valve.coil\n  fault resistance 1 ohm in S12.1\n  fault drift temp +10 %\n  fault drift level -20 %\n  symptom valve rests\n  probes M.A, valve, S12\n  ask volts valve.1, valve.2\n  ask \"why?\"\n}\n\
      readings r \"Card\" in s accuracy 1 %, 20 mV {\n  ohms valve.1 to valve.2 24 ohm\n  clamp 431 0.5 A\n  clamp F7 0.5 A\n  lamp S12 bright\n  lamp S12 to battery dark\n}";
    said!(both(&alone(&bench(body))));
}
