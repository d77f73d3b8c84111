//! Jobs, stages, steps and blockers.

use super::Found;
use crate::fold::Overrides;
use crate::tables::Tables;
use leadhand_facts::rows::{
    AfterRow, BlockerRow, ClockingRow, JobRow, PlaceRow, ReservationRow, ShopRow, ShortageRow, StageRow, StayRow,
    StepRow,
};
use leadhand_facts::words::{JobState, PlaceKind, StageState, StepState};
use leadhand_facts::{Instant, JobNo, PlaceKey, StageKey};
use std::collections::{BTreeMap, BTreeSet};

pub(super) fn check(tables: &Tables, overrides: &Overrides, found: &mut Found) {
    for row in tables.rows::<StageRow>() {
        stage_state(row, found);
        precedence(tables, overrides, row, found);
    }
    stage_end(tables, found);
    tables.steps_by_job(|steps| steps.iter().for_each(|row| step(row, found)));
    for row in tables.rows::<BlockerRow>() {
        blocker(tables, row, found);
    }
    for row in tables.rows::<JobRow>() {
        job_state(tables, row, found);
    }
    closed_jobs(tables, found);
}

fn stage_state(row: &StageRow, found: &mut Found) {
    let (started, ended) = (row.started_at.is_some(), row.ended_at.is_some());
    let agrees = match row.state {
        StageState::Pending => !started && !ended && row.reason.is_none(),
        StageState::Active => started && !ended && row.reason.is_none(),
        StageState::Finished => started && ended && row.reason.is_none(),
        StageState::Skipped => ended && row.reason.is_some(),
    };
    found.law("stage-state", row, agrees, || format!("it is {}, and its times or reason say otherwise", row.state));
    let traced = row.ready_at.is_some() == row.ready_n.is_some()
        && started == row.started_n.is_some()
        && ended == row.ended_n.is_some();
    found.law("stage-state", row, traced, || "a time is there without its fact, or a fact without its time".to_owned());
    let ordered = row.started_at.zip(row.ended_at).is_none_or(|(start, end)| start <= end);
    found.law("stage-state", row, ordered, || "it ended before it started".to_owned());
    let may_wait = row.state == StageState::Pending && row.ready_at.is_some();
    found.law("stage-state", row, !row.waiting || may_wait, || format!("it is waiting while {}", row.state));
}

/// Whatever belongs to an ended stage came about before it ended, or as it did.
fn stage_end(tables: &Tables, found: &mut Found) {
    let ended: BTreeMap<(JobNo, StageKey), Instant> =
        tables.rows::<StageRow>().filter_map(|row| Some(((row.job, row.stage.clone()), row.ended_at?))).collect();
    let end_of = |job: JobNo, stage: &StageKey| ended.get(&(job, stage.clone())).copied();
    let within = |end: Option<Instant>, last: Instant| end.is_none_or(|end| last <= end);
    let say = |what: &str, last: Instant| format!("{what} at {last}, and its stage had ended before");
    for row in tables.rows::<StageRow>() {
        let Some(ready) = row.ready_at else { continue };
        found.law("stage-end", row, within(row.ended_at, ready), || {
            format!("it became ready at {ready}, after its end")
        });
    }
    tables.steps_by_job(|steps| {
        for &row in steps {
            // A look that was opened again is passed after its stage; work is not.
            let Some(done) = row.done_at.filter(|_| row.safety.hold.is_none()) else { continue };
            found.law("stage-end", row, within(end_of(row.job, &row.stage), done), || say("it was done", done));
        }
    });
    for row in tables.rows::<BlockerRow>() {
        let last = row.cleared_at.unwrap_or(row.since);
        found.law("stage-end", row, within(end_of(row.job, &row.stage), last), || say("it held up", last));
    }
    for row in tables.rows::<ClockingRow>() {
        let last = row.until_at.unwrap_or(row.from_at);
        found.law("stage-end", row, within(end_of(row.job, &row.stage), last), || say("there was work", last));
    }
}

/// When everything before a stage was over; `Err` names what is not.
struct Free {
    /// Without the waits behind what was finished.
    ends: Option<Instant>,
    /// With them.
    waits: Option<Instant>,
}

fn free_from(tables: &Tables, row: &StageRow) -> Result<Free, String> {
    let mut from = Free { ends: None, waits: None };
    let first = (row.job, row.stage.clone(), StageKey::from(""));
    let rest = tables.map::<AfterRow>().range(first..).map(|(_, after)| after);
    let before = rest.take_while(|after| (after.job, &after.stage) == (row.job, &row.stage));
    for after in before {
        let earlier = tables.get::<StageRow>(&(row.job, after.after.clone()));
        let Some((end, state)) = earlier.and_then(|stage| Some((stage.ended_at?, stage.state))) else {
            return Err(format!("'{}' comes before it and has not ended", after.after));
        };
        let wait = if state == StageState::Finished { i64::from(after.wait_minutes) } else { 0 };
        from.ends = from.ends.max(Some(end));
        from.waits = from.waits.max(Some(end.plus_minutes(wait)));
    }
    Ok(from)
}

