//! Modules: connectors and cavities, from a body or from a library's part; who shares a return.

use super::{
    Builder, Mode, Slot,
    declare::NO_ELEMENT,
    shown::{ModuleBuild, next_module},
};
use crate::{Entity, ids::*, index::Entities, joined::dotted, model::*};
use keyon_syntax::tree::{self, Name, Pinout};
use smol_str::SmolStr;

/// A `shared by` list that waits until all names are known.
pub(crate) struct PendingShare<'a> {
    pub(super) of: Shared,
    pub(super) names: &'a [Name],
    pub(super) file: FileId,
    pub(super) item: u32,
    pub(super) mode: Mode,
}

/// What is shared.
#[derive(Clone, Copy)]
pub(super) enum Shared {
    Splice(usize),
    Cavity(ModuleId, usize, usize),
}

impl<'a> Builder<'a> {
    /// A cavity of a module, to be changed.
    pub(super) fn cavity_mut(&mut self, m: ModuleId, c: usize, k: usize) -> Option<&mut Cavity> {
        self.c.modules.get_mut(m.index())?.connectors.get_mut(c)?.cavities.get_mut(k)
    }

    pub(super) fn declare_module(&mut self, module: &'a tree::Module) -> Slot {
        let name = &module.name;
        match &module.what {
            tree::ModuleKind::Body(pinout) => {
                let attributes = Self::attributes(&[&pinout.attributes, &module.attributes]);
                let Some(id) = self.add_module(module, None, attributes) else { return Slot::None };
                let all = pinout.housings.iter().map(|h| vec![true; h.rows.len()]).collect();
                self.declare_pinout(id, name, pinout, all, None);
                Slot::Module(id)
            }
            tree::ModuleKind::Call { call, uses } => {
                let found = self.find_part(&call.part, true);
                let def = found.and_then(|index| self.part(index));
                let part = PartUse {
                    name: call.part.text.clone(),
                    loc: def.filter(|def| !def.built_in).map(|def| Loc {
                        file: def.file,
                        item: def.item,
                        span: def.part.name.span,
                    }),
                };
                let pinout = def.and_then(|def| match &def.part.what {
                    tree::PartKind::Module(pinout) => Some((def, pinout)),
                    tree::PartKind::Device(_) => None,
                });
                let mut sources = Vec::new();
                if let Some((def, pinout)) = pinout {
                    sources.extend([&def.part.attributes, &pinout.attributes]);
                }
                sources.push(&module.attributes);
                let attributes = Self::attributes(&sources);
                let Some(id) = self.add_module(module, Some(part), attributes) else { return Slot::None };
                let Some((def, pinout)) = pinout else {
                    self.open_module(&name.text);
                    return Slot::Module(id);
                };
                if def.damaged {
                    self.open_module(&name.text);
                }
                let shown = self.shown_rows(name, pinout, uses.as_deref());
                let kept = self.enter_part(def);
                self.declare_pinout(id, name, pinout, shown, found);
                self.leave_part(kept);
                if let (Some(list), Some(build)) = (uses, self.module_builds.get_mut(id.index())) {
                    build.has_uses = true;
                    self.occurs_uses(name, list);
                }
                Slot::Module(id)
            }
            tree::ModuleKind::Missing => {
                let attributes = Self::attributes(&[&module.attributes]);
                let Some(id) = self.add_module(module, None, attributes) else { return Slot::None };
                self.open_module(&name.text);
                Slot::Module(id)
            }
        }
    }

    /// Not all that lies in this module is known.
    pub(super) fn open_module(&mut self, name: &SmolStr) {
        self.open_ended.insert(name.clone());
        self.lost_cavities = true;
    }

    fn add_module(
        &mut self,
        module: &tree::Module,
        part: Option<PartUse>,
        attributes: Attributes,
    ) -> Option<ModuleId> {
        let id = next_module(&self.c);
        if !self.register(&module.name, Entity::Module(id)) {
            return None;
        }
        let loc = self.place(&module.name);
        self.occurs(loc, Entity::Module(id), true);
        self.push_module(&module.name, Self::title(module.title.as_ref()), part, attributes);
        Some(id)
    }

    fn push_module(
        &mut self,
        name: &Name,
        title: Option<String>,
        part: Option<PartUse>,
        attributes: Attributes,
    ) {
        let loc = self.place(name);
        self.c.modules.push(Module {
            name: name.text.clone(),
            title,
            part,
            connectors: Vec::new(),
            feeds: Vec::new(),
            grounds: Vec::new(),
            gangs: Vec::new(),
            attributes,
            loc,
        });
    }

