//! The lead's desk and the parts desk by touches in a real browser.

use crate::chrome::{DESK, PHONE};
use crate::hand::Hand;
use crate::scene::Scene;
use leadhand_sdk::new_write;
use leadhand_sdk::v1::{self, BayKind, Role};

const COOLANT: &str = include_str!("../../deploy/demo-shop/templates/coolant-service.toml");
const GASKET: &str = include_str!("../../deploy/demo-shop/templates/inlet-gasket.toml");
const LEAD_PIN: &str = "6194027";
const PARTS_PIN: &str = "5820417";

#[tokio::test(flavor = "multi_thread")]
async fn the_lead_opens_a_job_on_a_phone_and_gives_it_a_bay_in_three_touches() {
    let scene = Scene::open(Role::Technician).await;
    let Some(hand) = Hand::at(scene.screen, PHONE).await else { return };
    scene.publish(&[COOLANT]).await;
    let heron = scene.person_as("Heron", LEAD_PIN, Role::Lead, &[]).await;
    let kind = BayKind::TwoPostLift.into();
    let bay = Some(v1::Bay { bay: "lift-3".into(), name: "Lift 3".into(), kind, rated_kg: 3500 });
    scene.lead.add_bay(v1::AddBayRequest { write: Some(new_write()), bay }).await.unwrap();
    hand.sign_in(&heron, LEAD_PIN, "/desk").await;
    hand.go_words("Open a job").await;
    hand.go("a[href='/desk/new?template=coolant-service']").await;
    hand.write("#vehicle", "green <estate>").await;
    hand.touch_at("fieldset", "Urgent").await;
    hand.go("button.main").await;
    hand.see("Job 1 is open.").await;
    hand.see("green <estate>").await;
    assert_eq!(scene.whole(1).await.job.unwrap().priority, 2);

    let before = hand.touches();
    hand.touch_at("#outside", "green <estate>").await;
    hand.touch_words("Give it a bay").await;
    hand.go("details[open] button[value='lift-3']").await;
    assert!(hand.touches() - before <= 3, "{} touches", hand.touches() - before);
    assert_eq!(scene.whole(1).await.job.unwrap().bay, "lift-3");
    hand.touch_at("#in-bays", "green <estate>").await;
    hand.go_words("More urgent").await;
    hand.see("Before everything else").await;
    assert_eq!(scene.whole(1).await.job.unwrap().priority, 1);
}

#[tokio::test(flavor = "multi_thread")]
async fn what_holds_up_is_cleared_at_the_desk_and_the_desk_hears_of_the_next_by_itself() {
    let scene = Scene::open(Role::Technician).await;
    let Some(hand) = Hand::at(scene.screen, DESK).await else { return };
    let heron = scene.person_as("Heron", LEAD_PIN, Role::Lead, &[]).await;
    let job = scene.job("green estate", "lift-1", 2).await;
    scene.held_up(job).await;
    hand.sign_in(&heron, LEAD_PIN, "/desk").await;
    hand.see("What holds up").await;
    hand.touch_at("#held", "green estate").await;
    hand.go_words("It goes on").await;
    assert!(scene.whole(job).await.blockers.iter().all(|one| one.cleared_at.is_some()));
    assert!(!hand.sees("What holds up").await);
    scene.held_up(job).await;
    hand.see("What holds up").await;
}

async fn stock(scene: &Scene, item: &str) -> v1::ItemStock {
    let asked = v1::ListStockRequest { item: item.into(), ..Default::default() };
    scene.lead.list_stock(asked).await.unwrap().items.remove(0)
}

