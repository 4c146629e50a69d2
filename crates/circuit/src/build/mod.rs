//! Elaboration: from trees to one graph.
//!
//! Three passes over the circuit's own items, so that the order of items never matters: `declare` makes the points
//! and registers the names, `connect` makes the elements in source order, `states` resolves what is said about them.

mod again;
mod bodies;
mod cavities;
mod claims;
mod connect;
mod damage;
mod declare;
mod edges;
mod faults;
mod gangs;
mod head;
mod late;
mod laws;
mod lone;
mod marks;
mod modules;
mod names;
mod nominal;
mod parts;
mod report;
mod rows;
mod said;
mod sensors;
mod settings;
mod setups;
mod shown;
mod stages;
mod states;
mod two_pins;
mod unused;
mod values;
mod wires;

pub(crate) use again::{early, patch};
pub(crate) use marks::Marks;
pub(crate) use said::{parse_fault, parse_setup};
pub(crate) use settings::parse_setting;

use crate::{
    Elaboration, Likeness, Occurrence, PartInfo, Problem, Source,
    hash::{Map, Set},
    ids::*,
    libraries::{Libraries, PartDef},
    model::*,
};
use keyon_syntax::{
    Span,
    tree::{Name, PlacedItem},
};
use smol_str::SmolStr;
use std::sync::Arc;

/// Whose body is being read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Mode {
    /// The circuit's own: problems and names are of the circuit.
    Own,
    /// A part's, for one device: its own mistakes are reported by the check of the part, not once a device.
    Instance,
    /// A part's, for its own sake (index into `parts`).
    Check(usize),
}

/// What pass one made of an item.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Slot {
    /// Nothing, or a name that was declared before.
    None,
    Supply(usize),
    Ground(usize),
    Splice(usize),
    Inline(InlineId),
    Fuse(usize),
    Device(DeviceId),
    Module(ModuleId),
    Control(ControlId),
    Scenario(ScenarioId),
    Exercise(usize),
    Readings(usize),
}

/// Bytes of a line with a point or an element of its own, about.
const BYTES_OF_A_LINE: usize = 36;

/// Everything in the making.
pub(crate) struct Builder<'a> {
    pub(crate) files: &'a [Source],
    pub(crate) libraries: &'a Libraries<'a>,
    pub(crate) c: Circuit,
    pub(crate) problems: Vec<Problem>,
    /// Where problems of a muted body go.
    sink: Problem,
    pub(crate) names: Vec<Occurrence>,
    pub(crate) infos: Vec<PartInfo>,
    /// The file and item being read.
    pub(crate) file: FileId,
    pub(crate) item: u32,
    pub(crate) mode: Mode,
    /// The parameters of the part being read.
    env: Vec<values::Bound>,
    /// One an item of file 0.
    slots: Vec<Slot>,
    element_names: Set<SmolStr>,
    /// How often a name of an element was wanted more than once.
    repeats: Map<SmolStr, u32>,
    /// Points for names that mean nothing.
    dangling: Map<SmolStr, PointId>,
    /// Findings on names that mean nothing, by name.
    unknown: Map<SmolStr, usize>,
    /// How many more names may be compared with unknown ones.
    searches: usize,
    /// Things whose inside is not known: names below them are not reported.
    open_ended: Set<SmolStr>,
    /// A module's cavities are not all known: any name without a dot may be one of them.
    lost_cavities: bool,
    /// Something was declared without a name: any name without a dot may be the one it was to have.
    lost_name: bool,
    /// Words of lines that begin no item: probably declarations of what seems unknown.
    junk_words: Set<SmolStr>,
    /// A statement was lost that may have used any name.
    unread: bool,
    /// The items of which an end of their path was not read.
    lost_in: Vec<u32>,
    /// Things of which a pin or a cavity was named that they do not have.
    missed: Vec<crate::Entity>,
    /// Sides of in-line cavities that some wire names outright.
    named_sides: Set<SmolStr>,
    /// By point, whether something lands on it: sides of in-line cavities are taken by it.
    used_sides: Vec<bool>,
    /// Contacts whose coil stands in another device.
    pending_coils: Vec<edges::PendingCoil<'a>>,
    /// Supplies that are live in one position of a control, and the item that says so.
    pending_lives: Vec<(ElementId, &'a (Name, Name), u32)>,
    /// `shared by` lists, to be resolved when all names are known.
    pending_shares: Vec<modules::PendingShare<'a>>,
    /// Inputs whose range or threshold is said by a feed to which they are pulled up.
    fed_ranges: Vec<nominal::FedRange>,
    used_scenarios: Set<ScenarioId>,
    /// Wires by their ends, once a fault asks for them.
    wires_by_ends: Option<Map<(PointId, PointId), Vec<ElementId>>>,
    /// Modules between the passes, by id.
    module_builds: Vec<shown::ModuleBuild<'a>>,
    /// Of each device, the part that it is one of.
    device_parts: Vec<Option<usize>>,
    /// Devices with one position only, which is no control.
    single_positions: Map<DeviceId, SmolStr>,
    /// What wires and other paths name below each first word: for modules of parts without `uses`.
    reach: Map<SmolStr, Vec<SmolStr>>,
    /// Names without a dot that wires and other paths name.
    reach_bare: Set<SmolStr>,
    /// What each item makes.
    marks: Marks,
    /// The items to read, ascending; `None` for all.
    only: Option<&'a [u32]>,
    /// The sides of in-line cavities that items are known to take, where not all items are read.
    sides: Map<u32, Vec<SmolStr>>,
    /// What all items reach counts, whichever are read.
    whole_reach: bool,
    /// A circuit with more names, where only some items are read.
    wider: Option<&'a Circuit>,
}

