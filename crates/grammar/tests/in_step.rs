//! The grammar for editors stays in step with the compiler's parser.

#![allow(clippy::unwrap_used, clippy::panic)]

use std::{
    fs,
    path::{Path, PathBuf},
};
use tree_sitter::{Node, Parser, Query, QueryCursor, StreamingIterator};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

fn corpus() -> Vec<(PathBuf, String)> {
    let mut files = Vec::new();
    let mut folders = vec![root().join("corpus")];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).unwrap().flatten() {
            let path = entry.path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|e| e == "keyon") {
                // What is not UTF-8 is another test's.
                if let Ok(text) = fs::read_to_string(&path) {
                    files.push((path, text));
                }
            }
        }
    }
    files.sort();
    files
}

fn parser() -> Parser {
    let mut parser = Parser::new();
    parser.set_language(&keyon_grammar::LANGUAGE.into()).unwrap();
    parser
}

/// Where the compiler's items begin: their first word, not their comments.
fn items(text: &str) -> Vec<usize> {
    let parse = keyon_syntax::parse(text);
    parse.file.items.iter().map(|p| (p.start + p.item.statement.start) as usize).collect()
}

fn first_error(node: Node<'_>) -> Option<Node<'_>> {
    if node.is_error() || node.is_missing() {
        return Some(node);
    }
    (0..node.child_count()).filter_map(|i| node.child(i as u32)).find_map(first_error)
}

fn compare(parser: &mut Parser, name: &str, text: &str) {
    let tree = parser.parse(text, None).unwrap();
    let root = tree.root_node();
    if let Some(error) = first_error(root) {
        panic!("{name}: the compiler reads it, the grammar does not: {:?}", error.start_position());
    }
    let mut walk = root.walk();
    let mine: Vec<usize> =
        root.named_children(&mut walk).filter(|n| n.kind() == "item").map(|n| n.start_byte()).collect();
    // An `allow` belongs to the item behind it for the compiler, and is a line of its own here.
    let own: Vec<usize> = mine.into_iter().filter(|&at| !text[at..].starts_with("allow")).collect();
    let theirs: Vec<usize> = items(text).into_iter().filter(|&at| !text[at..].starts_with("allow")).collect();
    assert_eq!(own, theirs, "{name}: items begin elsewhere");
}

#[test]
fn every_sound_corpus_file_is_read_and_its_items_begin_where_the_compilers_do() {
    let mut parser = parser();
    let mut read = 0;
    for (path, text) in corpus() {
        if keyon_syntax::parse(&text).errors.is_empty() {
            compare(&mut parser, &path.display().to_string(), &text);
            read += 1;
        }
    }
    assert!(read > 200, "{read}");
}

#[test]
fn mutated_files_that_the_compiler_reads_are_read() {
    let mut parser = parser();
    let mut random = 0x2545_f491_4f6c_dd1d_u64;
    let mut next = |most: usize| {
        random ^= random << 13;
        random ^= random >> 7;
        random ^= random << 17;
        (random % most.max(1) as u64) as usize
    };
    let mut read = 0;
    for (path, text) in corpus().into_iter().filter(|(_, t)| keyon_syntax::parse(t).errors.is_empty()) {
        let lines: Vec<&str> = text.split_inclusive('\n').collect();
        for round in 0..6 {
            let mut new: Vec<&str> = lines.clone();
            match round % 3 {
                0 => drop(new.remove(next(new.len()))),
                1 => {
                    let (a, b) = (next(new.len()), next(new.len()));
                    new.swap(a, b);
                }
                _ => new.insert(next(new.len()), lines[next(lines.len())]),
            }
            let text = new.concat();
            if keyon_syntax::parse(&text).errors.is_empty() {
                compare(&mut parser, &format!("{} changed ({round}):\n{text}", path.display()), &text);
                read += 1;
            }
        }
    }
    assert!(read > 200, "{read}");
}

/// No word is reserved: each word that heads lines may name what stands on them.
#[test]
fn words_of_the_language_are_names() {
    use keyon_syntax::layout::{ATTRIBUTE_WORDS, BODY_ONLY_WORDS, ELEMENT_WORDS, ITEM_WORDS};
    let heads = ITEM_WORDS.into_iter().chain(ELEMENT_WORDS).chain(BODY_ONLY_WORDS).chain(ATTRIBUTE_WORDS);
    let text = "circuit @ \"T\"\nsupply @ 12 V\nswitch @ \"T\" positions @, b closed in @\nwire @ @ -> @.1 -> @\n\
        fuse @ @ -> @ 5 A\nlamp @ \"T\" 5 W 12 V\nsplice @\nunused @, @.1\n\
        device @ {\n  pins @, B\n  coil @ @ -> B 90 ohm\n  changeover @ -> (rest @, active B) when @ energised\n}\n\
        module @ \"T\" {\n  connector @ {\n    @  @  feed\n  }\n  gang @ {\n    @  @ @\n  }\n}\n\
        scenario @ { @ @, a 1 }\nexpect in @ {\n  @ operates\n}\nview @\n";
    let mut parser = parser();
    for word in heads {
        let text = text.replace('@', word);
        assert!(
            keyon_syntax::parse(&text).errors.is_empty(),
            "{word}: {:?}",
            keyon_syntax::parse(&text).errors
        );
        compare(&mut parser, word, &text);
    }
}

#[test]
fn a_damaged_line_leaves_the_others_whole() {
    let mut parser = parser();
    let text = "circuit a\nsupply b 12 V\nwire ( 1 b -> \nsplice S1\nground G1\n";
    let tree = parser.parse(text, None).unwrap();
    assert!(tree.root_node().has_error());
    let text = tree.root_node().to_sexp();
    assert!(text.contains("keyword"), "{text}");
}

#[test]
fn queries_are_read_and_match() {
    let language: tree_sitter::Language = keyon_grammar::LANGUAGE.into();
    let text = fs::read_to_string(root().join("corpus/circuits/orchard_sprayer.keyon")).unwrap();
    let tree = parser().parse(&text, None).unwrap();
    let own = ["highlights", "folds", "indents", "locals", "textobjects", "injections"]
        .map(|name| format!("grammar/tree-sitter/queries/{name}.scm"));
    // An editor that wants its own names for what it captures.
    let zed = ["highlights", "brackets", "indents", "outline"]
        .map(|name| format!("editors/zed/languages/keyon/{name}.scm"));
    for name in own.iter().chain(&zed) {
        let source = fs::read_to_string(root().join(name)).unwrap();
        let query = Query::new(&language, &source).unwrap_or_else(|error| panic!("{name}: {error}"));
        let mut cursor = QueryCursor::new();
        let mut matches = cursor.matches(&query, tree.root_node(), text.as_bytes());
        let mut count = 0;
        while matches.next().is_some() {
            count += 1;
        }
        assert!(count > 10, "{name}: {count} matches");
    }
}

/// The examples of `test/corpus`: a text and the tree that it gives.
#[test]
fn examples_give_the_trees_beside_them() {
    let mut parser = parser();
    let text = fs::read_to_string(root().join("grammar/tree-sitter/test/corpus/statements.txt")).unwrap();
    let ruler = "==================\n";
    let parts: Vec<&str> = text.split(ruler).skip(1).collect();
    assert!(parts.len() >= 4);
    for pair in parts.chunks(2) {
        let [name, body] = pair else { panic!("a name and a body") };
        let (source, tree) = body.split_once("\n---\n").unwrap();
        let found = parser.parse(source, None).unwrap().root_node().to_sexp();
        // Field names are not written in the examples.
        let found = found.replace("keyword: ", "").replace("body: ", "");
        let squeeze = |t: &str| t.split_whitespace().collect::<Vec<_>>().join(" ").replace(" )", ")");
        assert_eq!(squeeze(&found), squeeze(tree), "{name}");
    }
}