#[tokio::test(flavor = "multi_thread")]
async fn parts_are_brought_and_come_back_in_two_touches_and_a_delivery_is_typed() {
    let scene = Scene::open(Role::Technician).await;
    let Some(hand) = Hand::at(scene.screen, DESK).await else { return };
    scene.publish(&[GASKET]).await;
    let moss = scene.person_as("Moss", PARTS_PIN, Role::Parts, &[]).await;
    let job = scene.job_from("inlet-gasket", "silver coupe", "lift-1", 0).await;
    let reserve = v1::ReserveStockRequest { write: Some(new_write()), job, ..Default::default() };
    scene.lead.reserve_stock(reserve).await.unwrap();
    let reason = "came in pieces".into();
    let skip = v1::SkipStageRequest { write: Some(new_write()), job, stage: "strip".into(), reason };
    scene.lead.skip_stage(skip).await.unwrap();
    hand.sign_in(&moss, PARTS_PIN, "/parts").await;
    hand.see("Intake manifold gasket 2.0").await;
    hand.go_words("Brought").await;
    assert_eq!((hand.touches(), stock(&scene, "intake-gasket-20").await.at_jobs), (1, 1));
    hand.touch_words("Comes back").await;
    hand.go_at("details[open]", "into bin-a2").await;
    assert_eq!((hand.touches(), stock(&scene, "intake-gasket-20").await.at_jobs), (3, 0));

    hand.write("#item", "Intake-Gasket-20").await;
    hand.leave(async || hand.keys("\u{e007}").await).await;
    hand.see("A delivery").await;
    hand.write("#came", "4").await;
    hand.go_at("form.amount", "into bin-a2").await;
    hand.see("Booked in: 4").await;
    assert_eq!(stock(&scene, "intake-gasket-20").await.on_hand, 7);
}

#[tokio::test(flavor = "multi_thread")]
async fn who_sees_to_it_and_what_was_told_to_whom_is_said_at_the_desk() {
    let scene = Scene::open(Role::Technician).await;
    let Some(hand) = Hand::at(scene.screen, PHONE).await else { return };
    let heron = scene.person_as("Heron", LEAD_PIN, Role::Lead, &[]).await;
    scene.person("Larch", "7250938").await;
    let hours = || vec![v1::DayHours { from_minute: 0, until_minute: 1440 }];
    let week = (1..=7).map(|weekday| v1::WeekdayHours { weekday, hours: hours() }).collect();
    let from_day = leadhand_sdk::moment::now().to_zoned_datetime(jiff::tz::TimeZone::UTC).date().to_string();
    let hours = v1::SetHoursRequest { write: Some(new_write()), from_day, week };
    scene.lead.set_hours(hours).await.unwrap();
    let job = scene.job("green estate", "lift-1", 2).await;
    scene.held_up(job).await;
    hand.sign_in(&heron, LEAD_PIN, "/desk").await;
    hand.touch_at("#held", "green estate").await;
    hand.touch_words("Who sees to it").await;
    hand.go_at("details[open]", "Larch").await;
    assert_eq!(hand.touches(), 3);
    hand.touch_at("#held", "green estate").await;
    hand.see("Larch sees to it").await;
    assert_eq!(scene.whole(job).await.blockers[0].owner, "Larch");

    hand.touch_at("#in-bays", "green estate").await;
    hand.touch_words("Told").await;
    hand.write(&format!("#whom-{job}"), "the driver").await;
    hand.go_words("It takes longer than was said").await;
    let told = scene.whole(job).await.told.remove(0);
    assert_eq!((told.whom.as_str(), told.words.as_str()), ("the driver", "It takes longer than was said"));
    assert_eq!(told.told_by, "Heron");
    hand.touch_at("#in-bays", "green estate").await;
    hand.touch_words("Told").await;
    hand.see("the driver It takes longer").await;
    hand.go_words("Not told so").await;
    assert!(scene.whole(job).await.told[0].withdrawn);

    // What is told with a promise is what the shop goes by.
    hand.touch_at("#in-bays", "green estate").await;
    hand.touch_words("Told").await;
    hand.write(&format!("#whom-{job}"), "the driver").await;
    hand.touch("details[open] details[open] .choices label:nth-of-type(2)").await;
    hand.go_words("It takes longer than was said").await;
    let whole = scene.whole(job).await;
    let told = whole.told.last().unwrap().promised_at;
    assert!(told.is_some() && whole.job.unwrap().promised_at == told, "{told:?}");
}

