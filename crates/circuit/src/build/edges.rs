//! Elements in a body: between which pins, under which name, and when they conduct.

use super::Builder;
use crate::{Entity, hash::Map, ids::*, joined::dotted, model::*, near::nearest, value::Num};
use keyon_syntax::tree::{self, Condition, Edge, Name};
use smol_str::{SmolStr, format_smolstr};

/// A device whose body is being read.
pub(super) struct Local<'a> {
    pub(super) device: DeviceId,
    pub(super) name: SmolStr,
    /// Its elements by the name after the dot.
    pub(super) names: Map<SmolStr, ElementId>,
    /// Contacts that wait for their coil.
    waiting: Vec<PendingCoil<'a>>,
}

impl Local<'_> {
    pub(super) fn new(device: DeviceId, name: SmolStr) -> Self {
        Self { device, name, names: Map::default(), waiting: Vec::new() }
    }
}

/// A contact that a coil moves.
pub(crate) struct PendingCoil<'a> {
    pub(super) element: ElementId,
    pub(super) coil: &'a Name,
    pub(super) open: bool,
    pub(super) file: FileId,
    pub(super) item: u32,
    pub(super) mode: super::Mode,
}

/// So many names are listed in a message at most.
const LISTED: usize = 12;

/// The ends of an element: points inside the device.
type Ends = (PointId, PointId);

const CONTACT: super::values::Want = super::values::Want::joint("a contact's resistance", "5 mohm");
const CARRIES: super::values::Want =
    super::values::Want::amps("the current that a contact may carry", "20 A");

impl<'a> Builder<'a> {
    /// Adds what one statement of a body says.
    pub(super) fn connect_edge(&mut self, local: &mut Local<'a>, edge: &'a Edge) {
        match &edge.law {
            tree::Law::Contact { ohms, rated, condition } => {
                let Some(ends) = self.ends(local, edge, None) else { return };
                let law = self.contact_law(ohms.as_ref());
                let rating = self.num_of(rated.as_ref(), CARRIES);
                let name = self.contact_name(edge, ends, None);
                let element = self.add_edge(local, edge, name, ends, ElementKind::Contact, law, rating);
                self.set_condition(local, element, condition.as_ref(), false);
            }
            tree::Law::Changeover { common, rest, active, ohms, rated, condition } => {
                let pin = |b: &mut Self, name: &Option<Name>| {
                    name.as_ref().and_then(|name| b.inner_pin(local, name))
                };
                let (common, rest, active) = (pin(self, common), pin(self, rest), pin(self, active));
                let law = self.contact_law(ohms.as_ref());
                let rating = self.num_of(rated.as_ref(), CARRIES);
                let Some(common) = common else { return };
                for (to, at_rest) in [(rest, true), (active, false)] {
                    let Some(to) = to else { continue };
                    let name = self.contact_name(edge, (common, to), Some(at_rest));
                    let law = law.clone();
                    let element =
                        self.add_edge(local, edge, name, (common, to), ElementKind::Contact, law, rating);
                    self.set_condition(local, element, condition.as_ref(), at_rest);
                }
            }
            tree::Law::Track { ohms, wiper, travel, stimulus } => {
                let wiper = wiper.as_ref().and_then(|name| self.inner_pin(local, name));
                let ends = self.ends(local, edge, wiper);
                let (Some((from, to)), Some(wiper)) = (ends, wiper) else { return };
                let (law, stand_in) = self.track(ohms.as_ref(), travel.as_ref(), stimulus);
                let name = self.edge_name(edge);
                let lower = dotted(&name, "lower");
                let upper = (from, wiper);
                self.add_edge(local, edge, name, upper, ElementKind::Track(true), law.clone(), None);
                self.add_edge(local, edge, lower, (wiper, to), ElementKind::Track(false), law, None);
                self.taint_if(stand_in, local);
            }
            tree::Law::Transducer { out, volts, over, ratio, stimulus } => {
                let out = out.as_ref().and_then(|name| self.inner_pin(local, name));
                let ends = self.ends(local, edge, out);
                let (Some((feed, back)), Some(out)) = (ends, out) else { return };
                let (law, stand_in) =
                    self.transducer(feed, volts.as_ref(), over.as_ref(), ratio.is_some(), stimulus);
                let name = self.edge_name(edge);
                self.add_edge(local, edge, name, (back, out), ElementKind::Transducer, law, None);
                self.taint_if(stand_in, local);
            }
            other => {
                // The values are read also where the ends are wrong: they may be wrong too.
                let stimuli = self.c.stimuli.len();
                let named = self.named_without_value(edge);
                let law = named.as_ref().map_or(other, |named| &named.law);
                let (ends, made) = (self.ends(local, edge, None), self.law(law));
                let (Some(ends), Some(made)) = (ends, made) else {
                    self.c.stimuli.truncate(stimuli);
                    return;
                };
                let edge = named.as_ref().unwrap_or(edge);
                let name = self.edge_name(edge);
                self.add_edge(local, edge, name, ends, made.kind, made.law, None);
                self.taint_if(made.stand_in, local);
            }
        }
    }

