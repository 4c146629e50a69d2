//! Texts of large circuits, for the tests of scale and for the benchmarks.

use std::fmt::Write as _;

/// `stages` pairs of switches side by side, the pairs in a row, and a lamp at the end: 2 × `stages` coupled controls.
pub fn ladder(stages: usize) -> String {
    let mut text = String::from("circuit ladder\nsupply battery 12 V inner 20 mohm\nground G1\n");
    for at in 0..=stages {
        let _ = writeln!(text, "splice S{at}");
    }
    text += "wire battery -> S0\n";
    for at in 1..=stages {
        let _ = writeln!(text, "switch a{at} S{} -> S{at}\nswitch b{at} S{} -> S{at}", at - 1, at - 1);
    }
    let _ = writeln!(text, "lamp L S{stages} -> G1 21 W 12 V");
    text
}

/// Two rails of switches with switches between them, a lamp at the end of each: exactly `switches` coupled controls.
pub fn bridge(switches: usize) -> String {
    let mut text = String::from("circuit bridge\nsupply battery 12 V inner 20 mohm\nground G1\n");
    let columns = switches / 3 + 2;
    for at in 0..=columns {
        let _ = writeln!(text, "splice A{at}\nsplice B{at}");
    }
    text += "wire battery -> A0\nwire battery -> B0\n";
    let (mut made, mut at) = (0, 1);
    while made < switches {
        for (name, from, to) in [
            (format!("a{at}"), format!("A{}", at - 1), format!("A{at}")),
            (format!("b{at}"), format!("B{}", at - 1), format!("B{at}")),
            (format!("x{at}"), format!("A{at}"), format!("B{at}")),
        ] {
            if made < switches {
                let _ = writeln!(text, "switch {name} {from} -> {to}");
                made += 1;
            }
        }
        at += 1;
    }
    let (a, b) = (at - 1, if switches % 3 == 1 { at - 2 } else { at - 1 });
    let _ = writeln!(text, "lamp LA A{a} -> G1 21 W 12 V\nlamp LB B{b} -> G1 10 W 12 V");
    text
}

/// Low-side drivers of one module, each with a coil; all coils hang on one feed splice behind `feed` ohms of wire.
pub fn drivers(count: usize, feed: f64) -> String {
    let mut text = String::from("circuit drivers\nsupply battery 12.6 V inner 15 mohm\nground G1\n");
    let _ = writeln!(text, "splice S1\nresistor feed battery -> S1 {feed} ohm\nwire battery -> M.A.bplus");
    text += "wire M.A.gnd -> G1\nmodule M {\n  connector A {\n    b bplus feed\n    g gnd ground\n";
    for at in 1..=count {
        let _ = writeln!(text, "    {at} d{at} drives low on 120 mohm");
    }
    text += "  }\n}\n";
    for at in 1..=count {
        let _ = writeln!(text, "coil c{at} 24 ohm rated 12 V\nwire S1 -> c{at}.1\nwire c{at}.2 -> M.A.{at}");
    }
    text
}

/// The same with a real feed wire, which is no load.
pub fn wired_drivers(count: usize, metres: f64) -> String {
    drivers(count, 1.0).replace(
        "resistor feed battery -> S1 1 ohm",
        &format!("wire 1 battery -> S1 1.5 mm2 {metres} m"),
    )
}

/// A chain of relays: each closes the way to the next one's coil, with a switch in between; a lamp at the end.
pub fn relays(count: usize) -> String {
    let mut text = String::from("circuit relays\nsupply battery 12 V inner 20 mohm\nground G1\nsplice S0\n");
    text += "wire battery -> S0\n";
    let mut feed = "S0".to_owned();
    for at in 1..=count {
        let _ = writeln!(
            text,
            "device K{at} {{\n  pins 30, 85, 86, 87\n  coil K 85 -> 86 90 ohm pulls_in 0.09 A drops_out 0.03 A\n  \
             contact 30 -> 87 closed when K energised\n  diode 86 -> 85 drop 0.7 V\n}}\nswitch s{at} {feed} -> K{at}.85\n\
             wire K{at}.86 -> G1\nwire S0 -> K{at}.30"
        );
        feed = format!("K{at}.87");
    }
    let _ = writeln!(text, "lamp L {feed} -> G1 21 W 12 V");
    text
}

