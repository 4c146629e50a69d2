//! `keyon export`.

use crate::{
    args::ExportArgs,
    files,
    output::{self, Failure, Outcome},
    world::{Disk, source_name},
};

pub(crate) fn run(args: &ExportArgs) -> Result<Outcome, Failure> {
    let bytes = files::read_bytes(&args.file)?;
    let world = Disk::default();
    let name = source_name(&args.file, args.stdin_name.as_deref());
    let content = world.named(&name, &bytes);
    let elaboration = keyon_circuit::elaborate(&world, content.source());
    let doubtful = crate::load::complain_of_errors(&world, &elaboration, &name.display().to_string());
    output::print_json(&keyon_present::export_json(&elaboration, &|key| world.shown(key)))?;
    Ok(if doubtful { Outcome::Findings } else { Outcome::Sound })
}
