//! The nearest name to one that is not known.

/// Number of edits (insert, delete, replace, swap of neighbours) between two words, if at most `most`.
/// The optimal string alignment distance.
pub fn distance(a: &str, b: &str, most: usize) -> Option<usize> {
    if a.is_ascii() && b.is_ascii() {
        return edits(a.as_bytes(), b.as_bytes(), most);
    }
    let a: Vec<char> = a.chars().collect();
    let b: Vec<char> = b.chars().collect();
    edits(&a, &b, most)
}

fn edits<T: PartialEq + Copy>(a: &[T], b: &[T], most: usize) -> Option<usize> {
    if a.len().abs_diff(b.len()) > most {
        return None;
    }
    // Three rows in one piece of memory: the one before last, the last, the one being filled.
    let width = b.len() + 1;
    let mut rows = vec![0u32; 3 * width];
    let (before, rest) = rows.split_at_mut(width);
    let (last, row) = rest.split_at_mut(width);
    let (mut before, mut last, mut row) = (before, last, row);
    for (cell, n) in last.iter_mut().zip(0..) {
        *cell = n;
    }
    for (i, &x) in a.iter().enumerate() {
        row[0] = i as u32 + 1;
        let mut least = row[0];
        for (j, &y) in b.iter().enumerate() {
            let mut cost = (last[j] + u32::from(x != y)).min(last[j + 1] + 1).min(row[j] + 1);
            if i > 0 && j > 0 && x == b[j - 1] && a[i - 1] == y {
                cost = cost.min(before[j - 1] + 1);
            }
            row[j + 1] = cost;
            least = least.min(cost);
        }
        if least as usize > most {
            return None;
        }
        std::mem::swap(&mut before, &mut last);
        std::mem::swap(&mut last, &mut row);
    }
    last.last().map(|&d| d as usize).filter(|&d| d <= most)
}

/// The most edits at which a name still passes for a slip of another of this length.
fn slack(name: &str) -> usize {
    match name.chars().count() {
        0 | 1 => 0,
        2..=4 => 1,
        5..=7 => 2,
        _ => 3,
    }
}

/// How far apart the numbers are in which two names end that are else the same: `K1.88` is nearer to `K1.87` than to `K1.85`.
fn apart(a: &str, b: &str) -> u64 {
    let number = |name: &str| {
        let at = name.trim_end_matches(|c: char| c.is_ascii_digit()).len();
        let (head, digits) = name.split_at(at);
        digits.parse::<u64>().ok().map(|number| (head.to_owned(), number))
    };
    match (number(a), number(b)) {
        (Some((head, a)), Some((other, b))) if head == other => a.abs_diff(b),
        _ => u64::MAX,
    }
}

/// The candidate nearest to `name`: names that fit (`true`) before others, then fewer edits, then the nearer number, then
/// alphabetical. The only one that begins with the name, which is then half of it, goes before what is no more than near.
/// A difference in capitals alone always counts as near. `None` if none is near.
pub fn nearest<'a>(name: &str, candidates: impl IntoIterator<Item = (&'a str, bool)>) -> Option<&'a str> {
    let most = slack(name);
    let lower = name.to_lowercase();
    let mut best: Option<(bool, usize, u64, &str)> = None;
    // What the name begins; of several there must be one with which all the others begin.
    let mut begun: Vec<&str> = Vec::new();
    for (candidate, fits) in candidates {
        if candidate == name && fits {
            return Some(candidate);
        }
        if fits && is_begun(name, candidate) {
            begun.push(candidate);
        }
        // No letter takes more than four bytes.
        if candidate.len().abs_diff(name.len()) > 4 * most.max(1) {
            continue;
        }
        let edits = if candidate.len() == name.len() && candidate.eq_ignore_ascii_case(name) {
            Some(0)
        } else {
            distance(name, candidate, most).or_else(|| (candidate.to_lowercase() == lower).then_some(0))
        };
        let Some(edits) = edits else { continue };
        let this = (!fits, edits, apart(name, candidate), candidate);
        if candidate != name && best.is_none_or(|best| this < best) {
            best = Some(this);
        }
    }
    let shortest = begun.iter().copied().min_by_key(|whole| whole.len());
    let begun = shortest.filter(|shortest| begun.iter().all(|whole| whole.starts_with(shortest)));
    match (best, begun) {
        // A difference in capitals alone.
        (Some((false, 0, _, name)), _) => Some(name),
        (best, begun) => begun.or(best.map(|(.., name)| name)),
    }
}

/// Whether a name is the first half of another, and not just the same with another number.
fn is_begun(name: &str, whole: &str) -> bool {
    let rest = whole.strip_prefix(name);
    name.len() > 2
        && !name.contains('.')
        && rest.is_some_and(|rest| rest.starts_with(|c: char| c.is_alphabetic() || c == '_'))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_edits() {
        assert_eq!(distance("S12", "S21", 3), Some(1));
        assert_eq!(distance("left_valve", "left_valv", 3), Some(1));
        assert_eq!(distance("a", "bcdef", 3), None);
        assert_eq!(distance("", "ab", 2), Some(2));
        assert_eq!(distance("kitten", "sitting", 3), Some(3));
        assert_eq!(distance("kitten", "sitting", 2), None);
    }

    #[test]
    fn prefers_what_fits() {
        assert_eq!(nearest("temp", [("tamp", false), ("temq_x", true)]), Some("tamp"));
        assert_eq!(nearest("templ", [("temp", false), ("templa", true)]), Some("templa"));
        assert_eq!(nearest("templ", [("temp", false), ("tempo1", true)]), Some("tempo1"));
        assert_eq!(nearest("K4", [("k4", true), ("K5", true)]), Some("k4"));
        assert_eq!(nearest("x", [("y", true)]), None);
    }

    #[test]
    fn prefers_what_is_begun() {
        let states =
            ["operates", "operates forward", "rests", "open", "openly", "between"].map(|word| (word, true));
        assert_eq!(nearest("oper", states), Some("operates"));
        assert_eq!(nearest("opne", states), Some("open"));
        assert_eq!(nearest("ope", states), Some("open"), "several begin with it");
        assert_eq!(nearest("fan", [("fan_cmd", true), ("van", true)]), Some("fan_cmd"));
        assert_eq!(nearest("K1.8", [("K1.87a", true)]), None);
    }

    #[test]
    fn prefers_the_nearer_number() {
        let relay = ["K1.30", "K1.85", "K1.86", "K1.87", "K1.87a"].map(|pin| (pin, true));
        assert_eq!(nearest("K1.88", relay), Some("K1.87"));
        assert_eq!(nearest("K1.84", relay), Some("K1.85"));
        assert_eq!(nearest("S13", [("S1", true), ("S12", true), ("S23", true)]), Some("S12"));
    }
}
