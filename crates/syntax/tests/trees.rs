//! The tree of every construct, without places.
#![allow(missing_docs, clippy::unwrap_used)]

mod common;

/// One line an item: its statement's first line, then its tree.
fn trees(text: &str) -> String {
    let parse = keyon_syntax::parse(text);
    assert_eq!(parse.errors, [], "{text}");
    let mut out = String::new();
    for placed in &parse.file.items {
        let source = &text[placed.item.statement.moved(placed.start).range()];
        let tree = common::compact(&format!("{:?}", placed.item.kind));
        out.push_str(&format!("{}\n    {}\n\n", source.lines().next().unwrap(), common::indented(&tree)));
    }
    out
}

#[test]
fn every_construct() {
    insta::assert_snapshot!(trees(include_str!("fixtures/everything.keyon")));
}

#[test]
fn a_whole_circuit() {
    insta::assert_snapshot!(trees(include_str!("fixtures/whole.keyon")));
}

#[test]
fn elements_and_parts() {
    insta::assert_snapshot!(trees(include_str!("fixtures/elements.keyon")));
}

#[test]
fn docs_and_allows_belong_to_what_follows() {
    let text = "\
## A lamp.
##   indented, then more
# a plain comment
allow voltage-drop \"long lead\"
lamp L1 a -> b 5 W 12 V

## lost

splice S1
module M {
  ## The connector.
  allow unconnected-pin \"spare\"
  connector A {
    ## The feed.
    1 bplus feed
    allow idle-driver
    2 out drives low
  }
}
allow unused-name \"at the end\"
";
    let parse = keyon_syntax::parse(text);
    assert_eq!(parse.errors, []);
    let all: Vec<String> = parse
        .file
        .items
        .iter()
        .map(|p| format!("{:?} {:?} {:?}", p.item.doc, p.item.allows, p.item.kind))
        .map(|debug| common::indented(&common::compact(&debug)))
        .collect();
    insta::assert_snapshot!(all.join("\n\n"));
    // Spans in an item are relative to it.
    let lamp = &parse.file.items[0];
    assert_eq!(lamp.start, 0);
    assert_eq!(&text[lamp.item.statement.range()], "lamp L1 a -> b 5 W 12 V");
    let splice = &parse.file.items[1];
    assert_eq!(&text[splice.start as usize..][..splice.item.span.end as usize], "splice S1");
}

#[test]
fn spellings_are_read_alike() {
    let plain = "wire 431 A -> B 0.75 mm2 OG/BK 1.9 m +- 5 %\nresistor R 2.2 kohm\nthermistor T 2 kohm at 25 degC beta 3500 K\n";
    let fancy = "wire\u{A0}431 A->B 0.75mm² OG / BK 1.9m ± 5%\r\nresistor R 2.2kΩ\rthermistor T 2 k\u{2126} at 25°C beta 3500K";
    let kinds = |text: &str| {
        let parse = keyon_syntax::parse(text);
        assert_eq!(parse.errors, [], "{text}");
        let kinds = parse.file.items.iter().map(|p| common::compact(&format!("{:?}", p.item.kind)));
        kinds.collect::<Vec<_>>()
    };
    assert_eq!(kinds(plain), kinds(fancy));
}

#[test]
fn names_are_compared_after_normalisation() {
    let composed = keyon_syntax::parse("splice Fu\u{308}hler");
    let name = composed.file.items[0].item.kind.name().unwrap();
    assert_eq!(name.text, "F\u{fc}hler");
}