/// What came of it.
pub(crate) struct Built {
    pub(crate) circuit: Circuit,
    pub(crate) problems: Vec<Problem>,
    pub(crate) names: Vec<Occurrence>,
    pub(crate) parts: Vec<PartInfo>,
    pub(crate) marks: Marks,
}

/// Elaborates a file with its libraries.
pub(crate) fn build(files: &[Source], libraries: &Libraries<'_>, early: Vec<Problem>) -> Elaboration {
    let mut b = Builder::new(files, libraries);
    b.make_room();
    b.problems = early;
    let library = b.head();
    b.check_parts();
    if !library {
        b.read_damage();
        b.declare();
        b.connect();
        b.finish_connections();
        b.states();
        b.unused();
        b.name_controls();
    }
    let Built { circuit, problems, names, parts, marks } = b.finish();
    let scope = libraries.scope_of(FileId(0));
    let marks = Arc::new(marks);
    let (electric, shape) = (Likeness::new(), Likeness::new());
    let files = files.to_vec();
    Elaboration { files, circuit, problems, names, parts, scope, library, marks, electric, shape }
}

impl<'a> Builder<'a> {
    pub(crate) fn new(files: &'a [Source], libraries: &'a Libraries<'a>) -> Self {
        Self {
            files,
            libraries,
            c: Circuit::default(),
            problems: Vec::new(),
            sink: Problem::new(
                "syntax",
                Loc { file: FileId(0), item: 0, span: Span::default() },
                String::new(),
            ),
            names: Vec::new(),
            infos: Vec::new(),
            file: FileId(0),
            item: 0,
            mode: Mode::Own,
            env: Vec::new(),
            slots: Vec::new(),
            element_names: Set::default(),
            repeats: Map::default(),
            dangling: Map::default(),
            unknown: Map::default(),
            searches: 500_000,
            open_ended: Set::default(),
            lost_cavities: false,
            lost_name: false,
            junk_words: Set::default(),
            unread: false,
            lost_in: Vec::new(),
            missed: Vec::new(),
            named_sides: Set::default(),
            used_sides: Vec::new(),
            pending_lives: Vec::new(),
            pending_coils: Vec::new(),
            pending_shares: Vec::new(),
            fed_ranges: Vec::new(),
            used_scenarios: Set::default(),
            wires_by_ends: None,
            module_builds: Vec::new(),
            device_parts: Vec::new(),
            single_positions: Map::default(),
            reach: Map::default(),
            reach_bare: Set::default(),
            marks: Marks::default(),
            only: None,
            sides: Map::default(),
            whole_reach: false,
            wider: None,
        }
    }