fn precedence(tables: &Tables, overrides: &Overrides, row: &StageRow, found: &mut Found) {
    let allowed = overrides.contains(&(row.job, row.stage.clone()));
    if let Some(ready) = row.ready_at {
        // Its end cuts a wait short, when it was left out or begun on a lead's word.
        let cut = row.ended_at == Some(ready) && (row.started_at.is_none() || allowed);
        let from = free_from(tables, row);
        // Begun on a lead's word before its time, it may even have ended before it was to be ready.
        let early = cut && row.started_at.is_some();
        let holds = early
            || from.as_ref().is_ok_and(|from| {
                let from = if cut { from.ends } else { from.waits };
                from.is_none_or(|from| from <= ready)
            });
        found.law("precedence", row, holds, || match from {
            Err(why) => format!("it is ready, and {why}"),
            Ok(_) => format!("it is ready at {ready}, before the waits in front of it are over"),
        });
    }
    let Some(start) = row.started_at else { return };
    let ready = row.ready_at.is_some_and(|ready| ready <= start);
    found.law("precedence", row, ready || allowed, || format!("it was started at {start} and was not ready then"));
}

fn step(row: &StepRow, found: &mut Found) {
    let ended = row.done_at.is_some() && row.done_n.is_some();
    let untouched = row.done_at.is_none() && row.done_n.is_none() && row.done_by.is_none();
    let agrees = match row.state {
        StepState::Pending => untouched && row.reason.is_none(),
        StepState::Done => ended && row.reason.is_none(),
        StepState::Skipped => ended && row.reason.is_some() && row.done_by.is_none(),
    };
    found.law("step", row, agrees, || format!("it is {}, and its times, person or reason say otherwise", row.state));
}

fn blocker(tables: &Tables, row: &BlockerRow, found: &mut Found) {
    let ordered = row.cleared_at.is_none_or(|end| row.since <= end);
    found.law("blocker", row, ordered, || format!("it was cleared before it began at {}", row.since));
    found.law("blocker", row, row.cleared_at.is_some() == row.cleared_n.is_some(), || {
        "its end and the fact that ended it do not agree".to_owned()
    });
    let counted = tables.get::<JobRow>(&(row.job,)).is_some_and(|job| (1..=job.last_blocker).contains(&row.blocker.0));
    found.law("blocker", row, counted, || format!("job {} has not counted it", row.job));
}

fn job_state(tables: &Tables, row: &JobRow, found: &mut Found) {
    let open = row.state == JobState::Open;
    found.law("job-state", row, open == row.closed_at.is_none(), || {
        format!("it is {}, its end says otherwise", row.state)
    });
    found.law("job-state", row, (row.state == JobState::Cancelled) == row.reason.is_some(), || {
        format!("it is {}, and its reason says otherwise", row.state)
    });
    let ordered = row.closed_at.is_none_or(|end| row.opened_at <= end);
    found.law("job-state", row, ordered, || "it ended before it opened".to_owned());
    // One reason for all of it was given while that was allowed, and named no lines.
    let named = |before: JobNo| row.overruled.iter().any(|one| one.line == format!("came-apart:{before}"));
    let whole = row.came_apart.is_none_or(|before| row.overridden.is_some() || named(before));
    found.law("came-apart", row, row.state != JobState::Completed || whole, || {
        "its vehicle had come apart from the job before, and nobody answered for that".to_owned()
    });
    let counted = tables.get::<ShopRow>(&()).is_some_and(|shop| (1..=shop.last_job).contains(&row.job.0));
    found.law("job-state", row, counted, || "the shop has not counted it".to_owned());
    let place = tables.get::<PlaceRow>(&(PlaceKey::of_job(row.job),));
    let placed = place.is_some_and(|place| place.kind == PlaceKind::Job && place.job == Some(row.job));
    found.law("job-state", row, placed, || "it has no place for its stock".to_owned());
}

fn closed_jobs(tables: &Tables, found: &mut Found) {
    let in_state = |wanted: &[JobState]| -> BTreeSet<JobNo> {
        tables.rows::<JobRow>().filter(|row| wanted.contains(&row.state)).map(|row| row.job).collect()
    };
    let closed = in_state(&[JobState::Completed, JobState::Cancelled]);
    let completed = in_state(&[JobState::Completed]);
    let say = |job: JobNo, what: &str| format!("job {job} is closed and {what}");
    for row in tables.rows::<ClockingRow>() {
        let open = row.until_at.is_none() && closed.contains(&row.job);
        found.law("job-closed", row, !open, || say(row.job, "somebody is clocked on to it"));
    }
    for row in tables.rows::<ReservationRow>() {
        let open = row.quantity.0 != 0 && closed.contains(&row.job);
        found.law("job-closed", row, !open, || say(row.job, "stock is set aside for it"));
    }
    for row in tables.rows::<ShortageRow>() {
        let open = row.quantity.0 != 0 && closed.contains(&row.job);
        found.law("job-closed", row, !open, || say(row.job, "it is short of something"));
    }
    for row in tables.rows::<StayRow>() {
        let open = row.until_at.is_none() && closed.contains(&row.job);
        found.law("job-closed", row, !open, || say(row.job, "its vehicle is in a bay"));
    }
    for row in tables.rows::<StageRow>() {
        let open = row.ended_at.is_none() && completed.contains(&row.job);
        found.law("job-closed", row, !open, || say(row.job, "this stage has not ended"));
    }
    for row in tables.rows::<BlockerRow>() {
        let open = row.cleared_at.is_none() && completed.contains(&row.job);
        found.law("job-closed", row, !open, || say(row.job, "this blocker is open"));
    }
}
