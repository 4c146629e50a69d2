//! The model of one circuit: what everything above this crate works on.
//!
//! Points are nodes, elements are edges. *Every* wire stretch, cavity, terminal and fuse is an edge of its own, also
//! where it has no resistance ([`Law::Joint`]): so each can be opened as a fault and probed on both sides. Whoever
//! computes merges points over the joints that are closed into *nets*.

use crate::{ids::*, value::Num};
use keyon_syntax::Span;
use smol_str::SmolStr;

/// A place in a source text: resolved to absolute bytes by [`crate::Elaboration::span`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Loc {
    /// Which file.
    pub file: FileId,
    /// Index of the item in that file's tree.
    pub item: u32,
    /// Relative to the item.
    pub span: Span,
}

/// One circuit, elaborated.
#[derive(Clone, Debug)]
pub struct Circuit {
    /// From the `circuit` line; `"circuit"` and no title where there is none.
    pub name: SmolStr,
    #[allow(missing_docs)]
    pub title: Option<String>,
    /// The `circuit` line.
    pub loc: Option<Loc>,
    /// Nodes. Point 0 is the common ground.
    pub points: Vec<Point>,
    /// Edges, in source order.
    pub elements: Vec<Element>,
    #[allow(missing_docs)]
    pub supplies: Vec<Supply>,
    #[allow(missing_docs)]
    pub grounds: Vec<GroundPoint>,
    #[allow(missing_docs)]
    pub splices: Vec<Splice>,
    #[allow(missing_docs)]
    pub wires: Vec<Wire>,
    #[allow(missing_docs)]
    pub inlines: Vec<Inline>,
    #[allow(missing_docs)]
    pub devices: Vec<Device>,
    #[allow(missing_docs)]
    pub modules: Vec<Module>,
    /// In source order: the order of table columns.
    pub controls: Vec<Control>,
    #[allow(missing_docs)]
    pub stimuli: Vec<Stimulus>,
    #[allow(missing_docs)]
    pub scenarios: Vec<Scenario>,
    #[allow(missing_docs)]
    pub expects: Vec<Expect>,
    /// Kept with their spans for later work.
    pub exercises: Vec<Exercise>,
    /// Kept with their spans for later work.
    pub readings: Vec<Readings>,
    /// Branches that leave the page.
    pub elsewhere: Vec<ElementId>,
    /// `view NAME`.
    pub view: Option<ScenarioId>,
    /// Points next to something that could not be read or resolved: consequences there are not reported.
    pub tainted: Vec<PointId>,
    /// A damaged item may have touched anything: no finding that rests on something being absent is to be trusted.
    pub incomplete: bool,
}

/// The common ground's point.
pub const COMMON: PointId = PointId(0);

/// A node.
#[derive(Clone, Debug)]
pub struct Point {
    /// `left_valve.2`, `SCU.A.4`, `C201.1.a`, `S12`, `battery`; the device's or module's side of a pin adds
    /// `.inside`; nodes inside a module that no pin shows are `SCU.temp_in.rail` and the like.
    pub name: SmolStr,
    #[allow(missing_docs)]
    pub kind: PointKind,
    /// Where it is declared.
    pub loc: Option<Loc>,
}

/// What a node is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PointKind {
    /// The common ground, point 0, named `ground`.
    Common,
    /// A supply's positive terminal (behind its inner resistance). Index into `supplies`.
    Supply(usize),
    /// A ground point. Index into `grounds`.
    Ground(usize),
    /// Index into `splices`.
    Splice(usize),
    /// The wire side of a device's pin: index into the device's `pins`. Probed, wired.
    Pin(DeviceId, usize),
    /// The device's side of that pin.
    PinInside(DeviceId, usize),
    /// The wire side of a module's cavity: indices into `connectors` and `cavities`.
    Cavity(ModuleId, usize, usize),
    /// The module's side of it.
    CavityInside(ModuleId, usize, usize),
    /// One side of an in-line cavity; `false` is side a.
    InlineSide(InlineId, usize, bool),
    /// Inside a module or a device; never probed.
    Internal,
}

