//! What lies behind a module's cavities: stages, references, returns, pulls, its own consumption.

use super::{
    Builder,
    connect::volts_over,
    gangs::{Moved, PWM},
    modules::{PendingShare, Shared},
    nominal::FedRange,
    shown::RowId,
    values::Want,
};
use crate::{hash::Map, ids::*, joined::dotted, model::*, value::Num};
use keyon_syntax::{
    tree::{self, Pinout, PullTo},
    unit::Dimension,
};
use smol_str::SmolStr;

pub(super) const LIMIT: Want = Want::amps("the limit of a stage or reference", "2 A");
const DRAWS: Want = Want::amps("what a module draws itself", "0.2 A");
const PULL: Want = Want::new(Dimension::Resistance, "the resistance of a pull-up or pull-down", "2.2 kohm")
    .from(1.0)
    .to(1e9)
    .why_least("less would be a short; mohm is a thousandth of an ohm, Mohm a million ohms");
const RAIL: Want = Want::volts("the voltage behind a pull-up", "5 V").to(1e3);
const THRESHOLD: Want = Want::volts("the threshold of a digital input", "2.5 V").to(1e3);
const PLAUSIBLE: Want =
    Want::new(Dimension::Voltage, "an input's plausible voltage", "0.2 .. 4.8 V").from(-1e3).to(1e3);
const BUS: Want = Want::new(Dimension::Voltage, "the volts of a bus", "2.5 V").from(0.0).to(1e3);

/// A module while its elements are made.
pub(super) struct Inside<'a> {
    pub(super) id: ModuleId,
    pub(super) name: SmolStr,
    pub(super) pinout: &'a Pinout,
    /// Rows by their name, shown or not.
    pub(super) rows: Map<&'a str, RowId>,
    /// The cavities of the rows that are shown.
    pub(super) cavities: Map<RowId, (usize, usize)>,
    pub(super) first_ground_name: Option<SmolStr>,
    pub(super) first_feed_name: Option<SmolStr>,
    /// The first described ground, else the common one.
    pub(super) ground: PointId,
    pub(super) feed: Option<PointId>,
    pub(super) alive: Option<ModuleId>,
    /// Points that were made for rows that are not shown, and the feed of a module that describes none.
    pub(super) hidden: Map<&'a str, PointId>,
    pub(super) own_feed: Option<PointId>,
}

impl<'a> Inside<'a> {
    pub(super) fn row(&self, id: RowId) -> Option<&'a tree::CavityRow> {
        self.pinout.housings.get(id.0)?.rows.get(id.1)
    }

    fn is_feed(&self, name: &tree::Name) -> bool {
        let row = self.rows.get(name.text.as_str()).and_then(|&id| self.row(id));
        matches!(row.map(|row| &row.role), Some(Some(tree::Role::Feed)))
    }
}

/// The cavity being worked on.
pub(super) struct At<'a> {
    pub(super) c: usize,
    pub(super) k: usize,
    pub(super) row: &'a tree::CavityRow,
    pub(super) inside: PointId,
    /// `SCU.left_cmd`.
    pub(super) base: SmolStr,
}

