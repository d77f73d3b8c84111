//! The strip book: what came off is accounted for before a vehicle is handed over.

use super::Found;
use crate::packed::Steps;
use crate::tables::Tables;
use leadhand_facts::instant::MINUTE_US;
use leadhand_facts::rows::{AttemptRow, DemandRow, JobRow, PositionRow};
use leadhand_facts::words::{JobState, Manner, Outcome, StepState, Tightness};
use leadhand_facts::{Instant, ItemKey, JobNo, PersonId, PositionKey};
use std::collections::{BTreeMap, BTreeSet};

pub(super) fn check(tables: &Tables, found: &mut Found) {
    // What a lead let a vehicle go with, for those that were handed over; nothing, when it was all of it.
    let gone: BTreeMap<JobNo, (Option<BTreeSet<&str>>, Option<Instant>)> = tables
        .rows::<JobRow>()
        .filter(|job| job.state == JobState::Completed)
        .map(|job| {
            let lines = job.overruled.iter().map(|line| line.line.as_str()).collect();
            (job.job, (job.overridden.is_none().then_some(lines), job.closed_at))
        })
        .collect();
    tags(tables, found);
    attempts(tables, found);
    let mut steps = Steps::of(tables);
    for row in tables.rows::<PositionRow>() {
        counts(row, found);
        if let Some((overruled, went_at)) = gone.get(&row.job) {
            handed_over(row, overruled.as_ref(), *went_at, found);
            said(&mut steps, row, found);
        }
    }
    taken(tables, &gone, found);
    drawn(tables, &gone, found);
}

/// What nobody may overrule was said of, when the step that took it off or put it in was done.
fn said(steps: &mut Steps<'_>, row: &PositionRow, found: &mut Found) {
    let strict = row.detail.manner == Manner::In || row.detail.second_check;
    let step = row.step.and_then(|step| steps.get(row.job, &row.stage, step));
    let done = step.is_some_and(|step| step.state == StepState::Done);
    found.law("step-said", row, !(strict && done) || row.off_n.is_some(), || {
        "its step was done, and nothing was said of it before the vehicle went".to_owned()
    });
}

/// What was renewed in a vehicle that went was taken from stock for it, unless a lead overrode that.
fn taken(tables: &Tables, gone: &BTreeMap<JobNo, (Option<BTreeSet<&str>>, Option<Instant>)>, found: &mut Found) {
    let mut left: BTreeMap<(JobNo, &ItemKey), i64> = BTreeMap::new();
    for row in tables.rows::<DemandRow>() {
        *left.entry((row.job, &row.item)).or_default() += row.issued.0;
    }
    let mut told: BTreeSet<(JobNo, &ItemKey)> = BTreeSet::new();
    for row in tables.rows::<PositionRow>() {
        let (Some(item), Some((Some(overruled), _))) = (&row.detail.item, gone.get(&row.job)) else { continue };
        let rest = left.entry((row.job, item)).or_default();
        *rest -= i64::from(row.renewed);
        let fits = *rest >= 0 || overruled.contains(format!("not-taken:{item}").as_str());
        let first = !fits && told.insert((row.job, item));
        found.law("renewed-taken", row, !first, || format!("more of '{item}' went in than was given to the job"));
    }
}

/// What the fills of a vehicle that went were poured from was taken from stock for it, unless a lead overrode that.
fn drawn(tables: &Tables, gone: &BTreeMap<JobNo, (Option<BTreeSet<&str>>, Option<Instant>)>, found: &mut Found) {
    let mut given: BTreeMap<(JobNo, ItemKey), i64> = BTreeMap::new();
    for row in tables.rows::<DemandRow>() {
        *given.entry((row.job, row.item.clone())).or_default() += row.issued.0;
    }
    tables.steps_by_job(|steps| {
        for step in steps.iter().filter(|step| step.state == StepState::Done) {
            let reckoned = step.safety.fill.as_ref().and_then(|fill| fill.reckoned.as_ref());
            let (Some(reckoned), Some((Some(overruled), _))) = (reckoned, gone.get(&step.job)) else { continue };
            for need in step.needs.iter().filter(|need| reckoned.from.contains(&need.item)) {
                let item = &need.item;
                let rest = given.entry((step.job, item.clone())).or_default();
                *rest -= need.quantity.0;
                let fits = *rest >= 0 || overruled.contains(format!("not-drawn:{item}").as_str());
                found.law("fill-drawn", *step, fits, || format!("it takes more of '{item}' than was given to the job"));
            }
        }
    });
}

/// No two ends in a job bear the same number.
fn tags(tables: &Tables, found: &mut Found) {
    let mut given: BTreeSet<(JobNo, i32)> = BTreeSet::new();
    for row in tables.rows::<PositionRow>() {
        let Some(first) = row.detail.tag else { continue };
        let alone = (first..first + row.detail.count).all(|number| number > 0 && given.insert((row.job, number)));
        found.law("tags", row, alone, || format!("a number of its tags from {first} on is another's as well"));
    }
}

