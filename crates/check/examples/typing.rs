//! What a keystroke costs, step by step: `typing FILE LINE TEXT` types TEXT letter by letter as a new line behind LINE of
//! FILE, and prints for each letter the milliseconds of reading, elaborating and judging, and the pieces judged anew.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::print_stdout)]

use keyon_check::{Memo, Run, Settings};
use keyon_circuit::{Elaboration, Source, World};
use keyon_syntax::Edit;
use std::{path::Path, sync::Arc, time::Instant};

struct Beside<'a>(&'a Path);

impl World for Beside<'_> {
    fn library(&self, _: &str, path: &str) -> Option<Source> {
        let file = self.0.parent()?.join(path);
        let text: Arc<str> = std::fs::read_to_string(&file).ok()?.into();
        let parse = Arc::new(keyon_syntax::parse(&text));
        Some(Source { key: file.display().to_string().into(), text, parse })
    }
}

fn main() {
    let mut args = std::env::args().skip(1);
    let (file, line, typed) = (args.next().unwrap(), args.next().unwrap(), args.next().unwrap());
    let threads = args.next().map_or(1, |threads| threads.parse().unwrap());
    let path = Path::new(&file);
    let mut text = std::fs::read_to_string(path).unwrap();
    let world = Beside(path);
    let at = text.split_inclusive('\n').take(line.parse().unwrap()).map(str::len).sum::<usize>();
    text.insert(at, '\n');
    let memo = Memo::default();
    let settings = [Settings::default()];
    let report = |elaboration: &Elaboration| {
        let cancel = &keyon_solve::Never;
        let run =
            Run { settings: &settings, expectations: false, memo: Some(&memo), done: None, threads, cancel };
        run.report(elaboration).unwrap().findings.len()
    };
    let mut parse = Arc::new(keyon_syntax::parse(&text));
    let source = |text: &str, parse: &Arc<keyon_syntax::Parse>| Source {
        key: file.as_str().into(),
        text: text.into(),
        parse: Arc::clone(parse),
    };
    let mut elaboration = Arc::new(keyon_circuit::elaborate(&world, &source(&text, &parse)));
    report(&elaboration);
    let ms = |start: Instant| start.elapsed().as_secs_f64() * 1e3;
    for (i, letter) in typed.char_indices() {
        let old = text.clone();
        text.insert(at + i, letter);
        let start = Instant::now();
        let place = (at + i) as u32;
        let edit = Edit { start: place, old_end: place, new_end: place + letter.len_utf8() as u32 };
        parse = Arc::new(keyon_syntax::reparse(&parse, &old, &text, edit));
        let read = ms(start);
        let start = Instant::now();
        elaboration = keyon_circuit::elaborate_again(&world, &source(&text, &parse), elaboration);
        let made = ms(start);
        let start = Instant::now();
        let findings = report(&elaboration);
        println!(
            "{read:6.2} {made:6.2} {:7.2}  {findings:3} found  {}",
            ms(start),
            &typed[..i + letter.len_utf8()]
        );
    }
}
