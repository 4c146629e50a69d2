//! How rules say things.
