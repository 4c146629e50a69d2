//! `keyon sweep`.

use crate::{
    args::{SweepArgs, SweepFormat},
    load::{self, Loaded},
    output::{self, Failure, Outcome},
    png, subjects,
};
use keyon_circuit::model::StimulusKind;
use keyon_solve::{
    Never,
    sweep::{self, Axis, Watch},
};
use keyon_syntax::unit::Dimension;

/// Steps of a table, and of a drawing.
const ROWS: u32 = 20;
const DRAWN: u32 = 200;
/// Pixels of a picture for each of the drawing's own.
const PIXELS: f32 = 2.0;

pub(crate) fn run(args: &SweepArgs) -> Result<Outcome, Failure> {
    let format = format(args)?;
    let loaded = load::load(&args.situation)?;
    let circuit = &loaded.elaboration.circuit;
    let axis = subjects::axis(&loaded.elaboration, &args.stimulus)?;
    let watches: Vec<Watch> =
        args.at.iter().map(|name| subjects::watch(&loaded.elaboration, name)).collect::<Result<_, _>>()?;
    let (from, to) = ends(args, &loaded, axis)?;
    let steps = args.steps.unwrap_or(if matches!(format, SweepFormat::Svg | SweepFormat::Png) {
        DRAWN
    } else {
        ROWS
    });
    let values = sweep::steps(from, to, steps as usize);
    // Nothing asks to stop.
    let Ok(found) = sweep::sweep(circuit, &loaded.state, axis, &values, &watches, &Never) else {
        return Err(Failure::Message("the computation was stopped".to_owned()));
    };
    let (state, asked) = (&loaded.state, &loaded.asked);
    let text = match format {
        SweepFormat::Text => keyon_present::sweep_text(circuit, &found, state, asked),
        SweepFormat::Csv => keyon_present::sweep_csv(circuit, &found),
        SweepFormat::Markdown => keyon_present::sweep_markdown(circuit, &found, state, asked),
        SweepFormat::Svg => keyon_present::sweep_svg(circuit, &found, state, asked),
        SweepFormat::Png => {
            let picture = png::png(&keyon_present::sweep_svg(circuit, &found, state, asked), PIXELS)?;
            output::deliver(args.output.as_deref(), &picture)?;
            return Ok(if loaded.doubtful { Outcome::Findings } else { Outcome::Sound });
        }
        SweepFormat::Json => format!("{:#}\n", keyon_present::sweep_json(circuit, &found, state, asked)),
    };
    match &args.output {
        Some(path) => std::fs::write(path, text)
            .map_err(|error| format!("cannot write `{}`: {error}", path.display()))?,
        None => output::print(&text)?,
    }
    Ok(if loaded.doubtful { Outcome::Findings } else { Outcome::Sound })
}

/// As asked, else by the ending of the file that is written.
fn format(args: &SweepArgs) -> Result<SweepFormat, Failure> {
    if let Some(format) = args.format {
        return Ok(format);
    }
    let Some(path) = &args.output else { return Ok(SweepFormat::Text) };
    Ok(match path.extension().and_then(|e| e.to_str()) {
        Some("svg") => SweepFormat::Svg,
        Some("png") => SweepFormat::Png,
        Some("csv") => SweepFormat::Csv,
        Some("json") => SweepFormat::Json,
        Some("md") => SweepFormat::Markdown,
        Some("txt") | None => SweepFormat::Text,
        Some(other) => {
            return Err(Failure::Message(format!(
                "-o {}: nothing is known to be written as `.{other}`; give --format text, csv, json, markdown, svg or png",
                path.display()
            )));
        }
    })
}

/// Where the sweep begins and ends.
fn ends(args: &SweepArgs, loaded: &Loaded, axis: Axis) -> Result<(f64, f64), Failure> {
    let span = axis.span(&loaded.elaboration.circuit);
    let end = |word: &str, text: &Option<String>, own: Option<f64>| -> Result<f64, Failure> {
        match (text, own) {
            (Some(text), _) => value(loaded, axis, &args.stimulus, text)
                .map_err(|message| Failure::Message(format!("--{word} '{text}': {message}"))),
            (None, Some(own)) => Ok(own),
            (None, None) => Err(Failure::Message(format!(
                "how far `{}` goes is not said: give --from and --to, or give the supply a range",
                args.stimulus
            ))),
        }
    };
    let (from, to) = (end("from", &args.from, span.map(|s| s.0))?, end("to", &args.to, span.map(|s| s.1))?);
    #[allow(clippy::float_cmp)] // the very same number twice
    if from == to {
        return Err(Failure::Message("the sweep begins where it ends: there is nothing between".to_owned()));
    }
    Ok((from, to))
}

/// A value as a setting gives it; a bare number has the unit that the axis is shown in.
fn value(loaded: &Loaded, axis: Axis, name: &str, text: &str) -> Result<f64, String> {
    let bare = text.trim().parse::<f64>().is_ok();
    let whole = if bare {
        format!("{name}={} {}", text.trim(), unit(loaded, axis))
    } else {
        format!("{name}={text}")
    };
    let settings = loaded.elaboration.parse_setting(&whole)?;
    let stimulus = settings.stimuli.first().map(|s| s.1);
    stimulus.or(settings.supplies.first().map(|s| s.1)).ok_or_else(|| "that is no value".to_owned())
}

fn unit(loaded: &Loaded, axis: Axis) -> &'static str {
    let Axis::Stimulus(id) = axis else { return "V" };
    let stimulus = loaded.elaboration.circuit.stimuli.get(id.index());
    if let Some(unit) = stimulus.and_then(|s| s.unit).filter(|unit| unit.offset() == 0.0) {
        return unit.spelling();
    }
    match stimulus.map(|s| s.kind) {
        Some(StimulusKind::Temperature | StimulusKind::Over(Dimension::Temperature)) => "degC",
        Some(StimulusKind::Travel | StimulusKind::Over(Dimension::Ratio)) => "%",
        Some(StimulusKind::Resistance | StimulusKind::Over(Dimension::Resistance)) => "ohm",
        Some(StimulusKind::Over(Dimension::Pressure)) => "kPa",
        Some(StimulusKind::Over(dimension)) => keyon_circuit::units::base_unit(dimension),
        None => "",
    }
}
