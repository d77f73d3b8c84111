//! Commands of the strip book, mostly sensible ones.

use super::Draw;
use leadhand_domain::command::*;
use leadhand_domain::strip;
use leadhand_facts::rows::{PositionRow, StageRow};
use leadhand_facts::strip::Tighten;
use leadhand_facts::words::{Keep, Manner, Outcome, Renew, StageState, Tightness};
use leadhand_facts::*;

/// A stage under way, mostly.
fn active(draw: &mut Draw<'_>) -> (JobNo, StageKey) {
    let all: Vec<StageRow> = draw.state.stages.iter().filter(|row| row.state == StageState::Active).cloned().collect();
    match draw.one_of(&all) {
        Some(row) if !draw.rarely(15) => (row.job, row.stage),
        _ => {
            let job = draw.job();
            (job, draw.stage(job))
        }
    }
}

fn of_job(draw: &Draw<'_>, job: JobNo, which: impl Fn(&PositionRow) -> bool) -> Vec<PositionRow> {
    draw.state.positions.iter().filter(|row| row.job == job && which(row)).cloned().collect()
}

pub fn some_key(draw: &mut Draw<'_>, from: &[PositionRow]) -> PositionKey {
    draw.one_of(from).map_or_else(|| "cover".into(), |row| row.position)
}

/// Counts anew what came off in a stage that is over.
fn recount(draw: &mut Draw<'_>) -> Option<Command> {
    let over = |row: &PositionRow| {
        let stage = draw.state.stages.get(&(row.job, row.stage.clone()));
        let stage = stage.is_some_and(|stage| matches!(stage.state, StageState::Finished | StageState::Active));
        stage && row.off_n.is_some() && row.back_n.is_none()
    };
    let rows: Vec<PositionRow> = draw.state.positions.iter().filter(|row| over(row)).cloned().collect();
    let row = draw.one_of(&rows)?;
    let found = i32::try_from(draw.between(0, 4)).expect("a small number");
    let note = Some(draw.words("counted again"));
    let line = OffLine { found: Some(found), note, ..OffLine::listed(row.position) };
    let (lines, as_listed, override_reason) = (vec![line], false, draw.sometimes("no other way"));
    Some(TakeOff { job: row.job, stage: row.stage, step: None, lines, as_listed, override_reason }.into())
}

pub fn take_off(draw: &mut Draw<'_>) -> Command {
    if let Some(anew) = draw.rarely(4).then(|| recount(draw)).flatten() {
        return anew;
    }
    let (job, stage) = active(draw);
    let left = of_job(draw, job, |row| row.stage == stage && row.off_n.is_none());
    let mut lines = Vec::new();
    if draw.below(3) == 0 {
        let position = some_key(draw, &left);
        let some = |draw: &mut Draw<'_>, most| {
            (draw.below(2) == 0).then(|| i32::try_from(draw.between(0, most)).expect("a small number"))
        };
        lines.push(OffLine {
            position,
            found: some(draw, 5),
            missing: some(draw, 2),
            damaged: i32::from(draw.rarely(3)),
            keep: draw.one_of(&[Keep::Tray, Keep::OwnHole]),
            kept_at: draw.sometimes("tray 3"),
            note: draw.sometimes("one was not there"),
            repair: if draw.rarely(4) { draw.sometimes("a thread insert") } else { None },
            studs: i32::from(draw.rarely(4)),
        });
    }
    let as_listed = lines.is_empty() || draw.below(2) == 0;
    let step = draw.rarely(8).then_some(StepNo(1));
    TakeOff { job, stage, step, lines, as_listed, override_reason: draw.sometimes("no other way") }.into()
}

