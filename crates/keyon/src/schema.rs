//! `keyon schema`.

use crate::{
    args::SchemaArgs,
    output::{self, Failure, Outcome},
};
use keyon_present::schemas;

pub(crate) fn run(args: &SchemaArgs) -> Result<Outcome, Failure> {
    let names = || schemas::names().collect::<Vec<_>>();
    let Some(name) = &args.name else {
        output::print(&format!("{}\n", names().join("\n")))?;
        return Ok(Outcome::Sound);
    };
    match schemas::schema(name) {
        Some(schema) => {
            output::print(&schema)?;
            Ok(Outcome::Sound)
        }
        None => {
            Err(Failure::Message(format!("there is no schema `{name}`; there are: {}", names().join(", "))))
        }
    }
}
