//! The command line as clap reads it.

mod check;
mod draw;
mod library;

pub(crate) use check::{CheckArgs, CheckFormat, FailOn, Fixes};
pub(crate) use draw::{
    DrawArgs, DrawView, NotesArgs, PageArgs, PaperSize, PinoutArgs, PinoutFormat, PlanFormat, PlaygroundArgs,
    ProbeArgs, SheetArgs, SheetFormat,
};
pub(crate) use library::{CompareArgs, CompareFormat, ExportArgs, SchemaArgs};

use clap::{ArgAction, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// Checks and computes electrical circuits written as text.
#[derive(Debug, Parser)]
#[command(
    name = "keyon",
    version,
    about = "Checks and computes electrical circuits written as text: vehicles, machines, and the modules that run them",
    after_help = "Start:\n  keyon new my_lamp            write a first circuit, my_lamp.keyon\n  keyon check my_lamp.keyon    is it sound?\n  keyon state my_lamp.keyon --set arm=on    what does every point carry?\n  keyon table my_lamp.keyon    which device does what, in every position of the controls\n\nExit codes: 0 nothing at error level, 1 errors found, 2 could not run.\nWhat is computed is for teaching and planning; the maker's data wins.",
    arg_required_else_help = true,
    disable_help_subcommand = true
)]
pub(crate) struct Args {
    #[command(subcommand)]
    pub(crate) command: Command,
}

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    Check(CheckArgs),
    Compare(CompareArgs),
    Export(ExportArgs),
    Schema(SchemaArgs),
    State(StateArgs),
    Table(TableArgs),
    Trace(TraceArgs),
    Sweep(SweepArgs),
    Draw(DrawArgs),
    Pinout(PinoutArgs),
    Probe(ProbeArgs),
    Sheet(SheetArgs),
    Notes(NotesArgs),
    Page(PageArgs),
    Playground(PlaygroundArgs),
    Fmt(FmtArgs),
    Explain(ExplainArgs),
    Lsp(LspArgs),
    New(NewArgs),
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum Format {
    Text,
    Json,
}

/// A file and the state to solve it in.
#[derive(Debug, Parser)]
pub(crate) struct Situation {
    /// The circuit; `-` is standard input
    #[arg(value_name = "FILE")]
    pub(crate) file: PathBuf,
    /// Start from a scenario of the file; without one every control rests
    #[arg(long = "in", value_name = "SCENARIO")]
    pub(crate) scenario: Option<String>,
    /// Set a control, a sensor or a supply, as a scenario would say it
    #[arg(long, value_name = "NAME=VALUE", action = ArgAction::Append)]
    pub(crate) set: Vec<String>,
    /// Unplug a device, a module's connector, or an in-line connector
    #[arg(long, value_name = "NAME", action = ArgAction::Append)]
    pub(crate) unplug: Vec<String>,
    /// Pull a fuse
    #[arg(long, value_name = "FUSE", action = ArgAction::Append)]
    pub(crate) pull: Vec<String>,
    /// Join two points: 'SCU.A.4 to G1'
    #[arg(long, value_name = "A to B", action = ArgAction::Append)]
    pub(crate) jumper: Vec<String>,
    /// Put a test load between two points: 'S12 to G1 21 W 12 V'
    #[arg(long, value_name = "A to B LOAD", action = ArgAction::Append)]
    pub(crate) load: Vec<String>,
    /// A fault, as an exercise would say it: 'open 431', 'short S12 to ground'
    #[arg(long, value_name = "FAULT", action = ArgAction::Append)]
    pub(crate) fault: Vec<String>,
    /// Keep overloaded fuses whole, to show the moment before they blow
    #[arg(long)]
    pub(crate) keep_fuses: bool,
    /// The name that standard input goes by; libraries are looked for beside it
    #[arg(long, value_name = "NAME")]
    pub(crate) stdin_name: Option<PathBuf>,
}

