//! Labels to print and cut out: a pair for each tagged place, one for either end, and one for each bag.

use super::strip_text::remarked;
use crate::app::App;
use crate::failure::{Failure, Outcome};
use crate::out::{self, clean};
use leadhand_sdk::v1::{GetStripRequest, GetStripResponse, Keep, Position};
use std::fmt::Write;

/// Characters between the edges of a label.
const WIDTH: usize = 38;

/// Prints the labels of a job, or of some of its positions.
pub async fn print(app: &App, job: i64, only: &[String]) -> Outcome {
    let book = app.client.get_strip(GetStripRequest { job, ..Default::default() }).await?;
    if app.out.is_json() {
        return out::json(&book);
    }
    let labels = labels(&book, job, only);
    if let Some(unknown) = only.iter().find(|key| book.positions.iter().all(|one| one.position != **key)) {
        let cure = format!("see 'leadhand strip show {job}'");
        return Err(Failure::Missing(format!("job {job} has no position '{unknown}'; {cure}")));
    }
    if labels.is_empty() {
        let of = if only.is_empty() { format!("job {job}") } else { format!("{} of job {job}", only.join(", ")) };
        out::note(&format!("nothing of {of} is tagged or kept in a bag, so there is nothing to print"));
        return Ok(());
    }
    out::put(&labels.concat())?;
    out::note(&format!("{} label(s) for job {job}: a pair for each tag, one for each bag", labels.len()));
    Ok(())
}

fn labels(book: &GetStripResponse, job: i64, only: &[String]) -> Vec<String> {
    let wanted = |one: &&Position| only.is_empty() || only.contains(&one.position);
    let mut all = Vec::new();
    for one in book.positions.iter().filter(wanted) {
        // What was never there has no ends.
        let there = if one.off_at.is_some() { usize::try_from(one.found).unwrap_or_default() } else { one.tags.len() };
        for number in one.tags.iter().take(there) {
            for end in ["A", "B"] {
                let head = (format!("JOB {job}"), format!("TAG {number} {end}"));
                let mut lines = vec![head, of(one), ends(*number, end)];
                lines.extend(remarked(one).into_iter().map(|said| (said, String::new())));
                all.push(label(&lines));
            }
        }
        if one.keep() == Keep::Bag {
            let pieces = if one.found > 0 { one.found } else { one.count };
            let back = if one.back.is_empty() { String::new() } else { format!("back in {}", one.back) };
            let counted = (format!("{pieces} piece(s)"), one.size.clone());
            let mut lines = vec![(format!("JOB {job}"), "BAG".to_owned()), of(one), counted, (back, String::new())];
            lines.extend(remarked(one).into_iter().map(|said| (said, String::new())));
            all.push(label(&lines));
        }
    }
    all
}

fn of(one: &Position) -> (String, String) {
    (format!("{}: {}", one.position, one.what), String::new())
}

fn ends(number: i32, end: &str) -> (String, String) {
    let other = if end == "A" { "B" } else { "A" };
    (format!("goes with {number} {other}"), String::new())
}

/// A box of lines; each has a left and a right part. The right one keeps to its half, and each is broken between words
/// where it does not fit.
fn label(lines: &[(String, String)]) -> String {
    let edge = format!("+{}+\n", "-".repeat(WIDTH + 2));
    let mut text = edge.clone();
    for (left, right) in lines.iter().filter(|(left, right)| !left.is_empty() || !right.is_empty()) {
        let rights = wrapped(&clean(right), WIDTH / 2);
        let widest = rights.iter().map(|line| line.chars().count()).max().unwrap_or_default();
        let room = if widest == 0 { WIDTH } else { WIDTH - widest - 1 };
        let lefts = wrapped(&clean(left), room);
        for at in 0..lefts.len().max(rights.len()) {
            let part = |lines: &[String]| lines.get(at).cloned().unwrap_or_default();
            let (left, right) = (part(&lefts), part(&rights));
            let gap = " ".repeat(WIDTH - left.chars().count() - right.chars().count());
            let _ = writeln!(text, "| {left}{gap}{right} |");
        }
    }
    text.push_str(&edge);
    text
}

/// Lines of at most this many characters, broken between words; a word that is longer is broken in itself.
fn wrapped(text: &str, room: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split(' ').filter(|word| !word.is_empty()) {
        let letters: Vec<char> = word.chars().collect();
        for (at, piece) in letters.chunks(room).enumerate() {
            let piece: String = piece.iter().collect();
            let fits = |line: &&mut String| at == 0 && line.chars().count() + 1 + piece.chars().count() <= room;
            match lines.last_mut().filter(fits) {
                Some(line) => {
                    line.push(' ');
                    line.push_str(&piece);
                }
                None => lines.push(piece),
            }
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    fn book() -> GetStripResponse {
        let plug = Position {
            position: "plugs".into(),
            what: "Injector plugs".into(),
            count: 2,
            tags: vec![3, 4],
            ..Position::default()
        };
        let nuts = Position {
            position: "nuts".into(),
            what: "Nuts of the inlet manifold, the long name of a thing that does not fit".into(),
            count: 7,
            found: 6,
            size: "M8".into(),
            back: "refit".into(),
            note: "the one from the lowest hole is longer".into(),
            repair: "insert in hole 2".into(),
            keep: Keep::Bag.into(),
            ..Position::default()
        };
        let tray = Position { position: "rail".into(), keep: Keep::Tray.into(), ..Position::default() };
        GetStripResponse { positions: vec![plug, nuts, tray], ..GetStripResponse::default() }
    }

    #[test]
    fn what_was_never_there_has_no_tags() {
        let mut book = book();
        book.positions[0] = Position {
            off_at: Some(leadhand_sdk::WireTimestamp::default()),
            found: 1,
            missing: 1,
            ..book.positions[0].clone()
        };
        let all = labels(&book, 6, &["plugs".to_owned()]).concat();
        assert!(all.contains("TAG 3 B") && !all.contains("TAG 4"), "{all}");
    }

    #[test]
    fn both_ends_bear_the_same_number_and_each_bag_one_label() {
        let all = labels(&book(), 6, &[]);
        assert_eq!(all.len(), 5);
        assert_eq!(
            all[1],
            "+----------------------------------------+\n\
             | JOB 6                          TAG 3 B |\n\
             | plugs: Injector plugs                  |\n\
             | goes with 3 A                          |\n\
             +----------------------------------------+\n"
        );
        assert!(all[4].contains("| 6 piece(s)                          M8 |\n| back in refit"), "{}", all[4]);
        assert_eq!(labels(&book(), 6, &["nuts".to_owned()]).len(), 1);
    }

    #[test]
    fn a_long_name_and_what_was_different_are_broken_between_words() {
        let all = labels(&book(), 6, &["nuts".to_owned()]);
        for line in [
            "| nuts: Nuts of the inlet manifold, the  |\n| long name of a thing that does not fit |",
            "| the one from the lowest hole is longer |\n| repaired before: insert in hole 2      |",
        ] {
            assert!(all[0].contains(line), "{}", all[0]);
        }
        assert_eq!(wrapped("ab abcdefg", 3), ["ab", "abc", "def", "g"]);
        assert_eq!(wrapped("", 3), Vec::<String>::new());
    }

    #[test]
    fn every_line_is_as_wide_as_the_others() {
        for label in labels(&book(), 1_234_567, &[]) {
            assert!(label.lines().all(|line| line.chars().count() == WIDTH + 4), "{label}");
        }
    }
}
