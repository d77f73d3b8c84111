//! Stages are started, finished, left out and added.

use crate::answer::{Made, Notice};
use crate::check;
use crate::command::{AddStage, FinishStage, SkipStage, StartStage};
use crate::decide::{blockers, clocking, condition, ends, flow, not_taken, place, proof, skills, steps, strip, tools};
use crate::hand_over;
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use crate::telling::FreeFrom;
use crate::toolbox::listed;
use leadhand_facts::fact::{JobAfter, JobStage, JobStep, Wording};
use leadhand_facts::rows::{BlockerRow, StageRow};
use leadhand_facts::safety::StepSafety;
use leadhand_facts::words::{Cause, StageKind, StageState};
use leadhand_facts::{Fact, JobNo, PersonId, StageKey, StepNo, TextRef};
use std::collections::BTreeSet;

/// Most stages of a job.
const STAGES_MAX: i32 = 500;

pub(super) fn start(session: &mut Session, command: &StartStage) -> Result<Made, Refusal> {
    check::text_some("override_reason", command.override_reason.as_deref())?;
    look::open_job(session.state, session.context, command.job)?;
    let row = look::stage(session.state, command.job, &command.stage)?.clone();
    if row.state != StageState::Pending {
        let (job, stage, state) = (row.job, row.stage, row.state);
        let todo =
            if state == StageState::Active { "clock on to it, or start another" } else { "start one that is left" };
        return Err(Refusal::StageIs { job, stage, state, attempted: "started", todo });
    }
    let person = session.context.actor.person;
    if let Some(person) = person {
        look::person(session.state, person)?;
    }
    condition::refuse_called(session, row.job, &row.stage)?;
    place::refuse_present(session, &row)?;
    let overridden = begin(session, &row, command.override_reason.as_deref())?;
    condition::tell_high_voltage(session, row.job);
    condition::tell_cautions(session, &row);
    if row.kind == StageKind::Work {
        take_up(session, &row, person, overridden)?;
    }
    tell(session, &row)?;
    Ok(Made::Nothing)
}

/// Starts a stage where nothing stands against it but what a lead overrides; the lead's reason as
/// far as the person lacks a skill.
pub(super) fn begin(session: &mut Session, row: &StageRow, reason: Option<&str>) -> Result<Option<TextRef>, Refusal> {
    let person = session.context.actor.person;
    condition::refuse_voltage(session, row.job, || format!("stage '{}'", row.stage))?;
    let unready = objection(session, row);
    let unskilled = skills::objection(session.state, row, person)?;
    let lacks_skill = unskilled.is_some();
    let what = "start what is not ready, or without the skill that is asked for";
    let objection = match (unready, unskilled) {
        // One reason answers for both, so that both are said before it is given.
        (Some(unready), Some(unskilled)) => {
            let (unready, unskilled) = (unready.told_in(session.state), unskilled.told_in(session.state));
            Some(Refusal::NotReadyNorSkilled { unready, unskilled })
        }
        (unready, unskilled) => unready.or(unskilled),
    };
    let overridden = skills::overruled(session, objection, reason, what)?;
    let (job, stage) = (row.job, row.stage.clone());
    session.emit(Fact::StageStarted { job, stage, person, overridden: overridden.clone() })?;
    Ok(overridden.filter(|_| lacks_skill))
}

/// Clocks on who starts a stage of work. Whoever was on something else after a late start stays
/// there: the stage is not to wait for that.
fn take_up(
    session: &mut Session,
    row: &StageRow,
    person: Option<PersonId>,
    overridden: Option<TextRef>,
) -> Result<(), Refusal> {
    let Some(person) = person else {
        session.notice(Notice::NobodyClockedOn);
        return Ok(());
    };
    if let Some(on) = clocking::elsewhere(session.state, person, session.at()) {
        let (on_job, on_stage) = (on.job, on.stage.clone());
        session.notice(Notice::ElsewhereLater { job: row.job, stage: row.stage.clone(), on_job, on_stage });
        return Ok(());
    }
    clocking::put_on(session, person, row, overridden)?;
    if row.hands > 1 {
        session.notice(Notice::MoreHands { stage: row.stage.clone(), hands: row.hands, on: 1 });
    }
    Ok(())
}

