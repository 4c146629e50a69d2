//! Values to SI: dimensions, tolerances, parameters, and what cannot be.

use super::{Builder, Mode};
use crate::{
    model::Loc,
    near::nearest,
    units::{self, ZERO_CELSIUS},
    value::Num,
};
use keyon_syntax::{
    tree::{Quantity, Range, Value, ValueKind},
    unit::{Dimension, Unit},
};
use smol_str::SmolStr;

/// What is wanted in a place.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Want {
    pub(crate) dimension: Dimension,
    /// With its article: "a coil's resistance".
    pub(crate) what: &'static str,
    /// How one may be written: `24 ohm`.
    pub(crate) example: &'static str,
    least: f64,
    /// The least itself is too little.
    above: bool,
    most: f64,
    /// Why there is a least, and why there is a most.
    why_least: &'static str,
    why_most: &'static str,
    /// Kelvins that are no temperature but a difference or a constant.
    kelvin: bool,
}

impl Want {
    pub(crate) const fn new(dimension: Dimension, what: &'static str, example: &'static str) -> Self {
        Self {
            dimension,
            what,
            example,
            least: f64::NEG_INFINITY,
            above: false,
            most: f64::INFINITY,
            why_least: "",
            why_most: "",
            kelvin: false,
        }
    }
    pub(crate) const fn above(mut self, least: f64) -> Self {
        self.least = least;
        self.above = true;
        self
    }
    pub(crate) const fn from(mut self, least: f64) -> Self {
        self.least = least;
        self
    }
    pub(crate) const fn to(mut self, most: f64) -> Self {
        self.most = most;
        self
    }
    pub(crate) const fn why_least(mut self, why: &'static str) -> Self {
        self.why_least = why;
        self
    }
    pub(crate) const fn why_most(mut self, why: &'static str) -> Self {
        self.why_most = why;
        self
    }
    pub(crate) const fn kelvin(mut self) -> Self {
        self.kelvin = true;
        self
    }
    /// A resistance that may be zero, of something that joins.
    pub(crate) const fn joint(what: &'static str, example: &'static str) -> Self {
        Self::new(Dimension::Resistance, what, example).from(0.0).to(1e5).why_most(
            "what is to conduct has milliohms or ohms; mohm is a thousandth of an ohm, Mohm a million ohms",
        )
    }
    /// The resistance of a load.
    pub(crate) const fn load(what: &'static str, example: &'static str, most: f64) -> Self {
        Self::new(Dimension::Resistance, what, example)
            .above(0.0)
            .to(most)
            .why_least("with so little it would be a short")
            .why_most(
                "it would draw no current to speak of; mohm is a thousandth of an ohm, Mohm a million ohms",
            )
    }
    /// Amps above zero.
    pub(crate) const fn amps(what: &'static str, example: &'static str) -> Self {
        Self::new(Dimension::Current, what, example).above(0.0)
    }
    /// Volts above zero.
    pub(crate) const fn volts(what: &'static str, example: &'static str) -> Self {
        Self::new(Dimension::Voltage, what, example).above(0.0)
    }
    /// A temperature.
    pub(crate) const fn celsius(what: &'static str, example: &'static str) -> Self {
        Self::new(Dimension::Temperature, what, example)
            .from(-ZERO_CELSIUS)
            .why_least("nothing is colder than -273.15 degC")
    }
    /// 0 … 100 %.
    pub(crate) const fn share(what: &'static str, example: &'static str) -> Self {
        Self::new(Dimension::Ratio, what, example).from(0.0).to(1.0)
    }

    fn allows(&self, value: f64) -> bool {
        let least = if self.above { value > self.least } else { value >= self.least };
        value.is_finite() && least && value <= self.most
    }

    /// What a value that is not allowed would have to be, and why.
    fn bounds(&self, value: f64) -> (String, &'static str) {
        let show = |v| match self.kelvin {
            true => format!("{} K", units::number(v)),
            false => units::show(v, self.dimension),
        };
        if value > self.most {
            (format!("{} or less", show(self.most)), self.why_most)
        } else if value.is_nan() || self.least == f64::NEG_INFINITY {
            ("a number".to_owned(), "")
        } else if self.above {
            (format!("above {}", show(self.least)), self.why_least)
        } else {
            (format!("{} or more", show(self.least)), self.why_least)
        }
    }

