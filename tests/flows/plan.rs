//! The plan over the wire: proposed, proved, accepted, and outdated as soon as something moves. The rules are the
//! project's own; that accepting an outdated plan says what moved is its promise.

use crate::shop::{Shop, finish, reason, start};
use leadhand_proto::v1;
use leadhand_sdk::{Client, Code, SdkError, new_write};

/// A shop that is open day and night, with two technicians, so that a plan does not depend on the time of day.
pub async fn shop() -> (Shop, Client, Client) {
    let shop = Shop::open().await;
    open_always(&shop).await;
    let skills = ["engine", "brakes", "road-test", "service"];
    let flint = shop.technician("Flint", &skills).await;
    let teasel = shop.technician("Teasel", &skills).await;
    (shop, flint, teasel)
}

pub async fn open_always(shop: &Shop) {
    let today = leadhand_facts::Instant(shop.now().await.seconds * 1_000_000).to_string();
    let day = |weekday| v1::WeekdayHours { weekday, hours: vec![v1::DayHours { from_minute: 0, until_minute: 1_440 }] };
    let hours = v1::SetHoursRequest {
        write: Some(new_write()),
        from_day: today[..10].to_owned(),
        week: (1..=7).map(day).collect(),
    };
    shop.lead.set_hours(hours).await.unwrap();
}

/// A search that ends by its schedules alone.
pub fn asked() -> v1::ProposePlanRequest {
    v1::ProposePlanRequest { schedules: 60, limit_ms: 10_000, ..Default::default() }
}

pub async fn proposed(shop: &Shop) -> v1::ProposePlanResponse {
    shop.lead.propose_plan(asked()).await.unwrap()
}

pub fn accept(plan: Option<v1::Plan>, even_if_outdated: bool) -> v1::AcceptPlanRequest {
    v1::AcceptPlanRequest { write: Some(new_write()), plan, even_if_outdated }
}

