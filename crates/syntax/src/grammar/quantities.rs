//! Numbers without a unit, and units that are spelt wrong: reported once a statement is read.

use super::{
    atoms::letter_for_point,
    piece::Piece,
    sig::Sig,
    states::{Entry, ExerciseRow},
    usage::units,
};
use crate::{
    Span, SyntaxError,
    lexer::TokenKind as T,
    step::step,
    tree::{Assertion, FaultKind, Quantity, Range, Row, SetupKind, Value, ValueKind},
    unit::{Unit, nearest_unit},
};

/// A quantity, and the clause that it stands in.
pub(crate) type Found<'p> = (&'p Quantity, Option<&'p str>);

/// Something with quantities in it.
pub(crate) trait Quantities {
    /// Adds them in the order they were written.
    fn quantities<'p>(&'p self, out: &mut Vec<Found<'p>>);
}

fn of_value<'p>(value: &'p Value, clause: Option<&'p str>, out: &mut Vec<Found<'p>>) {
    if let ValueKind::Quantity(q) = &value.kind {
        out.push((q, clause));
    }
    out.extend(value.tolerance.iter().map(|q| (q, clause)));
}

fn of_range<'p>(range: &'p Range, clause: Option<&'p str>, out: &mut Vec<Found<'p>>) {
    // A bound without a unit takes the other's: one error for both.
    let ends: Vec<&Quantity> = [&range.low, &range.high]
        .into_iter()
        .filter_map(|v| if let ValueKind::Quantity(q) = &v.kind { Some(q) } else { None })
        .collect();
    match ends.as_slice() {
        [low, high] if low.unit.is_none() && high.unit.is_none() => out.push((high, clause)),
        _ => out.extend(ends.into_iter().map(|q| (q, clause))),
    }
}

impl Quantities for Piece {
    fn quantities<'p>(&'p self, out: &mut Vec<Found<'p>>) {
        match self {
            Self::Value(v) => of_value(v, None, out),
            Self::With(clause, _, v) => of_value(v, Some(clause), out),
            Self::PullUp(_, pull) => {
                let (v, to) = &**pull;
                of_value(v, Some("pull_up"), out);
                out.extend(to.iter().map(|q| (q, Some("reference"))));
            }
            Self::Range(r) => of_range(r, None, out),
            Self::WithRange(clause, _, r) => of_range(r, Some(clause), out),
            Self::Quantities(_, all) => out.extend(all.iter().map(|q| (q, Some("accuracy")))),
            _ => {}
        }
    }
}

impl Quantities for (Quantity, Quantity) {
    fn quantities<'p>(&'p self, out: &mut Vec<Found<'p>>) {
        out.push((&self.0, Some("at")));
        out.push((&self.1, Some("pull_up")));
    }
}

impl Quantities for Entry {
    fn quantities<'p>(&'p self, out: &mut Vec<Found<'p>>) {
        match self {
            Self::Setting(s) => out.extend(s.quantity.iter().map(|q| (q, None))),
            Self::Setup(s) => {
                if let SetupKind::Load { values, .. } = &s.kind {
                    out.extend(values.iter().map(|q| (q, None)));
                }
            }
            Self::Do(_) => {}
        }
    }
}

impl Quantities for Row {
    fn quantities<'p>(&'p self, out: &mut Vec<Found<'p>>) {
        match &self.assertion {
            Some(Assertion::Below(q) | Assertion::Above(q) | Assertion::Is(q)) => out.push((q, None)),
            Some(Assertion::About(a, b)) => out.extend([(a, None), (b, None)]),
            Some(Assertion::Range(r)) => of_range(r, None, out),
            Some(Assertion::State(_)) | None => {}
        }
        out.extend(self.with_settings.iter().filter_map(|s| s.quantity.as_ref()).map(|q| (q, None)));
    }
}

impl Quantities for ExerciseRow {
    fn quantities<'p>(&'p self, out: &mut Vec<Found<'p>>) {
        match self {
            Self::Fault(fault) => match &fault.kind {
                FaultKind::Resistance { ohms, .. } => out.push((ohms, Some("pull_up"))),
                FaultKind::Drift { by, .. } => out.push((by, Some("span"))),
                _ => {}
            },
            Self::Symptom(row) => row.quantities(out),
            _ => {}
        }
    }
}

impl<Q: Quantities> Quantities for Vec<Q> {
    fn quantities<'p>(&'p self, out: &mut Vec<Found<'p>>) {
        for one in self {
            one.quantities(out);
        }
    }
}

