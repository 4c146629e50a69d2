//! The arguments of what a library's maintainer and other programs use: `keyon compare`, `export`, `schema`.

use clap::{Parser, ValueEnum};
use std::path::PathBuf;

/// What changes between two versions of circuits: readings, device states, findings, expectations
#[derive(Debug, Parser)]
#[command(
    after_help = "Examples:\n  keyon compare old.keyon new.keyon\n  keyon compare library-1.2 library-1.3\n  keyon compare main..HEAD --format markdown > report.md\n  keyon compare main                the branch or commit main against the files as they are\n  keyon compare v1.0 v1.1 --only circuits/pumps\n\nA version is a file, a folder, or a commit of the git repository we are in. Files are the same circuit where\nthey have the same path, else where they have the same circuit name. A circuit is untouched when its text, all\nit uses and its settings are the same, byte for byte.\n\nExit codes: 0 nothing got worse, 1 a new error or an expectation that held and fails now, 2 could not run."
)]
pub(crate) struct CompareArgs {
    /// A file, a folder, a commit, or two commits as `OLD..NEW`
    #[arg(value_name = "OLD")]
    pub(crate) old: String,
    /// Against what; without it, a commit is compared with the files as they are
    #[arg(value_name = "NEW")]
    pub(crate) new: Option<String>,
    /// Only files in this folder, or this file
    #[arg(long, value_name = "PATH")]
    pub(crate) only: Option<PathBuf>,
    #[arg(long, value_enum, default_value_t = CompareFormat::Text)]
    pub(crate) format: CompareFormat,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum CompareFormat {
    Text,
    Markdown,
    Json,
}

/// The whole model of a circuit for other programs: nets, elements, pins, wires, modules, scenarios, places
#[derive(Debug, Parser)]
#[command(
    after_help = "Examples:\n  keyon export sprayer.keyon --format json > sprayer.json\n  keyon export - --stdin-name notes/sprayer.keyon < sprayer.keyon\n\n`keyon schema export` describes the keys. Ids stay when the file is formatted or its statements change places."
)]
pub(crate) struct ExportArgs {
    /// The circuit (`NOTE.md`, `NOTE.md#NAME`: one of a note); `-` is standard input
    #[arg(value_name = "FILE")]
    pub(crate) file: PathBuf,
    #[arg(long, value_enum, default_value_t = ExportFormat::Json)]
    pub(crate) format: ExportFormat,
    /// The name that standard input goes by; libraries are looked for beside it
    #[arg(long, value_name = "NAME")]
    pub(crate) stdin_name: Option<PathBuf>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum ExportFormat {
    Json,
}

/// The JSON Schema of what a command prints, or of keyon.toml; without a name it lists them
#[derive(Debug, Parser)]
#[command(
    after_help = "Examples:\n  keyon schema\n  keyon schema check > check.schema.json\n  keyon schema settings > keyon.toml.schema.json"
)]
pub(crate) struct SchemaArgs {
    /// A command that prints JSON, or `settings`
    #[arg(value_name = "NAME")]
    pub(crate) name: Option<String>,
}
