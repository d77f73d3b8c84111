//! Who may work on what: a stage names the skills that it asks for, and a lead may override.

use crate::decide::proof;
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use leadhand_facts::rows::StageRow;
use leadhand_facts::words::Role;
use leadhand_facts::{PersonId, TextRef};

/// What only a lead may do about a missing skill.
pub(super) const WITHOUT_SKILL: &str = "let somebody work without the skill that is asked for";

/// What stands against this person's work on a stage; nobody has no skill.
pub(super) fn objection(state: &State, row: &StageRow, person: Option<PersonId>) -> Result<Option<Refusal>, Refusal> {
    if row.skills.is_empty() {
        return Ok(None);
    }
    let stage = row.stage.clone();
    let Some(person) = person else {
        return Ok(Some(Refusal::SkillNobody { stage, skills: row.skills.join(" and ") }));
    };
    let has = &look::person(state, person)?.skills;
    let missing: Vec<&str> = row.skills.iter().filter(|skill| !has.contains(skill)).map(String::as_str).collect();
    Ok((!missing.is_empty()).then(|| Refusal::SkillMissing { stage, skills: missing.join(" and ") }))
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

/// A step is done under the eyes of somebody who has the skills, or on the word of a lead: of the
/// one who records it, or of the one who let a person on to the stage without them.
pub(super) fn refuse_step(session: &Session, row: &StageRow) -> Result<(), Refusal> {
    let (state, actor, at) = (&*session.state, session.context.actor, session.at());
    let has_all = |person: PersonId| {
        let found = state.persons.get(&(person,));
        found.is_some_and(|found| row.skills.iter().all(|skill| found.skills.contains(skill)))
    };
    if row.skills.is_empty() || actor.role == Role::Lead || actor.person.is_some_and(has_all) {
        return Ok(());
    }
    let mut on = state.clockings.iter().filter(|clocking| {
        (clocking.job, &clocking.stage) == (row.job, &row.stage)
            && clocking.from_at <= at
            && clocking.until_at.is_none_or(|until| until >= at)
    });
    if on.any(|clocking| clocking.overridden.is_some() || has_all(clocking.person)) {
        return Ok(());
    }
    Err(Refusal::SkillNotOnStage { stage: row.stage.clone(), skills: row.skills.join(" and ") })
}