/// What a start leads to: word of what is missing, and blockers.
pub(super) fn tell(session: &mut Session, row: &StageRow) -> Result<(), Refusal> {
    steps::notice_missing(session, row);
    tools::tell_uncalibrated(session, row);
    condition::tell(session, row);
    flow::settle_blockers(session, row.job)
}

/// Why a stage is not ready at that time, if it is not.
fn objection(session: &Session, row: &StageRow) -> Option<Refusal> {
    let (job, stage) = (row.job, row.stage.clone());
    let Some(ready_at) = row.ready_at else {
        let waiting_for = unfinished_before(session.state, row);
        return Some(Refusal::NotReady { job, stage, waiting_for });
    };
    if ready_at > session.context.now {
        return Some(Refusal::WaitNotOver { job, stage, ready_at: FreeFrom(ready_at) });
    }
    let early = ready_at > session.at();
    early.then(|| {
        look::too_early(format!("the start of stage '{stage}'{}", behind(session.state, row)), session.at(), ready_at)
    })
}

/// What a stage comes after, in a sentence; nothing where it is the first.
fn behind(state: &State, row: &StageRow) -> String {
    let before: Vec<String> =
        look::afters(state, row.job, &row.stage).map(|after| format!("'{}'", after.after)).collect();
    let before: Vec<&str> = before.iter().map(String::as_str).collect();
    if before.is_empty() { String::new() } else { format!(", which comes after {},", listed(&before)) }
}

fn unfinished_before(state: &State, row: &StageRow) -> String {
    let (mut found, mut seen, mut ahead) = (BTreeSet::new(), BTreeSet::new(), vec![&row.stage]);
    while let Some(stage) = ahead.pop() {
        for after in look::afters(state, row.job, stage).filter(|after| seen.insert(after.after.clone())) {
            match state.stages.get(&(row.job, after.after.clone())).map(|stage| stage.state) {
                Some(StageState::Finished) => {}
                // What was left out hands on what it came after itself.
                Some(StageState::Skipped) => ahead.push(&after.after),
                _ => {
                    found.insert(format!("'{}'", after.after));
                }
            }
        }
    }
    listed(&found.iter().map(String::as_str).collect::<Vec<_>>())
}

pub(super) fn finish(session: &mut Session, command: &FinishStage) -> Result<Made, Refusal> {
    look::open_job(session.state, session.context, command.job)?;
    let row = look::stage(session.state, command.job, &command.stage)?.clone();
    let (job, stage) = (row.job, row.stage.clone());
    if row.state != StageState::Active {
        let state = row.state;
        let todo = if state == StageState::Pending { "start it first, or skip it" } else { "choose another" };
        return Err(Refusal::StageIs { job, stage, state, attempted: "finished", todo });
    }
    ends::refuse_early(session, &row)?;
    let left = steps::left(session.state, &row);
    if command.as_listed {
        let before = not_taken::now(session, job);
        strip::do_as_listed(session, &row, &left)?;
        not_taken::tell(session, job, &before);
    } else if !left.is_empty() {
        let left: Vec<String> = left.iter().map(StepNo::to_string).collect();
        return Err(Refusal::StepsLeft { stage, steps: left.join(", ") });
    }
    strip::refuse_unsaid(session.state, &row)?;
    flow::settle_blockers(session, job)?;
    refuse_own_blockers(session.state, &row)?;
    clocking::clear_stage(session, job, &stage)?;
    session.emit(Fact::StageFinished { job, stage, person: session.context.actor.person })?;
    flow::settle_ready(session, job, None)?;
    flow::settle_blockers(session, job)?;
    Ok(Made::Nothing)
}

/// Ends the stages that only waited for what a lead has overruled at the hand-over.
pub(super) fn end_with_job(session: &mut Session, job: JobNo) -> Result<(), Refusal> {
    let stages = look::stages_in_order(session.state, job).into_iter();
    let left: Vec<StageRow> = stages.filter(|stage| hand_over::ends_with_it(session.state, stage)).cloned().collect();
    for row in left {
        ends::refuse_early(session, &row)?;
        clocking::clear_stage(session, job, &row.stage)?;
        let (stage, person) = (row.stage.clone(), session.context.actor.person);
        session.emit(Fact::StageFinished { job, stage, person })?;
        session.notice(Notice::EndedWithHandOver { stage: row.stage });
    }
    Ok(())
}

