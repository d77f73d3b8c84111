//! Where vehicles stand: one in a bay, held from its first stage there until it may leave, moved only where it may be.

use super::hours;
use super::leaving::Leaving;
use super::{Faults, Row, after, bay_of};
use leadhand_facts::plan::{BayVisit, Plan, PlanInput, PlanJob, VehicleNow};
use leadhand_facts::{BayKey, Instant, JobNo, Window};
use std::collections::BTreeMap;

/// A vehicle on a place outside: when, whose, and whether it stands there as things are.
struct Stay {
    from: Instant,
    until: Instant,
    job: JobNo,
    already: bool,
}

pub(super) fn check(input: &PlanInput, plan: &Plan, rows: &[Row<'_>], faults: &mut Faults) {
    let mut by_job: BTreeMap<JobNo, Vec<&BayVisit>> = BTreeMap::new();
    let mut by_bay: BTreeMap<&BayKey, Vec<&BayVisit>> = BTreeMap::new();
    for visit in &plan.visits {
        let sound = visit.from <= visit.until && input.at <= visit.from && bay_of(input, &visit.bay).is_some();
        if !sound {
            faults.add("stay", visit.job, format!("its stay in {} is in no bay or no time", visit.bay));
        }
        by_job.entry(visit.job).or_default().push(visit);
        by_bay.entry(&visit.bay).or_default().push(visit);
    }
    for (bay, mut visits) in by_bay {
        visits.sort_by_key(|v| (v.from, v.until));
        for pair in visits.windows(2).filter(|pair| pair[1].from < pair[0].until) {
            faults.add("bay-taken", pair[1].job, format!("{bay} is still held by job {}", pair[0].job));
        }
    }
    let mut outside = Vec::new();
    let open = hours::moves(input);
    for job in &input.jobs {
        let mut visits = by_job.remove(&job.job).unwrap_or_default();
        visits.sort_by_key(|v| (v.from, v.until));
        let own: Vec<&Row<'_>> = rows.iter().filter(|row| row.job.job == job.job).collect();
        for row in &own {
            stands(input, row, &visits, faults);
        }
        begins(input, job, &own, &visits, faults);
        moves(input, job, &own, &visits, &mut outside, faults);
        moved_in_hours(&open, job, &visits, faults);
    }
    places_outside(input, &outside, faults);
}

fn stands(input: &PlanInput, row: &Row<'_>, visits: &[&BayVisit], faults: &mut Faults) {
    let (planned, said) = (row.planned, row.said);
    let Some(key) = &planned.bay else {
        faults.demand(!said.in_bay, "bay", row, || "it needs a bay and has none".to_owned());
        return;
    };
    faults.demand(said.in_bay, "bay", row, || "it needs no bay and has one".to_owned());
    let held = visits.iter().any(|v| v.bay == *key && v.from <= planned.from && planned.until <= v.until);
    faults.demand(held, "bay-held", row, || format!("{key} is not held for its vehicle all the time"));
    let Some(bay) = bay_of(input, key) else { return };
    let span = Window { from: planned.from, until: planned.until };
    let open = !bay.closed.iter().any(|closed| closed.meets(span));
    faults.demand(open, "bay-closed", row, || format!("{key} is closed in that time"));
    if let Some(pinned) = &said.pin.bay {
        let kept = row.started() || pinned == key;
        faults.demand(kept, "pinned-bay", row, || format!("the lead said {pinned}, and it is in {key}"));
    } else if !row.started() {
        let kind = said.bays.is_empty() || said.bays.contains(&bay.kind);
        faults.demand(kind, "bay-kind", row, || format!("{key} is a {}", bay.kind));
        let bears = bay.rated_kg == 0 || row.job.kg <= bay.rated_kg;
        faults.demand(bears, "rating", row, || format!("{key} bears {} kg", bay.rated_kg));
    }
}

/// A vehicle that is in a bay is there to begin with, while stages in a bay are still planned for it, or it may not leave.
fn begins(input: &PlanInput, job: &PlanJob, own: &[&Row<'_>], visits: &[&BayVisit], faults: &mut Faults) {
    let VehicleNow::Bay(bay) = &job.vehicle else { return };
    let free = Leaving::of(job, own).may_at(input.at);
    if free && !own.iter().any(|row| row.said.in_bay) {
        return;
    }
    let there = visits.first().is_some_and(|v| v.bay == *bay && v.from <= after(input.at, 1));
    if !there {
        faults.add("where-it-is", job.job, format!("its vehicle is in {bay}, and the plan has it elsewhere"));
    }
}

fn moves(
    input: &PlanInput,
    job: &PlanJob,
    own: &[&Row<'_>],
    visits: &[&BayVisit],
    outside: &mut Vec<Stay>,
    faults: &mut Faults,
) {
    let leaving = Leaving::of(job, own);
    // Where it needs no bay any more it stands outside until all is over.
    let over = leaving.over().unwrap_or(input.until);
    let stay = |from: Instant, until: Instant, already: bool| Stay { from, until, job: job.job, already };
    match (&job.vehicle, visits.first()) {
        (VehicleNow::Outside, Some(first)) => {
            outside.push(stay(input.at, first.from, true));
            brought_in(job, own, first, faults);
        }
        (VehicleNow::Outside, None) => outside.push(stay(input.at, over, true)),
        (VehicleNow::Bay(_), None) => outside.push(stay(input.at, over, false)),
        _ => {}
    }
    for (at, left) in visits.iter().enumerate() {
        let there = |row: &&&Row<'_>| {
            let within = row.planned.from >= left.from && row.planned.until <= left.until;
            row.planned.bay.as_ref() == Some(&left.bay) && within
        };
        let latest = own.iter().filter(there).map(|row| row.planned.until).max().unwrap_or(left.from);
        let Some(entered) = visits.get(at + 1) else {
            let free = left.until >= input.until || leaving.may_within(latest, left.until);
            let sentence = || format!("its vehicle may not leave {} before work elsewhere lets it", left.bay);
            faults.require(free, "may-not-leave", job.job, sentence);
            outside.push(stay(left.until, over, false));
            continue;
        };
        // It goes straight on to the other bay, or out by the time at which the bay is free.
        let goes = after(left.until, -job.moving_minutes.max(0));
        let free = leaving.may_at(goes) && latest <= goes || left.until == entered.from && leaving.may_at(left.until);
        let sentence = || format!("its vehicle may not leave {} then", left.bay);
        faults.require(free, "may-not-leave", job.job, sentence);
        if entered.from < left.until {
            faults.add("two-places", job.job, format!("its vehicle is in {} and {} at once", left.bay, entered.bay));
        }
        if left.until < entered.from {
            if goes < latest {
                faults.add("moving", job.job, format!("nobody has time to roll it out of {}", left.bay));
            }
            outside.push(stay(left.until, entered.from, false));
        }
        brought_in(job, own, entered, faults);
    }
}

/// Whoever moves a vehicle is there: as it comes into a bay from outside or from another, and before it stands outside.
fn moved_in_hours(open: &[Window], job: &PlanJob, visits: &[&BayVisit], faults: &mut Faults) {
    let moving = job.moving_minutes.max(0);
    let comes = |at: usize| at > 0 || job.vehicle == VehicleNow::Outside;
    let into = visits.iter().enumerate().filter(|(at, _)| comes(*at)).map(|(_, stay)| (stay.from, &stay.bay));
    let goes_out = |pair: &&[&BayVisit]| pair[0].until < pair[1].from;
    let out = visits.windows(2).filter(goes_out).map(|pair| (after(pair[0].until, -moving), &pair[0].bay));
    for (from, bay) in into.chain(out).filter(|_| moving > 0) {
        let until = after(from, moving);
        let there = open.iter().any(|window| window.from <= from && until <= window.until);
        let sentence = || format!("at {bay} it is moved from {from} until {until}, when nobody is there");
        faults.require(there, "moving", job.job, sentence);
    }
}

/// Its first stage in a bay begins once the vehicle was moved there.
fn brought_in(job: &PlanJob, own: &[&Row<'_>], visit: &BayVisit, faults: &mut Faults) {
    let first = own.iter().filter(|row| row.planned.bay.as_ref() == Some(&visit.bay) && row.planned.from >= visit.from);
    let first = first.filter(|row| row.planned.until <= visit.until).min_by_key(|row| row.planned.from);
    if let Some(first) = first {
        let moved = after(visit.from, job.moving_minutes.max(0)) <= first.planned.from;
        faults.demand(moved, "moving", first, || format!("nobody has time to move it into {}", visit.bay));
    }
}

/// Who stands there already may stay, however many they are; nobody else goes out while there is no room.
fn places_outside(input: &PlanInput, stays: &[Stay], faults: &mut Faults) {
    let places = usize::try_from(input.places_outside).unwrap_or(0);
    // What ended within the minute in which the plan begins stands in it with its seconds, and takes no place.
    let stays: Vec<&Stay> = stays.iter().filter(|stay| after(stay.from, 1) <= stay.until).collect();
    for Stay { from, job, .. } in stays.iter().filter(|stay| !stay.already) {
        let there = stays.iter().filter(|stay| stay.from <= *from && *from < stay.until).count();
        if there > places {
            faults.add(
                "outside",
                *job,
                format!("{there} vehicles are outside at {from}, and there is room for {places}"),
            );
        }
    }
}
