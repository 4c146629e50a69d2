//! Rows of `expect` and `readings`, and symptoms: what is measured or seen, and what it is said to be.

use super::{Builder, names::is_point, setups::is_stretch};
use crate::{Entity, ids::*, model::*, near::nearest, units};
use keyon_syntax::{
    tree::{self, Name, Quantity, ValueKind},
    unit::Dimension,
};

/// States of a point.
const NODE: [&str; 8] =
    ["fed", "grounded", "referenced", "fed via load", "grounded via load", "between", "open", "clash"];
/// States of a device or a load.
const DEVICE: [&str; 7] =
    ["operates", "operates forward", "operates reverse", "weak", "rests", "chatters", "holds"];
/// States of a fuse.
const FUSE: [&str; 2] = ["blown", "good"];
/// What a digital input reads.
const DIGITAL: [&str; 2] = ["high", "low"];
/// What a test lamp shows.
const LAMP: [&str; 3] = ["bright", "dim", "dark"];

/// What kind of thing an assertion is about.
#[derive(Clone, Copy, PartialEq)]
enum About {
    Value(Dimension),
    Node,
    Device,
    Fuse,
    Digital,
    Lamp,
}

/// What an assertion can be about, where that leaves no choice: a device operates, a point has volts.
fn narrower(assertion: &tree::Assertion) -> Option<fn(&Circuit, Entity) -> bool> {
    let volts = |q: &Quantity| units::si(q).is_some_and(|(_, dimension)| dimension == Dimension::Voltage);
    let end = |value: &tree::Value| match &value.kind {
        ValueKind::Quantity(q) => volts(q),
        ValueKind::Parameter(_) => false,
    };
    let is_volts = match assertion {
        tree::Assertion::State(name) if DEVICE.contains(&name.text.as_str()) => {
            return Some(|_, entity| matches!(entity, Entity::Device(_) | Entity::Element(_)));
        }
        tree::Assertion::State(name) => {
            let word = name.text.as_str();
            NODE.contains(&word) || DIGITAL.contains(&word)
        }
        tree::Assertion::Below(q) | tree::Assertion::Above(q) | tree::Assertion::Is(q) => volts(q),
        tree::Assertion::About(q, _) => volts(q),
        tree::Assertion::Range(range) => end(&range.high),
    };
    is_volts.then_some(is_point)
}

