//! What was measured, what a lead decided about it, and remarks for the hand-over sheet.

use super::astray;
use super::jobs::words;
use crate::fault::{At, Fault};
use crate::tables::Tables;
use leadhand_facts::reading::JobReading;
use leadhand_facts::rows::{JobRow, PersonRow, ReadingRow, RemarkRow, StageRow, StepRow};
use leadhand_facts::words::{Decision, JobState, StageState, Verdict};
use leadhand_facts::{Fact, JobNo, ReadingKey, StageKey};

pub(super) fn take(tables: &mut Tables, at: At, fact: &Fact) -> Result<(), Fault> {
    match fact {
        Fact::ReadingAdded { job, stage, reading } => lay(tables, at, *job, stage, reading),
        Fact::ReadingTaken { .. } => taken(tables, at, fact),
        Fact::ReadingDecided { job, reading, person, decision, reason } => {
            tables.known::<PersonRow>(at, &(*person,))?;
            let row = reading_of(tables, at, *job, reading)?;
            let out = row.verdict == Some(Verdict::Out) && row.taken_at.is_some_and(|taken| taken <= at.happened);
            at.demand(out, "reading", || {
                format!("reading '{reading}' of job {job} was not out of its limits by then")
            })?;
            row.decision = Some(*decision);
            row.decided_reason = Some(reason.id);
            row.decided_by = Some(*person);
            row.decided_n = Some(at.n);
            row.decided_at = Some(at.happened);
            Ok(())
        }
        Fact::RemarkMade { job, remark, person, what, words } => {
            open(tables, at, *job)?;
            let due = 1 + tables.rows::<RemarkRow>().filter(|row| row.job == *job).count();
            let dense = usize::try_from(remark.0) == Ok(due);
            at.demand(dense, "job_remark", || format!("remark {remark} of job {job} should be {due}"))?;
            tables.add(
                at,
                RemarkRow {
                    job: *job,
                    remark: *remark,
                    what: *what,
                    words: words.id,
                    said_at: at.happened,
                    said_by: *person,
                    said_n: at.n,
                    withdrawn_n: None,
                    withdrawn_reason: None,
                },
            )
        }
        Fact::RemarkWithdrawn { job, remark, reason } => {
            open(tables, at, *job)?;
            let row = tables.change::<RemarkRow>(at, &(*job, *remark))?;
            let stood = row.withdrawn_n.is_none();
            at.demand(stood, "job_remark", || format!("remark {remark} of job {job} was withdrawn before"))?;
            row.withdrawn_n = Some(at.n);
            row.withdrawn_reason = Some(reason.id);
            Ok(())
        }
        _ => Err(astray(at)),
    }
}

fn open(tables: &Tables, at: At, job: JobNo) -> Result<(), Fault> {
    let state = tables.known::<JobRow>(at, &(job,))?.state;
    at.demand(state == JobState::Open, "job", || format!("job {job} is {state} and nothing is measured or said there"))
}

fn reading_of<'a>(
    tables: &'a mut Tables,
    at: At,
    job: JobNo,
    reading: &ReadingKey,
) -> Result<&'a mut ReadingRow, Fault> {
    open(tables, at, job)?;
    tables.change::<ReadingRow>(at, &(job, reading.clone()))
}

pub(super) fn lay(
    tables: &mut Tables,
    at: At,
    job: JobNo,
    stage: &StageKey,
    reading: &JobReading,
) -> Result<(), Fault> {
    tables.known::<StageRow>(at, &(job, stage.clone()))?;
    if let Some(step) = reading.step {
        tables.known::<StepRow>(at, &(job, stage.clone(), step))?;
    }
    let (what, what_text) = words(&reading.what);
    tables.add(
        at,
        ReadingRow {
            job,
            reading: reading.reading.clone(),
            stage: stage.clone(),
            step: reading.step,
            what,
            what_text,
            detail: reading.detail.clone(),
            unplanned: reading.unplanned,
            added_n: at.n,
            taken_at: None,
            taken_by: None,
            taken_n: None,
            figures: vec![],
            verdict: None,
            off_limits: vec![],
            instrument: None,
            note: None,
            decided_at: None,
            decided_by: None,
            decided_n: None,
            decision: None,
            decided_reason: None,
        },
    )
}

fn taken(tables: &mut Tables, at: At, fact: &Fact) -> Result<(), Fault> {
    let Fact::ReadingTaken { job, reading, person, figures, verdict, off_limits, instrument, note } = fact else {
        return Err(astray(at));
    };
    let row = reading_of(tables, at, *job, reading)?;
    let before = row.taken_at.max(row.decided_at);
    at.demand(before.is_none_or(|before| before <= at.happened), "reading", || {
        format!("reading '{reading}' of job {job} was taken before the one that it replaces")
    })?;
    let stage = row.stage.clone();
    // A lead asked for it anew: that may be long after its stage.
    let asked = matches!(row.decision, Some(Decision::Repair | Decision::Again));
    row.figures.clone_from(figures);
    row.off_limits.clone_from(off_limits);
    row.verdict = Some(*verdict);
    row.instrument = instrument.as_ref().map(|text| text.id);
    row.note = note.as_ref().map(|text| text.id);
    row.taken_n = Some(at.n);
    row.taken_by = *person;
    row.taken_at = Some(at.happened);
    (row.decision, row.decided_reason, row.decided_by) = (None, None, None);
    (row.decided_n, row.decided_at) = (None, None);
    let state = tables.known::<StageRow>(at, &(*job, stage.clone()))?.state;
    let under_way = state == StageState::Active || (asked && state != StageState::Pending);
    at.demand(under_way, "reading", || format!("reading '{reading}' was taken while stage '{stage}' was not under way"))
}
