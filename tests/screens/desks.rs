//! The lead's desk, the parts desk and the time page.

use crate::browser::{Browser, PIN};
use crate::http::{Answer, get};
use crate::scene::Scene;
use leadhand_sdk::v1::{self, Role};
use leadhand_sdk::{moment, new_write};

const COOLANT: &str = include_str!("../../deploy/demo-shop/templates/coolant-service.toml");
const GASKET: &str = include_str!("../../deploy/demo-shop/templates/inlet-gasket.toml");
const LEAD_PIN: &str = "6194027";
const PARTS_PIN: &str = "5820417";

async fn lead_at(scene: &Scene) -> Browser {
    let heron = scene.person_as("Heron", LEAD_PIN, Role::Lead, &[]).await;
    Browser::sign_in(scene.screen, &heron, LEAD_PIN, "/desk").await.0
}

/// Open every day from midnight on, so that there is an end of hours to promise whatever the clock says.
async fn hours(scene: &Scene) {
    let all = v1::DayHours { from_minute: 0, until_minute: 1200 };
    let week = (1..=7).map(|weekday| v1::WeekdayHours { weekday, hours: vec![all] }).collect();
    let from_day = moment::now().strftime("%Y-%m-%d").to_string();
    let asked = v1::SetHoursRequest { write: Some(new_write()), from_day, week };
    scene.lead.set_hours(asked).await.unwrap();
}

async fn job(scene: &Scene, number: i64) -> v1::Job {
    scene.whole(number).await.job.unwrap()
}

#[tokio::test(flavor = "multi_thread")]
async fn the_lead_opens_a_job_gives_it_a_bay_and_says_how_urgent_it_is() {
    let scene = Scene::open(Role::Technician).await;
    scene.publish(&[COOLANT]).await;
    hours(&scene).await;
    let kind = v1::BayKind::TwoPostLift.into();
    let bay = Some(v1::Bay { bay: "lift-3".into(), name: "Lift 3".into(), kind, rated_kg: 3500 });
    scene.lead.add_bay(v1::AddBayRequest { write: Some(new_write()), bay }).await.unwrap();
    let lead = lead_at(&scene).await;
    let desk = lead.page("/desk").await;
    let page = lead.follow(&desk, "/desk/new").await;
    let page = lead.follow(&page, "/desk/new?template=coolant-service").await;
    let chosen = [("vehicle", "green <estate>"), ("with", "thermostat"), ("urgency", "2")];
    let opened = lead.press(&page, "open", &[], &chosen).await;
    assert_eq!(opened.header("location"), Some("/desk"));
    let desk = lead.page("/desk").await;
    assert!(desk.body.contains("green &#60;estate&#62;") && desk.body.contains("Job 1 is open."), "{}", desk.body);
    let one = job(&scene, 1).await;
    assert_eq!((one.options.as_slice(), one.priority, one.bay.as_str()), (["thermostat".to_owned()].as_slice(), 2, ""));

    // The tiles of bays are behind one touch; the bay itself is the second.
    lead.press_button(&desk, "assign", &[], &[], Some(("bay", "lift-3"))).await;
    assert_eq!(job(&scene, 1).await.bay, "lift-3");
    let desk = lead.page("/desk").await;
    lead.press_button(&desk, "urgency", &["More urgent"], &[], Some(("urgency", "1"))).await;
    assert_eq!(job(&scene, 1).await.priority, 1);
    let desk = lead.page("/desk").await;
    assert!(desk.body.contains("Before everything else") && !desk.body.contains("More urgent"), "{}", desk.body);
    let at = desk.body.split("name=\"at\" value=\"").nth(1).unwrap().split('"').next().unwrap().to_owned();
    lead.press_button(&desk, "promise", &[], &[], Some(("at", &at))).await;
    let promised = job(&scene, 1).await.promised_at.unwrap();
    assert_eq!(moment::from_wire(&promised), at.parse().ok(), "the end of the shop's hours");
    let desk = lead.page("/desk").await;
    lead.press_button(&desk, "promise", &[], &[], Some(("at", ""))).await;
    assert_eq!(job(&scene, 1).await.promised_at, None);
    let desk = lead.page("/desk").await;
    lead.press(&desk, "roll-out", &[], &[]).await;
    assert_eq!(job(&scene, 1).await.bay, "");
}

