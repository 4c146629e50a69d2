//! JUnit XML: a suite a file, a case for each row of its `expect` blocks, and a failing case for each finding.
//!
//! There is no standard, only habits; the shape here satisfies the schemas that are in use (they want the host, the time
//! and an output in each suite, and a property). Times are zero and the moment is the epoch: the same input gives the
//! same bytes.

use super::{CheckReport, CheckedFile, ExpectationCase, Placed};
use keyon_check::{Level, Verdict};
use std::{
    collections::{BTreeMap, BTreeSet},
    fmt::Write,
};

const EXPECTATION: &str = "expectation-failed";

/// One case of a suite.
struct Case {
    name: String,
    class: String,
    outcome: Outcome,
}

enum Outcome {
    Passed,
    Skipped(String),
    /// Kind and message, and what more there is to say.
    Failed(String, String, String),
    Broken(String),
}

/// The report; findings of at least this level fail.
pub fn junit(report: &CheckReport, fails_from: Level) -> String {
    let mut by_file: BTreeMap<&str, Vec<&Placed>> = BTreeMap::new();
    for finding in &report.findings {
        by_file.entry(finding.at.file.as_str()).or_default().push(finding);
    }
    let mut suites: Vec<(String, Vec<Case>)> = Vec::new();
    let mut named: BTreeSet<&str> = BTreeSet::new();
    for file in &report.files {
        named.insert(&file.name);
        let findings = by_file.get(file.name.as_str()).map_or(&[][..], Vec::as_slice);
        suites.push((file.name.clone(), cases(file, findings, fails_from)));
    }
    // Libraries and settings that were not named.
    for (name, findings) in by_file.iter().filter(|(name, _)| !named.contains(*name)) {
        let file = CheckedFile { name: (*name).to_owned(), circuit: None, expectations: Vec::new() };
        suites.push((file.name.clone(), cases(&file, findings, fails_from)));
    }
    if !report.complaints.is_empty() {
        let broken = |complaint: &String| Case {
            name: "could not be read".to_owned(),
            class: "keyon".to_owned(),
            outcome: Outcome::Broken(complaint.clone()),
        };
        suites.push(("keyon".to_owned(), report.complaints.iter().map(broken).collect()));
    }
    written(&suites)
}

fn cases(file: &CheckedFile, findings: &[&Placed], fails_from: Level) -> Vec<Case> {
    let class = file.circuit.clone().unwrap_or_else(|| file.name.clone());
    let mut cases = Vec::new();
    let names = names(&class, &file.expectations);
    for (case, name) in file.expectations.iter().zip(names) {
        let where_it_is = format!("{}:{}: {}", file.name, case.line, case.text);
        let outcome = match &case.verdict {
            Verdict::Holds(_) => Outcome::Passed,
            Verdict::Silenced(got) => {
                Outcome::Skipped(format!("does not hold, and is silenced: computed {got}"))
            }
            Verdict::Unknown => {
                Outcome::Skipped("what it looks at hangs on something that could not be read".to_owned())
            }
            Verdict::Fails(got) => Outcome::Failed(
                EXPECTATION.to_owned(),
                format!("`{}`: computed {got}", case.text),
                where_it_is,
            ),
            Verdict::Refused(why) => Outcome::Failed(
                EXPECTATION.to_owned(),
                format!("`{}` cannot be judged: {why}", case.text),
                where_it_is,
            ),
        };
        cases.push(Case { name, class: class.clone(), outcome });
    }
    // A row that fails has its case already.
    let rows: BTreeSet<usize> = file.expectations.iter().map(|case| case.line).collect();
    let mut clean = true;
    for finding in findings.iter().filter(|f| f.level >= fails_from) {
        if finding.rule == EXPECTATION && rows.contains(&finding.at.line) {
            continue;
        }
        clean = false;
        let place = format!("{}:{}:{}", file.name, finding.at.line, finding.at.column);
        let mut more = format!("{place}: {}[{}]: {}", finding.level.words(), finding.rule, finding.message);
        if let Some(help) = &finding.help {
            let _ = write!(more, "\nhelp: {help}");
        }
        for (at, word) in &finding.related {
            let _ = write!(more, "\n{}:{}:{}: {word}", at.file, at.line, at.column);
        }
        cases.push(Case {
            name: format!("{class}/{} at {}:{}", finding.rule, finding.at.line, finding.at.column),
            class: class.clone(),
            outcome: Outcome::Failed(finding.rule.clone(), finding.message.clone(), more),
        });
    }
    if clean {
        cases.push(Case { name: format!("{class}/findings"), class, outcome: Outcome::Passed });
    }
    cases
}

