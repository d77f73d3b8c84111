//! The page of a bay by touches in a real browser.

use crate::chrome::TABLET;
use crate::hand::Hand;
use crate::scene::Scene;
use leadhand_sdk::v1::{self, PositionStanding, Role, StageState, StepState};

const TEMPLATE: &str = include_str!("../../deploy/demo-shop/templates/inlet-gasket.toml");
const PIN: &str = "4831905";
const BAY: &str = "/bay/lift-1";

struct Bench {
    scene: Scene,
    hand: Hand,
    job: i64,
}

impl Bench {
    /// Somebody signed in at the tablet of a bay with a strip before them.
    async fn open() -> Option<Self> {
        let scene = Scene::open(Role::Technician).await;
        let hand = Hand::at(scene.screen, TABLET).await?;
        scene.publish(&[TEMPLATE]).await;
        let flint = scene.person_as("Flint", PIN, Role::Technician, &["engine"]).await;
        let job = scene.job_from("inlet-gasket", "silver coupe", "lift-1", 0).await;
        hand.sign_in(&flint, PIN, BAY).await;
        Some(Self { scene, hand, job })
    }

    async fn counts(&self, position: &str) -> (i32, i32, i32) {
        let found = self.scene.position(self.job, position).await;
        (found.found, found.missing, found.damaged)
    }

