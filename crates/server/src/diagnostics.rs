//! Findings as the protocol's diagnostics.

use crate::{
    files,
    position::{Encoding, Lines},
    snapshot::{Cell, Checked, location},
};
use keyon_check::{Finding, Level, settings::Found};
use keyon_circuit::Elaboration;
use smol_str::SmolStr;
use std::collections::BTreeMap;
use tower_lsp::lsp_types::{
    Diagnostic, DiagnosticRelatedInformation, DiagnosticSeverity, DiagnosticTag, NumberOrString,
    PublishDiagnosticsClientCapabilities,
};

/// What the client can show of a diagnostic.
#[derive(Clone, Debug, Default)]
pub(crate) struct Features {
    related: bool,
    tags: Vec<DiagnosticTag>,
}

impl Features {
    pub(crate) fn of(client: Option<&PublishDiagnosticsClientCapabilities>) -> Self {
        let Some(client) = client else { return Self::default() };
        Self {
            related: client.related_information == Some(true),
            tags: client.tag_support.as_ref().map(|tags| tags.value_set.clone()).unwrap_or_default(),
        }
    }
}

/// The findings of a check by the file they stand in; the checked file is always there.
pub(crate) fn by_file(
    cell: &Cell,
    checked: &Checked,
    encoding: Encoding,
    features: &Features,
) -> BTreeMap<SmolStr, Vec<Diagnostic>> {
    let elaboration = &checked.elaboration;
    let mut found = BTreeMap::from([(cell.source.key.clone(), Vec::new())]);
    let mut lines = BTreeMap::new();
    for finding in &checked.findings {
        let id = finding.loc.file.index();
        let Some(file) = elaboration.files.get(id) else { continue };
        let lines = match id {
            0 => cell.lines(),
            id => lines.entry(id).or_insert_with(|| Lines::new(&file.text)),
        };
        let mut diagnostic = diagnostic(cell, elaboration, finding, encoding, features);
        diagnostic.range = lines.range(&file.text, elaboration.span(finding.loc), encoding);
        found.entry(file.key.clone()).or_default().push(diagnostic);
    }
    for settings in &checked.settings {
        // Also without a mistake: what was said of it before has to go.
        found.entry(files::path_key(&settings.path)).or_default().extend(of_settings(settings, encoding));
    }
    found
}

/// The same of a document whose circuits are all checked; each thing once, also where several find it in a library.
pub(crate) fn of_document(
    cell: &Cell,
    checked: &Checked,
    encoding: Encoding,
    features: &Features,
) -> BTreeMap<SmolStr, Vec<Diagnostic>> {
    let mut found = by_file(cell, checked, encoding, features);
    for other in &cell.also {
        let Ok(checked) = other.checked(&keyon_solve::Never) else { continue };
        for (file, news) in by_file(other, &checked, encoding, features) {
            let known = found.entry(file).or_default();
            let news: Vec<Diagnostic> = news.into_iter().filter(|new| !known.contains(new)).collect();
            known.extend(news);
        }
    }
    found
}

/// What is wrong in a settings file.
fn of_settings(settings: &Found, encoding: Encoding) -> Vec<Diagnostic> {
    let lines = Lines::new(&settings.text);
    let one = |mistake: &keyon_check::settings::Mistake| {
        let mut message = mistake.message.clone();
        if let Some(help) = &mistake.help {
            message.push('\n');
            message.push_str(help);
        }
        Diagnostic {
            range: lines.range(&settings.text, mistake.span, encoding),
            severity: Some(DiagnosticSeverity::ERROR),
            code: Some(NumberOrString::String(keyon_check::settings::RULE.into())),
            source: Some("keyon".into()),
            message,
            ..Diagnostic::default()
        }
    };
    settings.mistakes.iter().map(one).collect()
}

/// A finding without its place.
fn diagnostic(
    cell: &Cell,
    elaboration: &Elaboration,
    finding: &Finding,
    encoding: Encoding,
    features: &Features,
) -> Diagnostic {
    let mut message = finding.message.clone();
    if let Some(help) = &finding.help {
        message.push('\n');
        message.push_str(help);
    }
    let mut related = Vec::new();
    for (loc, words) in &finding.related {
        match location(cell, elaboration, *loc, encoding) {
            Some(location) if features.related => {
                related.push(DiagnosticRelatedInformation { location, message: words.clone() });
            }
            // Said in words to a client that cannot jump there.
            Some(location) => {
                let file = location.uri.path().rsplit('/').next().unwrap_or_default().to_owned();
                message.push_str(&format!("\n{file}, line {}: {words}", location.range.start.line + 1));
            }
            None => {}
        }
    }
    // The rules whose subject can be struck out without loss are shown faded.
    let unnecessary = matches!(finding.rule, "unused-name" | "unused-allow");
    let tags = (unnecessary && features.tags.contains(&DiagnosticTag::UNNECESSARY))
        .then(|| vec![DiagnosticTag::UNNECESSARY]);
    Diagnostic {
        severity: Some(match finding.level {
            Level::Error => DiagnosticSeverity::ERROR,
            Level::Warning => DiagnosticSeverity::WARNING,
            // Not the protocol's hint, which editors leave out of their lists.
            Level::Hint => DiagnosticSeverity::INFORMATION,
        }),
        code: Some(NumberOrString::String(finding.rule.into())),
        source: Some("keyon".into()),
        message,
        related_information: (!related.is_empty()).then_some(related),
        tags,
        ..Diagnostic::default()
    }
}
