//! What will not move: the ladder that says what is tried next, who may do it, and from where on it may break.

use crate::state::State;
use leadhand_facts::rows::{AttemptRow, PositionRow};
use leadhand_facts::strip::Rung;
use leadhand_facts::template::Caution;
use leadhand_facts::words::{Outcome, SignalWord};
use leadhand_facts::{AttemptNo, JobNo, PersonId, PositionKey, StageKey};

/// What is to be tried next.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NextRung {
    /// Its number in the ladder, from 1.
    pub number: i32,
    /// What it says.
    pub rung: Rung,
    /// Whether it may break from here on: this is the last safe try, or lies behind it.
    pub may_break: bool,
    /// Everybody who has the skills that it asks for.
    pub who: Vec<PersonId>,
}

/// The attempts at a position, in order.
pub fn attempts<'s>(
    state: &'s State,
    job: JobNo,
    position: &PositionKey,
) -> impl Iterator<Item = &'s AttemptRow> + use<'s> {
    let position = position.clone();
    let first = (job, position.clone(), AttemptNo(i32::MIN));
    state.attempts.from_key(first).take_while(move |row| row.job == job && row.position == position)
}

/// Pieces that moved in the end.
pub fn moved(state: &State, job: JobNo, position: &PositionKey) -> i32 {
    sum(attempts(state, job, position).filter(|row| row.outcome == Outcome::Moved))
}

/// Pieces that were ruined while they were tried. One that is ruined further is the same one.
pub fn ruined(state: &State, job: JobNo, position: &PositionKey) -> i32 {
    Trial::of(attempts(state, job, position)).ruined
}

/// Pieces that were tried and have not moved.
pub fn stuck(state: &State, job: JobNo, position: &PositionKey) -> i32 {
    Trial::of(attempts(state, job, position)).stuck
}

/// The last safe try where a rung lies behind it and nobody has made it yet. What broke is past trying.
pub(crate) fn skipped_last_safe(state: &State, row: &PositionRow, rung: i32) -> Option<i32> {
    let tried = Trial::of(attempts(state, row.job, &row.position));
    let last = last_safe(&ladder_of(state, row))?;
    (rung > last && tried.highest < last && !tried.broke).then_some(last)
}

/// Something of a stage that is still on though its last safe try was made.
pub(crate) fn past_trying<'s>(state: &'s State, job: JobNo, stage: &StageKey) -> Option<&'s PositionRow> {
    let beyond = |row: &&PositionRow| {
        let tried = Trial::of(attempts(state, job, &row.position));
        tried.stuck > 0 && last_safe(&ladder_of(state, row)).is_some_and(|last| tried.highest >= last)
    };
    super::positions(state, job).filter(|row| row.stage == *stage && row.off_n.is_none()).find(beyond)
}

/// How far the pieces are that were tried. Nobody names a nut, so a later attempt is at the pieces that an earlier one
/// left where they were, as far as there are so many.
#[derive(Debug, Clone, Copy, Default)]
struct Trial {
    /// Pieces that were tried and have not moved.
    stuck: i32,
    /// Of these, pieces that are ruined.
    spoilt: i32,
    /// Pieces that were ruined, out or not.
    ruined: i32,
    /// The highest rung that these were tried by.
    highest: i32,
    /// Whether one of these broke.
    broke: bool,
}

impl Trial {
    fn of<'a>(attempts: impl Iterator<Item = &'a AttemptRow>) -> Self {
        attempts.fold(Self::default(), Self::and)
    }

    fn and(mut self, one: &AttemptRow) -> Self {
        if one.outcome == Outcome::Moved {
            self.stuck = (self.stuck - one.pieces).max(0);
            self.spoilt = (self.spoilt - one.pieces).max(0);
            // All that would not move is out: what is tried next begins at the first rung.
            return if self.stuck == 0 { Self { ruined: self.ruined, ..Self::default() } } else { self };
        }
        self.stuck = self.stuck.max(one.pieces);
        self.highest = self.highest.max(one.rung);
        if one.outcome.is_ruin() {
            self.ruined += (one.pieces - self.spoilt).max(0);
            self.spoilt = self.spoilt.max(one.pieces);
            self.broke |= one.outcome == Outcome::Broken;
        }
        self
    }
}

fn sum<'a>(rows: impl Iterator<Item = &'a AttemptRow>) -> i32 {
    rows.fold(0, |sum, row| sum.saturating_add(row.pieces))
}