#[tokio::test(flavor = "multi_thread")]
async fn time_that_was_wrong_is_corrected_or_asked_for_and_the_lead_decides_at_the_desk() {
    let scene = Scene::open(Role::Technician).await;
    let Some(hand) = Hand::at(scene.screen, PHONE).await else { return };
    let heron = scene.person_as("Heron", LEAD_PIN, Role::Lead, &[]).await;
    let larch = scene.person("Larch", "7250938").await;
    let job = scene.worked("Larch").await;
    let first = scene.clockings().await;
    hand.sign_in(&larch, "7250938", "/time").await;
    hand.touch_words("This is wrong").await;
    hand.touch("details[open] fieldset:nth-of-type(2) label:last-of-type").await;
    hand.go_words("Forgot to clock off").await;
    hand.see("It is corrected").await;
    let moved = scene.clockings().await;
    assert!(moved.len() == 1 && moved[0].from_at == first[0].from_at && moved[0].until_at != first[0].until_at);

    let cancel = v1::CancelJobRequest { write: Some(new_write()), job, reason: "no".into(), as_it_is: true };
    scene.lead.cancel_job(cancel).await.unwrap();
    let before = scene.clockings().await;
    hand.sign_in(&larch, "7250938", "/time").await;
    hand.touch_words("This is wrong").await;
    hand.go_words("it should go altogether: Nobody worked then").await;
    hand.see("your lead was asked").await;
    hand.see("Your lead was asked to correct it.").await;
    assert_eq!(scene.clockings().await, before, "until the lead decides it stays");
    hand.sign_in(&heron, LEAD_PIN, "/desk").await;
    hand.touch_words("Larch's time").await;
    hand.go_words("Correct it as asked").await;
    assert!(scene.clockings().await.is_empty());
    assert!(!hand.sees("Larch's time").await);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_vehicle_is_handed_over_at_the_desk_and_what_stands_against_it_needs_a_reason() {
    let scene = Scene::open(Role::Technician).await;
    let Some(hand) = Hand::at(scene.screen, PHONE).await else { return };
    let heron = scene.person_as("Heron", LEAD_PIN, Role::Lead, &[]).await;
    let job = scene.job("green <estate>", "lift-1", 2).await;
    let (write, fluid, drained_ml) = (Some(new_write()), "coolant".to_owned(), 500);
    let drained = v1::RecordFluidRequest { write, job, fluid, drained_ml, unlisted: true, ..Default::default() };
    scene.lead.record_fluid(drained).await.unwrap();
    hand.sign_in(&heron, LEAD_PIN, "/desk").await;
    hand.touch_at("#in-bays", "green <estate>").await;
    hand.go_words("Hand over").await;
    hand.see("Nobody overrules this").await;
    let button = "return document.querySelector('main button') !== null";
    assert_eq!(hand.ask(button, &[]).await, false, "a stage that is open is ended first");
    let (write, stage) = (Some(new_write()), "mend".to_owned());
    let start = v1::StartStageRequest { write, job, stage: stage.clone(), override_reason: "seen to".into() };
    scene.lead.start_stage(start).await.unwrap();
    let finish = v1::FinishStageRequest { write: Some(new_write()), job, stage, as_listed: true };
    scene.lead.finish_stage(finish).await.unwrap();
    hand.open(&format!("/desk/job/{job}/hand-over")).await;
    hand.see("What stands against it").await;
    // Nothing is overruled unless somebody says why.
    hand.go("button.main").await;
    hand.until("return document.querySelector('[role=alert]') !== null", &[]).await;
    assert_eq!(scene.whole(job).await.job.unwrap().state(), v1::JobState::Open);
    hand.touch_words("looked at it, and it is good").await;
    hand.write("#words", "the rest is <done> elsewhere").await;
    hand.go("button.main").await;
    hand.see("is handed over.").await;
    let whole = scene.whole(job).await;
    assert_eq!(whole.job.unwrap().state(), v1::JobState::Completed);
    let sheet = scene.lead.get_hand_over_sheet(v1::GetHandOverSheetRequest { job }).await.unwrap();
    let reasons: Vec<&str> = sheet.overruled.iter().map(|one| one.reason.as_str()).collect();
    assert_eq!(reasons, ["looked at it, and it is good: the rest is <done> elsewhere"]);
    // It has a picture of its hours now, and its template's stages have theirs.
    hand.open("/time").await;
    hand.touch_words("Jobs handed over").await;
    hand.go(&format!("a[href='/time?job={job}#picture']")).await;
    hand.see("Hours held up").await;
}