    fn taint_if(&mut self, stand_in: bool, local: &Local<'_>) {
        if stand_in {
            self.taint_thing(Entity::Device(local.device));
        }
    }

    pub(super) fn contact_law(&mut self, ohms: Option<&tree::Value>) -> Law {
        match self.num_of(ohms, CONTACT) {
            Some(ohms) if ohms.nominal > 0.0 => Law::Resistance(ohms),
            _ => Law::Joint,
        }
    }

    /// The name behind the device's: its own, or its keyword.
    fn edge_name(&self, edge: &Edge) -> SmolStr {
        match &edge.name {
            Some(name) if !name.text.is_empty() => name.text.clone(),
            _ => edge.keyword.text.clone(),
        }
    }

    /// A contact's: its own, or its pins (`30_87`); of a named changeover each throw's.
    fn contact_name(&self, edge: &Edge, ends: Ends, at_rest: Option<bool>) -> SmolStr {
        match (&edge.name, at_rest) {
            (Some(name), None) if !name.text.is_empty() => name.text.clone(),
            (Some(name), Some(at_rest)) if !name.text.is_empty() => {
                format_smolstr!("{}.{}", name.text, if at_rest { "rest" } else { "active" })
            }
            _ => format_smolstr!("{}_{}", self.pin_name(ends.0), self.pin_name(ends.1)),
        }
    }

    /// The pin's name of a point inside a device.
    pub(super) fn pin_name(&self, point: PointId) -> SmolStr {
        match self.c.points.get(point.index()).map(|p| p.kind) {
            Some(PointKind::PinInside(d, pin) | PointKind::Pin(d, pin)) => self
                .c
                .devices
                .get(d.index())
                .and_then(|d| d.pins.get(pin))
                .map(|p| p.name.clone())
                .unwrap_or_default(),
            _ => SmolStr::default(),
        }
    }

    #[allow(clippy::too_many_arguments)]
    fn add_edge(
        &mut self,
        local: &mut Local<'a>,
        edge: &Edge,
        name: SmolStr,
        (from, to): Ends,
        kind: ElementKind,
        law: Law,
        rating: Option<Num>,
    ) -> ElementId {
        let full = dotted(&local.name, &name);
        let loc = self.at(edge.span);
        let mut pin_of_that_name = false;
        let named = edge.name.as_ref().filter(|n| !n.text.is_empty());
        if let Some(own) = named
            && !matches!(kind, ElementKind::Track(false))
        {
            let before = self.c.index.things.get(&full).copied();
            pin_of_that_name = before.is_some();
            if let Some(before) = before {
                let what = if matches!(before, Entity::Point(_)) { "a pin" } else { "an element" };
                let first = self.definition(before);
                self.report_duplicate(own, what, first);
            }
        }
        let element = self.add_element(Element {
            name: full.clone(),
            from,
            to,
            kind,
            law,
            when: When::Always,
            alive: None,
            rating,
            owner: Owner::Device(local.device),
            loc,
        });
        // Under the name that it got: a second coil is `coil_2`.
        let got = self.c.elements.get(element.index()).map(|e| e.name.clone()).unwrap_or(full);
        let short = got.get(local.name.len() + 1..).map(SmolStr::new).unwrap_or(name);
        self.c.index.things.entry(got).or_insert(Entity::Element(element));
        if !pin_of_that_name {
            local.names.entry(short).or_insert(element);
        }
        if let Some(own) = named {
            let place = self.place(own);
            self.c.index.element_names.insert(element, place);
            let second = matches!(kind, ElementKind::Track(false)) || self.is_second_throw(element, place);
            if !second {
                self.occurs(place, Entity::Element(element), true);
            }
        }
        if let Some(device) = self.c.devices.get_mut(local.device.index()) {
            device.elements.push(element);
        }
        element
    }

    /// Whether the element before this one already has its name here (the two throws of a changeover).
    fn is_second_throw(&self, element: ElementId, place: Loc) -> bool {
        let before = element.0.checked_sub(1).map(ElementId);
        before.is_some_and(|before| self.c.index.element_names.get(&before) == Some(&place))
    }

