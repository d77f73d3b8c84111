//! Signing out: whoever is on the clock is asked first, as at clocking off, whether anything is half done.

use crate::act::Hand;
use crate::form::{Done, Fields, begin, finish};
use crate::pages::{Screen, said};
use crate::sessions::Visitor;
use crate::sheet::{Sheet, caller, failed, sheet, show};
use crate::sign_in::{back, end_at_server};
use crate::view::key;
use askama::Template;
use axum::extract::{Form, Query, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use leadhand_sdk::v1::{BoardJob, BoardStage, GetBoardRequest, GetJobRequest, StepState};
use leadhand_sdk::{Client, SdkError, moment};

/// The page's address.
const PAGE: &str = "/sign-out";

#[derive(Template)]
#[template(path = "going.html")]
struct Page {
    sheet: Sheet,
    /// Where the person goes on.
    to: String,
    on: OnClock,
}

/// Where somebody is on the clock.
struct OnClock {
    /// The bay; empty outside.
    bay: String,
    job: i64,
    stage: String,
    title: String,
    /// Steps that are left, with their numbers.
    left: Vec<(i32, String)>,
}

/// What the page is asked for with.
#[derive(serde::Deserialize, Default)]
pub struct Asked {
    #[serde(default)]
    to: String,
}

/// Where this person is on the clock; nowhere when the server finds none of that name on a stage.
async fn on_clock(client: &Client, who: &str) -> Result<Option<OnClock>, SdkError> {
    let board = client.get_board(GetBoardRequest {}).await?;
    let inside = board.bays.iter().filter_map(|bay| Some((key(bay), bay.job.as_ref()?)));
    let outside = board.outside.iter().map(|job| ("", job));
    let is_on = |stage: &&BoardStage| stage.persons.iter().any(|person| person.name == who);
    let on = |(bay, job): (_, &BoardJob)| Some((bay, job.job, job.active.iter().find(is_on)?.clone()));
    let Some((bay, job, stage)) = inside.chain(outside).find_map(on) else { return Ok(None) };
    let whole = client.get_job(GetJobRequest { job }).await?;
    let steps = whole.stages.iter().filter(|one| one.stage == stage.stage).flat_map(|one| &one.steps);
    let left = steps.filter(|step| step.state() == StepState::Pending);
    let left = left.map(|step| (step.step, step.instruction.clone())).collect();
    Ok(Some(OnClock { bay: bay.to_owned(), job, stage: stage.stage, title: stage.title, left }))
}

/// The page that asks.
pub async fn page(State(screen): State<Screen>, Query(asked): Query<Asked>, headers: HeaderMap) -> Response {
    let to = back(&asked.to).to_owned();
    let Ok(caller) = caller(&screen, &headers, &to).await else { return Redirect::to(&to).into_response() };
    match on_clock(caller.client(), &caller.signed.name).await {
        Ok(Some(on)) => {
            let head = sheet(&screen, &caller, screen.texts.say("sign-out"), PAGE.to_owned(), to.clone());
            show(&screen, &caller, &Page { sheet: Sheet { leaves: false, ..head }, to, on })
        }
        // Meanwhile off the clock: one touch more signs out.
        Ok(None) => Redirect::to(&to).into_response(),
        Err(error) => failed(&screen, caller.visitor, &error, &to),
    }
}

/// Signs out; somebody who is on the clock is asked first.
pub async fn sign_out(
    State(screen): State<Screen>,
    headers: HeaderMap,
    Form(fields): Form<Vec<(String, String)>>,
) -> Response {
    let fields = Fields(fields);
    let (visitor, to) = (screen.sessions.visitor(&headers, moment::now()), back(fields.text("to")).to_owned());
    if !screen.sessions.proves(&visitor, fields.text("proof")) {
        return said(&screen, StatusCode::FORBIDDEN, screen.texts.say("refused-old-form"));
    }
    let asks = format!("{PAGE}?to={to}");
    match fields.text("act") {
        "off" => match clock_off(&screen, &headers, &fields, &asks).await {
            Ok(()) => leave(&screen, &visitor, &to).await,
            Err(answer) => *answer,
        },
        "stay" => leave(&screen, &visitor, &to).await,
        _ => {
            // A server that can't say keeps nobody from signing out.
            let on = match &visitor.signed {
                Some(signed) if signed.has_hands() => on_clock(&signed.client, &signed.name).await.unwrap_or_default(),
                _ => None,
            };
            if on.is_some() { Redirect::to(&asks).into_response() } else { leave(&screen, &visitor, &to).await }
        }
    }
}

/// Clocks off with what is half done, and says where it was asked what stands against that.
async fn clock_off(screen: &Screen, headers: &HeaderMap, fields: &Fields, asks: &str) -> Result<(), Box<Response>> {
    let mut begun = begin(screen, headers, fields, asks)?;
    let signed = &begun.signed;
    let hand = Hand { client: &signed.client, fields, t: &screen.texts, who: &signed.name, reason: "" };
    let done: Result<Done, _> = hand.carry_out(&mut begun.writes).await;
    match done {
        Ok(_) => Ok(()),
        fault => Err(Box::new(finish(screen, &begun.visitor, fields, asks, "", fault).await)),
    }
}

/// Here at once, whatever the server says.
async fn leave(screen: &Screen, visitor: &Visitor, to: &str) -> Response {
    screen.sessions.end(visitor);
    end_at_server(visitor).await;
    Redirect::to(to).into_response()
}
