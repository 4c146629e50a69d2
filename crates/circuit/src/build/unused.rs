//! Names that nothing uses.

use super::{Builder, Slot};
use crate::{ids::*, model::*};
use keyon_syntax::tree::ItemKind;

impl Builder<'_> {
    /// Parts, splices and scenarios of the circuit's own file that nothing uses.
    pub(super) fn unused(&mut self) {
        if self.unread {
            return;
        }
        self.file = FileId(0);
        // One whose scenario could not be read may be about any of them.
        let lost = self.items().iter().any(|placed| {
            let about = matches!(
                placed.item.kind,
                ItemKind::Expect(_) | ItemKind::Exercise(_) | ItemKind::Readings(_) | ItemKind::View(_)
            );
            placed.item.damaged && about
        });
        // Where nothing is claimed, scenarios are there for the command line and the editor.
        let claims =
            !(self.c.expects.is_empty() && self.c.exercises.is_empty() && self.c.readings.is_empty())
                || self.c.view.is_some();
        for (i, placed) in self.items().iter().enumerate() {
            // What is not read whole has its finding.
            if placed.item.damaged {
                continue;
            }
            self.item = i as u32;
            match (&placed.item.kind, self.slots.get(i)) {
                (ItemKind::Splice(splice), Some(&Slot::Splice(index))) => {
                    let point = self.c.splices.get(index).map(|s| (s.legs.is_empty(), s.point));
                    if let Some((true, point)) = point
                        && !self.is_used(point)
                    {
                        let loc = self.place(&splice.name);
                        let message =
                            format!("splice `{}` joins nothing: no wire reaches it", splice.name.text);
                        self.report("unused-name", loc, message).help("wire it, or take the line out");
                    }
                }
                (ItemKind::Scenario(scenario), Some(&Slot::Scenario(id)))
                    if claims && !lost && !self.used_scenarios.contains(&id) =>
                {
                    let loc = self.place(&scenario.name);
                    let message =
                        format!("scenario `{}` is used by nothing in this file", scenario.name.text);
                    self.report("unused-name", loc, message).help(
                        "say what is expected in it (`expect in`), look at it (`view`), or take it out",
                    );
                }
                _ => {}
            }
        }
        let libraries = self.libraries;
        for (index, def) in libraries.parts.iter().enumerate() {
            let used = self.infos.get(index).is_some_and(|info| info.used);
            if def.file == FileId(0) && !used && !def.damaged && !def.part.name.text.is_empty() {
                self.item = def.item;
                let loc = self.place(&def.part.name);
                let message = format!("part `{}` is used by nothing in this file", def.part.name.text);
                self.report("unused-name", loc, message)
                    .help("make a device of it, or move it to a library (a file of parts alone)");
            }
        }
        self.item = 0;
    }

    /// A control goes by its bare name where that means nothing else, else by its qualified one.
    pub(super) fn name_controls(&mut self) {
        for i in 0..self.c.controls.len() {
            let Some(control) = self.c.controls.get(i) else { continue };
            if matches!(control.kind, ControlKind::Device(_) | ControlKind::Free) {
                continue;
            }
            let inside = self.c.index.inner.get(&control.name).map_or(0, |e| e.as_slice().len());
            let bare = inside <= 1 && !self.c.index.things.contains_key(&control.name);
            if !bare && let Some(control) = self.c.controls.get_mut(i) {
                control.name = control.qualified.clone();
            }
        }
    }
}
