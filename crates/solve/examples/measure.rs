//! Times one thing for `tests/bench/compare.py`: `measure trace FILE`, `measure table FILE` or `measure solve FILE`.
//! Prints one line of JSON.

#![allow(clippy::print_stdout, clippy::unwrap_used, clippy::panic, clippy::expect_used)]

use keyon_circuit::{Elaboration, Source, World, elaborate, ids::ControlId};
use keyon_solve::{Never, NodeState, State, Tracer};
use std::{sync::Arc, time::Instant};

struct Alone;

impl World for Alone {
    fn library(&self, _: &str, _: &str) -> Option<Source> {
        None
    }
}

fn read(path: &str) -> Elaboration {
    let text = std::fs::read_to_string(path).unwrap_or_else(|e| panic!("{path}: {e}"));
    let parse = Arc::new(keyon_syntax::parse(&text));
    elaborate(&Alone, &Source { key: path.into(), text: text.as_str().into(), parse })
}

/// Kibibytes at the most so far; zero where the system does not tell.
fn peak() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|l| l.strip_prefix("VmHWM:"));
    line.and_then(|l| l.split_whitespace().next()?.parse().ok()).unwrap_or(0)
}

fn main() {
    let mut args = std::env::args().skip(1);
    let (what, path) = (args.next().expect("what"), args.next().expect("file"));
    let elaboration = read(&path);
    let circuit = &elaboration.circuit;
    let mut base = State::rest(circuit);
    base.options.keep_fuses = true;
    let start = Instant::now();
    let result = match what.as_str() {
        "trace" => {
            let controls: Vec<ControlId> = (0..circuit.controls.len()).map(ControlId::from).collect();
            let tracer = Tracer::new(circuit, &base, &controls).expect("not too meshed");
            let prepared = start.elapsed().as_secs_f64();
            let (mut fed, mut doubtful) = (0, 0);
            let last = keyon_circuit::ids::PointId::from(circuit.points.len() - 1);
            tracer
                .trace(&Never, &mut |block| {
                    fed += block.count(last, NodeState::Fed);
                    doubtful += block.doubtful();
                })
                .unwrap();
            format!(
                "\"states\":{},\"doubtful\":{doubtful},\"fed\":{fed},\"steps\":{},\"prepare\":{prepared:.6}",
                tracer.states(),
                tracer.steps()
            )
        }
        "table" => {
            let table = keyon_solve::table(circuit, &base, &[], &[], &[], &Never).unwrap();
            let rows: usize = table.groups.iter().map(|g| g.rows.len()).sum();
            format!("\"groups\":{},\"rows\":{rows}", table.groups.len())
        }
        _ => {
            let solution = keyon_solve::solve(circuit, &base);
            format!("\"points\":{}", solution.volts.len())
        }
    };
    let seconds = start.elapsed().as_secs_f64();
    println!("{{\"what\":\"{what}\",{result},\"seconds\":{seconds:.6},\"peak_kib\":{}}}", peak());
}
