//! Commands of the office: calendar, bays, persons, tokens, templates.

use super::Draw;
use super::opening::{TEMPLATE, week};
use crate::stock_kit::texts::texts_of;
use leadhand_domain::command::*;
use leadhand_domain::context::Chance;
use leadhand_facts::calendar::DayHours;
use leadhand_facts::words::{BayKind, Role};
use leadhand_facts::*;
use uuid::Uuid;

pub fn open_shop(draw: &mut Draw<'_>) -> Command {
    OpenShop { name: draw.words("Second shed"), zone: "UTC".into() }.into()
}

fn hours(draw: &mut Draw<'_>) -> calendar::Week {
    let (day, from) = (draw.below(7), draw.between(0, 900).try_into().expect("a small number"));
    let length: i32 = draw.between(-20, 540).try_into().expect("a small number");
    week(day, from, from + length)
}

pub fn set_hours(draw: &mut Draw<'_>) -> Command {
    SetHours { from_day: draw.day(-1, 30), week: hours(draw) }.into()
}

pub fn set_day(draw: &mut Draw<'_>) -> Command {
    let hours = if draw.below(2) == 0 {
        vec![]
    } else {
        vec![DayHours { from_minute: 600, until_minute: 720 }, DayHours { from_minute: 780, until_minute: 1440 }]
    };
    SetDay { day: draw.day(-1, 60), hours, reason: draw.sometimes("fair in town") }.into()
}

pub fn set_shift(draw: &mut Draw<'_>) -> Command {
    SetShift { person: draw.person(), from_day: draw.day(-1, 30), week: hours(draw) }.into()
}

pub fn add_bay(draw: &mut Draw<'_>) -> Command {
    let bay = draw.one_of(&["lift-2", "pit-2", "lift-1", "no key"]).unwrap_or("lift-2");
    let kind = draw.one_of(BayKind::ALL).unwrap_or(BayKind::Floor);
    AddBay { bay: bay.into(), name: draw.words("One more"), kind, rated_kg: 2500 }.into()
}

fn skills(draw: &mut Draw<'_>) -> Vec<String> {
    let skills: &[&str] = draw.one_of(&[&["engine"][..], &["engine", "welding"], &[], &["x", "x"]]).unwrap_or(&[]);
    skills.iter().map(|&skill| skill.to_owned()).collect()
}

pub fn add_person(draw: &mut Draw<'_>) -> Command {
    AddPerson { name: draw.words("Sorrel"), skills: skills(draw) }.into()
}

pub fn rename(draw: &mut Draw<'_>) -> Command {
    RenamePerson { person: draw.person(), name: draw.words("Sorrel Reed"), reason: draw.words("a slip") }.into()
}

pub fn set_yard(draw: &mut Draw<'_>) -> Command {
    let said = |draw: &mut Draw<'_>, most: i64| {
        (draw.below(3) > 0).then(|| i32::try_from(draw.between(-1, most)).unwrap_or(0))
    };
    SetYard { places_outside: said(draw, 5), moving_minutes: said(draw, 30) }.into()
}

pub fn set_skills(draw: &mut Draw<'_>) -> Command {
    SetSkills { person: draw.person(), skills: skills(draw) }.into()
}

/// The words that go are those that the office was shown.
pub fn forget(draw: &mut Draw<'_>) -> Command {
    let person = draw.person();
    let mut texts: Vec<TextId> = texts_of(draw.books, draw.journal, person).into_iter().collect();
    if draw.rarely(4) {
        texts.pop();
    }
    ForgetPerson { person, texts }.into()
}

pub fn issue_token(draw: &mut Draw<'_>) -> Command {
    let token = draw.chance.id();
    let person = (draw.below(4) != 3).then(|| draw.person());
    IssueToken {
        token: TokenId(token),
        principal: PrincipalId(draw.chance.id()),
        person,
        label: draw.sometimes("Bay tablet"),
        role: draw.one_of(Role::ALL).unwrap_or(Role::Viewer),
        prefix: "lhd_00000".into(),
        hash: format!("{:064x}", token.as_u128()),
        expires_at: (draw.below(3) == 2).then(|| draw.now.plus_minutes(draw.between(-5, 5000))),
    }
    .into()
}

pub fn revoke_token(draw: &mut Draw<'_>) -> Command {
    let all: Vec<TokenId> = draw.state.tokens.iter().map(|row| row.token).collect();
    let token = if draw.rarely(5) { None } else { draw.one_of(&all) };
    RevokeToken { token: token.unwrap_or(TokenId(Uuid::from_u128(9))) }.into()
}

pub fn publish(draw: &mut Draw<'_>) -> Command {
    let source = match draw.below(6) {
        4 => TEMPLATE.replace("gasket", "no-such"),
        5 => TEMPLATE.replace("kind = \"wait\"", "kind = \"nap\""),
        3 => TEMPLATE.replace("\"round\"", "\"twice-round\""),
        _ => TEMPLATE.replace("wait = 15", "wait = 45"),
    };
    PublishTemplate { source }.into()
}
