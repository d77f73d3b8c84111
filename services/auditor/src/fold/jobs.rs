//! Jobs, and vehicles in bays.

use super::{astray, stages};
use crate::fault::{At, Fault};
use crate::tables::Tables;
use leadhand_facts::fact::Wording;
use leadhand_facts::reading::{Overruled, OverruledLine};
use leadhand_facts::rows::{BayRow, JobRow, PlaceRow, ShopRow, StayRow, TemplateRow, VehicleRow};
use leadhand_facts::words::{JobState, PlaceKind};
use leadhand_facts::{Fact, JobNo, PlaceKey, TextId};

pub(super) fn take(tables: &mut Tables, at: At, fact: &Fact) -> Result<(), Fault> {
    match fact {
        Fact::JobOpened { .. } => opened(tables, at, fact),
        Fact::JobPromised { job, priority, promised_at } => {
            let row = tables.change::<JobRow>(at, &(*job,))?;
            row.priority = *priority;
            row.promised_at = *promised_at;
            Ok(())
        }
        Fact::VehiclePlaced { .. } => placed(tables, at, fact),
        Fact::VehicleLeft { .. } => left(tables, at, fact),
        Fact::StayCorrected { .. } => stay_corrected(tables, at, fact),
        Fact::JobCompleted { job, overridden, lines } => {
            closed(tables, at, *job, JobState::Completed, None)?;
            let row = tables.change::<JobRow>(at, &(*job,))?;
            row.overridden = overridden.as_ref().map(|text| text.id);
            for Overruled { line, reason } in lines {
                row.overruled.push(OverruledLine { line: line.clone(), reason: reason.id, by: at.word });
            }
            Ok(())
        }
        Fact::JobCancelled { job, reason, apart } => {
            closed(tables, at, *job, JobState::Cancelled, Some(reason.id))?;
            tables.change::<JobRow>(at, &(*job,))?.apart = *apart;
            Ok(())
        }
        Fact::JobReopened { job, .. } => reopened(tables, at, *job),
        _ => Err(astray(at)),
    }
}

fn opened(tables: &mut Tables, at: At, fact: &Fact) -> Result<(), Fault> {
    let Fact::JobOpened { job, template, revision, title, vehicle, priority, promised_at, options, stages, came_apart } =
        fact
    else {
        return Err(astray(at));
    };
    let shop = tables.change::<ShopRow>(at, &())?;
    let due = shop.last_job + 1;
    at.demand(job.0 == due, "job", || format!("job {job} should have the number {due}"))?;
    shop.last_job = job.0;
    tables.known::<VehicleRow>(at, &(*vehicle,))?;
    match (template, revision) {
        (Some(template), Some(revision)) => {
            tables.known::<TemplateRow>(at, &(template.clone(), *revision))?;
        }
        (None, None) => {}
        _ => return Err(at.fault("job", format!("job {job} names a template or a revision, but not both"))),
    }
    let (title, title_text) = words(title);
    tables.add(
        at,
        JobRow {
            job: *job,
            template: template.clone(),
            revision: *revision,
            title,
            title_text,
            vehicle: *vehicle,
            customer: None,
            priority: *priority,
            promised_at: *promised_at,
            state: JobState::Open,
            options: options.clone(),
            opened_at: at.happened,
            closed_at: None,
            reason: None,
            last_blocker: 0,
            last_stage: 0,
            overridden: None,
            overruled: vec![],
            version: at.n,
            apart: false,
            came_apart: *came_apart,
        },
    )?;
    let place = PlaceKey::of_job(*job);
    let name = format!("Job {job}");
    tables.add(at, PlaceRow { place, kind: PlaceKind::Job, name, job: Some(*job), added_n: at.n })?;
    stages::lay_all(tables, at, *job, stages)
}

/// Words as two columns: the template's own, or the erasable text.
pub(super) fn words(wording: &Wording) -> (Option<String>, Option<TextId>) {
    match wording {
        Wording::Template(words) => (Some(words.clone()), None),
        Wording::Typed(text) => (None, Some(text.id)),
    }
}