/// An edge.
#[derive(Clone, Debug)]
pub struct Element {
    /// `F7`, `431`, `431.2`, `S12->SCU.A.1`, `left_valve.coil`, `K4.30_87` …; unique.
    pub name: SmolStr,
    /// Currents are positive from here …
    pub from: PointId,
    /// … to here.
    pub to: PointId,
    #[allow(missing_docs)]
    pub kind: ElementKind,
    /// How it behaves while it conducts.
    pub law: Law,
    /// When it conducts.
    pub when: When,
    /// It conducts only while this module is alive (stages, references, rails).
    pub alive: Option<ModuleId>,
    #[allow(missing_docs)]
    pub owner: Owner,
    /// The statement or cavity row that declares it.
    pub loc: Loc,
}

/// What an element is, as a person would say it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum ElementKind {
    /// One stretch of a wire.
    Wire,
    /// A pin's or a cavity's contact: wire side to inside. Opened by `unplug`.
    Terminal,
    /// The two sides of an in-line cavity.
    Inline,
    /// A top-level element's or switch's path, joined without a wire.
    Tie,
    #[allow(missing_docs)]
    Fuse(FuseKind),
    /// A ground point's joint or resistance to the common ground.
    Ground,
    /// A supply: from its negative pole to its terminal.
    Supply,
    /// A switch's or relay's contact. A changeover is two of them.
    Contact,
    /// A module's driver stage or one half of a `switches` stage.
    Stage,
    /// A module's reference: from the module's ground to the inside of the pin.
    Reference,
    /// The voltage behind a `pull_up … to 5 V`: from the module's ground to the rail.
    Rail,
    /// A return's joint (or switch) to the module's ground.
    Return,
    #[allow(missing_docs)]
    PullUp,
    #[allow(missing_docs)]
    PullDown,
    /// A module's own consumption, feed to ground.
    Draw,
    #[allow(missing_docs)]
    Resistor,
    #[allow(missing_docs)]
    Lamp,
    #[allow(missing_docs)]
    Heater,
    #[allow(missing_docs)]
    Coil,
    #[allow(missing_docs)]
    Winding,
    #[allow(missing_docs)]
    Thermistor,
    /// One part of a track: `true` is from the reference end to the wiper, `false` from the wiper to the return end.
    Track(bool),
    #[allow(missing_docs)]
    Variable,
    /// The output of a three-wire transducer: from its return to its output.
    Transducer,
    #[allow(missing_docs)]
    Diode,
    /// A load that leaves the page (`elsewhere … 3 A`): to the common ground.
    Elsewhere,
}

pub use keyon_syntax::tree::{FuseKind, Way};

impl ElementKind {
    /// A load in the sense of decision 18: everything but wires, joints, fuses, contacts, stages, sources, grounds,
    /// returns; a diode counts as one only while it blocks, which the caller decides.
    pub fn is_load(self) -> bool {
        use ElementKind::*;
        matches!(
            self,
            PullUp
                | PullDown
                | Draw
                | Resistor
                | Lamp
                | Heater
                | Coil
                | Winding
                | Thermistor
                | Track(_)
                | Variable
                | Transducer
                | Elsewhere
        )
    }
    /// An ideal or real source of voltage.
    pub fn is_source(self) -> bool {
        matches!(self, Self::Supply | Self::Reference | Self::Rail)
    }
}

