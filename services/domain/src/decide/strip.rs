//! The strip book is kept: things come off, go back, are looked at; and nothing is handed over while it is open.

mod back;
mod fitting;
mod listed;
mod new_pieces;
mod off;
mod seized;
mod split;

pub(super) use back::{check, put_back, tighten};
pub(super) use listed::{do_as_listed, refuse_hidden, refuse_step_unsaid, refuse_unsaid, tell_left_out, tell_open};
pub(super) use new_pieces::again;
pub(super) use off::{add, take_off};
pub(super) use seized::{attempt, soak};
pub(super) use split::split;

use crate::answer::{Made, Notice};
use crate::check as form;
use crate::command::ReopenPosition;
use crate::decide::condition;
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use crate::strip;
use crate::toolbox::listed;
use leadhand_facts::reading::Overruled;
use leadhand_facts::rows::{PositionRow, StageRow};
use leadhand_facts::words::{Manner, StageState, StepState};
use leadhand_facts::{Fact, JobNo, PositionKey, StageKey, TextRef};
use std::collections::BTreeSet;

/// Most places of a position.
const COUNT_MAX: i32 = 1_000;
/// Most positions of a job.
const POSITIONS_MAX: usize = 1_000;

fn row<'a>(state: &'a State, job: JobNo, position: &PositionKey) -> Result<&'a PositionRow, Refusal> {
    state.positions.get(&(job, position.clone())).ok_or_else(|| Refusal::Unknown {
        what: "position",
        which: format!("{position}' of job '{job}"),
        todo: "`leadhand strip show` lists them",
    })
}

/// A stage that is under way at the command's time.
fn active(session: &Session, job: JobNo, stage: &StageKey, what: &str) -> Result<StageRow, Refusal> {
    look::open_job(session.state, session.context, job)?;
    let row = look::stage(session.state, job, stage)?;
    if row.state != StageState::Active {
        let (stage, state) = (row.stage.clone(), row.state);
        let todo = if look::is_ended(row) {
            "say it in a stage that is under way, or take this one up again first"
        } else {
            "start it first"
        };
        return Err(Refusal::StageIs { job, stage, state, attempted: "written into the strip book", todo });
    }
    if let Some(started_at) = row.started_at.filter(|started_at| session.at() < *started_at) {
        return Err(look::too_early(what, session.at(), started_at));
    }
    // Work entered late makes nobody a worker where the same person was the second pair of eyes.
    if let Some(person) = session.context.actor.person {
        condition::refuse_looked(session.state, row, person, session.at())?;
    }
    Ok(row.clone())
}

/// The same for what came off: a count that was wrong is said anew also when its stage is over.
fn saying(session: &Session, job: JobNo, stage: &StageKey, what: &str) -> Result<StageRow, Refusal> {
    look::open_job(session.state, session.context, job)?;
    let row = look::stage(session.state, job, stage)?;
    if !look::is_ended(row) {
        return active(session, job, stage, what);
    }
    if let Some(started_at) = row.started_at.filter(|started_at| session.at() < *started_at) {
        return Err(look::too_early(what, session.at(), started_at));
    }
    if let Some(person) = session.context.actor.person {
        condition::refuse_looked(session.state, row, person, session.at())?;
    }
    Ok(row.clone())
}

/// Refuses a position that two lines of one command name: which of them holds would be a guess.
fn once<'a>(positions: impl Iterator<Item = &'a PositionKey>) -> Result<(), Refusal> {
    let mut named = BTreeSet::new();
    for (at, position) in positions.enumerate() {
        if !named.insert(position) {
            let field = format!("lines[{at}].position");
            return Err(Refusal::invalid(field, format!("'{position}' has a line already; say it in one")));
        }
    }
    Ok(())
}

/// What a lead overruled at a position, line by line, each with the one reason. Nothing where nothing stood against it.
fn overruled(session: &mut Session, position: &PositionKey, kinds: &[&str], reason: Option<&str>) -> Vec<Overruled> {
    let Some(reason) = reason.filter(|_| !kinds.is_empty()) else { return Vec::new() };
    let reason = session.seal(reason);
    kinds.iter().map(|kind| Overruled { line: format!("{kind}:{position}"), reason: reason.clone() }).collect()
}

fn keys<'a>(rows: impl IntoIterator<Item = &'a PositionRow>) -> String {
    let keys: Vec<String> = rows.into_iter().map(|row| format!("'{}'", row.position)).collect();
    listed(&keys.iter().map(String::as_str).collect::<Vec<_>>())
}

