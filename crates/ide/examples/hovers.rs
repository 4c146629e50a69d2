//! Every hover of a file, one a name: `hovers FILE [EVERY]`. On the standard output what each says, to lay two builds side by side; on
//! the standard error how long they took. With EVERY only each so-manieth name is asked; where it is followed by `forget` each as if
//! nothing had been asked before.

#![allow(clippy::print_stdout, clippy::print_stderr)]

use keyon_circuit::{Source, World, elaborate};
use keyon_ide::{View, hover};
use std::{path::Path, sync::Arc, time::Instant};

struct Disk;

impl World for Disk {
    fn library(&self, from: &str, path: &str) -> Option<Source> {
        source(&Path::new(from).parent()?.join(path)).ok()
    }
}

fn source(path: &Path) -> std::io::Result<Source> {
    let text = std::fs::read_to_string(path)?;
    let parse = Arc::new(keyon_syntax::parse(&text));
    Ok(Source { key: path.to_string_lossy().as_ref().into(), text: text.into(), parse })
}

fn main() -> std::io::Result<()> {
    let mut args = std::env::args().skip(1);
    let Some(file) = args.next() else { return Ok(()) };
    let every = args.next().and_then(|n| n.parse().ok()).unwrap_or(1_usize).max(1);
    let memory = (args.next().as_deref() != Some("forget")).then(keyon_solve::Memory::default);
    let elaboration = elaborate(&Disk, &source(Path::new(&file))?);
    let view =
        View { elaboration: &elaboration, held: None, cancel: &keyon_solve::Never, memory: memory.as_ref() };
    let mut times = Vec::new();
    for name in elaboration.names.iter().filter(|name| name.loc.file.index() == 0).step_by(every) {
        let offset = elaboration.span(name.loc).start;
        let start = Instant::now();
        let said = hover(&view, offset).unwrap_or_default();
        times.push((start.elapsed(), offset));
        println!("== {offset} {}", elaboration.text(name.loc));
        println!("{}", said.map(|hover| hover.markdown).unwrap_or_default());
    }
    times.sort();
    let at = |share: f64| {
        times
            .get((times.len() as f64 * share) as usize)
            .map_or((0.0, 0), |(t, o)| (t.as_secs_f64() * 1e3, *o))
    };
    eprintln!(
        "{} hovers, ms: median {:.1}, 95 % {:.1}, most {:?}",
        times.len(),
        at(0.5).0,
        at(0.95).0,
        times.last()
    );
    Ok(())
}
