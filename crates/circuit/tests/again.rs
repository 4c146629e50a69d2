//! What is made of the elaboration before is what a whole elaboration gives: over long rows of random edits of every circuit
//! of the corpus.

#![allow(clippy::unwrap_used, clippy::panic)]

mod common;

use common::{Texts, source};
use keyon_circuit::{Elaboration, Problem, Source, early_problems, elaborate, elaborate_after, ids::FileId};
use keyon_syntax::Edit;
use std::{fs, path::Path, sync::Arc};

/// Files of a folder of the corpus, also of those below it.
fn corpus(folder: &str) -> Vec<(String, String)> {
    let mut open = vec![Path::new(env!("CARGO_MANIFEST_DIR")).join("../../corpus").join(folder)];
    let mut all = Vec::new();
    while let Some(folder) = open.pop() {
        for path in fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()) {
            if path.is_dir() {
                open.push(path);
            } else if path.extension().is_some_and(|e| e == "keyon")
                && let Ok(text) = fs::read_to_string(&path)
            {
                all.push((path.to_str().unwrap().to_owned(), text));
            }
        }
    }
    all.sort();
    all
}

fn libraries() -> Texts {
    let parts = corpus("parts").into_iter().map(|(path, text)| {
        let name = Path::new(&path).file_name().unwrap().to_str().unwrap().to_owned();
        (format!("../parts/{name}"), text)
    });
    Texts(parts.collect())
}

/// The text after an edit, as an editor's server reads it: what the edit does not touch stays the very same.
fn again(last: &Source, text: &str) -> Source {
    let (a, b) = (last.text.as_bytes(), text.as_bytes());
    let mut start = a.iter().zip(b).take_while(|(a, b)| a == b).count();
    while !(last.text.is_char_boundary(start) && text.is_char_boundary(start)) {
        start -= 1;
    }
    let most = a.len().min(b.len()) - start;
    let mut tail = a.iter().rev().zip(b.iter().rev()).take(most).take_while(|(a, b)| a == b).count();
    while !(last.text.is_char_boundary(a.len() - tail) && text.is_char_boundary(b.len() - tail)) {
        tail -= 1;
    }
    let edit =
        Edit { start: start as u32, old_end: (a.len() - tail) as u32, new_end: (b.len() - tail) as u32 };
    let parse = keyon_syntax::reparse(&last.parse, &last.text, text, edit);
    Source { key: last.key.clone(), text: text.into(), parse: Arc::new(parse) }
}

/// All that is known of a circuit.
fn told(e: &Elaboration) -> [String; 5] {
    [
        format!("{:#?}", e.problems),
        format!("{:#?}", e.circuit),
        format!("{:?}", e.names),
        format!("{:?} {:?} {}", e.parts, e.scope, e.library),
        format!("{:?}", e.files.iter().map(|file| (&file.key, &file.text)).collect::<Vec<_>>()),
    ]
}

fn compare(name: &str, made: &Elaboration, whole: &Elaboration) {
    for (made, whole) in told(made).iter().zip(&told(whole)) {
        if made != whole {
            let differ = made.lines().zip(whole.lines()).enumerate().find(|(_, (a, b))| a != b);
            panic!("{name}: {differ:#?}");
        }
    }
}

/// Numbers that look random and are the same each time.
struct Random(u64);

impl Random {
    fn next(&mut self, most: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 % most.max(1) as u64) as usize
    }
}

