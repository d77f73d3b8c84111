//! What a stage waits for, and what late jobs are late because of.

use super::alone::alone;
use super::calendar::{Span, work_from};
use super::forecast::Chance;
use super::hangs::{few_hands, hangs};
use super::model::Model;
use super::place::{NOWHERE, Visit};
use super::search::Found;
use super::told::{closed_since, sentence};
use super::yard::Yard;
use leadhand_facts::JobNo;
use leadhand_facts::plan::{Because, Cause, JobOutlook, Unplaced};
use leadhand_facts::words::NoPlace;

/// A cause, since when it no longer holds up, and the stage to ask next.
pub(super) struct Link {
    until: i32,
    pub cause: Cause,
    pub next: Option<usize>,
}

/// Most links of a chain: no job of a template has more stages.
const LINKS: usize = 500;

/// Which stages each person and each tool are at, by finish, and who is outside.
pub(super) struct Held {
    people: Vec<Vec<(i32, usize)>>,
    tools: Vec<Vec<(i32, usize)>>,
    yard: Yard,
}

impl Held {
    pub fn new(model: &Model<'_>, found: &Found) -> Self {
        let mut held = Self {
            people: vec![Vec::new(); model.people.len()],
            tools: vec![Vec::new(); model.tools_away.len()],
            yard: Yard::of(model, found),
        };
        for (i, place) in found.places.iter().enumerate().filter(|(_, p)| p.from != NOWHERE) {
            place.people.iter().for_each(|&p| held.people[p as usize].push((place.until, i)));
            model.stages[i].tools.iter().for_each(|&t| held.tools[t as usize].push((place.until, i)));
        }
        held.people.iter_mut().chain(&mut held.tools).for_each(|list| list.sort_unstable());
        held
    }

    /// The last of a list that is over by a minute, apart from one stage.
    fn last(list: &[(i32, usize)], by: i32, but: usize) -> Option<(i32, usize)> {
        list[..list.partition_point(|&(until, _)| until <= by)].iter().rev().copied().find(|&(_, i)| i != but)
    }
}

/// What becomes of each job.
pub(super) fn outlooks(
    model: &Model<'_>,
    found: &Found,
    chances: &[Option<Chance>],
    unplaced: &[Unplaced],
) -> Vec<JobOutlook> {
    let held = Held::new(model, found);
    let mut hangs = hangs(model, found, &held);
    let mut one = |j: usize| {
        let mut outlook = outlook(model, found, &held, j, chances.get(j).copied().flatten());
        if outlook.sentence.is_empty() && outlook.ready.is_none() {
            outlook.sentence = no_time(&model.input.jobs[j].name, outlook.job, unplaced);
        }
        outlook.hangs_on = std::mem::take(&mut hangs[j]);
        let said = std::mem::take(&mut outlook.sentence);
        let all: Vec<String> =
            Some(said).filter(|said| !said.is_empty()).into_iter().chain(few_hands(model, j)).collect();
        outlook.sentence = all.join(" ");
        outlook
    };
    (0..model.jobs.len()).map(&mut one).collect()
}

/// What keeps a job from having a time: the first of its stages that has no place for a reason of its own.
fn no_time(name: &str, job: JobNo, unplaced: &[Unplaced]) -> String {
    let own = || unplaced.iter().filter(|one| one.job == job);
    let root = own().find(|one| one.why != NoPlace::Behind).or_else(|| own().next());
    root.map_or_else(String::new, |root| format!("{name} has no time: {}", root.reason))
}

fn outlook(model: &Model<'_>, found: &Found, held: &Held, j: usize, chance: Option<Chance>) -> JobOutlook {
    let (job, row) = (&model.jobs[j], &model.input.jobs[j]);
    let places = || job.stages.iter().map(|&i| &found.places[i as usize]);
    let none = row.stages.is_empty();
    let whole = !none && !job.broken && places().all(|p| p.from != NOWHERE);
    let ready = places().map(|p| p.until).fold(job.ended, i32::max);
    let late = job.promised.filter(|_| whole).map_or(0, |promised| (i64::from(ready) - promised).max(0));
    let because = if late > 0 { chain(model, found, held, j) } else { Vec::new() };
    JobOutlook {
        job: row.job,
        ready: whole.then(|| model.clock.instant(ready)),
        promised: row.promised,
        late_minutes: late,
        likely: chance.map(|c| model.clock.instant(c.likely)),
        safe: chance.map(|c| model.clock.instant(c.safe)),
        hangs_on: Vec::new(),
        sentence: if none { no_stages(&row.name) } else { sentence(model, found, j, late, &because) },
        because,
    }
}

