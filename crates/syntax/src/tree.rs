//! The tree of a file: what was written, without knowing what any name means.
//!
//! One struct an item, one field a thing that can be written. All spans are relative to the item (see [`Span`]).
//! A damaged statement gives an item with what could be read of it; `Item::damaged` says so.

use crate::{Span, unit::Unit};
use smol_str::SmolStr;
use std::sync::Arc;

/// A file's items in source order.
#[derive(Clone, Debug, Default)]
pub struct File {
    /// Each item with its absolute place.
    pub items: Vec<PlacedItem>,
}

/// An item and where it stands.
#[derive(Clone, Debug)]
pub struct PlacedItem {
    /// Absolute byte offset of the item's first byte (its first `##` or `allow` line, if it has any).
    pub start: u32,
    /// The tree; shared with the next parse as long as no edit touches it.
    pub item: Arc<Item>,
}

/// One item: a statement at top level with its doc comment, `allow` lines and body.
#[derive(Clone, Debug)]
pub struct Item {
    /// The whole item, from its doc comment or `allow` lines to its last token; starts at 0.
    pub span: Span,
    /// The statement itself, without doc and allows; its first token is the keyword.
    pub statement: Span,
    /// The `##` lines that belong to it.
    pub doc: Option<Doc>,
    /// The `allow` lines above it.
    pub allows: Vec<Allow>,
    /// Whether a part of it could not be read: consequences are not to be reported.
    pub damaged: bool,
    /// What it is.
    pub kind: ItemKind,
}

/// The kinds of item. What is large is boxed, so that the many wires of a file stay small.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub enum ItemKind {
    Circuit(CircuitHead),
    Use(Use),
    View(Name),
    Spare(Vec<Name>),
    Supply(Box<Supply>),
    Ground(Box<Ground>),
    Splice(Box<Splice>),
    Inline(Box<Inline>),
    Wire(Wire),
    Fuse(Box<Fuse>),
    /// A load or other two-pin element at top level.
    Element(Box<TopElement>),
    Switch(Box<Switch>),
    Device(Box<Device>),
    Part(Box<Part>),
    Module(Box<Module>),
    Scenario(Scenario),
    Expect(Expect),
    Exercise(Box<Exercise>),
    Readings(Box<Readings>),
    Elsewhere(Elsewhere),
    About(About),
    Control(ControlItem),
    Variant(Variant),
    /// `allow` lines with no item after them.
    Stray,
    /// Lines that begin no item; one error stands for all of them.
    Junk,
}

impl ItemKind {
    /// The name that it declares; empty where it could not be read.
    pub fn name(&self) -> Option<&Name> {
        Some(match self {
            Self::Circuit(item) => &item.name,
            Self::Supply(item) => &item.name,
            Self::Ground(item) => &item.name,
            Self::Splice(item) => &item.name,
            Self::Inline(item) => &item.name,
            Self::Wire(item) => item.label.as_ref()?,
            Self::Fuse(item) => &item.name,
            Self::Element(item) => &item.name,
            Self::Switch(item) => &item.name,
            Self::Device(item) => &item.name,
            Self::Part(item) => &item.name,
            Self::Module(item) => &item.name,
            Self::Scenario(item) => &item.name,
            Self::Exercise(item) => &item.name,
            Self::Readings(item) => item.name.as_ref()?,
            Self::Control(item) => &item.name,
            Self::Variant(item) => &item.name,
            Self::Use(_)
            | Self::View(_)
            | Self::Spare(_)
            | Self::Expect(_)
            | Self::Elsewhere(_)
            | Self::About(_)
            | Self::Stray
            | Self::Junk => return None,
        })
    }
    /// The body of a device, or of a part that is one.
    pub fn body(&self) -> Option<&Body> {
        match self {
            Self::Device(device) => match &device.what {
                DeviceKind::Body(body) => Some(body),
                _ => None,
            },
            Self::Part(part) => match &part.what {
                PartKind::Device(body) => Some(body),
                PartKind::Module(_) => None,
            },
            _ => None,
        }
    }
    /// The connectors and gangs of a module, or of a part that is one.
    pub fn pinout(&self) -> Option<&Pinout> {
        match self {
            Self::Module(module) => match &module.what {
                ModuleKind::Body(pinout) => Some(pinout),
                _ => None,
            },
            Self::Part(part) => match &part.what {
                PartKind::Module(pinout) => Some(pinout),
                PartKind::Device(_) => None,
            },
            _ => None,
        }
    }
}

