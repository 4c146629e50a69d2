//! A value that no real thing can have. Found by elaboration.

crate::rule::rule! {
    name: "impossible-value",
    level: Error,
    group: "values",
    summary: "A value that no real part can have: a negative resistance, a fuse of 0 A.",
    why: "\
No part has this value, so it is a slip of the pen: a sign, a prefix (`mohm` is not `Mohm`), a digit. Computing with it \
would give readings that no meter will ever show.",
}
