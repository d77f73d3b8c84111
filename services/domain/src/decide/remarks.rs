//! What is said of a job for its hand-over sheet: what is still to be watched, and advice on safety that the customer
//! did not take.

use crate::answer::Made;
use crate::check;
use crate::command::{MakeRemark, WithdrawRemark};
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use leadhand_facts::rows::RemarkRow;
use leadhand_facts::{Fact, JobNo, RemarkNo};

/// Most remarks of a job.
const REMARKS_MAX: i32 = 200;

/// The remarks of a job, in order; withdrawn ones included.
pub fn remarks(state: &State, job: JobNo) -> impl Iterator<Item = &RemarkRow> {
    state.remarks.from_key((job, RemarkNo(0))).take_while(move |row| row.job == job)
}

pub(super) fn make(session: &mut Session, command: &MakeRemark) -> Result<Made, Refusal> {
    check::text("words", &command.words)?;
    let job = look::open_job(session.state, session.context, command.job)?.job;
    let last = remarks(session.state, job).last().map_or(0, |row| row.remark.0);
    if last >= REMARKS_MAX {
        return Err(Refusal::invalid("job", format!("it has {REMARKS_MAX} remarks already")));
    }
    let remark = RemarkNo(last + 1);
    let (person, words) = (session.context.actor.person, session.seal(&command.words));
    session.emit(Fact::RemarkMade { job, remark, person, what: command.what, words })?;
    Ok(Made::Remark { job, remark })
}

pub(super) fn withdraw(session: &mut Session, command: &WithdrawRemark) -> Result<Made, Refusal> {
    check::text("reason", &command.reason)?;
    let job = look::open_job(session.state, session.context, command.job)?.job;
    let remark = command.remark;
    let row = session.state.remarks.get(&(job, remark)).ok_or_else(|| Refusal::Unknown {
        what: "remark",
        which: format!("{remark}' of job '{job}"),
        todo: "`leadhand job sheet` shows them",
    })?;
    if row.withdrawn_n.is_some() {
        return Err(Refusal::NothingToDo { what: format!("withdraw: remark {remark} is withdrawn already") });
    }
    if session.at() < row.said_at {
        return Err(look::too_early(format!("withdrawing remark {remark}"), session.at(), row.said_at));
    }
    let reason = session.seal(&command.reason);
    session.emit(Fact::RemarkWithdrawn { job, remark, reason })?;
    Ok(Made::Nothing)
}