impl Builder<'_> {
    pub(super) fn rows(&mut self, rows: &[tree::Row]) -> Vec<Row> {
        rows.iter().filter_map(|row| self.row(row)).collect()
    }

    /// One row; `None` where a name or a value means nothing.
    pub(super) fn row(&mut self, row: &tree::Row) -> Option<Row> {
        let mut settings = Settings::default();
        let before = self.problems.len();
        for setting in &row.with_settings {
            self.setting(setting, &mut settings);
        }
        self.setups(&row.with_setups, &mut settings.changes);
        let unsure = self.problems.len() > before;
        let assertion = row.assertion.as_ref()?;
        let before = self.problems.len();
        let probe = self.subject(&row.probe, assertion);
        if matches!(assertion, tree::Assertion::State(_)) && self.problems.len() > before {
            // What it is not known of needs no word of its own.
            return None;
        }
        let (assertion, about) = self.assertion(assertion, &probe)?;
        if unsure {
            return None;
        }
        let probe = self.probe(&row.probe, probe, about)?;
        Some(Row { probe, assertion, settings, loc: self.at(row.span) })
    }

    /// What the first name of a probe means, where it is one thing.
    fn subject(&mut self, probe: &tree::Probe, assertion: &tree::Assertion) -> Option<Entity> {
        let tree::Probe::One(name) = probe else { return None };
        // A device and a driver of one name: what is said of it tells which is meant.
        if let Some(narrow) = narrower(assertion)
            && self.may_mean(name, &narrow) == 1
        {
            return self.resolve(name, "something to measure", &narrow);
        }
        let measurable = |c: &Circuit, entity: Entity| {
            is_point(c, entity)
                || matches!(
                    entity,
                    Entity::Device(_) | Entity::Element(_) | Entity::Fuse(_) | Entity::Wire(_)
                )
        };
        self.resolve(name, "something to measure (a point, a device, a fuse, a wire, an input)", &measurable)
    }

    /// A quantity of whatever dimension.
    fn plain(&mut self, quantity: &Quantity) -> Option<(f64, Dimension)> {
        let found = units::si(quantity);
        let loc = self.at(quantity.span);
        match found {
            Some((value, _)) if !value.is_finite() => {
                self.report("impossible-value", loc, "this number is too large to be meant".to_owned())
                    .help("check its exponent");
                None
            }
            Some(found) => Some(found),
            None => {
                if !self.has_syntax_error(loc) {
                    let number = units::number(quantity.number);
                    let message = format!("`{number}` has no unit: a bare number could be anything");
                    self.report("wrong-dimension", loc, message).help("write volts, amps or ohms: `0.4 V`");
                }
                None
            }
        }
    }

    fn assertion(
        &mut self,
        assertion: &tree::Assertion,
        subject: &Option<Entity>,
    ) -> Option<(Assertion, About)> {
        let made = match assertion {
            tree::Assertion::Below(q) => {
                let (value, d) = self.plain(q)?;
                (Assertion::Below(value, d), About::Value(d))
            }
            tree::Assertion::Above(q) => {
                let (value, d) = self.plain(q)?;
                (Assertion::Above(value, d), About::Value(d))
            }
            tree::Assertion::Is(q) => {
                let (value, d) = self.plain(q)?;
                (Assertion::Is(value, d), About::Value(d))
            }
            tree::Assertion::About(q, by) => {
                let (value, d) = self.plain(q)?;
                let half = self.half_width(q, by)?;
                (Assertion::Between(value - half, value + half, d), About::Value(d))
            }
            tree::Assertion::Range(range) => {
                let (low, high, d) = self.window(range)?;
                (Assertion::Between(low, high, d), About::Value(d))
            }
            tree::Assertion::State(name) => {
                let about = self.state_word(name, subject)?;
                (Assertion::State(name.text.clone()), about)
            }
        };
        Some(made)
    }

    fn half_width(&mut self, value: &Quantity, by: &Quantity) -> Option<f64> {
        let (nominal, dimension) = units::si(value)?;
        let (half, of) = self.plain(by)?;
        let factor = by.unit.map_or(1.0, |unit| units::measure(unit).1);
        let half = match of {
            Dimension::Ratio if dimension != Dimension::Ratio => nominal.abs() * half,
            _ if of == dimension => by.number * factor,
            _ => {
                let loc = self.at(by.span);
                let message = format!(
                    "{} stands behind +-, and {} before it",
                    units::words(of),
                    units::words(dimension)
                );
                self.report("wrong-dimension", loc, message)
                    .help(format!("write percent, or {}", units::base_unit(dimension)));
                return None;
            }
        };
        if half < 0.0 {
            let loc = self.at(by.span);
            self.report(
                "impossible-value",
                loc,
                "what follows +- counts to both sides: it has no sign".to_owned(),
            );
            return None;
        }
        Some(half)
    }

    fn window(&mut self, range: &tree::Range) -> Option<(f64, f64, Dimension)> {
        let quantity = |kind: &ValueKind| match kind {
            ValueKind::Quantity(q) => Some(q.clone()),
            ValueKind::Parameter(_) => None,
        };
        for value in [&range.low, &range.high] {
            if let ValueKind::Parameter(name) = &value.kind {
                let loc = self.place(name);
                self.report("unknown-name", loc, format!("`{}` is no value here", name.text))
                    .help("write a number and its unit");
                return None;
            }
        }
        let (mut low, high) = (quantity(&range.low.kind)?, quantity(&range.high.kind)?);
        low.unit = low.unit.or(high.unit);
        let (high, of_high) = self.plain(&high)?;
        let (low, of_low) = self.plain(&low)?;
        let loc = self.at(range.span);
        if of_low != of_high {
            let message = format!(
                "this range begins with {} and ends with {}",
                units::words(of_low),
                units::words(of_high)
            );
            self.report("wrong-dimension", loc, message).help("write both ends in the same unit");
            return None;
        }
        if low > high {
            let show = |v| units::show(v, of_low);
            let message = format!("this range runs backwards: {} lies above {}", show(low), show(high));
            self.report("impossible-value", loc, message).help("write the lower end first");
            return None;
        }
        Some((low, high, of_low))
    }

    fn state_word(&mut self, name: &Name, subject: &Option<Entity>) -> Option<About> {
        let word = name.text.as_str();
        let lists: [(&[&'static str], About); 5] = [
            (&DEVICE, About::Device),
            (&NODE, About::Node),
            (&FUSE, About::Fuse),
            (&DIGITAL, About::Digital),
            (&LAMP, About::Lamp),
        ];
        if let Some((_, about)) = lists.iter().find(|(list, _)| list.contains(&word)) {
            return Some(*about);
        }
        let grades: Vec<&str> = match subject {
            Some(Entity::Device(d)) => {
                let device = self.c.devices.get(d.index());
                device.map(|d| d.grades.iter().map(|(name, _)| name.as_str()).collect()).unwrap_or_default()
            }
            _ => Vec::new(),
        };
        if grades.contains(&word) {
            return Some(About::Device);
        }
        let loc = self.place(name);
        if self.has_syntax_error(loc) || word.is_empty() {
            return None;
        }
        let known = lists.iter().flat_map(|(list, _)| list.iter().copied()).chain(grades);
        let near = nearest(word, known.map(|w| (w, true))).map(str::to_owned);
        let problem =
            self.report("unknown-name", loc, format!("`{word}` is no state that anything here can have"));
        match near {
            Some(near) => problem.help(format!("did you mean `{near}`?")).write(near, false),
            None => {
                problem.help("a device operates, rests or is weak; a point is fed, grounded, between or open")
            }
        };
        None
    }

    fn probe(&mut self, probe: &tree::Probe, subject: Option<Entity>, about: About) -> Option<Probe> {
        match probe {
            tree::Probe::One(name) => self.probe_of(name, subject?, about),
            tree::Probe::Across(red, black) => {
                let (a, b) = (self.net_named(red), self.net_named(black));
                self.wants(red, about, Dimension::Voltage, "two leads read a voltage")?;
                Some(Probe::Across(a?, b?))
            }
            tree::Probe::Ohms(red, black) => {
                let (a, b) = (self.net_named(red), self.net_named(black));
                self.wants(red, about, Dimension::Resistance, "`ohms` reads a resistance")?;
                Some(Probe::Ohms(a?, b?))
            }
            tree::Probe::Clamp(name) => {
                let fits = |c: &Circuit, entity: Entity| {
                    c.element_of(entity).is_some() || matches!(entity, Entity::Wire(_))
                };
                let entity = self.resolve(name, "something that carries a current", &fits);
                self.wants(name, about, Dimension::Current, "a clamp reads a current")?;
                self.carrier(entity?).map(Probe::Clamp)
            }
            tree::Probe::Lamp(name, to) => {
                let a = self.net_named(name);
                let b = match to {
                    Some(to) => self.net_named(to),
                    None => Some(COMMON),
                };
                if about != About::Lamp {
                    let loc = self.place(name);
                    self.report("wrong-dimension", loc, "a test lamp is bright, dim or dark".to_owned())
                        .help("write one of the three behind it");
                    return None;
                }
                Some(Probe::Lamp(a?, b?))
            }
        }
    }

    fn wants(&mut self, name: &Name, about: About, dimension: Dimension, words: &str) -> Option<()> {
        if about == About::Value(dimension) {
            return Some(());
        }
        let loc = self.place(name);
        self.report("wrong-dimension", loc, format!("{words}, and something else is said here"))
            .help(format!("write a value in {}", units::base_unit(dimension)));
        None
    }

    /// The element whose current an entity means.
    fn carrier(&self, entity: Entity) -> Option<ElementId> {
        match entity {
            Entity::Wire(w) => self.c.wires.get(w.index())?.stretches.first().map(|s| s.element),
            other => self.c.element_of(other),
        }
    }

    fn ends_of(&self, element: ElementId) -> Option<(PointId, PointId)> {
        self.c.elements.get(element.index()).map(|e| (e.from, e.to))
    }

    fn probe_of(&mut self, name: &Name, entity: Entity, about: About) -> Option<Probe> {
        use Dimension::{Current, Resistance, Voltage};
        let wire = matches!(entity, Entity::Wire(_)) || is_stretch(&self.c, entity);
        let element = self.carrier(entity);
        let point = self.c.point_of(entity);
        let two_pins = match entity {
            Entity::Device(d) => match self.c.devices.get(d.index()).map(|d| d.pins.as_slice()) {
                Some([one, two]) => Some((one.outside, two.outside)),
                _ => None,
            },
            Entity::Fuse(e) => self.ends_of(e),
            Entity::Element(e) => self.ends_of(e),
            _ => None,
        };
        let found = match (entity, about) {
            (Entity::Cavity(m, c, k), About::Value(Voltage) | About::Digital)
                if self.is_input(name, m, c, k) =>
            {
                Some(Probe::Input(m, c, k))
            }
            (Entity::Cavity(..), About::Digital) => None,
            (Entity::Device(d), About::Value(Current) | About::Device) => Some(Probe::Device(d)),
            (Entity::Device(_) | Entity::Element(_) | Entity::Fuse(_), About::Value(Voltage)) if !wire => {
                two_pins.map(|(a, b)| Probe::Across(a, b))
            }
            (Entity::Device(_) | Entity::Element(_) | Entity::Wire(_), About::Value(Resistance)) => {
                let ends = two_pins.or_else(|| element.and_then(|e| self.ends_of(e)));
                ends.map(|(a, b)| Probe::Ohms(a, b))
            }
            (Entity::Fuse(e), About::Fuse | About::Value(Current)) => Some(Probe::Element(e)),
            (Entity::Fuse(_), _) => None,
            (_, About::Value(Current)) => element.map(Probe::Element),
            (Entity::Element(e), About::Device) if !wire => Some(Probe::Element(e)),
            (_, About::Value(Voltage) | About::Node) => point.map(Probe::Point),
            _ => None,
        };
        if found.is_none() {
            self.mismatch(name, entity, about);
        }
        found
    }

    /// Whether the name means what the module reads, not what a probe at the pin reads.
    fn is_input(&self, name: &Name, m: ModuleId, c: usize, k: usize) -> bool {
        self.c.cavity(m, c, k).is_some_and(|cavity| {
            matches!(cavity.role, Role::Senses { .. })
                && name.text.rsplit('.').next() == Some(cavity.name.as_str())
        })
    }

    fn mismatch(&mut self, name: &Name, entity: Entity, about: About) {
        let is = super::report::a_kind(&self.c, entity);
        let said = match about {
            About::Value(dimension) => units::words(dimension).to_owned(),
            About::Node => "the state of a point".to_owned(),
            About::Device => "what a device does".to_owned(),
            About::Fuse => "the state of a fuse".to_owned(),
            About::Digital => "what a digital input reads".to_owned(),
            About::Lamp => "what a test lamp shows".to_owned(),
        };
        let loc = self.place(name);
        let help = match (entity, about) {
            (Entity::Device(d), About::Node | About::Value(Dimension::Voltage)) => {
                let pin = self.c.devices.get(d.index()).and_then(|d| d.pins.first()).map(|p| p.name.clone());
                format!("name one of its pins: `{}.{}`", name.text, pin.unwrap_or_default())
            }
            (Entity::Splice(_), About::Value(Dimension::Current)) => {
                "name a wire that lands on it".to_owned()
            }
            _ => "points have volts and states, devices and wires have amps, devices operate or rest"
                .to_owned(),
        };
        self.report(
            "wrong-dimension",
            loc,
            format!("`{}` is {is}, and {said} cannot be said of it", name.text),
        )
        .help(help);
    }
}
