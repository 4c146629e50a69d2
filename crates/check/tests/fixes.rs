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

const TWO_RELAYS: &str = "\
circuit two \"Two relays of one part\"
supply battery 12.6 V
ground G1
fuse F1 battery -> S1 10 A
splice S1
switch sa
switch sb
wire 1 S1 -> sa.1 1 mm2 RD 1 m
wire 2 S1 -> sb.1 1 mm2 BU 1 m
wire 5 sa.2 -> K1.1 1 mm2 GY 1 m
wire 6 K1.2 -> G1 1 mm2 BK 1 m
wire 7 sb.2 -> K2.2 1 mm2 GY 1 m
wire 8 K2.1 -> G1 1 mm2 BK 1 m
device K1 : valve
device K2 : valve
part valve {
  pins 1, 2
  coil 1 -> 2 90 ohm rated 12 V
  diode 2 -> 1 drop 0.7 V
}
";

/// A part that is right for one of its uses is not turned round for the other; one that is wrong for both is.
#[test]
fn a_part_is_turned_where_that_mends_more_than_it_spoils() {
    assert!(look("a/a.keyon", TWO_RELAYS).findings.iter().any(|f| f.rule == "reversed-suppression"));
    assert!(mend("a/a.keyon", TWO_RELAYS, Which::All).texts.is_empty());
    let both = TWO_RELAYS.replace("-> K1.1", "-> K1.2").replace("6 K1.2", "6 K1.1");
    let mended = mend("a/a.keyon", &both, Which::All);
    assert!(mended.texts["a/a.keyon"].contains("diode 1 -> 2 drop"), "{mended:?}");
}

/// A line that stands twice is taken out once.
#[test]
fn a_line_that_stands_twice_is_taken_out() {
    let sound = TWO_RELAYS.replace("-> K2.2", "-> K2.1").replace("8 K2.1", "8 K2.2");
    for line in
        sound.lines().filter(|l| ["wire 5", "fuse", "splice", "switch sa"].iter().any(|w| l.starts_with(w)))
    {
        let twice = sound.replace(&format!("{line}\n"), &format!("{line}\n{line}\n"));
        let found = look("a/a.keyon", &twice).findings;
        assert_eq!(
            found.iter().filter(|f| f.level > keyon_check::Level::Hint).count(),
            1,
            "{line}: {found:?}"
        );
        let mended = mend("a/a.keyon", &twice, Which::All);
        assert_eq!(&*mended.texts["a/a.keyon"], &sound, "{line}");
    }
}
