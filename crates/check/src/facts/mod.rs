//! What several rules want to know, each computed once a check and only when it is asked for.

pub mod alive;
mod blame;
pub mod blocked;
mod blown;
mod closing;
mod damage;
pub mod exercises;
pub mod expectations;
pub mod graph;
pub mod holding;
mod labels;
mod lost;
pub mod lost_commons;
pub mod modules;
pub mod movers;
mod parties;
mod passed_on;
pub mod paths;
mod place;
pub mod protection;
pub mod readings;
pub mod returns;
pub mod sensors;
mod series;
pub mod setters;
pub mod shorts;
pub mod signals;
pub mod stages;
mod states;
mod swayed;

pub use graph::Graph;
pub use place::place_of_stage;

use crate::{Memo, Settings};
use graph::Flood;
use keyon_circuit::{
    Elaboration,
    ids::*,
    model::{COMMON, Change, Circuit, ElementKind},
};
use keyon_solve::{Cancel, Cases, Survey, Worst, fault::Fault};
use labels::Labels;
use std::{
    cell::{OnceCell, RefCell},
    collections::{BTreeMap, BTreeSet},
    sync::Arc,
};

/// Shared answers about one circuit.
pub struct Facts<'a> {
    #[allow(missing_docs)]
    pub circuit: &'a Circuit,
    elaboration: &'a Elaboration,
    settings: &'a Settings,
    cancel: &'a dyn Cancel,
    /// What was found before.
    memo: Option<&'a Memo>,
    /// How many threads may solve states.
    threads: usize,
    graph: OnceCell<Graph<'a>>,
    damaged: OnceCell<Vec<PointId>>,
    held: OnceCell<Flood>,
    doubtful: OnceCell<Flood>,
    near_damage: OnceCell<Flood>,
    fed: OnceCell<Flood>,
    grounded: OnceCell<Flood>,
    ground_net: OnceCell<Flood>,
    ground_wires: OnceCell<Flood>,
    fed_wiring: OnceCell<Flood>,
    firm: OnceCell<Flood>,
    switched: OnceCell<Labels>,
    joined: OnceCell<Labels>,
    stages_at: OnceCell<stages::StagesAt>,
    series: OnceCell<series::Series>,
    shunts: OnceCell<Vec<ElementId>>,
    relays: OnceCell<BTreeSet<ElementId>>,
    drawn: OnceCell<Survey<'a>>,
    mended: OnceCell<Survey<'a>>,
    highest: OnceCell<Survey<'a>>,
    turned_up: OnceCell<Option<Survey<'a>>>,
    swayed: OnceCell<Vec<Survey<'a>>>,
    cases: RefCell<BTreeMap<DeviceId, Arc<Cases>>>,
    worst: RefCell<BTreeMap<ElementId, Arc<Worst>>>,
    paths: RefCell<BTreeMap<DeviceId, Option<Arc<paths::DevicePaths>>>>,
    lives: RefCell<BTreeMap<ModuleId, modules::Life>>,
    life_cases: RefCell<BTreeMap<ModuleId, Arc<Cases>>>,
    shorts: OnceCell<Vec<shorts::Short>>,
    dead_relays: OnceCell<Vec<Change>>,
    blocked: OnceCell<Vec<blocked::Blocked>>,
    lost_commons: OnceCell<Vec<lost_commons::LostCommon>>,
    returns: OnceCell<Vec<returns::ReturnNet>>,
    expectations: OnceCell<Vec<expectations::Judged>>,
    faults: OnceCell<Vec<Fault>>,
}

impl<'a> Facts<'a> {
    #[allow(missing_docs)]
    pub fn new(elaboration: &'a Elaboration, settings: &'a Settings, cancel: &'a dyn Cancel) -> Self {
        Self {
            circuit: &elaboration.circuit,
            elaboration,
            settings,
            cancel,
            memo: None,
            threads: 1,
            graph: OnceCell::new(),
            damaged: OnceCell::new(),
            held: OnceCell::new(),
            doubtful: OnceCell::new(),
            near_damage: OnceCell::new(),
            fed: OnceCell::new(),
            grounded: OnceCell::new(),
            ground_net: OnceCell::new(),
            ground_wires: OnceCell::new(),
            fed_wiring: OnceCell::new(),
            firm: OnceCell::new(),
            switched: OnceCell::new(),
            joined: OnceCell::new(),
            stages_at: OnceCell::new(),
            series: OnceCell::new(),
            shunts: OnceCell::new(),
            relays: OnceCell::new(),
            drawn: OnceCell::new(),
            mended: OnceCell::new(),
            highest: OnceCell::new(),
            turned_up: OnceCell::new(),
            swayed: OnceCell::new(),
            cases: RefCell::default(),
            worst: RefCell::default(),
            paths: RefCell::default(),
            lives: RefCell::default(),
            life_cases: RefCell::default(),
            shorts: OnceCell::new(),
            dead_relays: OnceCell::new(),
            blocked: OnceCell::new(),
            lost_commons: OnceCell::new(),
            returns: OnceCell::new(),
            expectations: OnceCell::new(),
            faults: OnceCell::new(),
        }
    }

    /// The same for a piece of a circuit of which points hang on what could not be read, in the whole.
    #[must_use]
    pub(crate) fn with_held(self, held: &[PointId]) -> Self {
        if !held.is_empty() {
            let flood = self.graph().flood(held, |_, _| false);
            let _ = self.held.set(flood);
        }
        self
    }

    /// The same for who was asked about earlier versions of the whole circuit and kept what came of it, and has some threads.
    #[must_use]
    pub fn with(self, memo: Option<&'a Memo>, threads: usize) -> Self {
        Self { memo, threads, ..self }
    }

    /// The circuit as a graph.
    pub fn graph(&self) -> &Graph<'a> {
        self.graph.get_or_init(|| Graph::new(self.circuit))
    }

    /// Everything that a supply or a reference reaches without a load, in any state.
    pub fn fed_somehow(&self) -> &Flood {
        self.fed.get_or_init(|| self.graph().downstream(&self.source_points()))
    }

    /// Where the current of sources comes out.
    fn source_points(&self) -> Vec<PointId> {
        self.circuit.elements.iter().filter(|e| e.kind.is_source()).map(|e| e.to).collect()
    }

    /// Everything that reaches ground without a load, in any state.
    pub fn grounded_somehow(&self) -> &Flood {
        self.grounded.get_or_init(|| self.graph().upstream(&[COMMON]))
    }

    /// Everything that wires alone join to ground, in every state.
    pub fn ground_net(&self) -> &Flood {
        self.ground_net.get_or_init(|| self.graph().flood(&[COMMON], |e, _| graph::is_wiring(e.kind)))
    }

    /// The same without the contacts of pins and cavities: what is still joined to ground with every connector apart.
    pub fn ground_wires(&self) -> &Flood {
        self.ground_wires.get_or_init(|| {
            self.graph().flood(&[COMMON], |e, _| graph::is_wiring(e.kind) && e.kind != ElementKind::Terminal)
        })
    }
}