/// Markdown of `##` lines, the marks and one blank after them taken off, joined with `\n`.
#[derive(Clone, Debug)]
pub struct Doc {
    #[allow(missing_docs)]
    pub text: String,
    #[allow(missing_docs)]
    pub span: Span,
}

/// `allow RULE "reason"`.
#[derive(Clone, Debug)]
pub struct Allow {
    /// The rule's name as written.
    pub rule: Name,
    /// Why; `None` is itself reported.
    pub reason: Option<Text>,
    /// The whole line.
    pub span: Span,
}

/// A name, a pin, a wire number, or a dotted path: always the spelling (`431.10` is not `431.1`, `01` is not `1`).
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Name {
    /// As written, after Unicode normalisation (NFC). A path keeps its dots.
    pub text: SmolStr,
    /// Where.
    pub span: Span,
}

impl Name {
    /// The parts between the dots.
    pub fn segments(&self) -> impl DoubleEndedIterator<Item = &str> {
        self.text.split('.')
    }
}

/// Text in quotes, unescaped.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Text {
    #[allow(missing_docs)]
    pub text: String,
    /// With the quotes.
    pub span: Span,
}

/// A title, and the same in other languages (`"Kraftstoff" en "Fuel"`).
#[derive(Clone, Debug)]
pub struct Title {
    /// The first text.
    pub text: Text,
    /// Language letters and text.
    pub others: Vec<(Name, Text)>,
}

/// A number with its unit.
#[derive(Clone, Debug)]
pub struct Quantity {
    /// The number as written, sign included.
    pub number: f64,
    /// The unit; `None` where it was left out (the first bound of a range takes the second's) or is not one.
    pub unit: Option<Unit>,
    /// Number and unit.
    pub span: Span,
}

/// A quantity or a part's parameter, perhaps with a tolerance.
#[derive(Clone, Debug)]
pub struct Value {
    #[allow(missing_docs)]
    pub kind: ValueKind,
    /// What follows `+-`: percent, or the same dimension.
    pub tolerance: Option<Quantity>,
    #[allow(missing_docs)]
    pub span: Span,
}

/// What a value is.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub enum ValueKind {
    Quantity(Quantity),
    Parameter(Name),
}

/// `A .. B`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Range {
    pub low: Value,
    pub high: Value,
    pub span: Span,
}

/// `A -> B`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Path {
    pub from: Name,
    pub to: Name,
}

/// `circuit NAME "title"`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct CircuitHead {
    pub name: Name,
    pub title: Option<Title>,
}

/// `use "path" [as NAME]`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Use {
    pub path: Text,
    pub alias: Option<Name>,
}

/// What may be said of a thing's place and of the danger in it. Written as clauses at the end of a header
/// (before `{` or the line's end), and in a body as lines of their own.
#[derive(Clone, Debug, Default)]
pub struct Attributes {
    /// `where "left of the tank"`.
    pub place: Option<Text>,
    /// `access easy|cover|buried`.
    pub access: Option<Name>,
    /// `sealed`: no back-probing.
    pub sealed: Option<Span>,
    /// `face 2 x 6`: rows and columns of a connector.
    pub face: Option<(u32, u32, Span)>,
    /// `moves`.
    pub moves: Option<Span>,
    /// `hazard "…"`.
    pub hazards: Vec<Text>,
    /// `restricted`.
    pub restricted: Option<Span>,
}

/// `supply NAME ["title"] VALUE …`.
#[derive(Clone, Debug)]
pub struct Supply {
    #[allow(missing_docs)]
    pub name: Name,
    #[allow(missing_docs)]
    pub title: Option<Title>,
    /// Electromotive force in volts; `None` when damaged.
    pub volts: Option<Value>,
    /// `inner`: source resistance.
    pub inner: Option<Value>,
    /// `range`: resting to charging voltages, and cranking at the low end.
    pub range: Option<Range>,
    /// `negative POINT`: the other pole, if it is not the common ground.
    pub negative: Option<Name>,
    /// `limit`: most current it gives.
    pub limit: Option<Value>,
    /// `live in CONTROL POSITION`.
    pub live: Option<(Name, Name)>,
}