fn placed(tables: &mut Tables, at: At, fact: &Fact) -> Result<(), Fault> {
    let Fact::VehiclePlaced { stay, bay, vehicle, job } = fact else {
        return Err(astray(at));
    };
    tables.known::<BayRow>(at, &(bay.clone(),))?;
    let own = tables.known::<JobRow>(at, &(*job,))?.vehicle;
    at.demand(own == *vehicle, "stay", || format!("job {job} is about vehicle {own}, not {vehicle}"))?;
    tables.add(
        at,
        StayRow {
            stay: *stay,
            bay: bay.clone(),
            vehicle: *vehicle,
            job: *job,
            from_at: at.happened,
            until_at: None,
            why_left: None,
            from_n: at.n,
            until_n: None,
        },
    )
}

fn left(tables: &mut Tables, at: At, fact: &Fact) -> Result<(), Fault> {
    let Fact::VehicleLeft { stay, bay, vehicle, job, why, .. } = fact else {
        return Err(astray(at));
    };
    let row = tables.change::<StayRow>(at, &(*stay,))?;
    let same = (&row.bay, row.vehicle, row.job) == (bay, *vehicle, *job);
    at.demand(same, "stay", || format!("stay {stay} is of vehicle {} in bay '{}'", row.vehicle, row.bay))?;
    at.demand(row.until_at.is_none(), "stay", || format!("stay {stay} ended before"))?;
    at.demand(row.from_at < at.happened, "stay", || format!("stay {stay} does not end after it begins"))?;
    row.until_at = Some(at.happened);
    row.why_left = Some(*why);
    row.until_n = Some(at.n);
    Ok(())
}

fn stay_corrected(tables: &mut Tables, at: At, fact: &Fact) -> Result<(), Fault> {
    let Fact::StayCorrected { stay, bay, vehicle, job, from_at, until_at, .. } = fact else {
        return Err(astray(at));
    };
    tables.known::<BayRow>(at, &(bay.clone(),))?;
    let row = tables.change::<StayRow>(at, &(*stay,))?;
    let same = (row.vehicle, row.job, row.until_at.is_some()) == (*vehicle, *job, until_at.is_some());
    at.demand(same, "stay", || format!("stay {stay} is another's, or was over otherwise"))?;
    at.demand(until_at.unwrap_or(at.recorded) <= at.recorded && *from_at <= at.recorded, "stay", || {
        format!("stay {stay} lies after its correction was recorded")
    })?;
    (row.bay, row.from_at, row.until_at) = (bay.clone(), *from_at, *until_at);
    Ok(())
}

fn closed(tables: &mut Tables, at: At, job: JobNo, state: JobState, reason: Option<TextId>) -> Result<(), Fault> {
    let row = tables.change::<JobRow>(at, &(job,))?;
    at.demand(row.state == JobState::Open, "job", || format!("job {job} is {} and can't become {state}", row.state))?;
    at.demand(row.opened_at <= at.happened, "job", || format!("job {job} ends before it opened"))?;
    row.state = state;
    row.closed_at = Some(at.happened);
    row.reason = reason;
    super::plan::leave(tables, job);
    Ok(())
}

fn reopened(tables: &mut Tables, at: At, job: JobNo) -> Result<(), Fault> {
    let row = tables.known::<JobRow>(at, &(job,))?.clone();
    at.demand(row.closed_at.is_some_and(|closed| closed <= at.happened), "job", || {
        format!("job {job} was not closed by then")
    })?;
    let other = tables.rows::<JobRow>().find(|other| other.vehicle == row.vehicle && other.job > job);
    at.demand(other.is_none(), "job", || format!("the vehicle of job {job} has come again since"))?;
    tables.put(JobRow {
        state: JobState::Open,
        closed_at: None,
        reason: None,
        overridden: None,
        overruled: vec![],
        apart: false,
        ..row
    });
    Ok(())
}
