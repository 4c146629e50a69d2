//! Changes of the text that leave the circuit as it is.

use crate::fixture::Fixture;
use keyon_ide::{Refactor, refactors};
use keyon_solve::State;
use std::collections::BTreeMap;

fn offered(fixture: &Fixture) -> Vec<Refactor> {
    fixture.view(|view| refactors(view, fixture.offset))
}

fn one(marked: &str, title: &str) -> String {
    let fixture = Fixture::new(marked);
    let all = offered(&fixture);
    let found = all.iter().find(|r| r.title.contains(title)).unwrap_or_else(|| panic!("{title} in {all:?}"));
    fixture.after(&found.edits)
}

const HEAD: &str = "circuit a\n\nsupply battery 12 V\nground G1\nswitch arm\nfuse F1 battery -> arm.1 10 A\n";

#[test]
fn equal_bodies_become_one_part() {
    let relay =
        "{\n  pins 30, 85, 86, 87\n  coil K 86 -> 85 90 ohm\n  contact 30 -> 87 closed when K energised\n}";
    let text = format!(
        "{HEAD}## The horn's.\ndevice K|1 \"Horn {{relay\" where \"left }} of it\" {relay}\ndevice K2 {relay}\n\nlamp k1_part 5 W 12 V\n"
    );
    assert_eq!(
        one(&text, "make the body of K1 a part, also for K2"),
        format!(
            "{HEAD}part k1_part2 \"Horn {{relay\" {relay}\n\n## The horn's.\ndevice K1 \"Horn {{relay\" : k1_part2 where \"left }} of it\"\ndevice K2 : k1_part2\n\nlamp k1_part 5 W 12 V\n"
        )
    );
}

#[test]
fn a_modules_body_becomes_a_part_of_which_all_is_used() {
    let body = "{\n  connector A {\n    1  bplus  feed\n    2  gnd  ground\n    3  unused\n    4  out  drives low\n  }\n}";
    let text = format!("{HEAD}module C|U \"Unit\" {body}\n");
    assert_eq!(
        one(&text, "make the body of CU a part"),
        format!(
            "{HEAD}part cu_part \"Unit\" {body}\n\nmodule CU \"Unit\" : cu_part uses A.1, A.2, A.3, A.4\n"
        )
    );
    assert!(offered(&Fixture::new(&text.replace("C|U", "CU").replace("feed", "fe|ed"))).is_empty());
}

#[test]
fn a_net_gets_a_splice_for_a_name() {
    let text = format!(
        "{HEAD}lamp l 5 W 12 V\nlamp m 5 W 12 V\nwire 1 arm.|2 -> l.1 1 mm2 RD\nwire 2 arm.2 -> m.1\nwire 3 l.2 -> G1\nwire 4 m.2 -> G1\n"
    );
    assert_eq!(
        one(&text, "name this net"),
        format!(
            "{HEAD}lamp l 5 W 12 V\nlamp m 5 W 12 V\nwire 1 S1 -> l.1 1 mm2 RD\nsplice S1\nwire S1 -> arm.2\nwire 2 S1 -> m.1\nwire 3 l.2 -> G1\nwire 4 m.2 -> G1\n"
        )
    );
    let lone = text.replace("wire 2 arm.2", "wire 2 arm.1");
    assert!(offered(&Fixture::new(&lone)).iter().all(|r| !r.title.contains("net")));
}

#[test]
fn a_wire_gets_the_next_number() {
    let text = format!(
        "{HEAD}lamp l 5 W 12 V\nwire 7 arm.2 -> l.1\nwire 8 l.2 -> G1\nlamp m 5 W 12 V\nwi|re arm.2 -> m.1\nwire 9 m.2 -> G1\n"
    );
    assert!(one(&text, "number this wire 10").contains("\nwire 10 arm.2 -> m.1\n"));
}

#[test]
fn a_scenario_is_declared_from_what_is_shown() {
    let text = format!("{HEAD}lamp l 5 W 12 V\nwire 7 a|rm.2 -> l.1\nwire 8 l.2 -> G1\n");
    let expected = text.replace('|', "");
    assert_eq!(
        one(&text, "with arm on"),
        format!("{expected}\nscenario arm_on {{ arm on }}\n").replace("G1\n\ns", "G1\n\ns")
    );
    let text = format!(
        "{HEAD}switch aux\nscenario lit {{\n  arm on\n  battery 11 V, pull F1\n}}\nfuse F2 battery -> a|ux.1 10 A\n"
    );
    let after = one(&text, "with aux on");
    assert!(after.contains("}\nscenario aux_on { arm on, battery 11 V, aux on, pull F1 }\nfuse"), "{after}");
    let text = text.replace("a|ux.1", "aux.1").replace("battery -> arm.1", "battery -> ar|m.1");
    let after = one(&text, "with arm off");
    assert!(after.contains("scenario arm_off { battery 11 V, pull F1 }\n"), "{after}");
}

