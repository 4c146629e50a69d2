//! What follows something outside the circuit: thermistors, variable resistances, tracks, transducers.

use super::{Builder, values::Want};
use crate::{
    ids::*,
    model::*,
    units::{self, ZERO_CELSIUS},
    value::Num,
};
use keyon_syntax::{
    tree::{self, Range, StimulusClauses, Value},
    unit::Dimension,
};

const THERMISTOR: Want = Want::load("a thermistor's resistance", "2.5 kohm", 1e9);
const AT: Want = Want::celsius("the temperature of a thermistor's resistance", "25 degC");
const BETA: Want = Want::new(Dimension::Temperature, "a thermistor's beta", "3500 K")
    .from(100.0)
    .to(20_000.0)
    .why_least("those of real sensors lie between 2000 K and 5000 K")
    .why_most("those of real sensors lie between 2000 K and 5000 K")
    .kelvin();
const VARIABLE: Want =
    Want::new(Dimension::Resistance, "a variable resistance", "0 .. 10 kohm").from(0.0).to(1e12);
const TRACK: Want = Want::new(Dimension::Resistance, "a track's resistance", "5 kohm")
    .from(1.0)
    .to(1e9)
    .why_least("less would short its reference; mohm is a thousandth of an ohm, Mohm a million ohms");
const TRAVEL: Want = Want::share("the travel", "5 .. 95 %");
const OUTPUT: Want = Want::new(Dimension::Voltage, "a transducer's output", "0.5 .. 4.5 V");
const CELSIUS: Want = Want::celsius("the temperature", "25 degC");

