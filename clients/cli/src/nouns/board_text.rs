//! The board in words: a block for each bay, what is held up first. Words carry the meaning;
//! colour, where there is any, repeats it.

use super::job_text::names;
use crate::moment::{show_near, show_since};
use crate::out::clean;
use crate::quantity;
use crate::words::{Word, word};
use jiff::Timestamp;
use jiff::tz::TimeZone;
use leadhand_sdk::v1::{BayKind, Blocker, BoardBay, BoardJob, BoardStage, Cause, PromiseState, Shortage, StageState};
use leadhand_sdk::{Board, Standing, held_stage};

/// What begins an order to the terminal (ECMA-48).
const CSI: &str = "\u{1b}[";

/// How the board is drawn.
#[derive(Debug, Clone, Copy)]
pub struct Look<'a> {
    /// The shop's zone.
    pub zone: &'a TimeZone,
    /// The moment for which lengths of time are worked out.
    pub now: Timestamp,
    /// Whether colour may be used.
    pub colour: bool,
    /// Where lines are wrapped; nowhere when there is no terminal.
    pub width: Option<usize>,
}

/// Where it stands, in words.
fn standing_words(standing: Standing) -> &'static str {
    match standing {
        Standing::HeldUp => "HELD UP",
        Standing::Late => "LATE",
        Standing::AtRisk => "AT RISK",
        Standing::UnderWay => "under way",
        Standing::Unattended => "nobody on it",
        Standing::Free => "free",
    }
}

/// Where a job stands, in words: what was promised for later is late only once that has passed.
fn job_words(job: &BoardJob) -> &'static str {
    match Standing::of(job) {
        Standing::Late if !job.promise_passed => "LIKELY LATE",
        standing => standing_words(standing),
    }
}

/// The terminal's colour number (ECMA-48, SGR).
fn standing_colour(standing: Standing) -> &'static str {
    match standing {
        Standing::HeldUp | Standing::Late => "1;31",
        Standing::AtRisk => "1;33",
        Standing::UnderWay => "1;32",
        Standing::Unattended | Standing::Free => "1",
    }
}

/// A line of the board.
pub struct Row {
    /// What the line is the head of stands so, and the word for that takes the first `HEAD` columns.
    pub standing: Option<Standing>,
    /// The line, without colour.
    pub text: String,
}

/// Columns of the word that says how something stands.
pub const HEAD: usize = 13;

impl Row {
    fn plain(text: &str) -> Self {
        Self { standing: None, text: text.trim_end().to_owned() }
    }

    /// As it is printed.
    fn printed(self, look: Look<'_>) -> String {
        match self.standing {
            Some(standing) if look.colour => {
                let (word, rest) = self.text.split_at(HEAD.min(self.text.len()));
                [CSI, standing_colour(standing), "m", word, CSI, "0m", CSI, "1m", rest, CSI, "0m\n"].concat()
            }
            _ => self.text + "\n",
        }
    }
}

/// The whole board, as it is printed.
pub fn whole(board: &Board, look: Look<'_>) -> String {
    rows(board, look).into_iter().map(|row| row.printed(look)).collect()
}

/// The whole board, line by line.
pub fn rows(board: &Board, look: Look<'_>) -> Vec<Row> {
    let mut bays: Vec<(Standing, &BoardBay)> = board.bays.iter().map(|bay| (bay_standing(bay), bay)).collect();
    bays.sort_by_key(|(standing, bay)| (*standing, bay.job.as_ref().map_or(i32::MAX, |job| job.priority)));
    let mut text = Vec::new();
    let (taken, free): (Vec<_>, Vec<_>) = bays.into_iter().partition(|(standing, _)| *standing != Standing::Free);
    for (standing, bay) in taken {
        if let Some(job) = &bay.job {
            block(&mut text, standing, &bay_name(bay), job, look);
        }
    }
    for (standing, bay) in free {
        heading(&mut text, standing, standing_words(standing), &bay_name(bay), look);
    }
    if !board.outside.is_empty() {
        text.extend(["", "OUTSIDE", ""].map(Row::plain));
        let mut outside: Vec<(Standing, &BoardJob)> =
            board.outside.iter().map(|job| (Standing::of(job), job)).collect();
        outside.sort_by_key(|(standing, job)| (*standing, job.priority, job.job));
        for (standing, job) in outside {
            block(&mut text, standing, "outside", job, look);
        }
    }
    if board.bays.is_empty() {
        line(&mut text, "", super::bay::NONE, look);
    }
    let as_of = board.as_of.as_ref();
    line(&mut text, "", &format!("as of {}, fact {}", show_near(as_of, look.zone, look.now), board.number), look);
    text
}