/// What binds, from the job's last stage back.
fn chain(model: &Model<'_>, found: &Found, held: &Held, j: usize) -> Vec<Because> {
    let stages = model.jobs[j].stages.iter().map(|&i| i as usize);
    let mut at = stages.max_by_key(|&i| (found.places[i].until, i));
    let mut chain = Vec::new();
    while let (Some(i), true) = (at, chain.len() < LINKS) {
        let link = cause(model, found, held, i);
        let because = |from: i32, cause: Cause| Because {
            job: model.input.jobs[model.stages[i].job].job,
            stage: model.row(i).stage.clone(),
            from: model.clock.instant(from),
            cause,
        };
        let (from, clock) = (found.places[i].from, |at| model.clock.instant(at));
        // What is let go behind or on a closed day begins with the shop's hours, and the day is told; so is a wait that ends there.
        let slept = sleeps(model, &link, from);
        let own = slept && its_own(model, found, i, link.next);
        let told = (is_known(&link.cause) || slept) && closed_since(model.input, clock(from)).is_some();
        let closed = own || told && link.until < from;
        chain.extend(closed.then(|| because(from, Cause::Hours)));
        // Who comes first when a stage is let go may come first only because it was held up; and so with what is away then.
        let held_up = held_up(model, found, i).filter(|_| is_others(&link.cause));
        chain.push(because(if closed { link.until } else { from }, link.cause));
        chain.extend(held_up.map(|link| because(link.until, link.cause)));
        // Whatever came before the wait, it would have ended while the shop is closed all the same.
        at = link.next.filter(|_| !own);
    }
    chain
}

/// Whether what was waited for last is over while the shop is closed, and the stage begins when it opens.
fn sleeps(model: &Model<'_>, link: &Link, from: i32) -> bool {
    let behind = matches!(link.cause, Cause::Stage { .. }) && link.until < from;
    let open = |span: &Span| span.from <= link.until && link.until < span.until;
    let closes = model.open.iter().map(|span| span.until).filter(|&until| until <= from).max().unwrap_or(0);
    behind && closes < link.until && !model.open.iter().any(open)
}

/// Whether a stage could begin no sooner if its job were alone in the shop, though the stage before it could.
fn its_own(model: &Model<'_>, found: &Found, i: usize, before: Option<usize>) -> bool {
    let spans = alone(model, i);
    let of = |k: usize| spans.iter().find(|(at, _)| *at == k).map(|(_, span)| *span);
    let later = before.is_some_and(|p| of(p).is_some_and(|span| span.until < found.places[p].until));
    later && of(i).is_some_and(|span| span.from >= found.places[i].from)
}

/// Whether it is a stage of another job, who or what is not there, or the plan's order.
fn is_others(cause: &Cause) -> bool {
    let away = matches!(cause, Cause::Away { .. } | Cause::Closed { .. } | Cause::ToolAway { .. });
    let others = matches!(cause, Cause::Person { .. } | Cause::Bay { .. } | Cause::Yard { .. } | Cause::Tool { .. });
    away || others || *cause == Cause::Order
}

/// Whether it is held up by something of which the end is known.
fn is_known(cause: &Cause) -> bool {
    matches!(cause, Cause::Blocker(_) | Cause::Parts)
}

/// What a placed stage waited for last.
pub(super) fn cause(model: &Model<'_>, found: &Found, held: &Held, i: usize) -> Link {
    let from = found.places[i].from;
    let mut best = Link { until: 0, cause: Cause::Start, next: None };
    for link in known(model, i).into_iter().chain(others(model, found, held, i)) {
        if link.until <= from && link.until > best.until {
            best = link;
        }
    }
    match absences(model, found, i, best.until) {
        // What was waited for last ended in the shop's hours, or begins with them.
        Rest::Usual if best.until == 0 && from > 0 => Link { cause: Cause::Hours, ..best },
        Rest::Usual => best,
        // Nobody goes before a wait: there is at most the moving of the vehicle between.
        Rest::Unknown if model.stages[i].hands == 0 => best,
        Rest::Away(cause) => Link { until: from, cause, next: None },
        Rest::Unknown => Link { until: from, cause: Cause::Order, next: None },
    }
}

/// Blockers and parts of which the end is known, that hold a stage up longer than the stages before it, though something
/// else was waited for last.
pub(super) fn held_up(model: &Model<'_>, found: &Found, i: usize) -> Option<Link> {
    let stage = &model.stages[i];
    let before = stage.preds.iter().map(|&(p, lag)| found.places[p as usize].until.saturating_add(lag));
    let before = before.max().unwrap_or(0);
    let counts = |link: &Link| is_known(&link.cause) && link.until > before && link.until <= found.places[i].from;
    known(model, i).into_iter().filter(counts).max_by_key(|link| link.until)
}

