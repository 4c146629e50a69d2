//! A device that no supply or reference ever reaches.

crate::rule::rule! {
    name: "no-feed-path",
    level: Error,
    group: "power",
    summary: "A load, a sensor or a module has no path to any supply or reference in any state.",
    why: "\
Nothing works without a feed, whatever is commanded. On the machine this is an open feed wire; in a drawing it is most \
often a wire that was forgotten or that lands on the wrong splice. A sensor counts as fed by its module's reference, or \
by the pull-up inside the module.",
}
