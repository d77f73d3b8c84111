//! What comes off, is moved aside or is put in.

use super::{COUNT_MAX, POSITIONS_MAX, active, fitting, keys, once, row, saying, seized, split};
use crate::answer::Made;
use crate::check as form;
use crate::command::{AddPosition, OffLine, TakeOff};
use crate::decide::{condition, proof, skills, stock};
use crate::hand_over::{OFF_ORDER, OFF_UNSAFE, UNSKILLED};
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use crate::strip;
use leadhand_facts::fact::Wording;
use leadhand_facts::reading::Overruled;
use leadhand_facts::rows::{PositionRow, StageRow};
use leadhand_facts::strip::{JobPosition, PositionDetail};
use leadhand_facts::words::{Manner, Renew, Role, StageState, StepState};
use leadhand_facts::{Fact, JobNo, PositionKey, StageKey};
use std::collections::{BTreeMap, BTreeSet};

/// What only a lead may do about the order in which things come off.
pub(super) const OUT_OF_ORDER: &str = "have something taken off or put back out of its order";

pub(in crate::decide) fn take_off(session: &mut Session, command: &TakeOff) -> Result<Made, Refusal> {
    form::text_some("override_reason", command.override_reason.as_deref())?;
    once(command.lines.iter().map(|line| &line.position))?;
    if command.step.is_some() && !command.as_listed {
        return Err(Refusal::invalid("step", "it only narrows what is listed; ask for all as listed, or leave it out"));
    }
    for (at, line) in command.lines.iter().enumerate() {
        check_line(at, line)?;
    }
    let stage = saying(session, command.job, &command.stage, "something that comes off")?;
    condition::refuse_called(session, stage.job, &stage.stage)?;
    let mut lines = command.lines.clone();
    if command.as_listed {
        let step = command.step;
        if let Some(step) = step {
            look::step(session.state, stage.job, &stage.stage, step)?;
        }
        // What was only noted for later was listed by nobody.
        lines.extend(untouched(session.state, &stage, |row| !row.unplanned && (step.is_none() || row.step == step)));
    }
    off_all(session, &stage, &lines, &BTreeSet::new(), command.override_reason.as_deref())
}

/// Lines for what is listed for a stage and was not said yet.
pub(super) fn untouched(state: &State, stage: &StageRow, which: impl Fn(&PositionRow) -> bool) -> Vec<OffLine> {
    let rows = strip::positions(state, stage.job).filter(|row| row.stage == stage.stage && row.off_n.is_none());
    rows.filter(|row| which(row)).map(|row| OffLine::listed(row.position.clone())).collect()
}

fn check_line(at: usize, line: &OffLine) -> Result<(), Refusal> {
    let field = |name: &str| format!("lines[{at}].{name}");
    let counts = [
        ("found", line.found),
        ("missing", line.missing),
        ("damaged", Some(line.damaged)),
        ("studs", Some(line.studs)),
    ];
    for (name, count) in counts {
        if count.is_some_and(|count| !(0..=COUNT_MAX).contains(&count)) {
            return Err(Refusal::invalid(field(name), format!("it is not from 0 to {COUNT_MAX}")));
        }
    }
    for (name, words) in [("kept_at", &line.kept_at), ("note", &line.note), ("repair", &line.repair)] {
        if let Some(words) = words {
            form::text(&field(name), words)?;
        }
    }
    Ok(())
}