/// What fills the time between what a stage waited for last and its start.
enum Rest {
    /// Nothing but hours in which the shop is closed.
    Usual,
    /// Who or what is not there.
    Away(Cause),
    /// None of it.
    Unknown,
}

/// Why a stage that could begin at a minute, if its people did nothing else, begins when it does: because of nobody but the
/// shop's hours, or of who or what is not there while the shop is open.
fn absences(model: &Model<'_>, found: &Found, i: usize, at: i32) -> Rest {
    let (stage, place) = (&model.stages[i], &found.places[i]);
    let from = |spans: &[&[Span]]| match spans {
        [] => Some(at),
        spans => work_from(spans, at, stage.minutes, stage.may_pause).map(|span| span.from),
    };
    if stage.hands == 0 && from(&[]) == Some(place.from) {
        return Rest::Usual;
    }
    // In the shop's hours, somebody's own, everybody's, with overtime, and with what is away.
    let person = |&p: &u32| &model.people[p as usize];
    let normal: Vec<&[Span]> = place.people.iter().map(|p| person(p).normal.as_slice()).collect();
    let all: Vec<&[Span]> = place.people.iter().map(|p| person(p).all.as_slice()).collect();
    let usual: &[Span] = &model.open;
    if from(&[usual]) == Some(place.from) {
        return Rest::Usual;
    }
    let own = [&all, &normal].into_iter().find(|spans| from(spans) == Some(place.from));
    if let Some(own) = own {
        let late = (0..own.len()).filter(|&k| from(&[usual]) < from(&[own[k]]));
        let last = late.max_by_key(|&k| from(&[own[k]]));
        let away = last.map(|k| Cause::Away { person: model.input.technicians[place.people[k] as usize].person });
        return away.map_or(Rest::Usual, Rest::Away);
    }
    let missing = [&all, &normal].into_iter().find_map(|own| not_there(model, found, i, at, own));
    missing.map_or(Rest::Unknown, Rest::Away)
}

/// The bay or the tool because of which a stage begins later than its people could.
fn not_there(model: &Model<'_>, found: &Found, i: usize, mut at: i32, own: &[&[Span]]) -> Option<Cause> {
    let (stage, place) = (&model.stages[i], &found.places[i]);
    let bay = place.bay.map(|bay| {
        let closed = Cause::Closed { bay: model.input.bays[bay as usize].bay.clone() };
        (model.bays_closed[bay as usize].as_slice(), closed)
    });
    let tools = stage.tools.iter().map(|&t| {
        let away = Cause::ToolAway { tool: model.input.tools[t as usize].tool.clone() };
        (model.tool_away(t, &place.people), away)
    });
    let away: Vec<(&[Span], Cause)> = bay.into_iter().chain(tools).collect();
    let mut cause = None;
    loop {
        let span = match own {
            [] => Span { from: at, until: at.saturating_add(stage.minutes) },
            own => work_from(own, at, stage.minutes, stage.may_pause)?,
        };
        let meets = |(spans, cause): &(&[Span], Cause)| {
            let next = spans.iter().find(|away| away.meets(span))?;
            Some((next.until, cause.clone()))
        };
        match away.iter().filter_map(meets).max_by_key(|&(until, _)| until) {
            Some((until, found)) => (at, cause) = (until, Some(found)),
            None => return cause.filter(|_| span.from == place.from),
        }
    }
}

/// What is no other stage.
fn known(model: &Model<'_>, i: usize) -> Vec<Link> {
    let (row, stage) = (model.row(i), &model.stages[i]);
    let mut links = Vec::new();
    if stage.started {
        return links;
    }
    let mut add = |at: Option<leadhand_facts::Instant>, cause: Cause| {
        links.extend(at.map(|at| Link { until: model.clock.from(at), cause, next: None }));
    };
    if let Some((cause, until)) = row.blocker.as_ref().and_then(|blocker| blocker.known()) {
        add(Some(until), Cause::Blocker(cause.to_owned()));
    }
    add(row.parts_from, Cause::Parts);
    add(row.pin.from, Cause::Pin);
    add(Some(model.input.jobs[stage.job].here_from), Cause::Arrival);
    for after in &row.after {
        let before = model.input.jobs[stage.job].stages.iter().find(|s| s.stage == after.stage);
        if let Some(at) = before.and_then(|s| s.now.over()) {
            let cause = Cause::Stage { stage: after.stage.clone(), wait_minutes: after.wait_minutes };
            add(Some(at.plus_minutes(i64::from(after.wait_minutes))), cause);
        }
    }
    links
}