/// Refuses to take back that something came off or was put in where that can't be said anew: in a stage that is over. Nobody
/// would ask for it any more, and the vehicle could go without it. What nobody may overrule stays also where no step is left
/// that asks for it.
fn refuse_hiding(state: &State, row: &PositionRow) -> Result<(), Refusal> {
    let stage = look::stage(state, row.job, &row.stage)?;
    if row.back_n.is_some() {
        return Ok(());
    }
    if look::is_ended(stage) {
        let (job, stage, state) = (stage.job, stage.stage.clone(), stage.state);
        let todo = "count it anew with a note (`leadhand strip off`; fewer of what was put in a lead does), or say that it went back";
        return Err(Refusal::StageIs { job, stage, state, attempted: "written into the strip book", todo });
    }
    if !strip::may_hide(row) {
        return Ok(());
    }
    // A step that is left to be ticked asks for it again; where there is none, only its going back settles it.
    let step = row.step.and_then(|step| state.steps.get(&(row.job, row.stage.clone(), step)));
    if step.is_some_and(|step| step.state != StepState::Skipped) {
        return Ok(());
    }
    Err(Refusal::NobodyAsks { position: row.position.clone() })
}

/// Refuses to take back that something went back while what went back after it still is, or that it came off while what came
/// off after it still is: bolts that hold nothing would stand in the book as tight, and a wheel as off behind its bolts.
fn refuse_on_top(state: &State, row: &PositionRow) -> Result<(), Refusal> {
    let Some(back) = row.back_n else {
        let behind = strip::positions(state, row.job).filter(|other| {
            other.off_n > row.off_n && strip::is_open(other) && other.detail.behind.contains(&row.position)
        });
        let behind: Vec<&PositionRow> = behind.collect();
        let position = row.position.clone();
        return if behind.is_empty() { Ok(()) } else { Err(Refusal::CameAfter { position, others: keys(behind) }) };
    };
    let all: Vec<&PositionRow> = strip::positions(state, row.job).collect();
    let fitted = |other: &&&PositionRow| {
        let later = other.back_n.is_some_and(|later| later > back);
        later && other.detail.manner != Manner::In && other.refitted + other.renewed > 0
    };
    let on_top = all
        .iter()
        .filter(fitted)
        .filter(|other| strip::first(&all, other).iter().any(|first| first.position == row.position));
    let on_top: Vec<&PositionRow> = on_top.copied().collect();
    let position = row.position.clone();
    if on_top.is_empty() { Ok(()) } else { Err(Refusal::OnTop { position, others: keys(on_top) }) }
}

/// Whether all that was ever said of a position is that it was met and is off: who takes that back says that it was never
/// there. What was noted for later, tried, soaked or asks for new pieces has another word in the book.
fn only_met(state: &State, row: &PositionRow) -> bool {
    let at_once = row.unplanned && row.off_n == Some(row.added_n + 1) && row.back_n.is_none();
    let more = row.soak_n.is_some() || strip::attempts(state, row.job, &row.position).next().is_some();
    at_once && !more && row.detail.manner != Manner::In && !strip::never_there(row)
}

/// None was found of it, for the reason for which its "off" was taken back.
fn none_found(session: &mut Session, job: JobNo, position: &PositionKey, reason: TextRef) -> Result<(), Refusal> {
    session.notice(Notice::NeverThere { position: position.clone() });
    session.emit(Fact::PositionOff {
        job,
        position: position.clone(),
        person: session.context.actor.person,
        found: 0,
        missing: 0,
        damaged: 0,
        keep: None,
        kept_at: None,
        note: Some(reason),
        repair: None,
        overruled: Vec::new(),
    })?;
    Ok(())
}

/// Takes back what was said last of a position. What somebody only met, and added by hand, was then never there.
pub(super) fn reopen(session: &mut Session, command: &ReopenPosition) -> Result<Made, Refusal> {
    form::text("reason", &command.reason)?;
    look::open_job(session.state, session.context, command.job)?;
    let found = row(session.state, command.job, &command.position)?;
    let Some(last) = found.back_at.or(found.off_at) else {
        let what = format!("take back: nothing was said of position '{}' yet", command.position);
        return Err(Refusal::NothingToDo { what });
    };
    if session.at() < last {
        let what = format!("taking back position '{}'", command.position);
        return Err(look::too_early(what, session.at(), last));
    }
    condition::refuse_unqualified(session, found)?;
    refuse_hiding(session.state, found)?;
    let was_back = found.back_n.is_some();
    let only_met = only_met(session.state, found);
    if !only_met {
        refuse_on_top(session.state, found)?;
    }
    if let Some(Refusal::NotInYet { position, others }) =
        off::not_in(session.state, found, &BTreeSet::new()).filter(|_| was_back && found.refitted + found.renewed > 0)
    {
        return Err(Refusal::LetGo { position, others });
    }
    let found_stage = found.stage.clone();
    if was_back {
        condition::look_again(session, command.job, None, std::slice::from_ref(&command.position))?;
    }
    let reason = session.seal(&command.reason);
    let (job, position) = (command.job, command.position.clone());
    session.emit(Fact::PositionReopened { job, position: position.clone(), reason: reason.clone() })?;
    if only_met {
        none_found(session, job, &position, reason.clone())?;
    }
    new_pieces::reopened(session, job, &position, was_back, &reason)?;
    condition::tell_live(session, job, &found_stage, &BTreeSet::from([position]));
    Ok(Made::Nothing)
}
