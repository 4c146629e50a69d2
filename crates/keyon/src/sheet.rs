//! `keyon sheet`.

use crate::{
    args::{PaperSize, SheetArgs, SheetFormat},
    load::{self, Loaded},
    output::{self, Failure, Outcome},
    pdf, subjects,
};
use keyon_present::sheet::{self, Paper, SheetOf};
use keyon_solve::Never;

pub(crate) fn run(args: &SheetArgs) -> Result<Outcome, Failure> {
    let loaded = load::plain(&args.file, args.stdin_name.as_deref())?;
    let circuit = &loaded.elaboration.circuit;
    let of = subject(args, &loaded)?;
    // Nothing asks to stop.
    let sheet = match sheet::sheet(circuit, &of, &Never) {
        Ok(Some(sheet)) => sheet,
        Ok(None) => return Err(Failure::Message("there is nothing to make a sheet from".to_owned())),
        Err(refused) => return Err(output::refused(refused, "sheet")),
    };
    if let Some(path) = args.output.as_ref().filter(|_| args.format.is_none())
        && let Some(other @ ("pdf" | "png" | "svg" | "txt" | "docx")) =
            path.extension().and_then(|e| e.to_str())
    {
        if other != "pdf" {
            return Err(Failure::Message(format!(
                "-o {}: a sheet is written as `.html`, `.pdf` or `.md`",
                path.display()
            )));
        }
        pdf::print(&sheet::sheet_html(&sheet, args.key, paper(args.paper)), path)?;
        return Ok(if loaded.doubtful { Outcome::Findings } else { Outcome::Sound });
    }
    let by_ending = || match args.output.as_ref().and_then(|p| p.extension()).and_then(|e| e.to_str()) {
        Some("md") => SheetFormat::Markdown,
        _ => SheetFormat::Html,
    };
    let text = match args.format.unwrap_or_else(by_ending) {
        SheetFormat::Html => sheet::sheet_html(&sheet, args.key, paper(args.paper)),
        SheetFormat::Markdown => {
            // The drawing goes beside the text.
            let beside = args.output.as_ref().map(|path| path.with_extension("svg"));
            if let Some(path) = &beside {
                output::deliver(Some(path), sheet.drawing(args.key).as_bytes())?;
            }
            let name = beside.as_ref().and_then(|p| p.file_name()).map(|n| n.to_string_lossy().into_owned());
            sheet::sheet_markdown(&sheet, args.key, name.as_deref())
        }
    };
    output::deliver(args.output.as_deref(), text.as_bytes())?;
    Ok(if loaded.doubtful { Outcome::Findings } else { Outcome::Sound })
}

fn paper(size: PaperSize) -> Paper {
    match size {
        PaperSize::A4 => Paper::A4,
        PaperSize::A3 => Paper::A3,
        PaperSize::Letter => Paper::Letter,
    }
}

fn subject(args: &SheetArgs, loaded: &Loaded) -> Result<SheetOf, Failure> {
    let circuit = &loaded.elaboration.circuit;
    if args.scenario.is_some() || !args.of.is_empty() {
        let named = args.scenario.as_ref().map(|name| load::scenario_named(&loaded.elaboration, name));
        let scenario = named.transpose()?;
        let about = args.of.iter().map(|name| subjects::drawable(&loaded.elaboration, name));
        return Ok(SheetOf::Scenario(scenario, about.collect::<Result<_, _>>()?));
    }
    let names: Vec<&str> = circuit.exercises.iter().map(|x| x.name.as_str()).collect();
    match &args.exercise {
        Some(name) => match names.iter().position(|n| n == name) {
            Some(index) => Ok(SheetOf::Exercise(index)),
            None => {
                let known = if names.is_empty() { "the file has none".to_owned() } else { names.join(", ") };
                Err(Failure::Message(format!("there is no exercise `{name}`: {known}")))
            }
        },
        None => match names.as_slice() {
            [_] => Ok(SheetOf::Exercise(0)),
            [] => Err(Failure::Message(
                "the file has no exercise: give --in SCENARIO for a sheet from a scenario".to_owned(),
            )),
            _ => Err(Failure::Message(format!("which exercise? {}", names.join(", ")))),
        },
    }
}