/// What a circuit does, in all its scenarios: states of devices and volts of the points that both have.
fn does(fixture: &Fixture) -> BTreeMap<String, String> {
    let circuit = &fixture.elaboration.circuit;
    let mut out = BTreeMap::new();
    let mut states = vec![("at rest".to_owned(), State::rest(circuit))];
    for (id, scenario) in circuit.scenarios.iter().enumerate() {
        states.push((scenario.name.to_string(), State::scenario(circuit, id.into())));
    }
    for (name, state) in states {
        let solution = keyon_solve::solve(circuit, &state);
        for (device, state) in circuit.devices.iter().zip(&solution.devices) {
            out.insert(format!("{name}: {}", device.name), state.state.words().to_owned());
        }
        for (point, volts) in circuit.points.iter().zip(&solution.volts) {
            if let Some(volts) = volts {
                out.insert(format!("{name}: {}", point.name), format!("{volts:.6}"));
            }
        }
    }
    out
}

/// The files of a folder of the corpus and of the folders in it.
fn files(folder: &str) -> Vec<String> {
    let corpus = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../corpus");
    let mut found = Vec::new();
    for entry in std::fs::read_dir(corpus.join(folder)).unwrap() {
        let name = format!("{folder}/{}", entry.unwrap().file_name().into_string().unwrap());
        if corpus.join(&name).is_dir() {
            found.extend(files(&name));
        } else if name.ends_with(".keyon") {
            found.push(name);
        }
    }
    found.sort();
    found
}

/// Errors and warnings, by rule. A scenario that was only just declared is used by nothing yet; a splice takes two wires
/// out of one cavity, and a number is a name for what had none.
fn blamed(fixture: &Fixture) -> Vec<&'static str> {
    let findings =
        keyon_check::findings(&fixture.elaboration, &keyon_check::Settings::default(), &keyon_solve::Never)
            .unwrap();
    let severe = findings.iter().filter(|f| f.level != keyon_check::Level::Hint && f.rule != "unused-name");
    let mut rules: Vec<_> = severe.map(|f| f.rule).filter(|rule| *rule != "double-cavity").collect();
    rules.sort_unstable();
    rules
}

#[test]
fn every_change_offered_in_the_corpus_leaves_what_the_circuit_does() {
    let mut made = BTreeMap::<&str, usize>::new();
    for name in ["circuits", "sound", "defects", "rules"].into_iter().flat_map(files) {
        let fixture = Fixture::corpus(&name, "\n");
        let before = does(&fixture);
        let rules = blamed(&fixture);
        let mut seen = Vec::new();
        let text = fixture.text().to_owned();
        let tokens =
            keyon_syntax::lexer::tokens(&text).into_iter().filter(|token| token.kind.is_significant());
        for offset in tokens.map(|token| token.span.start) {
            for refactor in fixture.view(|view| refactors(view, offset)) {
                if seen.iter().any(|(_, edits)| *edits == refactor.edits) {
                    continue;
                }
                let title = &refactor.title;
                let word =
                    ["make", "name", "number", "declare"].into_iter().find(|word| title.starts_with(word));
                let word = word.unwrap();
                // A few of each kind in each file: the rest would be more of the same.
                if seen.iter().filter(|(known, _)| *known == word).count() >= 2 {
                    continue;
                }
                *made.entry(word).or_default() += 1;
                let new = fixture.after(&refactor.edits);
                let after = fixture.with(&new);
                let does = does(&after);
                for (what, how) in &before {
                    // The ends of a wire are called by its number.
                    if word == "number" && !does.contains_key(what) {
                        continue;
                    }
                    assert_eq!(does.get(what), Some(how), "{name}: {title}: {what}\n{new}");
                }
                // What a scenario brings to light was there before.
                if word != "declare" {
                    assert_eq!(blamed(&after), rules, "{name}: {title}\n{new}");
                }
                seen.push((word, refactor.edits));
            }
        }
    }
    assert!(["make", "name", "number", "declare"].iter().all(|word| made.get(word) > Some(&1)), "{made:?}");
}
