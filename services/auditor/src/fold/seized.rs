//! What would not move, what soaks, and what turned out not to be alike.

use super::strip::{lay, position_of};
use crate::fault::{At, Fault};
use crate::tables::Tables;
use leadhand_facts::rows::{AttemptRow, PositionRow};
use leadhand_facts::strip::JobPosition;
use leadhand_facts::{AttemptNo, Fact, Instant, JobNo, PositionKey};

/// So many places leave a position that is not off and keep at least one there; whoever waits for the old one waits
/// for both.
pub(super) fn divide(
    tables: &mut Tables,
    at: At,
    job: JobNo,
    position: &PositionKey,
    part: &JobPosition,
) -> Result<(), Fault> {
    let gone = part.detail.count;
    let whole = position_of(tables, at, job, position)?;
    let stage = whole.stage.clone();
    let fits = whole.off_n.is_none() && gone >= 1 && gone < whole.detail.count;
    at.demand(fits, "strip_position", || format!("position '{position}' of job {job} can't give away {gone} places"))?;
    whole.detail.count -= gone;
    let waiting: Vec<PositionKey> = tables
        .rows::<PositionRow>()
        .filter(|row| row.job == job && row.detail.behind.iter().any(|key| key == position))
        .map(|row| row.position.clone())
        .collect();
    for key in waiting {
        tables.change::<PositionRow>(at, &(job, key))?.detail.behind.push(part.position.clone());
    }
    lay(tables, at, job, &stage, part)
}

pub(super) fn soak(row: &mut PositionRow, at: At, until: Option<Instant>) -> Result<(), Fault> {
    let later = until.is_none_or(|until| until > at.happened);
    at.demand(later && row.off_n.is_none(), "strip_position", || {
        format!("position '{}' of job {} is off, or soaks until before it began", row.position, row.job)
    })?;
    row.soak_until = until;
    row.soak_n = until.map(|_| at.n);
    Ok(())
}

/// Attempts are numbered through each position, and none is before the one that came before it.
pub(super) fn attempt(tables: &mut Tables, at: At, fact: &Fact) -> Result<(), Fault> {
    let Fact::AttemptRecorded { job, position, attempt, person, rung, measure, last_safe, outcome, pieces, .. } = fact
    else {
        return Err(super::astray(at));
    };
    let Fact::AttemptRecorded { plan, note, overridden, .. } = fact else { return Err(super::astray(at)) };
    let places = position_of(tables, at, *job, position)?.detail.count;
    let demand = |holds: bool, why: &str| {
        at.demand(holds, "strip_attempt", || format!("attempt {attempt} at position '{position}' of job {job} {why}"))
    };
    demand((1..=places).contains(pieces), "is at more pieces than there are, or none")?;
    demand(*rung >= 1, "is by no rung")?;
    let before = tables.get::<AttemptRow>(&(*job, position.clone(), AttemptNo(attempt.0 - 1)));
    demand(attempt.0 == 1 || before.is_some_and(|row| row.at <= at.happened), "does not follow the one before it")?;
    let id = |text: &Option<leadhand_facts::TextRef>| text.as_ref().map(|text| text.id);
    tables.add(
        at,
        AttemptRow {
            job: *job,
            position: position.clone(),
            attempt: *attempt,
            rung: *rung,
            measure: measure.clone(),
            last_safe: *last_safe,
            outcome: *outcome,
            pieces: *pieces,
            person: *person,
            at: at.happened,
            n: at.n,
            plan: id(plan),
            note: id(note),
            overridden: id(overridden),
        },
    )
}
