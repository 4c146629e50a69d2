//! A name that nothing declares. Found by elaboration.

crate::rule::rule! {
    name: "unknown-name",
    level: Error,
    group: "names",
    summary: "A name is used that nothing declares; the nearest one is named.",
    why: "\
A wire to a point that does not exist ends in the air. Whatever hangs on it is not judged until the name is mended, so \
that one slip gives one finding.",
}
