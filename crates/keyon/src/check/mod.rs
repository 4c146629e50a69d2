//! `keyon check`.

mod across;
mod baseline;
mod cache;
mod gather;
mod record;
mod run;
mod says;
mod since;
mod statistics;
mod unchanged;
mod watch;

use crate::{
    args::{CheckArgs, CheckFormat, FailOn, Fixes},
    files, fix,
    output::{self, Failure, Outcome},
    report,
    world::key_of,
};
pub(crate) use cache::settings_name;
use gather::Gathered;
use keyon_check::{Level, settings::Finder};
use keyon_present::reports::{Placed, Tool, findings_json, github, junit, sarif, summary};
pub(crate) use record::{Places, Record};
use run::{Checker, FileResult, Wanted};
use statistics::Statistics;
use std::{
    collections::BTreeSet,
    path::{Path, PathBuf},
};

pub(crate) fn run(args: &CheckArgs) -> Result<Outcome, Failure> {
    if args.diff {
        return fix::diff(args, args.fix.unwrap_or(Fixes::Safe));
    }
    if !args.watch {
        let mended = args.fix.map_or(Ok(Outcome::Sound), |which| fix::run(args, which))?;
        let outcome = once(args, &mut BTreeSet::new())?;
        return Ok(if mended == Outcome::Incomplete { mended } else { outcome });
    }
    if args.paths.iter().any(|path| path.as_os_str() == files::STDIN) {
        return Err(Failure::Message(
            "standard input does not change: name a file or a folder to watch".to_owned(),
        ));
    }
    let mut watched = Watch { args, asked: BTreeSet::new(), result: Ok(Outcome::Sound) };
    watch::watch(&mut watched);
    watched.result
}

/// One check. `asked` gets every file that the answer hangs on besides those that were named.
fn once(args: &CheckArgs, asked: &mut BTreeSet<PathBuf>) -> Result<Outcome, Failure> {
    let timed = args.slowest.is_some();
    let cache = cache::open(args.cache_dir.as_deref(), args.no_cache || timed);
    let jobs = args.jobs.or_else(|| std::thread::available_parallelism().ok().map(usize::from)).unwrap_or(1);
    let mut checker = Checker::new(cache, args.stdin_name.clone(), jobs, timed);
    // Before anything is checked: a baseline that cannot be read is no reason to wait.
    let known = match &args.baseline {
        Some(path) if !args.write_baseline => Some(baseline::read(path)?),
        _ => None,
    };
    let found = files::find(&args.paths, &|key| is_excluded(&checker.finder, key));
    // Where all that is wanted is what was found, and that is known, nothing has to be read.
    let whole = args.since.is_none() && !args.statistics && args.format != CheckFormat::Junit;
    let files_only = found.complaints.is_empty() && !found.keys.iter().any(|key| key.as_os_str().is_empty());
    let cache = checker.cache.as_ref().filter(|_| whole && files_only);
    let run = cache.and_then(|_| unchanged::Run::new(&args.paths, &found, jobs));
    let answer = run.as_ref().zip(cache).and_then(|(run, cache)| run.answer(cache));
    if let Some((gathered, others)) = answer {
        asked.extend(others);
        return told(args, gathered, known, &|_| None, (found.files.len(), found.files.len()));
    }
    checker.disk.know(found.files.iter().zip(&found.keys));
    let files = match &args.since {
        Some(revision) => since::select(&checker, found.files.clone(), revision)?,
        None => found.files.iter().map(|file| (file.clone(), Wanted::All)).collect(),
    };
    let results = checker.all(&files);
    for result in &results {
        asked.extend(result.record.iter().flat_map(|record| record.asked.keys().cloned()));
    }
    asked.extend(checker.finder.all().iter().map(|found| found.path.clone()));
    let gathered = gather::gather(&checker, &files, &results, found.complaints.clone());
    if let (Some(run), Some(cache)) = (&run, &checker.cache)
        && gathered.report.complaints.is_empty()
    {
        run.keep(cache, &checker.disk, &found, asked, &gathered);
    }
    let checked = files.iter().filter(|(_, wanted)| *wanted == Wanted::All).count();
    let statistics =
        |findings: &[Placed]| (args.statistics || timed).then(|| counted(args, &files, &results, findings));
    told(args, gathered, known, &statistics, (files.len(), checked))
}

