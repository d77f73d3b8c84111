//! Who comes first when there is not enough.

use crate::refusal::Refusal;
use crate::state::State;
use leadhand_facts::fact::Wanter;
use leadhand_facts::{Instant, JobNo, StepNo};

/// The order in which steps are served: the job's priority (lower is more urgent), what was
/// promised (nothing promised comes last), the job's number, the stage's place in the written
/// order, the step. The smallest is the most urgent.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Urgency {
    priority: i32,
    promised_at: Instant,
    job: JobNo,
    ordinal: i32,
    step: StepNo,
}

pub(super) fn of(state: &State, wanter: &Wanter) -> Result<Urgency, Refusal> {
    let job = state.jobs.get(&(wanter.job,));
    let stage = state.stages.get(&(wanter.job, wanter.stage.clone()));
    let (Some(job), Some(stage)) = (job, stage) else {
        let why = format!("job {} wants stock and was not loaded", wanter.job);
        return Err(Refusal::Defect { why });
    };
    Ok(Urgency {
        priority: job.priority,
        promised_at: job.promised_at.unwrap_or(Instant(i64::MAX)),
        job: wanter.job,
        ordinal: stage.ordinal,
        step: wanter.step,
    })
}

/// Sorts rows by the urgency of who wants them, then by a key of their own.
pub(super) fn sorted<R: Clone, K: Ord>(
    state: &State,
    rows: Vec<R>,
    wanter: impl Fn(&R) -> Wanter,
    key: impl Fn(&R) -> K,
) -> Result<Vec<R>, Refusal> {
    let keyed: Result<Vec<_>, Refusal> =
        rows.into_iter().map(|row| Ok(((of(state, &wanter(&row))?, key(&row)), row))).collect();
    let mut keyed = keyed?;
    keyed.sort_by(|(one, _), (other, _)| one.cmp(other));
    Ok(keyed.into_iter().map(|(_, row)| row).collect())
}
