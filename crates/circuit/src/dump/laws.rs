//! Laws as text.

use crate::{
    model::*,
    units::{self, show},
    value::Num,
};
use keyon_syntax::unit::Dimension;
use std::fmt::{self, Write};

/// What a stimulus is measured in.
pub(super) fn dimension_of(kind: StimulusKind) -> Dimension {
    match kind {
        StimulusKind::Temperature => Dimension::Temperature,
        StimulusKind::Travel => Dimension::Ratio,
        StimulusKind::Over(dimension) => dimension,
        StimulusKind::Resistance => Dimension::Resistance,
    }
}

/// An element's law, after a comma.
pub(super) fn law(out: &mut String, law: &Law) -> fmt::Result {
    let ohms = |n: &Num| n.show(Dimension::Resistance);
    let amps = |n: &Num| n.show(Dimension::Current);
    let volts = |n: &Num| n.show(Dimension::Voltage);
    let also = |out: &mut String, word: &str, n: Option<&Num>| match n {
        Some(n) => write!(out, " {word} {}", amps(n)),
        None => Ok(()),
    };
    let rated = |out: &mut String, rated: &Option<Rated>| match rated {
        Some(Rated::Amps(a)) => write!(out, " rated {}", amps(a)),
        Some(Rated::Volts(v)) => write!(out, " rated {}", volts(v)),
        None => Ok(()),
    };
    match law {
        Law::Joint => {}
        Law::Resistance(r) => write!(out, ", {}", ohms(r))?,
        Law::Rated { watts, volts: v, cold } => {
            write!(out, ", {} at {}", watts.show(Dimension::Power), volts(v))?;
            if let Some(cold) = cold {
                write!(out, " cold {}", ohms(cold))?;
            }
        }
        Law::Coil { ohms: r, pulls_in, drops_out, rated: at } => {
            write!(out, ", {}", ohms(r))?;
            also(out, "in", pulls_in.as_ref())?;
            also(out, "out", drops_out.as_ref())?;
            rated(out, at)?;
        }
        Law::Winding { ohms: r, turns_at, rated: at, runs } => {
            write!(out, ", {}", ohms(r))?;
            also(out, "turns at", turns_at.as_ref())?;
            also(out, "runs", runs.as_ref())?;
            rated(out, at)?;
        }
        Law::Thermistor { curve, .. } => match curve {
            Curve::Beta { r0, t0, beta } => {
                write!(
                    out,
                    ", {} at {} beta {}",
                    ohms(r0),
                    show(*t0, Dimension::Temperature),
                    units::number(beta.nominal)
                )?;
            }
            Curve::Steinhart { a, b, c } => write!(out, ", steinhart {a:e} {b:e} {c:e}")?,
            Curve::Table(rows) => {
                let rows: Vec<String> = rows
                    .iter()
                    .map(|(t, r)| {
                        format!("{} {}", show(*t, Dimension::Temperature), show(*r, Dimension::Resistance))
                    })
                    .collect();
                write!(out, ", table {}", rows.join(", "))?;
            }
        },
        Law::Track { ohms: r, travel, .. } => {
            let share = |v| show(v, Dimension::Ratio);
            write!(out, ", {} travel {} .. {}", ohms(r), share(travel.0), share(travel.1))?;
        }
        Law::Variable { low, high, .. } => {
            let r = |v| show(v, Dimension::Resistance);
            write!(out, ", {} .. {}", r(*low), r(*high))?;
        }
        Law::Transducer { volts: v, over, ratio, .. } => {
            let of = |v| show(v, Dimension::Voltage);
            let (a, b) = (units::number(over.0), units::number(over.1));
            write!(
                out,
                ", {} .. {} over {a} .. {b}{}",
                of(v.0),
                of(v.1),
                if *ratio { " ratio" } else { "" }
            )?;
        }
        Law::Diode { drop } => write!(out, ", drop {}", volts(drop))?,
        Law::Source { volts: v, inner, limit, range } => {
            write!(out, ", {} inner {}", volts(v), ohms(inner))?;
            also(out, "limit", limit.as_ref())?;
            if let Some((low, high)) = range {
                let of = |v| show(v, Dimension::Voltage);
                write!(out, " range {} .. {}", of(*low), of(*high))?;
            }
        }
    }
    Ok(())
}
