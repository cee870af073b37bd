//! "Did you mean …?"

/// The candidate nearest to `word`, if it is near enough to be a slip of the pen.
pub(super) fn nearest<'c>(
    word: &str,
    candidates: impl Iterator<Item = &'c str>,
) -> Option<&'c str> {
    let word = word.to_lowercase();
    let allowed = (word.chars().count() / 3).max(1) + 1;
    // Names and keys are short; a long text is no slip of one.
    if word.len() > 100 {
        return None;
    }
    candidates
        .filter(|candidate| candidate.len() <= 100)
        .map(|candidate| {
            let lower = candidate.to_lowercase();
            // Who leaves out the unit at the end of a key has meant that key.
            let cut_off = word.len() >= 3 && lower.starts_with(&format!("{word}_"));
            let steps = if cut_off { 1 } else { distance(&word, &lower) };
            (steps, candidate)
        })
        .filter(|(distance, candidate)| {
            *distance <= allowed && *distance < candidate.chars().count()
        })
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, candidate)| candidate)
}

/// Levenshtein distance: the fewest characters to put in, take out or replace.
fn distance(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, from) in a.chars().enumerate() {
        let mut diagonal = row[0];
        row[0] = i + 1;
        for (j, to) in b.iter().enumerate() {
            let replaced = diagonal + usize::from(from != *to);
            diagonal = row[j + 1];
            row[j + 1] = replaced.min(diagonal + 1).min(row[j] + 1);
        }
    }
    row[b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distances_are_those_of_the_textbook() {
        // The usual example of the Levenshtein distance: kitten → sitting takes 3 steps.
        assert_eq!(distance("kitten", "sitting"), 3);
        assert_eq!(distance("", "abc"), 3);
        assert_eq!(distance("flaw", "lawn"), 2);
    }

    #[test]
    fn only_a_slip_of_the_pen_is_guessed() {
        let keys = ["columns", "rows", "panel_mm"];
        assert_eq!(nearest("colums", keys.into_iter()), Some("columns"));
        assert_eq!(nearest("Rows", keys.into_iter()), Some("rows"));
        assert_eq!(nearest("colour", keys.into_iter()), None);
        assert_eq!(nearest("panel", keys.into_iter()), Some("panel_mm"));
        assert_eq!(nearest("x", ["y"].into_iter()), None);
    }
}
