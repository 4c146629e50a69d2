//! One state of a circuit: where every control stands, what every sensor senses, what was done to the circuit.

use keyon_circuit::{
    ids::*,
    model::{Change, Circuit, Settings},
};

/// A state to solve. Complete: every control and stimulus has a value.
#[derive(Clone, Debug)]
pub struct State {
    /// Position of each control.
    pub positions: Vec<u8>,
    /// Duty of each control, 0 … 1; 1 where it is not pulsed.
    pub duty: Vec<f64>,
    /// Value of each stimulus in its own unit.
    pub stimuli: Vec<f64>,
    /// Volts of each supply.
    pub supplies: Vec<f64>,
    /// Set-ups and faults, in order.
    pub changes: Vec<Change>,
    #[allow(missing_docs)]
    pub options: Options,
}

/// How to solve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Options {
    /// Keep overloaded fuses whole, to show the moment before.
    pub keep_fuses: bool,
    /// Solve windings stalled, lamps and heaters cold (inrush).
    pub inrush: bool,
    /// Ohms of the meter that probes a net; 10 MΩ.
    pub meter: f64,
}

impl Default for Options {
    fn default() -> Self {
        Self { keep_fuses: false, inrush: false, meter: 10e6 }
    }
}

impl State {
    /// Every control at rest, stimuli nominal, supplies at their stated volts.
    pub fn rest(circuit: &Circuit) -> Self {
        Self {
            positions: vec![0; circuit.controls.len()],
            duty: vec![1.0; circuit.controls.len()],
            stimuli: circuit.stimuli.iter().map(|s| s.nominal).collect(),
            supplies: circuit.supplies.iter().map(|s| s.volts.nominal).collect(),
            changes: Vec::new(),
            options: Options::default(),
        }
    }

    /// The state of a scenario.
    pub fn scenario(circuit: &Circuit, scenario: ScenarioId) -> Self {
        Self::rest(circuit).with(&circuit.scenarios[scenario.index()].settings)
    }

    /// The same with these settings on top.
    #[must_use]
    pub fn with(mut self, settings: &Settings) -> Self {
        for &(control, position, duty) in &settings.controls {
            self.positions[control.index()] = position as u8;
            self.duty[control.index()] = duty.unwrap_or(1.0);
        }
        for &(stimulus, value) in &settings.stimuli {
            self.stimuli[stimulus.index()] = value;
        }
        for &(supply, volts) in &settings.supplies {
            self.supplies[supply] = volts;
        }
        self.changes.extend(settings.changes.iter().cloned());
        self
    }
}
