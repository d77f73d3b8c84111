//! What a lead decides for every plan, over the wire: pins, overtime and the yard; what is kept of what has no place; and who may ask.

use crate::clock::later;
use crate::plan::{accept, accepted, open_always, proposed, shop};
use crate::shop::{Shop, reason};
use leadhand_proto::v1;
use leadhand_sdk::{Code, new_write};

const MINUTE: i64 = 60_000_000;

async fn planned(shop: &Shop, job: i64, stage: &str) -> v1::PlannedStage {
    let plan = proposed(shop).await.plan.unwrap();
    plan.stages.into_iter().find(|row| row.job == job && row.stage == stage).unwrap()
}

async fn name_of(shop: &Shop, planned: &v1::PlannedStage) -> String {
    let persons = proposed(shop).await.persons;
    persons.into_iter().find(|row| planned.people == [row.person.clone()]).unwrap().name
}

#[tokio::test(flavor = "multi_thread")]
async fn every_plan_keeps_to_what_was_pinned_until_it_is_taken_away() {
    let (shop, ..) = shop().await;
    let job = shop.blank_job(&[]).await;
    let (write, bays) = (Some(new_write()), vec![v1::BayKind::TwoPostLift.into(), v1::BayKind::Floor.into()]);
    let (stage, title) = ("look".to_owned(), "Look".to_owned());
    shop.lead.add_stage(v1::AddStageRequest { write, job, stage, title, bays, ..Default::default() }).await.unwrap();
    let from_at = later(shop.now().await, 300 * MINUTE);
    for (bay, person) in [("lift-1", "Teasel"), ("floor-1", "Flint")] {
        let pin = v1::PinStageRequest {
            write: Some(new_write()),
            job,
            stage: "look".into(),
            bay: bay.into(),
            people: vec![person.into()],
            from_at: Some(from_at),
        };
        shop.lead.pin_stage(pin).await.unwrap();
        let found = planned(&shop, job, "look").await;
        assert_eq!((found.bay.as_str(), name_of(&shop, &found).await.as_str()), (bay, person));
        assert!(found.from_at.unwrap().seconds >= from_at.seconds);
    }
    let pins = accepted(&shop).await.pins;
    assert_eq!(pins.len(), 1, "the last one takes the place of the first");
    assert_eq!((pins[0].bay.as_str(), pins[0].from_at), ("floor-1", Some(from_at)));
    let note = proposed(&shop).await.notes.into_iter().find(|note| note.job == job).unwrap();
    assert!(note.pinned);

    // A plan that does otherwise is refused, also one that was proposed before.
    let plan = proposed(&shop).await.plan;
    let mut other = plan.clone().unwrap();
    for row in &mut other.stages {
        row.bay = "lift-1".into();
    }
    other.stays.iter_mut().for_each(|stay| stay.bay = "lift-1".into());
    assert_eq!(reason(shop.lead.accept_plan(accept(Some(other), false)).await), "PLAN_UNLAWFUL");
    shop.lead.accept_plan(accept(plan, false)).await.unwrap();

    let unpin = || v1::UnpinStageRequest { write: Some(new_write()), job, stage: "look".into() };
    shop.lead.unpin_stage(unpin()).await.unwrap();
    assert_eq!(reason(shop.lead.unpin_stage(unpin()).await), "NOTHING_TO_DO");
    let shown = accepted(&shop).await;
    assert_eq!((shown.pins, shown.moved), (vec![], vec![format!("look of job {job} is no longer pinned")]));
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_pinned_wrongly_is_refused_in_words_that_help() {
    let (shop, ..) = shop().await;
    let job = shop.blank_job(&[]).await;
    let (write, skills) = (Some(new_write()), vec!["welding".to_owned()]);
    let (stage, title) = ("weld".to_owned(), "Weld".to_owned());
    shop.lead.add_stage(v1::AddStageRequest { write, job, stage, title, skills, ..Default::default() }).await.unwrap();
    let pin = |people: Vec<String>, from_at| v1::PinStageRequest {
        write: Some(new_write()),
        job,
        stage: "weld".into(),
        people,
        from_at,
        ..Default::default()
    };
    let refused = shop.lead.pin_stage(pin(vec!["Flint".into()], None)).await.unwrap_err();
    assert_eq!(refused.reason, "PLAN_SKILL_MISSING");
    assert!(!refused.message.contains("override"), "there is none: {refused}");
    assert!(refused.message.contains("Flint does not have"), "{refused}");
    let past = later(shop.now().await, -10 * MINUTE);
    let refused = shop.lead.pin_stage(pin(vec![], Some(past))).await.unwrap_err();
    assert_eq!(refused.fields[0].field, "from_at");
    assert!(refused.message.contains("in the past"), "{refused}");
    let nothing = v1::AddStageRequest {
        write: Some(new_write()),
        job,
        title: "Nothing".into(),
        minutes: Some(v1::Minutes::default()),
        ..Default::default()
    };
    assert_eq!(shop.lead.add_stage(nothing).await.unwrap_err().fields[0].field, "minutes");
    assert_eq!(accepted(&shop).await.pins, []);
    shop.verified().await;
}

/// The shop never said its hours: what is done is done in overtime, and only where it is open.
#[tokio::test(flavor = "multi_thread")]
async fn overtime_is_used_only_where_it_was_opened() {
    let shop = Shop::open().await;
    for name in ["Flint", "Teasel"] {
        shop.technician(name, &["engine"]).await;
    }
    let job = shop.blank_job(&["look"]).await;
    let nowhere = proposed(&shop).await;
    assert!(nowhere.unplaced[0].reason.contains("open time for it"), "{:?}", nowhere.unplaced);
    let now = shop.now().await;
    let (from_at, until_at) = (later(now, 120 * MINUTE), later(now, 300 * MINUTE));
    let open = |person: &str, from_at, until_at| v1::OpenOvertimeRequest {
        write: Some(new_write()),
        person: person.into(),
        from_at: Some(from_at),
        until_at: Some(until_at),
    };
    shop.lead.open_overtime(open("Teasel", from_at, until_at)).await.unwrap();
    let meets = open("Teasel", later(from_at, MINUTE), later(until_at, MINUTE));
    assert_eq!(reason(shop.lead.open_overtime(meets).await), "OVERTIME_OPEN");
    let past = open("Flint", later(now, -MINUTE), until_at);
    assert_eq!(shop.lead.open_overtime(past).await.unwrap_err().fields[0].field, "from_at");
    let found = planned(&shop, job, "look").await;
    assert!(from_at.seconds <= found.from_at.unwrap().seconds && found.until_at.unwrap().seconds <= until_at.seconds);
    assert_eq!(name_of(&shop, &found).await, "Teasel");
    assert_eq!(proposed(&shop).await.overtime_minutes, 65, "nobody said how long: (30 + 4 x 60 + 120) / 6 = 65");
    assert_eq!(accepted(&shop).await.overtime.len(), 1);
    // Work that is not over in it has no place.
    let close = v1::CloseOvertimeRequest { write: Some(new_write()), person: "Teasel".into(), at: Some(from_at) };
    shop.lead.close_overtime(close.clone()).await.unwrap();
    let again = v1::CloseOvertimeRequest { write: Some(new_write()), ..close };
    assert_eq!(reason(shop.lead.close_overtime(again).await), "NOTHING_TO_DO");
    shop.lead.open_overtime(open("Flint", from_at, later(from_at, 30 * MINUTE))).await.unwrap();
    assert_eq!(proposed(&shop).await.unplaced.len(), 1);
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_has_no_place_is_kept_and_the_board_says_so() {
    let (shop, ..) = shop().await;
    let job = shop.blank_job(&["look"]).await;
    let (write, skills) = (Some(new_write()), vec!["welding".to_owned()]);
    let (stage, title) = ("weld".to_owned(), "Weld the pan".to_owned());
    shop.lead.add_stage(v1::AddStageRequest { write, job, stage, title, skills, ..Default::default() }).await.unwrap();
    let write = Some(new_write());
    let promised_at = Some(later(shop.now().await, 24 * 60 * MINUTE));
    shop.lead.promise_job(v1::PromiseJobRequest { write, job, promised_at, ..Default::default() }).await.unwrap();
    let empty = shop.blank_job(&[]).await;
    let found = proposed(&shop).await;
    assert_eq!(found.unplaced.len(), 1);
    let nothing = found.outlooks.iter().find(|row| row.job == empty).unwrap();
    assert_eq!((nothing.ready_at, nothing.likely_at, nothing.safe_at), (None, None, None));
    assert_eq!(nothing.sentence, format!("job {empty} has no stages; nothing can be said."));
    let said = shop.lead.forecast_job(v1::ForecastJobRequest { job: empty }).await.unwrap().outlook.unwrap();
    assert_eq!((said.sentence.as_str(), said.ready_at), (nothing.sentence.as_str(), None));
    shop.lead.accept_plan(accept(found.plan, false)).await.unwrap();

    let shown = accepted(&shop).await;
    let ready = shown.plan.unwrap().jobs.into_iter().find(|row| row.job == job).unwrap();
    let weld = v1::PlannedNowhere { stage: "weld".into(), why: v1::NoPlace::TooFew.into() };
    assert_eq!((ready.ready_at, ready.nowhere), (None, vec![weld]));
    let told: Vec<&str> = shown.unplaced.iter().map(|one| one.reason.as_str()).collect();
    let sentence = format!(
        "Weld the pan of job {job} has no place: nobody in the shop has the skill welding; give it to somebody."
    );
    assert_eq!(told, [sentence]);
    let board = shop.elsewhere.get_board(v1::GetBoardRequest {}).await.unwrap();
    let card = board.outside.iter().find(|row| row.job == job).unwrap();
    assert_eq!((card.promise(), card.expected_at), (v1::PromiseState::NoPlace, None));

    // Somebody learns it, and the next plan has a place for it.
    let (write, person) = (Some(new_write()), "Flint".to_owned());
    let skills = vec!["engine".to_owned(), "welding".to_owned()];
    shop.lead.set_skills(v1::SetSkillsRequest { write, person, skills }).await.unwrap();
    assert_eq!(accepted(&shop).await.moved, ["somebody's skills changed"]);
    shop.lead.accept_plan(accept(proposed(&shop).await.plan, false)).await.unwrap();
    assert_eq!(accepted(&shop).await.unplaced, []);
    let board = shop.elsewhere.get_board(v1::GetBoardRequest {}).await.unwrap();
    let card = board.outside.iter().find(|row| row.job == job).unwrap();
    assert!(card.promise() != v1::PromiseState::NoPlace && card.expected_at.is_some());
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_plan_is_stale_once_something_happens_and_the_yard_is_a_setting() {
    let (shop, ..) = shop().await;
    let job = shop.blank_job(&["look"]).await;
    shop.lead.accept_plan(accept(proposed(&shop).await.plan, false)).await.unwrap();
    assert_eq!(accepted(&shop).await.moved, Vec::<String>::new());
    let old = proposed(&shop).await.plan;
    let raise = v1::RaiseBlockerRequest {
        write: Some(new_write()),
        job,
        stage: "look".into(),
        cause: v1::Cause::Customer.into(),
        ..Default::default()
    };
    let blocker = shop.lead.raise_blocker(raise).await.unwrap().blocker;
    let yard = |places_outside, moving_minutes| v1::SetYardRequest {
        write: Some(new_write()),
        places_outside,
        moving_minutes,
    };
    let before = shop.lead.get_shop(v1::GetShopRequest {}).await.unwrap();
    assert_eq!((before.places_outside, before.moving_minutes), (4, 10));
    shop.lead.set_yard(yard(Some(0), None)).await.unwrap();
    let after = shop.elsewhere.get_shop(v1::GetShopRequest {}).await.unwrap();
    assert_eq!((after.places_outside, after.moving_minutes), (0, 10));
    assert_eq!(shop.lead.set_yard(yard(None, None)).await.unwrap_err().fields[0].field, "places_outside");
    let moved = [
        format!("look of job {job} is held up (customer)"),
        "there is other room outside, or moving takes another time".to_owned(),
    ];
    assert_eq!(accepted(&shop).await.moved, moved);
    let refused = shop.lead.accept_plan(accept(old, false)).await.unwrap_err();
    assert_eq!((refused.code, refused.reason.as_str()), (Code::Aborted, "PLAN_OUTDATED"));
    assert!(moved.iter().all(|one| refused.message.contains(one.as_str())), "{refused}");
    let hangs = shop.lead.forecast_job(v1::ForecastJobRequest { job }).await.unwrap().outlook.unwrap();
    assert_eq!(hangs.hangs_on, ["look: customer"]);

    // The accepted plan keeps it, for as long as it is so.
    let plan = proposed(&shop).await.plan;
    let kept = plan.as_ref().unwrap().jobs.iter().find(|row| row.job == job).unwrap().hangs_on.clone();
    assert_eq!(kept, [v1::PlannedHang { job, stage: "look".into() }]);
    shop.lead.accept_plan(accept(plan, false)).await.unwrap();
    let words = "look: customer".to_owned();
    assert_eq!(accepted(&shop).await.hangs_on, [v1::PlanHang { job, words }]);
    let clear = v1::ClearBlockerRequest { write: Some(new_write()), job, blocker, ..Default::default() };
    shop.lead.clear_blocker(clear).await.unwrap();
    assert_eq!(accepted(&shop).await.hangs_on, []);
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_viewer_neither_plans_nor_decides() {
    let (shop, ..) = shop().await;
    let job = shop.blank_job(&["look"]).await;
    let plan = proposed(&shop).await.plan;
    let viewer = shop.token(v1::Role::Viewer, "Wall").await;
    let (stage, bay) = ("look".to_owned(), String::new());
    let (from_at, until_at) = (Some(shop.now().await), Some(later(shop.now().await, 60 * MINUTE)));
    let pin =
        v1::PinStageRequest { write: Some(new_write()), job, stage: stage.clone(), bay, from_at, ..Default::default() };
    let open = v1::OpenOvertimeRequest { write: Some(new_write()), person: "Flint".into(), from_at, until_at };
    let close = v1::CloseOvertimeRequest { write: Some(new_write()), person: "Flint".into(), at: from_at };
    let yard = v1::SetYardRequest { write: Some(new_write()), places_outside: Some(1), moving_minutes: None };
    let found = [
        reason(viewer.propose_plan(crate::plan::asked()).await),
        reason(viewer.accept_plan(accept(plan, false)).await),
        reason(viewer.explain_job(v1::ExplainJobRequest { job }).await),
        reason(viewer.pin_stage(pin).await),
        reason(viewer.unpin_stage(v1::UnpinStageRequest { write: Some(new_write()), job, stage }).await),
        reason(viewer.open_overtime(open).await),
        reason(viewer.close_overtime(close).await),
        reason(viewer.set_yard(yard).await),
    ];
    assert_eq!(found, ["ROLE_NOT_ALLOWED"; 8]);
    shop.verified().await;
}

/// What is kept about somebody names the plans that had them do something, with what those had others do left out.
#[tokio::test(flavor = "multi_thread")]
async fn what_is_kept_about_a_person_has_the_plans_that_name_them() {
    let shop = Shop::open().await;
    open_always(&shop).await;
    let flint = shop.technician("Flint", &["engine"]).await;
    let teasel = shop.technician("Teasel", &["brakes"]).await;
    for skill in ["engine", "brakes"] {
        let job = shop.blank_job(&[]).await;
        let (write, skills) = (Some(new_write()), vec![skill.to_owned()]);
        let (stage, title) = (skill.to_owned(), skill.to_owned());
        shop.lead
            .add_stage(v1::AddStageRequest { write, job, stage, title, skills, ..Default::default() })
            .await
            .unwrap();
        if skill == "engine" {
            let (write, people) = (Some(new_write()), vec!["Flint".to_owned()]);
            let pin = v1::PinStageRequest { write, job, stage: skill.into(), people, ..Default::default() };
            shop.lead.pin_stage(pin).await.unwrap();
        }
    }
    shop.lead.accept_plan(accept(proposed(&shop).await.plan, false)).await.unwrap();
    for (who, own, others, pins) in [(flint, "engine", "brakes", 1), (teasel, "brakes", "engine", 0)] {
        let asked = v1::GetPersonDataRequest { page_size: 500, ..Default::default() };
        let kept = who.get_person_data(asked).await.unwrap();
        let of = |kind: &str| kept.facts.iter().filter(|fact| fact.kind == kind).collect::<Vec<_>>();
        assert_eq!((of("plan_accepted").len(), of("stage_pinned").len()), (1, pins));
        let plan = format!("{:?}", of("plan_accepted")[0]);
        assert!(plan.contains(own) && !plan.contains(others), "{plan}");
    }
    shop.verified().await;
}