impl<'a> Builder<'a> {
    fn inside_of(&self, id: ModuleId) -> Option<Inside<'a>> {
        let module = self.c.modules.get(id.index())?;
        let build = self.module_builds.get(id.index())?;
        let mut rows = Map::default();
        for (h, housing) in build.pinout.housings.iter().enumerate() {
            for (r, row) in housing.rows.iter().enumerate() {
                if let Some(name) = &row.name {
                    rows.entry(name.text.as_str()).or_insert((h, r));
                }
            }
        }
        let point = |list: &[(usize, usize)]| {
            list.first().and_then(|&(c, k)| self.c.cavity(id, c, k)).map(|k| (k.inside, k.name.clone()))
        };
        let (ground, feed) = (point(&module.grounds), point(&module.feeds));
        Some(Inside {
            id,
            name: module.name.clone(),
            pinout: build.pinout,
            rows,
            cavities: build.cavities(),
            alive: (ground.is_some() || feed.is_some()).then_some(id),
            ground: ground.as_ref().map_or(COMMON, |g| g.0),
            feed: feed.as_ref().map(|f| f.0),
            first_ground_name: ground.map(|g| g.1),
            first_feed_name: feed.map(|f| f.1),
            hidden: Map::default(),
            own_feed: None,
        })
    }

    /// The elements of all cavities, in order.
    pub(super) fn connect_pinout(&mut self, id: ModuleId) {
        let Some(mut inside) = self.inside_of(id) else { return };
        let moved = self.module_controls(&inside);
        let counts: Vec<usize> = self
            .c
            .modules
            .get(id.index())
            .map(|m| m.connectors.iter().map(|c| c.cavities.len()).collect())
            .unwrap_or_default();
        for (c, &count) in counts.iter().enumerate() {
            for k in 0..count {
                let row = self.module_builds.get(id.index()).and_then(|b| b.row(c, k));
                let row_id = self.module_builds.get(id.index()).and_then(|b| b.rows.get(c)?.get(k).copied());
                if let (Some(row), Some(row_id)) = (row, row_id) {
                    self.connect_cavity(&mut inside, c, k, row, moved.get(&row_id));
                }
            }
        }
        self.default_ranges(id);
    }

    fn connect_cavity(
        &mut self,
        inside: &mut Inside<'a>,
        c: usize,
        k: usize,
        row: &'a tree::CavityRow,
        moved: Option<&Moved>,
    ) {
        let Some(cavity) = self.c.cavity(inside.id, c, k) else { return };
        let (outer, inner) = (cavity.outside, cavity.inside);
        let name = self.c.points.get(outer.index()).map(|p| p.name.clone()).unwrap_or_default();
        let base = match &row.name {
            Some(own) if !own.text.is_empty() => dotted(&inside.name, &own.text),
            _ => name.clone(),
        };
        let terminal = self.add_element(Element {
            name,
            from: outer,
            to: inner,
            kind: ElementKind::Terminal,
            law: Law::Joint,
            when: When::Always,
            alive: None,
            rating: None,
            owner: Owner::Module(inside.id, c, k),
            loc: self.at(row.span),
        });
        let o = &row.options;
        let limit = self.num_of(o.limit.as_ref(), LIMIT);
        let pwm = self.num_of(o.pwm.as_ref(), PWM);
        if let Some(cavity) = self.cavity_mut(inside.id, c, k) {
            cavity.terminal = terminal;
            (cavity.limit, cavity.pwm) = (limit, pwm);
        }
        let at = At { c, k, row, inside: inner, base };
        match &row.role {
            Some(tree::Role::Drives { way, to, from }) => {
                self.stage(inside, &at, *way, to.as_ref(), from.as_ref(), moved);
            }
            Some(tree::Role::Switches { rest, other }) => self.changeover(inside, &at, rest, other, moved),
            Some(tree::Role::Reference { volts }) => self.reference(inside, &at, volts.as_ref(), limit),
            Some(tree::Role::Return { switched }) => {
                let law = self.stage_law(&at);
                let when = moved.filter(|_| *switched).map_or(When::Always, |m| m.when(1));
                let ends = (at.inside, inside.ground);
                let base = at.base.clone();
                self.inner(inside, &at, base, ends, ElementKind::Return, law, when, false);
            }
            Some(tree::Role::Bus { value, .. }) => {
                let volts = self.num_of(value.as_ref(), BUS);
                if let Some(Cavity { role: Role::Bus { volts: place, .. }, .. }) =
                    self.cavity_mut(inside.id, c, k)
                {
                    *place = volts.map(|v| v.nominal);
                }
            }
            _ => {}
        }
        self.cavity_options(inside, &at);
    }

    /// What may stand in any cavity: consumption, pulls, thresholds, sharers.
    fn cavity_options(&mut self, inside: &mut Inside<'a>, at: &At<'a>) {
        let o = &at.row.options;
        if let Some(amps) = self.num_of(o.draws.as_ref(), DRAWS) {
            let law = Law::Resistance(volts_over(self.nominal_volts(), amps));
            let ends = (at.inside, inside.ground);
            let name = dotted(&at.base, "draw");
            self.inner(inside, at, name, ends, ElementKind::Draw, law, When::Always, false);
        }
        let mut rail_volts = None;
        if let Some((ohms, to)) = &o.pull_up {
            let ohms = self.num(ohms, PULL);
            let from = match to {
                PullTo::Volts(quantity) => {
                    let volts = self.quantity(quantity, RAIL);
                    rail_volts = volts;
                    volts.map(|volts| self.rail(inside, at, volts))
                }
                PullTo::Pin(name) => {
                    let node = self.node(inside, name);
                    rail_volts = node.and_then(|_| self.node_volts(inside, name));
                    if let Some(feed) = node.filter(|_| o.range.is_none() && inside.is_feed(name)) {
                        let own_threshold = o.threshold.is_some();
                        let input = (inside.id, at.c, at.k);
                        self.fed_ranges.push(FedRange { input, feed, own_threshold });
                    }
                    node
                }
            };
            match (ohms, from) {
                (Some(ohms), Some(from)) => {
                    let name = dotted(&at.base, "pull_up");
                    let ends = (from, at.inside);
                    self.inner(
                        inside,
                        at,
                        name,
                        ends,
                        ElementKind::PullUp,
                        Law::Resistance(ohms),
                        When::Always,
                        false,
                    );
                }
                _ => self.taint_cavity(inside, at),
            }
        }
        if let Some(value) = &o.pull_down {
            match self.num(value, PULL) {
                Some(ohms) => {
                    let name = dotted(&at.base, "pull_down");
                    let ends = (at.inside, inside.ground);
                    let law = Law::Resistance(ohms);
                    self.inner(inside, at, name, ends, ElementKind::PullDown, law, When::Always, false);
                }
                None => self.taint_cavity(inside, at),
            }
        }
        let threshold = self.num_of(o.threshold.as_ref(), THRESHOLD).map(|v| v.nominal);
        let range = o.range.as_ref().and_then(|r| self.range(r, PLAUSIBLE));
        if let Some(cavity) = self.cavity_mut(inside.id, at.c, at.k) {
            cavity.range = range.or(rail_volts.map(|v| (0.0, v)));
            cavity.threshold = threshold;
        }
        if let Some(names) = &o.shared_by {
            let (file, item, mode) = (self.file, self.item, self.mode);
            let of = Shared::Cavity(inside.id, at.c, at.k);
            self.pending_shares.push(PendingShare { of, names, file, item, mode });
        }
    }

    pub(super) fn taint_cavity(&mut self, inside: &Inside<'_>, at: &At<'_>) {
        if let Some(cavity) = self.c.cavity(inside.id, at.c, at.k) {
            let (one, two) = (cavity.outside, cavity.inside);
            self.taint(one);
            self.taint(two);
        }
    }

    /// Ranges and thresholds that the rows leave out: of analog inputs up to the highest reference (decision 6), of
    /// digital ones half the pull-up's voltage (common practice, no source).
    fn default_ranges(&mut self, id: ModuleId) {
        let Some(module) = self.c.modules.get_mut(id.index()) else { return };
        let cavities = || module.connectors.iter().flat_map(|c| &c.cavities);
        let top = cavities().filter_map(|k| match &k.role {
            Role::Reference { volts } => Some(volts.nominal),
            _ => None,
        });
        let top = top.reduce(f64::max);
        for cavity in module.connectors.iter_mut().flat_map(|c| &mut c.cavities) {
            match cavity.role {
                Role::Senses { digital: false } => {
                    cavity.range = cavity.range.or(top.map(|volts| (0.0, volts)));
                }
                Role::Senses { digital: true } => {
                    let rail = cavity.range.take().map(|r| r.1).or(top).unwrap_or(5.0);
                    cavity.threshold = cavity.threshold.or(Some(rail / 2.0));
                }
                _ => cavity.range = None,
            }
        }
    }

    /// Adds an element of a cavity.
    #[allow(clippy::too_many_arguments)]
    pub(super) fn inner(
        &mut self,
        inside: &Inside<'a>,
        at: &At<'a>,
        name: SmolStr,
        (from, to): (PointId, PointId),
        kind: ElementKind,
        law: Law,
        when: When,
        dies: bool,
    ) {
        let element = self.add_element(Element {
            name,
            from,
            to,
            kind,
            law,
            when,
            alive: if dies { inside.alive } else { None },
            rating: None,
            owner: Owner::Module(inside.id, at.c, at.k),
            loc: self.at(at.row.span),
        });
        if let Some(cavity) = self.cavity_mut(inside.id, at.c, at.k) {
            cavity.elements.push(element);
        }
    }

    /// A voltage inside the module that no pin shows.
    fn rail(&mut self, inside: &Inside<'a>, at: &At<'a>, volts: f64) -> PointId {
        let name = dotted(&at.base, "rail");
        let loc = self.at(at.row.span);
        let point = self.add_point(name.clone(), PointKind::Internal, Some(loc));
        let law = Law::Source { volts: Num::exact(volts), inner: Num::exact(0.0), limit: None, range: None };
        self.inner(inside, at, name, (inside.ground, point), ElementKind::Rail, law, When::Always, true);
        point
    }

    /// The feed inside a module that describes none: the first supply's volts.
    pub(super) fn own_feed(&mut self, inside: &mut Inside<'a>, at: &At<'a>) -> PointId {
        if let Some(point) = inside.own_feed {
            return point;
        }
        let name = dotted(&inside.name, "feed");
        let loc = self.at(at.row.span);
        let point = self.add_point(name.clone(), PointKind::Internal, Some(loc));
        inside.own_feed = Some(point);
        let volts = self.c.supplies.first().map_or(Num::exact(12.0), |s| s.volts);
        let range = self.c.supplies.first().and_then(|s| s.range);
        let law = Law::Source { volts, inner: Num::exact(0.0), limit: None, range };
        self.inner(inside, at, name, (inside.ground, point), ElementKind::Rail, law, When::Always, true);
        point
    }
}
