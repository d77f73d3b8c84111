//! A lead's word over a refusal: with a reason, in the lead's own name, for whoever was refused.
//!
//! Whoever is signed in as a lead gives the reason. At a tablet that lies open all day a lead shows PIN or badge for this
//! one word, and whoever works there stays signed in.

use crate::act::Hand;
use crate::desk_act;
use crate::form::{Done, Fault, Fields, Writes, begin, finish};
use crate::named::named;
use crate::pages::Screen;
use crate::part::Choice;
use crate::sessions::{Refused, Signed};
use crate::sheet::{Sheet, caller, failed, sheet, show};
use crate::sign_in::{self, Name, Shown};
use crate::texts::Texts;
use askama::Template;
use axum::extract::{Form, Query, State};
use axum::http::HeaderMap;
use axum::response::{IntoResponse, Redirect, Response};
use leadhand_sdk::v1::{GetShopRequest, Person, Role, SignOutRequest};

/// Where it is.
const PAGE: &str = "/overrule";
/// What is touched in place of a lead's name.
const BY_BADGE: &str = "badge";
/// Whom the server names as one who may overrule a refusal.
const LEAD: &str = "lead";
/// Forms whose command takes a lead's reason.
const FORMS: [&str; 9] = ["start", "on", "tick", "tick-all", "take-off", "back", "back-all", "attempt", "assign"];

/// Whether a lead may overrule what was refused of this form. The server decides anyway.
pub fn may_be(fault: &Fault, fields: &Fields) -> bool {
    let Fault::Refused(error) = fault else { return false };
    by_a_lead(error.may_overrule.as_deref().unwrap_or_default(), fields.text("act"))
}

/// Whether the server names a lead, and the form's command takes a reason.
fn by_a_lead(named: &str, act: &str) -> bool {
    named == LEAD && FORMS.contains(&act)
}

#[derive(Template)]
#[template(path = "overrule.html")]
struct Page {
    sheet: Sheet,
    why: Vec<String>,
    reasons: Vec<Choice>,
    /// What was typed beside them before the lead's name was touched.
    words: String,
    /// Whoever may be the lead; nobody is asked for when a lead is signed in.
    names: Vec<Name>,
    chosen: Option<Name>,
    /// Whether the lead shows a badge instead.
    by_badge: bool,
    /// Whether a lead is signed in here.
    leads: bool,
}

/// What the page is asked for with.
#[derive(serde::Deserialize, Default)]
pub struct Asked {
    #[serde(default)]
    person: String,
    #[serde(default)]
    tile: String,
    #[serde(default)]
    words: String,
}

/// The page: what was refused, and the form of a lead's word.
pub async fn page(State(screen): State<Screen>, Query(asked): Query<Asked>, headers: HeaderMap) -> Response {
    let caller = match caller(&screen, &headers, "/").await {
        Ok(caller) => caller,
        Err(answer) => return *answer,
    };
    let Some(refused) = screen.sessions.refused(&caller.visitor).filter(|refused| refused.may) else {
        return Redirect::to("/").into_response();
    };
    let leads = caller.signed.role == Role::Lead;
    let names = match caller.client().get_shop(GetShopRequest {}).await {
        Ok(shop) => who_lead(shop.persons),
        Err(error) => return failed(&screen, caller.visitor, &error, &refused.page),
    };
    let chosen = names.iter().find(|name| name.person == asked.person).cloned();
    let sheet = sheet(&screen, &caller, screen.texts.say("overrule"), PAGE.to_owned(), refused.page);
    let reasons = reasons(&screen.texts, &asked.tile);
    show(
        &screen,
        &caller,
        &Page {
            sheet,
            why: refused.why,
            reasons,
            words: asked.words,
            names,
            chosen,
            by_badge: asked.person == BY_BADGE,
            leads,
        },
    )
}

/// The shop's leads, by name; everybody, where an older server says of nobody what they may do.
fn who_lead(persons: Vec<Person>) -> Vec<Name> {
    let said = persons.iter().any(|person| person.role() != Role::Unspecified);
    let leads =
        |person: &Person| !person.forgotten && !person.name.is_empty() && (!said || person.role() == Role::Lead);
    let mut names: Vec<Name> =
        persons.into_iter().filter(leads).map(|person| Name { person: person.person, name: person.name }).collect();
    names.sort_by(|a, b| a.name.cmp(&b.name));
    names
}

/// Reasons that a lead gives; more is typed beside them.
fn reasons(t: &Texts, touched: &str) -> Vec<Choice> {
    let all = ["overrule-looked", "overrule-order", "overrule-known", "overrule-beside"].map(|key| t.say(key));
    all.map(|words| Choice { value: words.clone(), chosen: words == touched, words }).into()
}

