//! Readings are taken, judged by their limits, and decided about by a lead where they are out of them.

use crate::answer::{Made, Notice};
use crate::check as form;
use crate::command::{AddReading, Command, DecideReading, RecordReading};
use crate::decide::{again, condition, flow, proof, remarks, skills};
use crate::look;
use crate::need::Need;
use crate::reading::{self, judge, slots};
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use crate::template::unfit_reading;
use crate::toolbox::listed;
use leadhand_facts::fact::Wording;
use leadhand_facts::reading::{JobReading, ReadingDetail};
use leadhand_facts::rows::{ReadingRow, StageRow};
use leadhand_facts::words::{Cause, Decision, ReadingKind, ReadingUnit, StageState, StepState, Verdict};
use leadhand_facts::{BlockerNo, Fact, JobNo, Measure, ReadingKey, StepNo, TextRef};
use std::collections::{BTreeMap, BTreeSet};

/// What only a lead may do about a reading.
const DECIDE: &str = "decide about a reading that is out of its limits";
/// Most readings of a job.
const READINGS_MAX: usize = 500;

/// Decides what is asked of readings and remarks; nothing for any other command.
pub(super) fn dispatch(session: &mut Session, command: &Command) -> Option<Result<Made, Refusal>> {
    Some(match command {
        Command::AddReading(c) => add(session, c),
        Command::RecordReading(c) => record(session, c),
        Command::DecideReading(c) => decide(session, c),
        Command::MakeRemark(c) => remarks::make(session, c),
        Command::WithdrawRemark(c) => remarks::withdraw(session, c),
        _ => return None,
    })
}

/// What these commands need to see: their job.
pub(super) fn needs(command: &Command) -> Option<Need> {
    match command {
        Command::AddReading(c) => Some(Need::Job(c.job)),
        Command::RecordReading(c) => Some(Need::Job(c.job)),
        Command::DecideReading(c) => Some(Need::Job(c.job)),
        Command::MakeRemark(c) => Some(Need::Job(c.job)),
        Command::WithdrawRemark(c) => Some(Need::Job(c.job)),
        _ => None,
    }
}

fn row<'a>(state: &'a State, job: JobNo, reading: &ReadingKey) -> Result<&'a ReadingRow, Refusal> {
    state.readings.get(&(job, reading.clone())).ok_or_else(|| Refusal::Unknown {
        what: "reading",
        which: format!("{reading}' of job '{job}"),
        todo: "`leadhand reading list` shows them",
    })
}

/// Adds a reading that nobody had listed; with figures it is taken at once.
fn add(session: &mut Session, command: &AddReading) -> Result<Made, Refusal> {
    form::name("what", &command.what)?;
    check_new(&command.detail)?;
    for (field, said) in [("instrument", &command.instrument), ("note", &command.note)] {
        if said.is_some() && command.figures.is_empty() {
            return Err(Refusal::invalid(
                field,
                "it goes with figures; give them as well, or say it when they are taken",
            ));
        }
    }
    let job = look::open_job(session.state, session.context, command.job)?.job;
    let stage = look::stage(session.state, job, &command.stage)?;
    if look::is_ended(stage) {
        let (stage, state) = (stage.stage.clone(), stage.state);
        let todo = "take it up again first";
        return Err(Refusal::StageIs { job, stage, state, attempted: "measured at", todo });
    }
    if let Some(step) = command.step {
        refuse_ended_step(session.state, command, step)?;
    }
    let key = new_key(session.state, job, command.reading.as_ref())?;
    let what = Wording::Typed(session.seal(&command.what));
    let (step, detail) = (command.step, command.detail.clone());
    let reading = JobReading { reading: key.clone(), step, what, detail, unplanned: true };
    session.emit(Fact::ReadingAdded { job, stage: command.stage.clone(), reading })?;
    if !command.figures.is_empty() {
        let (figures, instrument, note) = (command.figures.clone(), command.instrument.clone(), command.note.clone());
        let sure = command.sure;
        record(session, &RecordReading { job, reading: key.clone(), figures, instrument, note, sure })?;
    }
    Ok(Made::Reading { job, reading: key })
}

fn refuse_ended_step(state: &State, command: &AddReading, step: StepNo) -> Result<(), Refusal> {
    let found = look::step(state, command.job, &command.stage, step)?;
    if found.state == StepState::Pending {
        return Ok(());
    }
    Err(Refusal::StepIs { stage: command.stage.clone(), step, state: found.state })
}

