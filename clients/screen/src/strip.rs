//! The strip book on the page of a bay: what comes off with each step, what goes back, and where it stands.

use crate::texts::Texts;
use crate::view::Look;
use leadhand_sdk::WireTimestamp;
use leadhand_sdk::v1::{GetStripResponse, Manner, Position, PositionStanding, Reach, RefitLine, Tightness};
use std::collections::BTreeSet;

/// A position, ready to be shown.
pub struct Line {
    /// Its key.
    pub position: String,
    /// The style's and the mark's name: how it stands.
    pub class: &'static str,
    /// How many of what.
    pub what: String,
    /// Size, head, place.
    pub details: Vec<String>,
    /// Where it stands, in words; empty while nothing was said.
    pub state: String,
    /// What still hangs on it, before it is lifted away.
    pub attached: String,
}

/// What goes back in a stage.
pub struct Back {
    /// The position.
    pub line: Line,
    /// What has to be back before it; empty when it may go back now.
    pub after: String,
    /// How it goes back and how tight, in words.
    pub how: Vec<String>,
}

/// What is back, and has something left to be done about it.
pub struct Unfinished {
    /// Its key.
    pub position: String,
    /// What it is, and how tight it has to be.
    pub what: String,
    /// How tight it is, as the contract names it.
    pub tightness: &'static str,
}

/// Where a position stands.
pub fn standing(position: &Position) -> PositionStanding {
    PositionStanding::try_from(position.standing).unwrap_or_default()
}

/// Whether nothing was said of it yet.
pub fn is_unsaid(position: &Position) -> bool {
    standing(position) == PositionStanding::NotYet
}

/// What one person took off in a step at one moment.
pub fn off_then(book: &GetStripResponse, stage: &str, step: i32, who: &str, at: &WireTimestamp) -> Vec<String> {
    let own = book.positions.iter().filter(|one| one.stage == stage && one.step == step && one.off_by == who);
    own.filter(|one| one.off_at.as_ref() == Some(at)).map(|one| one.position.clone()).collect()
}

/// What one person put back, or took out again, in a stage at one moment, in the order of the refit.
pub fn back_then(book: &GetStripResponse, stage: &str, who: &str, at: &WireTimestamp) -> Vec<String> {
    let own = |key: &String| {
        book.positions.iter().any(|one| one.position == *key && one.back_by == who && one.back_at.as_ref() == Some(at))
    };
    let lines = book.refit.iter().filter(|line| line.stage == stage && own(&line.position));
    lines.map(|line| line.position.clone()).collect()
}

/// How it is shown.
fn class(position: &Position) -> &'static str {
    match standing(position) {
        PositionStanding::NotYet | PositionStanding::Unspecified => "left",
        PositionStanding::Off => "off",
        PositionStanding::OffInOwnHole => "own-hole",
        PositionStanding::Aside => "aside",
        PositionStanding::StillIn => "in",
        PositionStanding::PartlyBack => "partly",
        PositionStanding::Settled => "settled",
    }
}

/// How many of what.
pub fn counted(position: &Position) -> String {
    if position.count == 1 { position.what.clone() } else { format!("{} × {}", position.count, position.what) }
}

/// Size, head and place, as far as they are known.
pub fn details(position: &Position, t: &Texts) -> Vec<String> {
    let mut all: Vec<String> = [&position.size, &position.head, &position.location]
        .into_iter()
        .filter(|one| !one.is_empty())
        .cloned()
        .collect();
    let reach = Reach::try_from(position.reach).unwrap_or_default();
    if reach != Reach::Unspecified {
        all.push(t.word(reach.as_str_name()));
    }
    if !position.tags.is_empty() {
        let tags: Vec<String> = position.tags.iter().map(ToString::to_string).collect();
        all.push(t.fill("tags", "tags", &tags.join(", ")));
    }
    all
}

/// The names of these positions, as the book calls them.
pub fn named(book: &GetStripResponse, keys: &[String]) -> String {
    let name = |key: &String| {
        book.positions.iter().find(|one| one.position == *key).map_or(key.clone(), |one| one.what.clone())
    };
    keys.iter().map(name).collect::<Vec<_>>().join(", ")
}

/// A position as a line.
pub fn line(position: &Position, book: &GetStripResponse, look: Look<'_>) -> Line {
    let t = look.texts;
    let unsaid = is_unsaid(position);
    let attached = if unsaid && !position.still_attached.is_empty() {
        t.fill("still-attached", "what", &named(book, &position.still_attached))
    } else {
        String::new()
    };
    Line {
        position: position.position.clone(),
        class: class(position),
        what: counted(position),
        details: details(position, t),
        state: if unsaid { soaking(position, look) } else { state(position, look) },
        attached,
    }
}

/// Whether it soaks, or was tried already, before anything came off.
fn soaking(position: &Position, look: Look<'_>) -> String {
    let t = look.texts;
    if position.soaked {
        t.say("has-soaked")
    } else if position.soak_until.is_some() {
        let until = look.near(position.soak_until.as_ref());
        t.fill("soaks-until", "when", &until)
    } else if position.attempts.is_empty() {
        String::new()
    } else {
        t.count("tried", position.attempts.len())
    }
}