    /// The ends of an element: its path, or the pins in order, leaving out one that has another part to play.
    fn ends(&mut self, local: &Local<'a>, edge: &'a Edge, not: Option<PointId>) -> Option<Ends> {
        if let Some(path) = &edge.path {
            let from = self.inner_pin(local, &path.from);
            let to = self.inner_pin(local, &path.to);
            let (from, to) = (from?, to?);
            if from == to {
                let loc = self.at(path.from.span.to(path.to.span));
                let message = format!(
                    "both ends of this {} are pin `{}`: it does nothing",
                    edge.keyword.text, path.to.text
                );
                self.report("impossible-value", loc, message).help("name two different pins");
                return None;
            }
            return Some((from, to));
        }
        let device = self.c.devices.get(local.device.index())?;
        let mut pins = device.pins.iter().map(|p| p.inside).filter(|&p| Some(p) != not);
        match (pins.next(), pins.next()) {
            (Some(from), Some(to)) => Some((from, to)),
            _ => {
                let loc = self.at(edge.span);
                if !self.open_ended.contains(&local.name) && !self.has_syntax_error(loc) {
                    let message =
                        format!("there are no two pins for this {} to lie between", edge.keyword.text);
                    self.report("unknown-name", loc, message)
                        .help("declare them in a line of this body: `pins 1, 2`");
                }
                None
            }
        }
    }

    /// The point inside the device at a pin that its body names.
    pub(super) fn inner_pin(&mut self, local: &Local<'a>, name: &Name) -> Option<PointId> {
        if name.text.is_empty() {
            return None;
        }
        let full = dotted(&local.name, &name.text);
        if let Some(&Entity::Point(outside)) = self.c.index.things.get(&full)
            && let Some(PointKind::Pin(d, pin)) = self.c.points.get(outside.index()).map(|p| p.kind)
            && d == local.device
        {
            let loc = self.place(name);
            self.occurs(loc, Entity::Point(outside), false);
            return self.c.devices.get(d.index()).and_then(|d| d.pins.get(pin)).map(|p| p.inside);
        }
        let device = self.c.devices.get(local.device.index())?;
        if self.open_ended.contains(&local.name) {
            return None;
        }
        let pins: &[Pin] = if device.pins.len() <= LISTED || self.searches > 0 { &device.pins } else { &[] };
        let near = nearest(&name.text, pins.iter().map(|p| (p.name.as_str(), true))).map(str::to_owned);
        let list: Vec<SmolStr> = device.pins.iter().take(LISTED).map(|p| p.name.clone()).collect();
        self.searches = self.searches.saturating_sub(pins.len());
        let loc = self.place(name);
        let message = format!("`{}` has no pin `{}`", local.name, name.text);
        let message = if list.is_empty() { format!("{message}: none is declared") } else { message };
        let problem = self.report("unknown-name", loc, message);
        match near {
            Some(near) => problem.help(format!("did you mean `{near}`?")).write(near, false),
            None if list.is_empty() => problem.help("declare them in a line of this body: `pins 1, 2`"),
            None => problem.help(format!("its pins are {}", list.join(", "))),
        };
        // The device is as good as broken there.
        self.taint_thing(Entity::Device(local.device));
        None
    }

    /// A name that stands for no element of the body.
    pub(super) fn unknown_local(&mut self, local: &Local<'_>, name: &Name, what: &str) {
        if self.open_ended.contains(&local.name) {
            return;
        }
        let loc = self.place(name);
        let mut known: Vec<&str> = Vec::new();
        if self.searches > 0 {
            self.searches = self.searches.saturating_sub(local.names.len());
            known.extend(local.names.keys().map(SmolStr::as_str));
            known.sort_unstable();
        }
        let near = nearest(&name.text, known.iter().map(|n| (*n, true))).map(str::to_owned);
        known.truncate(LISTED);
        let message = format!("`{}` has no {what} `{}`", local.name, name.text);
        let list = known.join(", ");
        let problem = self.report("unknown-name", loc, message);
        match near {
            Some(near) => problem.help(format!("did you mean `{near}`?")).write(near, false),
            None if list.is_empty() => {
                problem.help(format!("give the {what} that is meant a name behind its keyword"))
            }
            None => problem.help(format!("it has {list}")),
        };
    }

    /// When a contact conducts. `inverted`: the rest throw of a changeover.
    fn set_condition(
        &mut self,
        local: &mut Local<'a>,
        element: ElementId,
        condition: Option<&'a Condition>,
        inverted: bool,
    ) {
        let when = match condition {
            None => {
                self.taint_thing(Entity::Device(local.device));
                When::Never
            }
            Some(Condition::Energised { coil, open }) => {
                local.waiting.push(PendingCoil {
                    element,
                    coil,
                    open: *open != inverted,
                    file: self.file,
                    item: self.item,
                    mode: self.mode,
                });
                When::Never
            }
            Some(Condition::Positions { positions, open }) => {
                self.in_positions(local, positions, *open != inverted, inverted)
            }
        };
        if let Some(element) = self.c.elements.get_mut(element.index()) {
            element.when = when;
        }
    }

