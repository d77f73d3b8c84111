//! Whether what has started goes on at once, with those who are at it, and whether waits begin when they can.

use super::hours::{hours, planned_us, shared};
use super::{Faults, Row, after, bay_of, is_there};
use leadhand_facts::instant::MINUTE_US;
use leadhand_facts::plan::{PlanInput, StageNow, VehicleNow};
use leadhand_facts::words::StageKind;
use leadhand_facts::{Instant, Window};

/// A started stage begins no later than it could, and who is clocked on to it is nowhere else before.
pub(super) fn started(input: &PlanInput, rows: &[Row<'_>], faults: &mut Faults) {
    for row in rows.iter().filter(|row| row.started() && stands_there(row)) {
        let times = moments(input, row, rows);
        let hours = hours_of(input, row);
        let begins = |at: Instant, binds: &dyn Fn(Window) -> bool| {
            hours.iter().filter_map(|own| from(input, row, own, at)).any(|span| !binds(span))
        };
        let taken = |span: Window| holds_up(input, row, rows, span);
        let sooner = times.iter().copied().find(|&at| at < row.planned.from && begins(at, &taken));
        faults.demand(sooner.is_none_or(|at| after(at, 1) >= row.planned.from), "runs-on", row, || {
            format!("it has started and could go on at {}, and is planned from {}", at_text(sooner), row.planned.from)
        });
        let by_hours = times.into_iter().find(|&at| begins(at, &|_| false)) == Some(row.planned.from);
        if !on(row) || !by_hours {
            continue;
        }
        let elsewhere = |other: &&Row<'_>| {
            let before = !other.started() && other.planned.from < row.planned.from;
            before && other.planned.people.iter().any(|person| row.planned.people.contains(person))
        };
        for other in rows.iter().filter(elsewhere) {
            faults.demand(false, "clocked-on", other, || {
                format!("who is on it is clocked on to {} of job {}, which goes on later", row.said.stage, row.job.job)
            });
        }
    }
}

/// A wait that needs no bay begins as soon as what it comes after is over and its shared tools are free.
pub(super) fn waits(input: &PlanInput, rows: &[Row<'_>], faults: &mut Faults) {
    let idle = |row: &&Row<'_>| row.said.kind == StageKind::Wait && !row.said.in_bay;
    for row in rows.iter().filter(idle).filter(|row| !row.started()) {
        let (job, said) = (row.job, row.said);
        let held = said.blocker.as_ref().and_then(|blocker| Some(blocker.known()?.1));
        let bounds =
            [Some(input.at), Some(job.here_from), said.parts_from, held, said.pin.from.filter(|_| !said.begun)];
        let over = job.stages.iter().filter_map(|stage| stage.now.over());
        let before = said.after.iter().filter_map(|before| {
            let own = job.stages.iter().find(|stage| stage.stage == before.stage)?;
            let planned = rows.iter().find(|r| r.job.job == job.job && r.said.stage == before.stage);
            let end = own.now.over().or_else(|| planned.map(|r| r.planned.until))?;
            Some(after(end, before.wait_minutes.max(0)))
        });
        let latest = bounds.into_iter().flatten().chain(over).chain(before).max().unwrap_or(input.at);
        let sooner = free_from(input, row, rows, latest);
        faults.demand(row.planned.from <= after(sooner, 1), "waits", row, || {
            format!("it is a wait that could begin at {sooner}, and is planned from {}", row.planned.from)
        });
    }
}

/// From when on, not before a moment, a wait has its shared tools for as long as it takes, as everything else is planned; its
/// own begin at the latest.
fn free_from(input: &PlanInput, row: &Row<'_>, rows: &[Row<'_>], earliest: Instant) -> Instant {
    let tools = &row.said.tools;
    let own = |other: &Row<'_>| other.job.job == row.job.job && other.said.stage == row.said.stage;
    let holds = |other: &&Row<'_>| !own(other) && other.said.tools.iter().any(|tool| tools.contains(tool));
    let span = |other: &Row<'_>| Window { from: other.planned.from, until: other.planned.until };
    let taken: Vec<Window> = rows.iter().filter(holds).map(span).filter(|span| span.from < span.until).collect();
    let away = input.tools.iter().filter(|tool| tools.contains(&tool.tool)).flat_map(|tool| &tool.away);
    let wanted = row.planned.until.since_us(row.planned.from);
    let free = |at: &Instant| {
        let span = Window { from: *at, until: at.plus_us(wanted) };
        !taken.iter().any(|other| other.meets(span)) && tools.iter().all(|tool| is_there(input, tool, row, span))
    };
    // Plans are made in whole minutes.
    let whole = |at: Instant| Instant(-(-at.0).div_euclid(MINUTE_US) * MINUTE_US);
    let ends = taken.iter().map(|other| other.until).chain(away.map(|away| away.until)).map(whole);
    let moments = ends.chain([whole(earliest)]).filter(|at| *at >= earliest && *at < row.planned.from);
    moments.filter(free).min().unwrap_or(row.planned.from)
}

