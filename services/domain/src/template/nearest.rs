//! The known word that is most like a mistyped one.

/// Says which known word is nearest, as the end of a sentence; nothing when none is near.
pub(crate) fn suggestion<'k>(typed: &str, known: impl IntoIterator<Item = &'k str>) -> String {
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

/// How many letters have to be put in, taken out, changed or swapped with their neighbour (the
/// optimal string alignment distance), capitals aside.
fn distance(left: &str, right: &str) -> usize {
    let letters = |word: &str| word.chars().flat_map(char::to_lowercase).collect::<Vec<char>>();
    let (left, right) = (letters(left), letters(right));
    let mut before_last: Vec<usize> = Vec::new();
    let mut last: Vec<usize> = (0..=right.len()).collect();
    for i in 1..=left.len() {
        let mut row = vec![i];
        for j in 1..=right.len() {
            let changed = last[j - 1] + usize::from(left[i - 1] != right[j - 1]);
            let mut least = changed.min(last[j] + 1).min(row[j - 1] + 1);
            if i > 1 && j > 1 && left[i - 1] == right[j - 2] && left[i - 2] == right[j - 1] {
                least = least.min(before_last[j - 2] + 1);
            }
            row.push(least);
        }
        before_last = std::mem::replace(&mut last, row);
    }
    last[right.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distances_of_known_pairs() {
        // The pair with which the distance is usually explained.
        assert_eq!(distance("kitten", "sitting"), 3);
        assert_eq!(distance("Drain", "drain"), 0);
        assert_eq!(distance("drian", "drain"), 1);
        assert_eq!(distance("", "abc"), 3);
    }

    #[test]
    fn only_what_is_near_is_suggested() {
        let known = ["drain", "strip", "exhaust"];
        assert_eq!(suggestion("drian", known), "; did you mean 'drain'?");
        assert_eq!(suggestion("drainn", known), "; did you mean 'drain'?");
        assert_eq!(suggestion("exhuast-off", known), "");
        assert_eq!(suggestion("exhasut", known), "; did you mean 'exhaust'?");
    }
}