/// One edit of a line such as people make: values, titles, names, remarks, lines that come and go.
fn edit(lines: &mut Vec<String>, random: &mut Random) {
    let at = random.next(lines.len());
    let line = lines[at].clone();
    let places = |wanted: fn(char) -> bool| -> Vec<usize> {
        line.char_indices().filter(|&(_, c)| wanted(c)).map(|(i, _)| i).collect()
    };
    match random.next(14) {
        0 => drop(lines.remove(at)),
        1 => lines.insert(at, line),
        2 => lines.insert(at, String::new()),
        3 => lines.insert(at, "# a remark".to_owned()),
        4 => lines[at].push_str("  # so"),
        5 => {
            let blanks = places(|c| c == ' ');
            if let Some(&place) = blanks.get(random.next(blanks.len())) {
                lines[at].insert(place, ' ');
            }
        }
        6 => {
            let quotes = places(|c| c == '"');
            if let Some(&place) = quotes.first() {
                lines[at].insert(place + 1, 'é');
            }
        }
        7 => {
            let letters = places(|c| c.is_ascii_alphabetic());
            if let Some(&place) = letters.get(random.next(letters.len())) {
                lines[at].replace_range(place..place + 1, ["k", "m", "A", "x"][random.next(4)]);
            }
        }
        8 => {
            // The unit or the word behind a number: another dimension, another prefix.
            let with =
                [("ohm", "kohm"), (" A", " V"), (" m", " mm"), ("mm2", "m"), ("low", "high"), ("W", "kW")];
            let (from, to) = with[random.next(with.len())];
            lines[at] = lines[at].replacen(from, to, 1);
        }
        _ => {
            let digits = places(|c| c.is_ascii_digit());
            if let Some(&place) = digits.get(random.next(digits.len())) {
                lines[at].replace_range(place..place + 1, ["1", "7", "55", "0"][random.next(4)]);
            }
        }
    }
}

/// How many of the edits were made without a whole elaboration.
fn edit_and_compare(name: &str, text: &str, rounds: usize, seed: u64) -> usize {
    let libraries = libraries();
    let mut random = Random(seed);
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    let mut past: Vec<Vec<String>> = Vec::new();
    let mut last = source("main", text);
    let mut known = Arc::new(elaborate(&libraries, &last));
    let mut quick = 0;
    for round in 0..rounds {
        let before = lines.clone();
        // A mistake is taken back more often than not, so that most edits meet a sound file.
        let broken = !last.parse.errors.is_empty() && random.next(4) > 0;
        if !past.is_empty() && (broken || random.next(3) == 0) || lines.is_empty() {
            lines = past.pop().unwrap();
        } else {
            edit(&mut lines, &mut random);
            past.push(before);
        }
        let text = lines.join("\n") + "\n";
        let new = again(&last, &text);
        // Somebody else may still look at the one before.
        let held = (random.next(2) == 0).then(|| (Arc::clone(&known), told(&known)));
        let mut whole = false;
        known = elaborate_after(&libraries, &new, known, |_| whole = true);
        quick += usize::from(!whole);
        compare(&format!("{name}, edit {round}"), &known, &elaborate(&libraries, &new));
        if let Some((held, told_before)) = held {
            assert!(told(&held) == told_before, "{name}, edit {round}: what is held has changed");
        }
        last = new;
    }
    quick
}

#[test]
fn an_elaboration_after_edits_is_a_whole_one() {
    let mut quick = 0;
    for (n, folder) in ["circuits", "sound", "rules"].into_iter().enumerate() {
        for (name, text) in corpus(folder).into_iter().filter(|(_, text)| !text.is_empty()) {
            let rounds = if n == 0 { 60 } else { 12 };
            quick += edit_and_compare(&name, &text, rounds, 0x9e37_79b9_7f4a_7c15 + text.len() as u64);
        }
    }
    assert!(quick > 500, "only {quick} edits were made without a whole elaboration");
}

/// Stations of one make: a fuse, a splice, a driven coil, a lamp behind an in-line connector, a sensor, a module of a part.
fn stations(count: usize) -> String {
    let mut text = String::from(
        "circuit row\nsupply battery 12.6 V inner 15 mohm range 11.0 .. 14.8 V\nground G1\nswitch key\n\
         fuse F0 battery -> key.1 100 A\nsplice S0\nwire 1 key.2 -> S0 50 mm2 RD 1 m\n\
         part unit { connector A {\n1 plus feed draws 20 mA\n2 minus ground\n3 cmd drives low on 120 mohm limit 2 A clamp\n\
         4 sense senses pull_up 2.2 kohm to 5 V\n5 spare senses\n} }\n",
    );
    for n in 1..=count {
        text += &format!(
            "fuse F{n} S0 -> S{n} 10 A\nsplice S{n} where \"station {n}\"\ncoil valve{n} \"Valve {n}\" {} ohm rated 12 V\n\
             connector C{n} {{ 1, 2 }}\nlamp lamp{n} 10 W 12 V\nthermistor temp{n} 2.5 kohm at 25 degC beta 3500 K span -20 .. 90 degC\n\
             module U{n} : unit\nwire {n}01 S{n} -> valve{n}.1 0.75 mm2 OG 2.1 m\nwire {n}02 valve{n}.2 -> U{n}.A.3 0.75 mm2 OG/BK 2.5 m\n\
             wire {n}03 S{n} -> U{n}.A.1 1 mm2 RD 1.5 m\nwire {n}04 U{n}.A.2 -> G1 1 mm2 BK 1.5 m\nwire {n}05 S{n} -> C{n}.1 1 mm2 VT 1.5 m\n\
             wire C{n}.1 -> lamp{n}.1 1 mm2 VT 1.5 m\nwire {n}06 lamp{n}.2 -> C{n}.2 -> G1 1 mm2 BK 1.5 m\n\
             wire {n}07 temp{n}.1 -> U{n}.A.4 0.5 mm2 YE 1.5 m\nwire {n}08 temp{n}.2 -> G1 0.5 mm2 BN 1.5 m\n",
            20 + n % 7
        );
    }
    text + "scenario on { key on, cmd1 on }\nexpect in on { valve1 operates }\n"
}