/// Of a position no more pieces moved than it has places, and whoever went to where it may break had a plan, by then at the
/// latest, or a lead's word.
fn attempts(tables: &Tables, found: &mut Found) {
    let mut moved: BTreeMap<(JobNo, &PositionKey), i32> = BTreeMap::new();
    let mut thought: BTreeSet<(JobNo, &PositionKey)> = BTreeSet::new();
    for row in tables.rows::<AttemptRow>() {
        let known = row.plan.is_some() || thought.contains(&(row.job, &row.position));
        if known {
            thought.insert((row.job, &row.position));
        }
        let planned = !row.last_safe || row.outcome == Outcome::Moved || known || row.overridden.is_some();
        found.law("attempt", row, planned, || "it was the last safe try, and nobody had a plan".to_owned());
        let places = tables.get::<PositionRow>(&(row.job, row.position.clone())).map_or(0, |one| one.detail.count);
        let sum = moved.entry((row.job, &row.position)).or_default();
        *sum += if row.outcome == Outcome::Moved { row.pieces } else { 0 };
        let there = *sum <= places;
        found.law("attempt", row, there, || format!("{sum} pieces moved and it has {places} places"));
    }
}

fn counts(row: &PositionRow, found: &mut Found) {
    let whole = [row.found, row.missing, row.refitted, row.renewed, row.left_out, row.scrapped, row.kept];
    let whole = whole.iter().all(|count| *count >= 0) && (0..=row.found).contains(&row.damaged);
    found.law("position", row, whole, || "a count of it is negative, or more are damaged than there were".to_owned());
    let places = row.refitted + row.renewed + row.left_out <= row.found + row.missing;
    let pieces = row.refitted + row.scrapped + row.kept <= row.found;
    found.law("position", row, places && pieces, || "more of it is settled than there was".to_owned());
    let off = row.off_n.is_some() == row.off_at.is_some() && (row.off_n.is_some() || row.found + row.missing == 0);
    let back = row.back_n.is_some() == row.back_at.is_some() && (row.back_n.is_none() || row.off_n.is_some());
    found.law("position", row, off && back, || "its times and the facts about it do not agree".to_owned());
    let other = |person: &PersonId| !row.hands.contains(person) && row.back_by != Some(*person);
    let looked = row.checked_by.as_ref().is_none_or(|person| row.back_n.is_some() && other(person));
    found.law("second-check", row, looked, || "somebody who put it back or tightened it looked at it".to_owned());
    let known = row.checked_by.is_none() || !row.unnamed;
    found.law("second-check", row, known, || "it was looked at, and nobody knows whose work it was".to_owned());
}

fn handed_over(row: &PositionRow, overruled: Option<&BTreeSet<&str>>, went_at: Option<Instant>, found: &mut Found) {
    let touched = row.off_n.is_some();
    let said_again = touched || !row.taken_back;
    if row.detail.second_check {
        found.law("second-check", row, said_again, || {
            "it was taken back that it came off, and nobody said more".to_owned()
        });
    }
    if row.detail.manner == Manner::In {
        found.law("put-in-is-out", row, said_again, || {
            "it was taken back that it is in, and nobody said more".to_owned()
        });
    }
    if row.detail.manner == Manner::In {
        found.law("put-in-is-out", row, row.refitted == row.found, || {
            format!("{} of {} came out before the vehicle went", row.refitted, row.found)
        });
        if let Some(overruled) = overruled {
            as_listed(row, overruled, found);
        }
        return;
    }
    let there = touched && (row.found > 0 || row.missing > 0);
    let unseen = there && row.detail.second_check && row.checked_by.is_none();
    found.law("second-check", row, !unseen, || "nobody else looked at it before the vehicle went".to_owned());
    let Some(overruled) = overruled else { return };
    let let_go = |kind: &str| overruled.contains(format!("{kind}:{}", row.position).as_str());
    let places = row.found + row.missing == row.refitted + row.renewed + row.left_out;
    found.law("strip-places", row, places || let_go("places"), || {
        format!(
            "{} found and {} missing, but {} refitted, {} renewed and {} left out",
            row.found, row.missing, row.refitted, row.renewed, row.left_out
        )
    });
    let pieces = row.found == row.refitted + row.scrapped + row.kept;
    found.law("strip-pieces", row, pieces || let_go("pieces"), || {
        format!(
            "{} came off, but {} refitted, {} scrapped and {} kept",
            row.found, row.refitted, row.scrapped, row.kept
        )
    });
    as_listed(row, overruled, found);
    let fitted = row.refitted + row.renewed > 0;
    let tight = !fitted || row.tightness == Some(Tightness::Final);
    found.law("strip-tight", row, tight || let_go("not-tight"), || {
        "it was not tightened to the end before the vehicle went".to_owned()
    });
    found.law("strip-cured", row, has_cured(row, went_at) || let_go("cures"), || {
        "its sealant had not cured when the vehicle went".to_owned()
    });
}

/// Whether what is sealed in all its places had as long as it is to have; what is not, cures nothing.
fn has_cured(row: &PositionRow, went_at: Option<Instant>) -> bool {
    let whole = row.found + row.missing <= row.refitted + row.renewed + row.left_out;
    let (Some(minutes), Some(back_at), Some(went_at)) = (row.detail.cure_minutes, row.back_at, went_at) else {
        return true;
    };
    !whole || row.refitted + row.renewed == 0 || went_at.since_us(back_at) >= i64::from(minutes) * MINUTE_US
}

/// As many were found, missing or put in as are listed.
fn as_listed(row: &PositionRow, overruled: &BTreeSet<&str>, found: &mut Found) {
    // Nobody listed what was added by hand, so none of it is no fewer than listed.
    let none = row.unplanned && row.detail.manner != Manner::In && row.found + row.missing == 0;
    let all = row.off_n.is_none() || none || row.found + row.missing >= row.detail.count;
    let let_go = overruled.contains(format!("fewer:{}", row.position).as_str());
    found.law("strip-fewer", row, all || let_go, || {
        format!("{} are listed, and {} were found, missing before or put in", row.detail.count, row.found + row.missing)
    });
}
