//! Steps and stages: ticked, left out, added; who may start what.

use crate::shop::{Shop, finish, reason, start, stopped};
use leadhand_proto::v1;
use leadhand_sdk::{Code, new_write};

fn tick(job: i64, steps: &[i32]) -> v1::TickStepsRequest {
    v1::TickStepsRequest {
        write: Some(new_write()),
        job,
        stage: "strip".into(),
        steps: steps.to_vec(),
        ..Default::default()
    }
}

fn skip_step(job: i64, step: i32) -> v1::SkipStepRequest {
    v1::SkipStepRequest { write: Some(new_write()), job, stage: "strip".into(), step, reason: "it is off".into() }
}

#[tokio::test(flavor = "multi_thread")]
async fn steps_are_ticked_left_out_and_added() {
    use v1::StepState::{Done, Pending, Skipped};
    let shop = Shop::open().await;
    let flint = shop.technician("Flint", &[]).await;
    let job = shop.blank_job(&["strip"]).await;
    let add = |instruction: &str| v1::AddStepRequest {
        write: Some(new_write()),
        job,
        stage: "strip".into(),
        instruction: instruction.into(),
        ..Default::default()
    };
    for (at, instruction) in ["Wheel", "Calliper", "Disc", "Hub"].into_iter().enumerate() {
        assert_eq!(flint.add_step(add(instruction)).await.unwrap().step, i32::try_from(at + 1).unwrap());
    }
    stopped(flint.tick_steps(tick(job, &[1])).await, "STAGE_STATE", "strip");
    start(&flint, job, "strip").await.unwrap();
    flint.tick_steps(tick(job, &[2])).await.unwrap();
    stopped(flint.tick_steps(tick(job, &[1, 2])).await, "STEP_STATE", "step 2");
    flint.skip_step(skip_step(job, 3)).await.unwrap();
    stopped(flint.skip_step(skip_step(job, 3)).await, "STEP_STATE", "step 3");
    assert_eq!(reason(flint.skip_step(skip_step(job, 9)).await), "NOT_FOUND");
    let unlisted = v1::FinishStageRequest { write: Some(new_write()), job, stage: "strip".into(), as_listed: false };
    stopped(flint.finish_stage(unlisted).await, "STEPS_LEFT", "1, 4");
    let states: Vec<v1::StepState> = shop.stage(job, "strip").await.steps.iter().map(v1::Step::state).collect();
    assert_eq!(states, [Pending, Done, Skipped, Pending], "a refused command ticks nothing");
    // One command ticks what is left as listed.
    flint.tick_steps(tick(job, &[])).await.unwrap();
    stopped(flint.tick_steps(tick(job, &[])).await, "NOTHING_TO_DO", "strip");
    let steps = shop.stage(job, "strip").await.steps;
    assert_eq!(steps.iter().map(v1::Step::state).collect::<Vec<_>>(), [Done, Done, Skipped, Done]);
    assert_eq!((steps[0].done_by.as_str(), steps[2].reason.as_str()), ("Flint", "it is off"));
    assert!(steps.iter().all(|step| step.unplanned));
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_stage_left_out_passes_on_what_came_before_it() {
    let shop = Shop::open().await;
    let job = shop.blank_job(&["first", "second", "third"]).await;
    let skip = v1::SkipStageRequest {
        write: Some(new_write()),
        job,
        stage: "second".into(),
        reason: "the owner does it".into(),
    };
    shop.lead.skip_stage(skip.clone()).await.unwrap();
    stopped(
        shop.lead.skip_stage(v1::SkipStageRequest { write: Some(new_write()), ..skip }).await,
        "STAGE_STATE",
        "skipped",
    );
    assert_eq!(shop.stage(job, "third").await.state(), v1::StageState::NotYet);
    stopped(start(&shop.lead, job, "third").await, "NOT_READY", "first");
    start(&shop.lead, job, "first").await.unwrap();
    finish(&shop.lead, job, "first").await.unwrap();
    assert_eq!(shop.stage(job, "third").await.state(), v1::StageState::Ready);
    let second = shop.stage(job, "second").await;
    assert_eq!((second.state(), second.reason.as_str()), (v1::StageState::Skipped, "the owner does it"));
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_not_ready_starts_only_by_the_lead_with_a_reason() {
    let shop = Shop::open().await;
    let (flint, moss) = (shop.technician("Flint", &["brakes"]).await, shop.technician("Moss", &["paint"]).await);
    let job = shop.job("front-brakes", "white van").await;
    stopped(start(&moss, job, "book-in").await, "SKILL_MISSING", "brakes");
    stopped(start(&flint, job, "lift").await, "NOT_IN_BAY", "job 1");
    assert_eq!(start(&flint, job, "lift").await.unwrap_err().may_overrule, None);
    shop.assign(job, "lift-1").await.unwrap();
    let over = |why: &str, for_person: &str| v1::StartStageRequest {
        write: Some(v1::WriteContext { for_person: for_person.into(), ..new_write() }),
        job,
        stage: "lift".into(),
        override_reason: why.into(),
    };
    // Who may overrule it is told with the refusal, for whoever offers that; of a bay nobody may.
    assert_eq!(flint.start_stage(over("", "")).await.unwrap_err().may_overrule.as_deref(), Some("lead"));
    assert_eq!(start(&flint, job, "nowhere").await.unwrap_err().may_overrule, None);
    stopped(flint.start_stage(over("", "")).await, "NOT_READY", "book-in");
    let denied = flint.start_stage(over("no time", "")).await.unwrap_err();
    assert_eq!((denied.code, denied.reason.as_str()), (Code::PermissionDenied, "LEAD_ONLY"));
    let denied = flint.start_stage(over("", "Moss")).await.unwrap_err();
    assert_eq!((denied.code, denied.reason.as_str()), (Code::PermissionDenied, "LEAD_ONLY"));
    shop.lead.start_stage(over("the owner waits", "Flint")).await.unwrap();
    let persons = shop.stage(job, "lift").await.persons;
    assert_eq!(persons.iter().map(|on| on.name.as_str()).collect::<Vec<_>>(), ["Flint"]);
    stopped(start(&flint, job, "lift").await, "STAGE_STATE", "lift");
    shop.verified().await;
}
