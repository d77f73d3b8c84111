//! Who may work on what: a stage names the skills that it asks for, and a lead may override.

use crate::answer::Notice;
use crate::decide::proof;
use crate::hazard::HIGH_VOLTAGE_SKILL;
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use crate::toolbox::listed;
use leadhand_facts::rows::{ClockingRow, StageRow, StepRow};
use leadhand_facts::words::Role;
use leadhand_facts::{PersonId, PositionKey, TextRef};

/// What only a lead may do about a missing skill.
pub(super) const WITHOUT_SKILL: &str = "let somebody work without the skill that is asked for";

/// What stands against this person's work on a stage; nobody has no skill.
pub(super) fn objection(state: &State, row: &StageRow, person: Option<PersonId>) -> Result<Option<Refusal>, Refusal> {
    if row.skills.is_empty() {
        return Ok(None);
    }
    let stage = row.stage.clone();
    let Some(person) = person else {
        refuse_live(&row.skills, || of_stage(row))?;
        return Ok(Some(Refusal::SkillNobody { stage, skills: all_of(&row.skills) }));
    };
    let has = &look::person(state, person)?.skills;
    let missing: Vec<String> = row.skills.iter().filter(|skill| !has.contains(skill)).cloned().collect();
    refuse_live(&missing, || of_stage(row))?;
    Ok((!missing.is_empty()).then(|| Refusal::SkillMissing { stage, skills: all_of(&missing) }))
}

/// Refuses a second look by somebody without the skills of the stage; nobody overrules that.
pub(super) fn may_look(state: &State, row: &StageRow, at: &PositionKey, person: PersonId) -> Result<(), Refusal> {
    match objection(state, row, Some(person))? {
        Some(Refusal::SkillMissing { skills, .. }) => Err(Refusal::SkillForLook { position: at.clone(), skills }),
        other => other.map_or(Ok(()), Err),
    }
}

/// Refuses without the skill of high voltage, whoever gives a reason.
fn refuse_live(missing: &[String], what: impl FnOnce() -> String) -> Result<(), Refusal> {
    if missing.iter().any(|skill| skill == HIGH_VOLTAGE_SKILL) {
        return Err(Refusal::HighVoltage { what: what() });
    }
    Ok(())
}

fn of_stage(row: &StageRow) -> String {
    format!("stage '{}'", row.stage)
}

fn all_of(skills: &[String]) -> String {
    listed(&skills.iter().map(String::as_str).collect::<Vec<_>>())
}

/// Which of these a person has not; all of them where nobody is named.
fn lacking(state: &State, person: Option<PersonId>, skills: &[String]) -> Vec<String> {
    let found = person.and_then(|person| state.persons.get(&(person,)));
    let has = |skill: &String| found.is_some_and(|found| found.skills.contains(skill));
    skills.iter().filter(|skill| !has(skill)).cloned().collect()
}

/// The lead's sealed reason, when something stood against it that a lead may override.
pub(super) fn overruled(
    session: &mut Session,
    objection: Option<Refusal>,
    reason: Option<&str>,
    what: &'static str,
) -> Result<Option<TextRef>, Refusal> {
    let stood_against = objection.is_some();
    may_overrule(session, objection, reason, what)?;
    Ok(reason.filter(|_| stood_against).map(|reason| session.seal(reason)))
}

/// Refuses with the objection, unless a lead gave a reason to go on all the same. Nothing is
/// sealed: the fact that goes on seals the reason once.
pub(super) fn may_overrule(
    session: &mut Session,
    objection: Option<Refusal>,
    reason: Option<&str>,
    what: &'static str,
) -> Result<(), Refusal> {
    match (objection, reason) {
        (None, _) => Ok(()),
        (Some(objection), None) => Err(objection),
        (Some(_), Some(_)) => proof::lead_by_name(session, what).map(|_| ()),
    }
}