fn state(position: &Position, look: Look<'_>) -> String {
    let t = look.texts;
    let mut parts = vec![t.say(&format!("standing-{}", class(position)))];
    let open = standing(position) != PositionStanding::Settled;
    let keep = leadhand_sdk::v1::Keep::try_from(position.keep).unwrap_or_default();
    if open && !position.kept_at.is_empty() {
        parts.push(position.kept_at.clone());
    } else if open && keep != leadhand_sdk::v1::Keep::Unspecified {
        parts.push(t.word(keep.as_str_name()));
    }
    // Another number than the listed one was found: nothing on the page may look as if it were as listed.
    if position.found + position.missing != position.count {
        let counts = [("found", position.found.into()), ("listed", position.count.into())];
        parts.push(t.with("n-found", &counts));
    }
    let counts = [
        ("n-missing", position.missing),
        ("n-damaged", position.damaged),
        ("n-new", position.renewed),
        ("n-left-out", position.left_out),
    ];
    for (key, n) in counts {
        if n > 0 {
            parts.push(t.count(key, usize::try_from(n).unwrap_or_default()));
        }
    }
    if !position.repair.is_empty() {
        parts.push(t.say("earlier-repair"));
    }
    if !position.off_by.is_empty() {
        parts.push(position.off_by.clone());
    }
    parts.join(" · ")
}

/// What a step takes off or puts in, in an order in which it can come off.
pub fn of_step(book: &GetStripResponse, stage: &str, step: i32, look: Look<'_>) -> Vec<Line> {
    let own = book.positions.iter().filter(|one| one.stage == stage && one.step == step);
    in_order(own.collect()).into_iter().map(|one| line(one, book, look)).collect()
}

/// Each after what lies before it.
fn in_order(mut left: Vec<&Position>) -> Vec<&Position> {
    let mut placed: Vec<&Position> = Vec::with_capacity(left.len());
    while !left.is_empty() {
        let waits =
            |one: &Position| left.iter().any(|other| other.position != one.position && comes_before(other, one));
        let next = left.iter().position(|one| !waits(one)).unwrap_or(0);
        placed.push(left.remove(next));
    }
    placed
}

/// Whether one has to be off before the other, by itself.
fn comes_before(first: &Position, then: &Position) -> bool {
    then.behind.contains(&first.position) || first.attached_to == then.position
}

/// What has to be off before a position and is not, all the way, as far as it comes off in the same stage.
pub fn in_front<'a>(book: &'a GetStripResponse, position: &Position) -> Vec<&'a Position> {
    let mut found: BTreeSet<&str> = BTreeSet::new();
    let mut look_at: Vec<&Position> = vec![position];
    while let Some(then) = look_at.pop() {
        for first in book.positions.iter().filter(|one| is_unsaid(one) && one.stage == position.stage) {
            let put_in = first.manner == i32::from(Manner::In);
            let before = first.position != position.position && !put_in && comes_before(first, then);
            if before && found.insert(&first.position) {
                look_at.push(first);
            }
        }
    }
    in_order(book.positions.iter().filter(|one| found.contains(one.position.as_str())).collect())
}

/// What goes back in a stage and is not back, in the order of the refit.
pub fn going_back(book: &GetStripResponse, stage: &str, look: Look<'_>) -> Vec<Back> {
    let due = book.refit.iter().filter(|line| line.stage == stage && !line.done);
    let done = |key: &String| book.refit.iter().any(|line| line.position == *key && line.done);
    let lines = due.filter_map(|refit| {
        let position = book.positions.iter().find(|one| one.position == refit.position)?;
        let after: Vec<String> = refit.after.iter().filter(|key| !done(key)).cloned().collect();
        let after =
            if after.is_empty() { String::new() } else { look.texts.fill("after", "what", &named(book, &after)) };
        Some(Back { line: line(position, book, look), after, how: how(position, refit, look.texts) })
    });
    lines.collect()
}

/// How it goes back.
fn how(position: &Position, refit: &RefitLine, t: &Texts) -> Vec<String> {
    let mut all = position.how.clone();
    if !position.tighten.is_empty() {
        all.push(t.fill("tighten-to", "what", &tightening(position).join(", ")));
    }
    if let Some(part) = &refit.part {
        let n = usize::try_from(part.pieces).unwrap_or_default();
        let key = if part.item.is_empty() { "new-pieces-of-none" } else { "new-pieces" };
        all.push(t.with(key, &[("n", n.into()), ("item", part.item.as_str().into())]));
    }
    all
}

/// The stages of tightening, torques in both units.
pub fn tightening(position: &Position) -> Vec<String> {
    let others = position.tighten_beside.iter().map(String::as_str).chain(std::iter::repeat(""));
    let both = position.tighten.iter().zip(others).map(|(own, other)| match other {
        "" => own.clone(),
        other => format!("{own} ({other})"),
    });
    both.collect()
}

fn is_back(position: &Position) -> bool {
    standing(position) == PositionStanding::Settled && position.manner != i32::from(Manner::In)
}

fn fitted(position: &Position) -> bool {
    position.refitted + position.renewed > 0
}

/// What is back in a stage and not as tight as it has to be.
pub fn to_tighten(book: &GetStripResponse, stage: &str) -> Vec<Unfinished> {
    let loose = |one: &&Position| {
        one.back == stage && is_back(one) && fitted(one) && one.tightness != i32::from(Tightness::Final)
    };
    let lines = book.positions.iter().filter(loose).map(|one| Unfinished {
        position: one.position.clone(),
        what: format!("{} {}", counted(one), tightening(one).join(", ")).trim_end().to_owned(),
        tightness: one.tightness().as_str_name(),
    });
    lines.collect()
}

/// What waits for somebody else's look.
pub fn to_check(book: &GetStripResponse) -> Vec<Unfinished> {
    let waits = |one: &&Position| {
        let whole = is_back(one) && fitted(one) && one.tightness == i32::from(Tightness::Final);
        one.second_check && whole && one.checked_by.is_empty()
    };
    let lines = book.positions.iter().filter(waits);
    let unfinished = |one: &Position| Unfinished {
        position: one.position.clone(),
        what: counted(one),
        tightness: one.tightness().as_str_name(),
    };
    lines.map(unfinished).collect()
}

#[cfg(test)]
#[path = "strip_tests.rs"]
mod tests;
