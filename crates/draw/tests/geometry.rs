//! Every circuit of the corpus and hundreds of generated ones draw with no text or symbol over another, no wire through a
//! symbol, no two wires on one line; and every wire of the circuit is drawn, from pin to pin.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use keyon_circuit::{Source, World, elaborate, model::Circuit};
use keyon_draw::{Class, Layout, Link, Look, Said, Sheet, Tag, faults, lay_out, svg};
use std::{
    collections::BTreeSet,
    fs,
    path::{Path, PathBuf},
    sync::Arc,
};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

fn source(key: &str, text: &str) -> Source {
    Source { key: key.into(), text: text.into(), parse: Arc::new(keyon_syntax::parse(text)) }
}

struct Beside;

impl World for Beside {
    fn library(&self, from: &str, path: &str) -> Option<Source> {
        let beside = Path::new(from).parent()?.join(path);
        let text = fs::read_to_string(&beside).ok()?;
        Some(source(beside.to_str()?, &text))
    }
}

fn corpus() -> Vec<(String, Circuit)> {
    let mut files = Vec::new();
    let mut folders = vec![root().join("corpus")];
    while let Some(folder) = folders.pop() {
        let mut entries: Vec<PathBuf> = fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()).collect();
        entries.sort();
        for path in entries {
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|e| e == "keyon") {
                files.push(path);
            }
        }
    }
    let read = files.into_iter().filter_map(|path| {
        let text = String::from_utf8(fs::read(&path).ok()?).ok()?;
        let elaboration = elaborate(&Beside, &source(path.to_str()?, &text));
        (!elaboration.library).then(|| (path.display().to_string(), elaboration.circuit))
    });
    read.collect()
}

/// The circuits that the reference solvers were asked about.
fn generated() -> Vec<(String, Circuit)> {
    let mut all = Vec::new();
    for file in ["circuits.jsonl", "reach.jsonl"] {
        let text = fs::read_to_string(root().join("tests/reference").join(file)).unwrap();
        for (n, line) in text.lines().enumerate() {
            let value: serde_json::Value = serde_json::from_str(line).unwrap();
            let text = value["text"].as_str().unwrap();
            all.push((format!("{file}:{}", n + 1), elaborate(&Beside, &source("made", text)).circuit));
        }
    }
    all
}

/// As on a sheet: a letter and the number at one end, a reading box at each.
fn signed(circuit: &Circuit) -> Layout {
    let said = |link: &Link, _: usize, lower: bool| {
        let text = words(circuit, link, lower).unwrap_or_default();
        let mut tags = vec![Tag { text: "12".to_owned(), round: false }];
        if lower {
            tags.push(Tag { text: "ab".to_owned(), round: true });
        }
        Some(Said { text, tags })
    };
    lay_out(circuit, &|_| true, &said)
}

fn words(circuit: &Circuit, link: &Link, lower: bool) -> Option<String> {
    let (wire, stretch) = link.wire.filter(|_| lower)?;
    let wire = &circuit.wires[wire.index()];
    let stretch = &wire.stretches[stretch];
    let colour = stretch.colour.as_deref().unwrap_or("");
    Some(format!("{} {colour} {}", wire.name, stretch.gauge.as_deref().unwrap_or("")))
}

fn drawn(circuit: &Circuit) -> Layout {
    lay_out(circuit, &|_| true, &|link, _, lower| words(circuit, link, lower).map(Said::from))
}

fn judge(name: &str, circuit: &Circuit, told: &mut Vec<String>) {
    let layout = drawn(circuit);
    told.extend(faults(&layout).into_iter().map(|fault| format!("{name}: {fault}")));
    told.extend(faults(&signed(circuit)).into_iter().map(|fault| format!("{name}, with signs: {fault}")));
    let wires: BTreeSet<_> = layout.links.iter().filter_map(|l| l.link.wire).collect();
    for (w, wire) in circuit.wires.iter().enumerate() {
        for s in 0..wire.stretches.len() {
            // An end that no name is known for leads nowhere.
            let element = &circuit.elements[wire.stretches[s].element.index()];
            let known = [element.from, element.to]
                .iter()
                .all(|p| circuit.points[p.index()].kind != keyon_circuit::model::PointKind::Internal);
            if known && !wires.contains(&(w.into(), s)) {
                told.push(format!("{name}: wire {} is not drawn", wire.name));
            }
        }
    }
    for path in &layout.links {
        if path.points.len() < 2 {
            told.push(format!("{name}: a wire without a line"));
        }
    }
}