/// All that stands against one command, so that it is named in one refusal, and a lead's one reason overrides nothing that
/// was not named.
#[derive(Default)]
pub(super) struct Against(Vec<(Refusal, &'static str)>);

impl Against {
    /// Adds what stands against it, and what only a lead may do about that.
    pub(super) fn add(&mut self, objection: Option<Refusal>, what: &'static str) {
        let known = |objection: &Refusal| self.0.iter().any(|(other, _)| other == objection);
        self.0.extend(objection.filter(|objection| !known(objection)).map(|objection| (objection, what)));
    }

    /// Adds all of these.
    pub(super) fn add_all(&mut self, objections: Vec<Refusal>, what: &'static str) {
        for objection in objections {
            self.add(Some(objection), what);
        }
    }

    /// Refuses with all of it, unless a lead gave a reason to go on all the same; whether anything stood against it.
    pub(super) fn may_overrule(self, session: &mut Session, reason: Option<&str>) -> Result<bool, Refusal> {
        let Some((_, what)) = self.0.first().cloned() else { return Ok(false) };
        let mut all: Vec<Refusal> = self.0.into_iter().map(|(objection, _)| objection).collect();
        let each: Vec<String> = all.iter().map(|one| one.told_in(session.state)).collect();
        let objection = if all.len() == 1 { all.remove(0) } else { joined(session.state, &all) };
        may_overrule(session, Some(objection), reason, what)?;
        // One reason for several things is easily given for what was not thought of.
        if each.len() > 1 {
            session.notices.extend(each.into_iter().map(|what| Notice::LetGo { what }));
        }
        Ok(true)
    }
}

fn joined(state: &State, all: &[Refusal]) -> Refusal {
    let told: Vec<String> = all.iter().map(|one| one.told_in(state)).collect();
    Refusal::Objections { all: told.join("; and ") }
}

/// Work is recorded by somebody who has the skills of its stage, beside somebody who is clocked on and has them, or was let
/// on by a lead; or by a lead.
pub(super) fn refuse_step(session: &Session, row: &StageRow) -> Result<(), Refusal> {
    let unskilled = against_ticks(session, row)?;
    if session.context.actor.role == Role::Lead { Ok(()) } else { unskilled.map_or(Ok(()), Err) }
}

/// The same for steps that are ticked, where a lead who has not the skill gives a reason as well.
///
/// # Errors
///
/// The stage asks for the skill of high voltage, and neither who acts nor anybody who is clocked on has it.
pub(super) fn against_ticks(session: &Session, row: &StageRow) -> Result<Option<Refusal>, Refusal> {
    let state = &*session.state;
    let live: Vec<String> = row.skills.iter().filter(|skill| *skill == HIGH_VOLTAGE_SKILL).cloned().collect();
    let qualified = |person: PersonId| lacking(state, Some(person), &live).is_empty();
    let on = on_now(session, row).any(|clocking| qualified(clocking.person));
    if !on && !session.context.actor.proved.is_some_and(qualified) {
        refuse_live(&live, || of_stage(row))?;
    }
    let has_all = |person: PersonId| lacking(state, Some(person), &row.skills).is_empty();
    let enough = row.skills.is_empty()
        || session.context.actor.person.is_some_and(has_all)
        || on_now(session, row).any(|clocking| clocking.overridden.is_some() || has_all(clocking.person));
    Ok((!enough).then(|| Refusal::SkillNotOnStage { stage: row.stage.clone(), skills: all_of(&row.skills) }))
}

fn on_now<'a>(session: &'a Session, row: &'a StageRow) -> impl Iterator<Item = &'a ClockingRow> {
    let at = session.at();
    session.state.clockings.iter().filter(move |clocking| {
        (clocking.job, &clocking.stage) == (row.job, &row.stage)
            && clocking.from_at <= at
            && clocking.until_at.is_none_or(|until| until >= at)
    })
}

/// What stands against a step that asks for skills of its own, or for those of its stage where somebody answers for it by
/// name: whoever does it has them, and nobody beside counts. Whom a lead let on to the stage is let do what its stage asks.
pub(super) fn against_step(session: &Session, row: &StepRow) -> Result<Option<Refusal>, Refusal> {
    let state = &*session.state;
    let actor = &session.context.actor;
    // A hold point is answered for by whoever signs for it, and so is high voltage; a tick may be made for somebody else.
    let person = if row.safety.hold.is_some() { actor.proved } else { actor.person };
    let unproved = lacking(state, actor.proved, &row.safety.skills);
    refuse_live(&unproved, || format!("step {} of stage '{}'", row.step, row.stage))?;
    let mut missing = lacking(state, person, &row.safety.skills);
    if row.safety.hold.is_some() {
        let stage = look::stage(state, row.job, &row.stage)?;
        let let_on = on_now(session, stage).any(|one| one.overridden.is_some() && Some(one.person) == person);
        let own = if let_on { Vec::new() } else { lacking(state, person, &stage.skills) };
        missing.extend(own.into_iter().filter(|skill| !row.safety.skills.contains(skill)));
    }
    let (stage, step) = (row.stage.clone(), row.step);
    Ok((!missing.is_empty()).then(|| Refusal::SkillForStep { stage, step, skills: all_of(&missing) }))
}
