//! A circuit with a mark, or a file of the corpus, as a view.

use keyon_circuit::{Elaboration, Source, World, elaborate};
use keyon_ide::View;
use std::{path::Path, sync::Arc};

struct Disk;

impl World for Disk {
    fn library(&self, from: &str, path: &str) -> Option<Source> {
        let path = Path::new(from).parent()?.join(path).canonicalize().ok()?;
        let text = std::fs::read_to_string(&path).ok()?;
        Some(source(&path.to_string_lossy(), &text))
    }
}

fn source(key: &str, text: &str) -> Source {
    Source { key: key.into(), text: text.into(), parse: Arc::new(keyon_syntax::parse(text)) }
}

pub(crate) struct Fixture {
    pub(crate) elaboration: Elaboration,
    /// Where the mark was.
    pub(crate) offset: u32,
}

impl Fixture {
    /// A text with one `|`.
    pub(crate) fn new(marked: &str) -> Self {
        let offset = marked.find('|').expect("a mark");
        let text = marked.replacen('|', "", 1);
        Self { elaboration: elaborate(&Disk, &source("/fixture.keyon", &text)), offset: offset as u32 }
    }

    /// A file of the corpus, with the cursor in the middle of the first `needle`.
    pub(crate) fn corpus(name: &str, needle: &str) -> Self {
        let path =
            Path::new(env!("CARGO_MANIFEST_DIR")).join("../../corpus").join(name).canonicalize().unwrap();
        let text = std::fs::read_to_string(&path).unwrap();
        let at = text.find(needle).unwrap_or_else(|| panic!("{needle} is in {name}"));
        let offset = at + needle.len() - 1;
        Self { elaboration: elaborate(&Disk, &source(&path.to_string_lossy(), &text)), offset: offset as u32 }
    }

    /// Another text in the place of this one.
    pub(crate) fn with(&self, text: &str) -> Self {
        let key = &self.elaboration.files[0].key;
        Self { elaboration: elaborate(&Disk, &source(key, text)), offset: 0 }
    }

    /// The text after edits, which must not overlap.
    pub(crate) fn after(&self, edits: &[(keyon_syntax::Span, String)]) -> String {
        let mut text = self.text().to_owned();
        let mut from = text.len() as u32;
        for (span, new) in edits.iter().rev() {
            assert!(span.end <= from && span.start <= span.end, "{edits:?}");
            from = span.start;
            text.replace_range(span.range(), new);
        }
        text
    }

    pub(crate) fn view<T>(&self, ask: impl FnOnce(&View<'_>) -> T) -> T {
        ask(&View { elaboration: &self.elaboration, held: None, cancel: &keyon_solve::Never, memory: None })
    }

    pub(crate) fn text(&self) -> &str {
        &self.elaboration.files[0].text
    }

    /// `line:column text` of a span of the fixture.
    pub(crate) fn place(&self, span: keyon_syntax::Span) -> String {
        let before = &self.text()[..span.start as usize];
        let line = before.matches('\n').count() + 1;
        let column = before.rsplit('\n').next().unwrap().chars().count() + 1;
        format!("{line}:{column} {}", &self.text()[span.range()])
    }
}

/// A small circuit with a bit of everything.
pub(crate) const PUMP: &str = r#"circuit pump "Well pump"

supply battery "Battery" 12 V inner 20 mohm
ground G1
fuse F1 battery -> float.1 5 A
switch float "Float switch" positions low, high
wire 1 float.2 -> S1 0.75 mm2 RD 2 m
splice S1 "Behind the tank"
wire 2 S1 -> pump.1
wire 3 S1 -> ECU.A.1
wire 4 pump.2 -> ECU.A.3
wire 5 ECU.A.2 -> G1
wire 6 ECU.A.4 -> level.1
wire 7 level.2 -> G1

device pump "Pump coil" : valve(ohms = 24 ohm)
device level "Level" : probe

## A coil with two pins.
part valve(ohms: resistance = 12 ohm) "Valve" {
  pins 1, 2
  coil 1 -> 2 ohms rated 0.5 A
}
part probe {
  pins 1, 2
  thermistor 1 -> 2 2.5 kohm at 25 degC beta 3500 K
}

module ECU "Control unit" {
  connector A "4-way" {
    1 feed_in feed
    2 gnd ground
    3 pump_cmd drives low on 100 mohm limit 2 A clamp
    4 temp_in senses pull_up 2.2 kohm to 5 V
  }
}

scenario filling "Filling" { float high, pump_cmd on }
"#;

/// The small circuit with an addition at its end.
pub(crate) fn pump_with(addition: &str) -> Fixture {
    Fixture::new(&format!("{PUMP}{addition}"))
}

/// The small circuit with the cursor in the middle of the first `needle`.
pub(crate) fn pump_at(needle: &str) -> Fixture {
    let at = PUMP.find(needle).unwrap_or_else(|| panic!("{needle} is in the fixture")) + needle.len() - 1;
    let mut text = PUMP.to_owned();
    text.insert(at, '|');
    Fixture::new(&text)
}
