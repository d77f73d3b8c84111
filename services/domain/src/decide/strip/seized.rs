//! What will not move: it soaks before its turn, is tried by the rungs of its ladder, and before it may break a new one
//! is at hand and somebody has thought about how to get the rest out.

use super::{COUNT_MAX, active, off, row};
use crate::answer::{Made, Next, Notice};
use crate::check as form;
use crate::command::{RaiseBlocker, RecordAttempt, SoakPosition};
use crate::decide::{blockers, condition, skills, steps, stock};
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use crate::strip::{self, FIT_NEW, NextRung};
use leadhand_facts::fact::{JobStep, Wording};
use leadhand_facts::rows::{PositionRow, StepRow};
use leadhand_facts::template::Need;
use leadhand_facts::words::{Cause, Manner, Outcome, Renew, StageState};
use leadhand_facts::{AttemptNo, Fact, Instant, ItemKey, PositionKey, Quantity, StepNo, Unit};

/// What only a lead may do about a rung.
const RUNG: &str = "have a rung tried that asks for something else first";
/// Most minutes that something soaks: a week.
const SOAK_MAX: i32 = 7 * 24 * 60;
/// Most attempts at one position.
const ATTEMPTS_MAX: i32 = 200;

pub(in crate::decide) fn soak(session: &mut Session, command: &SoakPosition) -> Result<Made, Refusal> {
    if !(0..=SOAK_MAX).contains(&command.minutes) {
        let why = format!("it is not from 1 to {SOAK_MAX}, or 0 when it no longer soaks");
        return Err(Refusal::invalid("minutes", why));
    }
    look::open_job(session.state, session.context, command.job)?;
    let found = row(session.state, command.job, &command.position)?;
    let (job, position) = (command.job, command.position.clone());
    if found.off_n.is_some() {
        return Err(Refusal::PositionSaid { position });
    }
    if command.minutes == 0 && found.soak_until.is_none() {
        return Err(Refusal::NothingToDo { what: format!("end: '{position}' does not soak") });
    }
    let until_at = (command.minutes > 0).then(|| session.at().plus_minutes(i64::from(command.minutes)));
    // Seen early it soaks early: that costs nothing, and saves the wait when its turn comes.
    let stage = look::stage(session.state, job, &found.stage)?;
    let early = (until_at.is_some() && stage.state == StageState::Pending).then(|| stage.stage.clone());
    if let Some(stage) = early {
        session.notice(Notice::SoaksEarly { position: position.clone(), stage });
    }
    let person = session.context.actor.person;
    session.emit(Fact::PositionSoaked { job, position, person, until_at })?;
    Ok(Made::Nothing)
}

pub(in crate::decide) fn attempt(session: &mut Session, command: &RecordAttempt) -> Result<Made, Refusal> {
    for (field, words) in
        [("plan", &command.plan), ("note", &command.note), ("override_reason", &command.override_reason)]
    {
        form::text_some(field, words.as_deref())?;
    }
    look::open_job(session.state, session.context, command.job)?;
    let found = row(session.state, command.job, &command.position)?.clone();
    active(session, command.job, &found.stage, "an attempt")?;
    condition::refuse_called(session, command.job, &found.stage)?;
    condition::refuse_voltage(session, command.job, || format!("stage '{}'", found.stage))?;
    condition::refuse_unqualified(session, &found)?;
    let mut against = skills::Against::default();
    against.add_all(off::unsafe_now(session, &found)?, condition::NOT_SAFE);
    let pieces = pieces(session.state, command, &found)?;
    let (next, number) = (rung(session.state, command, &found)?, number(session, &found)?);
    against.add(objection(session, command, &found, &next, pieces)?, RUNG);
    let stood = against.may_overrule(session, command.override_reason.as_deref())?;
    let overridden = session.seal_some(command.override_reason.as_deref().filter(|_| stood));
    if let Some(until) = found.soak_until.filter(|until| session.at() < *until && found.off_n.is_none()) {
        let minutes = minutes_until(session, until);
        session.notice(Notice::StillSoaks { position: found.position.clone(), minutes });
    }
    tell_unsoaked(session, command, &found, &next);
    let before = strip::ruined(session.state, command.job, &command.position);
    let (plan, note) = (session.seal_some(command.plan.as_deref()), session.seal_some(command.note.as_deref()));
    session.emit(Fact::AttemptRecorded {
        job: command.job,
        position: command.position.clone(),
        attempt: number,
        person: session.context.actor.person,
        rung: next.number,
        measure: next.rung.measure,
        last_safe: next.rung.last_safe,
        outcome: command.outcome,
        pieces,
        plan,
        note,
        overridden,
    })?;
    if command.outcome.is_ruin() {
        let ruined = strip::ruined(session.state, command.job, &command.position);
        want_new(session, &found, found.missing + ruined.max(found.damaged), ruined - before)?;
    }
    if command.blocked && command.outcome != Outcome::Moved {
        hold_up(session, command, &found)?;
    }
    let next = strip::next_rung(session.state, &found).map(|next| {
        let person = session.context.actor.person;
        let may = next.rung.skills.is_empty() || person.is_some_and(|person| next.who.contains(&person));
        Next { rung: next.number, measure: next.rung.measure, may, who: next.who }
    });
    Ok(Made::Attempt { job: command.job, position: command.position.clone(), attempt: number, next })
}