pub fn add_position(draw: &mut Draw<'_>) -> Command {
    let (job, stage) = active(draw);
    let known = of_job(draw, job, |_| true);
    let behind = (draw.below(3) == 0).then(|| vec![some_key(draw, &known)]);
    let attached_to = draw.rarely(6).then(|| some_key(draw, &known));
    AddPosition {
        job,
        stage,
        position: None,
        what: draw.words("a hidden hose"),
        kind: None,
        manner: if draw.rarely(4) { Manner::In } else { Manner::Off },
        count: i32::try_from(draw.between(1, 3)).expect("a small number"),
        size: None,
        location: draw.sometimes("below the inlet"),
        behind,
        attached_to,
        keep: None,
        renew: draw.rarely(5).then_some(Renew::Always),
        back: draw.rarely(3).then(|| draw.stage(job)),
        note: None,
        later: draw.rarely(6),
        tags: draw.rarely(4),
        item: draw.rarely(5).then(|| "seal".into()),
        fitting: Fitting {
            tighten: if draw.rarely(4) { vec![Tighten::TorqueMilli(25_000)] } else { vec![] },
            second_check: draw.rarely(6),
            check: draw.sometimes("its thread is whole"),
            cure_minutes: draw.rarely(6).then_some(20),
            ..Fitting::default()
        },
    }
    .into()
}

pub fn put_back(draw: &mut Draw<'_>) -> Command {
    let open =
        |row: &PositionRow| row.off_n.is_some() && row.refitted + row.renewed + row.left_out < row.found + row.missing;
    let at_work = draw.state.stages.iter().filter(|row| row.state == StageState::Active);
    let at_work: Vec<StageRow> = at_work.filter(|row| !of_job(draw, row.job, open).is_empty()).cloned().collect();
    let (job, stage) = draw.one_of(&at_work).map_or_else(|| active(draw), |row| (row.job, row.stage));
    let off = of_job(draw, job, open);
    let mut lines = vec![];
    if !off.is_empty() && !draw.rarely(4) {
        let position = some_key(draw, &off);
        let some =
            |draw: &mut Draw<'_>| draw.rarely(3).then(|| i32::try_from(draw.between(0, 3)).expect("a small number"));
        lines.push(BackLine {
            position,
            refitted: some(draw),
            renewed: some(draw),
            left_out: i32::from(draw.rarely(12)),
            scrapped: some(draw),
            kept: i32::from(draw.rarely(12)),
            tightness: draw.one_of(&[Tightness::Loose, Tightness::Finger, Tightness::Finger, Tightness::Final]),
            reason: draw.sometimes("it is on order"),
        });
    }
    let as_listed = lines.is_empty() || draw.rarely(3);
    PutBack { job, stage, lines, as_listed, override_reason: draw.sometimes("a mock-up") }.into()
}

pub fn tighten(draw: &mut Draw<'_>) -> Command {
    // Loosened again as well, now and then.
    let most = if draw.rarely(4) { Tightness::Final } else { Tightness::Finger };
    let fitted = draw.state.positions.iter().filter(|row| row.tightness.is_some_and(|tightness| tightness <= most));
    let fitted: Vec<PositionRow> = fitted.cloned().collect();
    let row = draw.one_of(&fitted);
    let (job, position) = row.map_or((JobNo(1), "cover".into()), |row| (row.job, row.position));
    let tightness = draw.one_of(&[Tightness::Loose, Tightness::Finger, Tightness::Final, Tightness::Final]);
    let tightness = tightness.unwrap_or(Tightness::Final);
    TightenPositions { job, positions: vec![position], tightness }.into()
}

pub fn check(draw: &mut Draw<'_>) -> Command {
    let whole = |row: &&PositionRow| {
        let settled = row.found + row.missing == row.refitted + row.renewed + row.left_out;
        settled && row.tightness == Some(Tightness::Final) && row.checked_by.is_none()
    };
    let all: Vec<PositionRow> = draw.state.positions.iter().filter(whole).cloned().collect();
    // Mostly where somebody may still look.
    let open = |row: &PositionRow| draw.state.jobs.get(&(row.job,)).is_some_and(|job| job.closed_at.is_none());
    let at_work: Vec<PositionRow> = all.iter().filter(|row| open(row)).cloned().collect();
    // Where nothing is whole something is made whole, mostly.
    if all.is_empty() && !draw.rarely(3) {
        return tighten(draw);
    }
    let row = draw.one_of(&at_work).or_else(|| draw.one_of(&all));
    let (job, position) = row.map_or((JobNo(1), "cover".into()), |row| (row.job, row.position));
    ConfirmPositions { job, positions: vec![position] }.into()
}