/// Takes these off, in whatever order they are named: what is named together, or said with it, comes off together.
pub(super) fn off_all(
    session: &mut Session,
    stage: &StageRow,
    lines: &[OffLine],
    with: &BTreeSet<PositionKey>,
    override_reason: Option<&str>,
) -> Result<Made, Refusal> {
    condition::refuse_voltage(session, stage.job, || format!("stage '{}'", stage.stage))?;
    let lead = session.context.actor.role == Role::Lead;
    // A line says more than "as listed", which then passes over what it named.
    let mut taken = BTreeSet::new();
    let lines: Vec<&OffLine> = lines.iter().filter(|line| taken.insert(line.position.clone())).collect();
    let named: BTreeSet<PositionKey> = taken.union(with).cloned().collect();
    if lines.is_empty() {
        let what = format!("take off: nothing of stage '{}' is left that was listed", stage.stage);
        return Err(Refusal::NothingToDo { what });
    }
    // A put-in that is only named for later does not hold anything yet, and two pins of three do not hold it.
    let whole = |line: &&&OffLine| {
        let listed = session.state.positions.get(&(stage.job, line.position.clone())).map_or(1, |row| row.detail.count);
        line.found.is_none_or(|found| found >= listed)
    };
    let goes_in: BTreeSet<PositionKey> = lines.iter().filter(whole).map(|line| line.position.clone()).collect();
    let mut against = skills::Against::default();
    let mut overruled = BTreeMap::new();
    let unskilled = skills::against_ticks(session, stage)?;
    let alone = unskilled.is_some();
    against.add(unskilled, skills::WITHOUT_SKILL);
    for line in &lines {
        let found = row(session.state, stage.job, &line.position)?;
        if found.stage != stage.stage {
            let (position, stage) = (line.position.clone(), found.stage.clone());
            return Err(Refusal::PositionOfStage { position, stage });
        }
        condition::refuse_unqualified(session, found)?;
        if is_anew(found, line, lead) {
            continue;
        }
        if found.off_n.is_some() {
            return Err(Refusal::PositionSaid { position: line.position.clone() });
        }
        refuse_stuck(session.state, found, line)?;
        let order = [out_of_order(session.state, found, &named), not_in(session.state, found, &goes_in)];
        // What is not there is not touched.
        let not_safe = if line.found == Some(0) { Vec::new() } else { unsafe_now(session, found)? };
        let kinds =
            [(OFF_ORDER, order.iter().any(Option::is_some)), (OFF_UNSAFE, !not_safe.is_empty()), (UNSKILLED, alone)];
        let kinds: Vec<&str> = kinds.into_iter().filter(|(_, stands)| *stands).map(|(kind, _)| kind).collect();
        overruled.insert(line.position.clone(), kinds);
        for order in order {
            against.add(order, OUT_OF_ORDER);
        }
        against.add_all(not_safe, condition::NOT_SAFE);
    }
    against.may_overrule(session, override_reason)?;
    for line in lines {
        let kinds = overruled.remove(&line.position).unwrap_or_default();
        let overruled = super::overruled(session, &line.position, &kinds, override_reason);
        if is_anew(row(session.state, stage.job, &line.position)?, line, lead) {
            recount(session, stage, line)?;
            continue;
        }
        off(session, stage, line, override_reason, overruled)?;
    }
    condition::tell_behind(session, stage.job, &taken);
    condition::tell_live(session, stage.job, &stage.stage, &taken);
    Ok(Made::Nothing)
}

/// Whether a line counts anew what was counted wrongly and is still off, or of which the rest was found since: counts, and
/// why they are others now. All else that was said of it stays. Fewer of what was put in is a lead's count.
fn is_anew(found: &PositionRow, line: &OffLine, lead: bool) -> bool {
    let counts = line.found.or(line.missing).is_some() || line.damaged > 0;
    let said = line.found.unwrap_or(found.found) + line.missing.unwrap_or(found.missing);
    let rest = strip::fewer(found) && line.damaged == 0 && line.missing.unwrap_or(found.missing) == found.missing;
    let rest = rest && (found.found + found.missing..=found.detail.count).contains(&said);
    let open = found.off_n.is_some() && (found.back_n.is_none() || rest);
    let fewer = may_hide_less(found) && said < found.found + found.missing;
    open && counts && line.note.is_some() && line.studs == 0 && (lead || !fewer)
}

/// Whether only a lead counts fewer of it: what nobody may overrule would go from the list.
fn may_hide_less(row: &PositionRow) -> bool {
    row.detail.manner == Manner::In || row.detail.second_check
}

/// Counts anew: what the line does not say is as it was.
fn recount(session: &mut Session, stage: &StageRow, line: &OffLine) -> Result<(), Refusal> {
    let before = row(session.state, stage.job, &line.position)?.clone();
    if let Some(off_at) = before.off_at.filter(|off_at| session.at() < *off_at) {
        return Err(look::too_early(format!("counting '{}' anew", line.position), session.at(), off_at));
    }
    let found = line.found.unwrap_or(before.found);
    let missing = line.missing.unwrap_or(before.missing);
    let ruined = strip::ruined(session.state, stage.job, &line.position);
    let damaged = if line.damaged > 0 { line.damaged } else { before.damaged.min(found) }.max(ruined.min(found));
    refuse_counts(&before, missing, damaged, found)?;
    refuse_tried(session, &before, found + missing)?;
    if may_hide_less(&before) && found + missing < before.found + before.missing {
        proof::lead_by_name(session, "count fewer of what was put in, or of what asks for a second check")?;
    }
    if (found, missing, damaged) == (before.found, before.missing, before.damaged) {
        let what = format!("count anew: '{}' was counted like that", line.position);
        return Err(Refusal::NothingToDo { what });
    }
    let reason = session.seal(line.note.as_deref().unwrap_or_default());
    let (job, position, person) = (stage.job, line.position.clone(), session.context.actor.person);
    session.emit(Fact::PositionRecounted { job, position, person, found, missing, damaged, reason })?;
    let more = (missing + damaged - before.missing - before.damaged).max(0);
    seized::want_new(session, &before, missing + damaged, more)
}