/// `ground NAME ["title"] [VALUE]`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Ground {
    pub name: Name,
    pub title: Option<Title>,
    /// Resistance to the common ground.
    pub value: Option<Value>,
    pub attributes: Attributes,
}

/// `splice NAME ["title"] [shared by …]`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Splice {
    pub name: Name,
    pub title: Option<Title>,
    pub shared_by: Vec<Name>,
    pub attributes: Attributes,
}

/// An in-line connector, `connector C201 "8-way" { 1, 2, 3 }`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Inline {
    pub name: Name,
    pub title: Option<Title>,
    /// In order; a range `1 .. 8` is already spread out (each name has the range's span).
    pub cavities: Vec<Name>,
    pub attributes: Attributes,
}

/// `wire [NUMBER] A -> B [-> C …] gauge colour length`.
#[derive(Clone, Debug)]
pub struct Wire {
    /// The number; a wire without one is named by its ends.
    pub label: Option<Name>,
    #[allow(missing_docs)]
    pub title: Option<Title>,
    /// The points of the chain, two or more unless damaged.
    pub points: Vec<Name>,
    /// One an arrow: what stands behind the point that the arrow leads to.
    pub stretches: Vec<Conductor>,
}

/// What is said of one stretch of wire.
#[derive(Clone, Debug, Default)]
pub struct Conductor {
    /// Area in mm² or an AWG size.
    pub gauge: Option<Gauge>,
    /// With its tolerance, if it has one.
    pub length: Option<Value>,
    /// The colours as written: IEC 60757 letters or the library's own (`OG/BK`).
    pub colour: Option<Name>,
    /// `at 60 degC`: the wire's temperature.
    pub at: Option<Quantity>,
    /// `fitted with NAME` (true) or `fitted without NAME` (false).
    pub fitted: Option<(bool, Name)>,
}

/// A conductor's size.
#[derive(Clone, Debug)]
pub enum Gauge {
    /// Area.
    Area(Quantity),
    /// American wire gauge: `18` is 18, `2/0` is -1, `3/0` is -2 (zeros n/0 as 1 - n).
    Awg(i32, Span),
}

/// Which protective device.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum FuseKind {
    Fuse,
    Breaker,
    Link,
}

/// `fuse|breaker|link NAME ["title"] A -> B RATING`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Fuse {
    pub kind: FuseKind,
    pub name: Name,
    pub title: Option<Title>,
    pub path: Option<Path>,
    pub rating: Option<Value>,
    pub attributes: Attributes,
}

/// A two-pin element at top level; its pins are `1` and `2`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct TopElement {
    pub keyword: Name,
    pub name: Name,
    pub title: Option<Title>,
    pub path: Option<Path>,
    pub law: Law,
    pub attributes: Attributes,
}

/// An element in a body: an edge between pins.
#[derive(Clone, Debug)]
pub struct Edge {
    #[allow(missing_docs)]
    pub keyword: Name,
    #[allow(missing_docs)]
    pub name: Option<Name>,
    /// Points omitted mean the pins in order. For a changeover see [`Law::Changeover`].
    pub path: Option<Path>,
    #[allow(missing_docs)]
    pub law: Law,
    /// The whole statement.
    pub span: Span,
}

/// What an element does. `None` in a required place means that it was not readable.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub enum Law {
    Resistor {
        ohms: Option<Value>,
    },
    /// Rated watts and volts; `cold` is the resistance when cold.
    Lamp {
        watts: Option<Value>,
        volts: Option<Value>,
        cold: Option<Value>,
    },
    Heater {
        watts: Option<Value>,
        volts: Option<Value>,
        cold: Option<Value>,
    },
    /// `rated` is a current (or a voltage).
    Coil {
        ohms: Option<Value>,
        pulls_in: Option<Value>,
        drops_out: Option<Value>,
        rated: Option<Value>,
    },
    /// `motor` is the same. `runs` is the current it draws turning at its rated voltage.
    Winding {
        ohms: Option<Value>,
        turns_at: Option<Value>,
        rated: Option<Value>,
        runs: Option<Value>,
    },
    Thermistor {
        curve: Option<Curve>,
        stimulus: StimulusClauses,
    },
    /// `A .. B ohm`: anything between, by hand.
    Variable {
        range: Option<Range>,
        stimulus: StimulusClauses,
    },
    Diode {
        drop: Option<Value>,
    },
    Track {
        ohms: Option<Value>,
        wiper: Option<Name>,
        travel: Option<Range>,
        stimulus: StimulusClauses,
    },
    Transducer {
        out: Option<Name>,
        volts: Option<Range>,
        over: Option<Range>,
        ratio: Option<Span>,
        stimulus: StimulusClauses,
    },
    /// `ohms` is the contact's resistance, `rated` the current it may carry.
    Contact {
        ohms: Option<Value>,
        rated: Option<Value>,
        condition: Option<Condition>,
    },
    /// `common -> (rest PIN, active PIN)`.
    Changeover {
        common: Option<Name>,
        rest: Option<Name>,
        active: Option<Name>,
        ohms: Option<Value>,
        rated: Option<Value>,
        condition: Option<Condition>,
    },
}

