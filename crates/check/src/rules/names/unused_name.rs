//! A part, splice, scenario or parameter that nothing uses. Found by elaboration.

crate::rule::rule! {
    name: "unused-name",
    level: Warning,
    group: "names",
    summary: "A part, a splice, a scenario or a part's parameter that nothing uses.",
    why: "\
A splice that no wire reaches, or a parameter that no element takes, is most often the other half of a mistake: a wire \
that was meant to land there, a value that was meant to come from there. A reader looks for it on the machine in vain. \
Scenarios count where the file claims something in any of them.",
}
