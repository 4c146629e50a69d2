//! Pages of their own, regions of notes, and the words around them.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod common;

use common::*;

#[test]
fn the_head_of_a_curve_is_wrapped_and_its_labels_stand_clear() {
    // A long line of what is set, and a signal that runs along the end of its range.
    let mut text = String::from(
        "circuit c \"A circuit with a long title, to fill the head\"\nsupply battery 12 V range 9 .. 15 V\nground G1\n",
    );
    for i in 0..12 {
        text.push_str(&format!("switch a_long_name_{i}\n"));
    }
    text.push_str("fuse F1 battery -> L.1 5 A\nwire 1 L.2 -> G1\nlamp L 5 W 12 V\nscenario all { ");
    text.push_str(&(0..12).map(|i| format!("a_long_name_{i} on")).collect::<Vec<_>>().join(", "));
    text.push_str(" }\n");
    let args = ["sweep", "-", "battery", "--at", "L.1", "--in", "all", "--format", "svg"];
    let svg = keyon_with(&args, text.as_bytes()).out;
    let head: Vec<&str> = svg.lines().filter(|l| l.contains("font-size=\"12\" fill=\"#5b626b\"")).collect();
    let words = |line: &str| line.split_once('>').unwrap().1.split_once('<').unwrap().0.to_owned();
    let rows: Vec<String> = head.iter().map(|l| words(l)).collect();
    // Letters of one width, of 12 pixels, from 70 on, end before 800.
    assert!(rows.len() > 2 && rows.iter().all(|row| row.chars().count() <= 100), "{rows:?}");
    let joined = rows.join(" ");
    assert!(joined.contains("a_long_name_11 on") && joined.ends_with("battery 12.00 V"), "{joined}");
    assert!(svg.contains("<g transform=\"translate(0 "), "what is below makes room");
}
