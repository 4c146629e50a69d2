//! tmp
use keyon_circuit::{Source, World};
use std::{path::Path, sync::Arc};
fn source(key: &str, text: &str) -> Source {
    Source { key: key.into(), text: text.into(), parse: Arc::new(keyon_syntax::parse(text)) }
}
struct W;
impl World for W {
    fn library(&self, from: &str, path: &str) -> Option<Source> {
        let p = Path::new(from).parent()?.join(path);
        Some(source(p.to_str()?, &std::fs::read_to_string(&p).ok()?))
    }
}
#[test]
fn one() {
    let Ok(key) = std::env::var("ONE") else { return };
    let text = std::fs::read_to_string(&key).unwrap();
    let t = std::time::Instant::now();
    let c = keyon_check::check(&W, &source(&key, &text), &keyon_solve::Never).unwrap();
    eprintln!("took {:?}", t.elapsed());
    for f in &c.findings {
        let at = c.elaboration.span(f.loc).start as usize;
        let file = &c.elaboration.files[f.loc.file.index()];
        println!(
            "{}:{} {} {} {}",
            file.key,
            file.text[..at].matches('\n').count() + 1,
            f.level.words(),
            f.rule,
            f.message
        );
    }
}
