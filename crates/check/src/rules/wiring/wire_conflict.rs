//! One wire number, drawn in two ways in two files. Found by [`crate::library`].

crate::rule::rule! {
    name: "wire-conflict",
    level: Warning,
    group: "wiring",
    summary: "Two files of a library give one wire number two colours or gauges.",
    why: "\
On the machine there is one wire of that number. Where two sheets differ, whoever looks for the colour of the one does not find it, or orders \
the wrong wire. Only files that draw the same unit are compared: other machines have numbers of their own.",
}