/// How many bays, and vehicles outside, stand so.
pub fn count(board: &Board, standing: Standing) -> usize {
    let bays = board.bays.iter().map(bay_standing);
    bays.chain(board.outside.iter().map(Standing::of)).filter(|found| *found == standing).count()
}

/// That in words: `2 held up`.
pub fn counted(standing: Standing, count: usize) -> String {
    if standing == Standing::Late {
        return format!("{count} late or likely late");
    }
    format!("{count} {}", standing_words(standing).to_lowercase())
}

fn bay_standing(bay: &BoardBay) -> Standing {
    bay.job.as_ref().map_or(Standing::Free, Standing::of)
}

fn bay_name(bay: &BoardBay) -> String {
    let Some(bay) = &bay.bay else { return "a bay".to_owned() };
    let kind = word::<BayKind>(bay.kind).replace('-', " ");
    if bay.name == bay.bay || bay.name.is_empty() {
        format!("bay {} ({kind})", bay.bay)
    } else {
        format!("bay {} ({}, {kind})", bay.bay, bay.name)
    }
}

fn block(text: &mut Vec<Row>, standing: Standing, place: &str, job: &BoardJob, look: Look<'_>) {
    heading(text, standing, job_words(job), &format!("{place}: {}", title(job)), look);
    for (label, words) in details(job, look) {
        line(text, label, &words, look);
    }
    text.push(Row::plain(""));
}

/// Vehicle and job.
pub fn title(job: &BoardJob) -> String {
    let vehicle = if job.vehicle_label.is_empty() { "(vehicle forgotten)" } else { &job.vehicle_label };
    format!("{vehicle}, job {}, {}", job.job, job.title)
}

/// What there is to say of a job, line by line.
pub fn details(job: &BoardJob, look: Look<'_>) -> Vec<(&'static str, String)> {
    let mut lines = Vec::new();
    for blocker in &job.blockers {
        lines.push(("held up", held_up(blocker, look)));
    }
    for stage in &job.active {
        lines.push(("now", under_way(stage, job, look)));
    }
    if job.active.is_empty() {
        lines.push(("now", format!("no stage under way, {} of {} ended", job.stages_done, job.stages_total)));
    }
    let next: Vec<String> = job.next.iter().map(|stage| coming(stage, look)).collect();
    if !next.is_empty() {
        lines.push(("next", next.join("; ")));
    }
    if !job.missing.is_empty() {
        let missing: Vec<String> = job.missing.iter().map(missing).collect();
        lines.push(("missing", missing.join("; ")));
    }
    lines.push(("promise", promise(job, look)));
    lines
}

/// What holds a stage up, and for how long.
fn held_up(blocker: &Blocker, look: Look<'_>) -> String {
    let mut parts = vec![format!("{} by {}", held_stage(blocker), word::<Cause>(blocker.cause).replace('-', " "))];
    if !blocker.item.is_empty() {
        parts.push(format!("{} for step {}", blocker.item, blocker.step));
    }
    if !blocker.tool.is_empty() {
        parts.push(format!("shared tool {} for step {}", blocker.tool, blocker.step));
    }
    if !blocker.note.is_empty() {
        parts.push(blocker.note.clone());
    }
    parts.push(format!("for {}", show_since(blocker.since.as_ref(), look.now)));
    if !blocker.owner.is_empty() {
        parts.push(format!("{} sees to it", blocker.owner));
    }
    if blocker.expected_at.is_some() {
        parts.push(format!("until {}", show_near(blocker.expected_at.as_ref(), look.zone, look.now)));
    }
    format!("{} (blocker {})", parts.join(", "), blocker.blocker)
}

fn under_way(stage: &BoardStage, job: &BoardJob, look: Look<'_>) -> String {
    let mut parts = vec![format!("{}/{} {}", stage.ordinal, job.stages_total, stage.title)];
    if stage.steps_total > 0 {
        parts.push(format!("step {} of {}", (stage.steps_done + 1).min(stage.steps_total), stage.steps_total));
    }
    parts.push(if stage.persons.is_empty() { "nobody on it".to_owned() } else { names(&stage.persons) });
    parts.push(format!("for {}", show_since(stage.started_at.as_ref(), look.now)));
    parts.join(", ")
}

