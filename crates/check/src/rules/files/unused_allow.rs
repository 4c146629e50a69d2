//! An `allow` that silences nothing or says no reason. Found where `allow` is applied.

crate::rule::rule! {
    name: "unused-allow",
    level: Warning,
    group: "files",
    summary: "An `allow` silences nothing, names no rule, or gives no reason.",
    why: "\
An `allow` is a decision of a person. Without a reason nobody can tell it from an oversight a year later; one that \
silences nothing hides the next mistake on that line, and that mistake may be the one that burns a wire.",
}
