//! Measures how fast texts become trees: `cargo run --release -p keyon-syntax --example speed`.
#![allow(clippy::print_stdout)]

#[path = "../benches/texts/mod.rs"]
mod texts;

use keyon_syntax::{Edit, layout::layout, lexer::tokens, parse, reparse};
use std::{hint::black_box, time::Instant};

fn main() {
    measure("wires", &texts::wires(50_000));
    measure("mixed", &texts::mixed(50_000));
}

fn measure(name: &str, text: &str) {
    let lines = text.lines().count();
    println!("{name}: {lines} lines, {} bytes", text.len());
    let best = |what: &str, run: &mut dyn FnMut()| {
        let times = (0..9).map(|_| {
            let start = Instant::now();
            run();
            start.elapsed().as_secs_f64()
        });
        let least = times.fold(f64::MAX, f64::min);
        println!(
            "  {what:24} {:8.2} ms  {:6.2} million lines a second",
            least * 1e3,
            lines as f64 / least / 1e6
        );
    };
    best("tokens", &mut || drop(black_box(tokens(text))));
    best("tokens and layout", &mut || drop(black_box(layout(text))));
    best("tree", &mut || drop(black_box(parse(text))));
    let old = parse(text);
    let middle = text.len() / 2;
    let at = (middle..).find(|&at| text.is_char_boundary(at)).unwrap_or(0) as u32;
    let mut new = text.to_owned();
    new.insert(at as usize, 'x');
    let edit = Edit { start: at, old_end: at, new_end: at + 1 };
    best("tree after a keystroke", &mut || drop(black_box(reparse(&old, text, &new, edit))));
}
