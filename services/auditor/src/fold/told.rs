//! What was told to whom about a job.

use super::astray;
use crate::fault::{At, Fault};
use crate::tables::Tables;
use leadhand_facts::rows::{CustomerRow, JobRow, PersonRow, ToldRow};
use leadhand_facts::words::JobState;
use leadhand_facts::{Fact, JobNo};

pub(super) fn take(tables: &mut Tables, at: At, fact: &Fact) -> Result<(), Fault> {
    match fact {
        Fact::SomebodyTold { job, told, person, customer, whom, words, promised_at } => {
            open(tables, at, *job)?;
            let before = tables.rows::<ToldRow>().filter(|row| row.job == *job).count();
            at.demand(usize::try_from(told.0) == Ok(before + 1), "job_told", || {
                format!("what was told as number {told} of job {job} should be number {}", before + 1)
            })?;
            if let Some(person) = person {
                tables.known::<PersonRow>(at, &(*person,))?;
            }
            if let Some(customer) = customer {
                tables.known::<CustomerRow>(at, &(*customer,))?;
            }
            at.demand(customer.is_some() != whom.is_some(), "job_told", || {
                format!("number {told} of job {job} was told to nobody, or to two")
            })?;
            at.demand(promised_at.is_none_or(|promised| promised > at.happened), "job_told", || {
                format!("what number {told} of job {job} promised was over when it was told")
            })?;
            let row = ToldRow {
                told: *told,
                job: *job,
                told_n: at.n,
                told_at: at.happened,
                told_by: *person,
                whom: whom.as_ref().map(|text| text.id),
                words: words.id,
                customer: *customer,
                promised_at: *promised_at,
                withdrawn_reason: None,
                withdrawn_n: None,
            };
            tables.add(at, row)
        }
        Fact::ToldWithdrawn { job, told, reason } => {
            open(tables, at, *job)?;
            let row = tables.change::<ToldRow>(at, &(*job, *told))?;
            let stood = row.withdrawn_n.is_none() && row.told_at <= at.happened;
            at.demand(stood, "job_told", || {
                format!("number {told} of job {job} was withdrawn before, or before it was told")
            })?;
            (row.withdrawn_n, row.withdrawn_reason) = (Some(at.n), Some(reason.id));
            Ok(())
        }
        _ => Err(astray(at)),
    }
}

fn open(tables: &Tables, at: At, job: JobNo) -> Result<(), Fault> {
    let state = tables.known::<JobRow>(at, &(job,))?.state;
    at.demand(state == JobState::Open, "job", || format!("job {job} is {state}, and nobody is told anything about it"))
}
