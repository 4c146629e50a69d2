//! Draws a circuit by itself: feeds at the top, devices between, modules with their connectors and grounds at the
//! bottom, wires at right angles with what is said of each. A pure function: the same circuit gives the same drawing.
//!
//! [`lay_out`] makes a [`Layout`] (symbols and wires in their places); [`Layout::scene`] the marks; [`svg`] writes them with
//! a [`Look`]: black on white, in the wires' colours, or in those of a state.

mod block;
mod body;
mod changeover;
mod channel;
mod compose;
mod faults;
mod glyph;
mod label;
mod layer;
mod look;
mod place;
mod scene;
mod sign;
mod svg;
mod wrap;

pub use block::{Link, Thing};
pub use compose::{Layout, LinkPath, lay_out, lay_out_with_room};
pub use faults::faults;
pub use label::{Labels, Room, Rooms, Said, Tag};
pub use look::{Look, Pen};
pub use scene::{At, Class, LETTER, Mark, Scene, Shape, Words, width_of};
pub use sign::{Sign, signs};
pub use svg::{Sheet, escape, size_of, svg};
pub use wrap::wrap;