#[test]
fn a_large_circuit_is_too() {
    let text = stations(60);
    let parse = keyon_syntax::parse(&text);
    assert!(parse.errors.is_empty(), "{:?}", parse.errors);
    let quick = edit_and_compare("stations", &text, 80, 0x2545_f491_4f6c_dd1d);
    assert!(quick > 10, "only {quick} edits were made without a whole elaboration");
}

/// A text in which every sort of item stands that has values, and one edit of each.
#[test]
fn values_alone_take_no_whole_elaboration() {
    let text = r#"circuit values
supply battery 12.6 V inner 15 mohm
ground G1 2 mohm
switch key
fuse F1 battery -> key.1 10 A
splice S1 where "left"
connector C1 "two" { 1, 2 }
wire 1 key.2 -> S1 1.5 mm2 RD 2.5 m
wire 2 S1 -> C1.1 1.5 mm2 RD 2.25 m
wire 3 C1.1 -> lamp1.1 1.5 mm2 RD 2.125 m
wire lamp1.2 -> G1 0.75 mm2 BK 1.3 m
lamp lamp1 "Lamp" 21 W 12 V
device valve1 "Valve" : valve(coil = 23 ohm)
wire 5 S1 -> valve1.1 1.5 mm2 RD 1.7 m
wire 6 valve1.2 -> U1.A.3 1.5 mm2 RD 1.9 m
wire 7 S1 -> U1.A.1 1.5 mm2 RD 1.11 m
wire 8 U1.A.2 -> G1 1.5 mm2 RD 1.13 m
thermistor temp1 3.3 kohm at 25 degC beta 3500 K span -20 .. 90 degC
wire 9 temp1.1 -> U1.A.4 1.5 mm2 RD 1.17 m
wire 10 temp1.2 -> G1 1.5 mm2 RD 1.19 m
elsewhere "cab" 3 A S1
module U1 "Unit" {
  connector A "four" {
    1 plus feed draws 31 mA
    2 minus ground
    3 cmd drives low on 120 mohm limit 2.2 A clamp
    4 sense senses pull_up 2.7 kohm to 5 V
  }
}
part valve(coil: resistance = 24 ohm) "Valve" {
  pins 1, 2
  coil 1 -> 2 coil rated 12 V
}
scenario on { key on, cmd on }
expect in on { valve1 operates }
"#;
    let edits = [
        ("2 mohm", "20 mohm"),
        ("10 A", "15 A"),
        ("2.5 m", "20.5 m"),
        ("2.25 m", "9 m"),
        ("2.125 m", "1 m # shorter"),
        ("1.3 m", "1.33 m"),
        ("0.75 mm2", "AWG 18"),
        ("21 W", "5 W"),
        ("\"Lamp\"", "\"Working lamp\""),
        ("23 ohm", "230 ohm"),
        ("3.3 kohm", "3.4 kohm"),
        ("3 A S1", "3.5 A S1"),
        ("31 mA", "35 mA"),
        ("120 mohm", "125 mohm"),
        ("2.2 A", "3 A"),
        ("2.7 kohm", "2700 ohm"),
        ("1.7 m\n", "999999 m\n"),
        ("\nscenario", "\n# a remark\n\nscenario"),
        ("where \"left\"", "where \"right\""),
        ("{ 1, 2 }", "{ 1,  2 }"),
    ];
    let libraries = libraries();
    for (from, to) in edits {
        let before = source("main", text);
        assert!(before.parse.errors.is_empty(), "{:?}", before.parse.errors);
        let known = Arc::new(elaborate(&libraries, &before));
        assert!(text.contains(from), "{from}");
        let new = again(&before, &text.replacen(from, to, 1));
        let mut whole = false;
        let made = elaborate_after(&libraries, &new, known, |_| whole = true);
        compare(from, &made, &elaborate(&libraries, &new));
        assert!(!whole, "{from} -> {to} took a whole elaboration");
    }
}