fn refuse_own_blockers(state: &State, row: &StageRow) -> Result<(), Refusal> {
    let own: Vec<String> = look::open_blockers(state, row.job)
        .filter(|blocker| blocker.stage == row.stage)
        .map(|blocker| blocker.blocker.to_string())
        .collect();
    if own.is_empty() { Ok(()) } else { Err(Refusal::BlockersOpen { job: row.job, blockers: own.join(", ") }) }
}

pub(super) fn skip(session: &mut Session, command: &SkipStage) -> Result<Made, Refusal> {
    check::text("reason", &command.reason)?;
    look::open_job(session.state, session.context, command.job)?;
    let row = look::stage(session.state, command.job, &command.stage)?;
    if look::is_ended(row) {
        let (job, stage, state) = (row.job, row.stage.clone(), row.state);
        return Err(Refusal::StageIs { job, stage, state, attempted: "skipped", todo: "choose one that is left" });
    }
    let row = row.clone();
    strip::refuse_hidden(session.state, &row)?;
    condition::refuse_leaving(session, &row, &steps::left(session.state, &row))?;
    if condition::refuse_called(session, row.job, &row.stage).is_err() {
        proof::lead_by_name(session, "leave out a stage that waits for the lead")?;
    }
    let seized = |blocker: &BlockerRow| blocker.stage == row.stage && blocker.cause == Cause::Seized;
    if look::open_blockers(session.state, row.job).any(seized) {
        blockers::refuse_past_trying(session, row.job, &row.stage)?;
    }
    let reason = session.seal(&command.reason);
    leave_out(session, command.job, &command.stage, &reason)?;
    strip::tell_left_out(session, &row);
    flow::settle_ready(session, command.job, None)?;
    flow::settle_blockers(session, command.job)?;
    Ok(Made::Nothing)
}

/// Leaves a stage out: its steps, what held it up and who was on it end with it.
pub(super) fn leave_out(session: &mut Session, job: JobNo, stage: &StageKey, reason: &TextRef) -> Result<(), Refusal> {
    let row = look::stage(session.state, job, stage)?.clone();
    ends::refuse_early(session, &row)?;
    ends::refuse_unready(session, &row, flow::free_at(session.state, &row)?)?;
    for step in steps::left(session.state, &row) {
        steps::leave_out(session, &row, step, reason)?;
    }
    flow::settle_blockers(session, job)?;
    let held: Vec<_> = look::open_blockers(session.state, job)
        .filter(|blocker| blocker.stage == *stage)
        .map(|blocker| blocker.blocker)
        .collect();
    for blocker in held {
        session.emit(Fact::BlockerCleared { job, blocker, note: Some(reason.clone()) })?;
    }
    clocking::clear_stage(session, job, stage)?;
    session.emit(Fact::StageSkipped { job, stage: stage.clone(), reason: reason.clone() })?;
    Ok(())
}

pub(super) fn add(session: &mut Session, command: &AddStage) -> Result<Made, Refusal> {
    check_new(command)?;
    let job = look::open_job(session.state, session.context, command.job)?.clone();
    let ordinal = job.last_stage + 1;
    if ordinal > STAGES_MAX {
        return Err(Refusal::invalid("job", format!("it has {STAGES_MAX} stages already; open another job")));
    }
    let stage = command.stage.clone().unwrap_or_else(|| StageKey(format!("extra-{ordinal}")));
    if session.state.stages.get(&(job.job, stage.clone())).is_some() {
        return Err(Refusal::Taken { what: "stage", which: stage.to_string() });
    }
    let after = predecessors(session.state, command)?;
    refuse_order(session.state, command, &after)?;
    let title = Wording::Typed(session.seal(&command.title));
    let steps = command.steps.iter().zip(1..).map(|(words, number)| JobStep {
        shared_tools: Vec::new(),
        step: StepNo(number),
        instruction: Wording::Typed(session.seal(words)),
        tools: Vec::new(),
        cautions: Vec::new(),
        needs: Vec::new(),
        follow_up: None,
        safety: StepSafety::default(),
        unplanned: true,
        fits: None,
    });
    let added = JobStage {
        stage: stage.clone(),
        ordinal,
        title,
        kind: command.kind,
        minutes: command.minutes,
        bays: command.bays.clone(),
        skills: command.skills.clone(),
        hands: command.hands,
        tools: command.tools.clone(),
        after,
        may_leave: command.may_leave,
        in_one_go: command.in_one_go,
        unplanned: true,
        steps: steps.collect(),
        positions: Vec::new(),
        readings: Vec::new(),
    };
    session.emit(Fact::StageAdded { job: job.job, stage: added, before: command.before.clone() })?;
    flow::settle_ready(session, job.job, Some(&stage))?;
    flow::settle_blockers(session, job.job)?;
    Ok(Made::Stage { job: job.job, stage })
}

