//! Published worked circuits, straight into the linear network.

#![allow(clippy::expect_used, clippy::panic)]

mod worked;

use keyon_solve::dc::network::{Answer, Inconsistent, Network};
use std::collections::BTreeMap;
use worked::{Entry, Example, compare, examples, number};

/// The network of an example and the branch of each element (`None` for an open).
struct Built {
    network: Network,
    nodes: BTreeMap<String, usize>,
    branches: Vec<Option<usize>>,
}

fn build(example: &Example, dead: bool) -> Built {
    let mut nodes = BTreeMap::from([("0".to_owned(), 0)]);
    let mut network = Network::new(1);
    let mut branches = Vec::new();
    for e in &example.elements {
        let mut node = |key: &str| {
            let next = nodes.len();
            *nodes.entry(e[key].clone()).or_insert(next)
        };
        let branch = match e["kind"].as_str() {
            "resistor" => Some(network.resistor(node("a"), node("b"), number(e, "ohms"))),
            "short" => Some(network.short(node("a"), node("b"))),
            "open" => {
                node("a");
                node("b");
                None
            }
            "voltage_source" if dead => Some(network.short(node("minus"), node("plus"))),
            "voltage_source" => Some(network.source(node("minus"), node("plus"), number(e, "volts"), 0.0)),
            "current_source" if dead => None,
            "current_source" => Some(network.current(node("from"), node("to"), number(e, "amps"))),
            other => panic!("{}: element kind {other}", example.id()),
        };
        branches.push(branch);
    }
    Built { network, nodes, branches }
}

fn quantity(example: &Example, expect: &Entry, built: &Built, answer: &Answer) -> f64 {
    let node = |key: &str| {
        let name = expect.get(key).unwrap_or_else(|| panic!("{}: no {key}", example.id()));
        built.nodes.get(name).copied().unwrap_or_else(|| panic!("{}: no node {name}", example.id()))
    };
    let amps = |e: usize| built.branches[e].map_or(0.0, |b| answer.amps[b]);
    let across = |e: &Entry| {
        let ends = if e.contains_key("a") { ("a", "b") } else { ("plus", "minus") };
        let volts = |key: &str| answer.volts[built.nodes[&e[key]]];
        volts(ends.0) - volts(ends.1)
    };
    let element = || example.element(expect.get("element").or(expect.get("source")).expect("an element"));
    match expect["quantity"].as_str() {
        "voltage" => answer.volts[node("plus")] - answer.volts[node("minus")],
        "current" => amps(element()),
        "power" => amps(element()) * across(&example.elements[element()]),
        "resistance_seen_by_source" => across(&example.elements[element()]) / amps(element()),
        "equivalent_resistance" => {
            let dead = build(example, true);
            dead.network.factor().resistance(node("plus"), node("minus"))
        }
        other => panic!("{}: quantity {other}", example.id()),
    }
}

#[test]
fn every_published_answer() {
    let mut wrong = Vec::new();
    let mut checked = 0;
    for example in examples() {
        let built = build(&example, false);
        let answer = built.network.clone().solve().unwrap_or_else(|e| panic!("{}: {e:?}", example.id()));
        for expect in &example.expects {
            checked += 1;
            wrong.extend(compare(example.id(), expect, quantity(&example, expect, &built, &answer)).err());
        }
    }
    assert!(wrong.is_empty(), "{} of {checked}:\n{}", wrong.len(), wrong.join("\n"));
    assert!(checked > 250, "{checked} answers looked at");
}

/// Currents of the two-source circuit are the sums of those with one source each.
#[test]
fn superposition() {
    let all = examples();
    let amps = |id: &str| {
        let example = all.iter().find(|e| e.id() == id).expect("the example is there");
        let built = build(example, false);
        let answer = built.network.clone().solve().expect("it has a solution");
        let names = example.elements.iter().zip(&built.branches);
        names
            .filter(|(e, _)| e["kind"] == "resistor")
            .map(|(e, b)| (e["name"].clone(), answer.amps[b.expect("a resistor is a branch")]))
            .collect::<BTreeMap<_, _>>()
    };
    let (first, second, both) = (amps("li-10.8-28"), amps("li-10.8-7"), amps("li-10.2"));
    assert!(both.len() >= 3);
    for (name, sum) in &both {
        assert!((first[name] + second[name] - sum).abs() < 1e-12, "{name}");
    }
}

/// An ideal source across a short has no solution, and says which branches make the loop.
#[test]
fn shorted_source_is_reported() {
    let mut network = Network::new(2);
    let source = network.source(0, 1, 9.0, 0.0);
    network.resistor(1, 0, 3000.0);
    let short = network.short(1, 0);
    match network.solve() {
        Err(Inconsistent::Loop(mut branches)) => {
            branches.sort_unstable();
            assert_eq!(branches, [source, short]);
        }
        other => panic!("{other:?}"),
    }
}
