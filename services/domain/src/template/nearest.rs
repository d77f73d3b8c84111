//! The known word that is most like a mistyped one.

/// Says which known word is nearest, as the end of a sentence; nothing when none is near.
pub(super) fn suggestion<'k>(typed: &str, known: impl IntoIterator<Item = &'k str>) -> String {
    match nearest(typed, known) {
        Some(word) => format!("; did you mean '{word}'?"),
        None => String::new(),
    }
}

fn nearest<'k>(typed: &str, known: impl IntoIterator<Item = &'k str>) -> Option<&'k str> {
    let length = typed.chars().count();
    // A long text is no mistyped key, and comparing it would take time.
    if length > 80 {
        return None;
    }
    let limit = (length / 3).max(1);
    let distances = known.into_iter().map(|word| (distance(typed, word), word));
    distances.filter(|(distance, _)| *distance <= limit).min_by_key(|(distance, _)| *distance).map(|(_, word)| word)
}

/// How many letters have to be put in, taken out or changed (Levenshtein's distance), capitals
/// aside.
fn distance(left: &str, right: &str) -> usize {
    let right: Vec<char> = right.chars().flat_map(char::to_lowercase).collect();
    let mut row: Vec<usize> = (0..=right.len()).collect();
    for (i, letter) in left.chars().flat_map(char::to_lowercase).enumerate() {
        let mut diagonal = row[0];
        row[0] = i + 1;
        for (j, other) in right.iter().enumerate() {
            let changed = diagonal + usize::from(letter != *other);
            diagonal = row[j + 1];
            row[j + 1] = changed.min(row[j] + 1).min(diagonal + 1);
        }
    }
    row[right.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distances_of_known_pairs() {
        // The pair with which the distance is usually explained.
        assert_eq!(distance("kitten", "sitting"), 3);
        assert_eq!(distance("Drain", "drain"), 0);
        assert_eq!(distance("", "abc"), 3);
    }

    #[test]
    fn only_what_is_near_is_suggested() {
        let known = ["drain", "strip", "exhaust"];
        assert_eq!(suggestion("drian", known), "");
        assert_eq!(suggestion("drainn", known), "; did you mean 'drain'?");
        assert_eq!(suggestion("exhuast-off", known), "");
        assert_eq!(suggestion("exhasut", known), "; did you mean 'exhaust'?");
    }
}