/// Tells what was found. `known`: the baseline; at the end how many files there are, and how many of them were checked.
fn told(
    args: &CheckArgs,
    mut gathered: Gathered,
    known: Option<BTreeSet<String>>,
    statistics: &dyn Fn(&[Placed]) -> Option<Statistics>,
    (all, checked): (usize, usize),
) -> Result<Outcome, Failure> {
    for complaint in &gathered.report.complaints {
        output::complain(complaint);
    }
    if let Some(path) = args.baseline.as_deref().filter(|_| args.write_baseline) {
        return written(path, &gathered);
    }
    let known = known.map(|known| baseline::apply(&known, &mut gathered.report.findings));
    let least = least(args);
    let outcome = if !gathered.report.complaints.is_empty() {
        Outcome::Incomplete
    } else if gathered.report.findings.iter().any(|f| f.level >= least) {
        Outcome::Findings
    } else {
        Outcome::Sound
    };
    if args.quiet {
        gathered.report.findings.retain(|finding| finding.level >= least);
    }
    let statistics = statistics(&gathered.report.findings);
    match args.format {
        CheckFormat::Text => {
            let remark = remark(args, known, all, checked);
            output::print(&text(args, gathered, statistics.as_ref(), checked, &remark))?;
        }
        CheckFormat::Json => {
            let mut json = findings_json(&gathered.report.findings);
            if let (Some(object), Some(statistics)) = (json.as_object_mut(), statistics) {
                object.insert("statistics".to_owned(), statistics.json());
            }
            output::print_json(&json)?;
        }
        CheckFormat::Sarif => {
            let root = std::env::current_dir().map(|here| key_of(&here)).unwrap_or_default();
            let tool = Tool {
                version: env!("CARGO_PKG_VERSION"),
                manual: gathered.manual.as_deref(),
                root: &root,
                exit_code: outcome.code(),
            };
            output::print_json(&sarif(&gathered.report, &tool))?;
        }
        CheckFormat::Junit => output::print(&junit(&gathered.report, least))?,
        CheckFormat::Github => output::print(&github(&gathered.report))?,
    }
    Ok(outcome)
}

/// The level from which findings fail.
fn least(args: &CheckArgs) -> Level {
    match (args.strict, args.fail_on) {
        (true, _) | (false, FailOn::Warning) => Level::Warning,
        (false, FailOn::Error) => Level::Error,
        (false, FailOn::Hint) => Level::Hint,
    }
}

/// Whether the settings leave a folder's file out, by its canonical path.
pub(crate) fn is_excluded(finder: &Finder<'_>, key: &Path) -> bool {
    finder
        .find(key)
        .is_some_and(|found| !found.config.exclude.is_empty() && found.config.excludes(&found.relative(key)))
}

fn counted(
    args: &CheckArgs,
    files: &[(PathBuf, Wanted)],
    results: &[FileResult],
    findings: &[Placed],
) -> Statistics {
    let statistics = Statistics::new(files, results, findings);
    match args.slowest {
        Some(most) => statistics.timed(files, results, args.stdin_name.as_deref(), most),
        None => statistics,
    }
}

fn written(path: &Path, gathered: &Gathered) -> Result<Outcome, Failure> {
    let findings = &gathered.report.findings;
    baseline::write(path, findings)?;
    let count =
        if findings.len() == 1 { "1 finding".to_owned() } else { format!("{} findings", findings.len()) };
    output::print(&format!("{count} written to {}\n", path.display()))?;
    Ok(if gathered.report.complaints.is_empty() { Outcome::Sound } else { Outcome::Incomplete })
}

/// What was left out, for the end of the summary.
fn remark(args: &CheckArgs, known: Option<baseline::Known>, all: usize, checked: usize) -> String {
    let mut out = String::new();
    if let Some(revision) = args.since.as_deref().filter(|_| checked < all) {
        out.push_str(&format!("; {} not touched since {revision}", all - checked));
    }
    if let Some(known) = known {
        out.push_str(&format!("; {} known from the baseline", known.known));
        if known.gone > 0 {
            out.push_str(&format!(", {} of its entries are mended: write it anew", known.gone));
        }
    }
    out
}

fn text(
    args: &CheckArgs,
    gathered: Gathered,
    statistics: Option<&Statistics>,
    checked: usize,
    remark: &str,
) -> String {
    let findings = &gathered.report.findings;
    let mut texts = report::Texts::default();
    for (name, text) in &gathered.texts {
        texts.add(name, text);
    }
    let mut out = report::draw(findings, &mut texts, output::colour());
    if !args.quiet {
        out.push_str(&summary(checked, findings.iter().map(|f| f.level)));
        out.push_str(remark);
        out.push('\n');
    }
    if let Some(statistics) = statistics {
        out.push_str(&statistics.text());
    }
    out
}

/// A watch over what the command line names.
struct Watch<'a> {
    args: &'a CheckArgs,
    asked: BTreeSet<PathBuf>,
    result: Result<Outcome, Failure>,
}

impl watch::Watched for Watch<'_> {
    fn look(&mut self) -> watch::Look {
        let found = files::find(&self.args.paths, &|_| false);
        let mut look = watch::Look::new();
        for key in found.keys {
            // A `keyon.toml` may come to be in any folder above.
            for folder in key.ancestors().skip(1) {
                let settings = folder.join(keyon_check::settings::FILE_NAME);
                look.entry((false, settings.clone())).or_insert_with(|| watch::stamp(&settings));
            }
            let stamp = watch::stamp(&key);
            look.insert((false, key), stamp);
        }
        for path in &self.asked {
            look.insert((true, path.clone()), watch::stamp(path));
        }
        look
    }

    fn check(&mut self) -> bool {
        self.asked.clear();
        match once(self.args, &mut self.asked) {
            Err(Failure::Message(message)) => {
                // A baseline or a revision that is not there yet may come.
                output::complain(&message);
                self.result = Ok(Outcome::Incomplete);
                true
            }
            result => {
                self.result = result;
                self.result.is_ok()
            }
        }
    }

    fn pause(&mut self) -> bool {
        std::thread::sleep(watch::PAUSE);
        true
    }
}
