//! What every page below a bay's, and every desk, is drawn with.

use crate::form::plain;
use crate::pages::{Screen, as_of, html, said};
use crate::sessions::{Signed, Visitor};
use crate::sign_in::keep;
use crate::texts::Texts;
use askama::Template;
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use jiff::Timestamp;
use jiff::tz::TimeZone;
use leadhand_sdk::v1::GetShopRequest;
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
        _ => said(screen, StatusCode::BAD_GATEWAY, plain(&error.message)),
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

/// The answer.
pub fn show(screen: &Screen, caller: &Caller, page: &impl Template) -> Response {
    keep(html(page, caller.now), screen, &caller.visitor)
}
