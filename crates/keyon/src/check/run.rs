//! Checks files, several at a time.

use super::{
    cache::{self, Cache},
    record::{Entry, Record},
};
use crate::{
    files,
    output::Failure,
    world::{Asking, Content, Disk, finder, lock, no_block, source_name},
};
use keyon_check::{Report, Run, Settings, settings::Finder};
use keyon_circuit::Source;
use keyon_present::place::Lines;
use std::{
    collections::{BTreeMap, HashMap},
    path::{Path, PathBuf},
    sync::{
        Arc, Mutex,
        atomic::{AtomicUsize, Ordering},
    },
    time::{Duration, Instant},
};

/// What is the same for all files of a run.
#[derive(Debug)]
pub(crate) struct Checker {
    pub(crate) disk: Disk,
    pub(crate) finder: Finder<'static>,
    pub(crate) cache: Option<Cache>,
    pub(crate) stdin_name: Option<PathBuf>,
    /// How many at a time.
    pub(crate) jobs: usize,
    /// Whether it is wanted how long each rule takes.
    pub(crate) timed: bool,
    /// Names of settings by where they stand in memory; the finder keeps them there.
    names: Mutex<HashMap<usize, u128>>,
}

/// How much is wanted of a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Wanted {
    /// Its findings.
    All,
    /// Only what it says of wires and cavities, for those whose findings are wanted.
    Says,
}

/// What came of one file.
#[derive(Debug, Default)]
pub(crate) struct FileResult {
    /// `None` where it could not be read.
    pub(crate) record: Option<Record>,
    /// For drawing its findings.
    pub(crate) text: Option<Arc<str>>,
    pub(crate) complaint: Option<String>,
    /// It was known already.
    pub(crate) cached: bool,
    pub(crate) took: Duration,
    /// How long each rule took, where that is wanted; the time before the first is reading and elaborating.
    pub(crate) rules: Vec<(&'static str, Duration)>,
}

impl Checker {
    pub(crate) fn new(cache: Option<Cache>, stdin_name: Option<PathBuf>, jobs: usize, timed: bool) -> Self {
        let (disk, finder, names) = (Disk::default(), finder(), Mutex::default());
        Self { disk, finder, cache, stdin_name, jobs: jobs.max(1), timed, names }
    }

    /// Checks all files; the results are in their order, whatever the order in which they came to an end. Plain
    /// threads that take the next file suffice: there is one kind of work and nothing to join.
    pub(crate) fn all(&self, files: &[(PathBuf, Wanted)]) -> Vec<FileResult> {
        let threads = self.jobs.min(files.len().max(1));
        // Where there are fewer files than threads, those that are left share the work of large ones.
        let each = self.jobs / threads;
        let next = AtomicUsize::new(0);
        let work = || {
            let mut done = Vec::new();
            loop {
                let index = next.fetch_add(1, Ordering::Relaxed);
                let Some((file, wanted)) = files.get(index) else { return done };
                done.push((index, self.one(file, *wanted, each)));
            }
        };
        let mut results: Vec<FileResult> = Vec::new();
        results.resize_with(files.len(), FileResult::default);
        let mut put = |done: Vec<(usize, FileResult)>| {
            for (index, result) in done {
                if let Some(slot) = results.get_mut(index) {
                    *slot = result;
                }
            }
        };
        std::thread::scope(|scope| {
            let others: Vec<_> = (1..threads).map(|_| scope.spawn(work)).collect();
            put(work());
            for other in others {
                match other.join() {
                    Ok(done) => put(done),
                    Err(panic) => std::panic::resume_unwind(panic),
                }
            }
        });
        if let Some(cache) = &self.cache {
            cache.write();
        }
        results
    }