/// Motors between the half bridges of one module: `count` gangs of three positions.
pub fn bridges(count: usize) -> String {
    let mut text = String::from("circuit bridges\nsupply battery 12.6 V inner 15 mohm\nground G1\n");
    text += "wire battery -> M.A.bplus\nwire M.A.gnd -> G1\nmodule M {\n  connector A {\n    b bplus feed\n    g gnd ground\n";
    for at in 1..=count {
        let _ = writeln!(
            text,
            "    {at}a m{at}a switches {{ bplus, gnd }}\n    {at}b m{at}b switches {{ gnd, bplus }}"
        );
    }
    text += "  }\n";
    for at in 1..=count {
        let _ = writeln!(
            text,
            "  gang g{at} {{\n    stop m{at}a gnd m{at}b gnd\n    left m{at}a bplus m{at}b gnd\n    right m{at}a gnd m{at}b \
             bplus\n  }}"
        );
    }
    text += "}\n";
    for at in 1..=count {
        let _ = writeln!(text, "motor w{at} 3 ohm rated 12 V\nwire M.A.{at}a -> w{at}.1\nwire w{at}.2 -> M.A.{at}b");
    }
    text
}

/// A wire of `count` stretches with a resistance, from a supply to a lamp.
pub fn chain(count: usize) -> String {
    let mut text = String::from("circuit chain\nsupply battery 12 V inner 20 mohm\nground G1\n");
    for at in 0..=count {
        let _ = writeln!(text, "splice S{at}");
    }
    text += "wire battery -> S0\n";
    for at in 1..=count {
        let _ = writeln!(text, "wire {at} S{} -> S{at} 1.5 mm2 1 m", at - 1);
    }
    let _ = writeln!(text, "lamp L S{count} -> G1 21 W 12 V");
    text
}

/// A large file of usual things: `blocks` of a fuse, a switch, a relay with a diode, a driver, lamps, wires. About 20 lines each.
pub fn plant(blocks: usize) -> String {
    let mut text = String::from("circuit plant\nsupply battery 24 V inner 15 mohm\nground G1\nsplice S0\n");
    text += "wire battery -> S0 16 mm2 1 m\n";
    for at in 1..=blocks {
        let _ = writeln!(
            text,
            "fuse F{at} S0 -> T{at} 10 A\nsplice T{at}\nswitch s{at} T{at} -> U{at}\nsplice U{at}\n\
             device K{at} {{\n  pins 30, 85, 86, 87\n  coil K 85 -> 86 250 ohm pulls_in 0.06 A drops_out 0.02 A\n  \
             contact 30 -> 87 closed when K energised\n  diode 86 -> 85 drop 0.7 V\n}}\n\
             wire {at}01 U{at} -> K{at}.85 0.75 mm2 2 m\nwire {at}02 K{at}.86 -> M{at}.A.1 0.75 mm2 2 m\n\
             wire {at}03 T{at} -> K{at}.30 1.5 mm2 2 m\nlamp L{at} 21 W 24 V\nwire {at}04 K{at}.87 -> L{at}.1 1.5 mm2 3 m\n\
             wire {at}05 L{at}.2 -> G1 1.5 mm2 3 m\nwire {at}06 T{at} -> M{at}.A.2 1.5 mm2 1 m\n\
             wire {at}07 M{at}.A.3 -> G1 1.5 mm2 1 m\nmodule M{at} {{\n  connector A {{\n    1 d drives low on 100 mohm\n    \
             2 b feed\n    3 g ground\n  }}\n}}"
        );
    }
    text
}