    /// Reads a part's pinout for its own sake.
    pub(super) fn check_pinout(&mut self, name: &Name, pinout: &'a Pinout) {
        let id = next_module(&self.c);
        self.c.index.things.insert(name.text.clone(), Entity::Module(id));
        self.push_module(name, None, None, Attributes::default());
        let builds = std::mem::take(&mut self.module_builds);
        let all = pinout.housings.iter().map(|h| vec![true; h.rows.len()]).collect();
        self.declare_pinout(id, name, pinout, all, None);
        self.connect_pinout(id);
        self.module_builds = builds;
    }

    /// Points and names of the cavities that are shown.
    fn declare_pinout(
        &mut self,
        id: ModuleId,
        name: &Name,
        pinout: &'a Pinout,
        shown: Vec<Vec<bool>>,
        part: Option<usize>,
    ) {
        let mut rows = Vec::new();
        for (h, housing) in pinout.housings.iter().enumerate() {
            let wanted = shown.get(h).map_or(&[][..], Vec::as_slice);
            if !wanted.contains(&true) && !housing.rows.is_empty() {
                continue;
            }
            let connector = rows.len();
            let full = dotted(&name.text, &housing.name.text);
            if let Some(&first) = self.c.index.things.get(&full) {
                let first = self.definition(first);
                self.report_duplicate(&housing.name, "another connector of this module", first);
                continue;
            }
            let loc = self.place(&housing.name);
            self.c.index.things.insert(full.clone(), Entity::Connector(id, connector));
            if let Some(module) = self.c.modules.get_mut(id.index()) {
                module.connectors.push(Connector {
                    name: housing.name.text.clone(),
                    title: Self::title(housing.title.as_ref()),
                    cavities: Vec::with_capacity(housing.rows.len()),
                    attributes: Self::attributes(&[&housing.attributes]),
                    loc,
                });
            }
            self.occurs(loc, Entity::Connector(id, connector), true);
            let mut of_connector = Vec::new();
            for (r, row) in housing.rows.iter().enumerate() {
                if wanted.get(r) == Some(&true) && self.declare_cavity(id, connector, &full, name, row) {
                    of_connector.push((h, r));
                }
            }
            rows.push(of_connector);
        }
        while self.module_builds.len() <= id.index() {
            self.module_builds.push(ModuleBuild { pinout, part: None, has_uses: false, rows: Vec::new() });
        }
        if let Some(place) = self.module_builds.get_mut(id.index()) {
            *place = ModuleBuild { pinout, part, has_uses: false, rows };
        }
    }

    fn declare_cavity(
        &mut self,
        id: ModuleId,
        connector: usize,
        above: &SmolStr,
        module: &Name,
        row: &'a tree::CavityRow,
    ) -> bool {
        if row.cavity.text.is_empty() {
            return false;
        }
        let full = dotted(above, &row.cavity.text);
        if let Some(&first) = self.c.index.things.get(&full) {
            let first = self.definition(first);
            self.report_duplicate(&row.cavity, "a cavity", first);
            return false;
        }
        let Some(k) = self
            .c
            .modules
            .get(id.index())
            .and_then(|m| m.connectors.get(connector))
            .map(|c| c.cavities.len())
        else {
            return false;
        };
        let loc = self.place(&row.cavity);
        let entity = Entity::Cavity(id, connector, k);
        let outside = self.add_point(full.clone(), PointKind::Cavity(id, connector, k), Some(loc));
        let inside =
            self.add_point(dotted(&full, "inside"), PointKind::CavityInside(id, connector, k), Some(loc));
        self.c.index.things.insert(full, entity);
        self.occurs(loc, entity, true);
        let mut own = SmolStr::default();
        let mut name_loc = None;
        if let Some(name) = row.name.as_ref().filter(|n| !n.text.is_empty()) {
            own = name.text.clone();
            let place = self.place(name);
            name_loc = Some(place);
            let named = dotted(&module.text, &name.text);
            match self.c.index.things.get(&named).copied() {
                Some(first) => {
                    let what = super::report::a_kind(&self.c, first);
                    let first = self.named_at(first);
                    self.report_duplicate(name, &format!("{what} of this module"), first);
                }
                None => {
                    self.c.index.things.insert(named, entity);
                    Entities::add(&mut self.c.index.inner, name.text.clone(), entity);
                }
            }
            self.occurs(place, entity, true);
        }
        let role = match &row.role {
            None | Some(tree::Role::Unused) => Role::Unused,
            Some(tree::Role::Feed) => Role::Feed,
            Some(tree::Role::Ground) => Role::Ground,
            Some(tree::Role::Drives { way, .. }) => Role::Drives(*way),
            Some(tree::Role::Switches { .. }) => Role::Switches,
            Some(tree::Role::Reference { .. }) => Role::Reference { volts: crate::value::Num::exact(5.0) },
            Some(tree::Role::Return { switched }) => Role::Return { switched: *switched },
            Some(tree::Role::Senses { digital }) => Role::Senses { digital: *digital },
            Some(tree::Role::Bus { name, .. }) => Role::Bus { name: name.text.clone(), volts: None },
        };
        let row_loc = self.at(row.span);
        let Some(module) = self.c.modules.get_mut(id.index()) else { return false };
        match role {
            Role::Feed => module.feeds.push((connector, k)),
            Role::Ground => module.grounds.push((connector, k)),
            _ => {}
        }
        let Some(list) = module.connectors.get_mut(connector) else { return false };
        list.cavities.push(Cavity {
            number: row.cavity.text.clone(),
            name: own,
            unused: matches!(row.role, Some(tree::Role::Unused)).then_some(row_loc),
            role,
            outside,
            inside,
            terminal: NO_ELEMENT,
            elements: Vec::new(),
            control: None,
            limit: None,
            clamp: row.options.clamp.is_some(),
            pwm: None,
            shared_by: None,
            range: None,
            threshold: None,
            landings: Vec::new(),
            name_loc,
            loc: row_loc,
        });
        if row.role.is_none() {
            // What it is could not be read.
            self.taint(outside);
            self.taint(inside);
        }
        true
    }

