//! What the tests share: trees and errors as a person reads them.
#![allow(dead_code, unreachable_pub)]

/// A tree's `Debug` text without spans and wrappers: `Name { text: "S12", span: 0..3 }` becomes `S12`.
pub fn compact(debug: &str) -> String {
    let mut out = String::with_capacity(debug.len());
    let mut rest = debug;
    // Takes out `span: 1..2` and bare spans behind another field.
    while let Some(at) = rest.find("span: ") {
        let (before, after) = rest.split_at(at);
        let value = &after["span: ".len()..];
        let digits = value.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(value.len());
        if digits == 0 {
            out.push_str(before);
            out.push_str("span: ");
            rest = value;
            continue;
        }
        out.push_str(before.strip_suffix(", ").unwrap_or(before));
        rest = &value[digits..];
        rest = rest.strip_prefix(", ").unwrap_or(rest);
    }
    out.push_str(rest);
    for (from, to) in [("Some(", "("), ("None", "-"), ("damaged: false, ", ""), (", tolerance: -", "")] {
        out = out.replace(from, to);
    }
    out = without_absent(&out);
    let mut last = String::new();
    while last != out {
        last.clone_from(&out);
        for open in ["Name { text: \"", "Text { text: \""] {
            if let Some(at) = out.find(open)
                && let Some(end) = out[at + open.len()..].find("\" }")
            {
                let text = out[at + open.len()..at + open.len() + end].to_owned();
                let shown = if open.starts_with('T') { format!("“{text}”") } else { text };
                out.replace_range(at..at + open.len() + end + 3, &shown);
            }
        }
    }
    out
}

/// Leaves out fields that say nothing: `pwm: -, `.
fn without_absent(text: &str) -> String {
    let mut parts: Vec<&str> = Vec::new();
    for part in text.split(", ") {
        let absent =
            part.strip_suffix(": -").is_some_and(|f| f.bytes().all(|b| b.is_ascii_lowercase() || b == b'_'));
        if !absent {
            parts.push(part);
        }
    }
    parts.join(", ")
}

/// Each error as its line, a caret line, the message, the help, the fix.
pub fn show_errors(text: &str, errors: &[keyon_syntax::SyntaxError]) -> String {
    use std::fmt::Write as _;
    let mut out = String::new();
    for error in errors {
        let (start, end) = (error.span.start as usize, error.span.end as usize);
        let from = text[..start].rfind(['\n', '\r']).map_or(0, |i| i + 1);
        let to = text[start..].find(['\n', '\r']).map_or(text.len(), |i| start + i);
        let number = text[..start].matches('\n').count() + 1;
        let pad = text[from..start].chars().count();
        let marks = text[start..end.min(to).max(start)].chars().count().max(1);
        writeln!(out, "{number:3} | {}", &text[from..to]).unwrap();
        writeln!(out, "    | {}{} {}", " ".repeat(pad), "^".repeat(marks), error.message).unwrap();
        if let Some(help) = &error.help {
            writeln!(out, "    | {}= {help}", " ".repeat(pad)).unwrap();
        }
        if let Some((what, span, new)) = &error.fix {
            let mut mended = text.to_owned();
            mended.replace_range(span.range(), new);
            let line_end = mended[from..].find(['\n', '\r']).map_or(mended.len(), |i| from + i);
            writeln!(out, "    | {}fix: {what}: {}", " ".repeat(pad), mended[from..line_end].trim()).unwrap();
        }
    }
    out
}

/// Breaks a long tree into lines at the entries of its lists, so that a change shows as a few lines.
pub fn indented(tree: &str) -> String {
    let entries = [
        "Edge",
        "CavityRow",
        "Housing",
        "Gang",
        "GangRow",
        "Row",
        "Fault",
        "Setting",
        "Setup",
        "Ask",
        "Conductor",
    ];
    let mut out = tree.replace(", - }", " }");
    for word in entries {
        for open in [", ", "["] {
            out = out.replace(&format!("{open}{word} {{"), &format!("{open}\n      {word} {{"));
        }
    }
    out.lines().map(str::trim_end).collect::<Vec<_>>().join("\n")
}