pub fn reopen_position(draw: &mut Draw<'_>) -> Command {
    let said: Vec<PositionRow> = draw.state.positions.iter().filter(|row| row.off_n.is_some()).cloned().collect();
    let row = draw.one_of(&said);
    let (job, position) = row.map_or((JobNo(1), "cover".into()), |row| (row.job, row.position));
    ReopenPosition { job, position, reason: draw.words("it was another one") }.into()
}

/// What the strip book asks for next on a stage that is under way.
pub fn next_in(draw: &mut Draw<'_>, row: &StageRow) -> Option<Command> {
    let (job, stage) = (row.job, row.stage.clone());
    let override_reason = None;
    let untouched = of_job(draw, job, |one| one.stage == stage && one.off_n.is_none());
    // Some of it will not move at first.
    let stuck: Vec<PositionRow> = untouched.iter().filter(|one| one.detail.manner != Manner::In).cloned().collect();
    if let Some(one) = draw.one_of(&stuck).filter(|_| draw.rarely(3)) {
        let (position, outcome, pieces) = (one.position, Outcome::NotMoved, Some(1));
        let (item, plan, note, blocked, override_reason) = (None, None, None, false, None);
        let rung = Some(1);
        let attempt =
            RecordAttempt { job, position, rung, outcome, pieces, item, plan, note, blocked, override_reason };
        return Some(attempt.into());
    }
    if !untouched.is_empty() {
        // What was tried and has not moved comes off in the end, and somebody says so.
        let tried = untouched.into_iter().filter(|one| strip::stuck(draw.state, job, &one.position) > 0);
        let lines = tried.map(|one| OffLine { found: Some(one.detail.count), ..OffLine::listed(one.position) });
        let lines = lines.collect();
        return Some(TakeOff { job, stage, step: None, lines, as_listed: true, override_reason }.into());
    }
    let loose = of_job(draw, job, |one| one.tightness.is_some_and(|tightness| tightness < Tightness::Final));
    if let Some(one) = draw.one_of(&loose) {
        return Some(TightenPositions { job, positions: vec![one.position], tightness: Tightness::Final }.into());
    }
    let whole = |one: &PositionRow| one.found + one.missing == one.refitted + one.renewed + one.left_out;
    let unseen = of_job(draw, job, |one| {
        one.off_n.is_some() && whole(one) && one.detail.second_check && one.checked_by.is_none()
    });
    if let Some(one) = draw.one_of(&unseen) {
        return Some(ConfirmPositions { job, positions: vec![one.position] }.into());
    }
    // What nobody gave a stage, or put in for the work, stands against what brings the vehicle to life.
    let due = |one: &PositionRow| match &one.detail.back {
        Some(back) if one.detail.manner != Manner::In => *back == stage,
        _ => one.stage != stage,
    };
    let due = of_job(draw, job, |one| due(one) && one.off_n.is_some() && !whole(one));
    let one = draw.one_of(&due)?;
    let (places, put_in) = (one.found + one.missing, one.detail.manner == Manner::In);
    let line = BackLine { tightness: Some(Tightness::Finger), ..BackLine::listed(one.position) };
    // Now and then its places stay empty, and nobody says where the pieces are.
    let line = if !put_in && places > 0 && draw.rarely(4) {
        let (none, reason) = (Some(0), Some("it is on order".to_owned()));
        BackLine { refitted: none, renewed: none, left_out: places, reason, ..line }
    } else {
        line
    };
    Some(PutBack { job, stage, lines: vec![line], as_listed: false, override_reason }.into())
}

/// Somebody has to look at what stands against the end of a job.
pub fn to_check(draw: &Draw<'_>, job: JobNo) -> Option<Command> {
    let row = draw
        .state
        .positions
        .iter()
        .find(|row| row.job == job && row.off_n.is_some() && row.detail.second_check && row.checked_by.is_none())?;
    Some(ConfirmPositions { job, positions: vec![row.position.clone()] }.into())
}
