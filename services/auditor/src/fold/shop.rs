//! The shop, its bays, persons, tokens, templates and vehicles.

use super::astray;
use crate::fault::{At, Fault};
use crate::tables::Tables;
use leadhand_facts::rows::{BayRow, PersonRow, PlaceRow, ShopRow, TemplateRow, TextRow, TokenRow, VehicleRow};
use leadhand_facts::template::Template;
use leadhand_facts::words::PlaceKind;
use leadhand_facts::{Fact, PersonId, PlaceKey, TextId, TextRef};

/// The places that stand for the world outside.
const CONTRA: [PlaceKind; 5] =
    [PlaceKind::Supplier, PlaceKind::Used, PlaceKind::Scrap, PlaceKind::Waste, PlaceKind::Count];

pub(super) fn take(tables: &mut Tables, at: At, fact: &Fact) -> Result<(), Fault> {
    match fact {
        Fact::ShopOpened { name, zone } => opened(tables, at, name, zone),
        Fact::BayAdded { bay, name, bay_kind, rated_kg } => tables.add(
            at,
            BayRow { bay: bay.clone(), name: name.clone(), kind: *bay_kind, rated_kg: *rated_kg, added_n: at.n },
        ),
        Fact::PersonAdded { person, name, skills } => tables.add(
            at,
            PersonRow { person: *person, name: name.id, skills: skills.clone(), forgotten: false, added_n: at.n },
        ),
        Fact::PersonRenamed { person, name, erased, .. } => renamed(tables, at, *person, name, erased),
        Fact::BayCorrected { bay, bay_kind, rated_kg, .. } => {
            let row = tables.change::<BayRow>(at, &(bay.clone(),))?;
            (row.kind, row.rated_kg) = (*bay_kind, *rated_kg);
            Ok(())
        }
        Fact::YardSet { places_outside, moving_minutes } => {
            let sound = (0..=1_000).contains(places_outside) && (0..=1_440).contains(moving_minutes);
            at.demand(sound, "shop", || format!("{places_outside} places, {moving_minutes} min is no yard"))?;
            let row = tables.change::<ShopRow>(at, &())?;
            (row.places_outside, row.moving_minutes) = (*places_outside, *moving_minutes);
            Ok(())
        }
        Fact::SkillsSet { person, skills } => {
            tables.change::<PersonRow>(at, &(*person,))?.skills.clone_from(skills);
            Ok(())
        }
        Fact::PersonForgotten { person, texts } => forgotten(tables, at, *person, texts),
        Fact::TokenIssued { .. } => token_issued(tables, at, fact),
        Fact::TokenRevoked { token } => {
            let row = tables.change::<TokenRow>(at, &(*token,))?;
            at.demand(row.revoked_at.is_none(), "token", || format!("token {token} was revoked before"))?;
            row.revoked_at = Some(at.recorded);
            Ok(())
        }
        Fact::TokenLimited { token, expires_at } => {
            let row = tables.change::<TokenRow>(at, &(*token,))?;
            let earlier = row.revoked_at.is_none() && row.expires_at.is_none_or(|end| *expires_at < end);
            at.demand(earlier, "token", || format!("token {token} was over or ended by then already"))?;
            row.expires_at = Some(*expires_at);
            Ok(())
        }
        Fact::TemplatePublished { revision, template } => published(tables, at, *revision, template),
        Fact::VehicleAdded { vehicle, label, weight_kg } => {
            let (plate, customer) = (None, None);
            let (vehicle, label, weight_kg) = (*vehicle, label.id, *weight_kg);
            tables.add(at, VehicleRow { vehicle, label, plate, weight_kg, customer, added_n: at.n })
        }
        _ => Err(astray(at)),
    }
}

fn opened(tables: &mut Tables, at: At, name: &TextRef, zone: &str) -> Result<(), Fault> {
    tables.add(
        at,
        ShopRow {
            name: name.id,
            zone: zone.to_owned(),
            calendar_revision: 0,
            last_job: 0,
            opened_at: at.happened,
            opened_n: at.n,
            places_outside: 4,
            moving_minutes: 10,
        },
    )?;
    for kind in CONTRA {
        let place = PlaceKey::from(kind.word());
        tables.add(at, PlaceRow { place, kind, name: kind.word().to_owned(), job: None, added_n: at.n })?;
    }
    Ok(())
}

fn renamed(tables: &mut Tables, at: At, person: PersonId, name: &TextRef, erased: &[TextId]) -> Result<(), Fault> {
    let row = tables.change::<PersonRow>(at, &(person,))?;
    at.demand(!row.forgotten, "person", || format!("person {person} was forgotten before"))?;
    let before = std::mem::replace(&mut row.name, name.id);
    at.demand(erased == [before], "text_ref", || format!("text {before} was the name, and is to be erased alone"))?;
    let row = tables.change::<TextRow>(at, &(before,))?;
    at.demand(row.erased_n.is_none(), "text_ref", || format!("text {before} was erased before"))?;
    row.erased_n = Some(at.n);
    Ok(())
}

fn forgotten(tables: &mut Tables, at: At, person: PersonId, texts: &[TextId]) -> Result<(), Fault> {
    let row = tables.change::<PersonRow>(at, &(person,))?;
    // A second time only for words that the first one left.
    at.demand(!row.forgotten || !texts.is_empty(), "person", || format!("person {person} was forgotten before"))?;
    row.forgotten = true;
    for text in texts {
        let row = tables.change::<TextRow>(at, &(*text,))?;
        at.demand(row.erased_n.is_none(), "text_ref", || format!("text {text} was erased before"))?;
        row.erased_n = Some(at.n);
    }
    Ok(())
}

fn token_issued(tables: &mut Tables, at: At, fact: &Fact) -> Result<(), Fault> {
    let Fact::TokenIssued { token, principal, person, label, role, prefix, hash, expires_at } = fact else {
        return Err(astray(at));
    };
    if let Some(person) = person {
        tables.known::<PersonRow>(at, &(*person,))?;
    }
    tables.add(
        at,
        TokenRow {
            token: *token,
            principal: *principal,
            person: *person,
            label: label.as_ref().map(|text| text.id),
            role: *role,
            prefix: prefix.clone(),
            hash: hash.clone(),
            issued_at: at.recorded,
            expires_at: *expires_at,
            revoked_at: None,
            issued_n: at.n,
        },
    )
}

fn published(tables: &mut Tables, at: At, revision: i32, template: &Template) -> Result<(), Fault> {
    let earlier = tables.rows::<TemplateRow>().filter(|row| row.template == template.key);
    let last = earlier.map(|row| row.revision).max().unwrap_or(0);
    at.demand(revision > last, "template_revision", || {
        format!("revision {revision} of '{}' does not come after revision {last}", template.key)
    })?;
    tables.add(
        at,
        TemplateRow {
            template: template.key.clone(),
            revision,
            title: template.title.clone(),
            doc: template.clone(),
            published_at: at.recorded,
            published_n: at.n,
        },
    )
}
