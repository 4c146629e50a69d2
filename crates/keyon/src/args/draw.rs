//! The options of what is looked at: `draw`.

use super::Situation;
use clap::{ArgAction, Parser, ValueEnum};
use std::path::PathBuf;

/// The circuit as a diagram, laid out by itself: to mark up, in the wires' colours, or in a state
#[derive(Debug, Parser)]
#[command(
    after_help = "Examples:\n  keyon draw sprayer.keyon -o sprayer.svg\n  keyon draw sprayer.keyon -o sprayer.png --scale 2\n  keyon draw sprayer.keyon --in spraying -o spraying.svg            what every wire carries\n  keyon draw sprayer.keyon --view colours -o loom.svg               in the colours of the insulation\n  keyon draw sprayer.keyon --of left_valve --letters -o sheet.svg   one device's circuit, to mark up\n  keyon draw sprayer.keyon --in ready --against spraying -o diff.svg   what changes\n  keyon draw sprayer.keyon --in ready --beside spraying --beside pumping -o three.svg\n  keyon draw sprayer.keyon --face SCU.A -o scu_a.svg                which wire is in which cavity\n  keyon draw sprayer.keyon --face SCU.A --in spraying -o scu_a.svg  and what each reads\n\nWithout --view it is plain, or, where a state is asked for (--in, --set, --fault, ...), the state."
)]
pub(crate) struct DrawArgs {
    #[command(flatten)]
    pub(crate) situation: Situation,
    /// How it is looked at
    #[arg(long, value_enum)]
    pub(crate) view: Option<DrawView>,
    /// Only the circuit of this: a device, a module, a wire's fuse; may be given several times
    #[arg(long, value_name = "NAME", action = ArgAction::Append)]
    pub(crate) of: Vec<String>,
    /// Draw what this scenario changes against the state asked for
    #[arg(long, value_name = "SCENARIO")]
    pub(crate) against: Option<String>,
    /// Draw this scenario beside (or below) the state asked for, in the same layout; may be given several times
    #[arg(long, value_name = "SCENARIO", action = ArgAction::Append, conflicts_with = "against")]
    pub(crate) beside: Vec<String>,
    /// Draw the face of a connector instead, from the wire side: which wire is in which cavity, and in a state its volts
    #[arg(long, value_name = "CONNECTOR", conflicts_with_all = ["against", "beside", "view"])]
    pub(crate) face: Option<String>,
    /// Give each wire a letter, to ask about
    #[arg(long)]
    pub(crate) letters: bool,
    /// A point with a numbered box to write its reading in; may be given several times
    #[arg(long = "box", value_name = "POINT", action = ArgAction::Append)]
    pub(crate) boxes: Vec<String>,
    /// Pixels of a PNG for each of the drawing's
    #[arg(long, value_name = "FACTOR", default_value_t = 2.0)]
    pub(crate) scale: f32,
    /// Write to a file, by its ending SVG or PNG, instead of SVG to standard output
    #[arg(short, long, value_name = "FILE")]
    pub(crate) output: Option<PathBuf>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum DrawView {
    /// Black on white
    Plain,
    /// The wires in the colours of their insulation
    Colours,
    /// What each point carries
    State,
}

/// The pin-out of a module, a connector or a device: wires, where they lead, and what each cavity reads
#[derive(Debug, Parser)]
#[command(
    after_help = "Examples:\n  keyon pinout sprayer.keyon SCU                      every scenario a column\n  keyon pinout sprayer.keyon SCU.A --in ready --in spraying --unplugged\n  keyon pinout sprayer.keyon SCU.B --in ready --windows --format markdown\n  keyon pinout sprayer.keyon left_valve --in spraying\n  keyon pinout sprayer.keyon SCU --format csv -o scu.csv\n\nReadings are those of `keyon state`, cell by cell. Unplugged, the harness side is read."
)]
pub(crate) struct PinoutArgs {
    /// The circuit (`NOTE.md`, `NOTE.md#NAME`: one of a note); `-` is standard input
    #[arg(value_name = "FILE")]
    pub(crate) file: PathBuf,
    /// A module, a connector of one (SCU.A), an in-line connector, or a device
    #[arg(value_name = "SUBJECT")]
    pub(crate) subject: String,
    /// A scenario to read in; may be given several times; without one, all of the file, or rest where there is none
    #[arg(long = "in", value_name = "SCENARIO", action = ArgAction::Append)]
    pub(crate) scenarios: Vec<String>,
    /// Also what the harness side reads with the connector off
    #[arg(long)]
    pub(crate) unplugged: bool,
    /// The lowest and the highest of every reading, over tolerances and supply ranges
    #[arg(long)]
    pub(crate) windows: bool,
    #[arg(long, value_enum)]
    pub(crate) format: Option<PinoutFormat>,
    /// Break text tables wider than this
    #[arg(long, value_name = "COLUMNS", default_value_t = 110)]
    pub(crate) width: usize,
    /// Write to a file instead of standard output
    #[arg(short, long, value_name = "FILE")]
    pub(crate) output: Option<PathBuf>,
    /// The name that standard input goes by; libraries are looked for beside it
    #[arg(long, value_name = "NAME")]
    pub(crate) stdin_name: Option<PathBuf>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum PinoutFormat {
    Text,
    Markdown,
    Csv,
    Html,
}

/// The plan of measurements for a device that does not work, or a point that reads wrong: one screen a step
#[derive(Debug, Parser)]
#[command(
    after_help = "Examples:\n  keyon probe sprayer.keyon left_valve                the valve does not work: where to put the probe\n  keyon probe sprayer.keyon left_valve --in spraying --format markdown\n  keyon probe sprayer.keyon SCU.temp_in --set key=run   the input reads wrong\n\nWithout a state it is the scenario that `view` names, or the first one in which the device works.\nEach step says what every reading would mean: the single faults that would give it, computed one by one."
)]
pub(crate) struct ProbeArgs {
    #[command(flatten)]
    pub(crate) situation: Situation,
    /// A device that does not do what it should, or a point that reads wrong
    #[arg(value_name = "SUBJECT")]
    pub(crate) subject: String,
    #[arg(long, value_enum)]
    pub(crate) format: Option<PlanFormat>,
    /// Break text lines wider than this
    #[arg(long, value_name = "COLUMNS", default_value_t = 100)]
    pub(crate) width: usize,
    /// Write to a file instead of standard output
    #[arg(short, long, value_name = "FILE")]
    pub(crate) output: Option<PathBuf>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum PlanFormat {
    Text,
    Markdown,
    Html,
}

/// A sheet for learners from an exercise or a scenario, or its answer key
#[derive(Debug, Parser)]
#[command(
    after_help = "Examples:\n  keyon sheet sprayer.keyon dead_left -o dead_left.html            open it in a browser, print it\n  keyon sheet sprayer.keyon dead_left --key -o dead_left_key.html\n  keyon sheet sprayer.keyon --in spraying --of left_valve -o sheet.html --paper letter\n  keyon sheet sprayer.keyon dead_left -o dead_left.md              with dead_left.svg beside it\n\nA learner's sheet holds no word of the key. Both carry one short mark: what belongs together is seen."
)]
pub(crate) struct SheetArgs {
    /// The circuit (`NOTE.md`, `NOTE.md#NAME`: one of a note); `-` is standard input
    #[arg(value_name = "FILE")]
    pub(crate) file: PathBuf,
    /// The exercise; without one, and without --in, the file's only one
    #[arg(value_name = "EXERCISE", conflicts_with = "scenario")]
    pub(crate) exercise: Option<String>,
    /// Make the sheet from a scenario: mark the wires, fill in the volts, the truth table
    #[arg(long = "in", value_name = "SCENARIO")]
    pub(crate) scenario: Option<String>,
    /// Only the circuit of this, in the scenario of --in or at rest; may be given several times
    #[arg(long, value_name = "NAME", action = ArgAction::Append, conflicts_with = "exercise")]
    pub(crate) of: Vec<String>,
    /// The answer key
    #[arg(long)]
    pub(crate) key: bool,
    /// What it is printed on
    #[arg(long, value_enum, default_value_t = PaperSize::A4)]
    pub(crate) paper: PaperSize,
    #[arg(long, value_enum)]
    pub(crate) format: Option<SheetFormat>,
    /// Write to a file instead of standard output
    #[arg(short, long, value_name = "FILE")]
    pub(crate) output: Option<PathBuf>,
    /// The name that standard input goes by; libraries are looked for beside it
    #[arg(long, value_name = "NAME")]
    pub(crate) stdin_name: Option<PathBuf>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum SheetFormat {
    Html,
    Markdown,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum PaperSize {
    A4,
    A3,
    Letter,
}

/// Fill the marked regions of Markdown notes from the circuits in the same notes
#[derive(Debug, Parser)]
#[command(
    after_help = "A note holds its circuit in a fenced block, ```keyon, and says where an answer goes:\n\n  <!-- keyon: table --of lamp -->\n  <!-- keyon end -->\n\nBetween the marks stand the words of a command without its file: table, pinout, probe, sheet, state, trace,\nsweep, draw (its picture is written beside the note). The text outside the regions stays as it is.\n\nExamples:\n  keyon notes pump.md --check       which regions are out of date; exit 1 if any\n  keyon notes pump.md --write       fill them; doing it again changes nothing"
)]
pub(crate) struct NotesArgs {
    /// Markdown files
    #[arg(value_name = "FILE", required = true)]
    pub(crate) files: Vec<PathBuf>,
    /// Fill the regions
    #[arg(long, conflicts_with = "check", required_unless_present = "check")]
    pub(crate) write: bool,
    /// Say which regions are out of date, and change nothing
    #[arg(long)]
    pub(crate) check: bool,
}