    /// Makes room for what a file of this length holds as a rule, so that the long lists need not be moved as they grow.
    fn make_room(&mut self) {
        let lines = self.files.first().map_or(0, |file| file.text.len()) / BYTES_OF_A_LINE;
        self.c.points.reserve(2 * lines);
        self.names.reserve(4 * lines);
        // Each line of them names something, at least.
        self.c.index.things.reserve(lines);
        self.element_names.reserve(lines / 4);
    }

    /// Puts everything in order.
    fn finish(self) -> Built {
        let Builder { c: mut circuit, mut problems, mut names, infos: parts, mut marks, slots, .. } = self;
        circuit.tainted.sort_unstable();
        circuit.tainted.dedup();
        problems.sort_by(|x, y| (x.loc, x.rule).cmp(&(y.loc, y.rule)));
        problems.dedup_by(|x, y| x.rule == y.rule && x.loc == y.loc);
        sort_names(&mut names);
        marks.slots = slots;
        Built { circuit, problems, names, parts, marks }
    }

    /// The items of the circuit's own file.
    pub(crate) fn items(&self) -> &'a [keyon_syntax::tree::PlacedItem] {
        self.files.first().map_or(&[], |source| source.parse.file.items.as_slice())
    }

    /// The items to read, each with its number.
    fn read_items(&self) -> impl ExactSizeIterator<Item = (usize, &'a PlacedItem)> + use<'a> {
        let (items, only) = (self.items(), self.only);
        let count = only.map_or(items.len(), <[u32]>::len);
        (0..count).map(move |at| {
            let item = only.and_then(|only| only.get(at)).map_or(at, |&item| item as usize);
            (item, &items[item])
        })
    }

    /// A place in the item being read.
    pub(crate) fn at(&self, span: Span) -> Loc {
        Loc { file: self.file, item: self.item, span }
    }

    /// The place of a name.
    pub(crate) fn place(&self, name: &Name) -> Loc {
        self.at(name.span)
    }

    /// The text at a place.
    pub(crate) fn text(&self, loc: Loc) -> &'a str {
        let Some(file) = self.files.get(loc.file.index()) else { return "" };
        let start = file.parse.file.items.get(loc.item as usize).map_or(0, |placed| placed.start);
        let range =
            loc.span.start.saturating_add(start) as usize..loc.span.end.saturating_add(start) as usize;
        file.text.get(range).unwrap_or("")
    }

    /// Adds a point.
    pub(crate) fn add_point(&mut self, name: SmolStr, kind: PointKind, loc: Option<Loc>) -> PointId {
        let id = PointId::from(self.c.points.len());
        self.c.points.push(Point { name, kind, loc });
        id
    }

    /// Adds an element under a name that no other has.
    pub(crate) fn add_element(&mut self, mut element: Element) -> ElementId {
        let id = ElementId::from(self.c.elements.len());
        if self.is_taken(&element) {
            self.rename(&mut element);
        }
        self.c.elements.push(element);
        id
    }

    /// Whether another element has this name. Most are named after things, whose names are known to be unique, so
    /// that only a few have to be remembered for their own sake.
    fn is_taken(&mut self, element: &Element) -> bool {
        use ElementKind::{Fuse, Ground, Inline, Supply, Terminal, Tie};
        let name = &element.name;
        let things = &self.c.index.things;
        match element.owner {
            _ if matches!(element.kind, Fuse(_) | Ground | Inline | Supply | Terminal | Tie) => false,
            Owner::Wire(_) => {
                self.c.index.wires.contains_key(name)
                    || things.contains_key(name)
                    || self.element_names.contains(name)
            }
            // A bare element has its device's name; others are registered as things.
            Owner::Device(d) => match self.c.devices.get(d.index()) {
                Some(device) if device.bare => false,
                _ => things.contains_key(name) || self.element_names.contains(name),
            },
            // A stage has its cavity's name; the contact of the cavity has its number.
            Owner::Module(..) => {
                let contact = things.get(name).is_some_and(|&entity| self.c.name_of(entity) == *name);
                contact || !self.element_names.insert(name.clone())
            }
            _ => things.contains_key(name) || !self.element_names.insert(name.clone()),
        }
    }

    /// Gives an element its name with `_2` (`@2` for wires) and so on behind it.
    pub(super) fn rename(&mut self, element: &mut Element) {
        let mark = if matches!(element.owner, Owner::Wire(_)) { '@' } else { '_' };
        let name = std::mem::take(&mut element.name);
        // Counting goes on where the last of this name stopped, so that many of one name stay linear.
        let mut count = self.repeats.get(&name).copied().unwrap_or(1);
        loop {
            count += 1;
            element.name = smol_str::format_smolstr!("{name}{mark}{count}");
            if !self.is_taken(element) {
                self.repeats.insert(name, count);
                return;
            }
        }
    }

    /// Notes that findings about this point are not to be trusted.
    pub(crate) fn taint(&mut self, point: PointId) {
        self.c.tainted.push(point);
    }

    /// The title's first text.
    pub(crate) fn title(title: Option<&keyon_syntax::tree::Title>) -> Option<String> {
        title.map(|t| t.text.text.clone())
    }

    /// What was said of place and dangers; the later wins over the earlier.
    pub(crate) fn attributes(sources: &[&keyon_syntax::tree::Attributes]) -> Attributes {
        let mut all = Attributes::default();
        for a in sources {
            if let Some(place) = &a.place {
                all.place = Some(place.text.clone());
            }
            if let Some(access) = &a.access {
                all.access = Some(access.text.clone());
            }
            if let Some((rows, columns, _)) = a.face {
                all.face = Some((rows, columns));
            }
            all.sealed |= a.sealed.is_some();
            all.moves |= a.moves.is_some();
            all.restricted |= a.restricted.is_some();
            all.hazards.extend(a.hazards.iter().map(|h| h.text.clone()));
        }
        all
    }

    /// The definition of a part.
    pub(crate) fn part(&self, index: usize) -> Option<&'a PartDef<'a>> {
        self.libraries.parts.get(index)
    }
}