fn report(told: &[String]) {
    let shown: Vec<&String> = told.iter().take(40).collect();
    assert!(told.is_empty(), "{} faults: {shown:#?}", told.len());
}

#[test]
fn the_corpus_is_drawn_as_a_careful_draughtsman_would() {
    let mut told = Vec::new();
    let all = corpus();
    assert!(all.len() > 200, "{}", all.len());
    for (name, circuit) in &all {
        judge(name, circuit, &mut told);
    }
    report(&told);
}

#[test]
fn generated_circuits_are_drawn_as_a_careful_draughtsman_would() {
    let mut told = Vec::new();
    let all = generated();
    assert!(all.len() >= 500, "{}", all.len());
    for (name, circuit) in &all {
        judge(name, circuit, &mut told);
    }
    report(&told);
}

#[test]
fn the_same_circuit_gives_the_same_bytes_and_hostile_text_stays_text() {
    let text = "circuit c \"<script>alert(1)</script> & 'quoted' \\\"twice\\\"\"\nsupply b 12 V\nground G1 \"]]>\"\nlamp L1 \"<b onload=x>\" 5 W 12 V\nwire \"</text>\" b -> L1.1\nwire 2 L1.2 -> G1\n";
    let circuit = elaborate(&Beside, &source("c", text)).circuit;
    let sheet = Sheet { title: circuit.title.clone().unwrap_or_default(), ..Sheet::default() };
    let paint = || svg(&drawn(&circuit), &Look::plain(), &sheet);
    let one = paint();
    assert_eq!(one, paint());
    for bad in ["<script", "<b onload", "</text></text>", "]]>"] {
        assert!(!one.contains(bad), "{bad}: {one}");
    }
}

/// Rungs of a ladder say what they are worth, and a bus that leaves a module below has its name and its sign.
#[test]
fn what_stands_inside_is_said() {
    let text = "circuit c
supply b 12 V
ground G1
device stick {
  pins 1, 2, 3
  resistor 1 -> 3 220 ohm
  resistor 3 -> 2 1.5 kohm
}
unused stick.3
wire 1 b -> stick.1
wire 2 stick.2 -> G1
module U { connector A {
  1 ub feed
  2 gnd ground
  3 can bus net 2.6 V
} }
module V { connector B {
  1 ub feed
  2 gnd ground
  3 can bus net 2.6 V
} }
wire 3 b -> U.A.1
wire 4 U.A.2 -> G1
wire 5 b -> V.B.1
wire 6 V.B.2 -> G1
wire 7 U.A.3 -> V.B.3
";
    let circuit = elaborate(&Beside, &source("made", text)).circuit;
    let layout = lay_out(&circuit, &|_| true, &|_, _, _| None);
    let svg = svg(&layout, &Look::plain(), &Sheet::default());
    for words in [">220 Ω<", ">1.5 kΩ<"] {
        assert!(svg.contains(words), "{words}: {svg}");
    }
    assert_eq!(svg.matches(">can<").count(), 2, "{svg}");
    assert_eq!(svg.matches(">gnd<").count(), 2, "{svg}");
    assert!(faults(&layout).is_empty());
}

