//! The shop itself, its bays, persons, tokens and templates.

use super::{Folded, add, change, strayed};
use crate::state::State;
use leadhand_facts::plan::{MOVING_MINUTES, PLACES_OUTSIDE};
use leadhand_facts::rows::{BayRow, PersonRow, PlaceRow, ShopRow, TemplateRow, TokenRow};
use leadhand_facts::words::PlaceKind;
use leadhand_facts::{Entry, Fact, PersonId, PlaceKey, TextId, TextRef};

/// Places that stand for the world outside; made with the shop, keyed and named by their kind.
const CONTRA: [PlaceKind; 5] =
    [PlaceKind::Supplier, PlaceKind::Used, PlaceKind::Scrap, PlaceKind::Waste, PlaceKind::Count];

pub(super) fn apply(state: &mut State, entry: &Entry) -> Folded {
    let n = entry.number;
    match &entry.fact {
        Fact::ShopOpened { name, zone } => opened(state, entry, name, zone),
        Fact::BayAdded { bay, name, bay_kind, rated_kg } => {
            let (bay, name) = (bay.clone(), name.clone());
            let row = BayRow { bay, name, kind: *bay_kind, rated_kg: *rated_kg, added_n: n };
            add(entry, &mut state.bays, row)
        }
        Fact::PersonAdded { person, name, skills } => {
            let skills = skills.clone();
            let row = PersonRow { person: *person, name: name.id, skills, forgotten: false, added_n: n };
            add(entry, &mut state.persons, row)
        }
        Fact::PersonRenamed { person, name, erased, .. } => {
            change(entry, &mut state.persons, &(*person,), |row| row.name = name.id)?;
            erased.iter().try_for_each(|text| change(entry, &mut state.texts, &(*text,), |row| row.erased_n = Some(n)))
        }
        Fact::BayCorrected { bay, bay_kind, rated_kg, .. } => change(entry, &mut state.bays, &(bay.clone(),), |row| {
            row.kind = *bay_kind;
            row.rated_kg = *rated_kg;
        }),
        Fact::YardSet { places_outside, moving_minutes } => change(entry, &mut state.shop, &(), |row| {
            row.places_outside = *places_outside;
            row.moving_minutes = *moving_minutes;
        }),
        Fact::SkillsSet { person, skills } => {
            change(entry, &mut state.persons, &(*person,), |row| row.skills.clone_from(skills))
        }
        Fact::PersonForgotten { person, texts } => forgotten(state, entry, *person, texts),
        Fact::TokenIssued { .. } => token(state, entry),
        Fact::TokenRevoked { token } => {
            change(entry, &mut state.tokens, &(*token,), |row| row.revoked_at = Some(entry.recorded_at))
        }
        Fact::TokenLimited { token, expires_at } => {
            change(entry, &mut state.tokens, &(*token,), |row| row.expires_at = Some(*expires_at))
        }
        Fact::TemplatePublished { revision, template } => {
            let row = TemplateRow {
                template: template.key.clone(),
                revision: *revision,
                title: template.title.clone(),
                doc: template.clone(),
                published_at: entry.recorded_at,
                published_n: n,
            };
            add(entry, &mut state.templates, row)
        }
        _ => strayed(entry),
    }
}

fn opened(state: &mut State, entry: &Entry, name: &TextRef, zone: &str) -> Folded {
    let row = ShopRow {
        name: name.id,
        zone: zone.to_owned(),
        calendar_revision: 0,
        last_job: 0,
        opened_at: entry.happened_at,
        opened_n: entry.number,
        places_outside: PLACES_OUTSIDE,
        moving_minutes: MOVING_MINUTES,
    };
    add(entry, &mut state.shop, row)?;
    for kind in CONTRA {
        let (place, name) = (PlaceKey::from(kind.word()), kind.word().to_owned());
        add(entry, &mut state.places, PlaceRow { place, kind, name, job: None, added_n: entry.number })?;
    }
    Ok(())
}

fn forgotten(state: &mut State, entry: &Entry, person: PersonId, texts: &[TextId]) -> Folded {
    change(entry, &mut state.persons, &(person,), |row| row.forgotten = true)?;
    for text in texts {
        change(entry, &mut state.texts, &(*text,), |row| row.erased_n = Some(entry.number))?;
    }
    Ok(())
}

fn token(state: &mut State, entry: &Entry) -> Folded {
    let Fact::TokenIssued { token, principal, person, label, role, prefix, hash, expires_at } = &entry.fact else {
        return strayed(entry);
    };
    let row = TokenRow {
        token: *token,
        principal: *principal,
        person: *person,
        label: label.as_ref().map(|label| label.id),
        role: *role,
        prefix: prefix.clone(),
        hash: hash.clone(),
        issued_at: entry.recorded_at,
        expires_at: *expires_at,
        revoked_at: None,
        issued_n: entry.number,
    };
    add(entry, &mut state.tokens, row)
}