    fn one(&self, path: &Path, wanted: Wanted, threads: usize) -> FileResult {
        let start = Instant::now();
        let (path, part) = files::part_of(path);
        let path = path.as_path();
        let bytes = match files::read_bytes(path) {
            Ok(bytes) => bytes,
            Err(Failure::Message(message)) => {
                return FileResult { complaint: Some(message), ..FileResult::default() };
            }
            Err(Failure::Pipe) => return FileResult::default(),
        };
        let content = self.disk.named(&source_name(path, self.stdin_name.as_deref()), &bytes);
        drop(bytes);
        let whole = path.as_os_str() != files::STDIN && part.is_none();
        let cache = self.cache.as_ref().filter(|_| whole);
        let name = |files: &[String]| self.settings_name(files);
        if let Some(record) = cache.and_then(|cache| cache.find(&content, &name, &self.disk)) {
            let text = (!record.findings.is_empty()).then(|| content.text.clone());
            let took = start.elapsed();
            return FileResult { record: Some(record), text, cached: true, took, ..FileResult::default() };
        }
        if files::is_note(path) && content.source().text.trim().is_empty() {
            return FileResult { complaint: Some(no_block(path)), ..FileResult::default() };
        }
        if let Some(complaint) =
            part.as_deref().and_then(|part| content.meant(&path.display().to_string(), Some(part)).err())
        {
            return FileResult { complaint: Some(complaint), ..FileResult::default() };
        }
        let asked = |(name, _): &&(String, Source)| part.as_ref().is_none_or(|part| part == name);
        let mut all =
            content.sources().filter(asked).map(|(_, source)| self.fresh(&content, source, wanted, threads));
        let (mut record, mut rules) = all.next().unwrap_or_default();
        for (other, times) in all {
            record.join(other);
            rules.extend(times);
        }
        if content.replaced {
            note_replaced(&mut record, &content.text);
        }
        if let Some(cache) = cache.filter(|_| wanted == Wanted::All) {
            cache.keep(&content, &name(&record.files), &record);
        }
        let text = (!record.findings.is_empty()).then(|| content.text.clone());
        FileResult { record: Some(record), text, rules, took: start.elapsed(), ..FileResult::default() }
    }

    fn fresh(
        &self,
        content: &Content,
        source: &Source,
        wanted: Wanted,
        threads: usize,
    ) -> (Record, Vec<(&'static str, Duration)>) {
        let world = Asking::new(&self.disk);
        let elaboration = keyon_circuit::elaborate(&world, source);
        let (mut record, times) = match wanted {
            Wanted::Says => (Record::unchecked(&elaboration), Vec::new()),
            Wanted::All => {
                let settings: Vec<Arc<Settings>> =
                    elaboration.files.iter().map(|file| self.settings(&content.key, &file.key)).collect();
                let times = Mutex::new((Instant::now(), Vec::new()));
                let done = |rule: &'static str| {
                    let now = Instant::now();
                    let (last, times) = &mut *lock(&times);
                    times.push((rule, now - std::mem::replace(last, now)));
                };
                let run = Run {
                    settings: &settings,
                    expectations: true,
                    memo: None,
                    done: self.timed.then_some(&done as &(dyn Fn(&'static str) + Sync)),
                    threads,
                    cancel: &keyon_solve::Never,
                };
                // Nothing asks to stop, so this always comes to an end of its own.
                let report: Report = run.report(&elaboration).unwrap_or_default();
                (Record::new(&elaboration, &report), std::mem::take(&mut lock(&times).1))
            }
        };
        drop(elaboration);
        record.asked = world.asked().into_iter().map(|(path, hash)| (path, hash.map(cache::hex))).collect();
        (record, times)
    }

    /// The settings of one of the files of an elaboration; built-in parts have none of their own.
    pub(crate) fn settings(&self, main: &str, file: &str) -> Arc<Settings> {
        let file = Path::new(file);
        self.finder.settings(if file.is_absolute() { file } else { Path::new(main) })
    }

    fn settings_name(&self, files: &[String]) -> String {
        let main = files.first().map_or("", String::as_str);
        let mut names = String::new();
        for file in files {
            let settings = self.settings(main, file);
            let at = Arc::as_ptr(&settings) as usize;
            let known = lock(&self.names).get(&at).copied();
            let name = known.unwrap_or_else(|| cache::settings_name(&settings));
            lock(&self.names).insert(at, name);
            names.push_str(&cache::hex(name));
        }
        names
    }

    /// What every file uses, directly or by way of others, by canonical path; files that cannot be read use nothing.
    pub(crate) fn uses(&self, files: &[PathBuf]) -> BTreeMap<PathBuf, Vec<PathBuf>> {
        let mut uses = BTreeMap::new();
        for file in files.iter().filter(|file| file.as_os_str() != files::STDIN) {
            let Ok(bytes) = files::read_bytes(file) else { continue };
            let content = self.disk.named(file, &bytes);
            let world = Asking::new(&self.disk);
            keyon_circuit::files_of(&world, content.source());
            uses.insert(file.clone(), world.asked().into_keys().collect());
        }
        uses
    }
}

/// One finding for all bytes that were not UTF-8.
fn note_replaced(record: &mut Record, text: &str) {
    let Some(finding) = Entry::of_replaced_bytes(text) else { return };
    // What the marks themselves spoil needs no second word.
    let lines = Lines::new(text);
    let spoilt =
        |line: usize| text.get(lines.range(line)).unwrap_or_default().contains(char::REPLACEMENT_CHARACTER);
    record.findings.retain(|finding| !finding.is_syntax_on(spoilt));
    record.put_first(finding);
}