fn check_new(command: &AddStage) -> Result<(), Refusal> {
    check::name("title", &command.title)?;
    check::minutes("minutes", command.minutes)?;
    check::skills("skills", &command.skills)?;
    if let Some(stage) = &command.stage {
        check::key("stage", stage.as_str())?;
    }
    for (at, words) in command.steps.iter().enumerate() {
        check::text(&format!("steps[{at}]"), words)?;
    }
    for (at, tool) in command.tools.iter().enumerate() {
        check::name(&format!("tools[{at}]"), tool)?;
    }
    for (at, after) in command.after.iter().enumerate() {
        if !(0..=check::MINUTES_MAX).contains(&after.wait_minutes) {
            let why = format!("it is not from 0 to {} minutes", check::MINUTES_MAX);
            return Err(Refusal::invalid(format!("after[{at}].wait_minutes"), why));
        }
    }
    if command.in_one_go && command.kind == StageKind::Wait {
        return Err(Refusal::invalid("in_one_go", "a wait goes on by itself; that is for work"));
    }
    check_hands(command.kind, command.hands)
}

fn check_hands(kind: StageKind, hands: i32) -> Result<(), Refusal> {
    match (kind, hands) {
        (StageKind::Wait, 0) | (StageKind::Work, 1..=20) => Ok(()),
        (StageKind::Wait, _) => Err(Refusal::invalid("hands", "a wait takes no hands; give 0")),
        (StageKind::Work, _) => Err(Refusal::invalid("hands", "work takes 1 to 20 hands")),
    }
}

fn predecessors(state: &State, command: &AddStage) -> Result<Vec<JobAfter>, Refusal> {
    let mut after = command.after.clone();
    for known in &after {
        look::stage(state, command.job, &known.stage)?;
    }
    if command.after_last {
        let followed: BTreeSet<&StageKey> =
            state.afters.iter().filter(|row| row.job == command.job).map(|row| &row.after).collect();
        let last = look::stages(state, command.job)
            .map(|row| row.stage.clone())
            .filter(|stage| !followed.contains(stage) && !command.before.contains(stage));
        after.extend(last.map(|stage| JobAfter { stage, wait_minutes: 0 }));
    }
    // Named twice, the longer wait counts: a cure time must not vanish.
    after.sort_by(|one, other| one.stage.cmp(&other.stage).then(other.wait_minutes.cmp(&one.wait_minutes)));
    after.dedup_by(|one, other| one.stage == other.stage);
    Ok(after)
}

fn refuse_order(state: &State, command: &AddStage, after: &[JobAfter]) -> Result<(), Refusal> {
    let job = command.job;
    for (at, stage) in command.before.iter().enumerate() {
        if command.before[..at].contains(stage) {
            let why = format!("'{stage}' is named twice; once is enough");
            return Err(Refusal::invalid(format!("before[{at}]"), why));
        }
        let row = look::stage(state, job, stage)?;
        if row.state != StageState::Pending {
            let (stage, state) = (stage.clone(), row.state);
            let todo = "put the new one in front of a stage that has not started";
            return Err(Refusal::StageIs { job, stage, state, attempted: "put behind another", todo });
        }
    }
    // A ring would come about if a stage that is to come later already leads to one before.
    let mut reached: Vec<&StageKey> = after.iter().map(|after| &after.stage).collect();
    let mut seen = BTreeSet::new();
    while let Some(stage) = reached.pop() {
        if command.before.contains(stage) {
            return Err(Refusal::Ring { job, stages: format!("'{stage}' and the new one") });
        }
        if seen.insert(stage) {
            reached.extend(look::afters(state, job, stage).map(|row| &row.after));
        }
    }
    Ok(())
}