fn refuse_counts(listed: &PositionRow, missing: i32, damaged: i32, found: i32) -> Result<(), Refusal> {
    let position = &listed.position;
    if listed.detail.manner == Manner::In && (missing, damaged) != (0, 0) {
        return Err(Refusal::invalid("lines.missing", format!("'{position}' is put in; say how many with found")));
    }
    if damaged > found {
        let why = format!("'{position}': {damaged} damaged of {found} found; give at most that");
        return Err(Refusal::invalid("lines.damaged", why));
    }
    Ok(())
}

/// That none was there of what somebody added by hand and somebody tried is a lead's word: no line asks for it any more.
fn refuse_tried(session: &mut Session, row: &PositionRow, there: i32) -> Result<(), Refusal> {
    let tried = strip::attempts(session.state, row.job, &row.position).next().is_some();
    if there > 0 || !row.unplanned || row.detail.manner == Manner::In || !tried {
        return Ok(());
    }
    proof::lead_by_name(session, "say that there was none of something that was tried").map(|_| ())
}

/// Pieces that were tried and have not moved stay on until somebody says how many came off.
fn refuse_stuck(state: &State, row: &PositionRow, line: &OffLine) -> Result<(), Refusal> {
    let pieces = strip::stuck(state, row.job, &row.position);
    if pieces == 0 || line.found.is_some() {
        return Ok(());
    }
    Err(Refusal::StillStuck { position: row.position.clone(), pieces })
}

/// What has to be in before it comes off, and is not: a pin that holds what it would let go. Not in is also what has begun
/// to come out again.
pub(super) fn not_in(state: &State, row: &PositionRow, goes_in: &BTreeSet<PositionKey>) -> Option<Refusal> {
    let held = |other: &&PositionRow| other.found >= other.detail.count && other.refitted == 0;
    let wanted = strip::positions(state, row.job)
        .filter(|other| other.detail.manner == Manner::In && row.detail.behind.contains(&other.position));
    let missing: Vec<&PositionRow> =
        wanted.filter(|other| !held(other) && !goes_in.contains(&other.position)).collect();
    let position = row.position.clone();
    (!missing.is_empty()).then(|| Refusal::NotInYet { position, others: keys(missing) })
}

/// What stands against the step that takes it off, while that is not done; also when it was left out.
pub(super) fn unsafe_now(session: &Session, row: &PositionRow) -> Result<Vec<Refusal>, Refusal> {
    let Some(step) = row.step else { return Ok(Vec::new()) };
    let step = look::step(session.state, row.job, &row.stage, step)?;
    if step.state == StepState::Done { Ok(Vec::new()) } else { condition::objection(session, step) }
}

/// What must come off before, or hangs on it and has to be off as well.
fn out_of_order(state: &State, row: &PositionRow, named: &BTreeSet<PositionKey>) -> Option<Refusal> {
    let on = |other: &&PositionRow| {
        let skipped =
            state.stages.get(&(other.job, other.stage.clone())).is_some_and(|s| s.state == StageState::Skipped);
        let off = other.off_n.is_some() || named.contains(&other.position) || other.detail.manner == Manner::In;
        // Six of eight bolts that came off hold what they hold.
        (!off && !skipped) || strip::fewer(other)
    };
    let (job, position) = (row.job, row.position.clone());
    let before: Vec<&PositionRow> =
        strip::positions(state, job).filter(|other| row.detail.behind.contains(&other.position)).filter(on).collect();
    if !before.is_empty() {
        return Some(Refusal::BehindOthers { position, others: keys(before) });
    }
    // What is back on lies before it again.
    let again = |other: &&PositionRow| strip::is_back_on(other) && !named.contains(&other.position);
    let again: Vec<&PositionRow> = strip::positions(state, job)
        .filter(|other| row.detail.behind.contains(&other.position))
        .filter(again)
        .collect();
    if !again.is_empty() {
        return Some(Refusal::BackOn { position, others: keys(again) });
    }
    if row.detail.manner != Manner::Off && row.detail.manner != Manner::Access {
        return None;
    }
    let hangs = strip::positions(state, job).filter(|other| other.detail.attached_to.as_ref() == Some(&row.position));
    let hangs: Vec<&PositionRow> = hangs.filter(on).collect();
    (!hangs.is_empty()).then(|| Refusal::StillAttached { position, others: keys(hangs) })
}

