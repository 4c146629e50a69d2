//! What rules say: every message of the corpus to be read, and that a state is named by the fewest controls that show it.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use keyon_check::{check, rules};
use keyon_circuit::{Source, World};
use std::{fmt::Write as _, fs, path::Path, sync::Arc};

struct Beside;

impl World for Beside {
    fn library(&self, from: &str, path: &str) -> Option<Source> {
        let beside = Path::new(from).parent()?.join(path);
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../corpus/rules");
        let text = fs::read_to_string(folder.join(&beside)).ok()?;
        Some(source(beside.to_str()?, &text))
    }
}

fn source(key: &str, text: &str) -> Source {
    Source { key: key.into(), text: text.into(), parse: Arc::new(keyon_syntax::parse(text)) }
}

/// `line: level rule: message`, with what to do below.
fn said(key: &str, text: &str) -> String {
    let checked = check(&Beside, &source(key, text), &keyon_solve::Never).unwrap();
    let mut said = String::new();
    for f in &checked.findings {
        let start = checked.elaboration.span(f.loc).start as usize;
        let line = text[..start].matches('\n').count() + 1;
        let _ = writeln!(said, "{line}: {} {}: {}", f.level.words(), f.rule, f.message);
        if let Some(help) = &f.help {
            let _ = writeln!(said, "    {help}");
        }
    }
    said
}

#[test]
fn what_rules_say_of_their_wrong_examples() {
    let mut all = String::new();
    for rule in rules::all() {
        let _ = writeln!(all, "{}\n", said(&format!("{}/wrong.keyon", rule.name()), rule.wrong()));
    }
    insta::assert_snapshot!(all);
}

/// Every message says what and why: it is no mere name of the rule, and ends without a full stop, as all do.
#[test]
fn messages_are_sentences() {
    for rule in rules::all() {
        let text = rule.wrong();
        let checked =
            check(&Beside, &source(&format!("{}/wrong.keyon", rule.name()), text), &keyon_solve::Never)
                .unwrap();
        for f in &checked.findings {
            assert!(f.message.split_whitespace().count() >= 5, "{}: {}", f.rule, f.message);
            assert!(!f.message.ends_with(['.', ' ', ':']), "{}: {}", f.rule, f.message);
            assert!(!f.message.contains("  "), "{}: {}", f.rule, f.message);
        }
    }
}

/// A circuit with a key, two switches that have no say in the matter, and what is put behind the key.
fn behind_a_key(rest: &str) -> String {
    format!(
        "circuit bench \"Bench\"\nsupply battery 12.6 V\nground G1\nfuse F1 battery -> key.B 15 A\nfuse F9 battery -> aside.1 10 A\n\
         device key \"Key\" {{\n  pins B, R, S\n  positions off, run, start\n  contact B -> R closed in run, start\n  contact B -> S closed in start\n}}\n\
         unused key.S\nswitch aside \"Aside\"\nlamp other \"Other\" aside.2 -> G1 5 W 12 V\n{rest}"
    )
}

#[test]
fn a_state_is_named_by_the_fewest_controls() {
    let short = behind_a_key(
        "switch lamp_switch \"Lamp switch\" key.R -> S1\nsplice S1\nlamp work \"Work lamp\" S1 -> G1 21 W 12 V\n\
         switch by_mistake \"Test switch\" S1 -> G1\n",
    );
    let told = said("test.keyon", &short);
    assert!(
        told.contains(
            "with `key` in `run`, `lamp_switch` on and `by_mistake` on, this joins `battery` to ground"
        ),
        "{told}"
    );
    assert!(told.contains("The path: battery - F1 - key - lamp_switch - S1 - by_mistake - G1"), "{told}");

    let load = behind_a_key(
        "splice S1\nwire 1 key.R -> S1 4 mm2 RD 0.5 m\nswitch heat \"Heat switch\" S1 -> S2\nsplice S2\n\
         heater one \"Heater 1\" S2 -> G1 120 W 12 V\nheater two \"Heater 2\" S2 -> G1 60 W 12 V\n\
         switch lamp_switch \"Lamp switch\" S1 -> work.1\nlamp work \"Work lamp\" work.1 -> G1 24 W 12 V\n",
    )
    .replace(" work.1 -> G1 24 W", " 24 W")
        + "wire 2 work.2 -> G1 1.5 mm2 BK 0.5 m\n";
    let told = said("test.keyon", &load);
    assert!(
        told.contains("with `key` in `run`, `heat` on and `lamp_switch` on, `F1` carries")
            && told.contains("(`one` 10.5 A, `two` 5.23 A, `work` 2.09 A)"),
        "{told}"
    );
}
