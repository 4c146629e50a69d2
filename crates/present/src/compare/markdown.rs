//! A comparison for the description of a change under review.

use super::{CircuitChange, Comparison, text, words};
use std::fmt::Write;

/// The comparison as Markdown.
pub fn comparison_markdown(comparison: &Comparison) -> String {
    let mut out = format!(
        "## {} to {}\n\n{}.\n",
        code(&comparison.old),
        code(&comparison.new),
        words::summary(comparison)
    );
    if !comparison.parts.is_empty() {
        out.push_str("\n| part | file | change |\n|---|---|---|\n");
        for part in &comparison.parts {
            let lines: Vec<String> =
                words::part_lines(&part.old, &part.new).iter().map(|line| code(line)).collect();
            let _ = writeln!(out, "| {} | {} | {} |", code(&part.part), code(&part.file), lines.join("<br>"));
        }
    }
    for circuit in comparison.circuits.iter().filter(|c| !c.is_same()) {
        circuit_markdown(&mut out, circuit);
    }
    let same: Vec<&String> = comparison.circuits.iter().filter(|c| c.is_same()).map(|c| &c.file).collect();
    for (what, files) in [
        ("Edited with the same answers", same),
        ("New", comparison.added.iter().collect()),
        ("Gone", comparison.removed.iter().collect()),
    ] {
        if !files.is_empty() {
            let files: Vec<String> = files.into_iter().map(|file| code(file)).collect();
            let _ = writeln!(out, "\n{what}: {}", files.join(", "));
        }
    }
    let sheets = words::sheets(comparison);
    if !sheets.is_empty() {
        let _ = writeln!(out, "\nSheets to print anew: {}", escaped(&sheets.join(", ")));
    }
    out
}

fn circuit_markdown(out: &mut String, circuit: &CircuitChange) {
    let _ = write!(out, "\n### {} in {}", code(&circuit.circuit), code(&circuit.file));
    let _ = match &circuit.moved {
        Some(moved) => writeln!(out, ", was {}\n", code(&moved.from)),
        None => writeln!(out, "\n"),
    };
    let start = out.len();
    for change in &circuit.expectations {
        let (what, words) = words::expectation(change);
        let _ = writeln!(out, "- **{what}** {}", escaped(&words));
    }
    for (what, findings) in [("new", &circuit.new_findings), ("mended", &circuit.gone_findings)] {
        for finding in words::told(findings) {
            let _ = writeln!(out, "- **{what}** {}", escaped(&text::finding_line(finding)));
        }
    }
    let difference = &circuit.difference;
    for cell in difference.tables.cells.iter().take(text::MOST_CELLS) {
        let words = format!("{}: {} -> {} {}", cell.device, cell.old, cell.new, words::when(cell));
        let _ = writeln!(out, "- **table** {}", escaped(&words));
    }
    if let Some(more) = difference.tables.cells.len().checked_sub(text::MOST_CELLS).filter(|&more| more > 0) {
        let _ = writeln!(out, "- **table** {} more of its truth table", text::counted(more, "cell", "cells"));
    }
    for (device, is_new) in &difference.tables.devices {
        let _ = writeln!(out, "- **{} device** {}", if *is_new { "new" } else { "gone" }, code(device));
    }
    for device in &difference.tables.cut {
        let _ = writeln!(out, "- **table** {}: too many positions to compare them all", code(device));
    }
    for (what, names) in [("new state", &difference.added), ("gone state", &difference.removed)] {
        for name in names {
            let _ = writeln!(out, "- **{what}** {}", code(name));
        }
    }
    if difference.states.is_empty() {
        return;
    }
    if out.len() > start {
        out.push('\n');
    }
    let mut small = Vec::new();
    let mut rows = String::new();
    for state in &difference.states {
        let readings = words::readings(circuit, &state.name, &state.readings);
        if readings.rows.is_empty() {
            small.push(code(&state.name));
        }
        for row in &readings.rows {
            let (change, remark) = (escaped(&row.change), escaped(&row.remark));
            let _ = writeln!(rows, "| {} | {} | {change} | {remark} |", code(&state.name), code(&row.name));
        }
        for line in words::left_out(&readings).filter(|_| !readings.rows.is_empty()) {
            let _ = writeln!(rows, "| {} | | {line} | |", code(&state.name));
        }
    }
    if !rows.is_empty() {
        let _ = write!(out, "| in | what | change | |\n|---|---|---|---|\n{rows}");
    }
    if !small.is_empty() {
        let _ = writeln!(out, "\nIn {}: less than a meter shows.", small.join(", "));
    }
}

/// As code; a bar would end a table's cell even there.
fn code(text: &str) -> String {
    let text = text.replace('|', "\\|").replace('\n', " ");
    if text.contains('`') { format!("`` {text} ``") } else { format!("`{text}`") }
}

/// Text in which only the backticks mean something.
fn escaped(text: &str) -> String {
    let mut out = String::new();
    for (number, piece) in text.split('`').enumerate() {
        if number > 0 {
            out.push('`');
        }
        // Within backticks nothing is to be escaped but the bar.
        let inside = number % 2 == 1;
        for c in piece.chars() {
            if c == '|' || (!inside && matches!(c, '*' | '_' | '<' | '>' | '[' | ']' | '\\' | '#')) {
                out.push('\\');
            }
            out.push(if c == '\n' { ' ' } else { c });
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_means_something_in_markdown_is_escaped() {
        assert_eq!(escaped("a_b -> `c|d_e` <x>"), "a\\_b -\\> `c\\|d_e` \\<x\\>");
        assert_eq!(code("a|b"), "`a\\|b`");
        assert_eq!(code("a`b"), "`` a`b ``");
    }
}