fn off(
    session: &mut Session,
    stage: &StageRow,
    line: &OffLine,
    overridden: Option<&str>,
    overruled: Vec<Overruled>,
) -> Result<(), Refusal> {
    let listed = row(session.state, stage.job, &line.position)?.clone();
    let (count, manner) = (listed.detail.count, listed.detail.manner);
    let missing = line.missing.unwrap_or(0);
    let found = line.found.unwrap_or_else(|| (count - missing).max(0));
    let position = line.position.clone();
    refuse_counts(&listed, missing, line.damaged, found)?;
    refuse_tried(session, &listed, found + missing)?;
    // What an attempt ruined is damaged, whether it is said again or not.
    let ruined = strip::ruined(session.state, stage.job, &position);
    let damaged = line.damaged.max(ruined.min(found));
    let other_count = found + missing != count;
    if other_count && line.note.is_none() && overridden.is_none() {
        return Err(Refusal::OtherCount { position, listed: count, found, missing });
    }
    // A reason is a word for another count as well.
    let note = line.note.as_deref().or(overridden.filter(|_| other_count));
    let (note, kept_at) = (session.seal_some(note), session.seal_some(line.kept_at.as_deref()));
    let repair = session.seal_some(line.repair.as_deref());
    let keep = line.keep.or(listed.detail.keep).filter(|_| manner != Manner::In && found > 0);
    let (job, person) = (stage.job, session.context.actor.person);
    session.emit(Fact::PositionOff {
        job,
        position: position.clone(),
        person,
        found,
        missing,
        damaged,
        keep,
        kept_at,
        note,
        repair,
        overruled,
    })?;
    // What an attempt ruined was asked for then.
    let new = missing + damaged - ruined.min(damaged);
    seized::want_new(session, &listed, missing + damaged, new)?;
    if line.studs > 0 {
        split::studs(session, &listed, line, found)?;
    }
    Ok(())
}

/// Adds what nobody had listed; it is off as soon as it is said, unless it is only noted for later.
pub(in crate::decide) fn add(session: &mut Session, command: &AddPosition) -> Result<Made, Refusal> {
    form::name("what", &command.what)?;
    if !(1..=COUNT_MAX).contains(&command.count) {
        return Err(Refusal::invalid("count", format!("it is not from 1 to {COUNT_MAX}")));
    }
    for (field, words) in [("size", &command.size), ("location", &command.location), ("note", &command.note)] {
        if let Some(words) = words {
            form::text(field, words)?;
        }
    }
    let stage = active(session, command.job, &command.stage, "something that comes off")?;
    let key = new_key(session.state, command)?;
    let behind = behind(session.state, command)?;
    for other in behind.iter().chain(&command.attached_to) {
        row(session.state, command.job, other)?;
    }
    if let Some(back) = &command.back {
        look::stage(session.state, command.job, back)?;
    }
    if let Some(item) = &command.item {
        stock::must_be_pieces(session.state, item)?;
    }
    fitting::check(session.state, command)?;
    refuse_ring(session.state, command, &key, &behind)?;
    let back = command.back.clone().or_else(|| back_with(session.state, command, &behind));
    let detail = PositionDetail {
        size: command.size.clone(),
        location: command.location.clone(),
        attached_to: command.attached_to.clone(),
        behind,
        keep: command.keep,
        back,
        item: command.item.clone(),
        tags: command.tags,
        tag: command.tags.then(|| split::next_tag(session.state, command.job)),
        ..fitting::detail(command)
    };
    let what = Wording::Typed(session.seal(&command.what));
    let position = JobPosition { position: key.clone(), step: None, what, detail, unplanned: true };
    session.emit(Fact::PositionAdded { job: command.job, stage: stage.stage.clone(), position })?;
    if command.renew == Some(Renew::Always) {
        let added = row(session.state, command.job, &key)?.clone();
        seized::want_new(session, &added, command.count, command.count)?;
    }
    if !command.later {
        condition::refuse_called(session, command.job, &stage.stage)?;
        let line = OffLine { note: command.note.clone(), ..OffLine::listed(key.clone()) };
        // A lead's note is the reason where something stands against it.
        let reason = command.note.as_deref().filter(|_| session.context.actor.role == Role::Lead);
        off_all(session, &stage, &[line], &BTreeSet::new(), reason)?;
    }
    Ok(Made::Position { job: command.job, position: key })
}