/// Stages before it, and those that have its bay, people or tools before it.
pub(super) fn others(model: &Model<'_>, found: &Found, held: &Held, i: usize) -> Vec<Link> {
    let (stage, place) = (&model.stages[i], &found.places[i]);
    let job_no = |k: usize| model.input.jobs[model.stages[k].job].job;
    let mut links = Vec::new();
    for &(p, lag) in &stage.preds {
        let cause = Cause::Stage { stage: model.row(p as usize).stage.clone(), wait_minutes: lag };
        links.push(Link { until: found.places[p as usize].until.saturating_add(lag), cause, next: Some(p as usize) });
    }
    links.extend(bay_before(model, found, held, i));
    links.extend(moved(model, found, i));
    for &p in &place.people {
        let Some((until, k)) = Held::last(&held.people[p as usize], place.from, i) else { continue };
        let person = model.input.technicians[p as usize].person;
        let cause = Cause::Person { person, job: job_no(k), stage: model.row(k).stage.clone() };
        links.push(Link { until, cause, next: Some(k) });
    }
    for &t in &stage.tools {
        let Some((until, k)) = Held::last(&held.tools[t as usize], place.from, i) else { continue };
        let tool = model.input.tools[t as usize].tool.clone();
        let cause = Cause::Tool { tool, job: job_no(k), stage: model.row(k).stage.clone() };
        links.push(Link { until, cause, next: Some(k) });
    }
    links
}

/// The stay before this one in the same bay, for the first stage of a stay.
fn bay_before(model: &Model<'_>, found: &Found, held: &Held, i: usize) -> Option<Link> {
    let (stage, place) = (&model.stages[i], &found.places[i]);
    let bay = place.bay?;
    let job = u32::try_from(stage.job).ok()?;
    let mine = stay(found, job, bay, place.from)?;
    let before = found.visits.iter().filter(|v| v.job != job && v.bay == bay && v.until <= mine.from);
    let before = before.max_by_key(|v| v.until)?;
    let moving = model.as_planned(mine.from, (place.from - mine.from).min(model.jobs[stage.job].moving));
    let until = model.moved(before.until, moving);
    let in_it = |k: &usize| found.places[*k].bay == Some(bay) && found.places[*k].until <= before.until;
    let stages = model.jobs[before.job as usize].stages.iter().map(|&k| k as usize);
    let next = stages.filter(in_it).max_by_key(|&k| found.places[k].until);
    let ready = stage.preds.iter().map(|&(p, lag)| found.places[p as usize].until.saturating_add(lag));
    let ready = ready.fold(stage.release, i32::max);
    let (key, job) = (model.input.bays[bay as usize].bay.clone(), model.input.jobs[before.job as usize].job);
    let cause = if held.yard.keeps(model, found, before, ready) {
        Cause::Yard { bay: key, job }
    } else {
        Cause::Bay { bay: key, job }
    };
    Some(Link { until, cause, next })
}

/// The stay in a bay that a job's vehicle began last by a moment.
fn stay(found: &Found, job: u32, bay: u32, at: i32) -> Option<&Visit> {
    let mine = found.visits.iter().filter(|v| v.job == job && v.bay == bay && v.from <= at);
    mine.max_by_key(|v| v.from)
}

/// The moving of the stage's own vehicle into its bay, behind what kept it where it was before.
fn moved(model: &Model<'_>, found: &Found, i: usize) -> Option<Link> {
    let (stage, place) = (&model.stages[i], &found.places[i]);
    let (bay, number) = (place.bay?, u32::try_from(stage.job).ok()?);
    let (job, mine) = (&model.jobs[stage.job], stay(found, number, bay, place.from)?);
    let before = found.visits.iter().filter(|v| v.job == number && v.from < mine.from).max_by_key(|v| v.from);
    if job.moving == 0 || before.is_none() && !job.outside {
        return None;
    }
    let key = |bay: u32| model.input.bays[bay as usize].bay.clone();
    let straight = before.filter(|v| v.until == mine.from);
    let gone = before.map(|v| if straight.is_some() { v.until } else { v.until.saturating_sub(job.moving) });
    // Work anywhere keeps it where it is, and so does whatever is done in that bay.
    let keeps = |k: &usize| model.stages[*k].hands > 0 || found.places[*k].bay == before.map(|v| v.bay);
    let over = |k: &usize| gone.is_some_and(|gone| found.places[*k].until <= gone);
    let next = job.stages.iter().map(|&k| k as usize).filter(|k| *k != i && keeps(k) && over(k));
    let next = next.max_by_key(|&k| (found.places[k].until, k));
    let at = match (straight, before) {
        (None, Some(v)) => v.until,
        _ => next.map_or(0, |k| found.places[k].until),
    };
    let until = model.moved(at, model.as_planned(mine.from, job.moving));
    Some(Link { until, cause: Cause::Moved { from: straight.map(|v| key(v.bay)), bay: key(bay) }, next })
}

/// Of a job without stages nothing follows.
fn no_stages(name: &str) -> String {
    format!("{name} has no stages; nothing can be said.")
}
