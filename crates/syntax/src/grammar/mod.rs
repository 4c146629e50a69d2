//! The productions of `grammar/keyon.ebnf`, section 3 and on: from an item's statements to its tree.

pub(crate) mod arrows;
pub(crate) mod atoms;
pub(crate) mod bodies;
pub(crate) mod build;
pub(crate) mod clauses;
mod commas;
pub(crate) mod elements;
pub(crate) mod items;
pub(crate) mod modules;
pub(crate) mod named;
pub(crate) mod node;
pub(crate) mod part;
pub(crate) mod piece;
pub(crate) mod quantities;
pub(crate) mod quick;
pub(crate) mod run;
pub(crate) mod sig;
pub(crate) mod slips;
pub(crate) mod sources;
pub(crate) mod statement;
pub(crate) mod states;
pub(crate) mod usage;
pub(crate) mod wire;
