//! Ready lists and lessons over the wire: what is missing for a stage and who has it, and what two finished jobs teach
//! about their template. The rules are the project's own.

use crate::shop::{Shop, finish, reason, start};
use leadhand_proto::v1;
use leadhand_sdk::{Client, new_write};

const TEMPLATE: &str = r#"
key = "belt"
title = "Camshaft belt"

[[stage]]
key = "lock"
title = "Lock and release"
minutes = [10, 20, 40]

[[stage.step]]
do = "Undo the cover"
tools = ["socket 8 mm", "sockets 10 and 13 mm"]

[[stage.step]]
do = "Lock the camshafts"
tools = ["12 mm socket"]
shared-tools = ["cam-lock-20"]
"#;

async fn opened(shop: &Shop) -> Client {
    let (tool, name) = ("cam-lock-20".to_owned(), "Camshaft lock".to_owned());
    let tool = Some(v1::Tool { tool, name, ..Default::default() });
    shop.lead.add_tool(v1::AddToolRequest { write: Some(new_write()), tool }).await.unwrap();
    let publish = v1::PublishTemplateRequest { write: Some(new_write()), source: TEMPLATE.into() };
    shop.lead.publish_template(publish).await.unwrap();
    // With a skill: who has neither that nor a shift is planned nowhere, and no list counts on them.
    shop.technician("Flint", &["engine"]).await
}

async fn lend(who: &Client, job: i64, person: &str) {
    let (tool, stage) = ("cam-lock-20".into(), if job == 0 { String::new() } else { "lock".to_owned() });
    let person = person.to_owned();
    let lend = v1::LendToolRequest { write: Some(new_write()), tool, job, stage, person, ..Default::default() };
    who.lend_tool(lend).await.unwrap();
}

async fn bring_back(who: &Client) {
    let back = v1::ReturnToolRequest { write: Some(new_write()), tool: "cam-lock-20".into() };
    who.return_tool(back).await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_ready_list_says_what_is_missing_and_who_has_it() {
    let shop = Shop::open().await;
    let flint = opened(&shop).await;
    let job = shop.job("belt", "van").await;
    shop.assign(job, "lift-1").await.unwrap();
    lend(&flint, 0, "Flint").await;
    let asked = v1::GetReadyListRequest { job, stage: "lock".into(), ..Default::default() };
    let list = flint.get_ready_list(asked.clone()).await.unwrap();
    let tools: Vec<(&str, i32)> =
        list.tools.iter().map(|line| (line.text.as_str(), line.first.as_ref().unwrap().step)).collect();
    assert_eq!(tools, [("8, 10, 12 and 13 mm sockets", 1)]);
    assert!(!list.shared_tools[0].here && list.shared_tools[0].loan.is_some());
    let missing: Vec<&str> = list.missing.iter().map(|line| line.text.as_str()).collect();
    assert!(missing.contains(&"shared tool 'cam-lock-20', which Flint has"), "{missing:?}");
    assert!(list.people[0].able.iter().any(|able| able.name == "Flint"));
    bring_back(&flint).await;
    let list = flint.get_ready_list(asked).await.unwrap();
    assert!(!list.missing.iter().any(|line| line.text.contains("cam-lock-20")), "{:?}", list.missing);

    let of_bay = v1::GetReadyListRequest { bay: "lift-1".into(), ..Default::default() };
    assert_eq!(flint.get_ready_list(of_bay.clone()).await.unwrap().stages.len(), 1);
    start(&flint, job, "lock").await.unwrap();
    let of_person = v1::GetReadyListRequest { person: "Flint".into(), ..Default::default() };
    assert_eq!(flint.get_ready_list(of_person).await.unwrap().stages[0].job, job);
    let both = v1::GetReadyListRequest { job, ..of_bay };
    assert_eq!(reason(flint.get_ready_list(both).await), "INVALID_FIELD");
    let alone = v1::GetReadyListRequest { stage: "lock".into(), ..Default::default() };
    assert_eq!(reason(flint.get_ready_list(alone).await), "INVALID_FIELD");
    let nowhere = v1::GetReadyListRequest { job, stage: "fit".into(), ..Default::default() };
    assert_eq!(reason(flint.get_ready_list(nowhere).await), "NOT_FOUND");
}

#[tokio::test(flavor = "multi_thread")]
async fn finished_jobs_teach_and_the_proposal_can_be_published() {
    let shop = Shop::open().await;
    let flint = opened(&shop).await;
    let ask = |propose| v1::GetLessonsRequest { template: "belt".into(), propose };
    assert_eq!(flint.get_lessons(ask(false)).await.unwrap().jobs, 0);
    assert_eq!(reason(flint.get_lessons(ask(true)).await), "NOTHING_TO_DO", "no job is finished yet");
    for _ in 0..2 {
        let job = shop.job("belt", "van").await;
        start(&flint, job, "lock").await.unwrap();
        let (stage, instruction) = ("lock".to_owned(), "Cut the cable tie # at the back".to_owned());
        let step = v1::AddStepRequest { write: Some(new_write()), job, stage, instruction, ..Default::default() };
        flint.add_step(step).await.unwrap();
        lend(&flint, job, "").await;
        finish(&flint, job, "lock").await.unwrap();
        bring_back(&flint).await;
        let complete = v1::CompleteJobRequest { write: Some(new_write()), job, ..Default::default() };
        shop.lead.complete_job(complete).await.unwrap();
    }
    let answer = flint.get_lessons(ask(true)).await.unwrap();
    assert_eq!((answer.jobs, answer.jobs_max, answer.revision), (2, 50, 1));
    let stage = &answer.stages[0];
    let told: Vec<(v1::LessonKind, i32, i32)> = stage.lessons.iter().map(|one| (one.kind(), one.met, one.of)).collect();
    assert_eq!(told, [(v1::LessonKind::Step, 2, 2), (v1::LessonKind::Tool, 2, 2)]);
    assert!(answer.proposal.contains("# proposed: met in 2 of 2 jobs"), "{}", answer.proposal);
    let check = v1::CheckTemplateRequest { source: answer.proposal.clone() };
    assert_eq!(shop.lead.check_template(check).await.unwrap().faults, vec![]);
    assert_eq!(flint.get_lessons(ask(false)).await.unwrap().revision, 1, "nothing is published by asking");
    let publish = v1::PublishTemplateRequest { write: Some(new_write()), source: answer.proposal };
    assert_eq!(shop.lead.publish_template(publish).await.unwrap().revision, 2);
    assert_eq!(
        reason(flint.get_lessons(v1::GetLessonsRequest { template: "moon".into(), propose: false }).await),
        "NOT_FOUND"
    );
}
