//! Exceptions that become positions of their own: places that are not alike, and studs that came out with their nuts.

use super::{COUNT_MAX, POSITIONS_MAX, row};
use crate::answer::{Made, Notice};
use crate::check as form;
use crate::command::{OffLine, SplitPosition};
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use crate::strip;
use leadhand_facts::fact::Wording;
use leadhand_facts::rows::PositionRow;
use leadhand_facts::strip::{JobPosition, PositionDetail};
use leadhand_facts::words::{Manner, PositionKind, Renew};
use leadhand_facts::{Fact, JobNo, KEY_MAX, PositionKey};

pub(in crate::decide) fn split(session: &mut Session, command: &SplitPosition) -> Result<Made, Refusal> {
    form::text_some("size", command.size.as_deref())?;
    form::text_some("head", command.head.as_deref())?;
    form::text_some("location", command.location.as_deref())?;
    command.what.iter().try_for_each(|what| form::name("what", what))?;
    look::open_job(session.state, session.context, command.job)?;
    let found = row(session.state, command.job, &command.position)?.clone();
    if found.off_n.is_some() {
        return Err(Refusal::PositionSaid { position: command.position.clone() });
    }
    if !(1..found.detail.count).contains(&command.count) {
        let most = found.detail.count - 1;
        let why = format!("'{}' has {} place(s); give from 1 to {most}", command.position, found.detail.count);
        return Err(Refusal::invalid("count", why));
    }
    refuse_tried(session.state, &found, command.count)?;
    if command.size.is_none() && command.head.is_none() && command.location.is_none() && command.what.is_none() {
        return Err(Refusal::invalid("size", "nothing makes the part differ; say size, head, location or what it is"));
    }
    let key = match &command.part {
        Some(key) => {
            form::key("part", key.as_str())?;
            fresh(session.state, command.job, key)?;
            key.clone()
        }
        None => free_key(session.state, command.job, &command.position, "")?,
    };
    let what = match (&command.what, &found.what) {
        (Some(what), _) => Wording::Typed(session.seal(what)),
        (None, Some(what)) => Wording::Template(what.clone()),
        (None, None) => return Err(Refusal::invalid("what", "this was met on the way; say what the part is called")),
    };
    let left = found.detail.count - command.count;
    let own = |said: &Option<String>, known: &Option<String>| said.clone().or_else(|| known.clone());
    let detail = PositionDetail {
        count: command.count,
        size: own(&command.size, &found.detail.size),
        head: own(&command.head, &found.detail.head),
        location: own(&command.location, &found.detail.location),
        tag: found.detail.tag.map(|first| first + left),
        ..found.detail.clone()
    };
    let part = JobPosition { position: key.clone(), step: found.step, what, detail, unplanned: found.unplanned };
    if strip::ruined(session.state, command.job, &command.position) > 0 {
        session.notice(Notice::SplitWhole { position: command.position.clone(), part: key.clone() });
    }
    session.emit(Fact::PositionSplit { job: command.job, position: command.position.clone(), part })?;
    Ok(Made::Position { job: command.job, position: key })
}

/// Attempts stay with the position that was tried, so as many pieces stay with it as they were made at: nobody names a
/// bolt, and one that is stuck must not come off as listed under another name.
fn refuse_tried(state: &State, found: &PositionRow, count: i32) -> Result<(), Refusal> {
    let (job, position) = (found.job, &found.position);
    let tried = strip::moved(state, job, position).saturating_add(strip::stuck(state, job, position));
    let untried = found.detail.count - tried;
    if tried == 0 || count <= untried {
        return Ok(());
    }
    let left =
        if untried > 0 { format!("so at most {untried} can be split off") } else { "so none is left".to_owned() };
    let why = format!(
        "{tried} of {} of '{position}' were tried, and their attempts stay with it, {left}; say which is different when \
         it is off (`leadhand strip off {job} {} {position} --note \"…\"`): the refit says so at its line",
        found.detail.count, found.stage
    );
    Err(Refusal::invalid("count", why))
}

/// Refuses a key that is taken, and one position too many.
fn fresh(state: &State, job: JobNo, key: &PositionKey) -> Result<(), Refusal> {
    if strip::positions(state, job).count() >= POSITIONS_MAX {
        return Err(Refusal::invalid("job", format!("it has {POSITIONS_MAX} positions already")));
    }
    match state.positions.get(&(job, key.clone())) {
        Some(_) => Err(Refusal::Taken { what: "position", which: key.to_string() }),
        None => Ok(()),
    }
}

/// The first free key that says where it comes from: `bolts-2`, `nuts-stud-2`.
fn free_key(state: &State, job: JobNo, of: &PositionKey, named: &str) -> Result<PositionKey, Refusal> {
    let room = KEY_MAX - named.len() - 5;
    let stem = of.as_str().get(..of.as_str().len().min(room)).unwrap_or_default();
    let free = (2..).map(|number| PositionKey(format!("{stem}{named}-{number}")));
    let plain = (!named.is_empty()).then(|| PositionKey(format!("{stem}{named}")));
    let mut all = plain.into_iter().chain(free);
    let key = all.find(|key| state.positions.get(&(job, key.clone())).is_none());
    let key = key.ok_or_else(|| Refusal::Defect { why: "no key is free".to_owned() })?;
    fresh(state, job, &key)?;
    Ok(key)
}

/// Studs that came out with their nuts: each nut is one piece and each stud another, and a stud goes back before
/// what it held and before its nut.
pub(super) fn studs(session: &mut Session, found: &PositionRow, line: &OffLine, there: i32) -> Result<(), Refusal> {
    let (position, studs) = (&found.position, line.studs);
    // They are laid where their nuts are.
    let keep = line.keep.or(found.detail.keep);
    if found.detail.kind != PositionKind::Fastener || found.detail.manner == Manner::In {
        let why = format!("'{position}' is no fastener that comes off, so no stud came out with it");
        return Err(Refusal::invalid("lines.studs", why));
    }
    if studs > there.min(COUNT_MAX) {
        let why = format!("'{position}': {studs} stud(s) with {there} found; give at most that");
        return Err(Refusal::invalid("lines.studs", why));
    }
    let key = free_key(session.state, found.job, position, "-stud")?;
    let detail = PositionDetail {
        location: found.detail.location.clone(),
        behind: std::iter::once(position.clone()).chain(found.detail.attached_to.clone()).collect(),
        keep,
        renew: Renew::Check,
        check: Some("Thread of stud and hole clean and whole; else a new stud".to_owned()),
        back: found.detail.back.clone(),
        came_with: Some(position.clone()),
        ..PositionDetail::plain(PositionKind::Fastener, Manner::Off, studs)
    };
    let what = Wording::Template(format!("Stud that came out with '{position}'"));
    let stage = found.stage.clone();
    let added = JobPosition { position: key.clone(), step: None, what, detail, unplanned: true };
    session.emit(Fact::PositionAdded { job: found.job, stage, position: added })?;
    // It is off already, whatever is still on: that is what happened.
    let kept_at = session.seal_some(line.kept_at.as_deref());
    session.emit(Fact::PositionOff {
        job: found.job,
        position: key,
        person: session.context.actor.person,
        found: studs,
        missing: 0,
        damaged: 0,
        keep,
        kept_at,
        note: None,
        repair: None,
        overruled: Vec::new(),
    })?;
    Ok(())
}

/// The first free number for pairs of tags in a job.
pub(super) fn next_tag(state: &State, job: JobNo) -> i32 {
    let ends = strip::positions(state, job).filter_map(|row| Some(row.detail.tag? + row.detail.count));
    ends.max().unwrap_or(1)
}