/// `circuit/scenario/point`; where that stands for several rows, with what the row says, and a number if need be.
fn names(class: &str, expectations: &[ExpectationCase]) -> Vec<String> {
    let short = |case: &ExpectationCase| format!("{class}/{}/{}", case.scenario, case.probe);
    let mut counts: BTreeMap<String, usize> = BTreeMap::new();
    for case in expectations {
        *counts.entry(short(case)).or_default() += 1;
    }
    let mut seen: BTreeMap<String, usize> = BTreeMap::new();
    let one = |case: &ExpectationCase| {
        let mut name = short(case);
        if counts.get(&name).is_some_and(|&count| count > 1) {
            let _ = write!(name, ": {}", case.text);
        }
        let count = seen.entry(name.clone()).or_default();
        *count += 1;
        if *count > 1 {
            let _ = write!(name, " #{count}");
        }
        name
    };
    expectations.iter().map(one).collect()
}

fn written(suites: &[(String, Vec<Case>)]) -> String {
    let count =
        |cases: &[Case], what: fn(&Outcome) -> bool| cases.iter().filter(|c| what(&c.outcome)).count();
    let failed = |o: &Outcome| matches!(o, Outcome::Failed(..));
    let broken = |o: &Outcome| matches!(o, Outcome::Broken(_));
    let mut out = String::from("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<testsuites>\n");
    for (id, (name, cases)) in suites.iter().enumerate() {
        let _ = writeln!(
            out,
            "  <testsuite name=\"{}\" tests=\"{}\" failures=\"{}\" errors=\"{}\" time=\"0\" timestamp=\"1970-01-01T00:00:00\" \
             hostname=\"localhost\" id=\"{id}\" package=\"keyon\">",
            escaped(name),
            cases.len(),
            count(cases, failed),
            count(cases, broken),
        );
        let version = env!("CARGO_PKG_VERSION");
        let _ = writeln!(
            out,
            "    <properties>\n      <property name=\"keyon\" value=\"{version}\"/>\n    </properties>"
        );
        for case in cases {
            write_case(&mut out, case);
        }
        out.push_str("    <system-out></system-out>\n    <system-err></system-err>\n  </testsuite>\n");
    }
    out.push_str("</testsuites>\n");
    out
}

fn write_case(out: &mut String, case: &Case) {
    let (name, class) = (escaped(&case.name), escaped(&case.class));
    let _ = write!(out, "    <testcase name=\"{name}\" classname=\"{class}\" time=\"0\"");
    let _ = match &case.outcome {
        Outcome::Passed => writeln!(out, "/>"),
        Outcome::Skipped(why) => {
            writeln!(out, ">\n      <skipped message=\"{}\"/>\n    </testcase>", escaped(why))
        }
        Outcome::Failed(kind, message, more) => writeln!(
            out,
            ">\n      <failure type=\"{}\" message=\"{}\">{}</failure>\n    </testcase>",
            escaped(kind),
            escaped(message),
            escaped(more)
        ),
        Outcome::Broken(message) => writeln!(
            out,
            ">\n      <error type=\"keyon\" message=\"{0}\">{0}</error>\n    </testcase>",
            escaped(message)
        ),
    };
}

/// Text for XML 1.0, also between quotes; what it has no way to write becomes U+FFFD.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\n' => out.push_str("&#10;"),
            '\r' => out.push_str("&#13;"),
            '\t' => out.push_str("&#9;"),
            '\0'..='\u{1f}' | '\u{fffe}' | '\u{ffff}' => out.push('\u{fffd}'),
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn case(probe: &str, text: &str, verdict: Verdict) -> ExpectationCase {
        ExpectationCase { scenario: "lit".into(), probe: probe.into(), text: text.into(), line: 3, verdict }
    }

    #[test]
    fn names_are_unique() {
        let holds = || Verdict::Holds("operates".into());
        let rows = [
            case("lamp", "lamp operates", holds()),
            case("S1", "S1 above 1 V", holds()),
            case("S1", "S1 below 13 V", holds()),
            case("S1", "S1 below 13 V", holds()),
        ];
        assert_eq!(
            names("porch", &rows),
            [
                "porch/lit/lamp",
                "porch/lit/S1: S1 above 1 V",
                "porch/lit/S1: S1 below 13 V",
                "porch/lit/S1: S1 below 13 V #2"
            ]
        );
    }

    #[test]
    fn odd_characters_do_not_break_the_document() {
        assert_eq!(
            escaped("a<b>&\"c\"\n\u{1}\u{fffe}ä"),
            "a&lt;b&gt;&amp;&quot;c&quot;&#10;\u{fffd}\u{fffd}ä"
        );
    }

    #[test]
    fn a_row_that_fails_is_one_case() {
        let file = CheckedFile {
            name: "a&b.keyon".into(),
            circuit: Some("porch".into()),
            expectations: vec![case("lamp", "lamp operates", Verdict::Fails("rests".into()))],
        };
        let report = CheckReport { files: vec![file], ..CheckReport::default() };
        insta::assert_snapshot!(junit(&report, Level::Error));
    }
}
