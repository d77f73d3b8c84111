//! Signing in at a screen, and the page of a bay.

use crate::browser::{Browser, PIN};
use crate::http::{get, post, post_from};
use crate::scene::Scene;
use leadhand_sdk::v1::{self, Role, StepState};

async fn step_states(scene: &Scene, job: i64) -> Vec<StepState> {
    let whole = scene.lead.get_job(v1::GetJobRequest { job }).await.unwrap();
    whole.stages[0].steps.iter().map(v1::Step::state).collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_stage_is_done_at_the_bay_by_touches() {
    use StepState::{Done, Pending};
    let scene = Scene::open(Role::Technician).await;
    let person = scene.person("Flint", PIN).await;
    let job = scene.job("green estate", "lift-1", 3).await;
    let looking = get(scene.screen, "/bay/lift-1", "").await;
    assert!(looking.body.contains("Mend it") && !looking.body.contains("name=\"act\""), "nobody is signed in");
    let tiles = get(scene.screen, "/sign-in?to=/bay/lift-1", "").await;
    assert!(tiles.body.contains(&format!("/sign-in?person={person}")), "{}", tiles.body);
    let (flint, answer) = Browser::sign_in(scene.screen, &person, PIN, "/bay/lift-1").await;
    assert_eq!((answer.status, answer.header("location")), (303, Some("/bay/lift-1")));
    let attributes = answer.header("set-cookie").unwrap();
    assert!(attributes.contains("; HttpOnly; SameSite=Strict"), "{attributes}");
    assert!(!answer.head.contains("lhs_") && !answer.body.contains("lhs_"), "the session's secret stays inside");

    flint.touch("lift-1", "start", &[]).await;
    flint.touch("lift-1", "tick", &[("step", "1")]).await;
    assert_eq!(step_states(&scene, job).await, [Done, Pending, Pending]);
    let page = flint.page("/bay/lift-1?undo=ticks.mend.1").await;
    assert_eq!(flint.press(&page, "undo", &[], &[]).await.status, 303);
    assert_eq!(step_states(&scene, job).await, [Pending; 3]);

    flint.touch("lift-1", "held-up", &[("cause", "CAUSE_TOOL")]).await;
    let held = scene.lead.get_job(v1::GetJobRequest { job }).await.unwrap().blockers;
    assert_eq!(held.len(), 1, "touched twice, held up once");
    assert_eq!(held[0].cause(), v1::Cause::Tool);
    flint.touch("lift-1", "clear", &[]).await;
    flint.touch("lift-1", "tick-all", &[]).await;
    assert_eq!(step_states(&scene, job).await, [Done; 3]);
    flint.touch("lift-1", "finish", &[]).await;
    let whole = scene.lead.get_job(v1::GetJobRequest { job }).await.unwrap();
    assert_eq!(whole.stages[0].state(), v1::StageState::Finished);
    assert_eq!(whole.stages[0].steps[2].done_by, "Flint");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_refusal_is_shown_in_the_servers_words_once() {
    let scene = Scene::open(Role::Technician).await;
    let person = scene.person("Flint", PIN).await;
    scene.job("green estate", "lift-1", 3).await;
    let (flint, _) = Browser::sign_in(scene.screen, &person, PIN, "/bay/lift-1").await;
    flint.touch("lift-1", "start", &[]).await;
    let page = flint.page("/bay/lift-1").await;
    let proof = page.field("<form", "proof");
    let id = "00000000-0000-4000-8000-000000000001";
    let finish = [("proof", proof.as_str()), ("request", id), ("act", "finish"), ("job", "1"), ("stage", "mend")];
    assert_eq!(post(scene.screen, "/bay/lift-1", &flint.cookie, &finish).await.status, 303);
    let told = flint.page("/bay/lift-1").await;
    assert!(told.body.contains("class=\"note\" role=\"alert\""), "{}", told.body);
    assert!(!flint.page("/bay/lift-1").await.body.contains("class=\"note\""), "it is said once");
}

#[tokio::test(flavor = "multi_thread")]
async fn what_was_not_sent_from_a_page_of_the_screen_does_nothing() {
    let scene = Scene::open(Role::Technician).await;
    let person = scene.person("Flint", PIN).await;
    let job = scene.job("green estate", "lift-1", 3).await;
    let (flint, _) = Browser::sign_in(scene.screen, &person, PIN, "/bay/lift-1").await;
    flint.touch("lift-1", "start", &[]).await;
    let proof = flint.page("/bay/lift-1").await.field("<form", "proof");
    let id = "00000000-0000-4000-8000-000000000002";
    let tick = |proof: &str| {
        let steps = ("steps", "1,2,3");
        let fields = [("proof", proof), ("request", id), ("act", "tick-all"), ("job", "1"), ("stage", "mend"), steps];
        fields.map(|(name, value)| (name.to_owned(), value.to_owned()))
    };
    let good = tick(&proof);
    let fields: Vec<(&str, &str)> = good.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    let own = format!("http://{}", scene.screen);
    for origin in [None, Some("null"), Some("http://evil.example"), Some(own.replace("http", "https").as_str())] {
        let refused = post_from(scene.screen, "/bay/lift-1", &flint.cookie, origin, &fields).await;
        assert_eq!(refused.status, 403, "{origin:?}");
        assert!(refused.body.contains("not sent from a page of this screen"), "{}", refused.body);
    }
    for wrong in ["", "0", &"0".repeat(64)] {
        let bad = tick(wrong);
        let fields: Vec<(&str, &str)> = bad.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
        assert_eq!(post(scene.screen, "/bay/lift-1", &flint.cookie, &fields).await.status, 403, "{wrong}");
    }
    let bare = post(scene.screen, "/bay/lift-1", "", &fields).await;
    assert_eq!(bare.status, 403, "without its cookie");
    assert_eq!(post(scene.screen, "/sign-in", &flint.cookie, &[("person", &person), ("pin", PIN)]).await.status, 403);
    assert_eq!(step_states(&scene, job).await, [StepState::Pending; 3]);
    // The same, as the page sends it.
    assert_eq!(post(scene.screen, "/bay/lift-1", &flint.cookie, &fields).await.status, 303);
    assert_eq!(step_states(&scene, job).await, [StepState::Done; 3]);
}

#[tokio::test(flavor = "multi_thread")]
async fn signing_out_ends_the_session_here_and_at_the_server() {
    let scene = Scene::open(Role::Technician).await;
    let person = scene.person("Flint", PIN).await;
    scene.job("green estate", "lift-1", 3).await;
    let (_, wrong) = Browser::sign_in(scene.screen, &person, "1111111", "/bay/lift-1").await;
    assert_eq!(wrong.status, 403);
    assert!(wrong.body.contains("role=\"alert\"") && wrong.body.contains("name=\"pin\""), "{}", wrong.body);
    let (flint, _) = Browser::sign_in(scene.screen, &person, PIN, "/bay/lift-1").await;
    let page = flint.page("/bay/lift-1").await;
    let proof = page.field("<form", "proof");
    let out = post(scene.screen, "/sign-out", &flint.cookie, &[("proof", &proof), ("to", "/bay/lift-1")]).await;
    assert_eq!((out.status, out.header("location")), (303, Some("/bay/lift-1")));
    assert!(!flint.page("/bay/lift-1").await.body.contains("name=\"act\""));
    let facts =
        scene.lead.read_journal(v1::ReadJournalRequest { page_size: 1000, ..Default::default() }).await.unwrap();
    let kinds: Vec<&str> = facts.facts.iter().map(|fact| fact.kind.as_str()).collect();
    assert_eq!(kinds.iter().filter(|kind| **kind == "signed_in").count(), 1);
    assert_eq!(kinds.iter().filter(|kind| **kind == "signed_out").count(), 1, "{kinds:?}");
}

#[tokio::test(flavor = "multi_thread")]
async fn at_a_viewers_screen_nobody_signs_in_and_nobody_acts() {
    let scene = Scene::open(Role::Viewer).await;
    let person = scene.person("Flint", PIN).await;
    let job = scene.job("green estate", "lift-1", 3).await;
    let (nobody, answer) = Browser::sign_in(scene.screen, &person, PIN, "/bay/lift-1").await;
    assert_eq!(answer.status, 403, "{}", answer.body);
    let page = get(scene.screen, "/sign-in", &nobody.cookie).await;
    let proof = page.field("<form", "proof");
    let id = "00000000-0000-4000-8000-000000000003";
    let tick = [("proof", proof.as_str()), ("request", id), ("act", "start"), ("job", "1"), ("stage", "mend")];
    let sent = post(scene.screen, "/bay/lift-1", &nobody.cookie, &tick).await;
    assert_eq!((sent.status, sent.header("location")), (303, Some("/sign-in?to=/bay/lift-1")));
    let whole = scene.lead.get_job(v1::GetJobRequest { job }).await.unwrap();
    assert_eq!(whole.stages[0].state(), v1::StageState::Ready);
    assert_eq!(get(scene.screen, "/bay/nowhere", "").await.status, 404);
}