/// Nothing with a quantity.
macro_rules! none {
    ($($type:ty),*) => { $(impl Quantities for $type { fn quantities<'p>(&'p self, _: &mut Vec<Found<'p>>) {} })* };
}
none!(
    crate::tree::Name,
    (crate::tree::Name, bool),
    (crate::tree::Name, Option<crate::tree::Name>),
    (crate::tree::Name, Vec<crate::tree::Text>)
);

impl Quantities for super::statement::HeadPiece {
    fn quantities<'p>(&'p self, out: &mut Vec<Found<'p>>) {
        match self {
            Self::Piece(piece) => piece.quantities(out),
            Self::Call { arguments, .. } => {
                for argument in arguments {
                    of_value(&argument.value, Some("argument"), out);
                }
            }
            Self::Params(params) => {
                for default in params.iter().filter_map(|p| p.default.as_ref()) {
                    of_value(default, Some("argument"), out);
                }
            }
        }
    }
}

/// Reports what is wrong with the units in `of`, a statement read from `sigs`. With `only_misspelt`, numbers without any
/// unit are passed over, since the statement has an error that may explain them. Gives whether one has no known unit.
pub(crate) fn check(
    of: &dyn Quantities,
    sigs: &[Sig<'_>],
    only_misspelt: bool,
    errors: &mut Vec<SyntaxError>,
) -> bool {
    let mut found = Vec::new();
    of.quantities(&mut found);
    let keyword = sigs.first().map_or("", |s| s.text);
    let mut unitless = false;
    for (quantity, clause) in found {
        step();
        let last = sigs.partition_point(|s| s.span.end < quantity.span.end);
        let Some(sig) = sigs.get(last) else { continue };
        unitless |= quantity.unit.is_none();
        let spelled = match sig.kind {
            T::Word | T::Percent => Some(sig.text),
            T::Glued => sig.split_glued().map(|(_, unit)| unit),
            _ => None,
        };
        match spelled {
            Some(unit) if Unit::from_spelling(unit).is_some() => {}
            Some(unit) => errors.push(misspelt(sig, unit, quantity.span)),
            None if quantity.unit.is_none() && !only_misspelt => {
                errors.push(missing(sig, units(keyword, clause), whole_range(sigs, last, quantity.span)));
            }
            None => {}
        }
    }
    unitless
}

/// From the first bound of `9 .. 14.8`: the one error is about both.
fn whole_range(sigs: &[Sig<'_>], last: usize, span: Span) -> Span {
    let before = |by: usize| last.checked_sub(by).and_then(|at| sigs.get(at));
    let dots = before(1).is_some_and(|s| s.kind == T::Dots);
    let first = before(2).filter(|s| dots && matches!(s.kind, T::Int | T::Dec | T::Exp));
    first.map_or(span, |first| first.span.to(span))
}

fn misspelt(sig: &Sig<'_>, unit: &str, span: Span) -> SyntaxError {
    if let (T::Glued, true, Some((number, _))) = (sig.kind, letter_for_point(unit), sig.split_glued()) {
        let (letter, decimals) = unit.split_at(1);
        let mended = format!("{number}.{decimals} {}", unit_of_letter(letter));
        return SyntaxError {
            span,
            message: format!("`{}` has a letter in place of the decimal point", sig.text),
            help: Some(format!("write `{mended}`")),
            fix: Some((format!("write `{mended}`"), sig.span, mended)),
        };
    }
    let place = Span { start: sig.span.end - unit.len() as u32, end: sig.span.end };
    let near = nearest_unit(unit);
    SyntaxError {
        span: place,
        message: format!("`{unit}` is no unit"),
        help: Some(match near {
            Some(near) => format!("units are spelt exactly: write `{near}`"),
            None => {
                "units are `V`, `A`, `ohm`, `W`, `m`, `mm2`, `degC`, `%`, `Hz`, `kPa` and the like".into()
            }
        }),
        fix: near.map(|near| {
            let blank = if sig.kind == T::Glued { " " } else { "" };
            (format!("write `{near}`"), place, format!("{blank}{near}"))
        }),
    }
}

/// The unit for which the letter of `2k2` stands.
pub(crate) fn unit_of_letter(letter: &str) -> &str {
    match letter {
        "R" => "ohm",
        "k" => "kohm",
        "M" => "Mohm",
        other => other,
    }
}

fn missing(sig: &Sig<'_>, units: &'static [&'static str], span: Span) -> SyntaxError {
    let help = match units {
        [] => "write its unit behind it: `V`, `A`, `ohm`, `W`, `m`, `mm2`, `degC`, `%` …".to_owned(),
        [one] => format!("write its unit behind it, such as `{one}`"),
        units => format!(
            "write its unit behind it, such as {}",
            units.iter().map(|u| format!("`{u}`")).collect::<Vec<_>>().join(" or ")
        ),
    };
    let end = Span { start: sig.span.end, end: sig.span.end };
    let fix = match units {
        [one] => Some((format!("write the unit `{one}`"), end, format!(" {one}"))),
        _ => None,
    };
    SyntaxError { span, message: format!("`{}` has no unit", sig.text), help: Some(help), fix }
}
