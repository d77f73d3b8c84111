//! The condition of a vehicle over the wire: states, a hold point, a fluid, another way, the call for the lead, and what
//! stands against handing the vehicle over. Common practice, in the shop's own words.

use crate::shop::{Shop, reason, start};
use leadhand_proto::v1;
use leadhand_sdk::{Client, new_write};

const TEMPLATE: &str = include_str!("../../deploy/demo-shop/templates/inlet-gasket.toml");

fn tick(job: i64, steps: &[i32], why: &str) -> v1::TickStepsRequest {
    let (stage, steps) = ("strip".to_owned(), steps.to_vec());
    v1::TickStepsRequest { write: Some(new_write()), job, stage, steps, override_reason: why.into() }
}

fn set(job: i64, states: &[v1::VehicleState]) -> v1::SetVehicleStatesRequest {
    let states = states.iter().map(|state| i32::from(*state)).collect();
    v1::SetVehicleStatesRequest { write: Some(new_write()), job, states, reason: "seen from the pit".into() }
}

fn coolant(job: i64, drained_ml: i64, filled_ml: i64) -> v1::RecordFluidRequest {
    let fluid = "coolant".to_owned();
    let (write, note, unlisted) = (Some(new_write()), String::new(), false);
    v1::RecordFluidRequest { write, job, fluid, drained_ml, filled_ml, note, unlisted }
}

async fn whole(who: &Client, job: i64) -> v1::GetJobResponse {
    who.get_job(v1::GetJobRequest { job }).await.unwrap()
}

/// A tick says nothing of what came off; and where it is opened, what was left in is told again.
async fn said_and_ticked(larch: &Client, job: i64) {
    let unsaid = larch.tick_steps(tick(job, &[4], "")).await.unwrap_err();
    assert_eq!(unsaid.reason, "STEP_UNSAID");
    assert!(unsaid.message.contains("leadhand strip off 1 strip --as-listed --step 4"), "{}", unsaid.message);
    let (stage, as_listed) = ("strip".to_owned(), true);
    let off = v1::TakeOffRequest { write: Some(new_write()), job, stage, step: 4, as_listed, ..Default::default() };
    let told = larch.take_off(off).await.unwrap().receipt.unwrap();
    assert_eq!(told.notices.iter().map(|notice| notice.code.as_str()).collect::<Vec<_>>(), ["FLUID_LEFT"]);
    larch.tick_steps(tick(job, &[4], "")).await.unwrap();
}

async fn begun() -> (Shop, Client, i64) {
    let shop = Shop::open().await;
    let publish = v1::PublishTemplateRequest { write: Some(new_write()), source: TEMPLATE.into() };
    shop.lead.publish_template(publish).await.unwrap();
    let larch = shop.technician("Larch", &["engine"]).await;
    let job = shop.job("inlet-gasket", "silver coupe").await;
    shop.assign(job, "floor-1").await.unwrap();
    start(&larch, job, "strip").await.unwrap();
    (shop, larch, job)
}