/// A thermistor's curve.
#[derive(Clone, Debug)]
pub enum Curve {
    /// `OHMS at TEMPERATURE beta KELVIN`.
    Beta {
        #[allow(missing_docs)]
        ohms: Value,
        #[allow(missing_docs)]
        at: Value,
        #[allow(missing_docs)]
        beta: Value,
    },
    /// `[OHMS at TEMPERATURE] steinhart A B C`: 1/T = A + B ln R + C (ln R)^3, T in kelvin, R in ohms.
    Steinhart {
        #[allow(missing_docs)]
        at: Option<(Value, Value)>,
        #[allow(missing_docs)]
        a: f64,
        #[allow(missing_docs)]
        b: f64,
        #[allow(missing_docs)]
        c: f64,
        #[allow(missing_docs)]
        span: Span,
    },
    /// `[OHMS at TEMPERATURE] table { TEMPERATURE OHMS, … }`.
    Table {
        #[allow(missing_docs)]
        at: Option<(Value, Value)>,
        #[allow(missing_docs)]
        rows: Vec<(Quantity, Quantity)>,
        #[allow(missing_docs)]
        span: Span,
    },
}

/// `span A .. B nominal C`.
#[derive(Clone, Debug, Default)]
#[allow(missing_docs)]
pub struct StimulusClauses {
    pub span: Option<Range>,
    pub nominal: Option<Value>,
}

/// When a contact is closed (for a changeover: in its active place).
#[derive(Clone, Debug)]
pub enum Condition {
    /// `closed when K energised`, `open when K energised` (`open` true), `when K energised`.
    Energised {
        #[allow(missing_docs)]
        coil: Name,
        #[allow(missing_docs)]
        open: bool,
    },
    /// `closed in run, start`, `open in pressed` (`open` true), `in on`.
    Positions {
        #[allow(missing_docs)]
        positions: Vec<Name>,
        #[allow(missing_docs)]
        open: bool,
    },
}

/// `switch NAME ["title"] [A -> B] [positions … [closed in …]]`: two pins, positions off, on by default.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Switch {
    pub name: Name,
    pub title: Option<Title>,
    pub path: Option<Path>,
    pub positions: Vec<Name>,
    /// `None`: closed in all but the first.
    pub closed_in: Option<Vec<Name>>,
    pub attributes: Attributes,
}

/// `PART(args)`, for a device or a module.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct PartCall {
    /// The part's name, `alias.part` for a qualified library.
    pub part: Name,
    /// A lone value without a name is the only parameter.
    pub arguments: Vec<Argument>,
    pub span: Span,
}

/// One argument of a part.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Argument {
    pub name: Option<Name>,
    pub value: Value,
}

/// `device NAME ["title"] : PART(args)`, or with a body.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Device {
    pub name: Name,
    pub title: Option<Title>,
    pub what: DeviceKind,
    pub attributes: Attributes,
}

/// Where a device's inside is written.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub enum DeviceKind {
    Call(PartCall),
    Body(Body),
    /// Neither could be read.
    Missing,
}

/// The body of a device or of a part.
#[derive(Clone, Debug, Default)]
pub struct Body {
    /// With their `unused` marks.
    pub pins: Vec<Pin>,
    /// The first is the rest position.
    pub positions: Vec<Name>,
    #[allow(missing_docs)]
    pub edges: Vec<Edge>,
    /// `grade trickle { A }`: a name for the state in which just these elements operate.
    pub grades: Vec<Grade>,
    /// `where`, `moves`, … written as lines in the body.
    pub attributes: Attributes,
    /// `allow` lines, each with the span of the statement that it covers.
    pub allows: Vec<(Allow, Span)>,
    /// From `{` to `}`.
    pub span: Span,
}

