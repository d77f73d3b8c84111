//! What nobody had listed, over the wire: it says as much as a template, is shown so, and goes into a draft by its name.

use crate::shop::{Shop, finish, start};
use leadhand_proto::v1;
use leadhand_sdk::new_write;

fn sump_bolts(job: i64) -> v1::AddPositionRequest {
    v1::AddPositionRequest {
        write: Some(new_write()),
        job,
        stage: "strip".into(),
        position: "sbolts".into(),
        what: "Sump bolts".into(),
        kind: v1::PositionKind::Fastener.into(),
        count: 12,
        back: "fit".into(),
        head: "13 mm hexagon".into(),
        reach: v1::Reach::Under.into(),
        tighten: vec!["40 N.m".into(), "60 deg".into()],
        how: vec!["sequence 2 1 3".into()],
        second_check: true,
        check: "the thread is whole".into(),
        cure_minutes: 30,
        ..Default::default()
    }
}

fn step(job: i64) -> v1::AddStepRequest {
    v1::AddStepRequest {
        write: Some(new_write()),
        job,
        stage: "fit".into(),
        instruction: "Fill the engine".into(),
        needed_states: vec![v1::VehicleState::OilDrained.into()],
        set_states: vec![v1::VehicleState::OilFull.into()],
        hold: "no leak".into(),
        hold_second: true,
        hazards: vec![v1::Hazard::UsedFluid.into()],
        skills: vec!["service".into()],
        follow_up: "Look at the level after a day.".into(),
        ..Default::default()
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn what_nobody_listed_is_said_shown_and_drafted_like_what_a_template_lists() {
    let shop = Shop::open().await;
    let job = shop.blank_job(&["strip", "fit"]).await;
    let flint = shop.technician("Flint", &[]).await;
    shop.assign(job, "floor-1").await.unwrap();
    start(&flint, job, "strip").await.unwrap();
    let wrong = v1::AddPositionRequest { tighten: vec!["40 N.m".into(), "40 Nm".into()], ..sump_bolts(job) };
    assert_eq!(flint.add_position(wrong).await.unwrap_err().fields[0].field, "tighten[1]");
    flint.add_position(sump_bolts(job)).await.unwrap();
    let one = flint.get_strip(v1::GetStripRequest { job, ..Default::default() }).await.unwrap().positions.remove(0);
    let asked = sump_bolts(job);
    assert_eq!((one.reach(), &one.head, &one.tighten), (v1::Reach::Under, &asked.head, &asked.tighten));
    assert_eq!((&one.how, &one.check, one.cure_minutes), (&asked.how, &asked.check, 30));
    assert!(one.second_check && one.renew() == v1::Renew::Check);
    let nothing = v1::AddStepRequest { hold: String::new(), ..step(job) };
    assert_eq!(flint.add_step(nothing).await.unwrap_err().fields[0].field, "hold_second");
    flint.add_step(step(job)).await.unwrap();
    let shown = shop.stage(job, "fit").await.steps.remove(0);
    assert_eq!((shown.hold.as_str(), shown.hold_second), ("no leak", true));
    assert_eq!((shown.needed_states.as_slice(), shown.skills.len()), (step(job).needed_states.as_slice(), 1));
    assert_eq!(shown.cautions.len(), 2, "the hazard's own, and what comes before all of them");
    finish(&flint, job, "strip").await.unwrap();
    let drafted = v1::DraftTemplateRequest { job, template: "sump".into() };
    let source = shop.lead.draft_template(drafted).await.unwrap().source;
    for words in [
        "what = \"Sump bolts\"",
        "tighten = [\"40 N.m\", \"60 deg\"]",
        "reach = \"under\"",
        "hold = \"no leak\"",
        "follow-up = \"Look at the level after a day.\"",
    ] {
        assert!(source.contains(words), "{words}\n{source}");
    }
    shop.verified().await;
}
