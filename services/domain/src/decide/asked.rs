//! Time that a person may no longer correct, and asks a lead to. The lead's word does it, under the rules of a lead's own
//! correction; until then it waits, and the entry stays as it is.

use super::corrections::{aim, correct, entry, refuse_others, times, withdraw};
use crate::answer::Made;
use crate::check;
use crate::command::{AskCorrection, Command, CorrectClocking, DecideCorrection, WithdrawClocking};
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use leadhand_facts::fact::WantedTime;
use leadhand_facts::rows::{AskedRow, ClockingRow};
use leadhand_facts::words::Role;
use leadhand_facts::{AskNo, Fact, JobNo};

/// Most corrections that are asked for in a job.
const ASKED_MAX: i32 = 500;

/// What was asked for in a job, in order; what is decided included.
pub fn asked(state: &State, job: JobNo) -> impl Iterator<Item = &AskedRow> {
    state.asked.from_key((job, AskNo(0))).take_while(move |row| row.job == job)
}

/// Decides what is about asking for corrections; nothing else.
pub(super) fn decide(session: &mut Session, command: &Command) -> Option<Result<Made, Refusal>> {
    Some(match command {
        Command::AskCorrection(c) => ask(session, c),
        Command::DecideCorrection(c) => answer(session, c),
        _ => return None,
    })
}

/// The correction that a question amounts to.
pub(super) fn as_correction(command: &AskCorrection) -> CorrectClocking {
    CorrectClocking {
        entry: command.entry,
        from_at: command.from_at,
        until_at: command.until_at,
        job: command.job,
        stage: command.stage.clone(),
        reason: command.reason.clone(),
        override_reason: None,
    }
}

/// The same for what was asked for and waits; nothing where the entry is to go.
pub(super) fn of_row(row: &AskedRow, reason: &str, override_reason: Option<&String>) -> Option<CorrectClocking> {
    Some(CorrectClocking {
        entry: row.entry,
        from_at: row.from_at,
        until_at: row.until_at,
        job: row.to_job,
        stage: Some(row.to_stage.clone()?),
        reason: reason.to_owned(),
        override_reason: override_reason.cloned(),
    })
}

fn ask(session: &mut Session, command: &AskCorrection) -> Result<Made, Refusal> {
    check::text("reason", &command.reason)?;
    let row = entry(session.state, command.entry)?.clone();
    let job = look::job_as_seen(session.state, session.context, row.job)?.job;
    let actor = session.context.actor;
    if actor.role != Role::Lead && actor.person != Some(row.person) {
        return Err(Refusal::LeadOnly { what: "say anything about somebody else's time" });
    }
    if refuse_others(session, &row, look::job(session.state, job)?).is_ok() {
        let what = "ask for: you may correct this entry yourself, with `leadhand clock correct`".to_owned();
        return Err(Refusal::NothingToDo { what });
    }
    let waits = asked(session.state, job).find(|asked| asked.clocking == row.clocking && asked.decided_n.is_none());
    if let Some(waits) = waits {
        let what = format!("ask for: a correction of this entry waits for a lead as number {} of job {job}", waits.ask);
        return Err(Refusal::NothingToDo { what });
    }
    let wanted = if command.withdraw { none_wanted(command)? } else { Some(wanted(session, &row, command)?) };
    let last = asked(session.state, job).last().map_or(0, |row| row.ask.0);
    if last >= ASKED_MAX {
        return Err(Refusal::invalid(
            "entry",
            format!("job {job} has had {ASKED_MAX} corrections asked for; see a lead"),
        ));
    }
    let (ask, reason) = (AskNo(last + 1), session.seal(&command.reason));
    let ClockingRow { clocking, person, on_n, .. } = row;
    session.emit(Fact::CorrectionAsked { job, ask, clocking, entry: on_n, person, wanted, reason })?;
    Ok(Made::Asked { job, ask })
}

/// What is to go altogether is to say nothing else.
fn none_wanted(command: &AskCorrection) -> Result<Option<WantedTime>, Refusal> {
    let said = [
        ("from_at", command.from_at.is_some()),
        ("until_at", command.until_at.is_some()),
        ("job", command.job.is_some()),
        ("stage", command.stage.is_some()),
    ];
    match said.into_iter().find(|(_, said)| *said) {
        Some((field, _)) => Err(Refusal::invalid(field, "the entry is to go altogether; leave this out, or withdraw")),
        None => Ok(None),
    }
}

fn wanted(session: &Session, row: &ClockingRow, command: &AskCorrection) -> Result<WantedTime, Refusal> {
    let command = as_correction(command);
    let (from_at, until_at) = times(session, row, &command)?;
    let stage = aim(session.state, row, &command)?;
    if (stage.job, &stage.stage, from_at, until_at) == (row.job, &row.stage, row.from_at, row.until_at) {
        return Err(Refusal::NothingToDo { what: "ask for: that is what was entered".to_owned() });
    }
    let opened_at = look::job(session.state, stage.job)?.opened_at;
    if from_at < opened_at {
        return Err(look::too_early("the work", from_at, opened_at));
    }
    Ok(WantedTime { job: stage.job, stage: stage.stage, from_at, until_at })
}

fn answer(session: &mut Session, command: &DecideCorrection) -> Result<Made, Refusal> {
    check::text("reason", &command.reason)?;
    check::text_some("override_reason", command.override_reason.as_deref())?;
    let job = look::job_as_seen(session.state, session.context, command.job)?.job;
    let row = waiting(session.state, job, command.ask)?.clone();
    let actor = session.context.actor;
    if actor.role != Role::Lead && (command.take || actor.person != Some(row.person)) {
        return Err(Refusal::LeadOnly { what: "decide about a correction" });
    }
    if session.at() < row.asked_at {
        return Err(look::too_early(format!("the answer to correction {}", row.ask), session.at(), row.asked_at));
    }
    if command.take {
        take(session, &row, command)?;
    } else if command.override_reason.is_some() {
        return Err(Refusal::invalid("override_reason", "nothing is corrected; leave it out"));
    }
    let (ask, by, taken) = (row.ask, actor.person, command.take);
    let reason = session.seal(&command.reason);
    session.emit(Fact::CorrectionDecided { job, ask, by, taken, reason })?;
    Ok(Made::Nothing)
}

fn waiting(state: &State, job: JobNo, ask: AskNo) -> Result<&AskedRow, Refusal> {
    let row = state.asked.get(&(job, ask)).ok_or_else(|| Refusal::Unknown {
        what: "correction that was asked for",
        which: format!("{ask}' of job '{job}"),
        todo: "`leadhand clock asked` lists them",
    })?;
    match row.taken {
        None => Ok(row),
        Some(taken) => {
            let how = if taken { "made as asked" } else { "declined" };
            Err(Refusal::NothingToDo { what: format!("decide: correction {ask} of job {job} was {how} already") })
        }
    }
}

fn take(session: &mut Session, row: &AskedRow, command: &DecideCorrection) -> Result<(), Refusal> {
    if session.state.clockings.get(&(row.clocking,)).is_none() {
        return Err(Refusal::Unknown {
            what: "entry of time",
            which: row.entry.to_string(),
            todo: "it was withdrawn or corrected since this was asked for; decline it",
        });
    }
    match of_row(row, &command.reason, command.override_reason.as_ref()) {
        Some(correction) => correct(session, &correction)?,
        None => withdraw(session, &WithdrawClocking { entry: row.entry, reason: command.reason.clone() })?,
    };
    Ok(())
}
