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
        let objection = if all.len() == 1 { all.remove(0) } else { joined(session.state, &all) };
        may_overrule(session, Some(objection), reason, what)?;
        Ok(true)
    }
}

fn joined(state: &State, all: &[Refusal]) -> Refusal {
    let told: Vec<String> = all.iter().map(|one| one.told_in(state)).collect();
    Refusal::Objections { all: told.join("; and ") }
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
