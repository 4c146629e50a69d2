//! Rows of the reference data: comma-separated values with a header, fields perhaps quoted.

use super::reference;
use std::collections::BTreeMap;

/// Fields by the names of the header.
pub(crate) type CsvRow = BTreeMap<String, String>;

/// The rows of a file of `tests/reference`.
pub(crate) fn rows(file: &str) -> Vec<CsvRow> {
    let text = reference(file);
    let mut lines = text.lines();
    let head = fields(lines.next().unwrap_or(""));
    let all: Vec<CsvRow> = lines.map(|line| head.iter().cloned().zip(fields(line)).collect()).collect();
    for row in &all {
        assert!(row["source"].len() > 3, "{} has no source", row["id"]);
    }
    all
}

/// A field as a number.
#[track_caller]
pub(crate) fn number(row: &CsvRow, field: &str) -> f64 {
    row[field].parse().unwrap_or_else(|_| panic!("{}: {field} is `{}`", row["id"], row[field]))
}

fn fields(line: &str) -> Vec<String> {
    let (mut all, mut field, mut quoted) = (Vec::new(), String::new(), false);
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            ',' if !quoted => all.push(std::mem::take(&mut field)),
            c => field.push(c),
        }
    }
    all.push(field);
    all
}
