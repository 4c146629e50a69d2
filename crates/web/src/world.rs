//! Libraries of a page: texts by their paths as they are named.

use keyon_circuit::{Source, World};
use std::{collections::BTreeMap, sync::Arc};

/// Texts by path.
#[derive(Debug)]
pub(crate) struct Texts {
    texts: BTreeMap<String, String>,
}

impl Texts {
    pub(crate) fn new(texts: BTreeMap<String, String>) -> Self {
        Self { texts }
    }
}

/// A path without `.` and `..`, seen from a file.
fn resolve(from: &str, path: &str) -> String {
    let mut parts: Vec<&str> = from.split('/').collect();
    parts.pop();
    for part in path.split('/') {
        match part {
            "" | "." => {}
            ".." => {
                parts.pop();
            }
            part => parts.push(part),
        }
    }
    parts.join("/")
}

impl World for Texts {
    fn library(&self, from: &str, path: &str) -> Option<Source> {
        let key = resolve(from, path);
        let text = self.texts.get(&key)?;
        Some(Source {
            key: key.as_str().into(),
            text: text.as_str().into(),
            parse: Arc::new(keyon_syntax::parse(text)),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::resolve;

    #[test]
    fn paths_are_seen_from_the_file() {
        assert_eq!(resolve("a/b.keyon", "../parts/x.keyon"), "parts/x.keyon");
        assert_eq!(resolve("b.keyon", "./x.keyon"), "x.keyon");
    }
}
