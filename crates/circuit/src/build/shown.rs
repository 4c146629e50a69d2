//! Which cavities of a module from a library this circuit shows: those of `uses`, or those that something reaches;
//! feeds and grounds always.

use super::Builder;
use crate::{Entity, hash::Map, ids::*, joined::dotted, model::*, near::nearest};
use keyon_syntax::{
    Span,
    tree::{self, ItemKind, Name, Pinout, Role},
};
use smol_str::{SmolStr, format_smolstr};

/// A row of a pinout by the indices of its housing and of itself.
pub(super) type RowId = (usize, usize);

/// Rows of a pinout by every way to name them below the module.
fn rows_by_name(pinout: &Pinout) -> Map<SmolStr, Vec<RowId>> {
    let mut rows: Map<SmolStr, Vec<RowId>> = Map::default();
    for (h, housing) in pinout.housings.iter().enumerate() {
        for (r, row) in housing.rows.iter().enumerate() {
            let mut add = |name: SmolStr| rows.entry(name).or_default().push((h, r));
            add(housing.name.text.clone());
            add(dotted(&housing.name.text, &row.cavity.text));
            if let Some(name) = &row.name {
                add(name.text.clone());
                add(dotted(&housing.name.text, &name.text));
            }
        }
    }
    rows
}

impl<'a> Builder<'a> {
    /// Reads what wires and other paths name: sides of in-line cavities, and all that may lie in a module from a part.
    pub(super) fn read_reach(&mut self) {
        let wanted = self.read_items().any(|(_, placed)| match &placed.item.kind {
            ItemKind::Module(module) => matches!(module.what, tree::ModuleKind::Call { uses: None, .. }),
            _ => false,
        });
        let inlines = self.read_items().any(|(_, placed)| matches!(placed.item.kind, ItemKind::Inline(_)));
        if !wanted && !inlines {
            return;
        }
        if self.whole_reach {
            self.items().iter().for_each(|placed| self.read_reach_of(&placed.item.kind));
        } else {
            self.read_items().for_each(|(_, placed)| self.read_reach_of(&placed.item.kind));
        }
    }

    fn read_reach_of(&mut self, kind: &'a ItemKind) {
        let both = |path: Option<&'a tree::Path>| path.map(|p| [&p.from, &p.to]).into_iter().flatten();
        match kind {
            ItemKind::Wire(wire) => wire.points.iter().for_each(|name| self.reaches(name)),
            ItemKind::Fuse(fuse) => both(fuse.path.as_ref()).for_each(|name| self.reaches(name)),
            ItemKind::Element(element) => both(element.path.as_ref()).for_each(|name| self.reaches(name)),
            ItemKind::Switch(switch) => both(switch.path.as_ref()).for_each(|name| self.reaches(name)),
            ItemKind::Supply(supply) => supply.negative.iter().for_each(|name| self.reaches(name)),
            ItemKind::Elsewhere(elsewhere) => elsewhere.point.iter().for_each(|name| self.reaches(name)),
            ItemKind::Spare(names) => names.iter().for_each(|name| self.reaches(name)),
            _ => {}
        }
    }

    fn reaches(&mut self, name: &Name) {
        match name.text.split_once('.') {
            Some((head, tail)) => {
                if tail.ends_with(".a") || tail.ends_with(".b") {
                    self.named_sides.insert(name.text.clone());
                }
                self.reach.entry(SmolStr::new(head)).or_default().push(SmolStr::new(tail));
            }
            None => {
                self.reach_bare.insert(name.text.clone());
            }
        }
    }

    /// Which rows a module from a part shows.
    pub(super) fn shown_rows(
        &mut self,
        module: &Name,
        pinout: &Pinout,
        uses: Option<&[Name]>,
    ) -> Vec<Vec<bool>> {
        let always = |row: &tree::CavityRow| matches!(row.role, Some(Role::Feed | Role::Ground));
        let mut shown: Vec<Vec<bool>> =
            pinout.housings.iter().map(|h| h.rows.iter().map(always).collect()).collect();
        let rows = rows_by_name(pinout);
        let mut show = |list: &[RowId]| {
            for &(h, r) in list {
                if let Some(place) = shown.get_mut(h).and_then(|rows| rows.get_mut(r)) {
                    *place = true;
                }
            }
        };
        match uses {
            Some(list) => {
                let prefix = format_smolstr!("{}.", module.text);
                for name in list {
                    let below = name.text.strip_prefix(prefix.as_str()).unwrap_or(&name.text);
                    match rows.get(below) {
                        Some(found) => show(found),
                        None => self.unknown_use(name, module, &rows),
                    }
                }
            }
            None => {
                for below in self.reach.get(&module.text).into_iter().flatten() {
                    // A connector alone is no cavity that a wire could reach.
                    let found =
                        rows.get(below).filter(|_| pinout.housings.iter().all(|h| h.name.text != *below));
                    if let Some(found) = found {
                        show(found);
                    }
                }
                let named = pinout.housings.iter().flat_map(|h| &h.rows).filter_map(|row| row.name.as_ref());
                for name in named.filter(|name| self.reach_bare.contains(&name.text)) {
                    if let Some(found) = rows.get(&name.text) {
                        show(found);
                    }
                }
            }
        }
        shown
    }