/// Does what was refused, with the lead's word.
pub async fn overrule(
    State(screen): State<Screen>,
    headers: HeaderMap,
    Form(fields): Form<Vec<(String, String)>>,
) -> Response {
    let fields = Fields(fields);
    let begun = match begin(&screen, &headers, &fields, "/") {
        Ok(begun) => begun,
        Err(answer) => return *answer,
    };
    let Some(refused) = screen.sessions.refused(&begun.visitor).filter(|refused| refused.may) else {
        // A double touch: the first did it.
        return Redirect::to("/").into_response();
    };
    match with_a_word(&screen, &begun.signed, begun.writes, &refused, &fields).await {
        Ok(done) => finish(&screen, &begun.visitor, &refused.fields, &refused.page, "", Ok(done)).await,
        Err(fault) => {
            let why = named(&begun.visitor, &refused.fields, fault.words(&screen.texts), &screen.texts).await;
            screen.sessions.note(&begun.visitor, why);
            // Whose PIN did not fit is asked for it again, and not who they are.
            let person = fields.text("person");
            let is_id = person == BY_BADGE || person.bytes().all(|byte| byte.is_ascii_hexdigit() || byte == b'-');
            let again = if is_id && !person.is_empty() { format!("{PAGE}?person={person}") } else { PAGE.to_owned() };
            Redirect::to(&again).into_response()
        }
    }
}

async fn with_a_word(
    screen: &Screen,
    signed: &Signed,
    writes: Writes,
    refused: &Refused,
    fields: &Fields,
) -> Result<Done, Fault> {
    let reason = fields.said();
    if reason.is_empty() {
        return Err(Fault::Words(screen.texts.say("overrule-why")));
    }
    if signed.role == Role::Lead {
        return again(screen, signed, &signed.name, writes, refused, &reason).await;
    }
    let text = |name: &str| fields.text(name).to_owned();
    let person = Some(text("person")).filter(|person| person != BY_BADGE).unwrap_or_default();
    let shown = Shown { person, pin: text("pin"), badge: text("badge") };
    // A session that lasts for one word.
    let lead = sign_in::open(&screen.client, shown, 1).await?;
    let done = if lead.role == Role::Lead {
        again(screen, &lead, &signed.name, writes, refused, &reason).await
    } else {
        Err(Fault::Words(screen.texts.fill("overrule-no-lead", "who", &lead.name)))
    };
    if let Err(error) = lead.client.sign_out(SignOutRequest { write: None }).await {
        tracing::warn!("a session could not be ended at the server, and ends by itself: {error}");
    }
    Ok(done?.note(screen.texts.fill("overruled-by", "who", &lead.name)))
}

/// The form that was refused, sent anew by the lead, for whoever was refused.
async fn again(
    screen: &Screen,
    lead: &Signed,
    who: &str,
    writes: Writes,
    refused: &Refused,
    reason: &str,
) -> Result<Done, Fault> {
    let mut writes = if lead.name == who { writes } else { writes.for_person(who) };
    if refused.page == "/desk" {
        let mut fields = refused.fields.clone();
        fields.0.push(("reason".to_owned(), reason.to_owned()));
        return desk_act::carry_out(&lead.client, &fields, &screen.texts, &mut writes).await;
    }
    let hand = Hand { client: &lead.client, fields: &refused.fields, t: &screen.texts, who, reason };
    hand.carry_out(&mut writes).await
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_form_that_takes_a_reason_may_be_overruled() {
        let form = |act: &str| Fields(vec![("act".to_owned(), act.to_owned())]);
        assert!(!may_be(&Fault::Words("no".into()), &form("start")), "what was typed can't be meant");
        assert!(by_a_lead("lead", "start") && !by_a_lead("lead", "finish"));
        assert!(!by_a_lead("", "start") && !by_a_lead("nobody", "start"), "the server alone says who");
        let fields = Fields(
            [("pin", "1"), ("proof", "2"), ("act", "tick"), ("found", "two")].map(|(a, b)| (a.into(), b.into())).into(),
        );
        assert_eq!(fields.shown_again().for_script(), r#"[["act","tick"],["found","two"]]"#);
    }

    #[test]
    fn only_leads_are_asked_for_a_leads_word() {
        let person = |name: &str, role: Role| Person { name: name.into(), role: role.into(), ..Person::default() };
        let mut all = vec![person("Wren", Role::Lead), person("Flint", Role::Technician), person("Ash", Role::Lead)];
        all.push(Person { forgotten: true, ..person("Elm", Role::Lead) });
        let names = |all: &[Person]| who_lead(all.to_vec()).into_iter().map(|one| one.name).collect::<Vec<_>>();
        assert_eq!(names(&all), ["Ash", "Wren"]);
        for one in &mut all {
            one.role = 0;
        }
        assert_eq!(names(&all), ["Ash", "Flint", "Wren"], "an older server says of nobody");
    }
}
