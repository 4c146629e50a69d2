//! How many lines a second are parsed and elaborated: `cargo run --release -p keyon-circuit --example speed`.

use keyon_circuit::{Source, World, elaborate};
use std::{fmt::Write, sync::Arc, time::Instant};

struct Nothing;

impl World for Nothing {
    fn library(&self, _: &str, _: &str) -> Option<Source> {
        None
    }
}

#[allow(clippy::print_stdout)]
fn main() {
    let groups: usize = std::env::args().nth(1).and_then(|n| n.parse().ok()).unwrap_or(7000);
    let mut text = String::from("circuit big\nuse \"trade\"\nsupply battery 12.6 V\nground G1\n");
    for i in 0..groups {
        let _ = writeln!(
            text,
            "splice S{i}\nfuse F{i} battery -> S{i} 10 A\ndevice valve{i} \"Valve\" : valve(coil = 24 ohm)\nwire {i}1 S{i} -> valve{i}.1 0.75 mm2 OG/BK 2.4 m # feed\n\
             wire {i}2 valve{i}.2 -> G1 0.75 mm2 BK 1.4 m\nlamp L{i} S{i} -> G1 21 W 12 V\nwire {i}3 S{i} -> L{i}.1 0.75 mm2 RD 1 m"
        );
    }
    let lines = text.lines().count();
    let text: Arc<str> = text.into();
    for _ in 0..3 {
        let start = Instant::now();
        let parse = Arc::new(keyon_syntax::parse(&text));
        let parsed = start.elapsed();
        let source = Source { key: "big".into(), text: text.clone(), parse };
        let e = elaborate(&Nothing, &source);
        let all = start.elapsed();
        println!(
            "{lines} lines: parse {parsed:?}, elaborate {:?}, {:.0} lines a second; {} elements, {} problems",
            all - parsed,
            lines as f64 / all.as_secs_f64(),
            e.circuit.elements.len(),
            e.problems.len()
        );
    }
}
