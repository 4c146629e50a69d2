//! Prints the errors of files (and with `-v` their trees).
fn main() {
    for arg in std::env::args().skip(1) {
        let text = std::fs::read_to_string(&arg).unwrap();
        let p = keyon_syntax::parse(&text);
        println!("{arg}: {} items, {} errors", p.file.items.len(), p.errors.len());
        for e in &p.errors {
            let line = text[..e.span.start as usize].lines().count();
            println!("  {line}: {:?} {} | {:?}", &text[e.span.range()], e.message, e.help);
        }
    }
}
