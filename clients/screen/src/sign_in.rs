//! Signing in at this screen: by the tile of the name and a PIN, or by a badge code.

use crate::pages::{Screen, html, said};
use crate::sessions::{Signed, Visitor};
use crate::texts::Texts;
use askama::Template;
use axum::extract::{Form, Query, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use leadhand_sdk::v1::{GetShopRequest, Role, SignInRequest, SignOutRequest, WhoAmIRequest};
use leadhand_sdk::{Client, SdkError, moment, new_write};

/// The longest that the contract lets a session last, in minutes. A shift is longer; see the map for contributors.
const MINUTES: i32 = 60;

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
struct Name {
    person: String,
    name: String,
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
    let shop = match screen.client.get_shop(GetShopRequest {}).await {
        Ok(shop) => shop,
        Err(error) => return said(screen, StatusCode::BAD_GATEWAY, error.message),
    };
    let known = shop.persons.into_iter().filter(|person| !person.forgotten && !person.name.is_empty());
    let mut names: Vec<Name> = known.map(|person| Name { person: person.person, name: person.name }).collect();
    names.sort_by(|a, b| a.name.cmp(&b.name));
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

/// Where a person goes on: a page of this screen, whatever was asked for.
pub fn back(to: &str) -> &str {
    let bay = to.strip_prefix("/bay/").unwrap_or_default();
    let plain = !bay.is_empty() && bay.bytes().all(|byte| byte.is_ascii_alphanumeric() || byte == b'-' || byte == b'_');
    if plain { to } else { "/" }
}

/// Signs in.
pub async fn sign_in(State(screen): State<Screen>, headers: HeaderMap, Form(filled): Form<Filled>) -> Response {
    let visitor = screen.sessions.visitor(&headers, moment::now());
    if !screen.sessions.proves(&visitor, &filled.proof) {
        return said(&screen, StatusCode::FORBIDDEN, screen.texts.say("refused-old-form"));
    }
    let asked = Asked { person: filled.person.clone(), to: filled.to.clone() };
    match begin(&screen.client, filled).await {
        Ok(signed) => {
            // Whoever was signed in here before is not any more.
            end(&visitor).await;
            let begun = screen.sessions.begin(&visitor, signed);
            keep(Redirect::to(back(&asked.to)).into_response(), &screen, &begun)
        }
        Err(error) => show(&screen, &visitor, &asked, &error.message).await,
    }
}

async fn begin(client: &Client, filled: Filled) -> Result<Signed, SdkError> {
    let person = if filled.badge.is_empty() { filled.person } else { String::new() };
    let pin = if filled.badge.is_empty() { filled.pin } else { String::new() };
    let request = SignInRequest { write: Some(new_write()), person, pin, badge: filled.badge, minutes: MINUTES };
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
async fn end(visitor: &Visitor) {
    if let Some(signed) = &visitor.signed {
        sign_out_at_server(&signed.client).await;
    }
}

async fn sign_out_at_server(own: &Client) {
    if let Err(error) = own.sign_out(SignOutRequest { write: Some(new_write()) }).await {
        tracing::warn!("a session could not be ended at the server, and ends by itself: {error}");
    }
}

/// What the form of signing out holds.
#[derive(serde::Deserialize)]
pub struct Leaving {
    #[serde(default)]
    proof: String,
    #[serde(default)]
    to: String,
}

/// Signs out.
pub async fn sign_out(State(screen): State<Screen>, headers: HeaderMap, Form(filled): Form<Leaving>) -> Response {
    let visitor = screen.sessions.visitor(&headers, moment::now());
    if !screen.sessions.proves(&visitor, &filled.proof) {
        return said(&screen, StatusCode::FORBIDDEN, screen.texts.say("refused-old-form"));
    }
    // Here at once, whatever the server says.
    screen.sessions.end(&visitor);
    end(&visitor).await;
    Redirect::to(back(&filled.to)).into_response()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signing_in_leads_to_a_page_of_this_screen_only() {
        assert_eq!(back("/bay/lift-1"), "/bay/lift-1");
        for elsewhere in ["", "//evil.example", "https://evil.example", "/bay/", "/bay/../x", "/bay/a?b", "/bay/a\r\nb"]
        {
            assert_eq!(back(elsewhere), "/", "{elsewhere:?}");
        }
    }
}
