//! Opening a job from a template with its options.

use crate::desk::{leads, promises};
use crate::form::{Done, Fault, Fields, Writes, begin, finish};
use crate::late;
use crate::pages::{Screen, not_for};
use crate::part::Choice;
use crate::sheet::{Caller, Sheet, caller, failed, sheet, show};
use crate::texts::Texts;
use crate::view::{Look, key};
use askama::Template;
use axum::extract::{Form, Query, State};
use axum::http::HeaderMap;
use axum::response::Response;
use leadhand_sdk::v1::{
    AssignJobRequest, BayKind, BoardBay, GetBoardRequest, GetCalendarRequest, GetTemplateRequest, ListTemplatesRequest,
    OpenJobRequest, ReserveStockRequest,
};
use leadhand_sdk::{Client, SdkError};

#[derive(Template)]
#[template(path = "opening.html")]
struct Page {
    sheet: Sheet,
    templates: Vec<Choice>,
    chosen: Option<Chosen>,
}

/// The template that was touched.
struct Chosen {
    template: String,
    title: String,
    options: Vec<Choice>,
    promises: Vec<Choice>,
    bays: Vec<Choice>,
    urgencies: Vec<Choice>,
}

/// What the page is asked for with.
#[derive(serde::Deserialize, Default)]
pub struct Asked {
    #[serde(default)]
    template: String,
}

/// The page of templates; of the options when one was touched.
pub async fn page(State(screen): State<Screen>, Query(asked): Query<Asked>, headers: HeaderMap) -> Response {
    let caller = match caller(&screen, &headers, "/desk/new").await {
        Ok(caller) => caller,
        Err(answer) => return *answer,
    };
    if !leads(&caller) {
        return not_for(&screen, "for-the-lead", "/desk/new");
    }
    match load(&screen, &caller, &asked.template).await {
        Ok((templates, chosen)) => {
            let head = sheet(&screen, &caller, screen.texts.say("open-a-job"), "/desk/new".into(), "/desk".into());
            show(&screen, &caller, &Page { sheet: head, templates, chosen })
        }
        Err(error) => failed(&screen, caller.visitor, &error, "/desk/new"),
    }
}

async fn load(screen: &Screen, caller: &Caller, wanted: &str) -> Result<(Vec<Choice>, Option<Chosen>), SdkError> {
    let client = caller.client();
    if wanted.is_empty() {
        let all = client.list_templates(ListTemplatesRequest::default()).await?.templates;
        let tiles = all.into_iter().map(|one| Choice { value: one.template, words: one.title, chosen: false });
        return Ok((tiles.collect(), None));
    }
    let t = &screen.texts;
    let template = client.get_template(GetTemplateRequest { template: wanted.to_owned(), revision: 0 }).await?;
    let calendar = client.get_calendar(GetCalendarRequest::default()).await?;
    let board = client.get_board(GetBoardRequest {}).await?;
    let options = template.options.into_iter().map(|option| Choice {
        value: option.option,
        words: option.title,
        chosen: option.on_by_default,
    });
    let bays = offered(&board.bays, &template.first_bays, t);
    let outside = Choice { value: String::new(), words: t.say("outside"), chosen: true };
    let urgency = |n: i32| Choice { value: n.to_string(), words: t.say(&format!("urgency-{n}")), chosen: n == 3 };
    let look = Look { texts: t, zone: &caller.zone, now: caller.now };
    let none = Choice { value: String::new(), words: t.say("promise-none"), chosen: true };
    let chosen = Chosen {
        template: wanted.to_owned(),
        title: template.summary.map(|summary| summary.title).unwrap_or_default(),
        options: options.collect(),
        promises: std::iter::once(none).chain(promises(&calendar, look)).collect(),
        bays: std::iter::once(outside).chain(bays).collect(),
        urgencies: (1..=5).map(urgency).collect(),
    };
    Ok((Vec::new(), Some(chosen)))
}

/// Free bays: those that suit a first stage of the template before the others, of which it is said why they don't.
fn offered(bays: &[BoardBay], first: &[i32], t: &Texts) -> Vec<Choice> {
    let kind = |kind: i32| t.word(BayKind::try_from(kind).unwrap_or_default().as_str_name());
    let wanted = first.iter().map(|one| kind(*one)).collect::<Vec<_>>().join(", ");
    let choice = |one: &BoardBay| {
        let (key, own) = (key(one).to_owned(), one.bay.as_ref().map_or(0, |bay| bay.kind));
        let suits = first.is_empty() || first.contains(&own);
        let why = [("kind", kind(own).into()), ("wanted", wanted.as_str().into())];
        let words = if suits { key.clone() } else { format!("{key} · {}", t.with("does-not-suit", &why)) };
        (suits, Choice { value: key, words, chosen: false })
    };
    let mut all: Vec<(bool, Choice)> = bays.iter().filter(|bay| bay.job.is_none()).map(choice).collect();
    all.sort_by_key(|(suits, _)| !suits);
    all.into_iter().map(|(_, choice)| choice).collect()
}

