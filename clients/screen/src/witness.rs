//! A second look: somebody else signs in at this device for one proof, and whoever works here stays signed in.

use crate::form::{Done, Fault, Fields, Writes, begin, finish};
use crate::pages::Screen;
use crate::sheet::{Sheet, caller, failed, sheet, show};
use crate::sign_in::{self, Name, Shown};
use askama::Template;
use axum::extract::{Form, Path, Query, State};
use axum::http::HeaderMap;
use axum::response::Response;
use leadhand_sdk::v1::{ConfirmPositionsRequest, GetJobRequest, GetStripRequest, SignOutRequest, TickStepsRequest};
use leadhand_sdk::{Client, SdkError};

#[derive(Template)]
#[template(path = "witness.html")]
struct Page {
    sheet: Sheet,
    /// The bay at which it is.
    bay: String,
    /// Who is signed in here and may sign without showing who they are once more; the server knows who did the work.
    own_name: String,
    /// What is looked at.
    what: String,
    names: Vec<Name>,
    chosen: Option<Name>,
}

/// What the page is asked for with.
#[derive(serde::Deserialize, Default)]
pub struct Asked {
    #[serde(default)]
    person: String,
}

/// What is looked at: a position by its key, or a step of a stage as `STAGE:STEP`.
enum Looked<'a> {
    Position(&'a str),
    Step { stage: &'a str, step: i32 },
}

impl<'a> Looked<'a> {
    fn of(what: &'a str) -> Self {
        let step = what.rsplit_once(':').and_then(|(stage, step)| Some((stage, step.parse().ok()?)));
        step.map_or(Self::Position(what), |(stage, step)| Self::Step { stage, step })
    }
}

fn address(bay: &str, job: i64, what: &str) -> String {
    format!("/bay/{bay}/job/{job}/look/{what}")
}

/// The page of tiles; of the PIN when a tile was touched.
pub async fn page(
    State(screen): State<Screen>,
    Path((bay, job, what)): Path<(String, i64, String)>,
    Query(asked): Query<Asked>,
    headers: HeaderMap,
) -> Response {
    let own = address(&bay, job, &what);
    let caller = match caller(&screen, &headers, &own).await {
        Ok(caller) => caller,
        Err(answer) => return *answer,
    };
    match load(&screen, caller.client(), job, &what).await {
        Ok((words, mut names)) => {
            // Whoever is signed in here has shown who they are, and signs by a button of their own.
            names.retain(|name| name.name != caller.signed.name);
            let chosen = names.iter().find(|name| name.person == asked.person).cloned();
            let title = screen.texts.say("second-look");
            let own_name = if caller.signed.has_hands() { caller.signed.name.clone() } else { String::new() };
            let sheet = sheet(&screen, &caller, title, own, format!("/bay/{bay}"));
            show(&screen, &caller, &Page { sheet, bay, what: words, names, chosen, own_name })
        }
        Err(error) => failed(&screen, caller.visitor, &error, &own),
    }
}

async fn load(screen: &Screen, client: &Client, job: i64, what: &str) -> Result<(String, Vec<Name>), SdkError> {
    let words = match Looked::of(what) {
        Looked::Position(key) => {
            let book = client.get_strip(GetStripRequest { job, ..GetStripRequest::default() }).await?;
            let found = book.positions.iter().find(|one| one.position == key);
            found.map_or_else(String::new, |found| {
                let tight = crate::strip::tightening(found).join(", ");
                format!("{} {tight}", crate::strip::counted(found)).trim_end().to_owned()
            })
        }
        Looked::Step { stage, step } => {
            let whole = client.get_job(GetJobRequest { job }).await?;
            let steps = whole.stages.iter().filter(|one| one.stage == stage).flat_map(|one| &one.steps);
            let found = steps.clone().find(|one| one.step == step);
            found.map(|one| one.instruction.clone()).unwrap_or_default()
        }
    };
    Ok((words, sign_in::names(&screen.client).await?))
}

/// Looks at it in that person's name.
pub async fn look(
    State(screen): State<Screen>,
    Path((bay, job, what)): Path<(String, i64, String)>,
    headers: HeaderMap,
    Form(fields): Form<Vec<(String, String)>>,
) -> Response {
    let (fields, own, page) = (Fields(fields), address(&bay, job, &what), format!("/bay/{bay}"));
    let mut begun = match begin(&screen, &headers, &fields, &own) {
        Ok(begun) => begun,
        Err(answer) => return *answer,
    };
    let done = if fields.text("own").is_empty() {
        prove(&screen, &mut begun.writes, job, &what, &fields).await
    } else {
        let done = confirm(&begun.signed.client, &mut begun.writes, job, &what).await.map_err(Fault::from);
        done.map(|done| done.note(screen.texts.fill("looked-at", "who", &begun.signed.name)))
    };
    finish(&screen, &begun.visitor, &fields, &page, &own, done)
}

async fn prove(screen: &Screen, writes: &mut Writes, job: i64, what: &str, fields: &Fields) -> Result<Done, Fault> {
    let shown = Shown {
        person: fields.text("person").to_owned(),
        pin: fields.text("pin").to_owned(),
        badge: fields.text("badge").to_owned(),
    };
    // A session that lasts for one proof.
    let signed = sign_in::open(&screen.client, shown, 1).await?;
    let done = match confirm(&signed.client, writes, job, what).await {
        // A double touch: the first signed for it, in a session of its own. The id alone proves nothing: what stands in
        // the book does.
        Err(error) if error.reason == "REQUEST_ID_REUSED" => {
            match stands_by(&signed.client, job, what, &signed.name).await {
                Ok(true) => Ok(Done::default()),
                Ok(false) => Err(error),
                Err(other) => Err(other),
            }
        }
        done => done,
    };
    if let Err(error) = signed.client.sign_out(SignOutRequest { write: None }).await {
        tracing::warn!("a session could not be ended at the server, and ends by itself: {error}");
    }
    Ok(done?.note(screen.texts.fill("looked-at", "who", &signed.name)))
}

/// Whether it is signed for by this person.
async fn stands_by(client: &Client, job: i64, what: &str, who: &str) -> Result<bool, SdkError> {
    Ok(match Looked::of(what) {
        Looked::Position(key) => {
            let book = client.get_strip(GetStripRequest { job, ..GetStripRequest::default() }).await?;
            book.positions.iter().any(|one| one.position == key && one.checked_by == who)
        }
        Looked::Step { stage, step } => {
            let whole = client.get_job(GetJobRequest { job }).await?;
            let mut steps = whole.stages.iter().filter(|one| one.stage == stage).flat_map(|one| &one.steps);
            steps.any(|one| one.step == step && one.done_by == who)
        }
    })
}

async fn confirm(client: &Client, writes: &mut Writes, job: i64, what: &str) -> Result<Done, SdkError> {
    let write = Some(writes.one());
    let receipt = match Looked::of(what) {
        Looked::Position(key) => {
            let positions = vec![key.to_owned()];
            client.confirm_positions(ConfirmPositionsRequest { write, job, positions }).await?.receipt
        }
        Looked::Step { stage, step } => {
            let (stage, steps) = (stage.to_owned(), vec![step]);
            client.tick_steps(TickStepsRequest { write, job, stage, steps, ..Default::default() }).await?.receipt
        }
    };
    Ok(Done::told(receipt))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_step_and_a_position_are_told_apart() {
        assert!(matches!(Looked::of("strip:4"), Looked::Step { stage: "strip", step: 4 }));
        for position in ["manifold-nuts", "a:b", ""] {
            assert!(matches!(Looked::of(position), Looked::Position(key) if key == position), "{position}");
        }
    }
}
