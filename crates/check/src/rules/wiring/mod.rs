//! Wires, cavities, splices, colours, numbers.

pub mod bus_continuity;
pub mod cavity_conflict;
pub mod circuit_number_clash;
pub mod double_cavity;
pub mod lone_splice;
pub mod missing_gauge;
pub mod same_colour_neighbours;
pub mod thin_wire;
pub mod unconnected_pin;
pub mod unused_but_wired;
pub mod wire_conflict;

mod pins;

pub(super) const RULES: &[&crate::Rule] = &[
    &double_cavity::RULE,
    &unconnected_pin::RULE,
    &bus_continuity::RULE,
    &unused_but_wired::RULE,
    &lone_splice::RULE,
    &same_colour_neighbours::RULE,
    &circuit_number_clash::RULE,
    &thin_wire::RULE,
    &missing_gauge::RULE,
    &cavity_conflict::RULE,
    &wire_conflict::RULE,
];