#[test]
fn what_may_change_more_is_elaborated_whole() {
    let text = "circuit c\nsupply battery 12.6 V\nground G1\nlamp a battery -> G1 5 W 12 V\nlamp b a.2 -> G1 5 W 12 V\n";
    let libraries = libraries();
    for (from, to) in [("12.6 V", "24 V"), ("lamp b", "lamp c"), ("a.2", "a.1"), ("lamp b", "lamp b \"")] {
        let before = source("main", text);
        let known = Arc::new(elaborate(&libraries, &before));
        let new = again(&before, &text.replacen(from, to, 1));
        let mut whole = false;
        let made = elaborate_after(&libraries, &new, known, |_| whole = true);
        compare(from, &made, &elaborate(&libraries, &new));
        assert!(whole, "{from} -> {to}");
    }
}

/// The items in which two versions differ: a range of the later one's.
fn touched(old: &Source, new: &Source) -> std::ops::Range<usize> {
    let text = |source: &Source, at: usize| {
        let placed = &source.parse.file.items[at];
        source.text[placed.item.span.moved(placed.start).range()].to_owned()
    };
    let (was, is) = (old.parse.file.items.len(), new.parse.file.items.len());
    let most = was.min(is);
    let before = (0..most).take_while(|&at| text(old, at) == text(new, at)).count();
    let after = (1..=most - before).take_while(|&at| text(old, was - at) == text(new, is - at)).count();
    before..is - after
}

/// What is told early of random edits, against what the whole finds in the same items: how often anything was told, how often it
/// was the very same, and what was told that the whole does not find.
fn early_against_whole(text: &str, rounds: usize, seed: u64) -> (usize, usize, Vec<String>) {
    let libraries = libraries();
    let mut random = Random(seed);
    let mut last = source("main", text);
    let mut known = elaborate(&libraries, &last);
    let (mut told, mut right, mut wrong) = (0, 0, Vec::new());
    for _ in 0..rounds {
        let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
        edit(&mut lines, &mut random);
        let new = again(&last, &(lines.join("\n") + "\n"));
        let items = touched(&last, &new);
        let early = early_problems(&libraries, &new, &known, items.clone());
        let whole = elaborate(&libraries, &new);
        if let Some(early) = early {
            let here = |p: &&Problem| p.loc.file == FileId(0) && items.contains(&(p.loc.item as usize));
            let words = |p: &Problem| format!("{} {:?} {} {:?}", p.rule, p.loc, p.message, p.help);
            let early: Vec<String> = early.iter().map(words).collect();
            let late: Vec<String> = whole.problems.iter().filter(here).map(words).collect();
            told += 1;
            right += usize::from(early == late);
            wrong.extend(early.into_iter().filter(|one| !late.contains(one)));
        }
        (last, known) = (new, whole);
    }
    (told, right, wrong)
}

#[test]
fn what_is_told_early_is_what_the_whole_finds() {
    let (mut told, mut right, mut wrong) = (0, 0, Vec::new());
    let corpus = corpus("circuits").into_iter().chain(corpus("sound")).map(|(_, text)| text);
    for text in corpus.chain([stations(20)]).filter(|text| !text.is_empty()) {
        let (t, r, w) = early_against_whole(&text, 40, 0x9e37_79b9 + text.len() as u64);
        (told, right) = (told + t, right + r);
        wrong.extend(w);
    }
    assert!(told > 500, "told {told} times");
    // What is missing comes with the whole; nothing is told that has to be taken back.
    assert!(right * 100 >= told * 99, "right {right} of {told} times");
    assert!(wrong.is_empty(), "{told} times, and wrong: {wrong:#?}");
}
