//! How tracing, tables and solutions grow: `cargo bench -p keyon-solve`. `tests/bench/tables.py` puts the same beside scipy.

#![allow(clippy::print_stdout, clippy::unwrap_used, clippy::panic, clippy::expect_used)]

use keyon_circuit::{Elaboration, Source, World, elaborate, ids::ControlId};
use keyon_solve::{Never, State, Tracer, solve, table};
use std::{fmt::Write, hint::black_box, sync::Arc, time::Instant};

struct Alone;

impl World for Alone {
    fn library(&self, _: &str, _: &str) -> Option<Source> {
        None
    }
}

fn read(text: &str) -> Elaboration {
    let parse = Arc::new(keyon_syntax::parse(text));
    let elaboration = elaborate(&Alone, &Source { key: "bench".into(), text: text.into(), parse });
    assert!(elaboration.problems.is_empty(), "{:?}", elaboration.problems);
    elaboration
}

/// One coupled group: a chain of switches with a lamp behind each, so that every switch matters to all further on.
fn ladder(controls: usize) -> Elaboration {
    let mut text = String::from(
        "circuit ladder\nsupply battery 12.6 V inner 15 mohm\nground G1\nfuse F1 battery -> N0 60 A\nsplice N0\n",
    );
    for i in 1..=controls {
        let _ = write!(
            text,
            "switch k{i}\nwire {i}1 N{} -> k{i}.1 2.5 mm2 RD 0.3 m\nwire {i}2 k{i}.2 -> N{i} 2.5 mm2 RD 0.3 m\n\
             splice N{i}\nlamp l{i} N{i} -> G1 5 W 12 V\n",
            i - 1
        );
    }
    read(&text)
}

/// Independent drivers of one module behind one fuse, a coil each.
fn drivers(controls: usize) -> Elaboration {
    let mut text = String::from(
        "circuit drivers\nsupply battery 12.6 V inner 15 mohm\nground G1\nfuse F1 battery -> S1 60 A\nsplice S1\n\
         wire 1 S1 -> U.A.1 2.5 mm2 RD 1 m\nwire 2 U.A.2 -> G1 2.5 mm2 BK 1 m\n",
    );
    let mut rows = String::from("1 bplus feed\n2 gnd ground\n");
    for i in 1..=controls {
        let (ohms, cavity) = (20 + i % 9, i + 2);
        let _ = write!(
            text,
            "coil c{i} {ohms} ohm rated 12 V\nwire {i}01 S1 -> c{i}.1 0.75 mm2 OG 2 m\n\
             wire {i}02 c{i}.2 -> U.A.{cavity} 0.75 mm2 OG/BK 2 m\n"
        );
        let _ = writeln!(rows, "{cavity} cmd{i} drives low on 120 mohm limit 2 A clamp");
    }
    let _ = write!(text, "module U {{\nconnector A {{\n{rows}}}\n}}\n");
    read(&text)
}

fn base(e: &Elaboration) -> State {
    let mut base = State::rest(&e.circuit);
    base.options.keep_fuses = true;
    base
}

/// The best of some runs, in seconds.
fn best<T>(mut run: impl FnMut() -> T) -> f64 {
    let once = |_| {
        let start = Instant::now();
        black_box(run());
        start.elapsed().as_secs_f64()
    };
    (0..5).map(once).fold(f64::MAX, f64::min)
}

fn main() {
    println!("tracing one coupled group");
    for controls in [10, 16, 20, 24] {
        let e = ladder(controls);
        let base = base(&e);
        let all: Vec<ControlId> = (0..e.circuit.controls.len()).map(ControlId::from).collect();
        let time = best(|| {
            let tracer = Tracer::new(&e.circuit, &base, &all).expect("not too meshed");
            let mut doubtful = 0;
            tracer.trace(&Never, &mut |block| doubtful += block.doubtful()).unwrap();
            doubtful
        });
        let rate = (1u64 << controls) as f64 / time / 1e6;
        println!("  2^{controls:<3} {:9.2} ms  {rate:8.1} million states a second", time * 1e3);
    }
    println!("truth tables with device states");
    let shapes = [("ladder", &[4, 8, 12, 16, 20][..]), ("drivers", &[4, 20, 60][..])];
    for (name, counts) in shapes {
        for &controls in counts {
            let e = if name == "ladder" { ladder(controls) } else { drivers(controls) };
            let base = base(&e);
            let rows = || -> usize {
                let table = table(&e.circuit, &base, &[], &[], &[], &Never).unwrap();
                table.groups.iter().map(|group| group.rows.len()).sum()
            };
            println!("  {name:8} {controls:3} controls {:9.2} ms  {:5} rows", best(rows) * 1e3, rows());
        }
    }
    println!("one state, against the size of the circuit");
    for controls in [100, 300, 1000, 3000, 10_000] {
        let e = ladder(controls);
        let base = base(&e);
        let (points, time) = (e.circuit.points.len(), best(|| solve(&e.circuit, &base)));
        println!("  {points:7} points {:9.2} ms  {:6.2} us a point", time * 1e3, time / points as f64 * 1e6);
    }
}
