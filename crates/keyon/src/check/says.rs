//! What a file says of wires and cavities, as it is kept on disk.

use keyon_check::{
    Summary,
    library::{Said, Spot, Subject},
};
use keyon_circuit::ids::FileId;
use keyon_syntax::Span;
use serde::{Deserialize, Serialize};
use std::{borrow::Cow, collections::HashMap};
use xxhash_rust::xxh3::xxh3_128;

/// What a file says: known, or as it was written.
#[derive(Clone, Debug)]
pub(crate) enum Says {
    Known(Summary),
    /// JSON, as [`Says::written`] makes it. A library that has not changed is never read further.
    Written(Box<str>),
}

impl Default for Says {
    fn default() -> Self {
        Self::Known(Summary::default())
    }
}

impl PartialEq for Says {
    fn eq(&self, other: &Self) -> bool {
        self.written() == other.written()
    }
}

/// The written form.
#[derive(Default, Serialize, Deserialize)]
struct Rows {
    units: Vec<String>,
    said: Vec<SaidRow>,
}

/// Unit (an index into `units`; past them: a wire number), name, file, bytes, line, meaning, wire, colours, gauges,
/// allowed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct SaidRow(
    usize,
    String,
    u32,
    (u32, u32, u32),
    Option<String>,
    Option<String>,
    Vec<String>,
    Vec<String>,
    bool,
);

impl Says {
    /// What is said; nothing where the written form cannot be read, which its checksum rules out.
    pub(crate) fn summary(&self) -> Cow<'_, Summary> {
        match self {
            Self::Known(summary) => Cow::Borrowed(summary),
            Self::Written(text) => {
                Cow::Owned(serde_json::from_str::<Rows>(text).unwrap_or_default().summary())
            }
        }
    }

    pub(crate) fn written(&self) -> Cow<'_, str> {
        match self {
            Self::Known(summary) => {
                Cow::Owned(serde_json::to_string(&Rows::new(summary)).unwrap_or_default())
            }
            Self::Written(text) => Cow::Borrowed(text),
        }
    }

    /// A name that only who says the same bears.
    pub(crate) fn name(&self) -> u128 {
        xxh3_128(self.written().as_bytes())
    }

    /// Gives files other numbers.
    pub(crate) fn rename(&mut self, moved: impl Fn(&mut u32)) {
        let mut summary = self.summary().into_owned();
        summary.said.iter_mut().for_each(|said| moved(&mut said.at.file.0));
        *self = Self::Known(summary);
    }

    /// Takes in what another circuit of the same note says.
    pub(crate) fn join(&mut self, other: Self) {
        let mut summary = self.summary().into_owned();
        let other = other.summary().into_owned();
        summary.units.extend(other.units);
        summary.said.extend(other.said);
        *self = Self::Known(summary);
    }
}

impl Rows {
    fn new(summary: &Summary) -> Self {
        let units: Vec<String> = summary.units.iter().map(ToString::to_string).collect();
        Self { said: said_rows(summary, &units), units }
    }

    fn summary(&self) -> Summary {
        let said = self.said.iter().map(|row| {
            let SaidRow(unit, name, file, (start, end, line), meaning, wire, colours, gauges, allowed) = row;
            let subject = match self.units.get(*unit) {
                Some(unit) => Subject::Cavity { unit: unit.into(), cavity: name.into() },
                None => Subject::Wire(name.into()),
            };
            Said {
                subject,
                at: Spot { file: FileId(*file), span: Span { start: *start, end: *end }, line: *line },
                meaning: meaning.as_ref().map(Into::into),
                wire: wire.as_ref().map(Into::into),
                colours: colours.iter().map(Into::into).collect(),
                gauges: gauges.iter().map(Into::into).collect(),
                allowed: *allowed,
            }
        });
        Summary { units: self.units.iter().map(Into::into).collect(), said: said.collect() }
    }
}

fn said_rows(summary: &Summary, units: &[String]) -> Vec<SaidRow> {
    let index: HashMap<&str, usize> =
        units.iter().enumerate().rev().map(|(i, unit)| (unit.as_str(), i)).collect();
    let row = |said: &Said| {
        let (unit, name) = match &said.subject {
            Subject::Cavity { unit, cavity } => {
                (index.get(unit.as_str()).copied().unwrap_or(units.len()), cavity)
            }
            Subject::Wire(number) => (units.len(), number),
        };
        SaidRow(
            unit,
            name.to_string(),
            said.at.file.0,
            (said.at.span.start, said.at.span.end, said.at.line),
            said.meaning.as_ref().map(ToString::to_string),
            said.wire.as_ref().map(ToString::to_string),
            said.colours.iter().map(ToString::to_string).collect(),
            said.gauges.iter().map(ToString::to_string).collect(),
            said.allowed,
        )
    };
    summary.said.iter().map(row).collect()
}
