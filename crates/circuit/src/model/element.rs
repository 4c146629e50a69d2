//! Edges of the graph: kinds, laws, conditions, owners.

use crate::{ids::*, model::Loc, value::Num};
use smol_str::SmolStr;

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
    /// Amps that a fuse is rated for, or that a contact may carry.
    pub rating: Option<Num>,
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

impl Law {
    /// The stimulus that it follows.
    pub fn stimulus(&self) -> Option<StimulusId> {
        match self {
            Self::Thermistor { stimulus, .. }
            | Self::Track { stimulus, .. }
            | Self::Variable { stimulus, .. }
            | Self::Transducer { stimulus, .. } => Some(*stimulus),
            _ => None,
        }
    }
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