/// A common terminal with its throws is one symbol, whether it feeds them or is fed by them, and wherever their wires leave.
#[test]
fn a_changeover_is_one_symbol() {
    let fed_twice = "circuit c
supply one 12 V
supply two 12 V
ground G1
device K {
  pins 30, 85, 86, 87, 87a
  coil K 86 -> 85 80 ohm pulls_in 80 mA drops_out 20 mA
  changeover 30 -> (rest 87a, active 87) when K energised
}
switch go
splice S
lamp L 5 W 12 V
lamp M 5 W 12 V
wire 1 one -> K.87
wire 2 two -> K.87a
wire 3 one -> go.1
wire 4 go.2 -> K.86
wire 5 K.85 -> G1
wire 6 K.30 -> S
wire 7 S -> L.1
wire 8 S -> M.1
wire 9 L.2 -> G1
wire 10 M.2 -> G1
";
    // All three wires leave on one side: to a module.
    let selector = "circuit c
supply b 12 V
ground G1
device sel {
  pins com, 1, 2
  positions one, two
  contact com -> 1 closed in one
  contact com -> 2 closed in two
}
module U { connector A {
  1 ub feed
  2 gnd ground
  3 ret return
  4 i1 senses digital pull_up 2 kohm to 5 V
  5 i2 senses digital pull_up 2 kohm to 5 V
} }
wire 1 b -> U.A.1
wire 2 U.A.2 -> G1
wire 3 sel.com -> U.A.3
wire 4 sel.1 -> U.A.4
wire 5 sel.2 -> U.A.5
";
    // A position in which neither is closed makes no second blade either.
    let centre_off = selector.replace("positions one, two", "positions off, one, two");
    for text in [fed_twice, selector, &centre_off] {
        let circuit = elaborate(&Beside, &source("made", text)).circuit;
        let layout = lay_out(&circuit, &|_| true, &|_, _, _| None);
        let contact = |id: keyon_circuit::ids::ElementId| {
            let owner = circuit.elements.get(id.index()).map(|e| e.owner);
            matches!(owner, Some(keyon_circuit::model::Owner::Device(d)) if circuit.devices[d.index()].name != "go")
        };
        let marks = layout.scene().marks;
        let blades = |on: bool| {
            let is = |class: Class| matches!(class, Class::Blade { contact: c, closed, .. } if closed == on && contact(c));
            marks.iter().filter(|m| is(m.class)).count()
        };
        assert_eq!((blades(true), blades(false)), (2, 0), "{text}");
        assert_eq!(faults(&layout), Vec::<String>::new(), "{text}");
    }
}

/// What stands in a row between feed and ground is drawn downwards: no wire turns back, through plugs and beside branches.
#[test]
fn ways_run_downwards() {
    let two_feet = "circuit c
supply b 24 V
ground G1
fuse F1 b -> S1 5 A
splice S1
connector CF { 1, 2, 3, 4 }
wire 2 S1 -> CF.1 -> left.1
wire 3 left.2 -> CF.2 -> SF
splice SF
wire 4 SF -> CF.3 -> right.1
wire 5 right.2 -> CF.4 -> valve.1
wire 6 valve.2 -> G1
wire 7 SF -> half.1
wire 8 half.2 -> G1
wire 9 S1 -> tell.1
wire 10 tell.2 -> G1
switch left
switch right
lamp half 2 W 24 V
lamp tell 2 W 24 V
coil valve 40 ohm rated 24 V
";
    let shared_ground = "circuit c
supply b 12 V
ground GV
fuse F1 b -> key.1 10 A
fuse F2 b -> winch.1 25 A
switch key
connector B { 1, 2 }
splice S31
splice S31a
wire 1 key.2 -> B.1 -> left.1
wire 4 left.2 -> S31
wire 6 S31a -> B.2 -> S31
wire 8 winch.2 -> S31a
wire 9 GV -> S31a
lamp left 5 W 12 V
motor winch 0.7 ohm
";
    for text in [two_feet, shared_ground] {
        let circuit = elaborate(&Beside, &source("made", text)).circuit;
        let layout = lay_out(&circuit, &|_| true, &|_, _, _| None);
        for path in &layout.links {
            let falls: Vec<f64> = path.points.windows(2).map(|p| p[1].1 - p[0].1).collect();
            let turns = falls.iter().any(|f| *f > 1e-6) && falls.iter().any(|f| *f < -1e-6);
            assert!(!turns, "{:?} in {text}", path.points);
        }
    }
}