fn check_new(detail: &ReadingDetail) -> Result<(), Refusal> {
    if detail.labels.len() > form::LIST_MAX {
        return Err(Refusal::invalid("detail.labels", format!("more than {} do not fit", form::LIST_MAX)));
    }
    for (at, label) in detail.labels.iter().enumerate() {
        // They stand in facts as they are, so they are keys and no free words.
        form::key(&format!("detail.labels[{at}]"), label)?;
        if detail.labels[..at].contains(label) {
            let why = format!("'{label}' is there twice; once is enough");
            return Err(Refusal::invalid(format!("detail.labels[{at}]"), why));
        }
    }
    if detail.minutes.is_some_and(|minutes| !(1..=form::MINUTES_MAX).contains(&minutes)) {
        return Err(Refusal::invalid("detail.minutes", format!("it is not from 1 to {}", form::MINUTES_MAX)));
    }
    match unfit_reading(detail).into_iter().next() {
        Some((field, why)) => Err(Refusal::invalid(format!("detail.{field}"), why)),
        None => Ok(()),
    }
}

fn new_key(state: &State, job: JobNo, wanted: Option<&ReadingKey>) -> Result<ReadingKey, Refusal> {
    if reading::readings(state, job).count() >= READINGS_MAX {
        return Err(Refusal::invalid("job", format!("it has {READINGS_MAX} readings already")));
    }
    let Some(key) = wanted else {
        let free = (1..=READINGS_MAX + 1).map(|number| ReadingKey(format!("reading-{number}")));
        let mut free = free.filter(|key| state.readings.get(&(job, key.clone())).is_none());
        return free.next().ok_or_else(|| Refusal::Defect { why: "no key is free".to_owned() });
    };
    form::key("reading", key.as_str())?;
    match state.readings.get(&(job, key.clone())) {
        Some(_) => Err(Refusal::Taken { what: "reading", which: key.to_string() }),
        None => Ok(key.clone()),
    }
}

/// Takes a reading, in place of an earlier one if there was one.
fn record(session: &mut Session, command: &RecordReading) -> Result<Made, Refusal> {
    form::text_some("instrument", command.instrument.as_deref())?;
    form::text_some("note", command.note.as_deref())?;
    let job = look::open_job(session.state, session.context, command.job)?.job;
    let found = row(session.state, job, &command.reading)?.clone();
    let stage = look::stage(session.state, job, &found.stage)?.clone();
    // What a lead had repaired, or wants to be measured again, is measured whenever that is done.
    let anew = matches!(found.decision, Some(Decision::Repair | Decision::Again));
    if !(anew && look::is_ended(&stage)) {
        refuse_idle(session, &stage)?;
    }
    condition::refuse_called(session, job, &stage.stage)?;
    condition::refuse_voltage(session, job, || format!("reading '{}'", found.reading))?;
    skills::refuse_step(session, &stage)?;
    if let Some(last) = found.taken_at.max(found.decided_at).filter(|last| session.at() < *last) {
        return Err(look::too_early(format!("reading '{}'", found.reading), session.at(), last));
    }
    check_figures(&found.detail, &command.figures, command.sure)?;
    if let Some((at, figure)) = reading::far_off(&found.detail, &command.figures).filter(|_| !command.sure) {
        let expected = reading::limits(&found.detail);
        let figure = reading::in_unit(figure, found.detail.unit);
        return Err(Refusal::FigureFarOff { reading: found.reading, place: at, figure, expected });
    }
    if let Some((begin, end)) = reading::rose(&found.detail, &command.figures).filter(|_| !command.sure) {
        let (begin, end) = [begin, end].map(|figure| reading::in_unit(figure, found.detail.unit)).into();
        return Err(Refusal::PressureRose { reading: found.reading, begin, end });
    }
    let single = found.detail.kind == ReadingKind::Flatness && found.detail.labels.len() < 2;
    if single && found.detail.method.is_none() && command.note.is_none() {
        let why = "one figure of flatness means nothing without its method; say how it was measured";
        return Err(Refusal::invalid("note", why));
    }
    let (verdict, off_limits) = judge(&found.detail, &command.figures);
    let instrument = session.seal_some(command.instrument.as_deref());
    let note = session.seal_some(command.note.as_deref());
    session.emit(Fact::ReadingTaken {
        job,
        reading: found.reading.clone(),
        person: session.context.actor.person,
        figures: command.figures.clone(),
        verdict,
        off_limits: off_limits.clone(),
        instrument,
        note,
    })?;
    let said = off_limits.iter().map(|off| reading::told(&found.detail, *off)).collect::<Vec<_>>().join("; ");
    session.notice(Notice::Measured { reading: found.reading, verdict, said });
    flow::settle_blockers(session, job)?;
    Ok(Made::Nothing)
}