    fn unknown_use(&mut self, name: &Name, module: &Name, rows: &Map<SmolStr, Vec<RowId>>) {
        if name.text.is_empty() {
            return;
        }
        // Which one was meant is not known.
        self.open_module(&module.text);
        let loc = self.place(name);
        let near = nearest(&name.text, rows.keys().map(|k| (k.as_str(), true))).map(str::to_owned);
        let message = format!("the part of `{}` has no cavity `{}`", module.text, name.text);
        let problem = self.report("unknown-name", loc, message);
        match near {
            Some(near) => problem.help(format!("did you mean `{near}`?")).write(near, false),
            None => problem.help("cavities are named by connector and number, `A.4`, or by their name"),
        };
    }

    /// Notes what the names behind `uses` mean, the module being declared.
    pub(super) fn occurs_uses(&mut self, module: &Name, list: &[Name]) {
        let prefix = format_smolstr!("{}.", module.text);
        for name in list {
            let below = name.text.strip_prefix(prefix.as_str()).unwrap_or(&name.text);
            let full = format_smolstr!("{prefix}{below}");
            let Some(&entity) = self.c.index.things.get(&full) else { continue };
            let loc = self.place(name);
            match (entity, name.text.split_once('.')) {
                (Entity::Cavity(m, c, _), Some((head, _))) if below == name.text => {
                    let cut = loc.span.start + head.len() as u32;
                    let first = Loc { span: Span { start: loc.span.start, end: cut }, ..loc };
                    self.occurs(first, Entity::Connector(m, c), false);
                    self.occurs(
                        Loc { span: Span { start: cut + 1, end: loc.span.end }, ..loc },
                        entity,
                        false,
                    );
                }
                _ => self.occurs(loc, entity, false),
            }
        }
    }

    /// What to do about a name below a module that its part has and this circuit does not show.
    pub(super) fn hidden_cavity(&self, text: &str) -> Option<String> {
        let Some((head, tail)) = text.split_once('.') else { return self.hidden_bare(text) };
        let &Entity::Module(id) = self.c.index.things.get(head)? else { return None };
        let build = self.module_builds.get(id.index())?;
        build.part?;
        let rows = rows_by_name(build.pinout);
        rows.get(tail)?;
        Some(match build.has_uses {
            true => {
                format!("the part has it, but `uses` leaves it out: add `{tail}` to the list behind `uses`")
            }
            false => {
                format!("the part has it, but no wire reaches it: wire `{text}`, or list it behind `uses`")
            }
        })
    }
}

impl Builder<'_> {
    /// The same for a bare name: a cavity or a gang of a part's module that the circuit does not show.
    fn hidden_bare(&self, text: &str) -> Option<String> {
        let has = |build: &ModuleBuild<'_>| {
            let rows = build.pinout.housings.iter().flat_map(|h| &h.rows);
            let gang = build.pinout.gangs.iter().any(|gang| gang.name.text == text);
            build.part.is_some() && (gang || rows.filter_map(|r| r.name.as_ref()).any(|n| n.text == text))
        };
        let index = self.module_builds.iter().position(has)?;
        let module = self.c.modules.get(index).map(|m| m.name.clone())?;
        Some(format!(
            "the part of `{module}` has it, but this circuit does not show it: wire its cavity, or list it behind `uses`"
        ))
    }
}

/// A module between the two passes.
pub(crate) struct ModuleBuild<'a> {
    pub(super) pinout: &'a Pinout,
    /// The part that it is one of.
    pub(super) part: Option<usize>,
    pub(super) has_uses: bool,
    /// The row of each cavity of each connector of the model.
    pub(super) rows: Vec<Vec<RowId>>,
}

impl<'a> ModuleBuild<'a> {
    /// The row of a cavity.
    pub(super) fn row(&self, c: usize, k: usize) -> Option<&'a tree::CavityRow> {
        let &(h, r) = self.rows.get(c)?.get(k)?;
        self.pinout.housings.get(h)?.rows.get(r)
    }

    /// Connector and cavity of a row, if the circuit shows it.
    pub(super) fn cavities(&self) -> Map<RowId, (usize, usize)> {
        let mut all = Map::default();
        for (c, rows) in self.rows.iter().enumerate() {
            for (k, &row) in rows.iter().enumerate() {
                all.insert(row, (c, k));
            }
        }
        all
    }
}

/// Only for a circuit: ids of modules are dense.
pub(super) fn next_module(circuit: &Circuit) -> ModuleId {
    ModuleId::from(circuit.modules.len())
}