/// The ladder of a position: its template's own, or the usual one.
pub fn ladder_of(state: &State, row: &PositionRow) -> Vec<Rung> {
    let own = || {
        let key = row.detail.ladder.as_ref()?;
        let job = state.jobs.get(&(row.job,))?;
        let revision = state.templates.get(&(job.template.clone()?, job.revision?))?;
        let found = revision.doc.ladders.iter().find(|ladder| ladder.key == *key)?;
        Some(found.rungs.clone())
    };
    own().unwrap_or_else(usual_ladder)
}

/// What is to be tried next at what was tried and has not moved; nothing when there is no such thing, or when the ladder
/// is at its end.
pub fn next_rung(state: &State, row: &PositionRow) -> Option<NextRung> {
    let tried = Trial::of(attempts(state, row.job, &row.position));
    if tried.stuck == 0 { None } else { rung_after(state, row, tried) }
}

/// The rung by which the next attempt goes when nobody says: the first one, where nothing that was tried is stuck.
pub(crate) fn rung_by_itself(state: &State, row: &PositionRow) -> Option<NextRung> {
    rung_after(state, row, Trial::of(attempts(state, row.job, &row.position)))
}

fn rung_after(state: &State, row: &PositionRow, tried: Trial) -> Option<NextRung> {
    let ladder = ladder_of(state, row);
    // What broke off is got out; no gentler way is left.
    let beyond = if tried.broke { last_safe(&ladder).unwrap_or(0) } else { 0 };
    rung(state, &ladder, tried.highest.max(beyond) + 1)
}

/// A rung by its number.
pub(crate) fn rung(state: &State, ladder: &[Rung], number: i32) -> Option<NextRung> {
    let rung = ladder.get(usize::try_from(number).ok()?.checked_sub(1)?)?.clone();
    let may_break = last_safe(ladder).is_some_and(|last| number >= last);
    let able = state.persons.iter().filter(|person| !person.forgotten);
    let able = able.filter(|person| rung.skills.iter().all(|skill| person.skills.contains(skill)));
    let who = able.map(|person| person.person).collect();
    Some(NextRung { number, rung, may_break, who })
}

/// The number of the last safe try.
fn last_safe(ladder: &[Rung]) -> Option<i32> {
    (1..).zip(ladder).find(|(_, rung)| rung.last_safe).map(|(number, _)| number)
}

/// The usual ladder, common practice without a source: the manufacturer's data come first.
pub fn usual_ladder() -> Vec<Rung> {
    let eyes = (SignalWord::Warning, "Rust and chips fly: wear eye protection.");
    let tools = (SignalWord::Warning, "Impact tools and extractors shatter: impact sockets, eye and ear protection.");
    let fire = (
        SignalWord::Warning,
        "No heat near fuel, brake lines, seals, airbags or fluid that was sprayed on; extinguisher at hand, and a fire watch until it is cold.",
    );
    vec![
        rung_of(
            "Brush the thread clean, wet it with penetrating fluid and let it soak",
            &["wire brush"],
            Some(30),
            &[eyes, (SignalWord::Caution, "Keep the fluid off brakes, belts and hot parts; gloves.")],
        ),
        rung_of(
            "Tighten it by a hair, then loosen; go to and fro with more fluid as soon as it gives",
            &["six-point socket", "long bar"],
            None,
            &[eyes],
        ),
        rung_of(
            "Shock it: blows in line with the thread, or a hand impact driver with the right bit",
            &["hammer", "hand impact driver"],
            Some(10),
            &[eyes, tools],
        ),
        rung_of(
            "Warm what is around the thread, not the fastener, and loosen while it is warm",
            &["heat gun"],
            None,
            &[fire, eyes],
        ),
        Rung {
            last_safe: true,
            ..rung_of(
                "Heat it through, let it cool, and loosen with an impact wrench in short bursts",
                &["induction heater or torch", "impact wrench", "impact socket"],
                None,
                &[fire, tools],
            )
        },
        rung_of(
            "Get it out: nut splitter, welded nut or extractor, or drill it in the centre and renew the thread",
            &["nut splitter", "extractor set", "drill guide", "thread insert kit"],
            None,
            &[tools, fire],
        ),
    ]
}

fn rung_of(measure: &str, tools: &[&str], soak_minutes: Option<i32>, cautions: &[(SignalWord, &str)]) -> Rung {
    let mut cautions: Vec<Caution> =
        cautions.iter().map(|(word, text)| Caution { word: *word, text: (*text).to_owned() }).collect();
    cautions.sort();
    Rung {
        measure: measure.to_owned(),
        tools: tools.iter().map(|&tool| tool.to_owned()).collect(),
        cautions,
        skills: Vec::new(),
        soak_minutes,
        last_safe: false,
    }
}
