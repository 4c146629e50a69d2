//! The arguments of `keyon check`.

use clap::{Parser, ValueEnum};
use std::path::PathBuf;

/// Check circuits and parts libraries: syntax, names, and whether each circuit is sound
#[derive(Debug, Parser)]
#[command(
    after_help = "Examples:\n  keyon check sprayer.keyon\n  keyon check circuits parts --format json\n  keyon check --strict --baseline known.json .\n  keyon check --since origin/main --format github .\n  keyon check --watch circuits\n  keyon check --fix=all --diff sprayer.keyon    what would be mended, safe or not\n  keyon check - --stdin-name notes/sprayer.keyon < sprayer.keyon\n\nExit codes:\n  0  nothing found from the failing level on (errors; with --strict warnings too)\n  1  something found\n  2  a part of it could not run: a file that cannot be read, a wrong option; the rest was checked\n\nFolders are searched for *.keyon files, sorted; hidden folders are passed over. A Markdown note that is named is\nchecked too: the circuits in its ```keyon blocks, each at its place.\nSettings come from the nearest keyon.toml above each file: `keyon explain settings`.\n`keyon explain RULE` says what a rule means and how to mend it."
)]
pub(crate) struct CheckArgs {
    /// Files or folders; `-` is standard input
    #[arg(required = true, value_name = "PATH")]
    pub(crate) paths: Vec<PathBuf>,
    /// How findings are written
    #[arg(long, value_enum, default_value_t = CheckFormat::Text)]
    pub(crate) format: CheckFormat,
    /// Exit with 1 from this level on
    #[arg(long, value_enum, default_value_t = FailOn::Error, value_name = "LEVEL")]
    pub(crate) fail_on: FailOn,
    /// Warnings fail too: `--fail-on warning`
    #[arg(long, conflicts_with = "fail_on")]
    pub(crate) strict: bool,
    /// Tell only what fails, and no summary
    #[arg(long, short)]
    pub(crate) quiet: bool,
    /// Tell only findings that this file does not have
    #[arg(long, value_name = "FILE")]
    pub(crate) baseline: Option<PathBuf>,
    /// Write the findings of now into the baseline instead
    #[arg(long, requires = "baseline")]
    pub(crate) write_baseline: bool,
    /// Only files that changed since this branch left REV, and files that use them (asks git)
    #[arg(long, value_name = "REV")]
    pub(crate) since: Option<String>,
    /// Check again whenever something changes
    #[arg(long, conflicts_with_all = ["write_baseline", "fix"])]
    pub(crate) watch: bool,
    /// Count findings by rule
    #[arg(long)]
    pub(crate) statistics: bool,
    /// Name the slowest files and rules; checks everything anew
    #[arg(long, value_name = "COUNT", num_args = 0..=1, default_missing_value = "10")]
    pub(crate) slowest: Option<usize>,
    /// Neither use nor keep what is known of unchanged files
    #[arg(long)]
    pub(crate) no_cache: bool,
    /// Where that is kept; else KEYON_CACHE_DIR, else `keyon` in the user's folder for caches
    #[arg(long, value_name = "FOLDER", conflicts_with = "no_cache")]
    pub(crate) cache_dir: Option<PathBuf>,
    /// How many files at a time; as many as there are processors if not given
    #[arg(long, value_name = "COUNT")]
    pub(crate) jobs: Option<usize>,
    /// The name that standard input goes by; libraries are looked for beside it
    #[arg(long, value_name = "NAME")]
    pub(crate) stdin_name: Option<PathBuf>,
    /// Mend what can be mended, in the files, and report what is left: `--fix` makes safe fixes, `--fix=all` also those
    /// that change what the circuit says and that somebody has to look at
    #[arg(long, value_enum, value_name = "FIXES", num_args = 0..=1, require_equals = true, default_missing_value = "safe")]
    pub(crate) fix: Option<Fixes>,
    /// Print what --fix would change as a unified diff, and change nothing; exit 1 if it would change anything
    #[arg(long, conflicts_with = "watch")]
    pub(crate) diff: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum Fixes {
    Safe,
    All,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum CheckFormat {
    /// For people
    Text,
    /// For programs; `keyon schema check` describes it
    Json,
    /// SARIF 2.1.0, for code review
    Sarif,
    /// JUnit XML: a case for each expectation and each failing finding
    Junit,
    /// Workflow commands of GitHub's CI
    Github,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum FailOn {
    Error,
    Warning,
    Hint,
}