fn coming(stage: &BoardStage, look: Look<'_>) -> String {
    let state = match StageState::from_number(stage.state) {
        Some(StageState::Ready) => "ready".to_owned(),
        Some(StageState::Waiting) => format!("waits until {}", show_near(stage.ready_at.as_ref(), look.zone, look.now)),
        _ => "not yet".to_owned(),
    };
    format!("{} ({state})", stage.title)
}

fn missing(short: &Shortage) -> String {
    format!("{} of {} for {} step {}", quantity::show(short.quantity, &short.unit), short.item, short.stage, short.step)
}

/// What was promised, and whether it holds.
fn promise(job: &BoardJob, look: Look<'_>) -> String {
    let near = |at| show_near(at, look.zone, look.now);
    let in_danger = matches!(PromiseState::from_number(job.promise), Some(PromiseState::AtRisk | PromiseState::Late));
    // Where it does not hold for sure, what may be said instead.
    let badly = job.if_badly_at.as_ref().filter(|_| in_danger);
    let told = [("likely", job.expected_at.as_ref()), ("if it goes badly", badly)].into_iter();
    let expected: String = told.filter_map(|(word, at)| Some(format!(", {word} {}", near(Some(at?))))).collect();
    let state = match PromiseState::from_number(job.promise) {
        Some(PromiseState::Holds) => "holds",
        Some(PromiseState::AtRisk) => "AT RISK",
        Some(PromiseState::Late) if job.promise_passed => "LATE",
        Some(PromiseState::Late) => "LIKELY LATE",
        Some(PromiseState::NoPlace) => "NO PLACE IN THE PLAN",
        Some(PromiseState::NoStages) => "no stages, so nothing can be said",
        _ => return format!("none{expected}"),
    };
    let promised = if job.promised_at.is_none() { "none".to_owned() } else { near(job.promised_at.as_ref()) };
    format!("{promised}, {state}{expected}")
}

fn heading(text: &mut Vec<Row>, standing: Standing, head: &str, words: &str, look: Look<'_>) {
    let words = clean(words);
    let first = format!("{head:<HEAD$}");
    let lines = wrap(&format!("{first}{words}"), look.width, HEAD);
    for (at, line) in lines.iter().enumerate() {
        let heads = at == 0 && line.starts_with(&first);
        text.push(Row { standing: heads.then_some(standing), ..Row::plain(line) });
    }
}

fn line(text: &mut Vec<Row>, label: &str, words: &str, look: Look<'_>) {
    let whole = if label.is_empty() { clean(words) } else { format!("  {label:<11}{}", clean(words)) };
    for line in wrap(&whole, look.width, if label.is_empty() { 0 } else { HEAD }) {
        text.push(Row::plain(&line));
    }
}

/// Breaks a line between words, later lines indented; a word longer than the line is cut.
pub fn wrap(line: &str, width: Option<usize>, indent: usize) -> Vec<String> {
    let Some(width) = width else { return vec![line.to_owned()] };
    let width = width.max(indent + 8);
    let mut lines = Vec::new();
    let mut rest: Vec<char> = line.chars().collect();
    while rest.len() > width {
        // Not within the indent: the label that stands there on the first line is no place to break.
        let broken =
            (indent + 1..=width).rev().find(|&at| rest[at] == ' ' && rest[indent..at].iter().any(|c| *c != ' '));
        let cut = broken.unwrap_or(width);
        lines.push(rest[..cut].iter().collect());
        let next: Vec<char> = rest[cut..].iter().copied().skip_while(|c| *c == ' ').collect();
        rest = std::iter::repeat_n(' ', indent).chain(next).collect();
    }
    lines.push(rest.into_iter().collect());
    lines
}

/// One line of a bay or vehicle, for a log of changes.
pub fn one_line(place: &str, job: Option<&BoardJob>, look: Look<'_>) -> String {
    let Some(job) = job else { return clean(&format!("{place}: free")) };
    let details: Vec<String> =
        details(job, look).into_iter().map(|(label, words)| format!("{label}: {words}")).collect();
    clean(&format!("{place}: {}: {}; {}", job_words(job), title(job), details.join("; ")))
}

#[cfg(test)]
#[path = "board_text_tests.rs"]
mod tests;
