//! The strip book at a bay by touches alone: off as listed with exceptions, what will not move, back in its order, and a
//! second look by somebody else. Common practice, in the shop's own words.

use crate::browser::{Browser, PIN};
use crate::http::Answer;
use crate::scene::Scene;
use leadhand_sdk::v1::{self, AttemptOutcome, Keep, PositionStanding, Role, StageState, StepState};

const TEMPLATE: &str = include_str!("../../deploy/demo-shop/templates/inlet-gasket.toml");
const LARCH_PIN: &str = "7250938";
const BAY: &str = "/bay/lift-1";

struct Bench {
    scene: Scene,
    flint: Browser,
    flint_id: String,
    larch_id: String,
    job: i64,
}

impl Bench {
    async fn open() -> Self {
        let scene = Scene::open(Role::Technician).await;
        scene.publish(&[TEMPLATE]).await;
        let flint_id = scene.person_as("Flint", PIN, Role::Technician, &["engine"]).await;
        let larch_id = scene.person_as("Larch", LARCH_PIN, Role::Technician, &["engine"]).await;
        let job = scene.job_from("inlet-gasket", "silver coupe", "lift-1", 0).await;
        let (flint, _) = Browser::sign_in(scene.screen, &flint_id, PIN, BAY).await;
        Self { scene, flint, flint_id, larch_id, job }
    }

    fn part(&self, position: &str) -> String {
        format!("{BAY}/job/{}/part/{position}", self.job)
    }

    /// The page of a position, from the bay's.
    async fn at(&self, position: &str) -> Answer {
        let page = self.flint.page(BAY).await;
        self.flint.follow(&page, &self.part(position)).await
    }

    /// Started, cold, looked at and drained: then something may be opened.
    /// The stage has begun, and the next step drains.
    async fn cold(&self) {
        self.flint.touch("lift-1", "start", &[]).await;
        for step in ["1", "2"] {
            self.flint.touch_at("lift-1", "tick", &format!("name=\"step\" value=\"{step}\"")).await;
        }
    }

    async fn made_safe(&self) {
        self.cold().await;
        self.flint.touch("lift-1", "fluid", &[("drained", "2000")]).await;
        self.flint.touch_at("lift-1", "tick", "name=\"step\" value=\"3\"").await;
    }