/// A reading is taken first while its stage is under way: what is out of limits holds it up.
fn refuse_idle(session: &Session, stage: &StageRow) -> Result<(), Refusal> {
    if stage.state != StageState::Active {
        let (job, state) = (stage.job, stage.state);
        let todo = if look::is_ended(stage) { "take it up again first" } else { "start it first" };
        return Err(Refusal::StageIs { job, stage: stage.stage.clone(), state, attempted: "measured at", todo });
    }
    if let Some(started_at) = stage.started_at.filter(|started_at| session.at() < *started_at) {
        return Err(look::too_early("a reading", session.at(), started_at));
    }
    match session.context.actor.person {
        Some(person) => condition::refuse_looked(session.state, stage, person, session.at()),
        None => Ok(()),
    }
}

fn check_figures(detail: &ReadingDetail, figures: &[Measure], sure: bool) -> Result<(), Refusal> {
    let wanted = slots(detail);
    if figures.len() != wanted.len() {
        let (given, named) = (figures.len(), wanted.join(", "));
        let order = if wanted.len() > 1 { format!(" in this order: {named}") } else { String::new() };
        let why = format!("{given} figure(s) are given and {} belong here{order}", wanted.len());
        return Err(Refusal::invalid("figures", why));
    }
    for (at, figure) in figures.iter().enumerate() {
        if !(-Measure::MAX..=Measure::MAX).contains(&figure.0) {
            return Err(Refusal::invalid(format!("figures[{at}]"), "it is too large to be kept"));
        }
    }
    let wrong = |at: usize, why: &str| Err(Refusal::invalid(format!("figures[{at}]"), why));
    let negative = figures.iter().position(|figure| figure.0 < 0);
    match (detail.kind, negative) {
        (kind, Some(at)) if never_below_nothing(kind) => {
            return wrong(at, "it is below 0; give it as the gauge shows it");
        }
        (ReadingKind::Other, Some(at)) if !sure && detail.low.is_some_and(|low| low.0 >= 0) => {
            return wrong(
                at,
                "it is below 0, and its limits are not; look at the sign and give it again, or say that you are sure (`leadhand reading record --sure`)",
            );
        }
        (ReadingKind::PressureHeld, None) if figures.get(2).is_some_and(|minutes| minutes.0 == 0) => {
            return wrong(2, "it was held for no time; say for how many minutes");
        }
        _ => {}
    }
    let all = Measure::whole(100);
    let by_share = detail.kind == ReadingKind::LeakDown && detail.unit == ReadingUnit::Percent;
    if let Some(at) = figures.iter().position(|figure| by_share && *figure > all) {
        return wrong(at, "more than 100 % of what goes in can't leak; give what the tester shows");
    }
    if detail.kind == ReadingKind::LeakDown && figures.len() == 2 * detail.labels.len().max(1) {
        for (at, pair) in figures.chunks_exact(2).enumerate() {
            if pair[0].0 == 0 {
                return wrong(2 * at, "there is no pressure before the orifice");
            }
            if pair[1] > pair[0] {
                return wrong(2 * at + 1, "there is more pressure behind the orifice than before it; change them over");
            }
        }
    }
    Ok(())
}

/// What can't be less than nothing. Heights of points, levels and whatever else is measured can.
fn never_below_nothing(kind: ReadingKind) -> bool {
    use ReadingKind as K;
    matches!(kind, K::Compression | K::LeakDown | K::PressureHeld | K::Torque | K::Angle | K::RunOut)
}

