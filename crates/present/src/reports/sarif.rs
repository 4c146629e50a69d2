//! SARIF 2.1.0 (OASIS): the findings for code review and for whatever collects results of several tools.

use super::{CheckReport, Place, Placed, PlacedFix};
use keyon_check::{Level, Rule, rules, settings};
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;

/// What the log says of us and of where we are.
#[derive(Clone, Debug)]
pub struct Tool<'a> {
    /// Our version.
    pub version: &'a str,
    /// Where the pages of the rules are, if anywhere: a rule's is `MANUAL/RULE`.
    pub manual: Option<&'a str>,
    /// The folder to which relative names are relative, as an absolute path: for names that lead out of it.
    pub root: &'a str,
    /// What we exit with.
    pub exit_code: u8,
}

/// The log: one run.
pub fn sarif(report: &CheckReport, tool: &Tool<'_>) -> Value {
    let rules = rules_json(tool);
    let index: BTreeMap<&str, usize> =
        rules::all().map(Rule::name).chain([settings::RULE]).enumerate().map(|(i, name)| (name, i)).collect();
    let results: Vec<Value> = report
        .findings
        .iter()
        .map(|finding| result(finding, index.get(finding.rule.as_str()).copied(), tool))
        .collect();
    let notes: Vec<Value> = report
        .complaints
        .iter()
        .map(|complaint| json!({ "level": "error", "message": { "text": complaint } }))
        .collect();
    json!({
        "$schema": "https://docs.oasis-open.org/sarif/sarif/v2.1.0/os/schemas/sarif-schema-2.1.0.json",
        "version": "2.1.0",
        "runs": [{
            "tool": { "driver": {
                "name": "Keyon",
                "version": tool.version,
                "semanticVersion": tool.version,
                "rules": rules,
            } },
            "invocations": [{
                "executionSuccessful": report.complaints.is_empty(),
                "exitCode": tool.exit_code,
                "toolExecutionNotifications": notes,
            }],
            "columnKind": "unicodeCodePoints",
            "results": results,
        }],
    })
}

/// All rules, in the order of the manual, whether they spoke or not: the numbers stay.
fn rules_json(tool: &Tool<'_>) -> Vec<Value> {
    let address = |name: &str| match tool.manual {
        Some(manual) => format!("{manual}/{name}"),
        // A name of its own, where no page is on the web: `keyon explain` prints it.
        None => format!("urn:keyon:rule:{name}"),
    };
    let page = |name: &str| keyon_check::explain(name).unwrap_or_default();
    let mut all: Vec<Value> = rules::all()
        .map(|rule| {
            json!({
                "id": rule.name(),
                "shortDescription": { "text": rule.summary() },
                "fullDescription": { "text": rule.why().trim() },
                "help": {
                    "text": format!("{} {}\nSee `keyon explain {}`.", rule.summary(), rule.why().trim(), rule.name()),
                    "markdown": page(rule.name()),
                },
                "helpUri": address(rule.name()),
                "defaultConfiguration": { "level": level(rule.level()) },
                "properties": { "tags": [rule.group()] },
            })
        })
        .collect();
    all.push(json!({
        "id": settings::RULE,
        "shortDescription": { "text": "Something in a keyon.toml is wrong." },
        "help": { "text": "See `keyon explain settings`.", "markdown": page(settings::RULE) },
        "helpUri": address(settings::RULE),
        "defaultConfiguration": { "level": "error" },
        "properties": { "tags": ["files"] },
    }));
    all
}

fn level(level: Level) -> &'static str {
    match level {
        Level::Error => "error",
        Level::Warning => "warning",
        Level::Hint => "note",
    }
}

fn result(finding: &Placed, rule: Option<usize>, tool: &Tool<'_>) -> Value {
    let text = match &finding.help {
        Some(help) => format!("{}\n{help}", finding.message),
        None => finding.message.clone(),
    };
    let mut result = Map::new();
    result.insert("ruleId".into(), json!(finding.rule));
    if let Some(index) = rule {
        result.insert("ruleIndex".into(), json!(index));
    }
    result.insert("level".into(), json!(level(finding.level)));
    result.insert("message".into(), json!({ "text": text }));
    result.insert("locations".into(), json!([{ "physicalLocation": location(&finding.at, tool) }]));
    if !finding.related.is_empty() {
        let related = finding.related.iter().enumerate().map(|(id, (at, word))| {
            json!({ "id": id, "physicalLocation": location(at, tool), "message": { "text": word } })
        });
        result.insert("relatedLocations".into(), related.collect());
    }
    if !finding.fixes.is_empty() {
        result.insert("fixes".into(), finding.fixes.iter().map(|f| fix(f, tool)).collect());
    }
    result.insert("partialFingerprints".into(), json!({ "keyonFinding/v1": finding.id }));
    Value::Object(result)
}

