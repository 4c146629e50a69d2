//! What only shows when files are laid side by side, and how it is kept while none of them says anything new.

use super::{
    cache::Cache,
    gather::place,
    record::Record,
    run::{Checker, FileResult, Wanted},
};
use crate::world::Files;
use keyon_check::{
    Level, Summary,
    library::{Conflict, Spot, conflicts_of},
};
use keyon_circuit::ids::FileId;
use keyon_present::reports::Placed;
use keyon_syntax::Span;
use serde::{Deserialize, Serialize};
use std::{
    borrow::Cow,
    collections::BTreeMap,
    path::{Path, PathBuf},
    sync::Arc,
};
use xxhash_rust::xxh3::Xxh3;

/// What the circuits of a library say against one another, where a file whose findings are wanted has a part in it.
pub(super) fn conflicts(
    checker: &Checker,
    files: &[(PathBuf, Wanted)],
    results: &[FileResult],
    texts: &mut BTreeMap<String, Arc<str>>,
) -> Vec<Placed> {
    let records: Vec<(usize, &Record)> =
        results.iter().enumerate().filter_map(|(i, result)| Some((i, result.record.as_ref()?))).collect();
    let key = |file: usize, at: &Spot| -> &str {
        let record = records.get(file).and_then(|(_, record)| record.files.get(at.file.index()));
        record.map_or("", String::as_str)
    };
    let name = |file: usize, at: &Spot| checker.disk.shown(key(file, at));
    let wanted = |file: usize| {
        let index = records.get(file).map(|(index, _)| *index);
        index.and_then(|index| files.get(index)).is_some_and(|(_, wanted)| *wanted == Wanted::All)
    };
    let found = || {
        let summaries: Vec<Cow<'_, Summary>> =
            records.iter().map(|(_, record)| record.says.summary()).collect();
        let all: Vec<&Summary> = summaries.iter().map(AsRef::as_ref).collect();
        conflicts_of(&all, &name)
    };
    let found = match &checker.cache {
        Some(cache) => kept(cache, checker, &records, &found),
        None => found(),
    };
    let mut out = Vec::new();
    for conflict in found {
        if !wanted(conflict.file) && !wanted(conflict.other) {
            continue;
        }
        let main = records.get(conflict.file).and_then(|(_, record)| record.files.first());
        let at = key(conflict.file, &conflict.at);
        let settings = checker.settings(main.map_or("", String::as_str), at);
        let level = match settings.level(conflict.rule) {
            Some(None) => continue,
            Some(Some(level)) => level,
            None => Level::Warning,
        };
        let shown = checker.disk.shown(at);
        // Read again: its text was let go when nothing was found in the file itself.
        let text = texts.get(&shown).cloned();
        let Some(text) = text.or_else(|| Some(checker.disk.content(Path::new(at))?.text.clone())) else {
            continue;
        };
        out.push(placed_conflict(&conflict, level, &shown, &text));
        texts.insert(shown, text);
    }
    out
}

fn placed_conflict(conflict: &Conflict, level: Level, file: &str, text: &str) -> Placed {
    Placed {
        rule: conflict.rule.to_owned(),
        level,
        message: conflict.message.clone(),
        help: Some(conflict.help.to_owned()),
        at: place(file, text, conflict.at.span.range()),
        related: Vec::new(),
        fixes: Vec::new(),
        anchor: conflict.what.clone(),
        id: String::new(),
    }
}

/// A conflict as it is kept: file, place, rule, subject, message, the other file and its place.
#[derive(Serialize, Deserialize)]
struct Row<'a> {
    file: usize,
    at: SpotRow,
    rule: Cow<'a, str>,
    what: Cow<'a, str>,
    message: Cow<'a, str>,
    other: usize,
    other_at: SpotRow,
}

/// File, start, end, line.
type SpotRow = (u32, u32, u32, u32);

/// The conflicts of files that say what they said when these were last compared, else what `found` finds.
fn kept(
    cache: &Cache,
    checker: &Checker,
    records: &[(usize, &Record)],
    found: &dyn Fn() -> Vec<Conflict>,
) -> Vec<Conflict> {
    // Messages tell the names under which people know the files.
    let mut keys = Xxh3::new();
    let mut content = Xxh3::new();
    for (_, record) in records {
        for key in &record.files {
            keys.update(key.as_bytes());
            keys.update(&[0]);
            content.update(checker.disk.shown(key).as_bytes());
            content.update(&[0]);
        }
        content.update(&record.says.name().to_le_bytes());
    }
    let (key, content) = (keys.digest128(), content.digest128());
    let known = cache.find_across(key, content).and_then(|text| {
        let rows: Vec<Row<'_>> = serde_json::from_str(&text).ok()?;
        rows.into_iter().map(Row::conflict).collect()
    });
    known.unwrap_or_else(|| {
        let found = found();
        let rows: Vec<Row<'_>> = found.iter().map(Row::new).collect();
        if let Ok(text) = serde_json::to_string(&rows) {
            cache.keep_across(key, content, &text);
        }
        found
    })
}

impl<'a> Row<'a> {
    fn new(conflict: &'a Conflict) -> Self {
        let spot = |at: &Spot| (at.file.0, at.span.start, at.span.end, at.line);
        Self {
            file: conflict.file,
            at: spot(&conflict.at),
            rule: conflict.rule.into(),
            what: Cow::Borrowed(&conflict.what),
            message: Cow::Borrowed(&conflict.message),
            other: conflict.other,
            other_at: spot(&conflict.other_at),
        }
    }

    /// `None` where it is not one of this program's.
    fn conflict(self) -> Option<Conflict> {
        let spot =
            |(file, start, end, line): SpotRow| Spot { file: FileId(file), span: Span { start, end }, line };
        Some(Conflict {
            file: self.file,
            at: spot(self.at),
            rule: keyon_check::rules::find(&self.rule)?.name(),
            what: self.what.into_owned(),
            message: self.message.into_owned(),
            help: keyon_check::library::HELP,
            other: self.other,
            other_at: spot(self.other_at),
        })
    }
}
