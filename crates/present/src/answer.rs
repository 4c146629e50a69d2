//! All that is asked of one state, computed: the solution, what modules make of it, what starts, windows, a probe.

use crate::shown::{shown_elements, shown_points};
use keyon_circuit::{ids::*, model::Circuit};
use keyon_solve::{
    Bands, Cancel, Cancelled, ModuleView, Reading, Solution, Starting, Window,
    probe::{Bench, Instrument, Shown},
};
use std::collections::BTreeMap;

/// What is wanted beside the state itself.
#[derive(Clone, Copy, Debug, Default)]
pub struct Wanted {
    /// Lowest and highest of every reading.
    pub windows: Option<Bands>,
    /// An instrument held to every point, and where its other lead is.
    pub probe: Option<(Instrument, PointId)>,
}

/// One state with what was wanted.
#[derive(Clone, Debug)]
pub struct Answer<'a> {
    #[allow(missing_docs)]
    pub solution: &'a Solution,
    /// One a module.
    pub views: Vec<ModuleView>,
    /// Devices that take another current while they start.
    pub starting: Vec<Starting>,
    #[allow(missing_docs)]
    pub windows: Option<Windows>,
    #[allow(missing_docs)]
    pub probing: Option<Probing>,
}

/// Lowest and highest of what is shown.
#[derive(Clone, Debug)]
pub struct Windows {
    /// What varies.
    pub bands: Bands,
    #[allow(missing_docs)]
    pub points: BTreeMap<PointId, Window>,
    /// By module, connector, cavity.
    pub inputs: BTreeMap<(ModuleId, usize, usize), Window>,
    #[allow(missing_docs)]
    pub amps: BTreeMap<ElementId, Window>,
}

impl Windows {
    pub(crate) fn all(&self) -> impl Iterator<Item = &Window> {
        self.points.values().chain(self.inputs.values()).chain(self.amps.values())
    }
}

/// What an instrument shows on each point.
#[derive(Clone, Debug)]
pub struct Probing {
    #[allow(missing_docs)]
    pub instrument: Instrument,
    /// Where its other lead is.
    pub lead: PointId,
    #[allow(missing_docs)]
    pub shown: BTreeMap<PointId, Shown>,
}

impl<'a> Answer<'a> {
    /// Computes what is wanted.
    ///
    /// # Errors
    /// When `cancel` asks for it.
    pub fn new(
        circuit: &Circuit,
        solution: &'a Solution,
        wanted: Wanted,
        cancel: &dyn Cancel,
    ) -> Result<Self, Cancelled> {
        let windows = match wanted.windows {
            Some(bands) => Some(windows(circuit, solution, bands, cancel)?),
            None => None,
        };
        let probing = match wanted.probe {
            Some((instrument, lead)) => Some(probing(circuit, solution, instrument, lead, cancel)?),
            None => None,
        };
        Ok(Self {
            solution,
            views: keyon_solve::module_views(circuit, solution, cancel)?,
            starting: keyon_solve::starting(circuit, solution),
            windows,
            probing,
        })
    }

    /// What an element takes while its device starts, if that is another current than later.
    pub(crate) fn starting_amps(&self, element: ElementId) -> Option<keyon_solve::Amps> {
        self.starting.iter().flat_map(|s| &s.elements).find(|(e, _)| *e == element).map(|(_, amps)| *amps)
    }
}

fn windows(
    circuit: &Circuit,
    solution: &Solution,
    bands: Bands,
    cancel: &dyn Cancel,
) -> Result<Windows, Cancelled> {
    let mut readings: Vec<Reading> =
        shown_points(circuit, Some(solution)).iter().map(|p| Reading::Volts(p.point)).collect();
    for (m, module) in circuit.modules.iter().enumerate() {
        for (c, connector) in module.connectors.iter().enumerate() {
            for (k, cavity) in connector.cavities.iter().enumerate() {
                if matches!(cavity.role, keyon_circuit::model::Role::Senses { .. }) {
                    readings.push(Reading::Input(m.into(), c, k));
                }
            }
        }
    }
    readings.extend(shown_elements(circuit).into_iter().map(Reading::Amps));
    let found = keyon_solve::windows(circuit, &solution.state, &readings, bands, cancel)?;
    let (points, inputs, amps) = (BTreeMap::new(), BTreeMap::new(), BTreeMap::new());
    let mut all = Windows { bands, points, inputs, amps };
    for (reading, window) in readings.into_iter().zip(found).filter_map(|(r, w)| Some((r, w?))) {
        match reading {
            Reading::Volts(point) => _ = all.points.insert(point, window),
            Reading::Input(m, c, k) => _ = all.inputs.insert((m, c, k), window),
            Reading::Amps(element) => _ = all.amps.insert(element, window),
        }
    }
    Ok(all)
}

fn probing(
    circuit: &Circuit,
    solution: &Solution,
    instrument: Instrument,
    lead: PointId,
    cancel: &dyn Cancel,
) -> Result<Probing, Cancelled> {
    let mut bench = Bench::new(circuit, solution, instrument, lead);
    let mut shown = BTreeMap::new();
    for point in shown_points(circuit, Some(solution)) {
        if cancel.cancelled() {
            return Err(Cancelled);
        }
        shown.insert(point.point, bench.at(point.point));
    }
    Ok(Probing { instrument, lead, shown })
}
