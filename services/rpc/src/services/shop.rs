//! The shop itself: bays, persons, hours, tokens.

use super::{serve, unfit};
use crate::call::Call;
use crate::convert::time::{instant_some, stamp, timestamp};
use crate::convert::{calendar, enums, fields, invalid, notice::receipt, page};
use leadhand_app::{App, AppError};
use leadhand_domain::answer::Made;
use leadhand_domain::command::{
    AddBay, AddPerson, ForgetPerson, RenamePerson, RevokeToken, SetBay, SetDay, SetHours, SetShift, SetSkills, SetYard,
};
use leadhand_facts::TokenId;
use leadhand_facts::words::Role;
use leadhand_proto::v1;
use leadhand_proto::v1::shop_service_server::ShopService;
use std::collections::BTreeMap;

/// The service.
pub struct Shop {
    pub(crate) app: App,
}

serve! { ShopService for Shop {
    get_shop(GetShopRequest) -> GetShopResponse;
    who_am_i(WhoAmIRequest) -> WhoAmIResponse;
    add_bay(AddBayRequest) -> AddBayResponse;
    add_person(AddPersonRequest) -> AddPersonResponse;
    set_bay(SetBayRequest) -> SetBayResponse;
    rename_person(RenamePersonRequest) -> RenamePersonResponse;
    set_skills(SetSkillsRequest) -> SetSkillsResponse;
    set_yard(SetYardRequest) -> SetYardResponse;
    forget_person(ForgetPersonRequest) -> ForgetPersonResponse;
    set_hours(SetHoursRequest) -> SetHoursResponse;
    set_day(SetDayRequest) -> SetDayResponse;
    set_shift(SetShiftRequest) -> SetShiftResponse;
    get_calendar(GetCalendarRequest) -> GetCalendarResponse;
    issue_token(IssueTokenRequest) -> IssueTokenResponse;
    revoke_token(RevokeTokenRequest) -> RevokeTokenResponse;
    list_tokens(ListTokensRequest) -> ListTokensResponse;
} also {} }

async fn get_shop(call: &Call, _: v1::GetShopRequest) -> Result<v1::GetShopResponse, AppError> {
    let view = call.app.shop(&call.who).await?;
    // What somebody may do is nothing that a screen on a wall is told.
    let is_told = call.who.role != Role::Viewer;
    let roles = if is_told { call.app.roles(&call.who).await? } else { BTreeMap::default() };
    let bays = view.bays.iter().map(|bay| v1::Bay {
        bay: bay.bay.to_string(),
        name: bay.name.clone(),
        kind: enums::bay_kind(bay.kind),
        rated_kg: bay.rated_kg,
    });
    let persons = view.persons.iter().map(|person| v1::Person {
        person: person.person.to_string(),
        name: view.words.get(Some(person.name)).to_owned(),
        skills: person.skills.clone(),
        forgotten: person.forgotten,
        role: roles.get(&person.person).map_or(v1::Role::Unspecified.into(), |role| enums::role(*role)),
    });
    Ok(v1::GetShopResponse {
        shop: view.id.to_string(),
        name: view.words.get(Some(view.shop.name)).to_owned(),
        zone: view.shop.zone.clone(),
        bays: bays.collect(),
        persons: persons.collect(),
        number: view.number,
        places_outside: view.shop.places_outside,
        moving_minutes: view.shop.moving_minutes,
    })
}

async fn who_am_i(call: &Call, _: v1::WhoAmIRequest) -> Result<v1::WhoAmIResponse, AppError> {
    let view = call.app.shop(&call.who).await?;
    let person = call.who.person.and_then(|id| view.persons.iter().find(|person| person.person == id));
    Ok(v1::WhoAmIResponse {
        shop: view.id.to_string(),
        shop_name: view.words.get(Some(view.shop.name)).to_owned(),
        role: enums::role(call.who.role),
        person: call.who.person.map(|person| person.to_string()).unwrap_or_default(),
        name: view.words.get(person.map(|person| person.name)).to_owned(),
        expires_at: stamp(call.who.expires_at),
        server_version: env!("CARGO_PKG_VERSION").to_owned(),
        server_time: Some(timestamp(view.now)),
        device: call.who.device.map(|device| device.to_string()).unwrap_or_default(),
    })
}

