//! The nearest known word to a misspelt one.

/// The candidate with the fewest slips (a letter missing, too many, wrong, or two swapped; capitals count
/// nothing), if these are few for the word's length: one for up to four letters, two for up to eight, then
/// three. Of equals the first one.
pub fn nearest<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let word: Vec<char> = word.chars().flat_map(char::to_lowercase).take(64).collect();
    let allowed = match word.len() {
        0..=1 => return None,
        2..=4 => 1,
        5..=8 => 2,
        _ => 3,
    };
    let mut best: Option<(usize, &str)> = None;
    for candidate in candidates {
        let limit = best.map_or(allowed, |(slips, _)| slips.saturating_sub(1));
        let other: Vec<char> = candidate.chars().flat_map(char::to_lowercase).take(64).collect();
        if other.len().abs_diff(word.len()) > limit {
            continue;
        }
        let slips = slips(&word, &other);
        if slips <= limit && best.is_none_or(|(least, _)| slips < least) {
            best = Some((slips, candidate));
        }
    }
    best.map(|(_, candidate)| candidate)
}

/// The only candidate that begins with the word, which is then half of it; else the nearest.
pub(crate) fn begun_or_nearest<'a>(
    word: &str,
    candidates: impl IntoIterator<Item = &'a str>,
) -> Option<&'a str> {
    let candidates: Vec<&str> = candidates.into_iter().collect();
    let mut begun = candidates.iter().copied().filter(|whole| word.len() > 2 && whole.starts_with(word));
    let only = begun.next().filter(|first| begun.all(|other| other == *first));
    only.or_else(|| nearest(word, candidates))
}

/// Edit distance in which a swap of neighbours is one slip (optimal string alignment).
fn slips(a: &[char], b: &[char]) -> usize {
    let width = b.len() + 1;
    let mut before: Vec<usize> = vec![0; width];
    let mut above: Vec<usize> = (0..width).collect();
    for (i, x) in a.iter().enumerate() {
        let mut row = vec![i + 1; width];
        for (j, y) in b.iter().enumerate() {
            let at = |v: &[usize], k: usize| v.get(k).copied().unwrap_or(usize::MAX / 2);
            let mut least =
                (at(&above, j) + usize::from(x != y)).min(at(&above, j + 1) + 1).min(at(&row, j) + 1);
            if i > 0 && j > 0 && a.get(i - 1) == Some(y) && b.get(j - 1) == Some(x) {
                least = least.min(at(&before, j - 1) + 1);
            }
            if let Some(cell) = row.get_mut(j + 1) {
                *cell = least;
            }
        }
        before = std::mem::replace(&mut above, row);
    }
    above.last().copied().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::nearest;

    #[test]
    fn a_few_slips_are_forgiven() {
        let words = ["wire", "device", "module", "fuse", "use", "supply"];
        for (written, meant) in [
            ("wier", Some("wire")),
            ("devise", Some("device")),
            ("modul", Some("module")),
            ("fues", Some("fuse")),
            ("Wire", Some("wire")),
            ("supplies", None),
            ("x", None),
            ("banana", None),
            ("usw", Some("use")),
        ] {
            assert_eq!(nearest(written, words), meant, "{written}");
        }
    }
}
