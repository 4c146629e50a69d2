//! Stages, changeovers and references of a module, and the nodes inside it that they lead to.

use super::{
    Builder,
    cavities::{At, Inside, LIMIT},
    connect::resistance_or_joint,
    gangs::Moved,
    values::Want,
};
use crate::{Entity, ids::*, joined::dotted, model::*, near::nearest, value::Num};
use keyon_syntax::tree::{self, Name, Way};

const ON: Want = Want::joint("the resistance of a stage", "120 mohm");
const INNER: Want = Want::joint("the inner resistance of a reference", "5 ohm").to(1e6);
const REFERENCE: Want = Want::volts("a reference's voltage", "5 V").to(1e3);

impl<'a> Builder<'a> {
    pub(super) fn stage_law(&mut self, at: &At<'a>) -> Law {
        resistance_or_joint(self.num_of(at.row.options.on.as_ref(), ON))
    }

    pub(super) fn stage(
        &mut self,
        inside: &mut Inside<'a>,
        at: &At<'a>,
        way: Way,
        to: Option<&'a Name>,
        from: Option<&'a Name>,
        moved: Option<&Moved>,
    ) {
        let law = self.stage_law(at);
        let when = |place| moved.map_or(When::Never, |m| m.when(place));
        if matches!(way, Way::Low | Way::Half) {
            let ground = match to {
                Some(name) => self.node(inside, name),
                None => Some(inside.ground),
            };
            let name = if way == Way::Half { dotted(&at.base, "low") } else { at.base.clone() };
            match ground {
                Some(ground) => {
                    let ends = (at.inside, ground);
                    self.inner(inside, at, name, ends, ElementKind::Stage, law.clone(), when(1), true);
                }
                None => self.taint_cavity(inside, at),
            }
        }
        if matches!(way, Way::High | Way::Half) {
            let feed = match from {
                Some(name) => self.node(inside, name),
                None => Some(inside.feed.unwrap_or_else(|| self.own_feed(inside, at))),
            };
            let (name, place) =
                if way == Way::Half { (dotted(&at.base, "high"), 2) } else { (at.base.clone(), 1) };
            match feed {
                Some(feed) => {
                    let ends = (feed, at.inside);
                    self.inner(inside, at, name, ends, ElementKind::Stage, law, when(place), true);
                }
                None => self.taint_cavity(inside, at),
            }
        }
    }

    pub(super) fn changeover(
        &mut self,
        inside: &mut Inside<'a>,
        at: &At<'a>,
        rest: &'a Name,
        other: &'a Name,
        moved: Option<&Moved>,
    ) {
        let law = self.stage_law(at);
        if rest.text == other.text && !rest.text.is_empty() {
            let loc = self.at(rest.span.to(other.span));
            self.report("impossible-value", loc, format!("both places of this switch are `{}`", rest.text))
                .help("name two different points inside the module, the one at rest first");
        }
        for (place, target) in [rest, other].into_iter().enumerate() {
            let Some(node) = self.node(inside, target) else {
                self.taint_cavity(inside, at);
                continue;
            };
            // Current is positive from what feeds to what is fed.
            let feeds =
                inside.rows.get(target.text.as_str()).and_then(|&id| inside.row(id)).is_some_and(|row| {
                    matches!(row.role, Some(tree::Role::Feed | tree::Role::Reference { .. }))
                });
            let ends = if feeds { (node, at.inside) } else { (at.inside, node) };
            let name = dotted(&at.base, &target.text);
            let when = moved.map_or(When::Never, |m| m.when(place));
            self.inner(inside, at, name, ends, ElementKind::Stage, law.clone(), when, true);
        }
    }

    pub(super) fn reference(
        &mut self,
        inside: &mut Inside<'a>,
        at: &At<'a>,
        volts: Option<&tree::Value>,
        limit: Option<Num>,
    ) {
        let stated = self.num_of(volts, REFERENCE);
        if stated.is_none() {
            self.taint_cavity(inside, at);
        }
        let volts = stated.unwrap_or(Num::exact(5.0));
        if let Some(cavity) = self.cavity_mut(inside.id, at.c, at.k) {
            cavity.role = Role::Reference { volts };
        }
        let resistance = self.num_of(at.row.options.inner.as_ref(), INNER).unwrap_or(Num::exact(0.0));
        let law = Law::Source { volts, inner: resistance, limit, range: None };
        let ends = (inside.ground, at.inside);
        let base = at.base.clone();
        self.inner(inside, at, base, ends, ElementKind::Reference, law, When::Always, true);
    }

    /// The node inside the module that a row names: the inside of its cavity. One that is not shown gets a node.
    pub(super) fn node(&mut self, inside: &mut Inside<'a>, name: &'a Name) -> Option<PointId> {
        if name.text.is_empty() {
            return None;
        }
        let Some(&id) = inside.rows.get(name.text.as_str()) else {
            self.unknown_node(inside, name);
            return None;
        };
        if let Some(&(c, k)) = inside.cavities.get(&id) {
            let loc = self.place(name);
            self.occurs(loc, Entity::Cavity(inside.id, c, k), false);
            return self.c.cavity(inside.id, c, k).map(|k| k.inside);
        }
        if let Some(&point) = inside.hidden.get(name.text.as_str()) {
            return Some(point);
        }
        let row = inside.row(id)?;
        let full = dotted(&inside.name, &name.text);
        let loc = self.at(row.span);
        let point = self.add_point(full.clone(), PointKind::Internal, Some(loc));
        inside.hidden.insert(name.text.as_str(), point);
        if let Some(tree::Role::Reference { volts }) = &row.role
            && let Some(volts) = self.num_of(volts.as_ref(), REFERENCE)
        {
            let resistance = self.num_of(row.options.inner.as_ref(), INNER).unwrap_or(Num::exact(0.0));
            let limit = self.num_of(row.options.limit.as_ref(), LIMIT);
            let law = Law::Source { volts, inner: resistance, limit, range: None };
            self.add_element(Element {
                name: full,
                from: inside.ground,
                to: point,
                kind: ElementKind::Rail,
                law,
                when: When::Always,
                alive: inside.alive,
                rating: None,
                owner: Owner::Module(inside.id, 0, 0),
                loc,
            });
        }
        Some(point)
    }

    /// The volts that a pull-up to this row leads to, as far as the row says.
    pub(super) fn node_volts(&mut self, inside: &Inside<'a>, name: &Name) -> Option<f64> {
        let row = inside.rows.get(name.text.as_str()).and_then(|&id| inside.row(id))?;
        match &row.role {
            Some(tree::Role::Reference { volts }) => {
                self.num_of(volts.as_ref(), REFERENCE).map(|v| v.nominal)
            }
            Some(tree::Role::Feed) => Some(self.nominal_volts()),
            _ => None,
        }
    }

    fn unknown_node(&mut self, inside: &Inside<'a>, name: &Name) {
        if self.open_ended.contains(&inside.name) {
            return;
        }
        let loc = self.place(name);
        let search = self.may_search();
        let mut names: Vec<&str> = inside.rows.keys().copied().filter(|_| search).collect();
        names.sort_unstable();
        let near = nearest(&name.text, names.iter().map(|n| (*n, true))).map(str::to_owned);
        let message = format!("`{}` has no cavity named `{}` to lead to inside", inside.name, name.text);
        let problem = self.report("unknown-name", loc, message);
        match near {
            Some(near) => problem.help(format!("did you mean `{near}`?")).write(near, false),
            None => problem.help("name a feed, ground or reference of this module by its cavity's name"),
        };
    }
}
