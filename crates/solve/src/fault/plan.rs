//! Where to probe next: of all single faults that would show what is seen, the point whose reading tells most of them apart.
//!
//! Greedy, by the expected number of causes that remain after a reading (each cause as likely as the other), and by how
//! hard the point is to reach; at the complaint's own ways as long as something is to be told there. Readings that lie so near
//! that the volts of a supply, the length of a wire or a warm coil would hide the difference are not told apart. The plan follows the readings that are as they should be first; each other reading that
//! leaves several causes has steps of its own behind them.

use super::{Accuracy, Fault, Near, fits, single_faults, test_points};
use crate::{Cancel, Cancelled, Solution, State, solve};
use keyon_circuit::{ids::*, model::Circuit};
use smol_str::SmolStr;
use std::collections::{BTreeSet, VecDeque};

/// What is wrong, to be found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Complaint {
    /// A device does not do what it should.
    Device(DeviceId),
    /// A point does not read what it should.
    Point(PointId),
}

/// What a reading other than the expected one means.
#[derive(Clone, Debug)]
pub struct Outcome {
    /// Lowest and highest volts; `None`: it clashes or does not settle.
    pub volts: Option<(f64, f64)>,
    /// What would read so: faults in the words of an exercise.
    pub causes: Vec<SmolStr>,
    /// The step that parts these causes further, in [`Plan::steps`]; `None`: nothing does, or there are too many steps.
    pub next: Option<usize>,
    /// It is what the sound circuit reads.
    pub expected: bool,
}

/// One reading.
#[derive(Clone, Debug)]
pub struct Step {
    #[allow(missing_docs)]
    pub point: PointId,
    /// The step and its outcome after which this one is taken; `None` for the first.
    pub after: Option<(usize, usize)>,
    /// Volts of the sound circuit.
    pub expected: Option<f64>,
    /// The expected reading first, then the others by volts.
    pub outcomes: Vec<Outcome>,
}

/// Readings in their order.
#[derive(Clone, Debug)]
pub struct Plan {
    #[allow(missing_docs)]
    pub sound: Solution,
    /// All single faults that show the complaint.
    pub causes: Vec<SmolStr>,
    #[allow(missing_docs)]
    pub steps: Vec<Step>,
}

/// Steps one after the other.
const DEPTH: usize = 8;
/// Steps of a plan, with those behind unexpected readings.
const STEPS: usize = 30;
/// How far two readings must be apart to be told apart on a machine: 3 % and 0.1 V (common practice, no source).
const CLEAR: Accuracy = Accuracy { ratio: 0.03, volts: 0.05, joints: 0.05 };

struct Suspect {
    words: SmolStr,
    solution: Solution,
}

impl Suspect {
    /// A resistance that should not be there.
    fn is_joint(&self) -> bool {
        self.words.starts_with("resistance ")
    }
}

/// The plan for a complaint in a state.
///
/// # Errors
/// When `cancel` asks for it.
pub fn plan(
    circuit: &Circuit,
    base: &State,
    complaint: Complaint,
    cancel: &dyn Cancel,
) -> Result<Plan, Cancelled> {
    let sound = solve(circuit, base);
    let starts: Vec<PointId> = match complaint {
        Complaint::Point(point) => vec![point],
        Complaint::Device(device) => circuit
            .devices
            .get(device.index())
            .map_or(Vec::new(), |d| d.pins.iter().flat_map(|p| [p.outside, p.inside]).collect()),
    };
    let near = Near::new(circuit, &sound, &starts);
    let faults: Vec<Fault> = single_faults(circuit).into_iter().filter(|f| near.concerns(f)).collect();
    let mut suspects = Vec::new();
    for (done, fault) in faults.iter().enumerate() {
        if cancel.cancelled() {
            return Err(Cancelled);
        }
        cancel.progress(done as u64, faults.len() as u64);
        let solution = solve(circuit, &fault.in_state(base));
        if shows(complaint, &sound, &solution) {
            suspects.push(Suspect { words: fault.words.clone(), solution });
        }
    }
    let points: Vec<PointId> = test_points(circuit)
        .into_iter()
        // What is left to trained, licensed people is no point of a plan, whatever it would tell.
        .filter(|&p| !circuit.is_restricted_at(p))
        .filter(|&p| suspects.iter().any(|s| !blurred(volts(&s.solution, p), volts(&sound, p))))
        .collect();
    let (own, other): (Vec<PointId>, Vec<PointId>) = points.into_iter().partition(|&p| near.has(p));
    let steps = steps(circuit, &sound, &suspects, [&own, &other]);
    Ok(Plan { causes: suspects.into_iter().map(|s| s.words).collect(), sound, steps })
}

fn shows(complaint: Complaint, sound: &Solution, faulty: &Solution) -> bool {
    match complaint {
        Complaint::Device(device) => {
            let state = |s: &Solution| s.devices.get(device.index()).map(|d| d.state);
            state(sound) != state(faulty)
        }
        Complaint::Point(point) => !same(volts(sound, point), volts(faulty, point)),
    }
}

fn volts(solution: &Solution, point: PointId) -> Option<f64> {
    solution.volts.get(point.index()).copied().flatten()
}

fn same(a: Option<f64>, b: Option<f64>) -> bool {
    alike(a, b, Accuracy::default())
}

/// Whether two readings are one to a person in front of the machine.
fn blurred(a: Option<f64>, b: Option<f64>) -> bool {
    alike(a, b, CLEAR)
}

fn alike(a: Option<f64>, b: Option<f64>, accuracy: Accuracy) -> bool {
    match (a, b) {
        (Some(a), Some(b)) => fits(a, b, accuracy),
        (a, b) => a.is_none() == b.is_none(),
    }
}

