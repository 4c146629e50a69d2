//! Workflow commands: a line a finding, which the CI of GitHub shows at the place in the review.

use super::CheckReport;
use keyon_check::Level;
use std::fmt::Write;

/// A command for each finding and for each file that could not be read.
pub fn github(report: &CheckReport) -> String {
    let mut out = String::new();
    for finding in &report.findings {
        let name = match finding.level {
            Level::Error => "error",
            Level::Warning => "warning",
            Level::Hint => "notice",
        };
        let at = &finding.at;
        let mut message = finding.message.clone();
        if let Some(help) = &finding.help {
            message.push('\n');
            message.push_str(help);
        }
        let _ = write!(
            out,
            "::{name} file={},line={},endLine={}",
            property(&path(&at.file)),
            at.line,
            at.end_line
        );
        // Columns over several lines are refused; the end is inclusive there.
        if at.line == at.end_line {
            let last = at.end_column.saturating_sub(1).max(at.column);
            let _ = write!(out, ",col={},endColumn={last}", at.column);
        }
        let _ = writeln!(out, ",title={}::{}", property(&finding.rule), data(&message));
    }
    for complaint in &report.complaints {
        let _ = writeln!(out, "::error title=keyon::{}", data(complaint));
    }
    out
}

/// Relative to where we are, with `/`.
fn path(file: &str) -> String {
    let file = file.replace('\\', "/");
    file.strip_prefix("./").map_or_else(|| file.clone(), str::to_owned)
}

/// A message, in one line.
fn data(text: &str) -> String {
    text.replace('%', "%25").replace('\r', "%0D").replace('\n', "%0A")
}

/// A value of a property.
fn property(text: &str) -> String {
    data(text).replace(':', "%3A").replace(',', "%2C")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reports::{Place, Placed};

    #[test]
    fn what_would_end_a_value_is_escaped() {
        let finding = Placed {
            rule: "voltage-drop".into(),
            level: Level::Hint,
            message: "3 % of 12 V:\r\na, b".into(),
            help: Some("100 %".into()),
            at: Place { file: "./a,b:c%.keyon".into(), line: 2, column: 3, end_line: 2, end_column: 3 },
            related: Vec::new(),
            fixes: Vec::new(),
            anchor: String::new(),
            id: String::new(),
        };
        let report = CheckReport {
            findings: vec![finding],
            complaints: vec!["cannot read\n`x`".into()],
            ..CheckReport::default()
        };
        assert_eq!(
            github(&report),
            "::notice file=a%2Cb%3Ac%25.keyon,line=2,endLine=2,col=3,endColumn=3,title=voltage-drop::3 %25 of 12 V:%0D%0Aa, b%0A100 %25\n\
             ::error title=keyon::cannot read%0A`x`\n"
        );
    }
}
