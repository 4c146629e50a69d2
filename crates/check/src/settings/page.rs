//! The manual page of `keyon.toml`.

use super::{TOP_KEYS, limits::LIMITS};
use std::fmt::Write;

/// An example that sets one thing of each kind; read in a test.
const EXAMPLE: &str = "\
exclude = [\"corpus/wrong/**\"]

[rules]
voltage-drop = \"error\"
missing-gauge = \"off\"

[limits]
key-off-draw = \"30 mA\"
ambient = \"60 degC\"

[[override]]
paths = [\"legacy/**\"]
rules = { unused-name = \"off\" }
limits = { voltage-drop = \"5 %\" }
";

/// What can stand in a `keyon.toml`, as Markdown: the page of the findings named `settings`.
pub fn page() -> String {
    let mut page = String::from(
        "# settings\n\nAn error of the group files. Something in a `keyon.toml` is wrong: a key or a rule that there is none of, a value of \
         the wrong kind.\n\n## Why it matters\n\nWhat cannot be understood is passed over: a rule that was meant to be off still \
         speaks, and a limit that was meant to be strict is not.\n\n## What can stand there\n\nA file takes the nearest `keyon.toml`, in its own \
         folder or above; it is not mixed with others further up. Paths in it are relative to its folder: `*` stands for anything within a \
         name, `**` for any folders, and a folder means all that is in it.\n\n",
    );
    for (key, what) in TOP_KEYS {
        let _ = writeln!(page, "- `{key}`: {what}");
    }
    page.push_str("\nThe limits, with their usual values:\n\n");
    for limit in LIMITS {
        let _ = writeln!(page, "- `{} = \"{}\"`: {}", limit.key, limit.usual, limit.what);
    }
    let _ = writeln!(page, "\n## Example\n\n```toml\n{EXAMPLE}```\n\nIt cannot be silenced with `allow`.");
    page
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::Config;

    #[test]
    fn the_example_is_sound() {
        let (config, mistakes) = Config::parse(EXAMPLE);
        assert_eq!(mistakes, []);
        assert!(config.excludes("corpus/wrong/a.keyon"));
        let settings = config.settings(&config.matching("legacy/a.keyon"));
        assert!(settings.is_off("missing-gauge") && settings.is_off("unused-name"));
        assert_eq!((settings.voltage_drop, settings.key_off, settings.ambient), (0.05, 0.03, 60.0));
        assert!(settings.ampacity(0.75).unwrap() < 14.0);
    }
}
