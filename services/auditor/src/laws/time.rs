//! Who and what is where, when: stays, clockings, windows.

use super::Found;
use crate::tables::{Kept, Tables};
use leadhand_facts::rows::{BayRow, ClockingRow, JobRow, OpenWindowRow, ShiftWindowRow, StageRow, StayRow};
use leadhand_facts::words::BayKind;
use leadhand_facts::{Instant, VehicleId};
use std::collections::BTreeMap;

pub(super) fn check(tables: &Tables, found: &mut Found) {
    let stay = |row: &StayRow| (row.from_at, row.until_at);
    apart(tables, found, "stay", |row: &StayRow| row.bay.clone(), stay);
    apart(tables, found, "stay", |row: &StayRow| row.vehicle, stay);
    not_empty(tables, found, "stay", stay);
    for row in tables.rows::<StayRow>() {
        let ended = row.until_at.is_some();
        found.law("stay", row, ended == row.why_left.is_some() && ended == row.until_n.is_some(), || {
            "its end, why it ended and the fact that ended it do not agree".to_owned()
        });
    }
    let clocking = |row: &ClockingRow| (row.from_at, row.until_at);
    apart(tables, found, "clocking", |row: &ClockingRow| row.person, clocking);
    not_empty(tables, found, "clocking", clocking);
    clockings(tables, found);
    places(tables, found);
    let open = |row: &OpenWindowRow| (row.from_at, Some(row.until_at));
    apart(tables, found, "windows", |_: &OpenWindowRow| (), open);
    not_empty(tables, found, "windows", open);
    let shift = |row: &ShiftWindowRow| (row.from_at, Some(row.until_at));
    apart(tables, found, "windows", |row: &ShiftWindowRow| row.person, shift);
    not_empty(tables, found, "windows", shift);
}

fn clockings(tables: &Tables, found: &mut Found) {
    for row in tables.rows::<ClockingRow>() {
        found.law("clocking", row, row.until_at.is_some() == row.off_n.is_some(), || {
            "its end and the fact that ended it do not agree".to_owned()
        });
        let stage = tables.get::<StageRow>(&(row.job, row.stage.clone()));
        let over = stage.is_some_and(|stage| stage.ended_at.is_some());
        found.law("clocking", row, !(over && row.until_at.is_none()), || {
            format!("it is open, and stage '{}' of job {} has ended", row.stage, row.job)
        });
    }
}

/// Work on a stage that asks for kinds of bay, against where the vehicle stood meanwhile.
fn places(tables: &Tables, found: &mut Found) {
    let mut stood: BTreeMap<VehicleId, Vec<(&StayRow, BayKind)>> = BTreeMap::new();
    for row in tables.rows::<StayRow>() {
        if let Some(bay) = tables.get::<BayRow>(&(row.bay.clone(),)) {
            stood.entry(row.vehicle).or_default().push((row, bay.kind));
        }
    }
    for stays in stood.values_mut() {
        stays.sort_by_key(|(stay, _)| stay.from_at);
    }
    for row in tables.rows::<ClockingRow>() {
        let Some(stage) = tables.get::<StageRow>(&(row.job, row.stage.clone())) else { continue };
        let Some(job) = tables.get::<JobRow>(&(row.job,)).filter(|_| !stage.bays.is_empty()) else { continue };
        // From stay to stay, as far as they follow each other.
        let mut reached = row.from_at;
        for (stay, kind) in stood.get(&job.vehicle).into_iter().flatten() {
            if stage.bays.contains(kind) && stay.from_at <= reached {
                reached = reached.max(stay.until_at.unwrap_or(Instant(i64::MAX)));
            }
        }
        found.law("place", row, row.until_at.unwrap_or(Instant(i64::MAX)) <= reached, || {
            format!("the vehicle of job {} was in no bay for stage '{}' from {reached} on", row.job, row.stage)
        });
    }
}

/// A stretch of time; without an end while it goes on.
pub(super) type Span = (Instant, Option<Instant>);

/// No two rows of the same owner share an instant. A row is held against the one before it that
/// lasts longest, so one long row shows every later one that it covers.
pub(super) fn apart<R: Kept, O: Ord>(
    tables: &Tables,
    found: &mut Found,
    law: &'static str,
    owner: impl Fn(&R) -> O,
    span: impl Fn(&R) -> Span,
) {
    let mut by_owner: BTreeMap<O, Vec<&R>> = BTreeMap::new();
    for row in tables.rows::<R>() {
        by_owner.entry(owner(row)).or_default().push(row);
    }
    for mut rows in by_owner.into_values() {
        rows.sort_by_key(|row| span(row).0);
        let mut busy_until = Instant(i64::MIN);
        for row in rows {
            let (from, until) = span(row);
            found
                .law(law, row, from >= busy_until, || format!("it begins at {from}, another lasts until {busy_until}"));
            busy_until = busy_until.max(until.unwrap_or(Instant(i64::MAX)));
        }
    }
}

pub(super) fn not_empty<R: Kept>(tables: &Tables, found: &mut Found, law: &'static str, span: impl Fn(&R) -> Span) {
    for row in tables.rows::<R>() {
        let (from, until) = span(row);
        found
            .law(law, row, until.is_none_or(|until| from < until), || format!("it does not last: it begins at {from}"));
    }
}