/// A pin of a body.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Pin {
    pub name: Name,
    pub unused: bool,
}

/// `grade NAME { element, … }`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Grade {
    pub name: Name,
    pub elements: Vec<Name>,
}

/// `part NAME(params) ["title"] { … }`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Part {
    pub name: Name,
    pub params: Vec<Param>,
    pub title: Option<Title>,
    pub what: PartKind,
    pub attributes: Attributes,
}

/// A part is a kind of device, or, if its body has connectors, a kind of module.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub enum PartKind {
    Device(Body),
    Module(Pinout),
}

/// `NAME: DIMENSION [= VALUE]`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Param {
    pub name: Name,
    /// As written; one of the nine dimension names.
    pub dimension: Name,
    pub default: Option<Value>,
}

/// `module NAME ["title"] { … }` or `: PART uses …`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Module {
    pub name: Name,
    pub title: Option<Title>,
    pub what: ModuleKind,
    pub attributes: Attributes,
}

/// Where a module's pinout is written.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub enum ModuleKind {
    Call { call: PartCall, uses: Option<Vec<Name>> },
    Body(Pinout),
    Missing,
}

/// Connectors and gangs of a module.
#[derive(Clone, Debug, Default)]
#[allow(missing_docs)]
pub struct Pinout {
    pub housings: Vec<Housing>,
    pub gangs: Vec<Gang>,
    pub attributes: Attributes,
    /// Each with the span of the statement that it covers.
    pub allows: Vec<(Allow, Span)>,
    pub span: Span,
}

/// One connector of a module.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Housing {
    pub name: Name,
    pub title: Option<Title>,
    pub doc: Option<Doc>,
    pub rows: Vec<CavityRow>,
    pub attributes: Attributes,
    pub span: Span,
}

/// One cavity of a module's connector.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct CavityRow {
    pub cavity: Name,
    /// `None`: marked `unused`.
    pub name: Option<Name>,
    /// `None` when unused or not readable.
    pub role: Option<Role>,
    pub options: Options,
    pub doc: Option<Doc>,
    pub span: Span,
}

/// What a cavity does.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub enum Role {
    Feed,
    Ground,
    Drives { way: Way, to: Option<Name>, from: Option<Name> },
    Switches { rest: Name, other: Name },
    Reference { volts: Option<Value> },
    Return { switched: bool },
    Senses { digital: bool },
    Bus { name: Name, value: Option<Value> },
    Unused,
}

/// Towards which side a stage drives.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum Way {
    Low,
    High,
    Half,
}

/// Options of a cavity, in any order.
#[derive(Clone, Debug, Default)]
#[allow(missing_docs)]
pub struct Options {
    pub on: Option<Value>,
    pub limit: Option<Value>,
    pub pwm: Option<Value>,
    pub clamp: Option<Span>,
    pub inner: Option<Value>,
    pub draws: Option<Value>,
    pub pull_up: Option<(Value, PullTo)>,
    pub pull_down: Option<Value>,
    pub threshold: Option<Value>,
    pub range: Option<Range>,
    pub shared_by: Option<Vec<Name>>,
}

/// Where a pull-up leads.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub enum PullTo {
    Volts(Quantity),
    Pin(Name),
}

/// `gang NAME ["title"] [pwm F] { position stage place … }`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Gang {
    pub name: Name,
    pub title: Option<Title>,
    pub doc: Option<Doc>,
    pub pwm: Option<Value>,
    pub rows: Vec<GangRow>,
    pub span: Span,
}

/// One position of a gang.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct GangRow {
    pub position: Name,
    /// Stage and where it goes.
    pub sets: Vec<(Name, Name)>,
    pub span: Span,
}

/// `scenario NAME ["title"] { … }`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Scenario {
    pub name: Name,
    pub title: Option<Title>,
    pub settings: Vec<Setting>,
    pub setups: Vec<Setup>,
    /// `do "hold the left boom switch"`.
    pub actions: Vec<Text>,
}

