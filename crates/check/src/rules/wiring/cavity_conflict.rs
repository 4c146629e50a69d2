//! One cavity of a unit, drawn in two ways in two files. Found by [`crate::library`].

crate::rule::rule! {
    name: "cavity-conflict",
    level: Warning,
    group: "wiring",
    summary: "Two files of a library draw one cavity of the same module with two meanings, colours, gauges or wire numbers.",
    why: "\
One unit has one pinout. Where two sheets differ, one of them sends somebody to the wrong pin. Files are compared that draw the same \
unit: from the same parts library, or with the same name and title.",
}
