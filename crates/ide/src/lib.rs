//! Keyon.