/// A way through the readings that is not ended yet.
struct Open {
    remain: Vec<usize>,
    probed: BTreeSet<PointId>,
    after: Option<(usize, usize)>,
    /// All readings on the way here were as they should be.
    expected: bool,
}

fn steps(circuit: &Circuit, sound: &Solution, suspects: &[Suspect], points: [&[PointId]; 2]) -> Vec<Step> {
    let remain = (0..suspects.len()).collect();
    let mut open = VecDeque::from([Open { remain, probed: BTreeSet::new(), after: None, expected: true }]);
    let mut steps: Vec<Step> = Vec::new();
    while let Some(mut way) = open.pop_front() {
        if steps.len() == STEPS || way.probed.len() == DEPTH {
            continue;
        }
        let found = points.into_iter().find_map(|points| {
            best(circuit, sound, suspects, &way.remain, points, &way.probed, way.expected)
        });
        let Some(point) = found else { continue };
        way.probed.insert(point);
        let here = steps.len();
        if let Some((step, outcome)) = way.after
            && let Some(outcome) = steps.get_mut(step).and_then(|s| s.outcomes.get_mut(outcome))
        {
            outcome.next = Some(here);
        }
        let mut outcomes: Vec<Outcome> = Vec::new();
        for group in groups(sound, suspects, &way.remain, point) {
            // Off the expected way, what no cause reads is no reading of this fault.
            if group.members.is_empty() && !way.expected {
                continue;
            }
            let on = way.expected && group.expected;
            let next = Open {
                remain: group.members.clone(),
                probed: way.probed.clone(),
                after: Some((here, outcomes.len())),
                expected: on,
            };
            // The expected way to its end, then the others in the order in which they leave it.
            match (on, group.members.len()) {
                (_, 0) => {}
                (true, _) => open.push_front(next),
                (false, 1) => {}
                // A bad joint shows where the volts stay, joint by joint: that is one rule, not a branch of its own.
                (false, _) if next.remain.iter().all(|&i| suspects[i].is_joint()) => {}
                (false, _) => open.push_back(next),
            }
            outcomes.push(Outcome {
                volts: group.volts,
                causes: group.members.iter().map(|&i| suspects[i].words.clone()).collect(),
                next: None,
                expected: group.expected,
            });
        }
        steps.push(Step { point, after: way.after, expected: volts(sound, point), outcomes });
    }
    steps
}

/// Causes that read the same at a point.
struct Group {
    volts: Option<(f64, f64)>,
    members: Vec<usize>,
    expected: bool,
}

/// The causes by what they read at a point, the expected reading first.
fn groups(sound: &Solution, suspects: &[Suspect], among: &[usize], point: PointId) -> Vec<Group> {
    let here = volts(sound, point);
    let mut as_expected = Group { volts: here.map(|v| (v, v)), members: Vec::new(), expected: true };
    let mut unsettled = Group { volts: None, members: Vec::new(), expected: false };
    let mut others: Vec<(f64, usize)> = Vec::new();
    for &i in among {
        match volts(&suspects[i].solution, point) {
            read if blurred(read, here) => as_expected.members.push(i),
            Some(read) => others.push((read, i)),
            None => unsettled.members.push(i),
        }
    }
    others.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let mut groups = vec![as_expected];
    for (read, i) in others {
        // One after the other within the meter's accuracy: nobody tells them apart.
        match groups.last_mut().filter(|g| !g.expected) {
            Some(group) if group.volts.is_some_and(|(_, high)| blurred(Some(high), Some(read))) => {
                group.members.push(i);
                group.volts = group.volts.map(|(low, _)| (low, read));
            }
            _ => groups.push(Group { volts: Some((read, read)), members: vec![i], expected: false }),
        }
    }
    if !unsettled.members.is_empty() {
        groups.push(unsettled);
    }
    groups
}

/// The point that leaves the fewest causes; `None` where none parts them. The first step may also only confirm.
fn best(
    circuit: &Circuit,
    sound: &Solution,
    suspects: &[Suspect],
    among: &[usize],
    points: &[PointId],
    probed: &BTreeSet<PointId>,
    also_confirm: bool,
) -> Option<PointId> {
    let mut found: Option<(f64, PointId)> = None;
    for &point in points.iter().filter(|p| !probed.contains(p)) {
        let groups = groups(sound, suspects, among, point);
        let filled = groups.iter().filter(|g| !g.members.is_empty()).count();
        let differs = groups.iter().any(|g| !g.expected && !g.members.is_empty());
        if filled < 2 && !(also_confirm && differs) {
            continue;
        }
        let total = among.len().max(1) as f64;
        let remaining: f64 = groups.iter().map(|g| (g.members.len() as f64).powi(2)).sum::<f64>() / total;
        let cost = remaining + effort(circuit, point) * total.sqrt() * 0.2;
        if found.is_none_or(|(known, _)| cost < known - 1e-9) {
            found = Some((cost, point));
        }
    }
    found.map(|(_, point)| point)
}

/// How hard a point is to reach: 1 easy, 4 buried.
fn effort(circuit: &Circuit, point: PointId) -> f64 {
    let owned = circuit.attributes_at(point);
    let own = match owned.iter().find_map(|(_, attributes)| attributes.access.as_deref()) {
        Some("easy") => 1.0,
        Some("cover") => 2.0,
        Some("buried") => 4.0,
        _ => 1.5,
    };
    own + if owned.iter().any(|(_, attributes)| attributes.sealed) { 1.0 } else { 0.0 }
}
