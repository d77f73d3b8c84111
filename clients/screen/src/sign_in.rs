//! Signing in at this screen: by the tile of the name and a PIN, or by a badge code.

use crate::form::answered;
use crate::pages::{Screen, html, said};
use crate::sessions::{Signed, Visitor};
use crate::shift;
use crate::texts::Texts;
use askama::Template;
use axum::extract::{Form, Query, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use leadhand_sdk::v1::{GetShopRequest, Role, SignInRequest, SignOutRequest, WhoAmIRequest};
use leadhand_sdk::{Client, SdkError, moment, new_write};

#[derive(Template)]
#[template(path = "sign_in.html")]
struct Page<'a> {
    t: &'a Texts,
    edition: &'a str,
    proof: String,
    to: &'a str,
    said: &'a str,
    names: Vec<Name>,
    /// The person whose tile was touched.
    chosen: Option<Name>,
}

/// A person's tile.
#[derive(Clone)]
pub struct Name {
    /// The id.
    pub person: String,
    /// The name.
    pub name: String,
}

/// What somebody shows to sign in.
pub struct Shown {
    /// Whose tile was touched.
    pub person: String,
    /// The PIN.
    pub pin: String,
    /// The badge's code, which counts before the others.
    pub badge: String,
}

/// Everybody who may sign in, by name.
pub async fn names(client: &Client) -> Result<Vec<Name>, SdkError> {
    let shop = client.get_shop(GetShopRequest {}).await?;
    let known = shop.persons.into_iter().filter(|person| !person.forgotten && !person.name.is_empty());
    let mut names: Vec<Name> = known.map(|person| Name { person: person.person, name: person.name }).collect();
    names.sort_by(|a, b| a.name.cmp(&b.name));
    Ok(names)
}

/// What the page is asked for with.
#[derive(serde::Deserialize, Default)]
pub struct Asked {
    #[serde(default)]
    person: String,
    #[serde(default)]
    to: String,
}

/// What the form holds.
#[derive(serde::Deserialize)]
pub struct Filled {
    #[serde(default)]
    proof: String,
    #[serde(default)]
    person: String,
    #[serde(default)]
    pin: String,
    #[serde(default)]
    badge: String,
    #[serde(default)]
    to: String,
}

/// The page of tiles; of the PIN when a tile was touched.
pub async fn page(State(screen): State<Screen>, Query(asked): Query<Asked>, headers: HeaderMap) -> Response {
    let visitor = screen.sessions.visitor(&headers, moment::now());
    show(&screen, &visitor, &asked, "").await
}

async fn show(screen: &Screen, visitor: &Visitor, asked: &Asked, words: &str) -> Response {
    let names = match names(&screen.client).await {
        Ok(names) => names,
        Err(error) => return said(screen, StatusCode::BAD_GATEWAY, answered(&error, &screen.texts)),
    };
    let chosen = names.iter().find(|name| name.person == asked.person).cloned();
    let page = Page {
        t: &screen.texts,
        edition: &screen.edition,
        proof: screen.sessions.proof(visitor),
        to: back(&asked.to),
        said: words,
        names,
        chosen,
    };
    let status = if words.is_empty() { StatusCode::OK } else { StatusCode::FORBIDDEN };
    keep((status, html(&page, moment::now())).into_response(), screen, visitor)
}

/// The answer with what makes the browser keep its cookie.
pub fn keep(mut answer: Response, screen: &Screen, visitor: &Visitor) -> Response {
    if let Some(cookie) = screen.sessions.cookie(visitor) {
        answer.headers_mut().insert(header::SET_COOKIE, cookie);
    }
    answer
}

/// Pages that a person goes on to after signing in.
const HOMES: [&str; 4] = ["bay", "desk", "parts", "time"];

/// Where a person goes on: a page of this screen, whatever was asked for.
pub fn back(to: &str) -> &str {
    let mut parts = to.split('/');
    let (before, home) = (parts.next(), parts.next().unwrap_or_default());
    let plain = |part: &str| {
        let known = |byte: u8| byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'_' | b':');
        !part.is_empty() && part.bytes().all(known)
    };
    let below = to.len() > home.len() + 1;
    let whole = before == Some("") && HOMES.contains(&home) && parts.all(plain);
    if whole && (below || home != "bay") { to } else { "/" }
}

/// Signs in.
pub async fn sign_in(State(screen): State<Screen>, headers: HeaderMap, Form(filled): Form<Filled>) -> Response {
    let visitor = screen.sessions.visitor(&headers, moment::now());
    if !screen.sessions.proves(&visitor, &filled.proof) {
        return said(&screen, StatusCode::FORBIDDEN, screen.texts.say("refused-old-form"));
    }
    let asked = Asked { person: filled.person.clone(), to: filled.to.clone() };
    let shown = Shown { person: filled.person, pin: filled.pin, badge: filled.badge };
    match open(&screen.client, shown, shift::minutes(&screen, back(&asked.to)).await).await {
        Ok(signed) => {
            // Whoever was signed in here before is not any more.
            end_at_server(&visitor).await;
            let begun = screen.sessions.begin(&visitor, signed);
            keep(Redirect::to(back(&asked.to)).into_response(), &screen, &begun)
        }
        Err(error) => show(&screen, &visitor, &asked, &answered(&error, &screen.texts)).await,
    }
}

/// Begins a session of so many minutes.
pub async fn open(client: &Client, shown: Shown, minutes: i32) -> Result<Signed, SdkError> {
    let Shown { person, pin, badge } = shown;
    let (person, pin) = if badge.is_empty() { (person, pin) } else { (String::new(), String::new()) };
    let request = SignInRequest { write: Some(new_write()), person, pin, badge, minutes };
    let answer = client.sign_in(request).await?;
    let own = Client::connect(client.endpoint().clone().token(answer.secret))?;
    let who = match own.who_am_i(WhoAmIRequest {}).await {
        Ok(who) => who,
        Err(error) => {
            // A session that nobody will have is not left open.
            sign_out_at_server(&own).await;
            return Err(error);
        }
    };
    let until = answer.expires_at.as_ref().and_then(moment::from_wire).unwrap_or_else(moment::now);
    let role = Role::try_from(answer.role).unwrap_or_default();
    Ok(Signed { client: own, name: who.name, role, until })
}

/// Ends what a visitor has at the server. Where that fails, it ends there by itself.
pub async fn end_at_server(visitor: &Visitor) {
    if let Some(signed) = &visitor.signed {
        sign_out_at_server(&signed.client).await;
    }
}

async fn sign_out_at_server(own: &Client) {
    if let Err(error) = own.sign_out(SignOutRequest { write: Some(new_write()) }).await {
        tracing::warn!("a session could not be ended at the server, and ends by itself: {error}");
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signing_in_leads_to_a_page_of_this_screen_only() {
        for own in ["/bay/lift-1", "/bay/lift-1/job/7/look/strip:4", "/desk", "/desk/new", "/parts/count", "/time"] {
            assert_eq!(back(own), own);
        }
        let outside = ["", "/", "//evil.example", "https://evil.example", "/bay", "/bay/", "/bay/../x", "/bay/a?b"];
        for elsewhere in outside.into_iter().chain(["/bay/a\r\nb", "/desk//evil", "/desk/", "/sign-out", "bay/a"]) {
            assert_eq!(back(elsewhere), "/", "{elsewhere:?}");
        }
    }
}
