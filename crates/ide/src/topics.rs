//! Pages about the language itself: what each kind of item is and how it is written, with a whole circuit where a line
//! does not show it.

use crate::completion::{
    templates::{plain, template},
    words,
};

/// The page of a topic: an item word, or what people call a thing. `None` for what is no topic.
pub fn topic(name: &str) -> Option<String> {
    let name = name.to_lowercase();
    if name == "language" {
        return Some(language());
    }
    match name.as_str() {
        "trade" | "parts" | "library" => return Some(trade()),
        "colours" | "colour" | "color" | "colors" => return Some(colours()),
        _ => {}
    }
    if let Some((_, title, text, example)) = TOPICS.iter().find(|(names, ..)| names.contains(&name.as_str()))
    {
        return Some(format!("# {title}\n\n{text}\n\n```keyon\n{}\n```\n", example.trim_end()));
    }
    word(&name).map(|page| format!("# {name}\n\n{page}"))
}

/// What a word means, and how it is written.
fn word(name: &str) -> Option<String> {
    let help = words::help(name)?;
    let example = template(name).map_or_else(String::new, |t| format!("\n```keyon\n{}\n```\n", plain(t)));
    let mut letters = help.chars();
    let first = letters.next()?.to_uppercase();
    Some(format!("{first}{}.\n{example}", letters.as_str()))
}

/// What [`topic`] knows, for suggestions.
pub fn topics() -> impl Iterator<Item = &'static str> {
    let named = TOPICS.iter().flat_map(|(names, ..)| names.iter().copied());
    ["language", "trade", "colours"].into_iter().chain(named).chain(words::ITEMS.iter().copied())
}

/// The topic that a misspelt name is nearest to.
pub fn nearest_topic(name: &str) -> Option<&'static str> {
    keyon_syntax::nearest(name, topics())
}

/// The parts that come with the program, each with its description and its pins.
fn trade() -> String {
    let mut out = "# Parts that come with Keyon\n\nWrite `use \"trade\"`, then `device K1 \"Pump relay\" : relay4`; what stands in \
brackets can be given, as in `: valve(coil = 21 ohm)`.\n"
        .to_owned();
    let mut doc = String::new();
    for line in keyon_circuit::TRADE_TEXT.lines() {
        if let Some(text) = line.strip_prefix("## ") {
            doc.push_str(text);
            doc.push(' ');
        } else if let Some(head) = line.strip_prefix("part ") {
            out.push_str(&format!("\n## {}\n\n{}\n", head.trim_end_matches('{').trim_end(), doc.trim_end()));
            doc.clear();
        } else if let Some(pins) = line.trim_start().strip_prefix("pins ") {
            out.push_str(&format!("\nPins: {}\n", pins.trim()));
        } else if line.trim().is_empty() {
            doc.clear();
        }
    }
    out
}

/// The letters of IEC 60757.
fn colours() -> String {
    let mut out = "# Colours\n\nThe letters of IEC 60757; a tracer follows behind a stroke: `BU/WH` is blue with a white tracer. Other \
letters stay as they are written, without a colour in drawings.\n\n"
        .to_owned();
    for (letters, colour) in words::COLOURS {
        out.push_str(&format!("- `{letters}` {colour}\n"));
    }
    out
}

/// All items on one page.
fn language() -> String {
    let mut out = "\
# The language in one page

One circuit a file; one item a line, or with a body in `{ … }`. Names are letters, digits and `_`; wires, pins and cavities may \
be numbers. `A -> B` leads from one point to another; a point is a splice, a ground, a supply, a pin `DEVICE.PIN` or a cavity \
`MODULE.CONNECTOR.NUMBER`. Every value has its unit (`ohm`, `kohm`, `V`, `A`, `W`, `mm2`, `m`, `degC`, `%`). `#` begins a comment, `##` \
a description of what follows. Colours are those of IEC 60757, `BU/WH` is blue with a white tracer.

"
    .to_owned();
    for name in words::ITEMS {
        if let Some(page) = word(name) {
            out.push_str(&format!("## {name}\n\n{page}\n"));
        }
    }
    for (_, title, text, example) in TOPICS {
        out.push_str(&format!("## {title}\n\n{text}\n\n```keyon\n{}\n```\n\n", example.trim_end()));
    }
    out.push_str(
        "`keyon explain trade` lists the parts that come with Keyon. `keyon explain WORD` tells the same of one word, `keyon explain RULE` what \
         a finding means.\n",
    );
    out
}