    /// Begun, made safe, looked at and drained; what comes off is next.
    async fn drained(&self) {
        self.hand.go_words("Start").await;
        self.hand.go_words("Bonnet open").await;
        self.hand.go_words("Hold point, cold").await;
        self.hand.go_words("2 L came out").await;
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_whole_strip_stage_as_listed_takes_less_than_six_touches() {
    let Some(bench) = Bench::open().await else { return };
    bench.drained().await;
    bench.hand.go_words("and the stage is finished").await;
    let stage = bench.scene.stage(bench.job, "strip").await;
    assert_eq!(stage.state(), StageState::Finished);
    assert!(stage.steps.iter().all(|step| step.state() == StepState::Done && step.done_by == "Flint"));
    assert_eq!(bench.counts("manifold-nuts").await, (7, 0, 0));
    let covers = bench.scene.position(bench.job, "port-covers").await;
    assert_eq!((covers.standing(), covers.found), (PositionStanding::StillIn, 4));
    let touches = bench.hand.touches();
    assert!(touches < 6, "{touches} touches");
    // A finished stage may be taken up again for some seconds.
    bench.hand.go_words("Undo").await;
    assert_eq!(bench.scene.stage(bench.job, "strip").await.state(), StageState::Active);
}

#[tokio::test(flavor = "multi_thread")]
async fn two_exceptions_in_a_strip_stage_take_less_than_fifteen_touches() {
    let Some(bench) = Bench::open().await else { return };
    bench.drained().await;
    bench.hand.go_words("Drain the coolant").await;
    bench.hand.go("a[href$='/part/rail-bolts']").await;
    bench.hand.touch("input[name=damaged][value='1']").await;
    bench.hand.go("button.main").await;
    bench.hand.go("a[href$='/part/manifold-nuts']").await;
    bench.hand.touch("input[name=missing][value='1']").await;
    bench.hand.go("button.main").await;
    bench.hand.go_words("and the stage is finished").await;
    assert_eq!(bench.scene.stage(bench.job, "strip").await.state(), StageState::Finished);
    assert_eq!(bench.counts("rail-bolts").await, (2, 0, 1));
    assert_eq!(bench.counts("manifold-nuts").await, (6, 1, 0));
    let touches = bench.hand.touches();
    assert!(touches < 15, "{touches} touches");
}

#[tokio::test(flavor = "multi_thread")]
async fn held_up_takes_two_touches_and_so_does_a_start_that_is_said_late() {
    let scene = Scene::open(Role::Technician).await;
    let Some(hand) = Hand::at(scene.screen, TABLET).await else { return };
    scene.publish(&[TEMPLATE]).await;
    let flint = scene.person_as("Flint", PIN, Role::Technician, &["engine"]).await;
    let job = scene.job_from("inlet-gasket", "silver coupe", "lift-1", 120).await;
    hand.sign_in(&flint, PIN, BAY).await;
    hand.touch_words("Started earlier").await;
    hand.go("details[open] button[name=at]").await;
    assert_eq!(hand.touches(), 2);
    let stage = scene.stage(job, "strip").await;
    assert_eq!(stage.state(), StageState::Active);
    hand.touch_words("Held up").await;
    hand.go("details[open] button[value=CAUSE_TOOL]").await;
    assert_eq!(hand.touches(), 4);
    hand.see("HELD UP").await;
    let held = scene.whole(job).await.blockers.remove(0);
    assert_eq!(held.cause(), v1::Cause::Tool);
    // Nobody has to type; and what was touched by mistake is taken back.
    hand.go_words("Undo").await;
    assert!(scene.whole(job).await.blockers[0].cleared_at.is_some());
}

#[tokio::test(flavor = "multi_thread")]
async fn what_will_not_move_is_tried_and_a_note_by_another_hand_appears_by_itself() {
    let Some(bench) = Bench::open().await else { return };
    bench.drained().await;
    bench.hand.go_words("Drain the coolant").await;
    bench.hand.go("a[href$='/part/manifold-nuts']").await;
    bench.hand.see("Brush the thread clean").await;
    bench.hand.go_words("It did not move").await;
    bench.hand.see("Tighten by a hair").await;
    let tried = bench.scene.position(bench.job, "manifold-nuts").await.attempts;
    assert_eq!(tried.len(), 1);
    bench.hand.open(BAY).await;
    let asked = v1::AddStepRequest {
        write: Some(leadhand_sdk::new_write()),
        job: bench.job,
        stage: "strip".into(),
        instruction: "Mind the brittle clip".into(),
        ..Default::default()
    };
    bench.scene.lead.add_step(asked).await.unwrap();
    bench.hand.see("Mind the brittle clip").await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_hand_is_lent_in_two_touches_and_what_is_half_done_is_left_for_the_next() {
    let scene = Scene::open(Role::Technician).await;
    let Some(hand) = Hand::at(scene.screen, TABLET).await else { return };
    let flint = scene.person("Flint", PIN).await;
    let larch = scene.person("Larch", "7250938").await;
    let own = scene.job("green estate", "lift-1", 3).await;
    let other = scene.job("blue saloon", "lift-2", 3).await;
    hand.sign_in(&larch, "7250938", "/bay/lift-2").await;
    hand.go_words("Start").await;
    hand.sign_in(&flint, PIN, BAY).await;
    hand.go_words("Start").await;
    let before = hand.touches();
    hand.touch_words("Lend a hand").await;
    hand.go_at("details[open]", "lift-2").await;
    assert_eq!(hand.touches() - before, 2);
    let names = |stage: v1::Stage| stage.persons.into_iter().map(|one| one.name).collect::<Vec<_>>();
    assert_eq!(names(scene.stage(other, "mend").await), ["Larch", "Flint"]);
    hand.see("You are on at lift-2").await;
    hand.go_words("Clock on").await;
    assert_eq!(names(scene.stage(own, "mend").await), ["Flint"]);
    hand.touch_words("Clock off").await;
    hand.see("Is anything half done?").await;
    hand.touch_at("details[open]", "1 · Do thing 1").await;
    hand.go_at("details[open]", "These are half done").await;
    hand.see("LEFT HALF DONE by Flint: Do thing 1").await;
    assert!(names(scene.stage(own, "mend").await).is_empty());
}

#[tokio::test(flavor = "multi_thread")]
async fn a_lead_overrules_at_somebody_elses_tablet_and_signs_nobody_out() {
    let Some(bench) = Bench::open().await else { return };
    let heron = bench.scene.person_as("Heron", "6194027", Role::Lead, &[]).await;
    let hand = &bench.hand;
    hand.go_words("Start").await;
    hand.go_words("Airbox with its hose").await;
    // Nobody felt whether the engine is cold: the server refuses, and says that a lead may overrule.
    hand.go("button.main").await;
    hand.until("return document.querySelector('[role=alert]') !== null", &[]).await;
    assert_eq!(bench.scene.position(bench.job, "airbox").await.standing(), PositionStanding::NotYet);
    hand.go_words("A lead overrules it").await;
    hand.see("What was refused").await;
    hand.go(&format!("button[name=person][value='{heron}']")).await;
    hand.touch_words("I looked at it, it is safe to go on").await;
    hand.write("#pin", "6194027").await;
    hand.go("button.main").await;
    hand.see("Heron overruled it.").await;
    let off = bench.scene.position(bench.job, "airbox").await;
    assert_eq!((off.standing(), off.off_by.as_str()), (PositionStanding::Off, "Flint"));
    let asked = v1::ReadJournalRequest { page_size: 1000, ..Default::default() };
    let facts = bench.scene.lead.read_journal(asked).await.unwrap().facts;
    let fact = facts.iter().find(|fact| fact.kind == "position_off").unwrap();
    let words = format!("{:?}", fact.words);
    assert!(words.contains("I looked at it, it is safe to go on"), "{words}");
    assert_eq!(fact.words.get(&fact.proved_by).map(String::as_str), Some("Heron"), "{fact:?}");
    hand.see("Flint").await;
    assert!(!hand.sees("A lead overrules it").await, "it is settled");
}

#[tokio::test(flavor = "multi_thread")]
async fn what_was_typed_into_a_form_that_is_refused_stands_in_it_again() {
    let Some(bench) = Bench::open().await else { return };
    let hand = &bench.hand;
    hand.go_words("Start").await;
    hand.go_words("Not listed").await;
    hand.touch_at("fieldset", "clip or clamp").await;
    hand.touch_at("fieldset", "Airbox with its hose").await;
    hand.touch_at("fieldset", "bag").await;
    hand.touch_words("Say more").await;
    hand.write("#what", "brittle \"clip\"").await;
    hand.go_words("Off like this").await;
    hand.until("return document.querySelector('[role=alert]') !== null", &[]).await;
    let typed = "
        const form = document.querySelector('#what').form;
        return [form.what.value, form.kind.value, form.keep.value, form.count.value, form.behind.checked];";
    let expected = serde_json::json!(["brittle \"clip\"", "POSITION_KIND_CLIP", "KEEP_BAG", "1", true]);
    // The tile of what it is behind is one of several of that name.
    let typed = typed.replace("form.behind.checked", "!!form.querySelector('[name=behind][value=airbox]').checked");
    assert_eq!(hand.until(&typed, &[]).await, expected);
}