#[tokio::test(flavor = "multi_thread")]
async fn what_holds_up_and_what_waits_for_a_word_stands_first_and_is_answered_there() {
    let scene = Scene::open(Role::Technician).await;
    let number = scene.job("green estate", "lift-1", 2).await;
    scene.held_up(number).await;
    let flint = scene.person("Flint", PIN).await;
    let (hand, _) = Browser::sign_in(scene.screen, &flint, PIN, "/bay/lift-1").await;
    hand.touch("lift-1", "start", &[]).await;
    let way = v1::ProposeWayRequest {
        write: Some(new_write()),
        job: number,
        stage: "mend".into(),
        step: 1,
        way: "From below".into(),
        reason: "the mount is cracked".into(),
    };
    scene.lead.propose_way(way).await.unwrap();
    let lead = lead_at(&scene).await;
    let desk = lead.page("/desk").await;
    assert!(desk.body.contains("What holds up") && desk.body.contains("the mount is cracked"), "{}", desk.body);
    lead.press_button(&desk, "way", &[], &[], Some(("approved", "yes"))).await;
    let decided = scene.whole(number).await.ways.remove(0);
    assert_eq!((decided.approved, decided.decided_by.as_str()), (true, "Heron"));
    let desk = lead.page("/desk").await;
    lead.press(&desk, "clear", &[], &[]).await;
    assert!(scene.whole(number).await.blockers.iter().all(|one| one.cleared_at.is_some()));
    assert!(!lead.page("/desk").await.body.contains("What holds up"));
}

#[tokio::test(flavor = "multi_thread")]
async fn desks_are_for_whom_they_are_and_the_server_refuses_anyway() {
    let scene = Scene::open(Role::Technician).await;
    let number = scene.job("green estate", "lift-1", 2).await;
    for path in ["/desk", "/desk/new", "/parts", "/time"] {
        let nobody = get(scene.screen, path, "").await;
        assert_eq!((nobody.status, nobody.header("location")), (303, Some(format!("/sign-in?to={path}").as_str())));
    }
    let flint = scene.person("Flint", PIN).await;
    let (hand, _) = Browser::sign_in(scene.screen, &flint, PIN, "/bay/lift-1").await;
    for path in ["/desk", "/desk/new", "/parts"] {
        assert_eq!(hand.page(path).await.status, 403, "{path}");
    }
    let proof = hand.page("/bay/lift-1").await.field("<form", "proof");
    let id = "00000000-0000-4000-8000-000000000009";
    let job = number.to_string();
    let fields = [("proof", proof.as_str()), ("request", id), ("act", "assign"), ("job", &job), ("bay", "lift-2")];
    assert_eq!(crate::http::post(scene.screen, "/desk", &hand.cookie, &fields).await.status, 303);
    assert_eq!(scene.whole(number).await.job.unwrap().bay, "lift-1", "a technician gives out no bays");
}

async fn stock(scene: &Scene, item: &str) -> v1::ItemStock {
    let asked = v1::ListStockRequest { item: item.into(), ..Default::default() };
    scene.lead.list_stock(asked).await.unwrap().items.remove(0)
}

