//! `keyon page`: one HTML file with a circuit, everything that can be set in it, and the core that computes it, or what the
//! core says of many states.

use crate::{
    args::PageArgs,
    output::{self, Failure, Outcome},
    progress::Progress,
    world::Disk,
};
use keyon_present::grid::escape_html;
use std::collections::BTreeMap;

const HTML: &str = include_str!("../web/page.html");
const CSS: &str = include_str!("../web/page.css");
pub(crate) const CORE_JS: &str = include_str!("../web/core.js");
/// What stands for the core where a page holds its answers.
const RECORDED_JS: &str = include_str!("../web/recorded.js");
/// How answers lie on the page.
const TABLES_JS: &str = include_str!("../web/tables.js");
const PAGE_JS: &str = include_str!("../web/page.js");
/// The core as WebAssembly, packed; `crates/web/build.sh` makes it, and a test says when it is out of date.
pub(crate) const CORE: &[u8] = include_bytes!("../web/core.wasm.gz");

pub(crate) fn run(args: &PageArgs) -> Result<Outcome, Failure> {
    let world = Disk::default();
    let opened = world.open(&args.file, args.stdin_name.as_deref())?;
    let name = &opened.name;
    let elaboration = keyon_circuit::elaborate(&world, opened.source()?);
    if elaboration.library {
        return Err(Failure::Message(format!(
            "`{}` is a parts library: it has no circuit to show",
            name.display()
        )));
    }
    let doubtful = crate::load::complain_of_errors(&world, &elaboration, &name.display().to_string());
    // Paths as the page resolves them, without this machine's folders.
    let keys: Vec<&str> = elaboration.files.iter().map(|f| f.key.as_str()).collect();
    let common = common_folder(&keys);
    let short = |key: &str| key.strip_prefix(common.as_str()).unwrap_or(key).to_owned();
    let libraries: BTreeMap<String, String> =
        elaboration.files.iter().skip(1).map(|f| (short(&f.key), f.text.to_string())).collect();
    // A page may go to learners: it holds no exercise, whose fault is the answer, and no job card.
    let text = elaboration.files.first().map_or_else(String::new, without_keys);
    let data =
        serde_json::json!({ "name": short(&opened.content.key), "text": text, "libraries": libraries });
    let circuit = &elaboration.circuit;
    let title = circuit.title.clone().unwrap_or_else(|| circuit.name.to_string());
    let (data, core, code, more) = if args.fixed {
        let record =
            keyon_web::record::record(&data, args.states, &Progress::new()).map_err(Failure::Message)?;
        (record, String::new(), RECORDED_JS, "")
    } else {
        let core =
            format!("<script type=\"text/plain\" id=\"core\" nonce=\"@NONCE@\">{}</script>\n", base64(CORE));
        (data, core, CORE_JS, " 'wasm-unsafe-eval'")
    };
    let nonce = format!("{:032x}", xxhash_rust::xxh3::xxh3_128(data.to_string().as_bytes()));
    let page = fill(
        HTML,
        &[
            ("NONCE", &nonce),
            ("TITLE", &escape_html(&title)),
            ("CSS", CSS),
            ("DATA", &script_json(&data)),
            ("CORE", &core.replace("@NONCE@", &nonce)),
            ("MOVES", &escape_html(&keyon_present::cautions::of_all(circuit))),
            ("CODE", &format!("{code}\n{TABLES_JS}{PAGE_JS}")),
            ("MORE", more),
        ],
    );
    output::deliver(args.output.as_deref(), page.as_bytes())?;
    Ok(if doubtful { Outcome::Findings } else { Outcome::Sound })
}

