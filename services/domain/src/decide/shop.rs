//! The shop, its bays and its persons.

use crate::answer::Made;
use crate::check;
use crate::command::{AddBay, AddPerson, ForgetPerson, OpenShop, RenamePerson, SetSkills, SetYard};
use crate::decide::{access, calendar, proof};
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use leadhand_facts::words::BayKind;
use leadhand_facts::{Fact, PersonId, TextId};
use std::collections::BTreeSet;

/// The most that a bay can be rated for, in kilograms.
const RATED_MAX_KG: i32 = 100_000;

/// Whether a shop could be opened so, before anything is made of it.
pub fn check_opening(name: &str, zone: &str, lead: &str) -> Result<(), Refusal> {
    check::name("name", name)?;
    check::name("lead", lead)?;
    if calendar::zone_named(zone).is_none() {
        let why = format!("'{zone}' is no time zone; give one of the IANA names, such as Europe/Lisbon");
        return Err(Refusal::invalid("zone", why));
    }
    Ok(())
}

pub(super) fn open(session: &mut Session, command: &OpenShop) -> Result<Made, Refusal> {
    check_opening(&command.name, &command.zone, "lead")?;
    if session.state.shop.get(&()).is_some() {
        return Err(Refusal::Taken { what: "shop", which: command.name.clone() });
    }
    let name = session.seal(&command.name);
    session.emit(Fact::ShopOpened { name, zone: command.zone.clone() })?;
    Ok(Made::Nothing)
}

pub(super) fn add_bay(session: &mut Session, command: &AddBay) -> Result<Made, Refusal> {
    check::key("bay.bay", command.bay.as_str())?;
    check::name("bay.name", &command.name)?;
    check_rated("bay.rated_kg", command.kind, command.rated_kg)?;
    if session.state.bays.get(&(command.bay.clone(),)).is_some() {
        return Err(Refusal::Taken { what: "bay", which: command.bay.to_string() });
    }
    let AddBay { bay, name, kind, rated_kg } = command.clone();
    session.emit(Fact::BayAdded { bay, name, bay_kind: kind, rated_kg })?;
    Ok(Made::Nothing)
}

/// What a bay is said to bear: 0 where a vehicle stands on the ground, which has no rating of its own.
pub(super) fn check_rated(field: &str, kind: BayKind, rated_kg: i32) -> Result<(), Refusal> {
    let least = i32::from(!on_the_ground(kind));
    if (least..=RATED_MAX_KG).contains(&rated_kg) {
        return Ok(());
    }
    let why = match rated_kg {
        0 => format!("a {kind} bears what its plate says; give that, from 1 to {RATED_MAX_KG} kg"),
        _ => format!("it is not from 1 to {RATED_MAX_KG} kg"),
    };
    Err(Refusal::invalid(field, why))
}

fn on_the_ground(kind: BayKind) -> bool {
    matches!(kind, BayKind::Floor | BayKind::Pit)
}

pub(super) fn add_person(session: &mut Session, command: &AddPerson) -> Result<Made, Refusal> {
    check::name("name", &command.name)?;
    check::skills("skills", &command.skills)?;
    let person = PersonId(session.id());
    let name = session.seal(&command.name);
    session.emit(Fact::PersonAdded { person, name, skills: command.skills.clone() })?;
    Ok(Made::Person(person))
}

/// That the name was another is kept; what it was is not: a wrong name is nobody's business.
pub(super) fn rename(session: &mut Session, command: &RenamePerson) -> Result<Made, Refusal> {
    check::name("name", &command.name)?;
    check::text("reason", &command.reason)?;
    let row = look::person(session.state, command.person)?.clone();
    let (name, reason) = (session.seal(&command.name), session.seal(&command.reason));
    session.emit(Fact::PersonRenamed { person: row.person, name, erased: vec![row.name], reason })?;
    Ok(Made::Person(row.person))
}

/// Most places outside, and most minutes to move a vehicle: a day.
const PLACES_MAX: i32 = 1_000;
const MOVING_MAX: i32 = 1_440;

pub(super) fn set_yard(session: &mut Session, command: &SetYard) -> Result<Made, Refusal> {
    if command.places_outside.is_none() && command.moving_minutes.is_none() {
        return Err(Refusal::invalid("places_outside", "nothing is said; give places, minutes, or both"));
    }
    let shop = look::shop(session.state)?;
    let places_outside = command.places_outside.unwrap_or(shop.places_outside);
    let moving_minutes = command.moving_minutes.unwrap_or(shop.moving_minutes);
    if !(0..=PLACES_MAX).contains(&places_outside) {
        return Err(Refusal::invalid(
            "places_outside",
            format!("a yard has from 0 to {PLACES_MAX} places outside; give such a number"),
        ));
    }
    if !(0..=MOVING_MAX).contains(&moving_minutes) {
        return Err(Refusal::invalid(
            "moving_minutes",
            format!("moving a vehicle takes from 0 to {MOVING_MAX} minutes; give such a time"),
        ));
    }
    session.emit(Fact::YardSet { places_outside, moving_minutes })?;
    Ok(Made::Nothing)
}

pub(super) fn set_skills(session: &mut Session, command: &SetSkills) -> Result<Made, Refusal> {
    check::skills("skills", &command.skills)?;
    let person = look::person(session.state, command.person)?.person;
    session.emit(Fact::SkillsSet { person, skills: command.skills.clone() })?;
    Ok(Made::Person(person))
}

/// Forgets the name, the labels of the person's tokens, and the words that the person typed, as
/// far as they are still there. Who is at work is clocked off first, since a forgotten person
/// takes no more entries. Who was forgotten before is forgotten again if words were left over.
pub(super) fn forget(session: &mut Session, command: &ForgetPerson) -> Result<Made, Refusal> {
    let row = look::any_person(session.state, command.person)?.clone();
    let own: Vec<_> = session.state.tokens.iter().filter(|token| token.person == Some(row.person)).cloned().collect();
    let named = std::iter::once(row.name).chain(own.iter().filter_map(|token| token.label));
    let all: BTreeSet<TextId> = named.chain(command.texts.iter().copied()).collect();
    let there = |text: &TextId| session.state.texts.get(&(*text,)).is_some_and(|text| text.erased_n.is_none());
    let texts: Vec<TextId> = all.into_iter().filter(there).collect();
    if row.forgotten && texts.is_empty() {
        return Err(Refusal::Forgotten {});
    }
    if let Some(on) = look::clocking_of(session.state, row.person) {
        return Err(Refusal::StillAtWork { job: on.job, stage: on.stage.clone() });
    }
    access::refuse_last_lead(session, |token| token.person == Some(row.person))?;
    let valid = own.iter().filter(|token| token.revoked_at.is_none()).map(|token| token.token);
    for token in valid {
        session.emit(Fact::TokenRevoked { token })?;
    }
    proof::withdraw_all(session, row.person)?;
    session.emit(Fact::PersonForgotten { person: row.person, texts })?;
    Ok(Made::Person(row.person))
}
