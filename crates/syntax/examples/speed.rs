//! Measures how fast texts become trees: `cargo run --release -p keyon-syntax --example speed`, for a profiler with
//! `wires` or `mixed` behind it. What is made is dropped outside the time.
#![allow(clippy::print_stdout)]

#[path = "../benches/texts/mod.rs"]
mod texts;

use keyon_syntax::{Edit, layout::layout, lexer::tokens, parse, reparse};
use std::{any::Any, hint::black_box, time::Instant};

fn main() {
    let only = std::env::args().nth(1);
    for (name, text) in [("wires", texts::wires(50_000)), ("mixed", texts::mixed(50_000))] {
        if only.as_ref().is_none_or(|only| only == name) {
            measure(name, &text);
        }
    }
}

fn measure(name: &str, text: &str) {
    let lines = text.lines().count();
    println!("{name}: {lines} lines, {} bytes", text.len());
    let best = |what: &str, run: &mut dyn FnMut() -> Box<dyn Any>| {
        let times = (0..25).map(|_| {
            let start = Instant::now();
            let made = black_box(run());
            let time = start.elapsed().as_secs_f64();
            drop(made);
            time
        });
        let least = times.fold(f64::MAX, f64::min);
        println!(
            "  {what:24} {:8.2} ms  {:6.2} million lines a second",
            least * 1e3,
            lines as f64 / least / 1e6
        );
    };
    best("tokens", &mut || Box::new(tokens(text)));
    best("tokens and layout", &mut || Box::new(layout(text)));
    best("tree", &mut || Box::new(parse(text)));
    let old = parse(text);
    let at = (text.len() / 2..).find(|at| text.is_char_boundary(*at)).unwrap_or(0) as u32;
    let mut new = text.to_owned();
    new.insert(at as usize, 'x');
    let edit = Edit { start: at, old_end: at, new_end: at + 1 };
    best("tree after a keystroke", &mut || Box::new(reparse(&old, text, &new, edit)));
}