impl Builder<'_> {
    /// A stimulus of the element that is about to be added.
    fn stimulus(
        &mut self,
        kind: StimulusKind,
        clauses: &StimulusClauses,
        nominal: f64,
        span: (f64, f64),
        described: bool,
    ) -> StimulusId {
        let want = want_of(kind);
        let given = clauses.span.as_ref().and_then(|r| self.range(r, want));
        let said = self.num_of(clauses.nominal.as_ref(), want).map(|n| n.nominal);
        let stated = given.is_some() || (described && clauses.span.is_none());
        let span = given.unwrap_or(span);
        let nominal = match said {
            Some(said) => {
                if (said < span.0 || said > span.1)
                    && let Some(value) = &clauses.nominal
                    && !self.is_placeholder(value)
                {
                    let dimension = want.dimension;
                    let message = format!(
                        "the nominal value {} lies outside the span {} .. {}",
                        units::show(said, dimension),
                        units::show(span.0, dimension),
                        units::show(span.1, dimension)
                    );
                    let loc = self.at(value.span);
                    self.report("impossible-value", loc, message)
                        .help("widen the span, or take a value within it");
                }
                said
            }
            // A span that leaves the usual nominal value out has its middle for one.
            None if nominal < span.0 || nominal > span.1 => (span.0 + span.1) / 2.0,
            None => nominal,
        };
        let id = StimulusId::from(self.c.stimuli.len());
        let element = ElementId::from(self.c.elements.len());
        let loc = self.at(keyon_syntax::Span::default());
        let (name, unit) = (Default::default(), None);
        self.c.stimuli.push(Stimulus { name, kind, nominal, span, stated, unit, element, loc });
        id
    }

    pub(super) fn thermistor(
        &mut self,
        curve: Option<&tree::Curve>,
        clauses: &StimulusClauses,
    ) -> (Law, bool) {
        let (mut nominal, mut span) = (25.0, (-40.0, 120.0));
        let (mut stand_in, mut described) = (false, false);
        let curve = match curve {
            Some(tree::Curve::Beta { ohms, at, beta }) => {
                let r0 = self.num(ohms, THERMISTOR);
                let t0 = self.num(at, AT);
                let beta = self.num(beta, BETA);
                stand_in = r0.is_none() || t0.is_none() || beta.is_none();
                nominal = t0.map_or(nominal, |t| t.nominal);
                let r0 = r0.unwrap_or(Num::exact(2.5e3));
                Curve::Beta { r0, t0: nominal, beta: beta.unwrap_or(Num::exact(3500.0)) }
            }
            Some(tree::Curve::Steinhart { at, a, b, c, span: words }) => {
                if let Some(t) = at.as_ref().and_then(|(_, t)| self.num(t, AT)) {
                    nominal = t.nominal;
                }
                let curve = Curve::Steinhart { a: *a, b: *b, c: *c };
                stand_in = !self.steinhart_is_sound(*a, *b, *c, *words, nominal, at.as_ref().map(|(r, _)| r));
                if stand_in {
                    Curve::Beta { r0: Num::exact(2.5e3), t0: 25.0, beta: Num::exact(3500.0) }
                } else {
                    curve
                }
            }
            Some(tree::Curve::Table { at, rows, span: words }) => {
                let rows = self.table(rows, *words);
                if let (Some(first), Some(last)) = (rows.first(), rows.last()) {
                    span = (first.0, last.0);
                    described = rows.len() >= 2;
                    nominal = nominal.clamp(span.0, span.1);
                }
                if let Some((ohms, t)) = at {
                    self.num(ohms, THERMISTOR);
                    nominal = self.num(t, AT).map_or(nominal, |t| t.nominal);
                }
                if rows.len() >= 2 {
                    Curve::Table(rows)
                } else {
                    stand_in = true;
                    span = (-40.0, 120.0);
                    Curve::Beta { r0: Num::exact(2.5e3), t0: 25.0, beta: Num::exact(3500.0) }
                }
            }
            None => {
                stand_in = true;
                Curve::Beta { r0: Num::exact(2.5e3), t0: 25.0, beta: Num::exact(3500.0) }
            }
        };
        let stimulus = self.stimulus(StimulusKind::Temperature, clauses, nominal, span, described);
        (Law::Thermistor { curve, stimulus }, stand_in)
    }

    /// Whether the three numbers give a positive resistance that agrees with the stated one.
    fn steinhart_is_sound(
        &mut self,
        a: f64,
        b: f64,
        c: f64,
        span: keyon_syntax::Span,
        celsius: f64,
        stated: Option<&Value>,
    ) -> bool {
        let stated = stated.and_then(|value| self.num(value, THERMISTOR));
        let curve = Curve::Steinhart { a, b, c };
        let ohms = curve.ohms(celsius);
        let loc = self.at(span);
        if !ohms.is_some_and(|r| r.is_finite() && r > 0.0 && r < 1e9) {
            self.report(
                "impossible-value",
                loc,
                format!("these three numbers give no resistance at {}", units::show(celsius, Dimension::Temperature)),
            )
            .help("they are A, B, C of 1/T = A + B ln R + C (ln R)^3 in kelvin and ohms, such as 1.129e-3 2.341e-4 8.775e-8");
            return false;
        }
        let ends = (curve.ohms(-40.0), curve.ohms(120.0));
        if let (Some(cold), Some(hot)) = ends
            && cold / hot < 1.2
        {
            self.report(
                "impossible-value",
                loc,
                "these three numbers give a resistance that does not fall as it gets warmer".to_owned(),
            )
            .help("they are A, B, C of 1/T = A + B ln R + C (ln R)^3 in kelvin and ohms, such as 1.129e-3 2.341e-4 8.775e-8");
            return false;
        }
        if let (Some(stated), Some(ohms)) = (stated, ohms)
            && (ohms / stated.nominal - 1.0).abs() > 0.1
        {
            let message = format!(
                "the curve gives {} at {}, not the {} that is stated",
                units::show(ohms, Dimension::Resistance),
                units::show(celsius, Dimension::Temperature),
                units::show(stated.nominal, Dimension::Resistance)
            );
            self.report("impossible-value", loc, message)
                .help("check the three numbers, or the stated resistance");
        }
        true
    }

    /// The rows of a table, sorted by temperature.
    fn table(
        &mut self,
        rows: &[(tree::Quantity, tree::Quantity)],
        span: keyon_syntax::Span,
    ) -> Vec<(f64, f64)> {
        let mut sound = Vec::with_capacity(rows.len());
        for (t, r) in rows {
            if let (Some(t), Some(r)) = (self.quantity(t, AT), self.quantity(r, THERMISTOR)) {
                sound.push((t, r));
            }
        }
        sound.sort_by(|x, y| x.0.total_cmp(&y.0));
        let loc = self.at(span);
        if let Some(pair) = sound.windows(2).find(|pair| matches!(pair, [x, y] if x.0 == y.0)) {
            let t = pair.first().map_or(0.0, |x| x.0);
            let message = format!("the table has two rows for {}", units::show(t, Dimension::Temperature));
            self.report("impossible-value", loc, message).help("keep one row a temperature");
            sound.dedup_by(|x, y| x.0 == y.0);
        }
        if sound.len() < 2 && rows.len() < 2 && !self.has_syntax_error(loc) {
            self.report("impossible-value", loc, "a table of fewer than two rows gives no curve".to_owned())
                .help("write two rows or more: `0 degC 8 kohm, 25 degC 2.5 kohm`");
        }
        sound
    }

    pub(super) fn variable(&mut self, range: Option<&Range>, clauses: &StimulusClauses) -> (Law, bool) {
        let given = range.and_then(|r| self.range(r, VARIABLE));
        let (low, high) = given.unwrap_or((0.0, 1e4));
        let stimulus = self.stimulus(
            StimulusKind::Resistance,
            clauses,
            (low + high) / 2.0,
            (low, high),
            given.is_some(),
        );
        (Law::Variable { low, high, stimulus }, given.is_none())
    }

    /// Ohms, used part and stimulus of a track whose upper part is about to be added.
    pub(super) fn track(
        &mut self,
        ohms: Option<&Value>,
        travel: Option<&Range>,
        clauses: &StimulusClauses,
    ) -> (Law, bool) {
        let resistance = self.num_of(ohms, TRACK);
        // The second track of a pair falls while the first one rises.
        let given = travel.map(|r| self.range_ends(r, TRAVEL));
        let unreadable = given == Some(None);
        let travel = given.flatten().unwrap_or((0.0, 1.0));
        let stimulus = self.stimulus(StimulusKind::Travel, clauses, 0.5, (0.0, 1.0), true);
        let law = Law::Track { ohms: resistance.unwrap_or(Num::exact(5e3)), travel, stimulus };
        (law, resistance.is_none() || unreadable)
    }

    /// The law of a three-wire transducer with its feed.
    pub(super) fn transducer(
        &mut self,
        feed: PointId,
        volts: Option<&Range>,
        over: Option<&Range>,
        ratio: bool,
        clauses: &StimulusClauses,
    ) -> (Law, bool) {
        let output = volts.and_then(|r| self.range_either_way(r, OUTPUT));
        let dimension = over.and_then(|r| self.dimension_of(&r.high)).unwrap_or(Dimension::Pressure);
        let kind = match dimension {
            Dimension::Temperature => StimulusKind::Temperature,
            Dimension::Resistance => StimulusKind::Resistance,
            other => StimulusKind::Over(other),
        };
        let unit = over.and_then(|r| match &r.high.kind {
            tree::ValueKind::Quantity(q) => q.unit,
            tree::ValueKind::Parameter(_) => None,
        });
        let over = over.and_then(|r| self.range(r, want_of(kind)));
        let stand_in = output.is_none() || over.is_none();
        let over = over.unwrap_or((0.0, 1e6));
        let stimulus = self.stimulus(kind, clauses, (over.0 + over.1) / 2.0, over, !stand_in);
        if let Some(known) = self.c.stimuli.get_mut(stimulus.index()) {
            known.unit = unit;
        }
        let law = Law::Transducer { feed, volts: output.unwrap_or((0.5, 4.5)), over, ratio, stimulus };
        (law, stand_in)
    }

    /// A range that may fall: the output of a transducer that reads less for more.
    fn range_either_way(&mut self, range: &Range, want: Want) -> Option<(f64, f64)> {
        let unit = |v: &Value| match &v.kind {
            tree::ValueKind::Quantity(q) => q.unit,
            tree::ValueKind::Parameter(_) => None,
        };
        let mut low = range.low.clone();
        if let tree::ValueKind::Quantity(q) = &mut low.kind
            && q.unit.is_none()
        {
            q.unit = unit(&range.high);
        }
        let (low, high) = (self.num(&low, want), self.num(&range.high, want));
        Some((low?.nominal, high?.nominal))
    }
}

