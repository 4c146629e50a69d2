//! Patterns of paths: `parts/*.keyon`, `legacy/**`.

/// A pattern. `*` stands for any characters within a name, `?` for one, `**` for any folders (also none). A pattern that
/// names a folder, `legacy` or `legacy/`, matches everything in it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Glob {
    segments: Vec<String>,
}

impl Glob {
    /// Reads a pattern; paths are relative to the folder of the `keyon.toml`, with `/` between names.
    ///
    /// # Errors
    /// What is wrong, for a person.
    pub fn new(text: &str) -> Result<Self, String> {
        if text.trim().is_empty() {
            return Err("an empty pattern matches nothing: write one such as `legacy/**`".to_owned());
        }
        if text.contains('\\') {
            return Err("names in a pattern are divided by `/`, on every system".to_owned());
        }
        if text.starts_with('/') || text.split('/').any(|name| name == "..") {
            return Err("patterns are relative to the folder of this file and stay inside it".to_owned());
        }
        let names = text.split('/').filter(|name| !name.is_empty() && *name != ".");
        Ok(Self { segments: names.map(str::to_owned).collect() })
    }

    /// Whether it matches a relative path with `/` between names.
    pub fn matches(&self, path: &str) -> bool {
        let names: Vec<&str> = path.split('/').filter(|name| !name.is_empty() && *name != ".").collect();
        // Which numbers of names the segments so far may have taken.
        let mut taken = vec![false; names.len() + 1];
        taken[0] = true;
        for segment in &self.segments {
            let mut next = vec![false; names.len() + 1];
            for at in 0..taken.len() {
                if !taken[at] {
                    continue;
                }
                if segment == "**" {
                    next[at..].fill(true);
                    break;
                }
                if names.get(at).is_some_and(|name| name_matches(segment, name)) {
                    next[at + 1] = true;
                }
            }
            taken = next;
        }
        // Names that are left are inside of what matched.
        taken.into_iter().any(|taken| taken)
    }
}

/// `*` and `?` within one name; goes back to the last star only, so it is at worst quadratic.
fn name_matches(pattern: &str, name: &str) -> bool {
    let (pattern, name): (Vec<char>, Vec<char>) = (pattern.chars().collect(), name.chars().collect());
    let (mut p, mut n) = (0, 0);
    let mut star: Option<(usize, usize)> = None;
    while n < name.len() {
        match pattern.get(p) {
            Some('*') => {
                star = Some((p, n));
                p += 1;
            }
            Some(c) if *c == '?' || Some(c) == name.get(n) => {
                p += 1;
                n += 1;
            }
            _ => match star {
                Some((at, from)) => {
                    star = Some((at, from + 1));
                    p = at + 1;
                    n = from + 1;
                }
                None => return false,
            },
        }
    }
    pattern.iter().skip(p).all(|c| *c == '*')
}

#[cfg(test)]
mod tests {
    use super::*;

    fn matches(pattern: &str, path: &str) -> bool {
        Glob::new(pattern).unwrap().matches(path)
    }

    #[test]
    fn stars_stay_within_a_name_and_double_stars_do_not() {
        assert!(matches("parts/*.keyon", "parts/spray.keyon"));
        assert!(!matches("*.keyon", "parts/spray.keyon"));
        assert!(matches("**/*.keyon", "parts/spray.keyon"));
        assert!(matches("**/*.keyon", "spray.keyon"));
        assert!(matches("a/**/z.keyon", "a/z.keyon"));
        assert!(matches("a/**/z.keyon", "a/b/c/z.keyon"));
        assert!(!matches("a/**/z.keyon", "b/a/z.keyon"));
        assert!(matches("lamp_?.keyon", "lamp_1.keyon"));
        assert!(!matches("lamp_?.keyon", "lamp_12.keyon"));
        assert!(matches("*a*b*", "xxaxxbxx"));
        assert!(!matches("*a*b", "xxaxxbxx"));
    }

    #[test]
    fn a_folder_matches_what_is_in_it() {
        for pattern in ["legacy", "legacy/", "./legacy/**", "leg*"] {
            assert!(matches(pattern, "legacy/old/a.keyon"), "{pattern}");
            assert!(!matches(pattern, "parts/legacy_not.keyon"), "{pattern}");
        }
    }

    #[test]
    fn what_leads_outside_is_refused() {
        for pattern in ["", "/etc/x", "../x", "a/../b", "a\\b"] {
            assert!(Glob::new(pattern).is_err(), "{pattern}");
        }
    }

    #[test]
    fn long_patterns_come_to_an_end() {
        let pattern = "*a".repeat(200);
        assert!(!matches(&pattern, &"b".repeat(2000)));
        assert!(!matches(&format!("{}z", "**/".repeat(100)), &"a/".repeat(1000)));
    }
}
