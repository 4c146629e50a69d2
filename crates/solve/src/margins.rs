//! How little tips a diode: whether a meter on a point could, so that its reading has to be solved anew.

use crate::{
    nets::Sets,
    phase::Flow,
    plan::{Act, Plan},
};

/// What the diodes of one phase can take.
///
/// Between points that joints, ideal sources and conducting diodes tie together the volts are fixed. A diode between such
/// points changes none, whether it conducts or blocks: where several feeds are joined by diodes there are many of them, at
/// their drop or without a current to the last digit, and no meter can do anything to them.
pub(crate) struct Margins {
    /// Amps of the conducting diode that carries least.
    amps: f64,
    /// Volts that the blocking one nearest to its drop still lacks.
    volts: f64,
}

impl Margins {
    /// For a meter of so many ohms to ground.
    pub(crate) fn new(plan: &Plan<'_>, flow: &Flow, meter: f64) -> Self {
        let mut margins = Self { amps: f64::INFINITY, volts: f64::INFINITY };
        if plan.diodes.is_empty() {
            return margins;
        }
        let answer = &flow.electric.answer;
        let highest = answer.volts.iter().fold(0.0, |most: f64, volts| most.max(volts.abs()));
        let amps = |diode: usize| flow.electric.amps[diode].abs();
        // What a meter anywhere might take away from a conducting diode.
        let faint = |diode: usize| amps(diode) <= highest / meter;
        let mut tied = ties(plan, flow);
        for &diode in plan.diodes.iter().filter(|&&d| flow.conducts[d] && flow.on[d] && !faint(d)) {
            tied.join(plan.parts[diode].from, plan.parts[diode].to);
            margins.amps = margins.amps.min(amps(diode));
        }
        let on_and_faint = |&&diode: &&usize| {
            flow.conducts[diode] && flow.on[diode] && faint(diode) && !flow.unlimited(diode)
        };
        for &diode in plan.diodes.iter().filter(on_and_faint) {
            // Without any of the faint ones the same points are tied: what flows otherwise goes by the others.
            if tied.find(plan.parts[diode].from) != tied.find(plan.parts[diode].to) {
                margins.amps = margins.amps.min(amps(diode));
            }
        }
        for &diode in plan.diodes.iter().filter(|&&d| flow.conducts[d] && !flow.on[d]) {
            let part = &plan.parts[diode];
            let Act::Diode(drop) = part.act else { continue };
            if answer.floating[part.from]
                || answer.floating[part.to]
                || tied.find(part.from) == tied.find(part.to)
            {
                continue;
            }
            margins.volts = margins.volts.min(drop - (answer.volts[part.from] - answer.volts[part.to]));
        }
        margins
    }

    /// Whether a meter that draws so many amps from a net with so many ohms behind it might tip one. In a network
    /// of resistances no branch takes more than what is drawn, and no volts change more than those of the net itself.
    pub(crate) fn tips(&self, drawn: f64, inner: f64) -> bool {
        self.amps <= drawn.abs() || self.volts <= drawn.abs() * inner
    }
}

/// Points between which joints and ideal sources fix the volts.
fn ties(plan: &Plan<'_>, flow: &Flow) -> Sets {
    let mut tied = Sets::new(plan.points);
    for (index, part) in plan.parts.iter().enumerate() {
        let ideal = match part.act {
            Act::Joint => true,
            Act::Source { inner, limit: None, .. } => inner <= 0.0,
            _ => false,
        };
        if ideal && flow.conducts[index] && !flow.unlimited(index) {
            tied.join(part.from, part.to);
        }
    }
    tied
}
