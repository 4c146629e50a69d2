//! Compiles the generated parser.

fn main() {
    let folder = "../../grammar/tree-sitter/src";
    println!("cargo:rerun-if-changed={folder}/parser.c");
    cc::Build::new()
        .include(folder)
        .file(format!("{folder}/parser.c"))
        .warnings(false)
        .compile("tree-sitter-keyon");
}
