//! What was told to whom about a job, and what was promised with it. It stands as it was said; a slip is withdrawn
//! with a reason.

use crate::answer::Made;
use crate::check;
use crate::command::{Command, RecordTold, WithdrawTold};
use crate::look;
use crate::need::Need;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use leadhand_facts::rows::ToldRow;
use leadhand_facts::{Fact, JobNo, ToldNo};

/// Most entries of a job.
const TOLD_MAX: i32 = 500;

/// What was told about a job, in order; what was withdrawn included.
pub fn told(state: &State, job: JobNo) -> impl Iterator<Item = &ToldRow> {
    state.told.from_key((job, ToldNo(0))).take_while(move |row| row.job == job)
}

/// What these commands need to see: their job.
pub(super) fn needs(command: &Command) -> Option<Need> {
    match command {
        Command::RecordTold(c) => Some(Need::Job(c.job)),
        Command::WithdrawTold(c) => Some(Need::Job(c.job)),
        _ => None,
    }
}

/// Decides what is about telling somebody; nothing else.
pub(super) fn decide(session: &mut Session, command: &Command) -> Option<Result<Made, Refusal>> {
    Some(match command {
        Command::RecordTold(c) => record(session, c),
        Command::WithdrawTold(c) => withdraw(session, c),
        _ => return None,
    })
}

fn record(session: &mut Session, command: &RecordTold) -> Result<Made, Refusal> {
    command.whom.as_deref().map_or(Ok(()), |whom| check::name("whom", whom))?;
    check::text("words", &command.words)?;
    if command.promised_at.is_some_and(|promised| promised <= session.at()) {
        return Err(Refusal::invalid("promised_at", "it is not later than when it was told; give a later time"));
    }
    let row = look::open_job(session.state, session.context, command.job)?;
    let (job, of_job) = (row.job, row.customer);
    let customer = if command.whom.is_none() { of_job } else { None };
    if command.whom.is_none() && customer.is_none() {
        return Err(Refusal::NobodyToTell { job });
    }
    let last = told(session.state, job).last().map_or(0, |row| row.told.0);
    if last >= TOLD_MAX {
        return Err(Refusal::invalid("job", format!("it has {TOLD_MAX} entries of what was told already")));
    }
    let (told, promised_at) = (ToldNo(last + 1), command.promised_at);
    let (person, whom) = (session.context.actor.person, session.seal_some(command.whom.as_deref()));
    let words = session.seal(&command.words);
    session.emit(Fact::SomebodyTold { job, told, person, customer, whom, words, promised_at })?;
    Ok(Made::Told { job, told })
}

fn withdraw(session: &mut Session, command: &WithdrawTold) -> Result<Made, Refusal> {
    check::text("reason", &command.reason)?;
    let job = look::open_job(session.state, session.context, command.job)?.job;
    let told = command.told;
    let row = session.state.told.get(&(job, told)).ok_or_else(|| Refusal::Unknown {
        what: "entry of what was told",
        which: format!("{told}' of job '{job}"),
        todo: "`leadhand job show` lists them",
    })?;
    if row.withdrawn_n.is_some() {
        return Err(Refusal::NothingToDo {
            what: format!("withdraw: what was told as number {told} is withdrawn already"),
        });
    }
    if session.at() < row.told_at {
        return Err(look::too_early(format!("withdrawing what was told as number {told}"), session.at(), row.told_at));
    }
    let reason = session.seal(&command.reason);
    session.emit(Fact::ToldWithdrawn { job, told, reason })?;
    Ok(Made::Nothing)
}
