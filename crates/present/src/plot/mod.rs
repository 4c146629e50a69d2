//! What drawings of curves stand on: ticks, marks, an SVG writer.

pub(crate) mod svg;
pub(crate) mod ticks;
