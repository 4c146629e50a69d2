//! Names made of names. There are some for every line of a file, so they are put together without formatting.

use smol_str::{SmolStr, SmolStrBuilder};

/// One name behind the other, with a point between them: `SCU.A`.
pub fn dotted(above: &str, below: &str) -> SmolStr {
    let mut name = SmolStrBuilder::new();
    name.push_str(above);
    name.push('.');
    name.push_str(below);
    name.finish()
}