/// `key run`, `temp 25 degC`, `left_cmd on 40 %`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Setting {
    pub subject: Name,
    /// A position; `None` for a stimulus.
    pub position: Option<Name>,
    /// The stimulus's value, or a position's duty.
    pub quantity: Option<Quantity>,
    pub span: Span,
}

/// What a person does to the circuit, as against what has failed.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Setup {
    pub kind: SetupKind,
    pub span: Span,
}

/// The kinds of set-up.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub enum SetupKind {
    /// A device, a module's connector, or an in-line connector.
    Unplug(Name),
    /// A fuse.
    Pull(Name),
    Jumper(Name, Name),
    /// `load A to B 21 W 12 V` or `load A to B 4 ohm`.
    Load {
        from: Name,
        to: Name,
        values: Vec<Quantity>,
    },
}

/// `expect in SCENARIO { … }`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Expect {
    pub scenario: Option<Name>,
    pub setups: Vec<Setup>,
    pub claims: Vec<Row>,
}

/// One line of `expect` or `readings`, a `symptom`: what is measured or seen, and what it is said to be.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Row {
    pub probe: Probe,
    pub assertion: Option<Assertion>,
    /// `with temp 25 degC, unplug left_valve`.
    pub with_settings: Vec<Setting>,
    pub with_setups: Vec<Setup>,
    pub span: Span,
}

/// How a row is measured.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub enum Probe {
    /// A point, a device, a fuse, an input, a wire.
    One(Name),
    /// Two leads, red first.
    Across(Name, Name),
    /// `ohms A to B`: unpowered.
    Ohms(Name, Name),
    /// `clamp 431`: a current.
    Clamp(Name),
    /// `lamp A`, `lamp A to B`: a test lamp, to ground where B is not given.
    Lamp(Name, Option<Name>),
}

/// What a row says.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub enum Assertion {
    Below(Quantity),
    Above(Quantity),
    About(Quantity, Quantity),
    Range(Range),
    /// A reading as it was taken.
    Is(Quantity),
    /// `operates`, `operates forward`, `fed via load`, `blown`, `good`, `high`, `bright`: words joined with one blank.
    State(Name),
}

/// `exercise NAME ["title"] [in SCENARIO] { … }`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Exercise {
    pub name: Name,
    pub title: Option<Title>,
    pub scenario: Option<Name>,
    pub faults: Vec<Fault>,
    pub symptoms: Vec<Row>,
    pub probes: Vec<Name>,
    pub asks: Vec<Ask>,
    pub setups: Vec<Setup>,
}

/// `ask KIND …` or `ask "free text" …`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Ask {
    /// `None` for free text.
    pub kind: Option<Name>,
    pub text: Option<Text>,
    pub points: Vec<Name>,
    pub span: Span,
}

/// `readings [NAME] ["title"] in SCENARIO [accuracy …] { … }`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Readings {
    pub name: Option<Name>,
    pub title: Option<Title>,
    pub scenario: Option<Name>,
    pub accuracy: Vec<Quantity>,
    pub rows: Vec<Row>,
    pub setups: Vec<Setup>,
}

/// One fault, verb first.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Fault {
    pub kind: FaultKind,
    pub span: Span,
}

/// What a fault does.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub enum FaultKind {
    /// A wire by number, stretch or ends, a device, a cavity, a splice leg, a fuse.
    Open(Target),
    Short {
        what: Target,
        to: Option<Name>,
    },
    Stuck {
        what: Name,
        position: Name,
    },
    Resistance {
        ohms: Quantity,
        place: Target,
    },
    Drift {
        what: Name,
        by: Quantity,
    },
}

/// A thing that a fault names.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub enum Target {
    Name(Name),
    /// A wire without a number: its ends, and `@2` for a second between the same ones.
    Ends(Name, Name, Option<u32>),
}

/// `elsewhere "cab fan" 3 A S12`: a branch that leaves the page.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Elsewhere {
    pub title: Option<Text>,
    pub load: Option<Value>,
    pub point: Option<Name>,
}

/// `about { key value, … }`: kept, not read.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct About {
    pub rows: Vec<(Name, Vec<Text>)>,
}

/// `control NAME ["title"] positions …`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct ControlItem {
    pub name: Name,
    pub title: Option<Title>,
    pub positions: Vec<Name>,
}

/// `variant NAME ["title"]`.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Variant {
    pub name: Name,
    pub title: Option<Title>,
}
