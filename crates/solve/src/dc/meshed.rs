//! The meshed core of a network: what is left when every node has many neighbours. There elimination in long numbers
//! would be cubic in long numbers, so a dense Cholesky factorisation in usual ones (faer) does the work, and iterative
//! refinement with residuals summed in long numbers restores the figures (J. Wilkinson, "Rounding errors in algebraic
//! processes", 1963). Where conductances lie too far apart for that to converge, the core is declined and eliminated
//! like the rest.

use super::wide::Wide;
use faer::{Mat, Side, linalg::solvers::Llt, prelude::Solve};

/// A core that shrinks its error less than this in a step of refinement is declined.
const CONVERGES: f64 = 1e-4;
/// Steps of refinement: each wins at least four digits.
const STEPS: usize = 9;

/// A factored core.
#[derive(Clone, Debug)]
pub(super) struct Meshed {
    /// The network's nodes in it.
    pub(super) nodes: Vec<u32>,
    /// Conductances between its nodes (indices into `nodes`), each once.
    links: Vec<(u32, u32, Wide)>,
    ground: Vec<Wide>,
    /// One node of each island without a way to the reference: held at zero.
    held: Vec<bool>,
    /// Whether a node's island floats.
    pub(super) floats: Vec<bool>,
    /// Square roots of the diagonal, to set its scale.
    scale: Vec<f64>,
    factor: Llt<f64>,
}

impl Meshed {
    /// Factors a core; `None` where usual numbers are too short for it.
    pub(super) fn new(nodes: Vec<u32>, links: Vec<(u32, u32, Wide)>, ground: Vec<Wide>) -> Option<Self> {
        let count = nodes.len();
        let (floats, held) = islands(count, &links, &ground);
        let mut diagonal: Vec<f64> = ground.iter().map(|g| g.value()).collect();
        for &(a, b, g) in &links {
            diagonal[a as usize] += g.value();
            diagonal[b as usize] += g.value();
        }
        let scale: Vec<f64> = diagonal.iter().map(|d| d.sqrt()).collect();
        let mut matrix = Mat::<f64>::identity(count, count);
        for &(a, b, g) in &links {
            let (a, b) = (a as usize, b as usize);
            if !held[a] && !held[b] {
                let entry = -g.value() / (scale[a] * scale[b]);
                matrix[(a, b)] = entry;
                matrix[(b, a)] = entry;
            }
        }
        let factor = matrix.llt(Side::Lower).ok()?;
        let core = Self { nodes, links, ground, held, floats, scale, factor };
        core.converges().then_some(core)
    }

    /// Whether refinement wins enough in each step: tried on an alternating load.
    fn converges(&self) -> bool {
        let mut amps: Vec<Wide> = (0..self.nodes.len())
            .map(|i| Wide::from(if i % 2 == 0 { self.scale[i] } else { -self.scale[i] }))
            .collect();
        self.clear_held(&mut amps);
        let size =
            |r: &[Wide]| r.iter().zip(&self.scale).map(|(r, s)| (r.value() / s).abs()).fold(0.0, f64::max);
        let before = size(&amps);
        let volts: Vec<Wide> = self.step(&amps).into_iter().map(Wide::from).collect();
        let mut rest = self.residual(&amps, &volts);
        self.clear_held(&mut rest);
        let error = self.step(&rest);
        let largest = |v: &mut dyn Iterator<Item = f64>| v.fold(0.0f64, |most, v| most.max(v.abs()));
        let won = largest(&mut error.into_iter())
            / largest(&mut volts.iter().map(|v| v.value())).max(f64::MIN_POSITIVE);
        before.is_finite() && won.is_finite() && won <= CONVERGES
    }

    fn clear_held(&self, amps: &mut [Wide]) {
        for (amps, _) in amps.iter_mut().zip(&self.held).filter(|(_, held)| **held) {
            *amps = Wide::ZERO;
        }
    }

    /// One solution in usual numbers.
    fn step(&self, amps: &[Wide]) -> Vec<f64> {
        let count = self.nodes.len();
        let mut column = Mat::<f64>::from_fn(count, 1, |i, _| amps[i].value() / self.scale[i]);
        self.factor.solve_in_place(&mut column);
        (0..count).map(|i| if self.held[i] { 0.0 } else { column[(i, 0)] / self.scale[i] }).collect()
    }

    /// What of the currents the potentials leave over, link by link.
    fn residual(&self, amps: &[Wide], volts: &[Wide]) -> Vec<Wide> {
        let mut rest = amps.to_vec();
        for ((rest, &g), &v) in rest.iter_mut().zip(&self.ground).zip(volts) {
            *rest -= g * v;
        }
        for &(a, b, g) in &self.links {
            let flow = g * (volts[a as usize] - volts[b as usize]);
            rest[a as usize] -= flow;
            rest[b as usize] += flow;
        }
        rest
    }

    /// From currents into its nodes to their potentials; what is left over at held nodes is added to `left_over`.
    pub(super) fn substitute(&self, amps: &mut [Wide], left_over: &mut Vec<(usize, Wide)>) {
        let mut rest: Vec<Wide> = self.nodes.iter().map(|&node| amps[node as usize]).collect();
        let injected = rest.clone();
        let mut volts = vec![Wide::ZERO; self.nodes.len()];
        for _ in 0..STEPS {
            self.clear_held(&mut rest);
            for (volts, more) in volts.iter_mut().zip(self.step(&rest)) {
                *volts += Wide::from(more);
            }
            rest = self.residual(&injected, &volts);
        }
        for (at, &node) in self.nodes.iter().enumerate() {
            if self.held[at] && !rest[at].is_zero() {
                left_over.push((node as usize, rest[at]));
            }
            amps[node as usize] = volts[at];
        }
    }

    /// The inverse: ohms between its nodes and the reference on the diagonal.
    pub(super) fn inverse(&self) -> Mat<f64> {
        let count = self.nodes.len();
        let mut inverse = Mat::<f64>::identity(count, count);
        self.factor.solve_in_place(&mut inverse);
        Mat::from_fn(count, count, |i, j| {
            if self.held[i] || self.held[j] { 0.0 } else { inverse[(i, j)] / (self.scale[i] * self.scale[j]) }
        })
    }
}

/// Which nodes float, and one of each floating island.
fn islands(count: usize, links: &[(u32, u32, Wide)], ground: &[Wide]) -> (Vec<bool>, Vec<bool>) {
    let mut sets = crate::nets::Sets::new(count);
    for &(a, b, _) in links {
        sets.join(a as usize, b as usize);
    }
    let mut grounded = vec![false; count];
    for node in (0..count).filter(|&node| !ground[node].is_zero()) {
        grounded[sets.find(node)] = true;
    }
    let floats: Vec<bool> = (0..count).map(|node| !grounded[sets.find(node)]).collect();
    let held = (0..count).map(|node| floats[node] && sets.find(node) == node).collect();
    (floats, held)
}