/// Opens it.
pub async fn open(
    State(screen): State<Screen>,
    headers: HeaderMap,
    Form(fields): Form<Vec<(String, String)>>,
) -> Response {
    let fields = Fields(fields);
    let mut begun = match begin(&screen, &headers, &fields, "/desk/new") {
        Ok(begun) => begun,
        Err(answer) => return *answer,
    };
    let template = fields.text("template");
    let is_key = template.bytes().all(|byte| byte.is_ascii_alphanumeric() || byte == b'-' || byte == b'_');
    let again = if is_key { format!("/desk/new?template={template}") } else { "/desk/new".to_owned() };
    let done = carry_out(&screen, &begun.signed.client, &fields, &mut begun.writes).await;
    finish(&screen, &begun.visitor, &fields, "/desk", &again, done).await
}

async fn carry_out(screen: &Screen, client: &Client, fields: &Fields, writes: &mut Writes) -> Result<Done, Fault> {
    let (usual, with) = (fields.all("usual"), fields.all("with"));
    let asked = OpenJobRequest {
        write: Some(writes.one()),
        template: fields.text("template").to_owned(),
        vehicle_label: fields.text("vehicle").to_owned(),
        vehicle_plate: fields.text("plate").to_owned(),
        vehicle_weight_kg: fields.number("weight")?,
        priority: fields.number("urgency")?,
        promised_at: late::said(fields.text("at"))?,
        without: usual.iter().filter(|option| !with.contains(option)).cloned().collect(),
        with: with.into_iter().filter(|option| !usual.contains(option)).collect(),
        ..Default::default()
    };
    let answer = client.open_job(asked).await?;
    let mut done = Done::told(answer.receipt);
    // What the template lists is set aside at once; what is short is told on the parts desk.
    let reserve = ReserveStockRequest { write: Some(writes.one()), job: answer.job, stage: String::new() };
    match client.reserve_stock(reserve).await {
        Ok(answer) => done.hear(answer.receipt),
        Err(error) if error.reason == "NOTHING_TO_DO" => {}
        Err(error) => done.notes.extend(Fault::from(error).words(&screen.texts)),
    }
    let bay = fields.text("bay").to_owned();
    if !bay.is_empty() {
        let asked = AssignJobRequest { write: Some(writes.one()), job: answer.job, bay, ..Default::default() };
        match client.assign_job(asked).await {
            Ok(answer) => done.hear(answer.receipt),
            // The job is open all the same, and that it is outside is told.
            Err(error) => done.notes.extend(Fault::from(error).words(&screen.texts)),
        }
    }
    Ok(done.note(screen.texts.fill("job-is-open", "job", &answer.job.to_string())))
}

#[cfg(test)]
mod tests {
    use super::*;
    use leadhand_sdk::v1::{Bay, BoardJob};

    #[test]
    fn bays_that_suit_the_first_stage_stand_first_and_of_others_it_is_said_why_not() {
        let t = Texts::of("en-GB");
        let bay = |key: &str, kind: BayKind, job: Option<BoardJob>| BoardBay {
            bay: Some(Bay { bay: key.into(), kind: kind.into(), ..Bay::default() }),
            job,
        };
        let bays = [
            bay("floor-1", BayKind::Floor, None),
            bay("lift-1", BayKind::TwoPostLift, Some(BoardJob::default())),
            bay("lift-2", BayKind::TwoPostLift, None),
        ];
        let lift = [i32::from(BayKind::TwoPostLift)];
        let keys = |first: &[i32]| offered(&bays, first, &t).into_iter().map(|one| one.value).collect::<Vec<_>>();
        assert_eq!(keys(&lift), ["lift-2", "floor-1"]);
        assert_eq!(keys(&[]), ["floor-1", "lift-2"], "where anything suits, as they are");
        let why = offered(&bays, &lift, &t).remove(1).words;
        assert!(why.contains("floor") && why.contains("two-post lift"), "{why}");
    }
}