/// How an element behaves while it conducts. SI units; temperatures in degrees Celsius, travel and ratios as 0 … 1.
#[derive(Clone, Debug)]
pub enum Law {
    /// No resistance: joins its ends into one net.
    Joint,
    /// Ohms, above zero.
    Resistance(Num),
    /// Rated watts and volts: volts² / watts ohms. `cold` is its resistance when cold.
    Rated {
        #[allow(missing_docs)]
        watts: Num,
        #[allow(missing_docs)]
        volts: Num,
        #[allow(missing_docs)]
        cold: Option<Num>,
    },
    /// A coil: ohms; amps at which it pulls in and drops out; rated amps.
    Coil {
        #[allow(missing_docs)]
        ohms: Num,
        #[allow(missing_docs)]
        pulls_in: Option<Num>,
        #[allow(missing_docs)]
        drops_out: Option<Num>,
        #[allow(missing_docs)]
        rated: Option<Rated>,
    },
    /// A motor winding: stalled ohms; amps from which it turns; `runs`, amps drawn turning at the rated voltage.
    Winding {
        #[allow(missing_docs)]
        ohms: Num,
        #[allow(missing_docs)]
        turns_at: Option<Num>,
        #[allow(missing_docs)]
        rated: Option<Rated>,
        #[allow(missing_docs)]
        runs: Option<Num>,
    },
    #[allow(missing_docs)]
    Thermistor { curve: Curve, stimulus: StimulusId },
    /// A part of a track of `ohms`; the wiper stands at `travel.0 + (travel.1 - travel.0) * stimulus` of the way from
    /// the return end to the reference end. [`ElementKind::Track`] says which part.
    Track {
        #[allow(missing_docs)]
        ohms: Num,
        #[allow(missing_docs)]
        travel: (f64, f64),
        #[allow(missing_docs)]
        stimulus: StimulusId,
    },
    /// The stimulus is the resistance itself.
    Variable {
        #[allow(missing_docs)]
        low: f64,
        #[allow(missing_docs)]
        high: f64,
        #[allow(missing_docs)]
        stimulus: StimulusId,
    },
    /// `to` stands `volts.0 … volts.1` over `from` while the stimulus goes `over.0 … over.1`, as long as `feed` has
    /// continuity to a supply or reference and `from` to ground. With `ratio` it scales with feed's voltage.
    Transducer {
        #[allow(missing_docs)]
        feed: PointId,
        #[allow(missing_docs)]
        volts: (f64, f64),
        #[allow(missing_docs)]
        over: (f64, f64),
        #[allow(missing_docs)]
        ratio: bool,
        #[allow(missing_docs)]
        stimulus: StimulusId,
    },
    /// Conducts `from` to `to` with this drop.
    Diode {
        #[allow(missing_docs)]
        drop: Num,
    },
    /// `to` stands `volts` over `from`, behind `inner` ohms (zero allowed); constant current at `limit`.
    Source {
        #[allow(missing_docs)]
        volts: Num,
        #[allow(missing_docs)]
        inner: Num,
        #[allow(missing_docs)]
        limit: Option<Num>,
        /** Lowest and highest volts. */
        range: Option<(f64, f64)>,
    },
}

/// What `rated` gave for a coil or a winding.
#[derive(Clone, Copy, Debug, PartialEq)]
#[allow(missing_docs)]
pub enum Rated {
    Amps(Num),
    Volts(Num),
}

/// A thermistor's curve; ohms from degrees Celsius.
#[derive(Clone, Debug)]
pub enum Curve {
    /// R = r0 exp(beta (1/T - 1/T0)), T in kelvin.
    Beta {
        #[allow(missing_docs)]
        r0: Num,
        /** Degrees Celsius. */
        t0: f64,
        #[allow(missing_docs)]
        beta: Num,
    },
    /// 1/T = a + b ln R + c (ln R)³.
    Steinhart {
        #[allow(missing_docs)]
        a: f64,
        #[allow(missing_docs)]
        b: f64,
        #[allow(missing_docs)]
        c: f64,
    },
    /// Degrees Celsius and ohms, sorted; ln R is linear in 1/T between the rows.
    Table(Vec<(f64, f64)>),
}

/// When an element conducts, the module it may belong to being alive.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum When {
    #[allow(missing_docs)]
    Always,
    /// While the control stands in one of these positions (a bit each).
    In {
        #[allow(missing_docs)]
        control: ControlId,
        #[allow(missing_docs)]
        positions: u64,
    },
    /// While the coil is energised, or (`open`) while it is not.
    Energised {
        #[allow(missing_docs)]
        coil: ElementId,
        #[allow(missing_docs)]
        open: bool,
    },
    /// Never (its control could not be resolved; the circuit is tainted there).
    Never,
}

/// To what an element belongs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Owner {
    Wire(WireId),
    Inline(InlineId),
    /// Index into `supplies`.
    Supply(usize),
    /// Index into `grounds`.
    Ground(usize),
    /// A fuse of its own.
    Fuse,
    Device(DeviceId),
    /// The module, and indices into `connectors` and `cavities`.
    Module(ModuleId, usize, usize),
    Elsewhere,
}

#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Supply {
    pub name: SmolStr,
    pub title: Option<String>,
    pub point: PointId,
    pub element: ElementId,
    /// COMMON unless `negative` names another.
    pub negative: PointId,
    pub volts: Num,
    /// Lowest and highest of `range`.
    pub range: Option<(f64, f64)>,
    pub loc: Loc,
}

#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct GroundPoint {
    pub name: SmolStr,
    pub title: Option<String>,
    pub point: PointId,
    pub element: ElementId,
    pub attributes: Attributes,
    pub loc: Loc,
}