async fn add_bay(call: &Call, asked: v1::AddBayRequest) -> Result<v1::AddBayResponse, AppError> {
    let bay = asked.bay.unwrap_or_default();
    let command = AddBay {
        bay: fields::key("bay.bay", &bay.bay)?,
        name: bay.name,
        kind: enums::read_bay_kind("bay.kind", bay.kind)?,
        rated_kg: bay.rated_kg,
    };
    Ok(v1::AddBayResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn add_person(call: &Call, asked: v1::AddPersonRequest) -> Result<v1::AddPersonResponse, AppError> {
    fields::bounded("skills", &asked.skills)?;
    let outcome = call.execute(asked.write, AddPerson { name: asked.name, skills: asked.skills }).await?;
    let Made::Person(person) = outcome.answer.made else { return Err(unfit("a person", &outcome)) };
    Ok(v1::AddPersonResponse { receipt: receipt(&outcome), person: person.to_string() })
}

async fn set_yard(call: &Call, asked: v1::SetYardRequest) -> Result<v1::SetYardResponse, AppError> {
    let command = SetYard { places_outside: asked.places_outside, moving_minutes: asked.moving_minutes };
    Ok(v1::SetYardResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn set_bay(call: &Call, asked: v1::SetBayRequest) -> Result<v1::SetBayResponse, AppError> {
    let said = asked.kind != i32::from(v1::BayKind::Unspecified);
    let command = SetBay {
        bay: fields::key("bay", &asked.bay)?,
        kind: said.then(|| enums::read_bay_kind("kind", asked.kind)).transpose()?,
        rated_kg: rated_kg(asked.rated_kg, asked.clear_rated_kg)?,
        reason: asked.reason,
    };
    Ok(v1::SetBayResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

/// What a bay bears: 0 where it has no rating of its own, and nothing where it stays as it was.
fn rated_kg(said: i32, clear: bool) -> Result<Option<i32>, AppError> {
    match (clear, fields::positive_some("rated_kg", said)?) {
        (true, Some(_)) => {
            Err(invalid("clear_rated_kg", "a rating is given in its place as well; say one or the other"))
        }
        (true, None) => Ok(Some(0)),
        (false, said) => Ok(said),
    }
}

async fn rename_person(call: &Call, asked: v1::RenamePersonRequest) -> Result<v1::RenamePersonResponse, AppError> {
    let person = call.person("person", &asked.person).await?;
    let command = RenamePerson { person, name: asked.name, reason: asked.reason };
    Ok(v1::RenamePersonResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn set_skills(call: &Call, asked: v1::SetSkillsRequest) -> Result<v1::SetSkillsResponse, AppError> {
    fields::bounded("skills", &asked.skills)?;
    let command = SetSkills { person: call.person("person", &asked.person).await?, skills: asked.skills };
    Ok(v1::SetSkillsResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn forget_person(call: &Call, asked: v1::ForgetPersonRequest) -> Result<v1::ForgetPersonResponse, AppError> {
    let command = ForgetPerson { person: call.person("person", &asked.person).await?, texts: Vec::new() };
    Ok(v1::ForgetPersonResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn set_hours(call: &Call, asked: v1::SetHoursRequest) -> Result<v1::SetHoursResponse, AppError> {
    let command = SetHours { from_day: asked.from_day, week: calendar::week(&asked.week)? };
    Ok(v1::SetHoursResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn set_day(call: &Call, asked: v1::SetDayRequest) -> Result<v1::SetDayResponse, AppError> {
    let command = SetDay {
        day: asked.day,
        hours: calendar::hours("hours", &asked.hours)?,
        reason: fields::text_some(asked.reason),
    };
    Ok(v1::SetDayResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn set_shift(call: &Call, asked: v1::SetShiftRequest) -> Result<v1::SetShiftResponse, AppError> {
    let week = calendar::week(&asked.week)?;
    let person = call.person("person", &asked.person).await?;
    let outcome = call.execute(asked.write, SetShift { person, from_day: asked.from_day, week }).await?;
    Ok(v1::SetShiftResponse { receipt: receipt(&outcome) })
}

async fn get_calendar(call: &Call, asked: v1::GetCalendarRequest) -> Result<v1::GetCalendarResponse, AppError> {
    let from_at = instant_some("from_at", asked.from_at)?;
    let until_at = instant_some("until_at", asked.until_at)?;
    let person = call.person_known("person", &asked.person).await?;
    Ok(calendar::calendar(&call.app.calendar(&call.who, person, from_at, until_at).await?))
}

async fn issue_token(call: &Call, asked: v1::IssueTokenRequest) -> Result<v1::IssueTokenResponse, AppError> {
    let role = enums::read_role("role", asked.role)?;
    let expires_at = instant_some("expires_at", asked.expires_at)?;
    let person = call.person_some("person", &asked.person).await?;
    let write = call.write(asked.write).await?;
    let label = fields::text_some(asked.label);
    let (outcome, secret) = call.app.issue_token(&call.who, write, role, person, label, expires_at).await?;
    let Made::Token(token) = outcome.answer.made else { return Err(unfit("a token", &outcome)) };
    Ok(v1::IssueTokenResponse {
        receipt: receipt(&outcome),
        token: token.to_string(),
        secret: secret.unwrap_or_default(),
    })
}

async fn revoke_token(call: &Call, asked: v1::RevokeTokenRequest) -> Result<v1::RevokeTokenResponse, AppError> {
    let command = RevokeToken { token: TokenId(fields::id("token", &asked.token)?) };
    Ok(v1::RevokeTokenResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn list_tokens(call: &Call, asked: v1::ListTokensRequest) -> Result<v1::ListTokensResponse, AppError> {
    let after = page::read("tokens", &asked.page_token, page::number)?.unwrap_or_default();
    let found = call.app.tokens(&call.who, after, page::size(asked.page_size)?).await?;
    let tokens = found.tokens.iter().zip(&found.names).map(|(row, name)| v1::Token {
        token: row.token.to_string(),
        prefix: row.prefix.clone(),
        role: enums::role(row.role),
        person: row.person.map(|person| person.to_string()).unwrap_or_default(),
        name: found.words.get(*name).to_owned(),
        issued_at: Some(timestamp(row.issued_at)),
        expires_at: stamp(row.expires_at),
        revoked_at: stamp(row.revoked_at),
        expired: row.expires_at.is_some_and(|end| end <= found.now),
    });
    Ok(v1::ListTokensResponse { tokens: tokens.collect(), next_page_token: page::token("tokens", found.next) })
}
