//! Which page is where, and what every answer says to the browser.

use crate::frame::{Frame, Seen};
use crate::hosts::Hosts;
use crate::hub::Hub;
use crate::marks;
use crate::part::Choice;
use crate::sessions::Sessions;
use crate::texts::Texts;
use crate::{
    act, bay, desk, desk_act, fill, going, hours, hours_act, leaving, measure, met, opening, overrule, part, sign_in,
    stores, stores_act, stream, witness,
};
use askama::Template;
use axum::Router;
use axum::body::to_bytes;
use axum::extract::{Path, Query, Request, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, StatusCode, header};
use axum::middleware::{Next, from_fn_with_state};
use axum::response::sse::Sse;
use axum::response::{Html, IntoResponse, Response};
use axum::routing::get;
use leadhand_sdk::{Client, moment};
use std::collections::BTreeMap;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::Semaphore;
use tokio::time::{Instant, timeout};
use tokio_util::sync::CancellationToken;

/// Streams at a time; a browser beyond them is told to come later.
const STREAMS_MAX: usize = 1000;
/// The largest form taken.
const FORM_MAX: usize = 16 * 1024;
/// How long a browser may take to send it.
const FORM_WITHIN: Duration = Duration::from_secs(10);

/// What a page may load and do: its own styles, its own script, its own stream, forms that come back here.
const POLICY: &str = "default-src 'none'; style-src 'self'; script-src 'self'; connect-src 'self'; \
                      img-src 'self' data:; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// Files that never change within an edition.
const ASSETS: [(&str, &str, &str); 8] = [
    ("base.css", "text/css; charset=utf-8", include_str!("../assets/base.css")),
    ("shop.css", "text/css; charset=utf-8", include_str!("../assets/shop.css")),
    ("bay.css", "text/css; charset=utf-8", include_str!("../assets/bay.css")),
    ("shop.js", "text/javascript; charset=utf-8", include_str!("../assets/shop.js")),
    ("bay.js", "text/javascript; charset=utf-8", include_str!("../assets/bay.js")),
    ("desk.css", "text/css; charset=utf-8", include_str!("../assets/desk.css")),
    ("desk.js", "text/javascript; charset=utf-8", include_str!("../assets/desk.js")),
    ("watch.js", "text/javascript; charset=utf-8", include_str!("../assets/watch.js")),
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
    hosts: Arc<Hosts>,
    places: Arc<Semaphore>,
    stop: CancellationToken,
}