#[tokio::test(flavor = "multi_thread")]
async fn the_parts_room_brings_takes_back_receives_and_counts() {
    let scene = Scene::open(Role::Technician).await;
    scene.publish(&[COOLANT, GASKET]).await;
    let number = scene.job_from("inlet-gasket", "silver coupe", "lift-1", 0).await;
    let parts = scene.person_as("Moss", PARTS_PIN, Role::Parts, &[]).await;
    let (moss, _) = Browser::sign_in(scene.screen, &parts, PARTS_PIN, "/parts").await;
    let reserve = v1::ReserveStockRequest { write: Some(new_write()), job: number, ..Default::default() };
    scene.lead.reserve_stock(reserve).await.unwrap();
    // The gasket is for the refit: that is what may start, once the strip is left out.
    let skip = v1::SkipStageRequest {
        write: Some(new_write()),
        job: number,
        stage: "strip".into(),
        reason: "came in pieces".into(),
    };
    scene.lead.skip_stage(skip).await.unwrap();
    let desk = until(&moss, "/parts", "intake-gasket-20").await;
    moss.press(&desk, "issue", &["intake-gasket-20"], &[]).await;
    assert_eq!(stock(&scene, "intake-gasket-20").await.at_jobs, 1);
    let desk = moss.page("/parts").await;
    let told = desk.body.replace(['\u{2068}', '\u{2069}'], "");
    assert!(told.contains("Intake manifold gasket 2.0: brought."), "by its name: {told}");
    assert!(desk.body.contains("At the bays"), "{}", desk.body);
    moss.press_button(&desk, "return", &["intake-gasket-20"], &[], Some(("place", "bin-a2"))).await;
    assert_eq!(stock(&scene, "intake-gasket-20").await.at_jobs, 0);

    let card = moss.page("/parts?item=Intake-Gasket-20").await;
    assert!(card.body.contains("Intake manifold gasket 2.0"), "{}", card.body);
    let more =
        moss.press_button(&card, "receive", &["type=\"date\""], &[("quantity", "4")], Some(("place", "bin-a2"))).await;
    assert_eq!(more.header("location"), Some("/parts"));
    assert_eq!(stock(&scene, "intake-gasket-20").await.on_hand, 7);
    assert!(moss.page("/parts").await.body.contains("Booked in: 4 Intake manifold gasket 2.0"));
    let card = moss.page("/parts?item=intake-gasket-20").await;
    let wrong = moss
        .press_button(&card, "receive", &["type=\"date\""], &[("quantity", "four")], Some(("place", "bin-a2")))
        .await;
    assert_eq!(wrong.header("location"), Some("/parts?item=intake-gasket-20"), "where it was typed");
    let card = moss.page("/parts?item=intake-gasket-20").await;
    assert!(card.body.contains("not a quantity"), "{}", card.body);
    let round = Some(("reason", "Counted on the round"));
    moss.press_button(&card, "count", &["Counted on the round"], &[("quantity", "6")], round).await;
    assert_eq!(stock(&scene, "intake-gasket-20").await.on_hand, 6);
    assert!(moss.page("/parts?item=no-such").await.body.contains("There is no item no-such."));
    let called = moss.page("/parts?item=Intake+gasket+2.0").await;
    let tile = "aria-label=\"Which item\"><a class=\"button quiet\" href=\"/parts?item=intake-gasket-20\"";
    assert!(called.body.contains(tile), "by words of its name: {}", called.body);
}

