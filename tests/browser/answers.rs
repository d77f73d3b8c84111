//! Where the answer to a touch stands, what is asked of whoever signs out, and what a form that lies open says.

use crate::chrome::{DESK, PHONE};
use crate::hand::Hand;
use crate::pages;
use crate::scene::Scene;
use leadhand_sdk::new_write;
use leadhand_sdk::v1::{self, PositionStanding, Role, StageState, Tightness};

const GASKET: &str = include_str!("../../deploy/demo-shop/templates/inlet-gasket.toml");
const COOLANT: &str = include_str!("../../deploy/demo-shop/templates/coolant-service.toml");
const PIN: &str = "4831905";
const LEAD_PIN: &str = "6194027";

/// Whether the answer is on the screen, has the keyboard, and is told to whoever listens.
const ANSWERED: &str = "
    const box = document.querySelector('.answered');
    if (!box || !box.innerText.trim()) return false;
    const seen = box.getBoundingClientRect();
    return seen.top >= 0 && seen.bottom <= innerHeight && document.activeElement === box && box.getAttribute('role') === 'alert';";

#[tokio::test(flavor = "multi_thread")]
async fn what_was_refused_is_answered_where_it_was_touched() {
    let scene = Scene::open(Role::Technician).await;
    let Some(hand) = Hand::at(scene.screen, PHONE).await else { return };
    scene.publish(&[GASKET]).await;
    let flint = scene.person_as("Flint", PIN, Role::Technician, &["engine"]).await;
    let job = scene.job_from("inlet-gasket", "silver coupe", "lift-1", 0).await;
    hand.sign_in(&flint, PIN, "/bay/lift-1").await;
    hand.ask("scrollTo(0, 1e6)", &[]).await;
    hand.go_words("Start").await;
    assert_eq!(hand.ask("return scrollY === 0", &[]).await, true, "another stage begins with its cautions");
    // Nobody said that the bonnet is open, and nobody looked: the step that drains is refused.
    hand.go_words("Drain the coolant").await;
    hand.until(ANSWERED, &[]).await;
    let beside =
        "return document.querySelector('.answered').previousElementSibling.innerText.includes('Drain the coolant')";
    assert_eq!(hand.ask(beside, &[]).await, true, "{}", hand.shown().await);
    // It stays when the page is put in place by what somebody else did.
    let write = Some(new_write());
    let (stage, instruction) = ("strip".to_owned(), "Mind the brittle clip".to_owned());
    let asked = v1::AddStepRequest { write, job, stage, instruction, ..Default::default() };
    scene.lead.add_step(asked).await.unwrap();
    hand.see("Mind the brittle clip").await;
    assert_eq!(hand.ask(beside, &[]).await, true, "{}", hand.shown().await);
    // After what was done the page stands where the hand is, and its way back is in sight there.
    hand.go_words("Bonnet open").await;
    let stays = "
        const undo = document.querySelector('.undo').getBoundingClientRect();
        return !document.querySelector('.answered') && scrollY > 0 && undo.top >= 0 && undo.bottom <= innerHeight;";
    assert_eq!(hand.ask(stays, &[]).await, true, "{}", hand.shown().await);
    // What holds up is told at the top, wherever it was touched.
    let all = "document.querySelectorAll('main details').forEach((one) => { one.open = true; }); scrollTo(0, 1e6)";
    hand.ask(all, &[]).await;
    hand.go("form:has(input[value=held-up]) button[value=CAUSE_SAFETY]").await;
    let told = "
        const held = document.querySelector('.held').getBoundingClientRect();
        const said = document.querySelector('.said').innerText;
        return held.top >= 0 && held.top < innerHeight && said.includes('Keep away until a lead has looked');";
    assert_eq!(hand.ask(told, &[]).await, true, "{}", hand.shown().await);
}

#[tokio::test(flavor = "multi_thread")]
async fn what_stopped_half_way_is_answered_where_it_was_touched() {
    let scene = Scene::open(Role::Technician).await;
    let Some(hand) = Hand::at(scene.screen, PHONE).await else { return };
    let flint = scene.person("Flint", PIN).await;
    let job = scene.job("green estate", "lift-1", 14).await;
    hand.sign_in(&flint, PIN, "/bay/lift-1").await;
    hand.go_words("Start").await;
    // Somebody holds it up by a danger after the page was made: steps are done, and the stage is not finished.
    let (write, cause) = (Some(new_write()), v1::Cause::Safety.into());
    let raise = v1::RaiseBlockerRequest { write, job, stage: "mend".into(), cause, ..Default::default() };
    hand.ask("document.querySelector('input[autocomplete]').focus()", &[]).await;
    hand.ask("document.querySelectorAll('main details').forEach((one) => { one.open = true; })", &[]).await;
    scene.lead.raise_blocker(raise).await.unwrap();
    hand.go_words("and the stage is finished").await;
    hand.until(ANSWERED, &[]).await;
    assert_eq!(scene.stage(job, "mend").await.state(), StageState::Active);
}