fn location(at: &Place, tool: &Tool<'_>) -> Value {
    json!({ "artifactLocation": artifact(&at.file, tool), "region": region(at) })
}

fn region(at: &Place) -> Value {
    json!({
        "startLine": at.line,
        "startColumn": at.column,
        "endLine": at.end_line,
        "endColumn": at.end_column,
    })
}

fn fix(fix: &PlacedFix, tool: &Tool<'_>) -> Value {
    let mut files: Vec<(&str, Vec<Value>)> = Vec::new();
    for (at, text) in &fix.edits {
        let replacement = json!({ "deletedRegion": region(at), "insertedContent": { "text": text } });
        match files.iter_mut().find(|(file, _)| *file == at.file) {
            Some((_, list)) => list.push(replacement),
            None => files.push((&at.file, vec![replacement])),
        }
    }
    let changes: Vec<Value> = files
        .into_iter()
        .map(|(file, list)| json!({ "artifactLocation": artifact(file, tool), "replacements": list }))
        .collect();
    json!({ "description": { "text": fix.title }, "artifactChanges": changes })
}

/// A file: relative to the root of the sources where it is inside, else by its whole address.
fn artifact(file: &str, tool: &Tool<'_>) -> Value {
    let file = file.replace('\\', "/");
    let absolute = file.starts_with('/') || file.get(1..3) == Some(":/");
    let whole = if absolute { file.clone() } else { format!("{}/{file}", tool.root.replace('\\', "/")) };
    let root = tool.root.replace('\\', "/");
    let root = names(&root);
    let names = names(&whole);
    match names.strip_prefix(root.as_slice()) {
        Some(inside) if !inside.is_empty() => json!({ "uri": encoded(inside), "uriBaseId": "%SRCROOT%" }),
        _ => json!({ "uri": format!("file:///{}", encoded(&names)) }),
    }
}

/// The names of a path without `.` and `..`.
fn names(path: &str) -> Vec<&str> {
    let mut names = Vec::new();
    for name in path.split('/') {
        match name {
            "" | "." => {}
            ".." => {
                names.pop();
            }
            name => names.push(name),
        }
    }
    names
}

/// A path as part of a URI (RFC 3986): every byte but the unreserved ones is written by its number.
fn encoded(names: &[&str]) -> String {
    let mut out = String::new();
    for (number, name) in names.iter().enumerate() {
        if number > 0 {
            out.push('/');
        }
        for byte in name.bytes() {
            match byte {
                b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' => {
                    out.push(char::from(byte))
                }
                byte => out.push_str(&format!("%{byte:02X}")),
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn uri(file: &str) -> String {
        let tool = Tool { version: "0", manual: None, root: "/home/pat/lib", exit_code: 0 };
        let value = artifact(file, &tool);
        let base = value.get("uriBaseId").map_or("", |_| "ROOT/");
        format!("{base}{}", value["uri"].as_str().unwrap())
    }

    #[test]
    fn names_are_encoded_and_relative_where_they_can_be() {
        assert_eq!(uri("./parts/ä b#1.keyon"), "ROOT/parts/%C3%A4%20b%231.keyon");
        assert_eq!(uri("a/../b.keyon"), "ROOT/b.keyon");
        assert_eq!(uri("../other/b.keyon"), "file:///home/pat/other/b.keyon");
        assert_eq!(uri("/home/pat/lib/c.keyon"), "ROOT/c.keyon");
        assert_eq!(uri("/srv/50%.keyon"), "file:///srv/50%25.keyon");
        assert_eq!(uri("a:b.keyon"), "ROOT/a%3Ab.keyon");
        assert_eq!(uri("C:\\x y.keyon"), "file:///C%3A/x%20y.keyon");
    }

    #[test]
    fn every_rule_has_its_help_and_its_address() {
        let tool = Tool { version: "0", manual: Some("https://example.org/rules"), root: "/", exit_code: 0 };
        let log = sarif(&CheckReport::default(), &tool);
        let rules = log["runs"][0]["tool"]["driver"]["rules"].as_array().unwrap();
        assert_eq!(rules.len(), rules::all().count() + 1);
        for rule in rules {
            let id = rule["id"].as_str().unwrap();
            assert_eq!(rule["helpUri"], format!("https://example.org/rules/{id}"));
            assert!(rule["help"]["markdown"].as_str().unwrap().starts_with(&format!("# {id}\n")), "{id}");
        }
    }
}
