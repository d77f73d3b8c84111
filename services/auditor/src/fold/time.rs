//! The calendar's windows, and persons' time on stages.

use super::astray;
use crate::fault::{At, Fault};
use crate::tables::Tables;
use leadhand_facts::calendar::{CalendarChange, Resolved};
use leadhand_facts::rows::{CalendarRow, ClockingRow, OpenWindowRow, PersonRow, ShiftWindowRow, ShopRow, StageRow};
use leadhand_facts::{ClockingId, Fact, Instant, PersonId};

pub(super) fn take(tables: &mut Tables, at: At, fact: &Fact) -> Result<(), Fault> {
    match fact {
        Fact::CalendarSet { revision, change, person, resolved } => {
            calendar_set(tables, at, *revision, change, *person, resolved)
        }
        Fact::ClockedOn { clocking, person, job, stage, overridden } => {
            let row = ClockingRow {
                clocking: *clocking,
                person: *person,
                job: *job,
                stage: stage.clone(),
                from_at: at.happened,
                until_at: None,
                on_n: at.n,
                off_n: None,
                overridden: overridden.as_ref().map(|text| text.id),
            };
            clocked(tables, at, row)
        }
        Fact::ClockedOff { clocking, person, job, stage } => {
            let row = off(tables, at, *clocking)?;
            let same = (row.person, row.job, &row.stage) == (*person, *job, stage);
            at.demand(same, "clocking", || {
                format!("clocking {clocking} is of person {} on job {} stage '{}'", row.person, row.job, row.stage)
            })
        }
        Fact::WorkRecorded { clocking, person, job, stage, from_at, until_at, overridden } => {
            at.demand(from_at < until_at, "clocking", || format!("work {clocking} does not end after it begins"))?;
            at.demand(*until_at <= at.recorded, "clocking", || format!("work {clocking} ends after it was recorded"))?;
            let row = ClockingRow {
                clocking: *clocking,
                person: *person,
                job: *job,
                stage: stage.clone(),
                from_at: *from_at,
                until_at: Some(*until_at),
                on_n: at.n,
                off_n: Some(at.n),
                overridden: overridden.as_ref().map(|text| text.id),
            };
            clocked(tables, at, row)
        }
        Fact::ClockingWithdrawn { clocking, person, job, stage, replaced_by, .. } => {
            let row = tables.known::<ClockingRow>(at, &(*clocking,))?;
            let same = (row.person, row.job, &row.stage) == (*person, *job, stage);
            at.demand(same, "clocking", || format!("clocking {clocking} is not what is withdrawn"))?;
            let other = replaced_by.is_none_or(|other| tables.get::<ClockingRow>(&(other,)).is_none());
            at.demand(other, "clocking", || format!("what replaces clocking {clocking} was there before"))?;
            tables.remove::<ClockingRow>(&(*clocking,));
            Ok(())
        }
        _ => Err(astray(at)),
    }
}

fn clocked(tables: &mut Tables, at: At, row: ClockingRow) -> Result<(), Fault> {
    tables.known::<PersonRow>(at, &(row.person,))?;
    tables.known::<StageRow>(at, &(row.job, row.stage.clone()))?;
    tables.add(at, row)
}

fn off(tables: &mut Tables, at: At, clocking: ClockingId) -> Result<&ClockingRow, Fault> {
    let row = tables.change::<ClockingRow>(at, &(clocking,))?;
    at.demand(row.until_at.is_none(), "clocking", || format!("clocking {clocking} ended before"))?;
    at.demand(row.from_at < at.happened, "clocking", || format!("clocking {clocking} does not end after it begins"))?;
    row.until_at = Some(at.happened);
    row.off_n = Some(at.n);
    Ok(row)
}

fn calendar_set(
    tables: &mut Tables,
    at: At,
    revision: i32,
    change: &CalendarChange,
    person: Option<PersonId>,
    resolved: &Resolved,
) -> Result<(), Fault> {
    let shop = tables.change::<ShopRow>(at, &())?;
    let due = shop.calendar_revision + 1;
    at.demand(revision == due, "calendar", || format!("revision {revision} should be {due}"))?;
    shop.calendar_revision = revision;
    let whose = match change {
        CalendarChange::Hours { .. } | CalendarChange::Day { .. } => None,
        CalendarChange::Shift { person, .. } => Some(*person),
        CalendarChange::Extended { person } => *person,
    };
    at.demand(whose == person, "calendar", || format!("revision {revision} is about somebody else's time"))?;
    well_formed(at, resolved)?;
    let row = CalendarRow {
        revision,
        change: change.clone(),
        person,
        from_at: resolved.from,
        until_at: resolved.until,
        set_n: at.n,
    };
    tables.add(at, row)?;
    match person {
        None => set_hours(tables, at, resolved),
        Some(person) => set_shift(tables, at, person, resolved),
    }
}

fn well_formed(at: At, resolved: &Resolved) -> Result<(), Fault> {
    at.demand(resolved.from < resolved.until, "calendar", || "it resolves no stretch of time".to_owned())?;
    let mut free_from = resolved.from;
    for (index, window) in resolved.windows.iter().enumerate() {
        let apart = if index == 0 { window.from >= free_from } else { window.from > free_from };
        let fits = apart && window.from < window.until && window.until <= resolved.until;
        at.demand(fits, "calendar", || {
            format!("window {} to {} is empty, out of order, touching or outside", window.from, window.until)
        })?;
        free_from = window.until;
    }
    Ok(())
}

/// A window with the fact that set it.
type Piece = (Instant, Instant, i64);

/// What is left of a window outside of the stretch that is resolved anew.
fn outside(resolved: &Resolved, (from, until, set_n): Piece) -> impl Iterator<Item = Piece> {
    let left = (from, until.min(resolved.from), set_n);
    let right = (from.max(resolved.until), until, set_n);
    [left, right].into_iter().filter(|(from, until, _)| from < until)
}

/// The windows after a change: what is left of the old ones, and the new ones.
fn laid(at: At, resolved: &Resolved, old: Vec<Piece>) -> impl Iterator<Item = Piece> {
    let kept = old.into_iter().flat_map(|piece| outside(resolved, piece));
    kept.chain(resolved.windows.iter().map(move |window| (window.from, window.until, at.n)))
}

fn set_hours(tables: &mut Tables, at: At, resolved: &Resolved) -> Result<(), Fault> {
    let touched = tables.rows::<OpenWindowRow>().filter(|row| row.until_at > resolved.from);
    let old: Vec<Piece> = touched.map(|row| (row.from_at, row.until_at, row.set_n)).collect();
    for (from_at, ..) in &old {
        tables.remove::<OpenWindowRow>(&(*from_at,));
    }
    for (from_at, until_at, set_n) in laid(at, resolved, old) {
        tables.add(at, OpenWindowRow { from_at, until_at, set_n })?;
    }
    Ok(())
}

fn set_shift(tables: &mut Tables, at: At, person: PersonId, resolved: &Resolved) -> Result<(), Fault> {
    tables.known::<PersonRow>(at, &(person,))?;
    let own = tables.rows::<ShiftWindowRow>().filter(|row| row.person == person);
    let old: Vec<Piece> = own.map(|row| (row.from_at, row.until_at, row.set_n)).collect();
    for (from_at, ..) in &old {
        tables.remove::<ShiftWindowRow>(&(person, *from_at));
    }
    for (from_at, until_at, set_n) in laid(at, resolved, old) {
        tables.add(at, ShiftWindowRow { person, from_at, until_at, set_n })?;
    }
    Ok(())
}
