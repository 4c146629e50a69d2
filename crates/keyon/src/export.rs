//! `keyon export`.

use crate::{
    args::ExportArgs,
    output::{self, Failure, Outcome},
    world::Disk,
};

pub(crate) fn run(args: &ExportArgs) -> Result<Outcome, Failure> {
    let world = Disk::default();
    let opened = world.open(&args.file, args.stdin_name.as_deref())?;
    let name = &opened.name;
    let elaboration = keyon_circuit::elaborate(&world, opened.source()?);
    let doubtful = crate::load::complain_of_errors(&world, &elaboration, &name.display().to_string());
    output::print_json(&keyon_present::export_json(&elaboration, &|key| world.shown(key)))?;
    Ok(if doubtful { Outcome::Findings } else { Outcome::Sound })
}