#[tokio::test(flavor = "multi_thread")]
async fn steps_wait_for_states_and_hold_points_and_the_bay_sees_them() {
    let (shop, larch, job) = begun().await;
    shop.fluid(job, "coolant", 2_000, 0).await;
    let seen = whole(&larch, job).await;
    let strip = seen.stages.iter().find(|stage| stage.stage == "strip").unwrap();
    assert_eq!((strip.steps[1].hold.as_str(), strip.steps[1].hold_second), ("cold and depressurised", false));
    assert_eq!(strip.steps[0].hazards, [v1::Hazard::Fuel, v1::Hazard::Battery].map(i32::from));
    assert!(strip.steps[0].cautions.iter().any(|caution| caution.text.contains("Fuel vapour")));
    assert_eq!(strip.wanted, [], "its own steps bring about what it needs");
    let told = larch.tick_steps(tick(job, &[3], "")).await.unwrap_err();
    assert_eq!(told.reason, "OBJECTIONS", "both the state and the hold point are told: {told}");
    assert!(told.message.contains("needs '") && told.message.contains("hold point"), "{told}");
    assert_eq!(reason(larch.tick_steps(tick(job, &[], "")).await), "HOLD_BY_NAME");
    larch.tick_steps(tick(job, &[1], "")).await.unwrap();
    assert_eq!(reason(larch.tick_steps(tick(job, &[3], "")).await), "HOLD_NOT_PASSED");
    larch.tick_steps(tick(job, &[2], "")).await.unwrap();
    larch.set_vehicle_states(set(job, &[v1::VehicleState::TemperatureHot])).await.unwrap();
    let seen = whole(&larch, job).await;
    let hot = seen.states.iter().find(|line| line.state() == v1::VehicleState::TemperatureHot).unwrap();
    assert_eq!((hot.said_by.as_str(), hot.reason.as_str(), hot.step), ("Larch", "seen from the pit", 0));
    let off = seen.states.iter().find(|line| line.state() == v1::VehicleState::BatteryIsolated).unwrap();
    assert_eq!((off.stage.as_str(), off.step, off.before()), ("strip", 1, v1::VehicleState::BatteryConnected));
    let strip = seen.stages.iter().find(|stage| stage.stage == "strip").unwrap();
    assert_eq!((strip.wanted[0].step, strip.wanted[0].state()), (3, v1::VehicleState::TemperatureCold));
    assert_eq!(reason(larch.tick_steps(tick(job, &[3], "it is lukewarm")).await), "LEAD_ONLY");
    shop.lead.tick_steps(tick(job, &[3], "it is lukewarm")).await.unwrap();
    let seen = whole(&larch, job).await;
    let strip = seen.stages.iter().find(|stage| stage.stage == "strip").unwrap();
    assert_eq!(strip.steps[2].override_reason, "it is lukewarm");
    shop.verified().await;
}

/// The sheet says in words what was done another way, and what was open when the vehicle went.
async fn told_in_words(larch: &Client, job: i64) {
    let sheet = larch.get_hand_over_sheet(v1::GetHandOverSheetRequest { job }).await.unwrap();
    let step = &sheet.stages[0].steps[3];
    assert!(sheet.stages[0].skipped && step.done && step.another_way, "what was done before is told");
    let way = (step.other_way.as_str(), step.other_way_reason.as_str());
    assert_eq!(way, ("from below", "the rail's clip is broken"));
    let told: Vec<(&str, &str, &str)> =
        sheet.overruled.iter().map(|one| (one.kind.as_str(), one.text.as_str(), one.reason.as_str())).collect();
    let why = "it is towed to its owner";
    for text in ["battery: isolated, and has to be connected", "Coolant: 1.4 L came out and 0 mL went in"] {
        assert!(told.iter().any(|one| (one.1, one.2) == (text, why)), "{text} in {told:?}");
    }
    let airbox = ("places", "Airbox with its hose: 0 of 1 place(s) refitted, renewed or left out", why);
    assert!(told.contains(&airbox), "{told:?}");
    assert!(told.iter().all(|one| !one.1.contains("rail-bolts")), "no key stands in {told:?}");
}

