//! No word is reserved: every word of the language can name whatever has a name.
#![allow(missing_docs, clippy::unwrap_used)]

use keyon_syntax::{fmt::format, parse};

/// The words of the published grammar stand in it between quotes.
const GRAMMAR: &str = include_str!("../../../grammar/keyon.ebnf");

/// Words that the grammar has by their kind: units, colours, kinds of question, positions.
const MORE: &[&str] =
    &["V", "A", "W", "m", "ohm", "K", "Hz", "mm2", "AWG", "BK", "RD", "x", "off", "path", "volts", "author"];

fn words() -> Vec<&'static str> {
    let quoted = GRAMMAR.split('"');
    let plain = |word: &&str| !word.is_empty() && word.bytes().all(|b| b.is_ascii_alphabetic() || b == b'_');
    let mut all: Vec<&str> = quoted.filter(plain).chain(MORE.iter().copied()).collect();
    all.sort_unstable();
    all.dedup();
    assert!(all.len() > 160 && all.contains(&"energised"), "{all:?}");
    all
}

/// Every place where a name is expected, with `@` for it.
const PLACES: &[&str] = &[
    "circuit @ \"T\"",
    "use \"a.keyon\" as @",
    "supply @ 12 V inner 5 mohm",
    "supply @ \"T\" 12 V negative @ live in @ @",
    "ground @ \"T\" sealed",
    "ground @",
    "splice @ \"T\" shared by @, b",
    "connector @ \"T\" { @, 2 }",
    "wire @ @ -> @ 0.75 mm2 RD 1 m",
    "wire @ \"T\" @.1 -> @ -> c.@",
    "wire @ -> @",
    "fuse @ @ -> @ 5 A",
    "fuse @ \"T\" a -> @.1 5 A sealed",
    "breaker @ @.1 -> b 5 A",
    "lamp @ \"T\" 5 W 12 V",
    "lamp @ 5 W 12 V hazard \"hot\"",
    "lamp @ @ -> @ 5 W 12 V",
    "resistor @ 5 ohm",
    "coil @ 90 ohm pulls_in 0.1 A",
    "motor @ \"T\" 6 ohm runs 1 A moves",
    "thermistor @ 2 kohm at 25 degC beta 3500 K",
    "variable @ 0 .. 10 kohm span 0 .. 100 %",
    "diode @ drop 0.7 V",
    "diode @ @ -> @ drop 0.7 V",
    "switch @ \"T\"",
    "switch @",
    "switch @ @ -> @ positions @, b closed in @",
    "control @ positions @, b",
    "variant @ \"T\"",
    "elsewhere \"T\" 3 A @",
    "view @",
    "unused @, @.1",
    "device @ \"T\" : @",
    "device @ : @.@(@ = 5 ohm)",
    "part @(a: resistance = 5 ohm) \"T\" {\n  pins 1, 2\n  coil 1 -> 2 a\n}",
    "device @ {\n  pins @, B\n  positions @, run\n  contact @ -> B closed in @\n  contact @ @ -> B open in @\n}",
    "device @ {\n  pins @, B unused\n  coil @ @ -> B 90 ohm\n  coil k B -> @ 90 ohm\n  diode @ @ -> B drop 0.7 V\n  unused @\n}",
    "device @ {\n  pins @, B\n  changeover @ -> (rest @, active B) when @ energised\n  changeover @ @ -> (rest B, active @) in @\n}",
    "device @ {\n  pins @, B\n  track @ @ -> B wiper @ 5 kohm\n  grade @ { @ }\n}",
    "module @ \"T\" {\n  connector @ \"T\" {\n    @  @  feed\n    2  @  drives low to @\n    3  @  switches { @, @ }\n    4  @  bus @\n    5  @  senses pull_up 2 kohm to @\n  }\n  gang @ \"T\" {\n    @  @ @\n  }\n}",
    "module @ : @ uses @, @.1",
    "scenario @ \"T\" { a @, @ 25 degC }",
    "scenario @ {\n  a @\n  jumper @ to @\n  load @ to @ 5 W 12 V\n  unplug @\n  pull @\n}",
    "expect in @ {\n  @ operates\n  @ 12 V\n  @ 1 .. 2 V\n  @ below 0.4 V with a @\n  @ to @ 5 V\n}",
    "exercise @ \"T\" in @ {\n  fault open @\n  symptom @ rests\n  probes @, b\n  ask volts @\n}",
    "exercise @ in @ {\n  fault stuck @ @\n}",
    "readings @ \"T\" in @ {\n  @ 12 V\n  @ operates\n}",
    "readings in @ {\n  a 12 V\n}",
    "about {\n  @ \"T\"\n}",
];

/// A word of the same length that means nothing.
fn neutral(word: &str) -> String {
    "q".repeat(word.len())
}

/// The tree of `places` with `word` in each, written with the neutral word in its place wherever it stands.
fn tree(places: &[&str], word: &str, like: &str) -> (String, String, Vec<String>) {
    let text = places.join("\n\n").replace('@', word) + "\n";
    let parse = parse(&text);
    let errors = parse.errors.iter().map(|e| {
        let line = text[..e.span.start as usize].matches('\n').count();
        format!("{}: {}", text.lines().nth(line).unwrap_or_default(), e.message)
    });
    let errors = errors.collect();
    (format!("{:?}", parse.file).replace(like, &neutral(like)), text, errors)
}

#[test]
fn every_word_names_everything() {
    let mut wrong = Vec::new();
    for word in words() {
        let check = |places: &[&str]| {
            let (found, text, errors) = tree(places, word, word);
            let (wanted, ..) = tree(places, &neutral(word), word);
            let formatted = format(&text);
            let sound =
                found == wanted && parse(&formatted).errors.is_empty() && format(&formatted) == formatted;
            if errors.is_empty() && sound { Ok(()) } else { Err(errors) }
        };
        if check(PLACES).is_err() {
            for place in PLACES {
                if let Err(errors) = check(&[place]) {
                    wrong.push(format!("{word}: {place:?} {errors:?}"));
                }
            }
        }
    }
    let known =
        |line: &String| KNOWN.iter().any(|(word, place)| line.starts_with(&format!("{word}: {place:?}")));
    wrong.retain(|line| !known(line));
    assert!(wrong.is_empty(), "{}\n{}", wrong.len(), wrong.join("\n"));
}

/// Where a word cannot be a name, since the line already says something else.
const KNOWN: &[(&str, &str)] = &[];
