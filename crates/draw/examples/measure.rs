//! Crossings, bends and time of drawings: of the corpus, and of generated circuits by their size. Run by hand, in release.

#![allow(clippy::print_stdout, clippy::unwrap_used)]

use keyon_circuit::{Source, World, elaborate, model::Circuit};
use keyon_draw::{Thing, lay_out};
use std::{collections::BTreeMap, fs, path::Path, sync::Arc, time::Instant};

struct Beside;

fn source(key: &str, text: &str) -> Source {
    Source { key: key.into(), text: text.into(), parse: Arc::new(keyon_syntax::parse(text)) }
}

impl World for Beside {
    fn library(&self, from: &str, path: &str) -> Option<Source> {
        let beside = Path::new(from).parent()?.join(path);
        Some(source(beside.to_str()?, &fs::read_to_string(&beside).ok()?))
    }
}

/// Of the pairs of things whose order across a drawing shows, how many change it when one line of the file is left out:
/// mean and worst, in percent, over up to 40 lines.
fn moved(path: &Path, text: &str) -> (f64, f64) {
    let across = |text: &str| -> BTreeMap<String, f64> {
        let circuit = elaborate(&Beside, &source(path.to_str().unwrap(), text)).circuit;
        let layout = lay_out(&circuit, &|_| true, &|_, _, _| Some("441 OG/BK 0.75".to_owned().into()));
        let name = |thing: Thing| match thing {
            Thing::Device(d) => circuit.devices.get(d.index()).map(|d| d.name.to_string()),
            Thing::Module(m) => circuit.modules.get(m.index()).map(|m| m.name.to_string()),
            Thing::Splice(i) => circuit.splices.get(i).map(|s| s.name.to_string()),
            Thing::Fuse(i) => {
                circuit.elements.get(circuit.fuses.get(i)?.element.index()).map(|e| e.name.to_string())
            }
            _ => None,
        };
        layout.things.iter().filter_map(|(t, b)| Some((name(*t)?, (b[0] + b[2]) / 2.0))).collect()
    };
    let before = across(text);
    let rows: Vec<&str> = text.lines().collect();
    let lines: Vec<usize> =
        (0..rows.len()).filter(|&i| rows[i].starts_with("wire ") || rows[i].starts_with("lamp ")).collect();
    let (mut sum, mut worst, mut count) = (0.0, 0.0_f64, 0.0);
    for &line in lines.iter().step_by(lines.len().div_ceil(40).max(1)) {
        let less: Vec<&str> =
            rows.iter().enumerate().filter(|(i, _)| *i != line).map(|(_, row)| *row).collect();
        let after = across(&less.join("\n"));
        let both: Vec<(f64, f64)> = before.iter().filter_map(|(n, x)| Some((*x, *after.get(n)?))).collect();
        let (mut pairs, mut turned) = (0.0, 0.0);
        for (i, a) in both.iter().enumerate() {
            for b in &both[i + 1..] {
                let (d, e) = (a.0 - b.0, a.1 - b.1);
                if d.abs() > 20.0 {
                    pairs += 1.0;
                    turned += f64::from(u8::from(d * e < 0.0));
                }
            }
        }
        let share = 100.0 * turned / f64::max(pairs, 1.0);
        (sum, count, worst) = (sum + share, count + 1.0, worst.max(share));
    }
    (sum / f64::max(count, 1.0), worst)
}

/// Crossings, bends, a bound below each, milliseconds.
fn measure(circuit: &Circuit) -> (usize, usize, usize, usize, f64) {
    let mut best = f64::INFINITY;
    let mut layout = None;
    for _ in 0..3 {
        let start = Instant::now();
        layout = Some(lay_out(circuit, &|_| true, &|_, _, _| Some("441 OG/BK 0.75".to_owned().into())));
        best = best.min(start.elapsed().as_secs_f64() * 1e3);
    }
    let layout = layout.unwrap();
    let (bends, crossings) = layout.bends_and_crossings();
    // A graph of n nodes without crossings has at most 3n - 6 edges (Euler); an edge whose ends face the same way turns twice.
    let (n, m) = (layout.things.len(), layout.links.len());
    let bound = if n >= 3 { m.saturating_sub(3 * n - 6) } else { 0 };
    let same_way = layout.links.iter().filter(|l| {
        let [first, .., last] = l.points.as_slice() else { return false };
        let before = l.points.len().checked_sub(2).and_then(|i| l.points.get(i)).unwrap_or(first);
        let second = l.points.get(1).unwrap_or(last);
        (second.1 - first.1).signum() == (before.1 - last.1).signum() && (second.1 - first.1).abs() > 0.0
    });
    (crossings, bends, bound, 2 * same_way.count(), best)
}

fn main() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    println!(
        "circuit | elements | wires | crossings (at least) | bends (at least) | ms | an edit turns, % (most)"
    );
    let mut files: Vec<_> =
        fs::read_dir(root.join("corpus/circuits")).unwrap().map(|e| e.unwrap().path()).collect();
    files.sort();
    for path in files {
        let Ok(text) = fs::read_to_string(&path) else { continue };
        let circuit = elaborate(&Beside, &source(path.to_str().unwrap(), &text)).circuit;
        let (crossings, bends, low, turns, ms) = measure(&circuit);
        let (mean, worst) = moved(&path, &text);
        let things =
            circuit.devices.len() + circuit.fuses.len() + circuit.splices.len() + circuit.modules.len();
        println!(
            "{} | {things} | {} | {crossings} ({low}) | {bends} ({turns}) | {ms:.1} | {mean:.0} ({worst:.0})",
            path.file_stem().unwrap().to_string_lossy(),
            circuit.wires.len()
        );
    }
    let (mut count, mut crossings, mut bends, mut wires, mut slowest) = (0, 0, 0, 0, 0.0_f64);
    for line in fs::read_to_string(root.join("tests/reference/circuits.jsonl")).unwrap().lines() {
        let value: serde_json::Value = serde_json::from_str(line).unwrap();
        let circuit = elaborate(&Beside, &source("made", value["text"].as_str().unwrap())).circuit;
        let (c, b, _, _, ms) = measure(&circuit);
        count += 1;
        crossings += c;
        bends += b;
        wires += circuit.wires.len();
        slowest = slowest.max(ms);
    }
    println!("{count} generated | | {wires} | {crossings} | {bends} | slowest {slowest:.1}");
}