fn at_text(at: Option<Instant>) -> String {
    at.map_or_else(String::new, |at| at.to_string())
}

fn on(row: &Row<'_>) -> bool {
    row.said.on && matches!(&row.said.now, StageNow::Started { people } if !people.is_empty())
}

/// Whether its vehicle is where it is done.
fn stands_there(row: &Row<'_>) -> bool {
    let stands = |bay| matches!(&row.job.vehicle, VehicleNow::Bay(stands) if stands == bay);
    row.planned.bay.as_ref().is_none_or(stands)
}

/// The hours of its people, without overtime and with it; of a wait, all the time.
fn hours_of(input: &PlanInput, row: &Row<'_>) -> Vec<Vec<Vec<Window>>> {
    if row.said.kind == StageKind::Wait {
        return vec![Vec::new()];
    }
    let people = || row.planned.people.iter().filter_map(|p| input.technicians.iter().find(|t| t.person == *p));
    [false, true].map(|overtime| people().map(|one| hours(input, one, overtime)).collect()).into()
}

/// When it could begin at all: now, and whenever something ends or begins that binds it.
fn moments(input: &PlanInput, row: &Row<'_>, rows: &[Row<'_>]) -> Vec<Instant> {
    let windows = hours_of(input, row).into_iter().flatten().flatten().map(|window| window.from);
    let tools = input.tools.iter().flat_map(|tool| &tool.away).map(|away| away.until);
    let bays = input.bays.iter().flat_map(|bay| &bay.closed).map(|closed| closed.until);
    let others = rows.iter().filter(|row| row.started()).map(|row| row.planned.until);
    let all = [input.at, row.planned.from].into_iter().chain(windows).chain(tools).chain(bays).chain(others);
    let whole = |at: Instant| Instant(-(-at.0).div_euclid(MINUTE_US) * MINUTE_US);
    let mut all: Vec<Instant> = all.map(whole).filter(|at| input.at <= *at && *at <= row.planned.from).collect();
    all.sort();
    all.dedup();
    all
}

/// The time that it would take if it began at a moment, if it can.
fn from(input: &PlanInput, row: &Row<'_>, hours: &[Vec<Window>], at: Instant) -> Option<Window> {
    let wanted = planned_us(row);
    if row.said.kind == StageKind::Wait {
        return Some(Window { from: at, until: at.plus_us(wanted) }).filter(|span| span.until <= input.until);
    }
    let there = shared(hours, Window { from: at, until: input.until });
    there.first().filter(|window| window.from == at)?;
    let mut left = wanted;
    for window in &there {
        if window.length_us() >= left {
            return Some(Window { from: at, until: window.from.plus_us(left) });
        }
        if !row.said.may_pause {
            return None;
        }
        left -= window.length_us();
    }
    None
}

/// Whether a tool that is away, a bay that is closed or other started work stands against a time for it.
fn holds_up(input: &PlanInput, row: &Row<'_>, rows: &[Row<'_>], span: Window) -> bool {
    let away = |tool: &leadhand_facts::ToolKey| !is_there(input, tool, row, span);
    let bay = row.planned.bay.as_ref().and_then(|bay| bay_of(input, bay));
    let shares = |other: &&Row<'_>| {
        let people = other.planned.people.iter().any(|person| row.planned.people.contains(person));
        people || other.said.tools.iter().any(|tool| row.said.tools.contains(tool))
    };
    // What somebody is clocked on to makes way only for such.
    let equal = |other: &&Row<'_>| other.started() && (!on(row) || on(other));
    let own = |other: &Row<'_>| other.job.job == row.job.job && other.said.stage == row.said.stage;
    let meets = |other: &Row<'_>| Window { from: other.planned.from, until: other.planned.until }.meets(span);
    let mut others = rows.iter().filter(|other| !own(other)).filter(equal).filter(shares);
    row.said.tools.iter().any(away)
        || bay.is_some_and(|bay| bay.closed.iter().any(|closed| closed.meets(span)))
        || others.any(meets)
}
