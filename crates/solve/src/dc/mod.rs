//! The linear DC solution: node potentials and branch currents of a network of resistances and sources.
//!
//! Nodal analysis, arranged so that no figure is lost: ideal branches (shorts, sources without resistance) are taken
//! out exactly as known differences of potential ([`ideal`]), what remains is a network of conductances whose matrix is
//! eliminated without a single subtraction ([`eliminate`]), in numbers of twice the usual length ([`wide`]). So a
//! microhm beside a gigohm costs no accuracy, and a floating island shows itself by an exact zero.

pub mod eliminate;
mod ideal;
mod meshed;
pub mod network;
pub mod wide;

pub use network::{Answer, Branch, Factored, Inconsistent, Network};
