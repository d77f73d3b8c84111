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
        note: "the one from the lowest hole is longer".into(),
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
    let ends = shop.lead.get_loose_ends(v1::GetLooseEndsRequest { job }).await.unwrap().jobs.remove(0);
    assert_eq!(ends.kept[0].things, ["12 × Sump bolts (the one from the lowest hole is longer)"]);
    let asked = v1::ReckonTighteningsRequest { job, ..Default::default() };
    let found = shop.lead.reckon_tightenings(asked).await.unwrap().tightenings.remove(0);
    assert_eq!(found.note, "the one from the lowest hole is longer");
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

#[tokio::test(flavor = "multi_thread")]
async fn what_no_stock_has_and_a_tool_that_stays_out_are_told() {
    let shop = Shop::open().await;
    let job = shop.blank_job(&["strip", "fit"]).await;
    let flint = shop.technician("Flint", &[]).await;
    shop.assign(job, "floor-1").await.unwrap();
    start(&flint, job, "strip").await.unwrap();
    let later = v1::AddPositionRequest { later: true, ..sump_bolts(job) };
    flint.add_position(later).await.unwrap();
    let note = "one was not there".to_owned();
    let line = v1::OffLine { position: "sbolts".into(), found: Some(11), missing: Some(1), note, ..Default::default() };
    let (write, stage, lines) = (Some(new_write()), "strip".to_owned(), vec![line]);
    flint.take_off(v1::TakeOffRequest { write, job, stage, lines, ..Default::default() }).await.unwrap();
    let told = shop.whole_job(job).await.to_get.remove(0);
    assert_eq!((told.what.as_str(), told.pieces, told.stage.as_str()), ("Sump bolts", 1, "fit"));
    let asked = v1::GetReadyListRequest { job, stage: "fit".into(), ..Default::default() };
    let missing = flint.get_ready_list(asked).await.unwrap().missing;
    let said = "1 × Sump bolts ('sbolts'), to be got: no item of the stock is named";
    assert!(missing.iter().any(|line| line.text == said), "{missing:?}");
    // A job that is called off, with a tool that nobody brought back.
    let other = shop.blank_job(&["look"]).await;
    let tool = Some(v1::Tool { tool: "k3-pin".into(), name: "Locking pin".into(), ..Default::default() });
    shop.lead.add_tool(v1::AddToolRequest { write: Some(new_write()), tool }).await.unwrap();
    let (write, tool) = (Some(new_write()), "k3-pin".to_owned());
    shop.lead.lend_tool(v1::LendToolRequest { write, tool, job: other, ..Default::default() }).await.unwrap();
    let write = Some(new_write());
    let cancel = v1::CancelJobRequest { write, job: other, reason: "sold".into(), ..Default::default() };
    shop.lead.cancel_job(cancel).await.unwrap();
    let tools = shop.lead.list_tools(v1::ListToolsRequest::default()).await.unwrap().tools;
    assert!(tools.iter().any(|line| line.overdue), "{tools:?}");
    let ends = shop.lead.get_loose_ends(v1::GetLooseEndsRequest::default()).await.unwrap().overdue_tools;
    assert_eq!(ends.len(), 1);
    shop.verified().await;
}
