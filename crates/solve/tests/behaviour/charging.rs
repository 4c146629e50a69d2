//! A generator on a battery: what charges is no clash.

use crate::support::solved;
use keyon_solve::NodeState;

const ALTERNATOR: &str = "circuit c\nsupply battery 12.5 V inner 12 mohm range 11 .. 14.5 V\n\
    supply generator 14.3 V inner 25 mohm live in engine running\ncontrol engine positions stopped, running\nground G1\n\
    link L1 generator -> SB 100 A\nfuse F1 battery -> SB 80 A\nsplice SB\nlamp beam SB -> G1 24 W 12 V\n";

/// Nodal analysis by hand: (12.5 / 0.012 + 14.3 / 0.025) / (1 / 0.012 + 1 / 0.025 + 1 / 6) V.
#[test]
fn a_generator_charges_its_battery() {
    let s = solved(ALTERNATOR, &["engine=running"]);
    let splice = s.point("SB");
    assert_eq!(s.solution.node_states[splice], NodeState::Fed);
    let volts = (12.5 / 0.012 + 14.3 / 0.025) / (1.0 / 0.012 + 1.0 / 0.025 + 1.0 / 6.0);
    let near = |got: f64, expected: f64| assert!((got - expected).abs() < 1e-9, "{got} is not {expected}");
    near(s.solution.unloaded[splice].unwrap(), volts);
    near(s.amps("L1"), (14.3 - volts) / 0.025);
    near(s.amps("F1"), (12.5 - volts) / 0.012);
    assert!(s.solution.clashes.is_empty() && s.solution.blown.is_empty());
    // Standing, the battery feeds alone.
    let s = solved(ALTERNATOR, &[]);
    near(s.amps("L1"), 0.0);
}

/// A panel gives its limit, through its diode: the battery takes it, whatever its volts in the sun.
#[test]
fn a_limited_source_charges_by_its_limit() {
    let s = solved(
        "circuit c\nsupply battery 12.6 V inner 20 mohm\nsupply panel 18 V limit 5 A\nground G1\n\
         diode D1 panel -> SB drop 0.5 V\nwire 1 SB -> battery\nsplice SB\nlamp beam SB -> G1 12 W 12 V\n",
        &[],
    );
    let battery = s.point("battery");
    assert_eq!(s.solution.node_states[battery], NodeState::Fed);
    let volts = (12.6 / 0.02 + 5.0) / (1.0 / 0.02 + 1.0 / 12.0);
    let got = s.solution.unloaded[battery].unwrap();
    assert!((got - volts).abs() < 1e-9, "{got} is not {volts}");
    assert!((s.amps("D1") - 5.0).abs() < 1e-9);
}

/// Without a resistance nothing decides what flows; batteries of other volts have no business on one wire.
#[test]
fn what_nothing_limits_stays_a_clash() {
    for supplies in [
        "supply battery 12.6 V range 11 .. 14.5 V\nsupply other 14 V\n",
        "supply battery 12.6 V inner 10 mohm range 11 .. 14.5 V\nsupply other 24 V inner 10 mohm\n",
    ] {
        let text = format!(
            "circuit c\n{supplies}ground G1\nwire 1 battery -> other\nlamp L battery -> G1 12 W 12 V\n"
        );
        let s = solved(&text, &[]);
        assert_eq!(s.solution.node_states[s.point("battery")], NodeState::Clash, "{supplies}");
    }
}
