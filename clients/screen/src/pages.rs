//! Which page is where, and what every answer says to the browser.

use crate::frame::Seen;
use crate::hub::Hub;
use crate::marks;
use crate::sessions::Sessions;
use crate::texts::Texts;
use crate::{act, bay, sign_in, stream};
use askama::Template;
use axum::Router;
use axum::extract::{DefaultBodyLimit, Query, Request, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, StatusCode, header};
use axum::middleware::{Next, from_fn_with_state};
use axum::response::sse::Sse;
use axum::response::{Html, IntoResponse, Response};
use axum::routing::{get, post};
use leadhand_sdk::Client;
use std::collections::BTreeMap;
use std::sync::Arc;
use tokio::sync::Semaphore;
use tokio::time::Instant;
use tokio_util::sync::CancellationToken;

/// Streams at a time; a browser beyond them is told to come later.
const STREAMS_MAX: usize = 1000;
/// The largest form taken.
const FORM_MAX: usize = 16 * 1024;

/// What a page may load and do: its own styles, its own script, its own stream, forms that come back here.
const POLICY: &str = "default-src 'none'; style-src 'self'; script-src 'self'; connect-src 'self'; \
                      img-src 'self' data:; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// Files that never change within an edition.
const ASSETS: [(&str, &str, &str); 5] = [
    ("base.css", "text/css; charset=utf-8", include_str!("../assets/base.css")),
    ("shop.css", "text/css; charset=utf-8", include_str!("../assets/shop.css")),
    ("bay.css", "text/css; charset=utf-8", include_str!("../assets/bay.css")),
    ("shop.js", "text/javascript; charset=utf-8", include_str!("../assets/shop.js")),
    ("bay.js", "text/javascript; charset=utf-8", include_str!("../assets/bay.js")),
];

/// Everything that pages need.
#[derive(Clone)]
pub struct Screen {
    /// The server, as the screen itself.
    pub client: Client,
    /// The wall.
    pub hub: Hub,
    /// The words.
    pub texts: Texts,
    /// Who is signed in.
    pub sessions: Arc<Sessions>,
    /// Which files the pages go with.
    pub edition: Arc<str>,
    places: Arc<Semaphore>,
    stop: CancellationToken,
}

impl Screen {
    /// With nobody looking yet.
    pub fn new(client: Client, hub: Hub, texts: Texts, sessions: Arc<Sessions>, stop: CancellationToken) -> Self {
        let edition = edition(texts.lang()).into();
        Self { client, hub, texts, sessions, edition, places: Arc::new(Semaphore::new(STREAMS_MAX)), stop }
    }
}

/// A short name for the files and the language: FNV-1a of all of them.
fn edition(lang: &str) -> String {
    let all = ASSETS.iter().flat_map(|(_, _, text)| text.bytes()).chain(lang.bytes());
    let hash = all.fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x100_0000_01b3));
    format!("{}-{hash:x}", env!("CARGO_PKG_VERSION"))
}

/// Every page.
pub fn router(screen: Screen) -> Router {
    Router::new()
        .route("/", get(wall))
        .route("/events", get(events))
        .route("/bay/{bay}", get(bay::page).post(act::act))
        .route("/sign-in", get(sign_in::page).post(sign_in::sign_in))
        .route("/sign-out", post(sign_in::sign_out))
        .route("/assets/{name}", get(asset))
        .route("/healthz", get(health))
        .fallback(nothing_here)
        .layer(DefaultBodyLimit::max(FORM_MAX))
        .layer(from_fn_with_state(screen.clone(), guard))
        .with_state(screen)
}

/// Refuses what another site sent, and says to the browser what pages may do.
async fn guard(State(screen): State<Screen>, request: Request, next: Next) -> Response {
    let own = request.method().is_safe() || is_own(request.headers(), screen.sessions.secure());
    let cached = request.uri().path().starts_with("/assets/");
    let mut answer = if own {
        next.run(request).await
    } else {
        (StatusCode::FORBIDDEN, screen.texts.say("refused-from-elsewhere")).into_response()
    };
    let mut put = |name: HeaderName, value: &'static str| {
        answer.headers_mut().insert(name, HeaderValue::from_static(value));
    };
    put(header::CONTENT_SECURITY_POLICY, POLICY);
    put(header::X_CONTENT_TYPE_OPTIONS, "nosniff");
    // With "no-referrer" a browser would not say from where a form was sent (Fetch, "append a request Origin header").
    put(header::REFERRER_POLICY, "same-origin");
    put(HeaderName::from_static("cross-origin-opener-policy"), "same-origin");
    put(HeaderName::from_static("cross-origin-resource-policy"), "same-origin");
    put(HeaderName::from_static("permissions-policy"), "camera=(), microphone=(), geolocation=(), payment=()");
    put(header::CACHE_CONTROL, if cached { "public, max-age=31536000, immutable" } else { "no-store" });
    if screen.sessions.secure() {
        put(header::STRICT_TRANSPORT_SECURITY, "max-age=31536000");
    }
    answer
}

