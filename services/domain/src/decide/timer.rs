//! What becomes true by time alone: waits that pass, lots that expire, a calendar that runs out.

use crate::answer::Made;
use crate::decide::{calendar, flow, stock};
use crate::refusal::Refusal;
use crate::session::Session;
use leadhand_facts::{Fact, JobNo, StageKey};

pub(super) fn tick(session: &mut Session) -> Result<Made, Refusal> {
    let now = session.context.now;
    let over: Vec<(JobNo, StageKey)> = session
        .state
        .stages
        .iter()
        .filter(|row| row.waiting && row.ready_at.is_some_and(|ready_at| ready_at <= now))
        .map(|row| (row.job, row.stage.clone()))
        .collect();
    for (job, stage) in over {
        session.emit(Fact::WaitPassed { job, stage })?;
        flow::settle_blockers(session, job)?;
    }
    if session.state.shop.get(&()).is_some() {
        stock::expire_lots(session)?;
        calendar::extend(session)?;
    }
    Ok(Made::Nothing)
}
