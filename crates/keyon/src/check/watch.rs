//! `--watch`: checks again whenever something changed.
//!
//! Files are looked at a few times a second. That costs a look at each file's time and size, and in return works on every
//! system, in containers and on network folders, and needs nothing from anybody. A change is answered when nothing
//! more has changed from one look to the next: an editor that saves ten files asks for one check.

use std::{
    collections::BTreeMap,
    path::{Path, PathBuf},
    time::{Duration, SystemTime},
};

/// How long between two looks.
pub(crate) const PAUSE: Duration = Duration::from_millis(250);

/// What changes when a file does; `None` where there is no such file.
pub(crate) type Stamp = Option<(Option<SystemTime>, u64)>;

/// How the files stand at one moment. The flag marks files that only the last check made known: libraries, settings.
pub(crate) type Look = BTreeMap<(bool, PathBuf), Stamp>;

/// The world of a watch, so that a test can stand in for it.
pub(crate) trait Watched {
    /// What the check is about, as it stands now: which files there are, and their stamps.
    fn look(&mut self) -> Look;
    /// Checks, and tells. `false` ends the watch (nobody reads any more).
    fn check(&mut self) -> bool;
    /// Waits for the next look. `false` ends the watch.
    fn pause(&mut self) -> bool;
}

/// Checks at once, and again after every change.
pub(crate) fn watch(watched: &mut dyn Watched) {
    let mut checked = watched.look();
    if !watched.check() {
        return;
    }
    // The check itself may have found out about files to look at.
    let mut last = adopted(&mut checked, watched.look());
    while watched.pause() {
        let now = watched.look();
        let settled = now == last;
        last = now;
        if !settled || last == checked {
            continue;
        }
        checked.clone_from(&last);
        if !watched.check() {
            return;
        }
        last = adopted(&mut checked, watched.look());
    }
}

/// Files that the check made known stand as they stand now; others keep their stamp, so that a change during the check is
/// seen.
fn adopted(checked: &mut Look, now: Look) -> Look {
    for (key, stamp) in now.iter().filter(|((by_check, _), _)| *by_check) {
        checked.entry(key.clone()).or_insert(*stamp);
    }
    checked.retain(|key, _| !key.0 || now.contains_key(key));
    now
}

/// A file's stamp.
pub(crate) fn stamp(path: &Path) -> Stamp {
    let meta = std::fs::metadata(path).ok()?;
    Some((meta.modified().ok(), meta.len()))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Plays what each look shows, and writes down what happens.
    struct Played {
        looks: Vec<Vec<(&'static str, u64)>>,
        next: usize,
        checks: Vec<usize>,
        most: usize,
    }

    impl Watched for Played {
        fn look(&mut self) -> Look {
            let at = self.next.min(self.looks.len() - 1);
            self.next += 1;
            self.looks[at]
                .iter()
                .map(|(file, size)| ((*file == "p", PathBuf::from(file)), Some((None, *size))))
                .collect()
        }
        fn check(&mut self) -> bool {
            self.checks.push(self.next);
            self.checks.len() < self.most
        }
        fn pause(&mut self) -> bool {
            self.next < self.looks.len()
        }
    }

    /// Files and their sizes.
    type Shown<'a> = &'a [(&'static str, u64)];

    /// Before which look each check was.
    fn checks(looks: &[Shown<'_>], most: usize) -> Vec<usize> {
        let looks = looks.iter().map(|look| look.to_vec()).collect();
        let mut played = Played { looks, next: 0, checks: Vec::new(), most };
        watch(&mut played);
        played.checks
    }

    #[test]
    fn nothing_changed_nothing_checked() {
        let same: Shown<'_> = &[("a", 1)];
        assert_eq!(checks(&[same; 6], 9), [1]);
    }

    #[test]
    fn a_change_is_answered_once_it_has_settled() {
        let (a, b): (Shown<'_>, Shown<'_>) = (&[("a", 1)], &[("a", 2)]);
        // Looks 3 and 4 show the change: after the second of them it has settled.
        assert_eq!(checks(&[a, a, a, b, b, b, b], 9), [1, 5]);
        // It never stands still, so it is never answered.
        assert_eq!(checks(&[a, a, a, b, &[("a", 3)], &[("a", 4)], &[("a", 5)]], 9), [1]);
        // Changed and changed back.
        assert_eq!(checks(&[a, a, b, a, a, a], 9), [1]);
    }

    #[test]
    fn files_that_come_and_go_are_changes() {
        let (one, two): (Shown<'_>, Shown<'_>) = (&[("a", 1)], &[("a", 1), ("b", 1)]);
        assert_eq!(checks(&[one, one, two, two, two, one, one, one], 9), [1, 4, 7]);
    }

    #[test]
    fn a_change_during_a_check_is_seen_and_a_library_found_by_it_is_none() {
        let (a, b): (Shown<'_>, Shown<'_>) = (&[("a", 1)], &[("a", 2)]);
        // The look after the check shows the change already.
        assert_eq!(checks(&[a, b, b, b], 9), [1, 3]);
        let library: Shown<'_> = &[("a", 1), ("p", 1)];
        assert_eq!(checks(&[a, library, library, library], 9), [1]);
    }

    #[test]
    fn whoever_stops_reading_ends_it() {
        let (a, b): (Shown<'_>, Shown<'_>) = (&[("a", 1)], &[("a", 2)]);
        assert_eq!(checks(&[a, a, b, b, a, a, a], 1), [1]);
    }
}