    /// In which positions of the device a contact is closed. `quiet`: the same list was read before.
    fn in_positions(&mut self, local: &Local<'_>, list: &[Name], open: bool, quiet: bool) -> When {
        let control = self.c.devices.get(local.device.index()).and_then(|d| d.control);
        let Some(control) = control else {
            if let Some(only) = self.single_positions.get(&local.device) {
                let closed = list.iter().any(|name| name.text == *only) != open;
                return if closed { When::Always } else { When::Never };
            }
            if let (Some(name), false) = (list.first(), quiet || self.open_ended.contains(&local.name)) {
                let loc = self.place(name);
                let message =
                    format!("`{}` is no position: `{}` has no `positions` line", name.text, local.name);
                self.report("unknown-name", loc, message)
                    .help("declare them in a line of this body, the one at rest first: `positions off, on`");
            }
            self.taint_thing(Entity::Device(local.device));
            return When::Never;
        };
        let positions = self.c.controls.get(control.index()).map(|c| c.positions.clone()).unwrap_or_default();
        let mut mask = 0u64;
        for name in list {
            match positions.iter().position(|p| *p == name.text) {
                Some(index) => {
                    mask |= 1 << index;
                    if !quiet {
                        let loc = self.place(name);
                        self.occurs(loc, Entity::Position(control, index), false);
                    }
                }
                None if quiet => {}
                None => {
                    self.unknown_position(name, control);
                    self.taint_thing(Entity::Device(local.device));
                }
            }
        }
        if open {
            mask = !mask & all_of(positions.len());
        }
        When::In { control, positions: mask }
    }

    /// A word that is no position of a control.
    pub(super) fn unknown_position(&mut self, name: &Name, control: ControlId) {
        let Some(control) = self.c.controls.get(control.index()) else { return };
        // It may stand in what was not read of it.
        let owner = control.qualified.split('.').next().unwrap_or_default();
        if self.open_ended.contains(&control.name) || self.open_ended.contains(owner) {
            return;
        }
        let near =
            nearest(&name.text, control.positions.iter().map(|p| (p.as_str(), true))).map(str::to_owned);
        let message = format!("`{}` has no position `{}`", control.name, name.text);
        let list = control.positions.join(", ");
        let loc = self.place(name);
        let problem = self.report("unknown-name", loc, message);
        match near {
            Some(near) => {
                problem.help(format!("did you mean `{near}`? Its positions are {list}")).write(near, false)
            }
            None => problem.help(format!("its positions are {list}")),
        };
    }

    /// Gives the contacts of a body their coils; those of other devices wait until all devices are there.
    pub(super) fn resolve_coils(&mut self, local: &Local<'a>) {
        for wait in &local.waiting {
            match local.names.get(wait.coil.text.as_str()) {
                Some(&coil) => {
                    let loc = Loc { file: wait.file, item: wait.item, span: wait.coil.span };
                    if self.is_coil(coil) {
                        self.occurs(loc, Entity::Element(coil), false);
                        self.set_energised(wait.element, coil, wait.open);
                    } else {
                        let message = format!("`{}` is no coil: only a coil moves contacts", wait.coil.text);
                        self.report("unknown-name", loc, message)
                            .help("name the coil that moves this contact");
                        self.taint_thing(Entity::Device(local.device));
                    }
                }
                // A part read for its own sake knows no other devices.
                None if matches!(wait.mode, super::Mode::Check(_)) => {
                    if !wait.coil.text.contains('.') {
                        self.unknown_local(local, wait.coil, "coil");
                    }
                }
                None => self.pending_coils.push(PendingCoil { ..*wait }),
            }
        }
    }

    pub(super) fn is_coil(&self, element: ElementId) -> bool {
        self.c.elements.get(element.index()).is_some_and(|e| e.kind == ElementKind::Coil)
    }

    pub(super) fn set_energised(&mut self, element: ElementId, coil: ElementId, open: bool) {
        if let Some(element) = self.c.elements.get_mut(element.index()) {
            element.when = When::Energised { coil, open };
        }
    }
}

/// The mask of all of so many positions.
pub(super) fn all_of(count: usize) -> u64 {
    if count >= 64 { u64::MAX } else { (1 << count) - 1 }
}