/// Whether a form was sent from a page of this screen.
fn is_own(headers: &HeaderMap, secure: bool) -> bool {
    let text = |name: HeaderName| headers.get(name).and_then(|value| value.to_str().ok());
    let scheme = if secure { "https" } else { "http" };
    match (text(header::ORIGIN), text(header::HOST)) {
        (Some(origin), Some(host)) => origin == format!("{scheme}://{host}"),
        _ => false,
    }
}

#[derive(Template)]
#[template(path = "wall.html")]
struct Wall<'a> {
    t: &'a Texts,
    edition: &'a str,
    id: String,
    now: i64,
    silent: Option<u64>,
    shop: &'a str,
    layout: &'a str,
    head: &'a str,
    bays: Vec<&'a str>,
    free: &'a str,
    outside: &'a str,
    bring: &'a str,
    zone: &'a str,
    words: String,
}

async fn wall(State(screen): State<Screen>) -> Response {
    let frame = screen.hub.frame();
    let at = Instant::now();
    let part = |name: &str| frame.parts.get(name).map_or("", |part| &*part.html);
    let page = Wall {
        t: &screen.texts,
        edition: &screen.edition,
        id: frame.id(),
        now: frame.now(at).as_millisecond(),
        silent: frame.silent_for(at),
        shop: &frame.shop,
        layout: &frame.layout,
        head: part("head"),
        bays: frame.order.iter().map(|name| part(name)).collect(),
        free: part("free"),
        outside: part("outside"),
        bring: part("bring"),
        zone: frame.zone.iana_name().unwrap_or("UTC"),
        words: script_words(&screen.texts),
    };
    html(&page, frame.now(at))
}

/// The words that the script puts in by itself.
fn script_words(texts: &Texts) -> String {
    let keys = ["live", "no-word-from-screen", "no-word-from-server", "waiting-for-server"];
    let mut words: BTreeMap<&str, String> = keys.into_iter().map(|key| (key, texts.fill(key, "s", "{s}"))).collect();
    words.insert("lang", texts.lang().to_owned());
    serde_json::to_string(&words).unwrap_or_default()
}

/// A page with its lengths of time.
pub fn html(page: &impl Template, now: jiff::Timestamp) -> Response {
    match page.render() {
        Ok(text) => Html(marks::fill(&text, now)).into_response(),
        Err(error) => {
            tracing::error!(%error, "a page can't be put together");
            StatusCode::INTERNAL_SERVER_ERROR.into_response()
        }
    }
}

#[derive(serde::Deserialize)]
struct After {
    after: Option<String>,
}

async fn events(State(screen): State<Screen>, Query(asked): Query<After>, headers: HeaderMap) -> Response {
    let Ok(place) = screen.places.clone().try_acquire_owned() else {
        let later = [(header::RETRY_AFTER, "10")];
        return (StatusCode::SERVICE_UNAVAILABLE, later, screen.texts.say("too-many-look")).into_response();
    };
    // What was heard last on this stream, else what the page was made with.
    let last = headers.get("last-event-id").and_then(|id| id.to_str().ok()).map(str::to_owned);
    let seen = last.or(asked.after).as_deref().and_then(Seen::parse);
    Sse::new(stream::events(&screen.hub, seen, screen.edition.clone(), place, screen.stop.clone())).into_response()
}

async fn asset(axum::extract::Path(name): axum::extract::Path<String>) -> Response {
    match ASSETS.iter().find(|(known, ..)| *known == name) {
        Some((_, kind, text)) => ([(header::CONTENT_TYPE, *kind)], *text).into_response(),
        None => StatusCode::NOT_FOUND.into_response(),
    }
}

/// Whether pages are served. A server that is not heard is no reason to start this program anew.
async fn health(State(screen): State<Screen>) -> String {
    let frame = screen.hub.frame();
    match frame.silent_for(Instant::now()) {
        None => format!("ok, live at {}\n", frame.number),
        Some(silent) => format!("ok, no word from the server for {} s\n", silent / 1000),
    }
}

#[derive(Template)]
#[template(path = "nothing.html")]
struct Nothing<'a> {
    t: &'a Texts,
    edition: &'a str,
    words: String,
}

async fn nothing_here(State(screen): State<Screen>) -> Response {
    said(&screen, StatusCode::NOT_FOUND, screen.texts.say("nothing-here"))
}

/// A page that says one thing.
pub fn said(screen: &Screen, status: StatusCode, words: String) -> Response {
    let page = Nothing { t: &screen.texts, edition: &screen.edition, words };
    (status, html(&page, jiff::Timestamp::UNIX_EPOCH)).into_response()
}

#[cfg(test)]
#[path = "pages_tests.rs"]
mod tests;