pub async fn accepted(shop: &Shop) -> v1::GetPlanResponse {
    shop.elsewhere.get_plan(v1::GetPlanRequest {}).await.unwrap()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_plan_is_proposed_accepted_and_shown() {
    let (shop, flint, _) = shop().await;
    let before = accepted(&shop).await;
    assert_eq!((before.plan, before.moved.len()), (None, 0), "there is none before the first");
    let brakes = shop.job("front-brakes", "red pick-up").await;
    let head = shop.job("head-gasket-20", "grey van").await;
    let found = proposed(&shop).await;
    let again = proposed(&shop).await;
    assert_eq!(found.unplaced, []);
    let plan = found.plan.clone().unwrap();
    assert_eq!(plan.stages.len(), again.plan.unwrap().stages.len());
    for job in [brakes, head] {
        let open = shop.whole_job(job).await.stages.len();
        assert_eq!(plan.stages.iter().filter(|row| row.job == job).count(), open, "every stage has a place");
        let outlook = found.outlooks.iter().find(|row| row.job == job).unwrap();
        assert!(outlook.words.starts_with("likely "), "{}", outlook.words);
        assert!(outlook.likely_at.unwrap().seconds <= outlook.safe_at.unwrap().seconds);
    }
    let names: Vec<&str> = found.persons.iter().map(|row| row.name.as_str()).collect();
    assert!(names.contains(&"Flint") && !names.contains(&"Wren"), "the lead has no skill and no shift: {names:?}");
    let in_bay = plan.stages.iter().find(|row| !row.bay.is_empty()).unwrap();
    assert!(plan.stays.iter().any(|stay| stay.job == in_bay.job && stay.bay == in_bay.bay));

    let asked = accept(Some(plan.clone()), false);
    assert_eq!(reason(flint.accept_plan(asked.clone()).await), "ROLE_NOT_ALLOWED");
    let first = shop.lead.accept_plan(asked.clone()).await.unwrap().receipt.unwrap();
    let repeat = shop.elsewhere.accept_plan(asked.clone()).await.unwrap().receipt.unwrap();
    assert_eq!((repeat.repeated, repeat.number), (true, first.number));
    let shown = accepted(&shop).await;
    assert_eq!(shown.plan.unwrap(), plan, "it is kept as it was accepted");
    assert_eq!((shown.accepted_number, shown.moved), (first.number, vec![]), "and nothing has moved");
    let title = shown.notes.iter().find(|note| note.job == in_bay.job && note.stage == in_bay.stage).unwrap();
    assert!(!title.title.is_empty());
    let again = shop.lead.accept_plan(accept(Some(plan.clone()), false)).await.unwrap().receipt.unwrap();
    assert_eq!((again.recorded_at, again.number, again.repeated), (None, first.number, false), "it was so already");
    in_lists(&shop, &plan, head).await;
    let neighbour = shop.neighbour().await;
    assert_eq!(neighbour.get_plan(v1::GetPlanRequest {}).await.unwrap().plan, None, "nobody else sees it");
    assert_eq!(
        reason(neighbour.accept_plan(accept(Some(plan), false)).await),
        "INVALID_FIELD",
        "it has no such number"
    );

    // What becomes of a job stays with the job: it goes with it.
    let write = Some(new_write());
    shop.lead
        .cancel_job(v1::CancelJobRequest { write, job: brakes, reason: "sold".into(), as_it_is: false })
        .await
        .unwrap();
    let shown = accepted(&shop).await;
    assert!(shown.plan.unwrap().stages.iter().all(|row| row.job == head));
    assert_eq!(shown.moved, [format!("job {brakes} was called off")]);
    let repeat = shop.lead.accept_plan(asked).await.unwrap().receipt.unwrap();
    assert_eq!((repeat.repeated, repeat.number), (true, first.number), "a repeat gets its answer, whatever moved");
    shop.verified().await;
}

/// A job and its ready lists say where, by whom and when the accepted plan has its stages.
async fn in_lists(shop: &Shop, plan: &v1::Plan, job: i64) {
    let names = accepted(shop).await.persons;
    let name = |id: &String| names.iter().find(|row| row.person == *id).unwrap().name.clone();
    let wanted = |stage: &str| {
        let row = plan.stages.iter().find(|row| row.job == job && row.stage == stage).unwrap();
        let (bay, people) = (row.bay.clone(), row.people.iter().map(name).collect());
        Some(v1::PlannedWork { bay, people, from_at: row.from_at, until_at: row.until_at })
    };
    for stage in shop.whole_job(job).await.stages {
        assert_eq!(stage.planned, wanted(&stage.stage));
    }
    let asked = v1::GetReadyListRequest { job, ..Default::default() };
    let list = shop.lead.get_ready_list(asked).await.unwrap();
    assert!(!list.stages.is_empty());
    for stage in list.stages {
        assert_eq!(stage.planned, wanted(&stage.stage));
    }
}

/// 100, 1,000 and 1,000 minutes: their mean, by which is planned, is 850, and half of all cases take more than 883 (the median
/// of the beta distribution with parameters 5 and 1 is the fifth root of one half). The first promise lies in between; the
/// second before what four in five keep, 961 (the fifth root of four fifths), so that it is at risk.
#[tokio::test(flavor = "multi_thread")]
async fn what_is_in_time_by_the_plan_and_late_in_half_of_all_cases_is_likely_late() {
    let (shop, ..) = shop().await;
    let mut jobs = Vec::new();
    for promised in [866, 930] {
        let job = shop.blank_job(&[]).await;
        let minutes = Some(v1::Minutes { low: 100, likely: 1_000, high: 1_000 });
        let (write, stage, title) = (Some(new_write()), "look".to_owned(), "Look".to_owned());
        shop.lead
            .add_stage(v1::AddStageRequest { write, job, stage, title, minutes, ..Default::default() })
            .await
            .unwrap();
        let promised_at = Some(crate::clock::later(shop.now().await, promised * 60_000_000));
        let write = Some(new_write());
        let asked = v1::PromiseJobRequest { write, job, priority: 1, promised_at, ..Default::default() };
        shop.lead.promise_job(asked).await.unwrap();
        jobs.push(job);
    }
    let found = proposed(&shop).await;
    let told: Vec<_> = found.outlooks.iter().map(|row| (row.late_minutes, row.likely_late, row.at_risk)).collect();
    assert_eq!(told, [(0, true, true), (0, false, true)]);
    let forecast = shop.lead.forecast_job(v1::ForecastJobRequest { job: jobs[0] }).await.unwrap();
    assert!(forecast.outlook.unwrap().likely_late);
    shop.lead.accept_plan(accept(found.plan, false)).await.unwrap();
    let shown = accepted(&shop).await;
    assert_eq!((shown.late, shown.likely_late, shown.at_risk), (vec![], vec![jobs[0]], jobs));
    shop.verified().await;
}

/// The plan was drawn with another chance than the one that is asked of a single job: while nothing moves, both tell the times of
/// the accepted plan. Once a stage is listed that it does not know, what is so now is told, and the plan's own beside it.
#[tokio::test(flavor = "multi_thread")]
async fn the_plan_and_the_job_tell_one_safe_time_until_something_moves() {
    let (shop, ..) = shop().await;
    let job = shop.blank_job(&[]).await;
    let look = |stage: &str, after: bool| {
        let minutes = Some(v1::Minutes { low: 60, likely: 300, high: 900 });
        let (write, stage, title, after_last) = (Some(new_write()), stage.to_owned(), "Look".to_owned(), after);
        v1::AddStageRequest { write, job, stage, title, minutes, after_last, ..Default::default() }
    };
    shop.lead.add_stage(look("look", false)).await.unwrap();
    let found = shop.lead.propose_plan(v1::ProposePlanRequest { seed: 7, ..asked() }).await.unwrap();
    shop.lead.accept_plan(accept(found.plan, false)).await.unwrap();
    let shown = accepted(&shop).await.plan.unwrap().jobs.remove(0);
    let told = || async { shop.lead.forecast_job(v1::ForecastJobRequest { job }).await.unwrap() };
    let now = told().await;
    let outlook = now.outlook.unwrap();
    assert_eq!((outlook.likely_at, outlook.safe_at), (shown.likely_at, shown.safe_at));
    let explained = shop.lead.explain_job(v1::ExplainJobRequest { job }).await.unwrap().outlook.unwrap();
    assert_eq!((explained.safe_at, &explained.words), (shown.safe_at, &outlook.words));
    shop.lead.add_stage(look("more", true)).await.unwrap();
    let now = told().await;
    assert_eq!(now.planned.unwrap().safe_at, shown.safe_at);
    assert!(now.outlook.unwrap().safe_at.unwrap().seconds > shown.safe_at.unwrap().seconds);
}

fn outdated(answer: Result<v1::AcceptPlanResponse, SdkError>, about: &str) {
    let refused = answer.unwrap_err();
    assert_eq!((refused.code, refused.reason.as_str()), (Code::Aborted, "PLAN_OUTDATED"), "{refused}");
    assert!(refused.message.contains(about), "{refused}");
}

#[tokio::test(flavor = "multi_thread")]
async fn an_outdated_plan_is_refused_with_what_moved_and_taken_only_while_it_can_be_done() {
    let (shop, flint, _) = shop().await;
    let job = shop.blank_job(&["strip", "fit"]).await;
    let other = shop.blank_job(&["look"]).await;
    let first = proposed(&shop).await.plan;
    let write = Some(new_write());
    shop.lead.promise_job(v1::PromiseJobRequest { write, job, priority: 1, ..Default::default() }).await.unwrap();
    outdated(
        shop.lead.accept_plan(accept(first.clone(), false)).await,
        &format!("1 thing has moved since: job {job} has another promise or urgency"),
    );
    shop.lead.accept_plan(accept(first.clone(), true)).await.unwrap();
    let shown = accepted(&shop).await;
    assert_eq!(shown.moved, [format!("job {job} has another promise or urgency")], "it is stale from the beginning");

    // Somebody begins what the plan has somebody else do: it can't be done so any more.
    let mut wrong = first.clone().unwrap();
    let people = &mut wrong.stages.iter_mut().find(|row| row.job == job && row.stage == "strip").unwrap().people;
    let was = people.clone();
    let others = accepted(&shop).await.persons.into_iter().map(|row| row.person).filter(|id| !was.contains(id));
    let others: Vec<String> = others.collect();
    *people = vec![others[0].clone()];
    let who =
        if was == [flint_id(&shop).await] { flint.clone() } else { shop.token(v1::Role::Technician, "Teasel").await };
    start(&who, job, "strip").await.unwrap();
    outdated(shop.lead.accept_plan(accept(Some(wrong.clone()), false)).await, "strip of job");
    let unlawful = shop.lead.accept_plan(accept(Some(wrong), true)).await.unwrap_err();
    assert_eq!(unlawful.reason, "PLAN_UNLAWFUL");
    assert!(!unlawful.message.contains('Z'), "times are told on the shop's clock: {unlawful}");
    let same = shop.lead.accept_plan(accept(first.clone(), false)).await.unwrap().receipt.unwrap();
    assert_eq!(same.recorded_at, None, "it is the accepted one already, stale as it may be");

    // What is over is left out of an outdated plan, and the rest is taken.
    let second = proposed(&shop).await.plan;
    finish(&who, job, "strip").await.unwrap();
    let write = Some(new_write());
    shop.lead
        .cancel_job(v1::CancelJobRequest { write, job: other, reason: "sold".into(), as_it_is: false })
        .await
        .unwrap();
    let again = shop.lead.accept_plan(accept(first, true)).await.unwrap().receipt.unwrap();
    assert_eq!(again.recorded_at, None, "what is over makes it no other plan");
    let taken = shop.lead.accept_plan(accept(second, true)).await.unwrap().receipt.unwrap();
    let codes: Vec<&str> = taken.notices.iter().map(|notice| notice.code.as_str()).collect();
    assert_eq!(codes, ["PLAN_LEFT_OUT", "PLAN_LEFT_OUT"]);
    let left: Vec<String> = accepted(&shop).await.plan.unwrap().stages.into_iter().map(|row| row.stage).collect();
    assert_eq!(left, ["fit"]);
    shop.verified().await;
}

async fn flint_id(shop: &Shop) -> String {
    let persons = accepted(shop).await.persons;
    persons.into_iter().find(|row| row.name == "Flint").unwrap().person
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_no_plan_of_the_shop_is_refused_with_the_field() {
    let (shop, ..) = shop().await;
    let job = shop.blank_job(&["look", "fit"]).await;
    let plan = proposed(&shop).await.plan.unwrap();
    let refused = async |change: &dyn Fn(&mut v1::Plan)| {
        let mut plan = plan.clone();
        change(&mut plan);
        let refused = shop.lead.accept_plan(accept(Some(plan), false)).await.unwrap_err();
        let field = refused.fields.first().map(|fault| fault.field.clone()).filter(|field| !field.is_empty());
        field.unwrap_or(refused.reason)
    };
    assert_eq!(refused(&|plan| plan.number = 0).await, "plan.number");
    assert_eq!(refused(&|plan| plan.number = 99_999).await, "plan.number");
    assert_eq!(refused(&|plan| plan.made_at.as_mut().unwrap().seconds += 3_600).await, "plan.made_at");
    assert_eq!(refused(&|plan| plan.stages.push(plan.stages[0].clone())).await, "plan.stages[2].stage");
    assert_eq!(refused(&|plan| plan.stages[0].until_at = plan.made_at.map(early)).await, "plan.stages[0].until_at");
    assert_eq!(refused(&|plan| plan.stages[1].people = vec!["Flint".into()]).await, "plan.stages[1].people[0]");
    assert_eq!(refused(&|plan| plan.stages[1].stage = "paint".into()).await, "NOT_FOUND");
    assert_eq!(refused(&|plan| plan.jobs[0].ready_at = plan.made_at).await, "plan.jobs[0].ready_at");
    assert_eq!(refused(&|plan| plan.jobs[0].safe_at = None).await, "plan.jobs[0].safe_at");
    // In order, and well formed, but impossible: the auditor says so.
    assert_eq!(refused(&|plan| plan.stages[1].from_at = plan.stages[0].from_at).await, "PLAN_UNLAWFUL");
    assert_eq!(accepted(&shop).await.plan, None);
    let refused = shop.lead.accept_plan(accept(None, false)).await.unwrap_err();
    assert_eq!(refused.fields[0].field, "plan");
    let late = v1::ProposePlanRequest { limit_ms: 10_001, ..Default::default() };
    assert_eq!(shop.lead.propose_plan(late).await.unwrap_err().fields[0].field, "limit_ms");
    let unknown = shop.lead.explain_job(v1::ExplainJobRequest { job: job + 1 }).await;
    assert_eq!(reason(unknown), "NOT_FOUND");
    shop.verified().await;
}

fn early(at: prost_types::Timestamp) -> prost_types::Timestamp {
    prost_types::Timestamp { seconds: at.seconds - 60, ..at }
}