    /// Where the name of a cavity stands (not its number).
    pub(super) fn named_at(&self, entity: Entity) -> Option<Loc> {
        match entity {
            Entity::Cavity(m, c, k) => self.c.cavity(m, c, k).and_then(|cavity| cavity.name_loc),
            other => self.definition(other),
        }
    }

    pub(super) fn connect_module(&mut self, id: ModuleId, module: &'a tree::Module) {
        let part = self.module_builds.get(id.index()).and_then(|b| b.part);
        match (&module.what, part) {
            (tree::ModuleKind::Body(_), _) => self.connect_pinout(id),
            (tree::ModuleKind::Call { call, .. }, Some(index)) => {
                let (env, sound) = self.bind(index, call);
                let Some(def) = self.part(index) else { return };
                let kept = self.enter_part(def);
                self.env = env;
                self.connect_pinout(id);
                self.leave_part(kept);
                if !sound || def.damaged {
                    self.taint_thing(Entity::Module(id));
                }
            }
            _ => {}
        }
    }

    pub(super) fn share_splice(&mut self, index: usize, names: &'a [Name]) {
        let (file, item, mode) = (self.file, self.item, self.mode);
        self.pending_shares.push(PendingShare { of: Shared::Splice(index), names, file, item, mode });
    }

    /// Who shares what, when all names are known.
    pub(super) fn resolve_shares(&mut self) {
        for share in std::mem::take(&mut self.pending_shares) {
            (self.file, self.item, self.mode) = (share.file, share.item, share.mode);
            let mut sharers = Vec::with_capacity(share.names.len());
            for name in share.names {
                let found =
                    self.resolve(name, "a device or a module", &|c, entity| sharer(c, entity).is_some());
                sharers.extend(found.and_then(|entity| sharer(&self.c, entity)));
            }
            sharers.sort_unstable();
            sharers.dedup();
            let place = match (share.names.first(), share.names.last()) {
                (Some(first), Some(last)) => self.at(first.span.to(last.span)),
                _ => self.at(Default::default()),
            };
            match share.of {
                Shared::Splice(index) => {
                    if let Some(splice) = self.c.splices.get_mut(index) {
                        splice.shared_by = Some(sharers);
                    }
                }
                Shared::Cavity(m, c, k) => {
                    if let Some(cavity) = self.cavity_mut(m, c, k) {
                        cavity.shared_by = Some((sharers, place));
                    }
                }
            }
        }
        (self.file, self.mode) = (FileId(0), Mode::Own);
    }
}

fn sharer(circuit: &Circuit, entity: Entity) -> Option<DeviceOrModule> {
    match entity {
        Entity::Module(m) => Some(DeviceOrModule::Module(m)),
        Entity::Cavity(m, ..) => Some(DeviceOrModule::Module(m)),
        other => circuit.device_of(other).map(DeviceOrModule::Device),
    }
}