/// What every point carries in one state: node states, volts, amps, devices
#[derive(Debug, Parser)]
#[command(
    after_help = "Examples:\n  keyon state sprayer.keyon --in spraying\n  keyon state sprayer.keyon --set key=run --set 'left_cmd=on 40 %'\n  keyon state sprayer.keyon --in spraying --set 'temp=25 degC' --set 'battery=11 V'\n  keyon state sprayer.keyon --in spraying --unplug left_valve --pull F7\n  keyon state sprayer.keyon --in spraying --fault 'open 441' --format json\n  keyon state sprayer.keyon --in spraying --set battery=cranking\n  keyon state sprayer.keyon --in spraying --windows\n  keyon state sprayer.keyon --in spraying --probe lamp\n  keyon state sprayer.keyon --probe 'meter 20 kohm' --lead battery\n\nA supply is set to volts, or to resting, running or cranking: its stated volts, the high and the low\nend of its range."
)]
pub(crate) struct StateArgs {
    #[command(flatten)]
    pub(crate) situation: Situation,
    /// Show the lowest and the highest of every reading: of parts within their tolerances, supplies over their range
    #[arg(long, value_enum, value_name = "WHAT VARIES", num_args = 0..=1, require_equals = true, default_missing_value = "all")]
    pub(crate) windows: Option<Vary>,
    /// Hold an instrument to every point: `lamp` (40 ohm), `meter` (10 Mohm), or one of other ohms, 'lamp 20 ohm'
    #[arg(long, value_name = "INSTRUMENT")]
    pub(crate) probe: Option<String>,
    /// Where the instrument's other lead is, instead of ground
    #[arg(long, value_name = "POINT", requires = "probe")]
    pub(crate) lead: Option<String>,
    #[arg(long, value_enum, default_value_t = Format::Text)]
    pub(crate) format: Format,
}

/// What varies in a window.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum Vary {
    All,
    Tolerances,
    Ranges,
}

/// Truth tables: what each device does in every position of the controls that matter to it
#[derive(Debug, Parser)]
#[command(
    after_help = "Examples:\n  keyon table sprayer.keyon\n  keyon table sprayer.keyon --of left_valve --of left_valve.2\n  keyon table sprayer.keyon --of left_cmd           the devices that left_cmd has a say in\n  keyon table sprayer.keyon --of SCU --set key=run  the devices of a module, with the key held in run\n  keyon table sprayer.keyon --format html > table.html\n\nA control named with --in or --set is held there, the others take every position. Rows that a control does not matter to\nare joined. A group of more than 4096 rows is summarised: it says so, and how many combinations do what."
)]
pub(crate) struct TableArgs {
    #[command(flatten)]
    pub(crate) situation: Situation,
    /// A device, a point (its node state and volts), a control or driver, or a module; may be given several times
    #[arg(long, value_name = "NAME", action = ArgAction::Append)]
    pub(crate) of: Vec<String>,
    #[arg(long, value_enum, default_value_t = TableFormat::Text)]
    pub(crate) format: TableFormat,
    /// Break text tables wider than this
    #[arg(long, value_name = "COLUMNS", default_value_t = 80)]
    pub(crate) width: usize,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum TableFormat {
    Text,
    Markdown,
    Json,
    Csv,
    Html,
}

/// The way from the supply to a point and on to ground, with the drop across each element
#[derive(Debug, Parser)]
#[command(
    after_help = "Examples:\n  keyon trace sprayer.keyon left_valve.2 --in spraying\n  keyon trace sprayer.keyon SCU.A.4 --set key=run\n  keyon trace sprayer.keyon SCU.temp_in --set key=run --set 'temp=60 degC'"
)]
pub(crate) struct TraceArgs {
    #[command(flatten)]
    pub(crate) situation: Situation,
    /// A pin, a cavity, a splice, a supply or a ground point
    #[arg(value_name = "POINT")]
    pub(crate) point: String,
    #[arg(long, value_enum, default_value_t = Format::Text)]
    pub(crate) format: Format,
}