    /// A value of the same digits that may have been meant: with the prefix that brings it nearest to the example.
    fn slip(&self, value: f64) -> Option<f64> {
        let usual = self.example.split_once(' ').and_then(|(number, unit)| {
            let unit = Unit::from_spelling(unit)?;
            Some(number.parse::<f64>().ok()? * unit.factor())
        })?;
        let far = |v: f64| (v / usual).ln().abs();
        [1e-9, 1e-6, 1e-3, 1e3, 1e6]
            .into_iter()
            .map(|factor| value * factor)
            .filter(|&v| v > 0.0 && self.allows(v))
            .min_by(|x, y| far(*x).total_cmp(&far(*y)))
    }
}

/// A parameter of the part being read, with its value.
#[derive(Clone, Debug)]
pub(crate) struct Bound {
    pub(crate) name: SmolStr,
    /// `None` where the declaration's word is no dimension.
    pub(crate) dimension: Option<Dimension>,
    pub(crate) num: Num,
    /// Where the device gives it.
    pub(crate) argument: Option<Loc>,
    /// No value is known: bounds are not judged.
    pub(crate) placeholder: bool,
    pub(crate) used: bool,
}

impl Builder<'_> {
    /// A value in SI, judged. `None` where it has the wrong dimension or none: that is reported.
    pub(crate) fn num(&mut self, value: &Value, want: Want) -> Option<Num> {
        let loc = self.at(value.span);
        match &value.kind {
            ValueKind::Quantity(quantity) => {
                let nominal = self.quantity(quantity, want)?;
                let num = self.tolerance(value, nominal, want)?;
                Some(num)
            }
            ValueKind::Parameter(name) => {
                let Some(index) = self.env.iter().position(|bound| bound.name == name.text) else {
                    self.unknown_parameter(name, want);
                    return None;
                };
                let bound = self.env.get_mut(index)?;
                bound.used = true;
                let bound = bound.clone();
                if let Mode::Check(part) = self.mode {
                    let loc = self.place(name);
                    let entity = crate::Entity::Param(part, index);
                    self.names.push(crate::Occurrence { loc, entity, definition: false });
                }
                let dimension = bound.dimension?;
                if dimension != want.dimension {
                    let message = format!(
                        "parameter `{}` is {}, but {} belongs here",
                        name.text,
                        units::words(dimension),
                        want.what
                    );
                    self.report("wrong-dimension", loc, message)
                        .help(format!("{} is written like `{}`", want.what, want.example));
                    return None;
                }
                let mut num = bound.num;
                if want.kelvin {
                    num = Num {
                        nominal: num.nominal + ZERO_CELSIUS,
                        low: num.low + ZERO_CELSIUS,
                        high: num.high + ZERO_CELSIUS,
                    };
                }
                let allowed = want.allows(num.nominal) && want.allows(num.low);
                if !bound.placeholder && !allowed {
                    let text =
                        format!("{} (parameter `{}`)", units::show(num.nominal, want.dimension), name.text);
                    match bound.argument {
                        Some(argument) => self.impossible(argument, &text, num.nominal, want, true),
                        None => self.impossible(loc, &text, num.nominal, want, false),
                    }
                    return None;
                }
                match value.tolerance {
                    Some(_) => self.tolerance(value, num.nominal, want),
                    None => Some(num),
                }
            }
        }
    }

    /// A value that may be left out.
    pub(crate) fn num_of(&mut self, value: Option<&Value>, want: Want) -> Option<Num> {
        value.and_then(|value| self.num(value, want))
    }

    /// A plain quantity in SI, judged.
    pub(crate) fn quantity(&mut self, quantity: &Quantity, want: Want) -> Option<f64> {
        let loc = self.at(quantity.span);
        let Some(unit) = quantity.unit else {
            self.missing_unit(loc, quantity.number, want);
            return Self::likely(quantity.number, want);
        };
        let (dimension, ..) = units::measure(unit);
        if dimension != want.dimension || (want.kelvin && unit != Unit::Kelvin) {
            let unit = want.example.rsplit(' ').next().unwrap_or("");
            self.wrong_dimension(loc, format!("{} {unit}", units::number(quantity.number)), dimension, want);
            return None;
        }
        let value = if want.kelvin { quantity.number } else { units::si(quantity)?.0 };
        if !want.allows(value) {
            let text = self.text(loc).to_owned();
            self.impossible(loc, &text, value, want, false);
            return None;
        }
        Some(value)
    }

    /// A number without its unit, in the unit of the example, or milliamps and kilohms, whichever is the more usual: so that what hangs
    /// on it is not said to be wrong as well.
    fn likely(number: f64, want: Want) -> Option<f64> {
        let (usual, unit) = want.example.split_once(' ')?;
        let in_unit = |number: f64| {
            let unit = Some(Unit::from_spelling(unit)?);
            units::si(&Quantity { number, unit, span: keyon_syntax::Span::default() }).map(|(value, _)| value)
        };
        let (value, usual) = (in_unit(number)?, in_unit(usual.parse().ok()?)?);
        let far = |v: f64| (v / usual).abs().ln().abs();
        let other = match want.dimension {
            Dimension::Current => value * 1e-3,
            Dimension::Resistance => value * 1e3,
            _ => value,
        };
        let value = if far(other) < far(value) { other } else { value };
        Some(value).filter(|value| want.allows(*value) && !want.kelvin)
    }

    fn missing_unit(&mut self, loc: Loc, number: f64, want: Want) {
        // What stands in place of a unit and is none was already reported by the parser.
        if self.has_syntax_error(loc) {
            return;
        }
        let number = units::number(number);
        let unit = want.example.rsplit(' ').next().unwrap_or(units::base_unit(want.dimension));
        self.report(
            "wrong-dimension",
            loc,
            format!(
                "`{number}` has no unit, but {} belongs here: a bare number could be anything",
                want.what
            ),
        )
        .help(format!("write the unit, such as `{number} {unit}`"))
        .write(format!("{number} {unit}"), false);
    }

    fn wrong_dimension(&mut self, loc: Loc, near: String, got: Dimension, want: Want) {
        let written = self.text(loc).to_owned();
        let what = if want.kelvin { "a number of kelvins" } else { units::words(want.dimension) };
        let message = format!(
            "`{written}` is {}, but {} belongs here: {what}, as in `{}`",
            units::words(got),
            want.what,
            want.example
        );
        self.report("wrong-dimension", loc, message)
            .help(format!("did you mean `{near}`?"))
            .write(near, false);
    }

    fn impossible(&mut self, loc: Loc, written: &str, value: f64, want: Want, always: bool) {
        let (bounds, why) = want.bounds(value);
        let mut message = format!("{} cannot be {written}: it must be {bounds}", want.what);
        if !why.is_empty() {
            message.push_str("; ");
            message.push_str(why);
        }
        let slip =
            if want.dimension == Dimension::Resistance && value != 0.0 { want.slip(value) } else { None };
        let help = match slip {
            Some(near) => format!("did you mean `{}`?", units::show(near, want.dimension)),
            None => format!("write it like `{}`", want.example),
        };
        let problem = if always {
            self.report_always("impossible-value", loc, message)
        } else {
            self.report("impossible-value", loc, message)
        };
        problem.help(help);
    }

    fn unknown_parameter(&mut self, name: &keyon_syntax::tree::Name, want: Want) {
        let loc = self.place(name);
        // What stands behind a number that is said to have no unit was meant as that.
        let start = loc.span.start.saturating_sub(1);
        if self.has_syntax_error(Loc { span: keyon_syntax::Span { start, ..loc.span }, ..loc }) {
            return;
        }
        let near = nearest(
            &name.text,
            self.env.iter().map(|b| (b.name.as_str(), b.dimension == Some(want.dimension))),
        );
        let near = near.map(str::to_owned);
        let inside = !matches!(self.mode, Mode::Own);
        let message = if inside {
            format!("`{}` is no parameter of this part, and {} belongs here", name.text, want.what)
        } else {
            format!("`{}` is no value: {} belongs here, a number with its unit", name.text, want.what)
        };
        let problem = self.report("unknown-name", loc, message);
        match near {
            Some(near) => problem.help(format!("did you mean `{near}`?")).write(near, false),
            None if inside => problem.help(format!(
                "declare it in the part's brackets, or write a value such as `{}`",
                want.example
            )),
            None => problem.help(format!("write it like `{}`", want.example)),
        };
    }

    /// The band of a value, from its `+-`.
    fn tolerance(&mut self, value: &Value, nominal: f64, want: Want) -> Option<Num> {
        let Some(by) = &value.tolerance else { return Some(Num::exact(nominal)) };
        let loc = self.at(by.span);
        let Some(unit) = by.unit else {
            self.missing_unit(loc, by.number, Want::share("a tolerance", "5 %"));
            return Some(Num::exact(nominal));
        };
        let (dimension, factor, _) = units::measure(unit);
        let half = if dimension == Dimension::Ratio && want.dimension != Dimension::Ratio {
            nominal.abs() * by.number / 100.0
        } else if dimension == want.dimension {
            by.number * factor
        } else {
            let tolerance = Want::new(want.dimension, "a tolerance", "5 %");
            let written = self.text(loc).to_owned();
            let message = format!(
                "`{written}` is {}, but the tolerance of {} is percent or {}",
                units::words(dimension),
                want.what,
                units::words(tolerance.dimension)
            );
            self.report("wrong-dimension", loc, message)
                .help(format!("write it like `+- 5 %`, or in {}", units::base_unit(want.dimension)));
            return Some(Num::exact(nominal));
        };
        let num = Num { nominal, low: nominal - half, high: nominal + half };
        if !half.is_finite()
            || half < 0.0
            || (dimension == Dimension::Ratio && by.number > 100.0)
            || !want.allows(num.low)
        {
            let written = self.text(loc).to_owned();
            let message = if half < 0.0 {
                format!(
                    "a tolerance of {written} is no tolerance: it counts to both sides and is written without a sign"
                )
            } else {
                format!(
                    "with a tolerance of {written} {} could be {}, which cannot be",
                    want.what,
                    units::show(num.low, want.dimension)
                )
            };
            self.report("impossible-value", loc, message).help("write it like `+- 5 %`");
            return Some(Num::exact(nominal));
        }
        Some(num)
    }

    /// The two ends of a range in SI, as they are written.
    pub(crate) fn range_ends(&mut self, range: &Range, want: Want) -> Option<(f64, f64)> {
        let low = match (&range.low.kind, &range.high.kind) {
            (ValueKind::Quantity(low), ValueKind::Quantity(high)) if low.unit.is_none() => {
                let low = Quantity { unit: high.unit, ..low.clone() };
                Value { kind: ValueKind::Quantity(low), ..range.low.clone() }
            }
            _ => range.low.clone(),
        };
        if let (ValueKind::Quantity(first), ValueKind::Quantity(second)) = (&low.kind, &range.high.kind)
            && let (Some(one), Some(two)) = (first.unit, second.unit)
            && one.dimension() == two.dimension()
            && one.dimension() != want.dimension
        {
            // One mistake, not two.
            let loc = self.at(range.span);
            let unit = want.example.rsplit(' ').next().unwrap_or("");
            let near = format!("{} .. {} {unit}", units::number(first.number), units::number(second.number));
            self.wrong_dimension(loc, near, one.dimension(), want);
            return None;
        }
        let high = self.num(&range.high, want);
        let low = self.num(&low, want);
        Some((low?.nominal, high?.nominal))
    }

    /// A range in SI, lower end first.
    pub(crate) fn range(&mut self, range: &Range, want: Want) -> Option<(f64, f64)> {
        let (low, high) = self.range_ends(range, want)?;
        let judged = !self.is_placeholder(&range.low) && !self.is_placeholder(&range.high);
        if low > high && judged {
            let loc = self.at(range.span);
            let message = format!(
                "this range of {} runs backwards: {} lies above {}",
                want.what,
                units::show(low, want.dimension),
                units::show(high, want.dimension)
            );
            self.report("impossible-value", loc, message).help("write the lower end first");
            return None;
        }
        (low <= high).then_some((low, high))
    }

    /// Whether a value is a parameter whose value is not known here.
    pub(crate) fn is_placeholder(&self, value: &Value) -> bool {
        match &value.kind {
            ValueKind::Parameter(name) => self.env.iter().any(|b| b.name == name.text && b.placeholder),
            ValueKind::Quantity(_) => false,
        }
    }

    /// The dimension of a value as written, if it can be told.
    pub(crate) fn dimension_of(&self, value: &Value) -> Option<Dimension> {
        match &value.kind {
            ValueKind::Quantity(quantity) => quantity.unit.map(|unit| units::measure(unit).0),
            ValueKind::Parameter(name) => {
                self.env.iter().find(|b| b.name == name.text).and_then(|b| b.dimension)
            }
        }
    }

    /// Whether the parser reported something in this place.
    pub(crate) fn has_syntax_error(&self, loc: Loc) -> bool {
        let Some(file) = self.files.get(loc.file.index()) else { return false };
        let start = file.parse.file.items.get(loc.item as usize).map_or(0, |placed| placed.start);
        let span = loc.span.moved(start);
        let errors = &file.parse.errors;
        // Errors are in source order.
        let first = errors.partition_point(|error| error.span.end < span.start);
        errors.get(first).is_some_and(|error| error.span.start <= span.end)
    }
}
