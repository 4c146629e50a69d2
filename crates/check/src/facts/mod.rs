//! What several rules want to know, each computed once a check and only when it is asked for.

mod blame;
mod closing;
pub mod expectations;
pub mod graph;
pub mod modules;
pub mod paths;
mod place;
pub mod protection;
pub mod returns;
pub mod shorts;
pub mod signals;
pub mod stages;
mod states;

pub use graph::Graph;
pub use place::place_of_stage;

use crate::Settings;
use graph::{Flood, is_continuity};
use keyon_circuit::{
    Elaboration,
    ids::*,
    model::{COMMON, Change, Circuit, ElementKind, PointKind, Role},
};
use keyon_solve::{Cancel, Cases, Survey, Worst};
use std::{
    cell::{OnceCell, RefCell},
    collections::BTreeMap,
    sync::Arc,
};

/// Shared answers about one circuit.
pub struct Facts<'a> {
    #[allow(missing_docs)]
    pub circuit: &'a Circuit,
    elaboration: &'a Elaboration,
    settings: &'a Settings,
    cancel: &'a dyn Cancel,
    graph: OnceCell<Graph<'a>>,
    held: OnceCell<Flood>,
    fed: OnceCell<Flood>,
    grounded: OnceCell<Flood>,
    ground_net: OnceCell<Flood>,
    drawn: OnceCell<Survey<'a>>,
    mended: OnceCell<Survey<'a>>,
    highest: OnceCell<Survey<'a>>,
    cases: RefCell<BTreeMap<DeviceId, Arc<Cases>>>,
    worst: RefCell<BTreeMap<ElementId, Arc<Worst>>>,
    paths: RefCell<BTreeMap<DeviceId, Option<Arc<paths::DevicePaths>>>>,
    lives: RefCell<BTreeMap<ModuleId, modules::Life>>,
    shorts: OnceCell<Vec<shorts::Short>>,
    dead_relays: OnceCell<Vec<Change>>,
    returns: OnceCell<Vec<returns::ReturnNet>>,
    expectations: OnceCell<Vec<expectations::Judged>>,
}

impl<'a> Facts<'a> {
    #[allow(missing_docs)]
    pub fn new(elaboration: &'a Elaboration, settings: &'a Settings, cancel: &'a dyn Cancel) -> Self {
        Self {
            circuit: &elaboration.circuit,
            elaboration,
            settings,
            cancel,
            graph: OnceCell::new(),
            held: OnceCell::new(),
            fed: OnceCell::new(),
            grounded: OnceCell::new(),
            ground_net: OnceCell::new(),
            drawn: OnceCell::new(),
            mended: OnceCell::new(),
            highest: OnceCell::new(),
            cases: RefCell::default(),
            worst: RefCell::default(),
            paths: RefCell::default(),
            lives: RefCell::default(),
            shorts: OnceCell::new(),
            dead_relays: OnceCell::new(),
            returns: OnceCell::new(),
            expectations: OnceCell::new(),
        }
    }

    /// The circuit as a graph.
    pub fn graph(&self) -> &Graph<'a> {
        self.graph.get_or_init(|| Graph::new(self.circuit))
    }

    /// Whether a point hangs on something that could not be read or resolved, so that what is missing there is no
    /// finding of its own (decision 31).
    pub fn held(&self, point: PointId) -> bool {
        self.held.get_or_init(|| self.flood_of_damage()).has(point)
    }

    /// Everything that a supply or a reference reaches without a load, in any state.
    pub fn fed_somehow(&self) -> &Flood {
        self.fed.get_or_init(|| {
            let sources = self.circuit.elements.iter().filter(|e| e.kind.is_source());
            let starts: Vec<PointId> = sources.map(|e| e.to).collect();
            self.graph().downstream(&starts)
        })
    }

    /// Everything that reaches ground without a load, in any state.
    pub fn grounded_somehow(&self) -> &Flood {
        self.grounded.get_or_init(|| self.graph().upstream(&[COMMON]))
    }

    /// Everything that wires alone join to ground, in every state.
    pub fn ground_net(&self) -> &Flood {
        self.ground_net.get_or_init(|| self.graph().flood(&[COMMON], |e, _| graph::is_wiring(e.kind)))
    }

    fn flood_of_damage(&self) -> Flood {
        let mut starts = self.circuit.tainted.clone();
        // The point that was meant, where a name has one near it, misses what was to land there.
        for problem in self.elaboration.problems.iter().filter(|p| p.rule == "unknown-name") {
            for (_, text) in problem.fix.iter().flat_map(|fix| &fix.edits) {
                let meant = self.circuit.lookup(text).into_iter().find_map(|e| self.circuit.point_of(e));
                starts.extend(meant);
            }
        }
        // A branch that leaves the page without a load may bring or take anything, unless it is clear which.
        let branches = self.circuit.branches.iter().filter(|b| b.element.is_none());
        starts.extend(
            branches
                .map(|b| b.point)
                .filter(|&p| !self.fed_somehow().has(p) && !self.grounded_somehow().has(p)),
        );
        // What a bus carries is its own affair.
        for module in &self.circuit.modules {
            for cavity in module.connectors.iter().flat_map(|c| &c.cavities) {
                if matches!(cavity.role, Role::Bus { .. }) {
                    starts.extend([cavity.outside, cavity.inside]);
                }
            }
        }
        let fixed = |p: PointId| {
            let kind = self.circuit.points.get(p.index()).map(|p| p.kind);
            matches!(kind, Some(PointKind::Common | PointKind::Ground(_) | PointKind::Supply(_)))
        };
        starts.retain(|&p| !fixed(p));
        // A supply or a ground point that was misspelt elsewhere is itself in order.
        self.graph().flood(&starts, |element, step| {
            is_continuity(element) && element.kind != ElementKind::Ground && !fixed(step.to)
        })
    }
}