#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Splice {
    pub name: SmolStr,
    pub title: Option<String>,
    pub point: PointId,
    /// What lands on it, in source order: leg 1 is the first.
    pub legs: Vec<ElementId>,
    /// `shared by`, resolved; `None` where nothing was declared.
    pub shared_by: Option<Vec<DeviceOrModule>>,
    pub attributes: Attributes,
    pub loc: Loc,
}

/// A sharer of a return.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs)]
pub enum DeviceOrModule {
    Device(DeviceId),
    Module(ModuleId),
}

/// A wire item.
#[derive(Clone, Debug)]
pub struct Wire {
    /// The number, or the name by ends (`S12->SCU.A.1`, `…@2`).
    pub name: SmolStr,
    /// Whether a number was written.
    pub numbered: bool,
    #[allow(missing_docs)]
    pub title: Option<String>,
    /// One a stretch; named `431.1`, `431.2` where there are several, else as the wire.
    pub stretches: Vec<Stretch>,
    #[allow(missing_docs)]
    pub loc: Loc,
}

/// One stretch of a wire.
#[derive(Clone, Debug)]
pub struct Stretch {
    #[allow(missing_docs)]
    pub element: ElementId,
    /// Area in mm² (of the AWG size, if it is one).
    pub area: Option<f64>,
    /// As written: `0.75 mm2`, `AWG 18`.
    pub gauge: Option<SmolStr>,
    /// Metres.
    pub length: Option<Num>,
    /// As written: `OG/BK`.
    pub colour: Option<SmolStr>,
    /// The names of both ends in the source.
    pub ends: [Loc; 2],
}

#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Inline {
    pub name: SmolStr,
    pub title: Option<String>,
    pub cavities: Vec<InlineCavity>,
    pub attributes: Attributes,
    pub loc: Loc,
}

/// A cavity of an in-line connector. The first wire named is on side a, the second on side b.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct InlineCavity {
    pub name: SmolStr,
    pub a: PointId,
    pub b: PointId,
    pub joint: ElementId,
    /// Wire ends that land here, in source order (more than two is `double-cavity`).
    pub landings: Vec<ElementId>,
    pub loc: Loc,
}

/// A device: from `device`, or a single element or switch at top level.
#[derive(Clone, Debug)]
pub struct Device {
    #[allow(missing_docs)]
    pub name: SmolStr,
    #[allow(missing_docs)]
    pub title: Option<String>,
    /// The part it is one of.
    pub part: Option<PartUse>,
    #[allow(missing_docs)]
    pub pins: Vec<Pin>,
    /// All its elements in source order, terminals excepted: loads, contacts, diodes.
    pub elements: Vec<ElementId>,
    /// Its positions, if it is a control.
    pub control: Option<ControlId>,
    /// Named grades: the state in which just these elements operate.
    pub grades: Vec<(SmolStr, Vec<ElementId>)>,
    #[allow(missing_docs)]
    pub attributes: Attributes,
    /// Declared at top level by its kind (`lamp`, `switch`, …), not with `device`.
    pub bare: bool,
    /// The item's name.
    pub loc: Loc,
}

/// Of which part a device or module is.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct PartUse {
    pub name: SmolStr,
    /// The part's own item; `None` for a built-in.
    pub loc: Option<Loc>,
}

#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Pin {
    pub name: SmolStr,
    /// Wire side.
    pub outside: PointId,
    pub inside: PointId,
    /// The joint between.
    pub terminal: ElementId,
    /// Marked `unused`, and where.
    pub unused: Option<Loc>,
    /// Wire stretches and ties that land on it.
    pub landings: Vec<ElementId>,
    pub loc: Loc,
}

/// What was said of a thing's place and dangers.
#[derive(Clone, Debug, Default)]
#[allow(missing_docs)]
pub struct Attributes {
    pub place: Option<String>,
    /// `easy`, `cover`, `buried`.
    pub access: Option<SmolStr>,
    pub sealed: bool,
    /// Rows and columns.
    pub face: Option<(u32, u32)>,
    pub moves: bool,
    pub hazards: Vec<String>,
    pub restricted: bool,
}