/// Somebody calls the lead in own words; a lead looks, and answers with a reason.
async fn called_and_answered(shop: &Shop, larch: &Client, job: i64) {
    let called = larch
        .call_lead(v1::CallLeadRequest { write: Some(new_write()), note: "it sags".into(), ..Default::default() })
        .await
        .unwrap();
    assert_eq!(called.job, job);
    // The words reach the job and the board.
    let seen = whole(larch, job).await.blockers;
    assert!(seen.iter().any(|one| one.blocker == called.blocker && one.note == "it sags"), "{seen:?}");
    let board = shop.lead.get_board(v1::GetBoardRequest {}).await.unwrap();
    let shown = board
        .bays
        .into_iter()
        .filter_map(|bay| bay.job)
        .flat_map(|job| job.blockers)
        .chain(board.outside.into_iter().flat_map(|job| job.blockers));
    assert!(shown.into_iter().any(|one| one.note == "it sags"));
    assert_eq!(reason(larch.tick_steps(tick(job, &[4], "")).await), "LEAD_CALLED");
    let clear = v1::ClearBlockerRequest { write: Some(new_write()), job, blocker: called.blocker, note: String::new() };
    assert_eq!(reason(larch.clear_blocker(clear.clone()).await), "LEAD_ONLY");
    let silent = v1::ClearBlockerRequest { write: Some(new_write()), ..clear };
    assert_eq!(shop.lead.clear_blocker(silent.clone()).await.unwrap_err().fields[0].field, "note");
    let reason_given = v1::ClearBlockerRequest { write: Some(new_write()), note: "the arm holds".into(), ..silent };
    shop.lead.clear_blocker(reason_given).await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_fluid_another_way_and_a_call_stand_against_going_on_and_going_out() {
    let (shop, larch, job) = begun().await;
    larch.tick_steps(tick(job, &[1, 2], "")).await.unwrap();
    let dry = larch.tick_steps(tick(job, &[3], "")).await.unwrap_err();
    assert_eq!(dry.reason, "FLUID_NOT_OUT", "{dry}");
    let asked = coolant(job, 1_400, 0);
    let first = larch.record_fluid(asked.clone()).await.unwrap().receipt.unwrap();
    assert_eq!(first.notices[0].code, "FLUID_LEFT");
    assert!(first.notices[0].text.starts_with("600 mL of 'coolant'"), "{}", first.notices[0].text);
    let again = larch.record_fluid(asked).await.unwrap().receipt.unwrap();
    assert_eq!((again.number, again.repeated), (first.number, true), "a repeat takes effect once");
    assert_eq!(reason(larch.record_fluid(coolant(job, 700, 0)).await), "FLUID_MORE");
    larch.tick_steps(tick(job, &[3], "")).await.unwrap();
    let seen = whole(&larch, job).await;
    assert_eq!(
        (seen.fluids[0].expected_ml, seen.fluids[0].drained_ml, seen.fluids[0].still_in_ml),
        (2_000, 1_400, 600)
    );

    let (stage, way, why) = ("strip".to_owned(), "from below".to_owned(), "the rail's clip is broken".to_owned());
    let propose =
        v1::ProposeWayRequest { write: Some(new_write()), job, stage: stage.clone(), step: 4, way, reason: why };
    larch.propose_way(propose).await.unwrap();
    assert_eq!(reason(larch.tick_steps(tick(job, &[4], "")).await), "WAY_UNDECIDED");
    let note = "with a second pair of hands".to_owned();
    let decide = v1::DecideWayRequest { write: Some(new_write()), job, stage, step: 4, approved: true, note };
    assert_eq!(reason(larch.decide_way(decide.clone()).await), "ROLE_NOT_ALLOWED");
    shop.lead.decide_way(v1::DecideWayRequest { write: Some(new_write()), ..decide }).await.unwrap();
    let seen = whole(&larch, job).await;
    let way = &seen.ways[0];
    assert_eq!((way.way.as_str(), way.proposed_by.as_str(), way.approved), ("from below", "Larch", true));
    assert_eq!(way.note, "with a second pair of hands");

    called_and_answered(&shop, &larch, job).await;
    said_and_ticked(&larch, job).await;
    for stage in ["strip", "refit"] {
        let skip = v1::SkipStageRequest { write: Some(new_write()), job, stage: stage.into(), reason: "towed".into() };
        larch.skip_stage(skip).await.unwrap();
    }
    let book = larch.get_strip(v1::GetStripRequest { job, ..Default::default() }).await.unwrap();
    let open: Vec<&str> =
        book.open.iter().filter(|line| line.position.is_empty()).map(|line| line.text.as_str()).collect();
    assert!(open.contains(&"battery: isolated, and has to be connected"), "{open:?}");
    assert!(open.contains(&"coolant: 1.4 L came out and 0 mL went in"), "{open:?}");
    let named = shop.named(job, "it is towed to its owner").await;
    // A reason that names no line overrules none.
    let unnamed = v1::CompleteJobRequest { write: Some(new_write()), overrides: Vec::new(), ..named.clone() };
    assert_eq!(reason(shop.lead.complete_job(unnamed).await), "HAND_OVER_OPEN");
    let gone = shop.lead.complete_job(named).await.unwrap().receipt.unwrap();
    assert!(gone.notices.iter().any(|notice| notice.code == "OTHER_WAY"), "{:?}", gone.notices);
    told_in_words(&larch, job).await;
    shop.verified().await;
}
