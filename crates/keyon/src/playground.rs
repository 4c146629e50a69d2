//! `keyon playground`: a folder with one page, an editor with the core beside it and the corpus as examples.

use crate::{
    args::PlaygroundArgs,
    output::{self, Failure, Outcome},
    page,
};
use serde_json::json;

const HTML: &str = include_str!("../web/playground.html");
const CSS: &str = include_str!("../web/page.css");
/// The editor, bundled; `crates/web/playground` makes it.
const CODE: &str = include_str!("../web/playground.js");

/// The examples, with the libraries that they use.
const CIRCUITS: [(&str, &str); 6] = [
    ("circuits/first_lamp.keyon", include_str!("../../../corpus/circuits/first_lamp.keyon")),
    ("circuits/orchard_sprayer.keyon", include_str!("../../../corpus/circuits/orchard_sprayer.keyon")),
    ("circuits/greenhouse_vents.keyon", include_str!("../../../corpus/circuits/greenhouse_vents.keyon")),
    ("circuits/grain_dryer.keyon", include_str!("../../../corpus/circuits/grain_dryer.keyon")),
    ("circuits/ferry_ramp.keyon", include_str!("../../../corpus/circuits/ferry_ramp.keyon")),
    ("circuits/unicode_names.keyon", include_str!("../../../corpus/circuits/unicode_names.keyon")),
];
const LIBRARIES: [(&str, &str); 3] = [
    ("parts/spray.keyon", include_str!("../../../corpus/parts/spray.keyon")),
    ("parts/units.keyon", include_str!("../../../corpus/parts/units.keyon")),
    ("parts/plant.keyon", include_str!("../../../corpus/parts/plant.keyon")),
];

pub(crate) fn run(args: &PlaygroundArgs) -> Result<Outcome, Failure> {
    std::fs::create_dir_all(&args.folder)
        .map_err(|error| format!("cannot make the folder `{}`: {error}", args.folder.display()))?;
    let map = |all: &[(&str, &str)]| -> serde_json::Map<String, serde_json::Value> {
        all.iter().map(|(name, text)| ((*name).to_owned(), json!(text))).collect()
    };
    let data = json!({ "circuits": map(&CIRCUITS), "libraries": map(&LIBRARIES) });
    let nonce = format!("{:032x}", xxhash_rust::xxh3::xxh3_128(data.to_string().as_bytes()));
    // No script element ends early: the bundle's own texts may name its end.
    let code = CODE.replace("</script", "<\\/script");
    let text = page::fill(
        HTML,
        &[
            ("NONCE", &nonce),
            ("CSS", CSS),
            ("DATA", &page::script_json(&data)),
            ("CORECODE", page::CORE_JS),
            ("CORE", &page::base64(page::CORE)),
            ("CODE", &code),
        ],
    );
    output::deliver(Some(&args.folder.join("index.html")), text.as_bytes())?;
    Ok(Outcome::Sound)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_example_has_the_libraries_that_it_uses() {
        for (name, text) in CIRCUITS {
            for path in text.lines().filter_map(|line| line.strip_prefix("use \"../")) {
                let path = path.split('"').next().unwrap_or_default();
                assert!(LIBRARIES.iter().any(|(known, _)| *known == path), "{name}: {path}");
            }
        }
    }
}
