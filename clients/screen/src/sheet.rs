//! What every page below a bay's, and every desk, is drawn with.

use crate::form::{answered, plain};
use crate::pages::{Screen, as_of, html, said};
use crate::sessions::{Signed, Visitor};
use crate::sign_in::{back, keep};
use crate::texts::Texts;
use askama::Template;
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use jiff::Timestamp;
use jiff::tz::TimeZone;
use leadhand_sdk::v1::{GetShopRequest, Role};
use leadhand_sdk::{Client, Code, SdkError, moment, new_write};

/// The head and foot of a page.
pub struct Sheet {
    /// The words.
    pub t: Texts,
    /// Which files it goes with.
    pub edition: String,
    /// What it is called.
    pub title: String,
    /// Its own address, to which its forms go.
    pub own: String,
    /// Where a person goes on.
    pub home: String,
    /// What its forms carry.
    pub proof: String,
    /// Who is signed in.
    pub who: String,
    /// Whether one signs out here: at a desk. At a bay that stands on the bay's own page.
    pub leaves: bool,
    /// What is said once.
    pub notes: Vec<String>,
    /// As of when it is true.
    pub as_of: String,
    /// What was typed into a form that was refused, for the script.
    pub typed: String,
    /// Whether a lead may overrule that.
    pub overrule: bool,
}

impl Sheet {
    /// The id under which one form takes effect once.
    #[expect(clippy::unused_self, reason = "templates call methods of their page")]
    pub fn request(&self) -> String {
        new_write().request_id
    }
}

/// Somebody who is signed in and looks at a page.
pub struct Caller {
    /// The browser.
    pub visitor: Visitor,
    /// The person.
    pub signed: Signed,
    /// The shop's zone.
    pub zone: TimeZone,
    /// The moment.
    pub now: Timestamp,
}

impl Caller {
    /// The server, as this person.
    pub fn client(&self) -> &Client {
        &self.signed.client
    }
}

/// Who looks; an answer that leads to signing in when nobody does. `to` is the page.
pub async fn caller(screen: &Screen, headers: &HeaderMap, to: &str) -> Result<Caller, Box<Response>> {
    let visitor = screen.sessions.visitor(headers, moment::now());
    let Some(signed) = visitor.signed.clone() else {
        return Err(Box::new(Redirect::to(&format!("/sign-in?to={to}")).into_response()));
    };
    let frame = screen.hub.frame();
    let zone = match frame.zone.clone() {
        Some(zone) => zone,
        None => match screen.client.get_shop(GetShopRequest {}).await {
            Ok(shop) => crate::hub::zone_of(&shop),
            Err(error) => return Err(Box::new(failed(screen, visitor, &error, to))),
        },
    };
    let now = if frame.zone.is_some() { frame.now(tokio::time::Instant::now()) } else { moment::now() };
    Ok(Caller { visitor, signed, zone, now })
}

/// The page that says what went wrong; where the server ended the session, the way back in.
pub fn failed(screen: &Screen, mut visitor: Visitor, error: &SdkError, to: &str) -> Response {
    match error.code {
        Code::Unauthenticated if visitor.signed.is_some() => {
            screen.sessions.lapse(&mut visitor);
            Redirect::to(&format!("/sign-in?to={to}")).into_response()
        }
        Code::NotFound => said(screen, StatusCode::NOT_FOUND, plain(&error.message)),
        Code::PermissionDenied => said(screen, StatusCode::FORBIDDEN, plain(&error.message)),
        _ => said(screen, StatusCode::BAD_GATEWAY, answered(error, &screen.texts)),
    }
}

/// A sheet for this caller.
pub fn sheet(screen: &Screen, caller: &Caller, title: String, own: String, home: String) -> Sheet {
    Sheet {
        leaves: !own.starts_with("/bay/"),
        t: screen.texts.clone(),
        edition: screen.edition.to_string(),
        title,
        own,
        home,
        proof: screen.sessions.proof(&caller.visitor),
        who: caller.signed.name.clone(),
        notes: screen.sessions.notes(&caller.visitor),
        as_of: as_of(&screen.texts, caller.now, &caller.zone),
        overrule: screen.sessions.refused(&caller.visitor).is_some_and(|refused| refused.may && !refused.shown),
        typed: screen.sessions.typed(&caller.visitor).map(|fields| fields.for_script()).unwrap_or_default(),
    }
}

/// Where "back" leads on a page to which many others lead: to the one that somebody came from, else home.
pub fn came_from(screen: &Screen, caller: &Caller, headers: &HeaderMap, page: &'static str) -> String {
    let from = before(headers).filter(|from| *from != page);
    let home = match caller.signed.role {
        Role::Lead if page != "/desk" => "/desk",
        Role::Parts if page != "/parts" => "/parts",
        _ => "/",
    };
    screen.sessions.came(&caller.visitor, page, from).unwrap_or_else(|| home.to_owned())
}

/// The page of this screen on which a link was followed, by what the browser says of it.
fn before(headers: &HeaderMap) -> Option<&str> {
    let text = |name: header::HeaderName| headers.get(name).and_then(|value| value.to_str().ok());
    let (_, rest) = text(header::REFERER)?.split_once("://")?;
    let path = rest.strip_prefix(text(header::HOST)?)?;
    let path = path.split(['?', '#']).next().unwrap_or_default();
    (path.starts_with('/') && (path == "/" || back(path) != "/")).then_some(path)
}

/// The answer.
pub fn show(screen: &Screen, caller: &Caller, page: &impl Template) -> Response {
    keep(html(page, caller.now), screen, &caller.visitor)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn back_leads_to_a_page_of_this_screen_only() {
        let from = |referer: &str| {
            let headers = [(header::HOST, "shop.local:7480"), (header::REFERER, referer)];
            let headers = HeaderMap::from_iter(headers.map(|(name, value)| (name, value.parse().unwrap())));
            before(&headers).map(str::to_owned)
        };
        assert_eq!(from("http://shop.local:7480/desk"), Some("/desk".to_owned()));
        assert_eq!(from("https://shop.local:7480/bay/lift-1?undo=1.strip"), Some("/bay/lift-1".to_owned()));
        assert_eq!(from("http://shop.local:7480/"), Some("/".to_owned()));
        let elsewhere = ["http://evil.example/desk", "http://shop.local:7480.evil.example/desk", "/desk", ""];
        for other in
            elsewhere.into_iter().chain(["http://shop.local:7480//evil.example", "http://shop.local:7480/sign-out"])
        {
            assert_eq!(from(other), None, "{other}");
        }
    }
}