/// A lead decides about a reading that is out of its limits.
fn decide(session: &mut Session, command: &DecideReading) -> Result<Made, Refusal> {
    form::text("reason", &command.reason)?;
    let person = proof::lead_by_name(session, DECIDE)?;
    let job = look::open_job(session.state, session.context, command.job)?.job;
    let found = row(session.state, job, &command.reading)?.clone();
    if found.verdict != Some(Verdict::Out) {
        let what = format!("decide: reading '{}' is not out of its limits", found.reading);
        return Err(Refusal::NothingToDo { what });
    }
    if let Some(last) = found.taken_at.max(found.decided_at).filter(|last| session.at() < *last) {
        return Err(look::too_early(format!("a decision about '{}'", found.reading), session.at(), last));
    }
    let reason = session.seal(&command.reason);
    let decision = command.decision;
    let reading = found.reading.clone();
    session.emit(Fact::ReadingDecided { job, reading, person, decision, reason: reason.clone() })?;
    if decision == Decision::Again {
        take_back_step(session, &found, &reason)?;
    }
    flow::settle_blockers(session, job)?;
    Ok(Made::Nothing)
}

/// What is to be measured again is to be done again.
fn take_back_step(session: &mut Session, found: &ReadingRow, reason: &TextRef) -> Result<(), Refusal> {
    let Some(step) = found.step else { return Ok(()) };
    let (job, stage) = (found.job, found.stage.clone());
    let row = look::stage(session.state, job, &stage)?.clone();
    if look::is_ended(&row) {
        return Ok(());
    }
    let done = look::step(session.state, job, &stage, step)?.clone();
    if done.state == StepState::Done && done.done_at.is_none_or(|done_at| done_at <= session.at()) {
        again::take_back(session, &row, done, reason)?;
    }
    Ok(())
}

/// Refuses to tick a step whose readings were not taken, or before which one is out of its limits.
pub(super) fn refuse_tick(state: &State, stage: &StageRow, step: StepNo) -> Result<(), Refusal> {
    let own = reading::of_stage(state, stage.job, &stage.stage);
    let missing: Vec<&ReadingRow> = own.filter(|row| row.step == Some(step) && reading::is_missing(row)).collect();
    if !missing.is_empty() {
        return Err(Refusal::ReadingsMissing { stage: stage.stage.clone(), step, readings: keys(missing) });
    }
    // A hold point is not passed on its own reading either.
    let key = (stage.job, stage.stage.clone(), step);
    let hold = state.steps.get(&key).is_some_and(|step| step.safety.hold.is_some());
    let own = |earlier: StepNo| earlier < step || (hold && earlier == step);
    let before = |row: &&ReadingRow| row.step.is_none_or(own) && reading::holds(row);
    let held: Vec<&ReadingRow> = reading::of_stage(state, stage.job, &stage.stage).filter(before).collect();
    if held.is_empty() {
        return Ok(());
    }
    Err(Refusal::ReadingOut { stage: stage.stage.clone(), step, readings: keys(held) })
}

fn keys<'a>(rows: impl IntoIterator<Item = &'a ReadingRow>) -> String {
    let keys: Vec<String> = rows.into_iter().map(|row| format!("'{}'", row.reading)).collect();
    listed(&keys.iter().map(String::as_str).collect::<Vec<_>>())
}

/// Raises a blocker where a reading is out of its limits and nobody decided, and clears the ones for which that is
/// no longer so.
pub(super) fn settle(session: &mut Session, job: JobNo) -> Result<(), Refusal> {
    let wanted: BTreeSet<ReadingKey> = reading::readings(session.state, job)
        .filter(|row| reading::awaits_lead(row) && is_active(session.state, row))
        .map(|row| row.reading.clone())
        .collect();
    let standing: BTreeMap<ReadingKey, BlockerNo> =
        look::open_blockers(session.state, job).filter_map(|row| Some((row.reading.clone()?, row.blocker))).collect();
    for (reading, blocker) in &standing {
        if !wanted.contains(reading) {
            session.emit(Fact::BlockerCleared { job, blocker: *blocker, note: None })?;
        }
    }
    for reading in wanted.into_iter().filter(|reading| !standing.contains_key(reading)) {
        let found = row(session.state, job, &reading)?;
        let (stage, step) = (found.stage.clone(), found.step);
        let blocker = flow::next_blocker(session.state, job)?;
        session.emit(Fact::BlockerRaised {
            job,
            blocker,
            stage,
            cause: Cause::Information,
            owner: None,
            expected_at: None,
            note: None,
            step,
            item: None,
            reading: Some(reading),
            tool: None,
        })?;
    }
    Ok(())
}

fn is_active(state: &State, row: &ReadingRow) -> bool {
    state.stages.get(&(row.job, row.stage.clone())).is_some_and(|stage| stage.state == StageState::Active)
}