/// What a setting of a stimulus has to be.
pub(crate) fn want_of(kind: StimulusKind) -> Want {
    match kind {
        StimulusKind::Temperature => CELSIUS,
        StimulusKind::Travel => Want::share("the travel", "50 %"),
        StimulusKind::Resistance => VARIABLE,
        StimulusKind::Over(Dimension::Pressure) => Want::new(Dimension::Pressure, "the pressure", "500 kPa"),
        StimulusKind::Over(Dimension::Length) => Want::new(Dimension::Length, "the distance", "120 mm"),
        StimulusKind::Over(Dimension::Frequency) => Want::new(Dimension::Frequency, "the frequency", "50 Hz"),
        StimulusKind::Over(Dimension::Ratio) => Want::new(Dimension::Ratio, "the share", "50 %"),
        StimulusKind::Over(Dimension::Voltage) => Want::new(Dimension::Voltage, "the voltage", "5 V"),
        StimulusKind::Over(Dimension::Current) => Want::new(Dimension::Current, "the current", "5 A"),
        StimulusKind::Over(Dimension::Power) => Want::new(Dimension::Power, "the power", "5 W"),
        StimulusKind::Over(Dimension::Area) => Want::new(Dimension::Area, "the area", "5 mm2"),
        StimulusKind::Over(Dimension::Temperature) => CELSIUS,
        StimulusKind::Over(Dimension::Resistance) => VARIABLE,
    }
}

