//! `keyon new`.

use crate::{
    args::NewArgs,
    files,
    output::{self, Failure, Outcome},
};
use std::io::{ErrorKind, Write};

/// The circuit to start from; `NAME` stands for its name.
const FIRST: &str = include_str!("first.keyon");

pub(crate) fn run(args: &NewArgs) -> Result<Outcome, Failure> {
    let name = args.name.strip_suffix(".keyon").unwrap_or(&args.name);
    let good = name.starts_with(|c: char| c.is_alphabetic() || c == '_')
        && name.chars().all(|c| c.is_alphanumeric() || c == '_');
    if !good {
        let mut near: String =
            name.chars().map(|c| if c.is_alphanumeric() || c == '_' { c } else { '_' }).collect();
        if !near.starts_with(|c: char| c.is_alphabetic() || c == '_') {
            near.insert(0, '_');
        }
        return Err(Failure::Message(format!(
            "`{name}` is no name: it is made of letters, digits and _, and begins with no digit; try `{near}`"
        )));
    }
    let path = std::path::PathBuf::from(format!("{name}.{}", files::ENDING));
    let text = FIRST.replace("NAME", name);
    let mut options = std::fs::OpenOptions::new();
    options.write(true);
    if args.force {
        options.create(true).truncate(true);
    } else {
        options.create_new(true);
    }
    let written = options.open(&path).and_then(|mut file| file.write_all(text.as_bytes()));
    match written {
        Ok(()) => {}
        Err(error) if error.kind() == ErrorKind::AlreadyExists => {
            return Err(Failure::Message(format!(
                "`{}` is there already and was left alone: choose another name, or --force to overwrite it",
                path.display()
            )));
        }
        Err(error) => return Err(Failure::Message(files::cannot("write", &path, &error))),
    }
    let file = path.display();
    output::print(&format!(
        "wrote {file}\n\nnext:\n  keyon check {file}\n  keyon state {file} --in working\n  keyon table {file}\n"
    ))?;
    Ok(Outcome::Sound)
}
