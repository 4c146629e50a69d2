//! Libraries that use each other in a ring. Found by elaboration.

crate::rule::rule! {
    name: "library-cycle",
    level: Error,
    group: "files",
    summary: "A parts library uses itself, directly or by way of others.",
    why: "\
In a ring no library comes first, so nobody can say which part a name means, and a change to one file changes all of them. Move what \
both need to a third file.",
}