impl Curve {
    /// Ohms at a temperature in degrees Celsius: the stated value of each number, and of the table the curve
    /// ln R linear in 1/T between the rows and, outside them, of the two nearest. `None` where there is none.
    pub fn ohms(&self, celsius: f64) -> Option<f64> {
        let kelvin = celsius + ZERO_CELSIUS;
        if kelvin <= 0.0 {
            return None;
        }
        match self {
            Self::Beta { r0, t0, beta } => {
                Some(r0.nominal * (beta.nominal * (1.0 / kelvin - 1.0 / (t0 + ZERO_CELSIUS))).exp())
            }
            Self::Steinhart { a, b, c } => {
                // The real root of c x³ + b x + (a - 1/T) = 0, x = ln R (Cardano).
                let d = a - 1.0 / kelvin;
                let x = if *c == 0.0 {
                    -d / b
                } else {
                    let (p, q) = (b / c, d / c);
                    let inner = q * q / 4.0 + p * p * p / 27.0;
                    if inner < 0.0 {
                        return None;
                    }
                    let root = inner.sqrt();
                    let mut x = (-q / 2.0 + root).cbrt() + (-q / 2.0 - root).cbrt();
                    // Two Newton steps take back what the difference of the two roots cost.
                    for _ in 0..2 {
                        let slope = 3.0 * c * x * x + b;
                        if slope != 0.0 {
                            x -= (c * x * x * x + b * x + d) / slope;
                        }
                    }
                    x
                };
                Some(x.exp()).filter(|r| r.is_finite())
            }
            Self::Table(rows) => {
                let above = rows.partition_point(|row| row.0 < celsius).clamp(1, rows.len().max(2) - 1);
                let (low, high) = (rows.get(above - 1)?, rows.get(above)?);
                let inverse = |t: f64| 1.0 / (t + ZERO_CELSIUS);
                let share = (inverse(celsius) - inverse(low.0)) / (inverse(high.0) - inverse(low.0));
                Some((low.1.ln() + (high.1.ln() - low.1.ln()) * share).exp())
            }
        }
    }
}