/// Tells whoever tries a rung that lets it soak, of something that nobody let soak: the next try is worth more then.
fn tell_unsoaked(session: &mut Session, command: &RecordAttempt, found: &PositionRow, next: &NextRung) {
    let minutes = next.rung.soak_minutes.filter(|minutes| *minutes > 0);
    if let Some(minutes) = minutes.filter(|_| command.outcome == Outcome::NotMoved && found.soak_until.is_none()) {
        session.notice(Notice::NotSoaked { position: found.position.clone(), minutes });
    }
}

/// Minutes from the command's time, rounded up.
fn minutes_until(session: &Session, until: Instant) -> i64 {
    until.minutes_since_up(session.at())
}

/// How many pieces are tried: those that have not moved yet, if nobody says.
fn pieces(state: &State, command: &RecordAttempt, found: &PositionRow) -> Result<i32, Refusal> {
    if found.detail.manner == Manner::In {
        return Err(Refusal::invalid("position", format!("'{}' was put in for the work", found.position)));
    }
    // What is off and whole is out; only what broke may still stick.
    if found.off_n.is_some() && found.damaged == 0 {
        return Err(Refusal::PositionSaid { position: found.position.clone() });
    }
    let left = found.detail.count - strip::moved(state, command.job, &command.position);
    if left <= 0 {
        return Err(Refusal::NothingToDo { what: format!("try: all of '{}' has moved", found.position) });
    }
    let pieces = command.pieces.unwrap_or(left);
    if (1..=left.min(COUNT_MAX)).contains(&pieces) {
        return Ok(pieces);
    }
    Err(Refusal::invalid("pieces", format!("{left} of '{}' have not moved; give from 1 to that", found.position)))
}

/// The rung that is said, or the next one.
fn rung(state: &State, command: &RecordAttempt, found: &PositionRow) -> Result<NextRung, Refusal> {
    let ladder = strip::ladder_of(state, found);
    let Some(number) = command.rung else {
        let why = format!(
            "every rung for '{}' was tried; say which one it was this time, or have it machined",
            found.position
        );
        return strip::rung_by_itself(state, found).ok_or_else(|| Refusal::invalid("rung", why));
    };
    strip::rung(state, &ladder, number).ok_or_else(|| Refusal::Unknown {
        what: "rung",
        which: format!("{number}' of '{}", found.position),
        todo: "`leadhand strip ladder` shows them",
    })
}

fn number(session: &Session, found: &PositionRow) -> Result<AttemptNo, Refusal> {
    let Some(last) = strip::attempts(session.state, found.job, &found.position).last() else {
        return Ok(AttemptNo(1));
    };
    if session.at() < last.at {
        let what = format!("an attempt at '{}'", found.position);
        return Err(look::too_early(what, session.at(), last.at));
    }
    if last.attempt.0 >= ATTEMPTS_MAX {
        return Err(Refusal::invalid("position", format!("it has {ATTEMPTS_MAX} attempts already")));
    }
    Ok(AttemptNo(last.attempt.0 + 1))
}

/// All that stands against this rung, in one refusal.
fn objection(
    session: &Session,
    command: &RecordAttempt,
    found: &PositionRow,
    next: &NextRung,
    pieces: i32,
) -> Result<Option<Refusal>, Refusal> {
    let mut against = Vec::new();
    let able = session.context.actor.person.is_some_and(|person| next.who.contains(&person));
    if !next.rung.skills.is_empty() && !able {
        against.push(format!("it asks for {}, which whoever did it has to have", next.rung.skills.join(" and ")));
    }
    if let Some(last) = strip::skipped_last_safe(session.state, found, next.number) {
        against.push(format!("rung {last} is the last safe try, and nobody has made it"));
    }
    // What has moved has happened, and needs no plan any more.
    if next.may_break && command.outcome != Outcome::Moved {
        against.extend(no_new_one(session.state, command, found, pieces)?);
        // Who thought about it at an earlier try need not write it again.
        let thought = strip::attempts(session.state, command.job, &command.position).any(|one| one.plan.is_some());
        if command.plan.is_none() && !thought {
            against.push("nobody has said how to get out what breaks (plan)".to_owned());
        }
    }
    let (position, rung) = (found.position.clone(), next.number);
    Ok((!against.is_empty()).then(|| Refusal::RungStopped { position, rung, why: against.join("; ") }))
}