fn names(stage: v1::Stage) -> Vec<String> {
    stage.persons.into_iter().map(|one| one.name).collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn whoever_signs_out_on_the_clock_is_asked_what_is_half_done() {
    let scene = Scene::open(Role::Technician).await;
    let Some(hand) = Hand::at(scene.screen, PHONE).await else { return };
    let flint = scene.person("Flint", PIN).await;
    let job = scene.job("green estate", "lift-1", 3).await;
    hand.sign_in(&flint, PIN, "/bay/lift-1").await;
    hand.go_words("Start").await;
    hand.go_words("Sign out").await;
    hand.see("Is anything half done?").await;
    assert_eq!(names(scene.stage(job, "mend").await), ["Flint"], "nothing is done before it is said");
    hand.go_words("Sign out, and stay on the clock").await;
    hand.see("Sign in").await;
    assert_eq!(names(scene.stage(job, "mend").await), ["Flint"]);

    hand.sign_in(&flint, PIN, "/bay/lift-1").await;
    hand.go_words("Sign out").await;
    hand.touch_words("2 · Do thing 2").await;
    hand.touch_words("3 · Do thing 3").await;
    hand.go_words("These are half done").await;
    hand.see("Sign in").await;
    hand.see("LEFT HALF DONE by Flint: Do thing 2 · Do thing 3").await;
    assert!(names(scene.stage(job, "mend").await).is_empty());
    // Off the clock nobody is asked.
    hand.sign_in(&flint, PIN, "/bay/lift-1").await;
    hand.go_words("Sign out").await;
    hand.see("Sign in").await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_lead_who_signs_out_at_the_desk_is_asked_as_well() {
    let scene = Scene::open(Role::Technician).await;
    let Some(hand) = Hand::at(scene.screen, DESK).await else { return };
    let heron = scene.person_as("Heron", LEAD_PIN, Role::Lead, &[]).await;
    let job = scene.job("green estate", "lift-1", 3).await;
    hand.sign_in(&heron, LEAD_PIN, "/bay/lift-1").await;
    hand.go_words("Start").await;
    hand.open("/desk").await;
    hand.go_words("Sign out").await;
    hand.see("Is anything half done?").await;
    hand.go_words("Nothing is half done").await;
    assert!(names(scene.stage(job, "mend").await).is_empty());
    let steps = scene.stage(job, "mend").await.steps;
    assert_eq!(steps.len(), 3, "nothing is left for the next: {steps:?}");
}

/// The parts of a full desk that a phone shows without scrolling.
const FIRST_SCREEN: &str = "
    const seen = (one) => { const box = one.getBoundingClientRect(); return box.top >= 0 && box.bottom <= innerHeight; };
    const all = (selector) => [...document.querySelectorAll(selector)];
    return {
        sums: all('.sums a').length,
        whole: all('.sums a').every(seen) && seen(document.querySelector('.sum')),
        stuck: all('#held summary').filter(seen).length,
        lines: all('details.fold').length,
        open: all('details.fold[open]').length,
        long: Math.max(...all('.band summary').map((one) => one.getBoundingClientRect().height)),
    };";

#[tokio::test(flavor = "multi_thread")]
async fn a_phone_shows_a_full_shop_on_its_first_screen_and_opens_each_line_by_keyboard() {
    let scene = Scene::open(Role::Technician).await;
    let Some(hand) = Hand::at(scene.screen, PHONE).await else { return };
    scene.publish(&[COOLANT]).await;
    pages::fill(&scene).await;
    let heron = scene.person_as("Heron", LEAD_PIN, Role::Lead, &[]).await;
    hand.sign_in(&heron, LEAD_PIN, "/desk").await;
    for words in ["6 hold-ups", "24 in the bays", "8 outside"] {
        hand.see(words).await;
    }
    let shown = hand.ask(FIRST_SCREEN, &[]).await;
    assert_eq!((&shown["sums"], &shown["whole"], &shown["open"]), (&3.into(), &true.into(), &0.into()), "{shown}");
    assert!(shown["stuck"].as_i64() >= Some(3), "{shown}");
    assert_eq!(shown["lines"], 6 + 24 + 8, "{shown}");
    assert!(shown["long"].as_f64() <= Some(100.0), "a job is one line, two at most: {shown}");
    hand.ask("document.querySelector('#in-bays summary').focus()", &[]).await;
    hand.keys("\u{e007}").await;
    hand.until("return document.querySelector('#in-bays details.fold').open", &[]).await;
    hand.see("Another bay").await;
    hand.open("/desk").await;
    assert_eq!(hand.ask("return document.querySelectorAll('details.fold[open]').length", &[]).await, 0);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_form_that_lies_open_at_the_desk_says_that_its_job_has_changed() {
    let scene = Scene::open(Role::Technician).await;
    let Some(hand) = Hand::at(scene.screen, DESK).await else { return };
    let heron = scene.person_as("Heron", LEAD_PIN, Role::Lead, &[]).await;
    scene.job("green estate", "lift-1", 3).await;
    let other = scene.job("blue saloon", "lift-2", 3).await;
    hand.sign_in(&heron, LEAD_PIN, "/desk").await;
    hand.ask("window.same = true", &[]).await;
    hand.touch_words("blue saloon").await;
    hand.touch_words("Another bay").await;
    assert!(!hand.sees("This job has changed").await);
    scene.held_up(other).await;
    hand.see("This job has changed since the page was made.").await;
    assert_eq!(hand.ask("return window.same === true", &[]).await, true, "nothing was taken from under the hand");
    let shown =
        "return [...document.querySelectorAll('[data-changed-line]')].filter((one) => one.checkVisibility()).length";
    assert_eq!(hand.ask(shown, &[]).await, 1, "the other job has not");
    hand.go_words("Look again").await;
    hand.see("1 hold-up").await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_technician_is_told_at_the_bay_that_a_correction_was_declined_until_it_is_seen() {
    let scene = Scene::open(Role::Technician).await;
    let Some(hand) = Hand::at(scene.screen, PHONE).await else { return };
    let heron = scene.person_as("Heron", LEAD_PIN, Role::Lead, &[]).await;
    let larch = scene.person("Larch", PIN).await;
    let job = scene.worked("Larch").await;
    let cancel = v1::CancelJobRequest { write: Some(new_write()), job, reason: "no".into(), as_it_is: true };
    scene.lead.cancel_job(cancel).await.unwrap();
    hand.sign_in(&larch, PIN, "/time").await;
    hand.touch_words("This is wrong").await;
    hand.go_words("it should go altogether: Nobody worked then").await;
    hand.sign_in(&heron, LEAD_PIN, "/desk").await;
    hand.touch_words("Larch's time").await;
    hand.go_words("Leave it as entered").await;
    hand.sign_in(&larch, PIN, "/bay/lift-1").await;
    hand.see("The correction of your time that you asked for is DECLINED").await;
    hand.see("Heron: left as entered").await;
    hand.go_words("Seen").await;
    assert!(!hand.sees("DECLINED").await);
    // Nobody else is told.
    hand.sign_in(&heron, LEAD_PIN, "/bay/lift-1").await;
    assert!(!hand.sees("DECLINED").await);
}

#[tokio::test(flavor = "multi_thread")]
async fn what_was_put_back_tightened_or_poured_is_taken_back_while_it_is_offered() {
    let scene = Scene::open(Role::Technician).await;
    let Some(hand) = Hand::at(scene.screen, DESK).await else { return };
    scene.publish(&[GASKET]).await;
    let flint = scene.person_as("Flint", PIN, Role::Technician, &["engine"]).await;
    let job = scene.job_from("inlet-gasket", "silver coupe", "lift-1", 0).await;
    hand.sign_in(&flint, PIN, "/bay/lift-1").await;
    hand.go_words("Start").await;
    hand.go_words("Bonnet open").await;
    hand.go_words("Hold point, cold").await;
    hand.go_words("2 L came out").await;
    let coolant = async || scene.whole(job).await.fluids.into_iter().find(|line| line.fluid == "coolant").unwrap();
    assert_eq!(coolant().await.drained_ml, 2_000);
    hand.go_words("Undo").await;
    assert_eq!(coolant().await.drained_ml, 0, "{}", hand.shown().await);
    hand.go_words("2 L came out").await;
    hand.go_words("and the stage is finished").await;
    assert_eq!(scene.position(job, "manifold-nuts").await.standing(), PositionStanding::Off);
    // What goes back in the stage that follows, all at once, is off again by one touch.
    hand.go_words("Start").await;
    hand.go_words("lines: back as listed").await;
    assert_eq!(scene.position(job, "manifold-nuts").await.standing(), PositionStanding::Settled);
    hand.go_words("Undo").await;
    for position in ["manifold-nuts", "manifold", "rail-bolts"] {
        let found = scene.position(job, position).await;
        assert_eq!((found.standing(), found.refitted), (PositionStanding::Off, 0), "{position}");
    }
    assert_eq!(scene.position(job, "port-covers").await.standing(), PositionStanding::StillIn);
    hand.go_words("lines: back as listed").await;
    let tight = async || scene.position(job, "manifold-nuts").await.tightness();
    let before = tight().await;
    assert_ne!(before, Tightness::Final);
    hand.go_at("form:has([name=position][value=manifold-nuts])", "Tight as listed").await;
    assert_eq!(tight().await, Tightness::Final);
    hand.go_words("Undo").await;
    assert_eq!(tight().await, before);
    // What went in can't be taken back without what came out: that is said, and nothing is offered.
    hand.go_words("2 L went in").await;
    hand.see("This can not be undone by itself").await;
    assert!(!hand.sees("Undo").await);
}
