//! What else is said at a bay: readings, late starts, what is left half done, ready lists, and a hand lent elsewhere.

use crate::browser::{Browser, PIN};
use crate::scene::Scene;
use leadhand_sdk::moment;
use leadhand_sdk::v1::{self, Role, StageState, StepState, Verdict};

const CHECK: &str = include_str!("../../deploy/demo-shop/templates/engine-check.toml");
const GASKET: &str = include_str!("../../deploy/demo-shop/templates/inlet-gasket.toml");
const LEAD_PIN: &str = "6194027";

async fn reading(scene: &Scene, job: i64, key: &str) -> v1::Reading {
    let all = scene.lead.get_readings(v1::GetReadingsRequest { job }).await.unwrap().readings;
    all.into_iter().find(|one| one.reading == key).unwrap()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_reading_is_typed_on_the_pad_judged_and_decided_about_at_the_desk() {
    let scene = Scene::open(Role::Technician).await;
    scene.publish(&[CHECK]).await;
    let flint = scene.person_as("Flint", PIN, Role::Technician, &[]).await;
    let heron = scene.person_as("Heron", LEAD_PIN, Role::Lead, &[]).await;
    let job = scene.job_from("engine-check", "green estate", "lift-1", 0).await;
    let (hand, _) = Browser::sign_in(scene.screen, &flint, PIN, "/bay/lift-1").await;
    for act in ["start", "tick-all", "finish", "start"] {
        hand.touch("lift-1", act, &[]).await;
    }
    let page = hand.page("/bay/lift-1").await;
    let first = "name=\"step\" value=\"1\"";
    assert!(!page.body.contains(first), "nobody ticks a step that was not measured: {}", page.body);
    let path = format!("/bay/lift-1/job/{job}/reading/compression");
    let form = hand.follow(&page, &path).await;
    assert!(
        form.body.contains("9.5") && form.body.contains("bar") && form.body.contains("value=\"compression gauge\"")
    );
    let slots = form.body.matches("name=\"figure\"").count();
    assert_eq!(slots, 4, "a figure a cylinder");
    // Typed as many pads have it, with a comma.
    take(&hand, &form, ["12,4", "12.1", "12.0", "12.2"]).await;
    let taken = reading(&scene, job, "compression").await;
    assert_eq!(
        (taken.verdict(), taken.figures),
        (Verdict::In, ["12.4", "12.1", "12", "12.2"].map(str::to_owned).to_vec())
    );
    assert_eq!((taken.taken_by.as_str(), taken.instrument.as_str()), ("Flint", "compression gauge"));
    let judged = hand.page(&path).await;
    assert!(judged.body.contains("WITHIN ITS LIMITS"), "{}", judged.body);
    take(&hand, &judged, ["12.4", "7.1", "12.0", "12.2"]).await;
    assert!(hand.page(&path).await.body.contains("OUT OF ITS LIMITS"));
    assert!(hand.page("/bay/lift-1").await.body.contains("OUT OF ITS LIMITS"));

    let (lead, _) = Browser::sign_in(scene.screen, &heron, LEAD_PIN, "/desk").await;
    let desk = lead.page("/desk").await;
    assert!(desk.body.contains("Waits for a word") && desk.body.contains("Compression, dry"), "{}", desk.body);
    assert!(!desk.body.contains("value=\"clear\""), "it ends by the decision: {}", desk.body);
    assert!(!hand.page("/bay/lift-1").await.body.contains("value=\"clear\""));
    let again = hand.page(&path).await;
    let sent = take(&hand, &again, ["12.4", "12.1", "12.0", "-12.2"]).await;
    assert_eq!(sent.header("location"), Some(format!("{path}?typed=12.4~12.1~12.0~-12.2").as_str()));
    let kept = hand.page(sent.header("location").unwrap()).await;
    assert!(kept.body.contains("value=\"-12.2\"") && !kept.body.contains("figures["), "{}", kept.body);
    let why = [("reason", "the part is renewed")];
    lead.press_button(&desk, "reading", &[], &why, Some(("decision", "DECISION_ACCEPT"))).await;
    let decided = reading(&scene, job, "compression").await;
    assert_eq!((decided.decision(), decided.decided_by.as_str()), (v1::Decision::Accept, "Heron"));
    assert!(!lead.page("/desk").await.body.contains("Waits for a word"));
    hand.touch_at("lift-1", "tick", first).await;
    assert_eq!(scene.stage(job, "measure").await.steps[0].state(), StepState::Done);
}

/// Fills the fields of one name in their order.
async fn take(hand: &Browser, form: &crate::http::Answer, figures: [&str; 4]) -> crate::http::Answer {
    let proof = form.field("<form", "proof");
    let request = form.field("class=\"figures\"", "request");
    let mut fields =
        vec![("proof", proof.as_str()), ("request", request.as_str()), ("instrument", "compression gauge")];
    fields.extend(figures.map(|figure| ("figure", figure)));
    let answer = crate::http::post(hand.at, &form.path, &hand.cookie, &fields).await;
    assert_eq!(answer.status, 303, "{}", answer.body);
    answer
}

#[tokio::test(flavor = "multi_thread")]
async fn a_start_is_said_late_in_two_touches_and_what_is_half_done_is_left_for_the_next() {
    let scene = Scene::open(Role::Technician).await;
    let flint = scene.person("Flint", PIN).await;
    scene.publish(&[GASKET]).await;
    let job = scene.job_from("inlet-gasket", "silver coupe", "lift-1", 120).await;
    let skills = v1::SetSkillsRequest {
        write: Some(leadhand_sdk::new_write()),
        person: flint.clone(),
        skills: vec!["engine".into()],
    };
    scene.lead.set_skills(skills).await.unwrap();
    let (hand, _) = Browser::sign_in(scene.screen, &flint, PIN, "/bay/lift-1").await;
    let page = hand.page("/bay/lift-1").await;
    assert!(page.body.contains("Started earlier"), "{}", page.body);
    let late = page.body.split("Started earlier").nth(1).unwrap();
    let times: Vec<&str> =
        late.split("name=\"at\" value=\"").skip(1).map(|rest| rest.split('"').next().unwrap()).collect();
    let chosen = times[times.len() - 1];
    hand.press_button(&page, "start", &["name=\"at\""], &[], Some(("at", chosen))).await;
    let stage = scene.stage(job, "strip").await;
    let started = moment::from_wire(stage.started_at.as_ref().unwrap()).unwrap();
    assert_eq!(started, chosen.parse().unwrap(), "at the time that was touched");
    assert_eq!(moment::from_wire(stage.persons[0].since.as_ref().unwrap()), Some(started));

    let page = hand.page("/bay/lift-1").await;
    assert!(page.body.contains("Is anything half done?"), "{}", page.body);
    let said = [("half", "Drain the coolant"), ("more", "the clip is loose")];
    hand.press(&page, "off", &["These are half done"], &said).await;
    let stage = scene.stage(job, "strip").await;
    assert!(stage.persons.is_empty() && stage.state() == StageState::Active);
    let left = stage.steps.last().unwrap();
    assert_eq!(
        (left.instruction.as_str(), left.unplanned),
        ("LEFT HALF DONE by Flint: Drain the coolant · the clip is loose", true)
    );
    let next = hand.page("/bay/lift-1").await;
    assert!(next.body.contains("class=\"left-over\""), "the next one is told first: {}", next.body);
    assert!(next.body.contains("On since earlier"));
}

#[tokio::test(flavor = "multi_thread")]
async fn a_ready_list_tells_what_the_next_stage_needs_by_its_steps() {
    let scene = Scene::open(Role::Technician).await;
    scene.publish(&[GASKET]).await;
    let job = scene.job_from("inlet-gasket", "silver coupe", "lift-1", 0).await;
    let page = crate::http::get(scene.screen, "/bay/lift-1", "").await;
    assert!(page.body.contains("What it needs in hand") && page.body.contains("<dt>step 4</dt>"), "{}", page.body);
    let (write, name) = (Some(leadhand_sdk::new_write()), "Flint".to_owned());
    let asked = v1::AddPersonRequest { write, name, skills: vec!["engine".into()] };
    scene.lead.add_person(asked).await.unwrap();
    let start = v1::StartStageRequest {
        write: Some(leadhand_sdk::WriteContextExt::for_person(leadhand_sdk::new_write(), "Flint")),
        job,
        stage: "strip".into(),
        ..Default::default()
    };
    scene.lead.start_stage(start).await.unwrap();
    let page = crate::http::get(scene.screen, "/bay/lift-1", "").await;
    assert!(page.body.contains("comes next") && page.body.contains("torque wrench 5 to 50 N.m"), "{}", page.body);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_hand_is_lent_elsewhere_and_back_in_two_touches() {
    let scene = Scene::open(Role::Technician).await;
    let (flint, larch) = (scene.person("Flint", PIN).await, scene.person("Larch", "7250938").await);
    let own = scene.job("green estate", "lift-1", 3).await;
    let other = scene.job("blue saloon", "lift-2", 3).await;
    let (hand, _) = Browser::sign_in(scene.screen, &flint, PIN, "/bay/lift-1").await;
    let (mate, _) = Browser::sign_in(scene.screen, &larch, "7250938", "/bay/lift-2").await;
    hand.touch("lift-1", "start", &[]).await;
    mate.touch("lift-2", "start", &[]).await;
    let before = hand.touches();
    hand.touch_at("lift-1", "on", &format!("name=\"job\" value=\"{other}\"")).await;
    let names = |stage: v1::Stage| stage.persons.into_iter().map(|one| one.name).collect::<Vec<_>>();
    assert_eq!(names(scene.stage(other, "mend").await), ["Larch", "Flint"]);
    assert!(names(scene.stage(own, "mend").await).is_empty());
    let page = hand.page("/bay/lift-1").await;
    assert!(page.body.contains("You are on at lift-2:"), "{}", page.body);
    hand.touch_at("lift-1", "on", &format!("name=\"job\" value=\"{own}\"")).await;
    assert_eq!(names(scene.stage(own, "mend").await), ["Flint"]);
    assert_eq!(
        hand.touches() - before,
        2,
        "the tile of the bay, and back; the first is behind one that opens the tiles"
    );
}

/// Where a hand goes on after it ticked both steps by one touch.
const TICKED: &str = "/bay/lift-1?undo=ticks.mend.1,2";

#[tokio::test(flavor = "multi_thread")]
async fn more_than_a_tick_is_taken_back_by_one_touch() {
    let scene = Scene::open(Role::Technician).await;
    let flint = scene.person("Flint", PIN).await;
    let job = scene.job("green estate", "lift-1", 2).await;
    let (hand, _) = Browser::sign_in(scene.screen, &flint, PIN, "/bay/lift-1").await;
    hand.touch("lift-1", "start", &[]).await;
    let held = hand.touch("lift-1", "held-up", &[("cause", "CAUSE_PART")]).await;
    let page = hand.page(held.header("location").unwrap()).await;
    hand.press(&page, "undo", &[], &[]).await;
    assert!(scene.whole(job).await.blockers.iter().all(|one| one.cleared_at.is_some()));
    let done = |stage: &v1::Stage| stage.steps.iter().filter(|step| step.state() == StepState::Done).count();
    let ticked = hand.touch("lift-1", "tick-all", &[]).await;
    assert_eq!((ticked.header("location"), done(&scene.stage(job, "mend").await)), (Some(TICKED), 2));
    let page = hand.page(TICKED).await;
    hand.press(&page, "undo", &[], &[]).await;
    assert_eq!(done(&scene.stage(job, "mend").await), 0, "both by one touch");
    let finished = hand.touch("lift-1", "tick-all", &[("then", "finish")]).await;
    assert_eq!(scene.stage(job, "mend").await.state(), StageState::Finished);
    let page = hand.page(finished.header("location").unwrap()).await;
    hand.press(&page, "undo", &[], &[]).await;
    let stage = scene.stage(job, "mend").await;
    assert_eq!((stage.state(), done(&stage)), (StageState::Active, 0), "what was one touch is taken back by one");
    hand.touch("lift-1", "tick-all", &[]).await;
    let finished = hand.touch("lift-1", "finish", &[]).await;
    let page = hand.page(finished.header("location").unwrap()).await;
    hand.press(&page, "undo", &[], &[]).await;
    let stage = scene.stage(job, "mend").await;
    assert_eq!((stage.state(), done(&stage)), (StageState::Active, 2), "only the end");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_danger_is_told_apart_and_ends_by_a_leads_words_alone() {
    let scene = Scene::open(Role::Technician).await;
    let flint = scene.person("Flint", PIN).await;
    let heron = scene.person_as("Heron", LEAD_PIN, Role::Lead, &[]).await;
    let job = scene.job("green estate", "lift-1", 2).await;
    let (hand, _) = Browser::sign_in(scene.screen, &flint, PIN, "/bay/lift-1").await;
    hand.touch("lift-1", "start", &[]).await;
    let page = hand.page("/bay/lift-1").await;
    let danger = page.body.find("CAUSE_SAFETY").unwrap();
    assert!(danger < page.body.find("CAUSE_PART").unwrap(), "the danger comes first");
    let seen = [("note", "the jack sinks")];
    let told = hand.press_button(&page, "held-up", &["CAUSE_SAFETY"], &seen, Some(("cause", "CAUSE_SAFETY"))).await;
    assert_eq!(told.header("location"), Some("/bay/lift-1"), "no touch waves it away");
    let blocker = scene.whole(job).await.blockers.remove(0);
    assert_eq!((blocker.cause(), blocker.note.as_str()), (v1::Cause::Safety, "the jack sinks"));
    let page = hand.page("/bay/lift-1").await;
    assert!(page.body.contains("A lead looks at it") && !page.body.contains("value=\"clear\""), "{}", page.body);

    let (lead, _) = Browser::sign_in(scene.screen, &heron, LEAD_PIN, "/desk").await;
    let at_bay = lead.page("/bay/lift-1").await;
    assert!(at_bay.body.contains("value=\"clear\"") && at_bay.body.contains("name=\"words\""), "{}", at_bay.body);
    let desk = lead.page("/desk").await;
    lead.press(&desk, "clear", &[], &[]).await;
    assert!(scene.whole(job).await.blockers[0].cleared_at.is_none(), "without words nothing is safe");
    let desk = lead.page("/desk").await;
    assert!(desk.body.contains("say what was found"), "{}", desk.body);
    let found = [("words", "the jack is renewed")];
    lead.press_button(&desk, "clear", &[], &found, Some(("tile", "Mended and tried"))).await;
    let over = scene.whole(job).await.blockers.remove(0);
    assert!(over.cleared_at.is_some() && over.note.ends_with("Mended and tried: the jack is renewed"), "{}", over.note);
}