    async fn counts(&self, position: &str) -> (i32, i32, i32) {
        let found = self.scene.position(self.job, position).await;
        (found.found, found.missing, found.damaged)
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_whole_strip_stage_with_two_exceptions_takes_less_than_fifteen_touches() {
    let bench = Bench::open().await;
    bench.made_safe().await;
    let bolts = bench.at("rail-bolts").await;
    assert!(
        bolts.body.contains("In front of it, and of which nothing was said: Airbox with its hose"),
        "{}",
        bolts.body
    );
    bench.flint.press(&bolts, "take-off", &[], &[("damaged", "1")]).await;
    let nuts = bench.at("manifold-nuts").await;
    bench.flint.press(&nuts, "take-off", &[], &[("missing", "1")]).await;
    bench.flint.touch("lift-1", "tick-all", &[]).await;
    bench.flint.touch("lift-1", "finish", &[]).await;
    let stage = bench.scene.stage(bench.job, "strip").await;
    assert_eq!(stage.state(), StageState::Finished);
    assert!(stage.steps.iter().all(|step| step.state() == StepState::Done && step.done_by == "Flint"));
    assert_eq!(bench.counts("rail-bolts").await, (2, 0, 1));
    assert_eq!(bench.counts("manifold-nuts").await, (6, 1, 0));
    assert_eq!(bench.counts("rail-plugs").await, (4, 0, 0));
    let covers = bench.scene.position(bench.job, "port-covers").await;
    assert_eq!((covers.standing(), covers.found), (PositionStanding::StillIn, 4));
    let touches = bench.flint.touches();
    assert!(touches < 15, "{touches} touches");
}

#[tokio::test(flavor = "multi_thread")]
async fn exceptions_are_touched_and_never_typed() {
    let bench = Bench::open().await;
    bench.made_safe().await;
    let airbox = bench.at("airbox").await;
    let chosen = [("keep", "KEEP_OUTSIDE"), ("repair", "earlier repair")];
    bench.flint.press(&airbox, "take-off", &[], &chosen).await;
    let off = bench.scene.position(bench.job, "airbox").await;
    assert_eq!((off.keep(), off.repair.as_str(), off.off_by.as_str()), (Keep::Outside, "earlier repair", "Flint"));
    // Another number than the one listed asks for a word why; the page has it.
    let plugs = bench.at("rail-plugs").await;
    bench.flint.press(&plugs, "take-off", &[], &[("found", "5")]).await;
    let off = bench.scene.position(bench.job, "rail-plugs").await;
    assert_eq!((off.found, off.note.as_str()), (5, "counted at the bay: 5 were there, 4 are listed"));
    let nuts = bench.at("manifold-nuts").await;
    bench.flint.press(&nuts, "take-off", &[], &[("studs", "1")]).await;
    let book = bench.scene.lead.get_strip(v1::GetStripRequest { job: bench.job, ..Default::default() }).await.unwrap();
    assert!(book.positions.iter().any(|one| one.came_with == "manifold-nuts"), "a stud is a position of its own");
}

#[tokio::test(flavor = "multi_thread")]
async fn what_was_said_of_positions_is_taken_back_by_one_touch() {
    let bench = Bench::open().await;
    bench.made_safe().await;
    let bolts = bench.at("rail-bolts").await;
    let said = bench.flint.press(&bolts, "take-off", &[], &[]).await;
    let back = said.header("location").unwrap().to_owned();
    assert_eq!(back, format!("{BAY}?undo=off.rail-bolts,airbox"));
    let page = bench.flint.page(&back).await;
    assert!(page.body.contains("Said of Bolts of the fuel rail, Airbox with its hose."), "{}", page.body);
    bench.flint.press(&page, "undo", &[], &[]).await;
    for position in ["rail-bolts", "airbox"] {
        assert_eq!(bench.scene.position(bench.job, position).await.standing(), PositionStanding::NotYet, "{position}");
    }
    // A step goes back with all that its touch took off.
    let ticked = bench.flint.touch_at("lift-1", "tick", "name=\"step\" value=\"4\"").await;
    assert_eq!(bench.scene.position(bench.job, "rail").await.standing(), PositionStanding::Off);
    // Whatever order they are told in: one that lies in front of another is tried again behind it.
    let told = ticked.header("location").unwrap();
    let (head, list) = told.rsplit_once('.').unwrap();
    let turned: Vec<&str> = list.split(',').rev().collect();
    assert_eq!(turned.len(), 4, "{told}");
    let page = bench.flint.page(&format!("{head}.{}", turned.join(","))).await;
    bench.flint.press(&page, "undo", &[], &[]).await;
    for position in ["rail-bolts", "airbox", "rail", "rail-plugs"] {
        assert_eq!(bench.scene.position(bench.job, position).await.standing(), PositionStanding::NotYet, "{position}");
    }
    assert_eq!(bench.scene.stage(bench.job, "strip").await.steps[3].state(), StepState::Pending);
}

#[tokio::test(flavor = "multi_thread")]
async fn what_somebody_else_counted_meanwhile_stays_when_a_tick_is_taken_back() {
    let bench = Bench::open().await;
    bench.made_safe().await;
    let shown = bench.flint.page(BAY).await;
    let (larch, _) = Browser::sign_in(bench.scene.screen, &bench.larch_id, LARCH_PIN, BAY).await;
    let page = larch.page(BAY).await;
    let airbox = larch.follow(&page, &bench.part("airbox")).await;
    larch.press(&airbox, "take-off", &[], &[("damaged", "1")]).await;
    let ticked = bench.flint.press(&shown, "tick", &["name=\"step\" value=\"4\""], &[]).await;
    assert_eq!(bench.scene.position(bench.job, "rail").await.off_by, "Flint");
    let page = bench.flint.page(ticked.header("location").unwrap()).await;
    bench.flint.press(&page, "undo", &[], &[]).await;
    for position in ["rail-bolts", "rail", "rail-plugs"] {
        assert_eq!(bench.scene.position(bench.job, position).await.standing(), PositionStanding::NotYet, "{position}");
    }
    let airbox = bench.scene.position(bench.job, "airbox").await;
    assert_eq!((airbox.off_by.as_str(), airbox.damaged), ("Larch", 1));
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_no_number_is_refused_where_it_was_typed() {
    let bench = Bench::open().await;
    bench.cold().await;
    let airbox = bench.at("airbox").await;
    let refused = bench.flint.press(&airbox, "take-off", &[], &[("found", "two")]).await;
    assert_eq!(refused.header("location"), Some(bench.part("airbox").as_str()));
    let told = bench.flint.page(&bench.part("airbox")).await;
    assert!(told.body.contains("is not a number that can be taken"), "{}", told.body);
    assert_eq!(bench.scene.position(bench.job, "airbox").await.standing(), PositionStanding::NotYet);
    let page = bench.flint.page(BAY).await;
    bench.flint.press(&page, "fluid", &["type=\"text\""], &[("drained", "1,900")]).await;
    let told = bench.flint.page(BAY).await;
    assert!(told.body.contains("1,900 may mean two things; write 1900 or 1.9."), "{}", told.body);
    assert_eq!(bench.scene.whole(bench.job).await.fluids[0].drained_ml, 0);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_refused_step_shows_what_solves_it_and_no_command_line() {
    let bench = Bench::open().await;
    bench.flint.touch("lift-1", "start", &[]).await;
    // The rail comes off with the coolant in: the vehicle is not as it has to be.
    let rail = bench.at("rail").await;
    let refused = bench.flint.press(&rail, "take-off", &[], &[]).await;
    assert_eq!(refused.header("location"), Some(bench.part("rail").as_str()), "where the choice was made");
    let told = bench.flint.page(&bench.part("rail")).await;
    assert!(told.body.contains("class=\"note\"") && !told.body.contains("`leadhand"), "{}", told.body);
    assert!(told.body.contains('“') && !told.body.contains("&#39;strip&#39;"), "names, and no keys: {}", told.body);
    assert_eq!(bench.scene.position(bench.job, "airbox").await.standing(), PositionStanding::NotYet);
    bench.flint.touch_at("lift-1", "tick", "name=\"step\" value=\"1\"").await;
    bench.flint.touch_at("lift-1", "tick", "name=\"step\" value=\"2\"").await;
    // Left out, the third step brings nothing about; the page asks for what the next one needs.
    let (write, job, stage) = (Some(leadhand_sdk::new_write()), bench.job, "strip".to_owned());
    let skip = v1::SkipStepRequest { write, job, stage, step: 3, reason: "done before it came".into() };
    bench.scene.lead.skip_step(skip).await.unwrap();
    let page = bench.flint.page(BAY).await;
    assert!(page.body.contains("It is so: coolant drained"), "{}", page.body);
    let state = i32::from(v1::VehicleState::CoolantDrained).to_string();
    let said = bench.flint.press_button(&page, "states", &[], &[], Some(("state", &state))).await;
    let after = bench.flint.page(said.header("location").unwrap()).await;
    assert!(!after.body.contains("It is so:"));
    bench.flint.press(&after, "undo", &[], &[]).await;
    let page = bench.flint.page(BAY).await;
    assert!(page.body.contains("It is so: coolant drained"), "it was said by mistake: {}", page.body);
    bench.flint.press_button(&page, "states", &[], &[], Some(("state", &state))).await;
    bench.flint.touch_at("lift-1", "tick", "name=\"step\" value=\"4\"").await;
    assert_eq!(bench.scene.position(bench.job, "rail").await.standing(), PositionStanding::Off);
}

#[tokio::test(flavor = "multi_thread")]
async fn what_will_not_move_is_tried_by_the_rungs_that_the_server_offers() {
    let bench = Bench::open().await;
    bench.made_safe().await;
    let nuts = bench.at("manifold-nuts").await;
    assert!(nuts.body.contains("Brush the thread clean") && nuts.body.contains("Rust flies"), "{}", nuts.body);
    bench.flint.press_button(&nuts, "soak", &[], &[], Some(("minutes", "30"))).await;
    assert!(bench.flint.page(BAY).await.body.contains("soaks until"));
    let outcome = |outcome: AttemptOutcome| ("outcome", outcome.as_str_name());
    let mut page = bench.flint.page(&bench.part("manifold-nuts")).await;
    for _ in 0..2 {
        let tried = bench.flint.press_button(&page, "attempt", &[], &[], Some(outcome(AttemptOutcome::NotMoved))).await;
        assert_eq!(tried.header("location"), Some(bench.part("manifold-nuts").as_str()), "the next rung is there");
        page = bench.flint.page(&bench.part("manifold-nuts")).await;
    }
    assert!(page.body.contains("The last safe try") && page.body.contains("name=\"plan\""), "{}", page.body);
    let broken = Some(outcome(AttemptOutcome::Broken));
    let plan = [("plan", "splitting the nut"), ("blocked", "yes")];
    bench.flint.press_button(&page, "attempt", &[], &plan, broken).await;
    let tried = bench.scene.position(bench.job, "manifold-nuts").await.attempts;
    let told: Vec<(i32, i32)> = tried.iter().map(|one| (one.rung, one.pieces)).collect();
    assert_eq!(told, [(1, 1), (2, 1), (3, 1)]);
    assert_eq!(tried[2].plan, "splitting the nut");
    let held = bench.scene.whole(bench.job).await.blockers;
    assert_eq!(held[0].cause(), v1::Cause::SeizedOrDamaged, "it holds the stage up");
}

#[tokio::test(flavor = "multi_thread")]
async fn what_nobody_listed_is_met_by_tiles() {
    let bench = Bench::open().await;
    bench.made_safe().await;
    let page = bench.flint.page(BAY).await;
    let met = bench.flint.follow(&page, &format!("{BAY}/job/{}/met/strip", bench.job)).await;
    let chosen = [("kind", "POSITION_KIND_CLIP"), ("count", "2"), ("behind", "airbox"), ("keep", "KEEP_BAG")];
    bench.flint.press(&met, "met", &[], &chosen).await;
    let refused = bench.flint.page(&met.path).await;
    assert!(refused.body.contains("class=\"note\""), "what it lies behind is still on: {}", refused.body);
    let airbox = bench.at("airbox").await;
    bench.flint.press(&airbox, "take-off", &[], &[]).await;
    let met = bench.flint.page(&met.path).await;
    bench.flint.press(&met, "met", &[], &chosen).await;
    let book = bench.scene.lead.get_strip(v1::GetStripRequest { job: bench.job, ..Default::default() }).await.unwrap();
    let clip = book.positions.into_iter().find(|one| one.unplanned).unwrap();
    assert_eq!((clip.what.as_str(), clip.count, clip.keep()), ("clip or clamp, met on the way", 2, Keep::Bag));
    assert_eq!((clip.standing(), clip.behind), (PositionStanding::Off, vec!["airbox".to_owned()]));
    assert!(bench.flint.page(BAY).await.body.contains("clip or clamp, met on the way"));
    let met = bench.flint.page(&met.path).await;
    bench.flint.press_button(&met, "add-step", &["class=\"tiles\""], &[], Some(("tile", "Clean it"))).await;
    let steps = bench.scene.stage(bench.job, "strip").await.steps;
    assert!(steps.last().unwrap().unplanned && steps.last().unwrap().instruction == "Clean it");
}

/// Everything off as listed, and the refit begun.
async fn taken_apart(bench: &Bench) {
    bench.made_safe().await;
    bench.flint.touch("lift-1", "tick-all", &[]).await;
    bench.flint.touch("lift-1", "finish", &[]).await;
    bench.flint.touch("lift-1", "start", &[]).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn it_goes_back_in_its_order_and_somebody_else_looks_at_it_at_the_same_tablet() {
    let bench = Bench::open().await;
    taken_apart(&bench).await;
    let page = bench.flint.page(BAY).await;
    assert!(page.body.contains("after Inlet manifold"), "{}", page.body);
    let covers = bench.flint.follow(&page, &bench.part("port-covers")).await;
    bench.flint.press(&covers, "back", &[], &[]).await;
    assert_eq!(bench.scene.position(bench.job, "port-covers").await.standing(), PositionStanding::Settled);
    bench.flint.touch("lift-1", "back-all", &[]).await;
    let nuts = bench.scene.position(bench.job, "manifold-nuts").await;
    assert_eq!((nuts.refitted, nuts.back_by.as_str()), (7, "Flint"));
    // As listed is by hand as yet, and there is nothing to look at before it is tight.
    assert_eq!(nuts.tightness(), v1::Tightness::Finger);
    let page = bench.flint.page(BAY).await;
    assert!(!page.body.contains("/look/manifold-nuts"), "{}", page.body);
    bench.flint.touch_at("lift-1", "tighten", "value=\"manifold-nuts\"").await;
    let page = bench.flint.page(BAY).await;
    let look = bench.flint.follow(&page, &format!("{BAY}/job/{}/look/manifold-nuts", bench.job)).await;
    assert!(look.body.contains("Larch") && !look.body.contains(&bench.flint_id), "nobody looks at the own work");
    let own = [("person", bench.flint_id.as_str()), ("pin", PIN)];
    let chosen = bench.flint.page(&format!("{}?person={}", look.path, bench.larch_id)).await;
    bench.flint.press(&chosen, "look", &[], &own).await;
    assert_eq!(bench.scene.position(bench.job, "manifold-nuts").await.checked_by, "", "the server refuses it anyway");
    let chosen = bench.flint.page(&format!("{}?person={}", look.path, bench.larch_id)).await;
    assert!(chosen.body.contains("class=\"note\""), "{}", chosen.body);
    bench.flint.press(&chosen, "look", &[], &[("pin", LARCH_PIN)]).await;
    assert_eq!(bench.scene.position(bench.job, "manifold-nuts").await.checked_by, "Larch");
    let page = bench.flint.page(BAY).await;
    assert!(page.body.contains("Larch looked at it.") && page.body.contains("<span>Flint</span>"), "{}", page.body);
    assert_eq!(page.body.matches("class=\"note\"").count(), 1, "a double touch is no fault: {}", page.body);
    assert!(!page.body.contains("/look/manifold-nuts"), "nothing waits any more");
    // The same form, sent again by somebody else, signs for nothing and says so.
    let heron = bench.scene.person_as("Heron", "6194027", Role::Technician, &["engine"]).await;
    bench.flint.press(&chosen, "look", &[], &[("person", &heron), ("pin", "6194027")]).await;
    let page = bench.flint.page(BAY).await;
    assert!(!page.body.contains("Heron looked at it."), "{}", page.body);
    assert_eq!(bench.scene.position(bench.job, "manifold-nuts").await.checked_by, "Larch");
    let facts =
        bench.scene.lead.read_journal(v1::ReadJournalRequest { page_size: 1000, ..Default::default() }).await.unwrap();
    let ended = facts.facts.iter().filter(|fact| fact.kind == "signed_out").count();
    assert!(ended >= 1, "the session for one proof is over");
}

#[tokio::test(flavor = "multi_thread")]
async fn what_goes_back_otherwise_than_listed_is_touched() {
    let bench = Bench::open().await;
    taken_apart(&bench).await;
    for position in ["port-covers", "gasket", "manifold"] {
        bench.flint.touch_at("lift-1", "back", &format!("value=\"{position}\"")).await;
    }
    let nuts = bench.at("manifold-nuts").await;
    // An empty place of a fastener is a lead's word.
    let chosen = [("refitted", "5"), ("renewed", "1"), ("left-out", "1"), ("reason", "to follow, part is ordered")];
    bench.flint.press(&nuts, "back", &[], &chosen).await;
    let left = bench.scene.position(bench.job, "manifold-nuts").await;
    assert_eq!((left.refitted, left.renewed, left.left_out), (0, 0, 0));
    let nuts = bench.at("manifold-nuts").await;
    bench.flint.press(&nuts, "back", &[], &[("refitted", "5"), ("renewed", "2")]).await;
    let nuts = bench.scene.position(bench.job, "manifold-nuts").await;
    assert_eq!((nuts.refitted, nuts.renewed, nuts.left_out), (5, 2, 0));
    assert_eq!(nuts.tightness(), v1::Tightness::Finger);
    bench.flint.touch_at("lift-1", "tighten", "value=\"manifold-nuts\"").await;
    assert_eq!(bench.scene.position(bench.job, "manifold-nuts").await.tightness(), v1::Tightness::Final);
}

#[tokio::test(flavor = "multi_thread")]
async fn fluids_come_out_and_go_in_by_one_touch() {
    let bench = Bench::open().await;
    bench.made_safe().await;
    let fluid = async || bench.scene.whole(bench.job).await.fluids.remove(0);
    assert_eq!((fluid().await.drained_ml, fluid().await.still_in_ml), (2000, 0));
    let page = bench.flint.page(BAY).await;
    assert!(!page.body.contains("name=\"fluid\""), "it is said: {}", page.body);
    bench.flint.touch("lift-1", "tick-all", &[]).await;
    bench.flint.touch("lift-1", "finish", &[]).await;
    bench.flint.touch("lift-1", "start", &[]).await;
    let page = bench.flint.page(BAY).await;
    bench.flint.press(&page, "fluid", &["type=\"text\""], &[("filled", "1.9 L")]).await;
    assert_eq!(fluid().await.filled_ml, 1900);
}

/// Of 2 L, 1.5 L came out, and what is left was measured: for 50 % of the whole, 2 L x 0.5 - 0.5 L x 0.4 = 0.8 L of
/// concentrate and 0.7 L of water go in (a balance of volumes, by hand; common practice).
#[tokio::test(flavor = "multi_thread")]
async fn what_goes_in_is_worked_out_at_the_bay_and_set_aside() {
    let bench = Bench::open().await;
    bench.cold().await;
    bench.flint.touch("lift-1", "fluid", &[("drained", "1500")]).await;
    for act in ["tick-all", "finish", "start"] {
        bench.flint.touch("lift-1", act, &[]).await;
    }
    let fill = format!("{BAY}/job/{}/fill/coolant", bench.job);
    let page = bench.flint.follow(&bench.flint.page(BAY).await, &fill).await;
    assert!(page.body.contains("1.5 L came out of 2 L, and 500 mL is still in"), "{}", page.body);
    assert!(page.body.contains("value=\"coolant-concentrate\"") && !page.body.contains("value=\"reserve-fill\""));
    let asked = |rest: &str| format!("{fill}?item=coolant-concentrate&poured=100+%25&{rest}");
    let refused = bench.flint.page(&asked("target=-90+%C2%B0C&left=40+%25")).await;
    assert!(refused.status == 200 && refused.body.contains("role=\"alert\""), "{}", refused.body);
    assert!(!refused.body.contains("value=\"reserve-fill\"") && refused.body.contains("value=\"-90 °C\""));
    let worked = bench.flint.page(&asked("target=50+%25&left=40+%25")).await;
    for told in ["0.80 L", "0.70 L", "WARNING", "manufacturer"] {
        assert!(worked.body.contains(told), "{told}: {}", worked.body);
    }
    bench.flint.press(&worked, "reserve-fill", &[], &[]).await;
    let bay = bench.flint.page(BAY).await;
    assert!(bay.body.contains("800 mL of coolant-concentrate") && bay.body.contains("bin-d1 800 mL"), "{}", bay.body);
    let asked = v1::ListStockRequest { item: "coolant-concentrate".into(), ..Default::default() };
    let stock = bench.scene.lead.list_stock(asked).await.unwrap().items.remove(0);
    assert_eq!(stock.reserved, 800, "touched twice, it is set aside once");
}