impl Screen {
    /// With nobody looking yet.
    pub fn new(
        client: Client,
        hub: Hub,
        texts: Texts,
        sessions: Arc<Sessions>,
        hosts: Hosts,
        stop: CancellationToken,
    ) -> Self {
        let edition = edition(texts.lang()).into();
        let (hosts, places) = (Arc::new(hosts), Arc::new(Semaphore::new(STREAMS_MAX)));
        Self { client, hub, texts, sessions, edition, hosts, places, stop }
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
        .route("/bay/{bay}/events", get(bay_events))
        .route("/bay/{bay}/job/{job}/part/{position}", get(part::page))
        .route("/bay/{bay}/job/{job}/reading/{reading}", get(measure::page).post(measure::record))
        .route("/bay/{bay}/job/{job}/fill/{fluid}", get(fill::page).post(fill::reserve))
        .route("/bay/{bay}/job/{job}/look/{what}", get(witness::page).post(witness::look))
        .route("/bay/{bay}/job/{job}/met/{stage}", get(met::page))
        .route("/desk", get(desk::page).post(desk_act::act))
        .route("/desk/new", get(opening::page).post(opening::open))
        .route("/desk/job/{job}/hand-over", get(leaving::page).post(leaving::hand_over))
        .route("/parts", get(stores::page).post(stores_act::act))
        .route("/time", get(hours::page).post(hours_act::act))
        .route("/overrule", get(overrule::page).post(overrule::overrule))
        .route("/sign-in", get(sign_in::page).post(sign_in::sign_in))
        .route("/sign-out", get(going::page).post(going::sign_out))
        .route("/assets/{name}", get(asset))
        .route("/healthz", get(health))
        .fallback(nothing_here)
        .layer(from_fn_with_state(screen.clone(), guard))
        .with_state(screen)
}

/// Refuses what came under another's name or what another site sent, and says to the browser what pages may do.
async fn guard(State(screen): State<Screen>, request: Request, next: Next) -> Response {
    let own = request.method().is_safe() || is_own(request.headers(), screen.sessions.secure());
    let cached = request.uri().path().starts_with("/assets/");
    let mut answer = if !screen.hosts.serve(request.headers()) {
        (StatusCode::MISDIRECTED_REQUEST, screen.texts.say("refused-host")).into_response()
    } else if own {
        served(&screen, request, next).await
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

/// Takes what is sent along first, which may not take for ever.
async fn served(screen: &Screen, request: Request, next: Next) -> Response {
    let (head, body) = request.into_parts();
    match timeout(FORM_WITHIN, to_bytes(body, FORM_MAX)).await {
        Ok(Ok(bytes)) => next.run(Request::from_parts(head, bytes.into())).await,
        _ => (StatusCode::BAD_REQUEST, screen.texts.say("refused-form")).into_response(),
    }
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
    /// The moment at which it was true, for whom no script keeps it so; nothing before anything is shown.
    as_of: String,
    words: String,
    /// Other pages for whoever is signed in at this browser.
    doors: Vec<Choice>,
}

async fn wall(State(screen): State<Screen>, headers: HeaderMap) -> Response {
    let (frame, at) = (screen.hub.frame(), Instant::now());
    let signed = screen.sessions.visitor(&headers, moment::now()).signed;
    let doors = signed.map(|signed| desk::doors(signed.role, &screen.texts)).unwrap_or_default();
    html(&Wall { doors, ..wall_of(&screen.texts, &screen.edition, &frame, at) }, frame.now(at))
}

fn wall_of<'a>(t: &'a Texts, edition: &'a str, frame: &'a Frame, at: Instant) -> Wall<'a> {
    let part = |name: &str| frame.parts.get(name).map_or("", |part| &*part.html);
    Wall {
        t,
        edition,
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
        zone: frame.zone_name(),
        as_of: frame.zone.as_ref().map(|zone| as_of(t, frame.true_at(at), zone)).unwrap_or_default(),
        words: script_words(t),
        doors: Vec::new(),
    }
}

/// As of when a page is true, to the second, with the day: nobody knows for how long it has stood there.
pub fn as_of(texts: &Texts, at: jiff::Timestamp, zone: &jiff::tz::TimeZone) -> String {
    texts.fill("as-of", "when", &at.to_zoned_datetime(zone.clone()).strftime("%F %T").to_string())
}

/// The words that the script puts in by itself.
pub fn script_words(texts: &Texts) -> String {
    let keys = ["live", "no-word-from-screen", "no-word-from-server", "waiting-for-server", "changed-meanwhile"];
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
    // What was heard last on this stream, else what the page was made with.
    let last = headers.get("last-event-id").and_then(|id| id.to_str().ok()).map(str::to_owned);
    stream_of(&screen, None, last.or(asked.after).as_deref().and_then(Seen::parse))
}

async fn bay_events(State(screen): State<Screen>, Path(bay): Path<String>) -> Response {
    stream_of(&screen, Some(bay), None)
}

fn stream_of(screen: &Screen, bay: Option<String>, seen: Option<Seen>) -> Response {
    let Ok(place) = screen.places.clone().try_acquire_owned() else {
        let later = [(header::RETRY_AFTER, "10")];
        return (StatusCode::SERVICE_UNAVAILABLE, later, screen.texts.say("too-many-look")).into_response();
    };
    let stop = screen.stop.clone();
    Sse::new(stream::events(&screen.hub, bay, seen, screen.edition.clone(), place, stop)).into_response()
}

async fn asset(Path(name): Path<String>) -> Response {
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
    /// Whether it may be otherwise in a moment: a screen that nobody touches comes back by itself.
    again: bool,
    /// The page for which somebody else may sign in; mostly empty.
    to: &'a str,
}

async fn nothing_here(State(screen): State<Screen>) -> Response {
    said(&screen, StatusCode::NOT_FOUND, screen.texts.say("nothing-here"))
}

/// A page that says one thing.
pub fn said(screen: &Screen, status: StatusCode, words: String) -> Response {
    let (t, edition, again) = (&screen.texts, &*screen.edition, status.is_server_error());
    (status, html(&Nothing { t, edition, words, again, to: "" }, jiff::Timestamp::UNIX_EPOCH)).into_response()
}

/// The page that says for whom another one is, with the way to sign in for it.
pub fn not_for(screen: &Screen, words: &str, to: &str) -> Response {
    let (t, edition, words) = (&screen.texts, &*screen.edition, screen.texts.say(words));
    let page = Nothing { t, edition, words, again: false, to };
    (StatusCode::FORBIDDEN, html(&page, jiff::Timestamp::UNIX_EPOCH)).into_response()
}

#[cfg(test)]
#[path = "pages_tests.rs"]
mod tests;
