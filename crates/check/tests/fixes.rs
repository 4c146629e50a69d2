//! The fixes of every finding of the rule corpus: what they do, and that they do no harm.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use keyon_check::{
    Checked, Finding, Settings, check,
    fix::{self, Which},
    rules,
};
use keyon_circuit::{Fix, Source, World};
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

fn look(key: &str, text: &str) -> Checked {
    check(&Beside, &source(key, text), &keyon_solve::Never).unwrap()
}

fn mend(key: &str, text: &str, which: Which) -> fix::Mended {
    let may_edit = |key: &str| key.contains('/');
    fix::mend(&Beside, &source(key, text), &Settings::default(), which, &may_edit, &keyon_solve::Never)
        .unwrap()
}

/// The text of a file after one fix.
fn after(checked: &Checked, fix: &Fix) -> String {
    let mut texts = fix::edited(&checked.elaboration, [fix]);
    assert_eq!(texts.keys().collect::<Vec<_>>(), [&0], "`{}` edits the circuit's own file", fix.title);
    texts.remove(&0).unwrap()
}

/// How often a finding says just this.
fn count(checked: &Checked, like: &Finding) -> usize {
    checked.findings.iter().filter(|f| f.rule == like.rule && f.message == like.message).count()
}

/// Rules with the key and the text of their wrong example.
fn wrong() -> impl Iterator<Item = (&'static str, String, &'static str)> {
    rules::all().map(|rule| (rule.name(), format!("{}/wrong.keyon", rule.name()), rule.wrong()))
}

/// Slips of the pen, each line by itself in an otherwise sound circuit.
const SLIPS: &[&str] = &[
    "lamp work \"Work lamp\" S1 -> G1 21 W 12 v",
    "lamp work \"Work lamp\" S1 -> G1 21 W 12,5 V",
    "Lamp work \"Work lamp\" S1 -> G1 21 W 12 V",
    "lamp work “Work lamp” S1 -> G1 21 W 12 V",
    "lamp work \"Work lamp\" S1 → G1 21 W 12 V",
    "resistor dropper \"Dropper\" S1 -> G1 2k2",
    "resistor dropper \"Dropper\" S1 -> G1 470 Ohm",
    "heater mat \"Mat\" S1 -> G1 60 W 12 V,",
];

fn with_slip(line: &str) -> String {
    format!(
        "circuit bench \"Bench\"\n\nsupply psu 12.6 V limit 5 A\nground G1\nfuse F1 psu -> main.1 10 A\n\
         switch main \"Main switch\" main.2 -> S1\nsplice S1\n{line}\nlamp tell \"Tell-tale\" S1 -> G1 2 W 12 V\n"
    )
    .replace("\"Main switch\" main.2 -> S1", "\"Main switch\" positions off, on")
    .replace("psu -> main.1 10 A", "psu -> main.1 10 A\nwire 1 main.2 -> S1 2.5 mm2 RD 0.2 m")
}

/// After a safe fix its finding is gone, and no other has come.
#[test]
fn safe_fixes_do_no_harm() {
    let slips = SLIPS.iter().map(|line| ("syntax", "slip/slip.keyon".to_owned(), with_slip(line)));
    let corpus = wrong().map(|(rule, key, text)| (rule, key, text.to_owned()));
    let mut made = 0;
    for (rule, key, text) in corpus.chain(slips) {
        let before = look(&key, &text);
        for finding in &before.findings {
            for fix in finding.fixes.iter().filter(|fix| fix.safe) {
                let mended = after(&before, fix);
                let now = look(&key, &mended);
                assert!(
                    count(&now, finding) < count(&before, finding),
                    "{key}: `{}` leaves it\n{mended}",
                    fix.title
                );
                for other in &now.findings {
                    assert!(
                        count(&now, other) <= count(&before, other),
                        "{key}: `{}` brings {}: {}\n{mended}",
                        fix.title,
                        other.rule,
                        other.message
                    );
                }
                made += 1;
            }
        }
        assert!(rule != "syntax" || key == "syntax/wrong.keyon" || !before.findings.is_empty(), "{text}");
    }
    assert!(made >= SLIPS.len(), "{made} safe fixes");
}

#[test]
fn slips_of_the_pen_are_mended_without_asking() {
    for line in SLIPS {
        let text = with_slip(line);
        let mended = mend("slip/slip.keyon", &text, Which::Safe);
        let now = mended.texts.get("slip/slip.keyon").unwrap_or_else(|| panic!("{line}: nothing mended"));
        let left: Vec<_> = look("slip/slip.keyon", now).findings.iter().map(|f| f.message.clone()).collect();
        assert!(left.is_empty(), "{line}\n{now}\n{left:#?}");
    }
}

/// A fix that somebody has to agree to leaves a text that reads, and takes its finding away.
#[test]
fn fixes_to_review_do_what_they_say() {
    for (_, key, text) in wrong() {
        let before = look(&key, text);
        for finding in &before.findings {
            for fix in finding.fixes.iter().filter(|fix| !fix.safe) {
                let mended = after(&before, fix);
                let now = look(&key, &mended);
                assert!(
                    count(&now, finding) < count(&before, finding),
                    "{key}: `{}` leaves it\n{mended}",
                    fix.title
                );
                let slips = |checked: &Checked| {
                    checked
                        .findings
                        .iter()
                        .filter(|f| matches!(f.rule, "syntax" | "unknown-name" | "duplicate-name"))
                        .count()
                };
                assert!(slips(&now) <= slips(&before), "{key}: `{}`\n{mended}", fix.title);
            }
        }
    }
}

/// What each fix of the corpus does, to be read.
#[test]
fn what_fixes_do() {
    let mut told = String::new();
    for (_, key, text) in wrong() {
        let before = look(&key, text);
        for finding in &before.findings {
            for fix in &finding.fixes {
                let safe = if fix.safe { "safe" } else { "to review" };
                let _ = writeln!(told, "{key}: {}: {} ({safe})", finding.rule, fix.title);
                let mended = after(&before, fix);
                let (old, new): (Vec<&str>, Vec<&str>) = (text.lines().collect(), mended.lines().collect());
                old.iter()
                    .filter(|line| !new.contains(line))
                    .for_each(|line| told += &format!("  - {line}\n"));
                new.iter()
                    .filter(|line| !old.contains(line))
                    .for_each(|line| told += &format!("  + {line}\n"));
            }
        }
    }
    insta::assert_snapshot!(told);
}

/// Mending comes to an end, leaves nothing that it could still do, and does the same each time.
#[test]
fn mending_comes_to_rest() {
    for (_, key, text) in wrong() {
        for which in [Which::Safe, Which::All] {
            let once = mend(&key, text, which);
            let text = once.texts.get(key.as_str()).map_or(text, |text| &**text);
            let twice = mend(&key, text, which);
            assert_eq!(twice.made, [], "{key}: {which:?}");
        }
    }
}

/// Line ends and a byte order mark stay what they are.
#[test]
fn line_ends_stay() {
    for (_, key, text) in wrong() {
        let plain = mend(&key, text, Which::All);
        let dos = format!("\u{feff}{}", text.replace('\n', "\r\n"));
        let mended = mend(&key, &dos, Which::All);
        let titles = |mended: &fix::Mended| mended.made.iter().map(|m| m.title.clone()).collect::<Vec<_>>();
        assert_eq!(titles(&mended), titles(&plain), "{key}");
        let plain =
            plain.texts.get(key.as_str()).map(|text| format!("\u{feff}{}", text.replace('\n', "\r\n")));
        assert_eq!(mended.texts.get(key.as_str()).map(|text| text.to_string()), plain, "{key}");
    }
}