/// A control module, drawn with only what this circuit needs.
#[derive(Clone, Debug)]
pub struct Module {
    #[allow(missing_docs)]
    pub name: SmolStr,
    #[allow(missing_docs)]
    pub title: Option<String>,
    #[allow(missing_docs)]
    pub part: Option<PartUse>,
    #[allow(missing_docs)]
    pub connectors: Vec<Connector>,
    /// Indices (connector, cavity) of its described feeds, in order.
    pub feeds: Vec<(usize, usize)>,
    /// … and grounds. Where none is described its inside ground is [`COMMON`].
    pub grounds: Vec<(usize, usize)>,
    /// Gangs, each a control.
    pub gangs: Vec<Gang>,
    #[allow(missing_docs)]
    pub attributes: Attributes,
    /// The item's name.
    pub loc: Loc,
}

#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Connector {
    pub name: SmolStr,
    pub title: Option<String>,
    pub cavities: Vec<Cavity>,
    pub attributes: Attributes,
    pub loc: Loc,
}

/// A cavity that this circuit shows.
#[derive(Clone, Debug)]
pub struct Cavity {
    /// `4`.
    pub number: SmolStr,
    /// `left_cmd`; empty when unused.
    pub name: SmolStr,
    #[allow(missing_docs)]
    pub role: Role,
    /// Wire side, `SCU.A.4`.
    pub outside: PointId,
    /// The module's side.
    pub inside: PointId,
    /// The joint between.
    pub terminal: ElementId,
    /// What the role and its options made: stages, reference, pulls …
    pub elements: Vec<ElementId>,
    /// Its own control, or the gang that moves it.
    pub control: Option<ControlId>,
    /// Most amps of a stage or reference.
    pub limit: Option<Num>,
    /// Coil suppression inside.
    pub clamp: bool,
    /// Own pulse frequency in hertz (a gang's is in its control).
    pub pwm: Option<Num>,
    /// `shared by`, resolved, and where it stands.
    pub shared_by: Option<(Vec<DeviceOrModule>, Loc)>,
    /// Lowest and highest volts that an analog input takes for plausible.
    pub range: Option<(f64, f64)>,
    /// Volts from which a digital input reads `high`.
    pub threshold: Option<f64>,
    /// Wire stretches that land on it.
    pub landings: Vec<ElementId>,
    /// The cavity row, which may be in a library.
    pub loc: Loc,
}

/// What a cavity does.
#[derive(Clone, Debug, PartialEq)]
#[allow(missing_docs)]
pub enum Role {
    Feed,
    Ground,
    Drives(Way),
    Switches,
    Reference { volts: Num },
    Return { switched: bool },
    Senses { digital: bool },
    Bus { name: SmolStr, volts: Option<f64> },
    Unused,
}

/// A gang: several stages that one control moves.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Gang {
    pub control: ControlId,
    /// Cavities (connector, cavity) of its stages that this circuit shows.
    pub stages: Vec<(usize, usize)>,
    /// How many stages its rows name, shown or not.
    pub named: usize,
    /// Positions that leave a stage unnamed.
    pub gaps: Vec<(SmolStr, SmolStr, Loc)>,
    /// Each position's row.
    pub rows: Vec<Loc>,
    pub loc: Loc,
}

/// An input of every truth table.
#[derive(Clone, Debug)]
pub struct Control {
    /// As shown and as keys of JSON: bare where that is unique, else `SCU.left_cmd`.
    pub name: SmolStr,
    /// Always qualified, `SCU.left_cmd`; a device's is its name.
    pub qualified: SmolStr,
    #[allow(missing_docs)]
    pub title: Option<String>,
    #[allow(missing_docs)]
    pub kind: ControlKind,
    /// At least two, at most 64; the first is the rest position.
    pub positions: Vec<SmolStr>,
    /// Pulse frequency in hertz: then it takes a duty.
    pub pwm: Option<f64>,
    #[allow(missing_docs)]
    pub loc: Loc,
}

/// Who moves a control.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum ControlKind {
    /// A person (or the machine): a device with positions.
    Device(DeviceId),
    /// The module: a single stage, low, high, half or switches.
    Stage(ModuleId, usize, usize),
    /// The module: a gang (index into `gangs`).
    Gang(ModuleId, usize),
    /// The module: a switched return.
    Return(ModuleId, usize, usize),
    /// A `control` item.
    Free,
}

/// Something continuous that a sensor follows.
#[derive(Clone, Debug)]
pub struct Stimulus {
    /// The device's name, or `device.element` where a device has several.
    pub name: SmolStr,
    #[allow(missing_docs)]
    pub kind: StimulusKind,
    /// In the kind's unit: degrees Celsius, 0 … 1, pascals, ohms.
    pub nominal: f64,
    /// Lowest and highest.
    pub span: (f64, f64),
    #[allow(missing_docs)]
    pub element: ElementId,
    #[allow(missing_docs)]
    pub loc: Loc,
}