/// A signal over temperature, travel, pressure or a supply's volts: as a table, or drawn
#[derive(Debug, Parser)]
#[command(
    after_help = "Examples:\n  keyon sweep sprayer.keyon temp --at SCU.temp_in --set key=run\n  keyon sweep sprayer.keyon level --at level_in --set key=run --from 0 --to 50 --steps 10\n  keyon sweep sprayer.keyon temp --at temp_in --set key=run -o temp.svg\n  keyon sweep sprayer.keyon battery --at S12 --at left_valve.2 --in spraying --from 8 --to 15\n\nWithout --from and --to it goes over the sensor's span, or the supply's range. An input named by its\nname (temp_in) is read against its module's own ground, and judged by its range or threshold; a point\n(SCU.B.10) is read with a meter against the common ground."
)]
pub(crate) struct SweepArgs {
    #[command(flatten)]
    pub(crate) situation: Situation,
    /// What is taken through its span: a sensor, or a supply
    #[arg(value_name = "STIMULUS")]
    pub(crate) stimulus: String,
    /// What is read: a module's input or a point; may be given several times
    #[arg(long, value_name = "POINT", required = true, action = ArgAction::Append)]
    pub(crate) at: Vec<String>,
    /// Where it begins: -20, '-20 degC', '10 %'
    #[arg(long, value_name = "VALUE", allow_hyphen_values = true)]
    pub(crate) from: Option<String>,
    /// Where it ends
    #[arg(long, value_name = "VALUE", allow_hyphen_values = true)]
    pub(crate) to: Option<String>,
    /// Into how many equal steps it is cut; 20, for a drawing 200
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=100_000))]
    pub(crate) steps: Option<u32>,
    /// How it is written; without it by the ending of -o, else as text
    #[arg(long, value_enum)]
    pub(crate) format: Option<SweepFormat>,
    /// Write to a file instead of standard output
    #[arg(short, long, value_name = "FILE")]
    pub(crate) output: Option<PathBuf>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum SweepFormat {
    Text,
    Csv,
    Json,
    Markdown,
    Svg,
    Png,
}

/// Format files in place
#[derive(Debug, Parser)]
#[command(
    after_help = "Examples:\n  keyon fmt circuits\n  keyon fmt --check .       name what is not formatted, change nothing, exit 1\n  keyon fmt - < a.keyon     from standard input to standard output"
)]
pub(crate) struct FmtArgs {
    /// Files or folders; `-` is standard input
    #[arg(required = true, value_name = "PATH")]
    pub(crate) paths: Vec<PathBuf>,
    /// Change nothing; exit 1 if anything would change
    #[arg(long)]
    pub(crate) check: bool,
}

/// What a rule means, why it matters, how to mend it; without a rule all of them
#[derive(Debug, Parser)]
#[command(
    after_help = "Examples:\n  keyon explain\n  keyon explain no-feed-path\n  keyon explain --all > MANUAL.md    every page, as Markdown"
)]
pub(crate) struct ExplainArgs {
    /// A rule's name
    #[arg(value_name = "RULE")]
    pub(crate) rule: Option<String>,
    /// The pages of all rules in one, as Markdown
    #[arg(long, conflicts_with = "rule")]
    pub(crate) all: bool,
}

/// Language server for editors, over standard input and output
#[derive(Debug, Parser)]
pub(crate) struct LspArgs {
    /// Accepted because many editors pass it; it is the only way there is
    #[arg(long, hide = true)]
    stdio: bool,
}

/// Write a first sound circuit to start from
#[derive(Debug, Parser)]
#[command(after_help = "Example:\n  keyon new pump_light    writes pump_light.keyon")]
pub(crate) struct NewArgs {
    /// The circuit's name: letters, digits and _
    #[arg(value_name = "NAME")]
    pub(crate) name: String,
    /// Write it even where a file of that name stands
    #[arg(long)]
    pub(crate) force: bool,
}