/// Names, a title, what to know, and a circuit that shows it.
const TOPICS: &[(&[&str], &str, &str, &str)] = &[
    (
        &["relay"],
        "A relay",
        "A relay is a device with a coil and contacts that the coil moves. `contact` is `closed when K energised` or `open \
when K energised`; `changeover` goes from its rest pin to its active pin. `use \"trade\"` brings relays of four and five pins.",
        "\
circuit horn_relay \"Horn by a relay\"
supply battery  12.6 V  inner 15 mohm
ground G1
fuse F1  battery -> S1  10 A
splice S1
device K1 \"Horn relay\" {
  pins 30, 85, 86, 87
  coil K  86 -> 85  90 ohm  pulls_in 80 mA  drops_out 20 mA
  contact 30 -> 87  closed when K energised
}
switch button \"Horn button\"
wire 1  S1 -> K1.30     1.5 mm2   RD     0.5 m
wire 2  S1 -> K1.86     0.75 mm2  RD/WH  0.5 m
wire 3  K1.85 -> button.1  0.75 mm2  BN  1.5 m
wire 4  button.2 -> G1  0.75 mm2  BK     0.5 m
wire 5  K1.87 -> horn.1  1.5 mm2  BU     2 m
wire 6  horn.2 -> G1    1.5 mm2   BK     0.5 m
coil horn \"Horn\"  2.4 ohm  rated 12 V
",
    ),
    (
        &["switch", "ganged switch", "changeover"],
        "A switch, and contacts that move together",
        "`switch NAME` has two pins and is off or on. A switch of several contacts is a device with `positions`, the rest position \
first: each `contact` says in which positions it is closed, each `changeover` which pin it is on at rest and which in other \
positions. All contacts of one device move together.",
        "\
circuit window \"Window motor with a rocker switch\"
supply battery  12.6 V  inner 15 mohm
ground G1
fuse F1  battery -> rocker.1  20 A
splice S2
device rocker \"Window switch\" {
  pins 1, 2, 3, 4, 5
  positions rest, up, down
  changeover 3 -> (rest 2, active 1) in up
  changeover 4 -> (rest 5, active 1) in down
}
wire 2  rocker.2 -> S2  2.5 mm2  BK     0.5 m
wire 3  rocker.5 -> S2  2.5 mm2  BK/WH  0.5 m
wire 4  S2 -> G1        2.5 mm2  BK/BU  0.5 m
wire 5  rocker.3 -> lift.1  2.5 mm2  GN  1 m
wire 6  rocker.4 -> lift.2  2.5 mm2  YE  1 m
motor lift \"Window motor\"  1.2 ohm  turns_at 1 A  moves
",
    ),
    (
        &["sensor", "thermistor", "transducer", "track"],
        "Sensors",
        "A `thermistor` has two pins. A sensor of three wires is a device with a `transducer` (fed, returned, with an output) or a \
`track` (a potentiometer with a wiper). The module has a `reference` for its feed, a `return` for its ground and an input that \
`senses`; a sensor of two wires needs a `pull_up` there. What it senses is set by its name: `--set temp='80 degC'`.",
        "\
circuit sensors \"Temperature and pressure\"
supply battery  12.6 V  inner 15 mohm
ground G1
fuse F1  battery -> CU.A.1  5 A
wire 1  CU.A.2 -> G1  0.75 mm2  BK  0.5 m
module CU \"Control unit\" {
  connector A \"6-way\" {
    1  bplus     feed
    2  gnd       ground
    3  vref      reference 5 V  inner 2 ohm  limit 50 mA
    4  ret       return  shared by temp, press
    5  temp_in   senses  pull_up 2.2 kohm to 5 V  range 0.2 .. 4.8 V
    6  press_in  senses  pull_down 100 kohm  range 0.3 .. 4.7 V
  }
}
splice SR
wire 2  CU.A.4 -> SR       0.5 mm2  BN     1 m
wire 3  temp.1 -> CU.A.5   0.5 mm2  YE     1 m
wire 4  temp.2 -> SR       0.5 mm2  BN/WH  1 m
wire 5  CU.A.3 -> press.1  0.5 mm2  OG     1 m
wire 6  press.2 -> CU.A.6  0.5 mm2  GN     1 m
wire 7  press.3 -> SR      0.5 mm2  BN/BU  1 m
thermistor temp \"Coolant temperature\"  2.5 kohm at 20 degC  beta 3500 K  span -20 .. 110 degC
device press \"Oil pressure\" {
  pins 1, 2, 3
  transducer 1 -> 3  out 2  0.5 .. 4.5 V  over 0 .. 10 bar
}
",
    ),
];

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Arc;

    #[test]
    fn every_topic_has_a_page_and_every_item_stands_on_the_one() {
        for name in topics() {
            assert!(topic(name).is_some(), "{name}");
        }
        let page = language();
        for word in words::ITEMS {
            assert!(page.contains(&format!("\n## {word}\n")), "{word}");
        }
        assert_eq!(topic("no-such-thing"), None);
    }

    /// What a newcomer copies from here is sound.
    #[test]
    fn examples_are_sound() {
        struct Nothing;
        impl keyon_circuit::World for Nothing {
            fn library(&self, _: &str, _: &str) -> Option<keyon_circuit::Source> {
                None
            }
        }
        for (names, _, _, text) in TOPICS {
            let parse = Arc::new(keyon_syntax::parse(text));
            let source = keyon_circuit::Source { key: "a.keyon".into(), text: (*text).into(), parse };
            let checked = keyon_check::check(&Nothing, &source, &keyon_solve::Never).expect("not cancelled");
            let lines: Vec<String> =
                checked.findings.iter().map(|f| format!("{}: {}", f.rule, f.message)).collect();
            assert!(lines.is_empty(), "{names:?}: {lines:#?}");
        }
    }
}
