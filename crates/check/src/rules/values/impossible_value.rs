//! A value that no real thing can have. Found by elaboration.

crate::rule::rule! {
    name: "impossible-value",
    level: Error,
    group: "values",
    summary: "A value that no real part can have: a negative resistance, a fuse of 0 A, a pressure beyond the sensor's span.",
    why: "\
No part has this value, so it is a slip of the pen: a sign, a prefix (`mohm` is not `Mohm`), a digit. Computing with it \
would give readings that no meter will ever show. A scenario that takes a sensor beyond the span that is stated for it (`span`, \
`over`, the rows of a table) asks for a reading that nobody knows; where no span is stated, any temperature is taken.",
}
