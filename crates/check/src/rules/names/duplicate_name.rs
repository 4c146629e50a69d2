//! Two things of one name. Found by elaboration.

crate::rule::rule! {
    name: "duplicate-name",
    level: Error,
    group: "names",
    summary: "Two things have one name; the first place is named.",
    why: "\
With two things of one name nobody can say which one a wire, a question or a job card means. The second is left out \
until one of them is renamed. Wire numbers may repeat; they have names of their own.",
}