/// The template with its places filled; what is filled in is not looked through again.
pub(crate) fn fill(template: &str, values: &[(&str, &str)]) -> String {
    let mut out = String::with_capacity(template.len() + values.iter().map(|v| v.1.len()).sum::<usize>());
    let mut rest = template;
    while let Some(at) = rest.find('@') {
        out.push_str(rest.get(..at).unwrap_or_default());
        rest = rest.get(at + 1..).unwrap_or_default();
        let found = values.iter().find(|(name, _)| {
            rest.starts_with(name) && rest.get(name.len()..).is_some_and(|r| r.starts_with('@'))
        });
        match found {
            Some((name, value)) => {
                out.push_str(value);
                rest = rest.get(name.len() + 1..).unwrap_or_default();
            }
            None => out.push('@'),
        }
    }
    out.push_str(rest);
    out
}

/// A file's text with its exercises and readings made blank.
fn without_keys(file: &keyon_circuit::Source) -> String {
    use keyon_syntax::tree::ItemKind;
    let mut text = file.text.to_string();
    for placed in &file.parse.file.items {
        if matches!(placed.item.kind, ItemKind::Exercise(_) | ItemKind::Readings(_)) {
            let range = placed.item.span.moved(placed.start).range();
            let blank: String = text
                .get(range.clone())
                .unwrap_or_default()
                .chars()
                .map(|c| if matches!(c, '\n' | '\r') { c.to_string() } else { " ".repeat(c.len_utf8()) })
                .collect();
            if blank.len() == range.len() {
                text.replace_range(range, &blank);
            }
        }
    }
    text
}

/// JSON that no script element can be left from.
pub(crate) fn script_json(value: &serde_json::Value) -> String {
    value.to_string().replace('<', "\\u003c").replace('\u{2028}', "\\u2028").replace('\u{2029}', "\\u2029")
}

/// The longest folder that all keys lie in, with its slash.
fn common_folder(keys: &[&str]) -> String {
    let own: Vec<&str> = keys.iter().copied().filter(|k| k.starts_with('/')).collect();
    let Some(first) = own.first() else { return String::new() };
    let mut end = first.rfind('/').map_or(0, |at| at + 1);
    for key in &own {
        while end > 0 && !key.starts_with(first.get(..end).unwrap_or_default()) {
            end = first.get(..end - 1).and_then(|f| f.rfind('/')).map_or(0, |at| at + 1);
        }
    }
    first.get(..end).unwrap_or_default().to_owned()
}

/// RFC 4648.
pub(crate) fn base64(bytes: &[u8]) -> String {
    const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut out = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for chunk in bytes.chunks(3) {
        let word = chunk.iter().fold(0_u32, |word, &b| word << 8 | u32::from(b)) << (8 * (3 - chunk.len()));
        for i in 0..4 {
            let letter = LETTERS[(word >> (18 - 6 * i) & 63) as usize];
            out.push(if i <= chunk.len() { char::from(letter) } else { '=' });
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn base64_is_that_of_the_standard() {
        // RFC 4648, section 10.
        for (plain, coded) in [
            ("", ""),
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foob", "Zm9vYg=="),
            ("foobar", "Zm9vYmFy"),
        ] {
            assert_eq!(base64(plain.as_bytes()), coded);
        }
    }

    #[test]
    fn folders_in_common() {
        assert_eq!(common_folder(&["/a/b/c.keyon", "/a/d/e.keyon"]), "/a/");
        assert_eq!(common_folder(&["/a/b/c.keyon", "trade"]), "/a/b/");
        assert_eq!(common_folder(&["x"]), "");
    }

    #[test]
    fn a_page_holds_no_place_to_fill_and_no_way_out_of_its_scripts() {
        let data = serde_json::json!({ "text": "</script><script>alert(1)</script> @CORE@" });
        let page = fill(
            HTML,
            &[
                ("NONCE", "n"),
                ("TITLE", "t"),
                ("CSS", ""),
                ("DATA", &script_json(&data)),
                ("CORE", "c"),
                ("CODE", ""),
            ],
        );
        assert!(!page.contains("<script>alert"), "{page}");
        assert!(page.contains("@CORE@"), "what is filled in stays as it is");
        assert!(!page.contains("@NONCE@") && !page.contains("@TITLE@"));
    }
}
