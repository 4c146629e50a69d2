//! Circuits of all kinds of elements between a few points, sound or absurd.

use keyon_circuit::{ids::*, model::*, value::Num};
use keyon_solve::State;
use keyon_syntax::Span;
use proptest::prelude::*;

/// How one element is drawn.
#[derive(Clone, Debug)]
pub(crate) struct Drawn {
    pub(crate) kind: u8,
    pub(crate) from: usize,
    pub(crate) to: usize,
    pub(crate) size: f64,
    pub(crate) gate: u8,
    pub(crate) pick: usize,
}

pub(crate) const LOC: Loc = Loc { file: FileId(0), item: 0, span: Span { start: 0, end: 0 } };

fn num(value: f64) -> Num {
    Num::exact(value)
}

/// A circuit and one of its states from what was drawn.
pub(crate) fn build(points: usize, drawn: &[Drawn], positions: &[u8], duty: f64) -> (Circuit, State) {
    let mut c = Circuit::default();
    let point = |name: String, kind| Point { name: name.into(), kind, loc: None };
    for index in 1..points {
        c.points.push(point(format!("P{index}"), PointKind::Internal));
    }
    for index in 0..3 {
        c.controls.push(Control {
            name: format!("c{index}").into(),
            qualified: format!("c{index}").into(),
            title: None,
            kind: ControlKind::Free,
            positions: vec!["off".into(), "on".into(), "more".into()],
            pwm: Some(100.0),
            loc: LOC,
        });
    }
    c.stimuli.push(Stimulus {
        name: "s".into(),
        kind: StimulusKind::Travel,
        nominal: 0.5,
        span: (0.0, 1.0),
        stated: true,
        unit: None,
        element: ElementId(0),
        loc: LOC,
    });
    // A module with its feed and ground at points 1 and 2.
    let pin = |at: usize, role| Cavity {
        number: "1".into(),
        name: "pin".into(),
        role,
        outside: PointId::from(at),
        inside: PointId::from(at),
        terminal: ElementId(0),
        elements: Vec::new(),
        control: None,
        limit: None,
        clamp: false,
        pwm: None,
        shared_by: None,
        range: None,
        threshold: None,
        landings: Vec::new(),
        unused: None,
        name_loc: None,
        loc: LOC,
    };
    let (feed, ground) = (1 % points, 2 % points);
    c.modules.push(Module {
        name: "M".into(),
        title: None,
        part: None,
        connectors: vec![Connector {
            name: "A".into(),
            title: None,
            cavities: vec![pin(feed, Role::Feed), pin(ground, Role::Ground)],
            attributes: Attributes::default(),
            loc: LOC,
        }],
        feeds: vec![(0, 0)],
        grounds: vec![(0, 1)],
        gangs: Vec::new(),
        attributes: Attributes::default(),
        loc: LOC,
    });
    let coils: Vec<usize> =
        drawn.iter().enumerate().filter(|(_, d)| matches!(d.kind, 6 | 7)).map(|(i, _)| i).collect();
    for (index, d) in drawn.iter().enumerate() {
        let (mut from, mut to) = (d.from % points, d.to % points);
        let mut alive = None;
        let mut rating = None;
        let scale = 10f64.powf(d.size);
        let stimulus = StimulusId(0);
        let (kind, law) = match d.kind {
            0 => (ElementKind::Wire, Law::Joint),
            1 => (ElementKind::Wire, Law::Resistance(num(scale * 1e-2))),
            2 | 3 => (ElementKind::Resistor, Law::Resistance(num(scale * 10.0))),
            4 => (ElementKind::Lamp, Law::Rated { watts: num(scale), volts: num(12.0), cold: None }),
            5 => (
                ElementKind::Winding,
                Law::Winding {
                    ohms: num(scale),
                    turns_at: Some(num(0.4)),
                    rated: Some(Rated::Volts(num(12.0))),
                    runs: Some(num(0.5 / scale)),
                },
            ),
            6 | 7 => (
                ElementKind::Coil,
                Law::Coil {
                    ohms: num(90.0),
                    pulls_in: Some(num(0.09)),
                    drops_out: Some(num(0.03)),
                    rated: None,
                },
            ),
            8 | 9 => (ElementKind::Diode, Law::Diode { drop: num(if d.pick % 5 == 0 { 0.0 } else { 0.7 }) }),
            10 => {
                (from, to) = if d.pick % 4 == 0 { (from, to) } else { (0, to) };
                let inner = if d.pick % 3 == 0 { 0.0 } else { 0.02 };
                let volts = [12.0, 12.0, 24.0, 5.0][d.pick % 4];
                (
                    ElementKind::Supply,
                    Law::Source { volts: num(volts), inner: num(inner), limit: None, range: None },
                )
            }
            11 => {
                (from, alive) = (ground, Some(ModuleId(0)));
                let limit = (d.pick % 2 == 0).then(|| num(0.05));
                (ElementKind::Reference, Law::Source { volts: num(5.0), inner: num(5.0), limit, range: None })
            }
            12 => {
                (from, alive) = (ground, Some(ModuleId(0)));
                (ElementKind::Stage, Law::Resistance(num(0.1)))
            }
            13 => {
                rating = Some(num([2.0, 5.0, 10.0][d.pick % 3]));
                (ElementKind::Fuse(FuseKind::Fuse), Law::Joint)
            }
            14 => {
                (ElementKind::Contact, if d.pick % 2 == 0 { Law::Joint } else { Law::Resistance(num(0.01)) })
            }
            15 => (
                ElementKind::Track(d.pick % 2 == 0),
                Law::Track { ohms: num(5e3), travel: (0.0, 1.0), stimulus },
            ),
            16 => (
                ElementKind::Transducer,
                Law::Transducer {
                    feed: PointId::from(d.pick % points),
                    volts: (0.5, 4.5),
                    over: (0.0, 1.0),
                    ratio: d.gate % 2 == 0,
                    stimulus,
                },
            ),
            _ => (ElementKind::Ground, Law::Joint),
        };
        if kind == ElementKind::Ground {
            (from, to) = (to, 0);
            if to != from && d.pick % 2 == 0 {
                c.points[from].kind = PointKind::Ground(0);
            }
        }
        let switched = matches!(kind, ElementKind::Contact | ElementKind::Stage) || d.gate == 9;
        let when = match d.gate {
            _ if !switched => When::Always,
            0..=3 => When::In { control: ControlId::from(d.pick % 3), positions: 0b010 },
            4 | 5 => When::In { control: ControlId::from(d.pick % 3), positions: 0b101 },
            gate => match coils.get(d.pick % coils.len().max(1)) {
                Some(&coil) => When::Energised { coil: coil.into(), open: gate == 6 },
                None => When::Always,
            },
        };
        c.elements.push(Element {
            name: format!("E{index}").into(),
            from: from.into(),
            to: to.into(),
            kind,
            law,
            when,
            alive,
            rating,
            owner: Owner::Elsewhere,
            loc: LOC,
        });
    }
    let mut state = State::rest(&c);
    state.positions.copy_from_slice(positions);
    if let Some(first) = state.duty.first_mut() {
        *first = duty;
    }
    (c, state)
}

/// What is drawn for a circuit: points, elements, positions, the first control's duty.
pub(crate) type Draft = (usize, Vec<Drawn>, Vec<u8>, f64);

pub(crate) fn draft(kinds: &'static [u8], most: usize) -> impl Strategy<Value = Draft> {
    let element = (0..kinds.len(), 0..16usize, 0..16usize, -1.5..1.5f64, 0..10u8, 0..64usize).prop_map(
        move |(kind, from, to, size, gate, pick)| Drawn { kind: kinds[kind], from, to, size, gate, pick },
    );
    let duty = prop_oneof![4 => Just(1.0), 1 => 0.0..1.0f64];
    (2..14usize, prop::collection::vec(element, 0..most), prop::collection::vec(0..3u8, 3), duty)
}