/// What a stimulus is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum StimulusKind {
    /// Degrees Celsius.
    Temperature,
    /// 0 … 1 of the mechanical travel.
    Travel,
    /// Whatever a transducer is `over`, in SI.
    Over(keyon_syntax::unit::Dimension),
    /// Ohms.
    Resistance,
}

/// What a scenario, a row or a command line sets; later entries win.
#[derive(Clone, Debug, Default)]
pub struct Settings {
    /// Control, position, and duty 0 … 1 where one was given.
    pub controls: Vec<(ControlId, usize, Option<f64>)>,
    /// In the stimulus's own unit.
    pub stimuli: Vec<(StimulusId, f64)>,
    /// A supply's volts (index into `supplies`).
    pub supplies: Vec<(usize, f64)>,
    /// What a person does to the circuit.
    pub changes: Vec<Change>,
}

/// A departure from the circuit as drawn: a set-up or a fault.
#[derive(Clone, Debug)]
pub enum Change {
    /// The element does not conduct: unplugged, pulled, broken.
    Open(ElementId),
    /// A new element between two points: a jumper, a short ([`Law::Joint`]), a test load.
    Add {
        #[allow(missing_docs)]
        from: PointId,
        #[allow(missing_docs)]
        to: PointId,
        #[allow(missing_docs)]
        law: Law,
    },
    /// The element behaves otherwise (added resistance in a wire, a shorted coil).
    Replace(ElementId, Law),
    /// The element conducts always (`true`) or never, whatever its control says: a stuck stage or contact.
    Stuck(ElementId, bool),
    /// A sensor reads off: its resistance or output times this factor.
    Drift(ElementId, f64),
}

#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Scenario {
    pub name: SmolStr,
    pub title: Option<String>,
    pub settings: Settings,
    pub actions: Vec<String>,
    pub loc: Loc,
}

/// An `expect` block.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Expect {
    /// `None` where it could not be resolved: then nothing is judged.
    pub scenario: Option<ScenarioId>,
    pub changes: Vec<Change>,
    pub rows: Vec<Row>,
    pub loc: Loc,
}

/// A row of `expect`, `readings` or a `symptom`. Rows with names that do not resolve are left out.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Row {
    pub probe: Probe,
    pub assertion: Assertion,
    /// Its `with`.
    pub settings: Settings,
    pub loc: Loc,
}

/// What is measured or seen.
#[derive(Clone, Copy, Debug, PartialEq)]
#[allow(missing_docs)]
pub enum Probe {
    /// Volts or node state of a point, black lead on the common ground.
    Point(PointId),
    /// What a module's input reads: volts against the module's own ground, without a meter; high or low.
    Input(ModuleId, usize, usize),
    /// A device's state, or its current.
    Device(DeviceId),
    /// An element's state, or its current: a fuse, a wire, `burner.A`.
    Element(ElementId),
    /// Red first.
    Across(PointId, PointId),
    Ohms(PointId, PointId),
    Clamp(ElementId),
    Lamp(PointId, PointId),
}

/// What a row says. SI units.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub enum Assertion {
    Below(f64, keyon_syntax::unit::Dimension),
    Above(f64, keyon_syntax::unit::Dimension),
    /// `about X +- Y`, `A .. B`.
    Between(f64, f64, keyon_syntax::unit::Dimension),
    Is(f64, keyon_syntax::unit::Dimension),
    /// Words joined with one blank: `operates`, `operates forward`, `fed via load`, `blown`, `high` …
    State(SmolStr),
}

/// An `exercise`, kept for later work.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Exercise {
    pub name: SmolStr,
    pub title: Option<String>,
    pub scenario: Option<ScenarioId>,
    /// Each fault with the words for it.
    pub faults: Vec<(Vec<Change>, SmolStr, Loc)>,
    pub symptoms: Vec<Row>,
    /// Names of points, connectors, devices that a learner may probe.
    pub probes: Vec<SmolStr>,
    pub changes: Vec<Change>,
    pub loc: Loc,
}

/// A `readings` block, kept for later work.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Readings {
    pub name: Option<SmolStr>,
    pub title: Option<String>,
    pub scenario: Option<ScenarioId>,
    pub rows: Vec<Row>,
    pub changes: Vec<Change>,
    pub loc: Loc,
}
