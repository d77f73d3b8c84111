//! Text that fits a width: broken between words, and within one only where a word alone is too long.

use unicode_width::UnicodeWidthStr;

/// How many columns of a terminal a text takes.
pub fn width_of(text: &str) -> usize {
    UnicodeWidthStr::width(text)
}

/// A text in lines of at most that width. At least one line.
pub fn wrapped(text: &str, width: usize) -> Vec<String> {
    let width = width.max(1);
    let mut lines = vec![String::new()];
    for word in text.split(' ').filter(|word| !word.is_empty()) {
        let last = lines.last_mut().map_or(0, |line| width_of(line));
        let gap = usize::from(last > 0);
        if last + gap + width_of(word) <= width {
            push(&mut lines, if gap == 1 { " " } else { "" });
            push(&mut lines, word);
            continue;
        }
        if last > 0 {
            lines.push(String::new());
        }
        for part in pieces(word, width) {
            if lines.last().is_some_and(|line| !line.is_empty()) {
                lines.push(String::new());
            }
            push(&mut lines, &part);
        }
    }
    lines
}

fn push(lines: &mut [String], text: &str) {
    if let Some(line) = lines.last_mut() {
        line.push_str(text);
    }
}

/// A word in pieces that fit.
fn pieces(word: &str, width: usize) -> Vec<String> {
    let mut all = vec![String::new()];
    for letter in word.chars() {
        let mut buffer = [0; 4];
        let letter: &str = letter.encode_utf8(&mut buffer);
        if all.last().is_some_and(|piece| !piece.is_empty() && width_of(piece) + width_of(letter) > width) {
            all.push(String::new());
        }
        push(&mut all, letter);
    }
    all
}

/// Lines as they stand, those that are too long broken between words and set in under their beginning. Nothing changes
/// where there is no width.
pub fn prose(text: &str, width: Option<usize>) -> String {
    let Some(width) = width else { return text.to_owned() };
    let lines: Vec<String> = text.split('\n').map(|line| hung(line, width)).collect();
    lines.join("\n")
}

fn hung(line: &str, width: usize) -> String {
    if width_of(line) <= width {
        return line.to_owned();
    }
    let own = line.len() - line.trim_start_matches(' ').len();
    let (first, rest) = (" ".repeat(own.min(width / 2)), " ".repeat((own + 2).min(width / 2)));
    let broken = wrapped(line, width - rest.len());
    let set = broken.iter().enumerate().map(|(at, part)| format!("{}{part}", if at == 0 { &first } else { &rest }));
    set.collect::<Vec<_>>().join("\n")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_is_broken_between_words_and_nothing_is_lost() {
        assert_eq!(wrapped("loosen the bolts", 10), ["loosen the", "bolts"]);
        assert_eq!(wrapped("loosen the bolts", 16), ["loosen the bolts"]);
        assert_eq!(wrapped("coolant-concentrate x", 8), ["coolant-", "concentr", "ate x"]);
        assert_eq!(wrapped("", 8), [""]);
        // East Asian wide characters take two columns (Unicode Standard Annex #11).
        assert_eq!(wrapped("車両 車両", 5), ["車両", "車両"]);
    }

    #[test]
    fn prose_keeps_its_lines_and_sets_in_what_runs_on() {
        let text = "parts:\n  2 of belt at the job and 3 more to come";
        assert_eq!(prose(text, Some(20)), "parts:\n  2 of belt at the\n    job and 3 more\n    to come");
        assert_eq!(prose(text, None), text);
        assert_eq!(prose("a b\n", Some(20)), "a b\n");
    }
}
