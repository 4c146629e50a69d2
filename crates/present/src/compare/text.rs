//! A comparison for the terminal.

use super::{CircuitChange, Comparison, words};
use crate::reports::Placed;
use std::fmt::Write;

/// Cells of truth tables that are listed one by one; programs get all.
pub(super) const MOST_CELLS: usize = 12;

/// The comparison as text.
pub fn comparison_text(comparison: &Comparison) -> String {
    let mut out = format!("{} -> {}: {}\n", comparison.old, comparison.new, words::summary(comparison));
    let mut file = "";
    for part in &comparison.parts {
        if part.file != file {
            let _ = writeln!(out, "\n{}", part.file);
            file = &part.file;
        }
        let lines = words::part_lines(&part.old, &part.new);
        for (number, line) in lines.iter().enumerate() {
            let name = if number == 0 { part.part.as_str() } else { "" };
            let _ = writeln!(out, "  {name:20} {line}");
        }
    }
    for circuit in comparison.circuits.iter().filter(|c| !c.is_same()) {
        circuit_text(&mut out, circuit);
    }
    list(
        &mut out,
        "edited with the same answers",
        comparison.circuits.iter().filter(|c| c.is_same()).map(|c| &c.file),
    );
    list(&mut out, "new", comparison.added.iter());
    list(&mut out, "gone", comparison.removed.iter());
    let sheets = words::sheets(comparison);
    if !sheets.is_empty() {
        let _ = writeln!(out, "\nsheets to print anew: {}", sheets.join(", "));
    }
    out
}

fn list<'a>(out: &mut String, what: &str, files: impl Iterator<Item = &'a String>) {
    let mut files = files.peekable();
    if files.peek().is_some() {
        let _ = writeln!(out, "\n{what}:");
        for file in files {
            let _ = writeln!(out, "  {file}");
        }
    }
}

fn circuit_text(out: &mut String, circuit: &CircuitChange) {
    let _ = write!(out, "\n{}  {}", circuit.file, circuit.circuit);
    let _ = match &circuit.moved {
        Some(moved) => writeln!(out, "  (was {})", moved.from),
        None => writeln!(out),
    };
    for change in &circuit.expectations {
        let (what, words) = words::expectation(change);
        let _ = writeln!(out, "  {what:12} {words}");
    }
    for (what, findings) in [("NEW", &circuit.new_findings), ("mended", &circuit.gone_findings)] {
        for finding in words::told(findings) {
            let _ = writeln!(out, "  {what:12} {}", finding_line(finding));
        }
    }
    let difference = &circuit.difference;
    let mut small = Vec::new();
    for state in &difference.states {
        let readings = words::readings(circuit, &state.name, &state.readings);
        if readings.rows.is_empty() {
            small.push(state.name.as_str());
            continue;
        }
        let _ = writeln!(out, "  in {}", state.name);
        let wide = |text: fn(&words::ReadingRow) -> &str, most: usize| {
            readings.rows.iter().map(|row| text(row).chars().count()).max().unwrap_or(0).min(most)
        };
        let (name, change) = (wide(|row| &row.name, 24), wide(|row| &row.change, 36));
        for row in &readings.rows {
            let line = format!("    {:name$}  {:change$}  {}", row.name, row.change, row.remark);
            let _ = writeln!(out, "{}", line.trim_end());
        }
        for line in words::left_out(&readings) {
            let _ = writeln!(out, "    {line}");
        }
    }
    if !small.is_empty() {
        let _ = writeln!(out, "  in {}: less than a meter shows", small.join(", "));
    }
    for cell in difference.tables.cells.iter().take(MOST_CELLS) {
        let _ = writeln!(
            out,
            "  {:12} {}: {} -> {} {}",
            "table",
            cell.device,
            cell.old,
            cell.new,
            words::when(cell)
        );
    }
    if let Some(more) = difference.tables.cells.len().checked_sub(MOST_CELLS).filter(|&more| more > 0) {
        let _ = writeln!(out, "  {:12} {} more of its truth table", "table", counted(more, "cell", "cells"));
    }
    for (device, is_new) in &difference.tables.devices {
        let _ = writeln!(out, "  {:12} {device}", if *is_new { "new device" } else { "gone device" });
    }
    for device in &difference.tables.cut {
        let _ = writeln!(out, "  {:12} {device}: too many positions to compare them all", "table");
    }
    for (what, names) in [("new state", &difference.added), ("gone state", &difference.removed)] {
        for name in names {
            let _ = writeln!(out, "  {what:12} {name}");
        }
    }
}

pub(super) fn finding_line(finding: &Placed) -> String {
    let at = &finding.at;
    let message = finding.message.split_whitespace().collect::<Vec<_>>().join(" ");
    format!("{}:{}:{}: {}[{}]: {message}", at.file, at.line, at.column, finding.level.words(), finding.rule)
}

pub(super) fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}