/// One HTML file to open on a phone or a laptop: switch the controls, probe, see what every wire carries
#[derive(Debug, Parser)]
#[command(
    after_help = "Example:\n  keyon page sprayer.keyon -o sprayer.html\n\nThe page holds the circuit with its libraries and this program's core, compiled for the browser: what it shows is\nwhat the terminal says. It uses no network. It needs a browser of 2023 or later.\n\nWith --static the page computes nothing and holds no WebAssembly: it carries the core's answers in rest, in every\nscenario and in as many other states as --states allows, and says so where a state is not in it. For old phones, viewers\nthat allow little, mail, and printing; any browser of 2020 or later will do."
)]
pub(crate) struct PageArgs {
    /// Carry answers in place of the core: a smaller page, for where WebAssembly is not allowed
    #[arg(long = "static")]
    pub(crate) fixed: bool,
    /// With --static: at most so many states; rest and scenarios are always there
    #[arg(long, value_name = "NUMBER", requires = "fixed", default_value_t = keyon_web::record::MOST)]
    pub(crate) states: usize,
    /// The circuit (`NOTE.md`, `NOTE.md#NAME`: one of a note); `-` is standard input
    #[arg(value_name = "FILE")]
    pub(crate) file: PathBuf,
    /// Write to a file instead of standard output
    #[arg(short, long, value_name = "FILE")]
    pub(crate) output: Option<PathBuf>,
    /// The name that standard input goes by; libraries are looked for beside it
    #[arg(long, value_name = "NAME")]
    pub(crate) stdin_name: Option<PathBuf>,
}

/// A folder with one page to write circuits in: findings, hover, completion, diagram, table; no server
#[derive(Debug, Parser)]
#[command(
    after_help = "Example:\n  keyon playground site      then open site/index.html, or put the folder on any web server\n\nA link to the page's address holds the whole text. Nothing is sent anywhere."
)]
pub(crate) struct PlaygroundArgs {
    /// The folder to write
    #[arg(value_name = "FOLDER")]
    pub(crate) folder: PathBuf,
}
