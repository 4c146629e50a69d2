//! Problems as they are found, and the occurrences of names.

use super::{Builder, Mode};
use crate::{Entity, Fix, Occurrence, Problem, model::*};
use keyon_syntax::{Span, tree::Name};

impl Problem {
    /// A problem with nothing but its message.
    pub(crate) fn new(rule: &'static str, loc: Loc, message: String) -> Self {
        Self { rule, loc, message, help: None, related: Vec::new(), fix: None, mild: false }
    }
    pub(crate) fn help(&mut self, help: impl Into<String>) -> &mut Self {
        self.help = Some(help.into());
        self
    }
    /// Makes it a warning.
    pub(crate) fn mildly(&mut self) -> &mut Self {
        self.mild = true;
        self
    }
    pub(crate) fn see(&mut self, loc: Loc, words: impl Into<String>) -> &mut Self {
        self.related.push((loc, words.into()));
        self
    }
    /// A fix that replaces the text at the problem's place.
    pub(crate) fn write(&mut self, text: impl Into<String>, safe: bool) -> &mut Self {
        let text = text.into();
        self.fix = Some(Fix { title: format!("write `{text}`"), edits: vec![(self.loc, text)], safe });
        self
    }
}

impl<'a> Builder<'a> {
    /// Reports a problem; in the body of a part that is read for a device it goes nowhere.
    pub(crate) fn report(&mut self, rule: &'static str, loc: Loc, message: String) -> &mut Problem {
        if self.mode == Mode::Instance {
            self.sink = Problem::new(rule, loc, message);
            return &mut self.sink;
        }
        self.report_always(rule, loc, message)
    }

    /// Reports a problem even in the body of a part that is read for a device: its cause is outside.
    pub(crate) fn report_always(&mut self, rule: &'static str, loc: Loc, message: String) -> &mut Problem {
        self.problems.push(Problem::new(rule, loc, message));
        match self.problems.last_mut() {
            Some(problem) => problem,
            None => &mut self.sink,
        }
    }

    /// A name that was declared before.
    /// `what`: what has it already, with its article.
    pub(crate) fn report_duplicate(&mut self, name: &Name, what: &str, first: Option<Loc>) {
        let loc = self.place(name);
        let text = &name.text;
        let message = format!("`{text}` is declared twice: {what} already has this name");
        let problem = self.report("duplicate-name", loc, message);
        problem.help("give one of them another name, and use that where it is meant");
        if let Some(first) = first {
            problem.see(first, format!("`{text}` is first declared here"));
        }
    }

    /// Notes what a whole name means.
    pub(crate) fn occurs(&mut self, loc: Loc, entity: Entity, definition: bool) {
        if loc.span.is_empty() {
            return;
        }
        match self.mode {
            Mode::Own => self.names.push(Occurrence { loc, entity, definition }),
            Mode::Instance => {}
            // The body's own names mean nothing outside of it; they are known by where they are declared.
            Mode::Check(part) => {
                let place = if definition { Some(loc) } else { self.definition(entity) };
                if let Some(place) = place {
                    self.names.push(Occurrence { loc, entity: Entity::Inside(part, place), definition });
                }
            }
        }
    }

    /// Notes what a name or a path means: each part between the dots for itself.
    pub(crate) fn occurs_path(&mut self, name: &Name, entity: Entity) {
        if !name.text.contains('.') {
            self.occurs(self.place(name), entity, false);
            return;
        }
        let parents = self.parents(entity);
        let loc = self.place(name);
        let mut start = name.span.start;
        let mut rest = self.text(loc);
        for parent in parents.into_iter().flatten() {
            let Some((head, tail)) = rest.split_once('.') else { break };
            let end = start + head.len() as u32;
            self.occurs(Loc { span: Span { start, end }, ..loc }, parent, false);
            start = end + 1;
            rest = tail;
        }
        if start < name.span.end {
            self.occurs(Loc { span: Span { start, end: name.span.end }, ..loc }, entity, false);
        }
    }

    /// What stands before an entity in its path.
    fn parents(&self, entity: Entity) -> [Option<Entity>; 2] {
        match entity {
            Entity::Connector(m, _) => [Some(Entity::Module(m)), None],
            Entity::Cavity(m, c, _) => [Some(Entity::Module(m)), Some(Entity::Connector(m, c))],
            Entity::InlineCavity(i, _) => [Some(Entity::Inline(i)), None],
            Entity::Control(c) => match self.c.controls.get(c.index()).map(|c| c.kind) {
                Some(ControlKind::Gang(m, _)) => [Some(Entity::Module(m)), None],
                _ => [None, None],
            },
            Entity::Point(p) => match self.c.points.get(p.index()).map(|p| p.kind) {
                Some(PointKind::Pin(d, _)) => [Some(Entity::Device(d)), None],
                Some(PointKind::InlineSide(i, c, _)) => {
                    [Some(Entity::Inline(i)), Some(Entity::InlineCavity(i, c))]
                }
                _ => [None, None],
            },
            Entity::Element(e) => match self.c.elements.get(e.index()).map(|e| e.owner) {
                Some(Owner::Device(d)) => [Some(Entity::Device(d)), None],
                Some(Owner::Wire(w)) => [Some(Entity::Wire(w)), None],
                _ => [None, None],
            },
            _ => [None, None],
        }
    }

    /// Where an entity of the circuit in the making is declared.
    pub(crate) fn definition(&self, entity: Entity) -> Option<Loc> {
        crate::entity::declared(&self.c, entity)
    }
}

/// What an entity is, with its article, for messages.
pub(crate) fn a_kind(circuit: &Circuit, entity: Entity) -> &'static str {
    match entity {
        Entity::Point(p) => match circuit.points.get(p.index()).map(|p| p.kind) {
            Some(PointKind::Common) => "the common ground",
            Some(PointKind::Pin(..)) => "a pin",
            _ => "a point",
        },
        Entity::Supply(_) => "a supply",
        Entity::Ground(_) => "a ground point",
        Entity::Splice(_) => "a splice",
        Entity::Device(_) => "a device",
        Entity::Element(_) => "an element",
        Entity::Module(_) => "a module",
        Entity::Connector(..) => "a connector",
        Entity::Cavity(..) => "a cavity",
        Entity::Inline(_) => "an in-line connector",
        Entity::InlineCavity(..) => "a cavity of an in-line connector",
        Entity::Wire(_) => "a wire",
        Entity::Fuse(_) => "a fuse",
        Entity::Control(_) => "a control",
        Entity::Position(..) => "a position",
        Entity::Stimulus(_) => "a stimulus",
        Entity::Scenario(_) => "a scenario",
        Entity::Exercise(_) => "an exercise",
        Entity::Readings(_) => "a set of readings",
        Entity::Part(_) => "a part",
        Entity::Param(..) => "a parameter",
        Entity::Inside(..) => "a name of a part",
        Entity::Library(_) => "a library",
    }
}
