//! The `circuit` line: first, once; none in a library of parts.

use super::Builder;
use crate::{Entity, Problem, libraries::is_circuit, model::Loc};
use keyon_syntax::tree::ItemKind;

impl Builder<'_> {
    /// Reads the head; whether the file is a library of parts, or has nothing at all.
    pub(super) fn head(&mut self) -> bool {
        let items = self.items();
        let about = |kind: &ItemKind| matches!(kind, ItemKind::Stray | ItemKind::Junk);
        let mut first: Option<Loc> = None;
        let mut before = None;
        for (i, placed) in items.iter().enumerate() {
            self.item = i as u32;
            let ItemKind::Circuit(head) = &placed.item.kind else {
                if before.is_none() && !about(&placed.item.kind) {
                    before = Some(self.at(placed.item.statement));
                }
                continue;
            };
            let loc = self.place(&head.name);
            let line = self.at(placed.item.statement);
            if let Some(first) = first {
                self.problem(Problem::new(
                    "syntax",
                    line,
                    "a second `circuit` line: one circuit stands in a file".into(),
                ))
                .help("take one of the two lines out, or split the file")
                .see(first, "the first one is here");
                continue;
            }
            first = Some(line);
            if let Some(before) = before {
                self.problem(Problem::new(
                    "syntax",
                    line,
                    "the `circuit` line comes too late: it opens the file".into(),
                ))
                .help("move it to the top, before everything else")
                .see(before, "this stands before it");
            }
            if !head.name.text.is_empty() {
                self.c.name = head.name.text.clone();
            }
            self.c.title = Self::title(head.title.as_ref());
            self.c.loc = Some(if head.name.text.is_empty() { line } else { loc });
        }
        let circuit = self.files.first().is_some_and(is_circuit);
        // A first line that is none may have been it, and is told as that.
        let lost = items.first().is_some_and(|placed| matches!(placed.item.kind, ItemKind::Junk));
        if first.is_none() && circuit && !lost {
            let item = items.iter().position(|placed| {
                !about(&placed.item.kind)
                    && !matches!(placed.item.kind, ItemKind::Use(_) | ItemKind::Part(_) | ItemKind::About(_))
            });
            if let Some((i, placed)) = item.and_then(|i| Some((i, items.get(i)?))) {
                self.item = i as u32;
                let loc = self.at(placed.item.statement);
                self.problem(Problem::new(
                    "syntax",
                    loc,
                    "no `circuit` line: a file that describes a circuit opens with its name".into(),
                ))
                .help("write `circuit NAME \"title\"` at the top");
            }
        }
        for &(item, to) in &self.libraries.uses {
            self.item = item;
            if let Some(ItemKind::Use(used)) = items.get(item as usize).map(|placed| &placed.item.kind) {
                self.occurs(self.at(used.path.span), Entity::Library(to), false);
                if let Some(alias) = &used.alias {
                    self.occurs(self.place(alias), Entity::Library(to), true);
                }
            }
        }
        self.item = 0;
        let anything = items.iter().any(|placed| !about(&placed.item.kind));
        anything && !circuit
    }

    fn problem(&mut self, problem: Problem) -> &mut Problem {
        self.report_always(problem.rule, problem.loc, problem.message)
    }
}