/// What is missing on the shelf before it may break.
fn no_new_one(
    state: &State,
    command: &RecordAttempt,
    found: &PositionRow,
    pieces: i32,
) -> Result<Option<String>, Refusal> {
    let Some(item) = command.item.as_ref().or(found.detail.item.as_ref()) else {
        return Ok(Some("no new one is named (item)".to_owned()));
    };
    stock::must_be_pieces(state, item)?;
    let there = stock::at_hand(state, command.job, item, |step| is_for_another(state, found, item, step));
    let short = there < Quantity(i64::from(pieces));
    Ok(short.then(|| format!("{pieces} of '{item}' would have to be there, and {there} are")))
}

fn hold_up(session: &mut Session, command: &RecordAttempt, found: &PositionRow) -> Result<(), Refusal> {
    let (job, stage, note) = (command.job, found.stage.clone(), command.note.clone());
    let raise = RaiseBlocker { job, stage, cause: Cause::Seized, owner: None, expected_at: None, note };
    blockers::raise(session, &raise).map(|_| ())
}

/// What the step says that fits new pieces of a position.
fn fit_new(name: &str, position: &PositionKey, pieces: i64) -> String {
    format!("{FIT_NEW}{pieces} \u{d7} {name} (position '{position}')")
}

/// How many pieces a step fits of this position and no other.
pub(super) fn fits(step: &StepRow, position: &PositionKey, item: &ItemKey) -> i64 {
    // Steps of jobs that are older than the field say it in their words.
    let words = step.instruction.as_deref().unwrap_or_default();
    let said = || step.unplanned && words.starts_with(FIT_NEW) && words.ends_with(&format!("(position '{position}')"));
    let own = step.fits.as_ref().map_or_else(said, |fits| fits == position);
    let need = step.needs.iter().find(|need| own && need.item == *item);
    need.map_or(0, |need| need.quantity.0)
}

/// Whether what a step has of an item is for another position than this one: it fits new pieces of that, or it is the
/// step of a stage in which another goes back that takes the item.
fn is_for_another(state: &State, own: &PositionRow, item: &ItemKey, step: &StepRow) -> bool {
    if fits(step, &own.position, item) > 0 {
        return false;
    }
    let here = |row: &PositionRow| row.detail.back.as_ref() == Some(&step.stage);
    let always = |row: &PositionRow| row.detail.renew == Renew::Always && here(row);
    let mut others = strip::positions(state, own.job)
        .filter(|row| row.position != own.position && row.detail.item.as_ref() == Some(item));
    others
        .any(|row| fits(step, &row.position, item) > 0 || (!always(own) && (always(row) || (here(row) && !here(own)))))
}

/// So many pieces of a position will have to be new, `more` of which are told of now. Where the item is known, and the
/// stage in which it goes back, that stage wants what it was not asked for yet; nobody asks who broke it.
pub(super) fn want_new(session: &mut Session, found: &PositionRow, pieces: i32, more: i32) -> Result<(), Refusal> {
    if more > 0 {
        session.notice(Notice::NewPieces { position: found.position.clone(), pieces: more });
    }
    let (Some(item), Some(back)) = (&found.detail.item, &found.detail.back) else { return Ok(()) };
    // What is always renewed is on the list since the job was opened, as many as are listed, or since it was added. Where more
    // were found, so many more go in.
    let said = session.state.positions.get(&(found.job, found.position.clone()));
    let places = said.map_or(0, |row| row.found + row.missing);
    let pieces = match (found.detail.renew, found.unplanned) {
        (Renew::Always, true) => places.max(found.detail.count),
        (Renew::Always, false) => places - found.detail.count,
        _ => pieces,
    };
    let Some(stage) = session.state.stages.get(&(found.job, back.clone())).filter(|stage| !look::is_ended(stage))
    else {
        return Ok(());
    };
    // What was taken back and is said again, or ruined further, was asked for already.
    let asked = look::steps(session.state, found.job, back).map(|step| fits(step, &found.position, item)).sum::<i64>();
    let quantity = Quantity(i64::from(pieces) - asked);
    let (job, stage, step) = (found.job, stage.stage.clone(), StepNo(stage.last_step + 1));
    if step.0 > steps::STEPS_MAX || !quantity.is_positive() {
        return Ok(());
    }
    let name = found.what.clone().or_else(|| session.state.items.get(&(item.clone(),)).map(|row| row.name.clone()));
    let name = name.unwrap_or_else(|| found.position.to_string());
    let instruction = Wording::Template(fit_new(&name, &found.position, quantity.0));
    let added = JobStep {
        needs: vec![Need { item: item.clone(), quantity, unit: Unit::Piece }],
        unplanned: true,
        fits: Some(found.position.clone()),
        ..JobStep::plain(step, instruction)
    };
    session.emit(Fact::StepAdded { job, stage: stage.clone(), step: added })?;
    stock::want(session, job, &stage, step)
}