fn new_key(state: &State, command: &AddPosition) -> Result<PositionKey, Refusal> {
    if strip::positions(state, command.job).count() >= POSITIONS_MAX {
        return Err(Refusal::invalid("job", format!("it has {POSITIONS_MAX} positions already")));
    }
    let Some(key) = &command.position else {
        let free = (1..=POSITIONS_MAX + 1).map(|number| PositionKey(format!("found-{number}")));
        let mut free = free.filter(|key| state.positions.get(&(command.job, key.clone())).is_none());
        return free.next().ok_or_else(|| Refusal::Defect { why: "no key is free".to_owned() });
    };
    form::key("position", key.as_str())?;
    match state.positions.get(&(command.job, key.clone())) {
        Some(_) => Err(Refusal::Taken { what: "position", which: key.to_string() }),
        None => Ok(key.clone()),
    }
}

/// Behind what it lies. Unanswered, it is behind everything that came off in its stage so far.
fn behind(state: &State, command: &AddPosition) -> Result<Vec<PositionKey>, Refusal> {
    let Some(said) = &command.behind else {
        let after = command.attached_to.as_ref().map(|on| comes_after(state, command.job, on)).unwrap_or_default();
        // A stud that came out with its nut is in nobody's way; nor does what comes off after the thing that the new one
        // hangs on come off before the new one.
        let earlier = strip::positions(state, command.job)
            .filter(|row| row.stage == command.stage && row.off_n.is_some() && row.detail.manner != Manner::In)
            .filter(|row| row.detail.came_with.is_none() && !after.contains(&row.position))
            .filter(|row| !strip::is_back_on(row) && !strip::never_there(row));
        return Ok(earlier.map(|row| row.position.clone()).collect());
    };
    let mut said = said.clone();
    said.sort();
    let all = said.len();
    said.dedup();
    if said.len() < all {
        return Err(Refusal::invalid("behind", "a position is named twice; once is enough"));
    }
    Ok(said)
}

/// Where something goes back of which nobody said it: it has to be back before what lies over it, so in the first stage in
/// which any of that goes back. What was put in comes out when somebody says so.
fn back_with(state: &State, command: &AddPosition, behind: &[PositionKey]) -> Option<StageKey> {
    if command.manner == Manner::In {
        return None;
    }
    let over = behind.iter().filter_map(|key| state.positions.get(&(command.job, key.clone())));
    let stages = over.filter(|row| row.detail.manner != Manner::In).filter_map(|row| row.detail.back.as_ref());
    let stages = stages.filter_map(|back| state.stages.get(&(command.job, back.clone())));
    let ahead = stages.filter(|stage| !look::is_ended(stage));
    ahead.min_by_key(|stage| stage.ordinal).map(|stage| stage.stage.clone())
}

/// A position and everything that comes off after it, by whatever way.
fn comes_after(state: &State, job: JobNo, position: &PositionKey) -> BTreeSet<PositionKey> {
    let pairs: Vec<(&PositionKey, &PositionKey)> = strip::positions(state, job).flat_map(pairs_of).collect();
    let (mut seen, mut ahead) = (BTreeSet::from([position.clone()]), vec![position]);
    while let Some(key) = ahead.pop() {
        for (_, after) in pairs.iter().filter(|(first, _)| *first == key) {
            if seen.insert((*after).clone()) {
                ahead.push(after);
            }
        }
    }
    seen
}

fn refuse_ring(state: &State, command: &AddPosition, key: &PositionKey, behind: &[PositionKey]) -> Result<(), Refusal> {
    let known = strip::positions(state, command.job);
    let known = known.flat_map(pairs_of);
    let new = strip::pairs(key, behind, command.attached_to.as_ref());
    let pairs = known.chain(new).collect();
    let Some(ring) = strip::ring(&pairs) else { return Ok(()) };
    let keys: Vec<String> = ring.iter().map(|key| format!("'{key}'")).collect();
    Err(Refusal::PositionRing { positions: keys.join(" before ") })
}

fn pairs_of(row: &PositionRow) -> impl Iterator<Item = (&PositionKey, &PositionKey)> {
    strip::pairs(&row.position, &row.detail.behind, row.detail.attached_to.as_ref())
}
