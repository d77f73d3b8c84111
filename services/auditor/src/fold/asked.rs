//! Corrections of time that were asked for.

use super::astray;
use crate::fault::{At, Fault};
use crate::tables::Tables;
use leadhand_facts::rows::{AskedRow, ClockingRow, JobRow, PersonRow, StageRow};
use leadhand_facts::{Fact, JobNo};

pub(super) fn take(tables: &mut Tables, at: At, fact: &Fact) -> Result<(), Fault> {
    match fact {
        Fact::CorrectionAsked { job, ask, clocking, entry, person, wanted, reason } => {
            tables.known::<JobRow>(at, &(*job,))?;
            dense(tables, at, *job, ask.0)?;
            let of = tables.known::<ClockingRow>(at, &(*clocking,))?;
            at.demand((of.job, of.person, of.on_n) == (*job, *person, *entry), "asked_correction", || {
                format!("correction {ask} of job {job} is not about entry {entry}")
            })?;
            if let Some(wanted) = wanted {
                tables.known::<StageRow>(at, &(wanted.job, wanted.stage.clone()))?;
                let ends = wanted.until_at.is_none_or(|until| wanted.from_at < until);
                at.demand(ends, "asked_correction", || format!("correction {ask} of job {job} ends before it begins"))?;
            }
            let wanted = wanted.as_ref();
            let row = AskedRow {
                clocking: *clocking,
                entry: *entry,
                person: *person,
                asked_n: at.n,
                asked_at: at.happened,
                reason: reason.id,
                until_at: wanted.and_then(|time| time.until_at),
                from_at: wanted.map(|time| time.from_at),
                to_stage: wanted.map(|time| time.stage.clone()),
                to_job: wanted.map(|time| time.job),
                answer: None,
                decided_n: None,
                decided_at: None,
                decided_by: None,
                taken: None,
                ask: *ask,
                job: *job,
            };
            tables.add(at, row)
        }
        Fact::CorrectionDecided { job, ask, by, taken, reason } => {
            if let Some(by) = by {
                tables.known::<PersonRow>(at, &(*by,))?;
            }
            let clocking = tables.known::<AskedRow>(at, &(*job, *ask))?.clocking;
            // What was taken was entered anew just before, and the entry it was about is gone.
            let stands = tables.get::<ClockingRow>(&(clocking,)).is_some();
            at.demand(!(*taken && stands), "asked_correction", || {
                format!("correction {ask} of job {job} was taken, and the entry is as it was")
            })?;
            let row = tables.change::<AskedRow>(at, &(*job, *ask))?;
            at.demand(row.decided_n.is_none() && row.asked_at <= at.happened, "asked_correction", || {
                format!("correction {ask} of job {job} was decided before, or before it was asked for")
            })?;
            (row.taken, row.decided_by, row.decided_n) = (Some(*taken), *by, Some(at.n));
            (row.decided_at, row.answer) = (Some(at.happened), Some(reason.id));
            Ok(())
        }
        _ => Err(astray(at)),
    }
}

fn dense(tables: &Tables, at: At, job: JobNo, ask: i32) -> Result<(), Fault> {
    let before = tables.rows::<AskedRow>().filter(|row| row.job == job).count();
    at.demand(usize::try_from(ask) == Ok(before + 1), "asked_correction", || {
        format!("correction {ask} of job {job} should be number {}", before + 1)
    })
}