/// The page, once it shows this: the parts desk goes by the board, which is heard a moment later.
async fn until(who: &Browser, path: &str, words: &str) -> Answer {
    let mut events = crate::http::Events::open(who.at, None).await;
    loop {
        let page = who.page(path).await;
        if page.body.contains(words) {
            return page;
        }
        events.next().await.expect("the stream is over");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_shortage_tells_whom_it_hurts_and_ends_with_what_came_as_wanted() {
    let scene = Scene::open(Role::Technician).await;
    let number = scene.job("green estate", "lift-1", 1).await;
    scene.publish(&[]).await;
    let step = v1::AddStepRequest {
        write: Some(new_write()),
        job: number,
        stage: "mend".into(),
        instruction: "Fit the gaskets".into(),
        needs: vec![v1::Need { item: "intake-gasket-20".into(), quantity: 5, unit: "1".into() }],
        ..Default::default()
    };
    scene.lead.add_step(step).await.unwrap();
    let reserve = v1::ReserveStockRequest { write: Some(new_write()), job: number, ..Default::default() };
    scene.lead.reserve_stock(reserve).await.unwrap();
    let parts = scene.person_as("Moss", PARTS_PIN, Role::Parts, &[]).await;
    let (moss, _) = Browser::sign_in(scene.screen, &parts, PARTS_PIN, "/parts").await;
    let desk = until(&moss, "/parts", "lift-1 · green estate").await;
    assert!(
        desk.body.contains("Short, and whom it hurts") && desk.body.contains("2 Intake manifold gasket 2.0"),
        "{}",
        desk.body
    );
    let card = moss.follow(&desk, "/parts?item=intake-gasket-20").await;
    assert!(card.body.contains("Came as wanted: 2"), "{}", card.body);
    // Something else came: nothing is in stock, and whoever waits reads who sees to it.
    moss.press(&card, "wrong", &["Nobody knows yet"], &[]).await;
    assert!(moss.page("/parts").await.body.contains("No job is held up by it yet"));
    let flint = scene.person("Flint", PIN).await;
    let (hand, _) = Browser::sign_in(scene.screen, &flint, PIN, "/bay/lift-1").await;
    hand.touch("lift-1", "start", &[]).await;
    hand.touch("lift-1", "tick", &[("step", "1")]).await;
    let before = stock(&scene, "intake-gasket-20").await;
    // No page has to be looked at anew for that.
    moss.press(&card, "wrong", &["Nobody knows yet"], &[]).await;
    let held = scene.whole(number).await.blockers.remove(0);
    assert_eq!((held.item.as_str(), held.owner.as_str()), ("intake-gasket-20", "Moss"));
    assert_eq!(stock(&scene, "intake-gasket-20").await, before);
    let told = moss.page("/parts").await;
    assert!(told.body.contains("nothing came in") && told.body.contains("Moss"), "{}", told.body);
    moss.press_button(&card, "receive", &["value=\"2\""], &[], Some(("place", "bin-a2"))).await;
    let left = scene.lead.list_shortages(v1::ListShortagesRequest { job: number }).await.unwrap().shortages;
    assert!(left.is_empty(), "{left:?}");
    assert!(!moss.page("/parts").await.body.contains("Short, and whom it hurts"));
}

#[tokio::test(flavor = "multi_thread")]
async fn times_are_one_s_own_and_the_lead_sees_everybody_s() {
    let scene = Scene::open(Role::Technician).await;
    let number = scene.job("green estate", "lift-1", 2).await;
    let (flint, larch) = (scene.person("Flint", PIN).await, scene.person("Larch", "7250938").await);
    let (hand, _) = Browser::sign_in(scene.screen, &flint, PIN, "/bay/lift-1").await;
    let (mate, _) = Browser::sign_in(scene.screen, &larch, "7250938", "/bay/lift-1").await;
    hand.touch("lift-1", "start", &[]).await;
    mate.touch("lift-1", "on", &[]).await;
    let own = hand.page("/time").await;
    assert!(own.body.contains("<h3>Flint") && !own.body.contains("<h3>Larch"), "{}", own.body);
    let all = lead_at(&scene).await.page("/time").await;
    assert!(all.body.contains("<h3>Flint") && all.body.contains("<h3>Larch"), "{}", all.body);
    // A bar wants a second at least.
    let bar = async {
        let mut ticks = tokio::time::interval(std::time::Duration::from_millis(100));
        loop {
            ticks.tick().await;
            let job = hand.page(&format!("/time?job={number}")).await;
            if job.body.contains("role=\"img\" aria-label=\"") && job.body.contains("Mend it") {
                return;
            }
        }
    };
    tokio::time::timeout(crate::http::SOON, bar).await.expect("a bar for the stage that goes on");
}

#[tokio::test(flavor = "multi_thread")]
async fn no_page_has_styles_scripts_or_words_of_a_stranger_in_it() {
    let evil = "<script>alert(1)</script>";
    let scene = Scene::open(Role::Technician).await;
    scene.publish(&[COOLANT, GASKET]).await;
    let number = scene.job_from("inlet-gasket", evil, "lift-1", 0).await;
    let lead = lead_at(&scene).await;
    let below = format!("/bay/lift-1/job/{number}");
    let paths = [
        "/desk".to_owned(),
        "/desk/new".to_owned(),
        "/desk/new?template=coolant-service".to_owned(),
        "/parts".to_owned(),
        "/parts?item=%3Cscript%3E".to_owned(),
        format!("/time?job={number}"),
        format!("{below}/part/manifold-nuts"),
        format!("{below}/met/strip"),
        format!("{below}/look/strip:2"),
        "/bay/lift-1".to_owned(),
    ];
    for path in paths {
        let page = lead.page(&path).await;
        assert_eq!(page.status, 200, "{path}: {}", page.body);
        for wrong in ["<script>", " style=", " onclick", "<style"] {
            assert!(!page.body.contains(wrong), "{path} has {wrong}");
        }
        assert!(page.body.contains("<html lang=\"en-GB\">") && page.body.contains("<h1>"), "{path}");
    }
}

/// Time is one's own to correct while its job is open; then the lead is asked, and decides at the desk.
#[tokio::test(flavor = "multi_thread")]
async fn time_on_a_closed_job_is_asked_for_and_the_lead_decides() {
    let scene = Scene::open(Role::Technician).await;
    let larch = scene.person("Larch", PIN).await;
    let job = scene.worked("Larch").await;
    let hand = Browser::sign_in(scene.screen, &larch, PIN, "/time").await.0;
    let first = scene.clockings().await;
    let until = first[0].until_at.as_ref().and_then(moment::from_wire).unwrap();
    let sooner = (until - jiff::SignedDuration::from_mins(15)).to_string();
    let wrong = Some(("tile", "The wrong time was entered"));
    let page = hand.page("/time").await;
    hand.press_button(&page, "entry-wrong", &[], &[("ended", sooner.as_str())], wrong).await;
    let moved = scene.clockings().await;
    assert_eq!(moved[0].until_at.as_ref().and_then(moment::from_wire).map(|at| at.to_string()), Some(sooner));

    let cancel = v1::CancelJobRequest { write: Some(new_write()), job, reason: "no".into(), as_it_is: true };
    scene.lead.cancel_job(cancel).await.unwrap();
    let page = hand.page("/time").await;
    hand.press_button(&page, "entry-gone", &[], &[], Some(("tile", "Nobody worked then"))).await;
    let page = hand.page("/time").await;
    assert!(page.body.contains("Your lead was asked to correct it."), "{}", page.body);
    assert_eq!(scene.clockings().await, moved, "until the lead decides it stays");
    let lead = lead_at(&scene).await;
    let desk = lead.page("/desk").await;
    assert!(desk.body.contains("Nobody worked then"), "{}", desk.body);
    let declined = Some(("tile", "The entry fits what I saw"));
    lead.press_button(&desk, "correction", &[], &[("words", "until eleven")], declined).await;
    assert_eq!(scene.clockings().await, moved, "the lead left it as it was");
    assert!(lead.page("/desk").await.body.contains("The time stays as it was entered."));
    // It is told where it was asked, until it was seen.
    let page = hand.page("/time").await;
    assert!(
        page.body.contains("DECLINED") && page.body.contains("The entry fits what I saw: until eleven"),
        "{}",
        page.body
    );
    hand.press(&page, "seen", &[], &[]).await;
    let page = hand.page("/time").await;
    assert!(!page.body.contains("DECLINED"), "{}", page.body);
    hand.press_button(&page, "entry-gone", &[], &[], Some(("tile", "Nobody worked then"))).await;
    let desk = lead.page("/desk").await;
    lead.press_button(&desk, "correction", &[], &[], Some(("take", "yes"))).await;
    assert!(scene.clockings().await.is_empty());
    assert!(!lead.page("/desk").await.body.contains("Nobody worked then"));
}