/// Sorts occurrences by place: those of each item are few, so they are dealt out by item first.
fn sort_names(names: &mut Vec<Occurrence>) {
    let key = |n: &Occurrence| (n.loc, !n.definition, n.entity);
    let count = names.iter().map(|n| n.loc.item as usize + 1).max().unwrap_or(0);
    let mut starts = vec![0u32; count + 1];
    let own = |n: &Occurrence| n.loc.file == FileId(0);
    for n in names.iter().filter(|n| own(n)) {
        if let Some(place) = starts.get_mut(n.loc.item as usize + 1) {
            *place += 1;
        }
    }
    let mut sum = 0;
    for place in &mut starts {
        sum += *place;
        *place = sum;
    }
    let Some(first) = names.first().copied() else { return };
    let mut sorted = Vec::with_capacity(names.len());
    sorted.resize(sum as usize, first);
    let mut next = starts.clone();
    for n in names.iter().filter(|n| own(n)) {
        if let Some(place) = next.get_mut(n.loc.item as usize) {
            if let Some(slot) = sorted.get_mut(*place as usize) {
                *slot = *n;
            }
            *place += 1;
        }
    }
    for bounds in starts.windows(2) {
        if let [from, to] = *bounds
            && let Some(of_item) = sorted.get_mut(from as usize..to as usize)
        {
            of_item.sort_unstable_by_key(key);
        }
    }
    let mut libraries: Vec<Occurrence> = names.iter().filter(|n| !own(n)).copied().collect();
    libraries.sort_unstable_by_key(key);
    sorted.append(&mut libraries);
    sorted.dedup();
    *names = sorted;
}
