//! Prints the errors of files as the tests show them, and with `-v` their trees.
#![allow(missing_docs, clippy::unwrap_used, clippy::print_stdout)]
#[path = "../tests/common/mod.rs"]
mod common;

fn main() {
    let verbose = std::env::args().any(|a| a == "-v");
    for path in std::env::args().skip(1).filter(|a| a != "-v") {
        let text = std::fs::read_to_string(&path).unwrap();
        let parse = keyon_syntax::parse(&text);
        println!("{path}: {} items, {} errors", parse.file.items.len(), parse.errors.len());
        print!("{}", common::show_errors(&text, &parse.errors));
        if verbose {
            for placed in &parse.file.items {
                println!("{}", common::compact(&format!("{:?}", placed.item)));
            }
        }
    }
}
