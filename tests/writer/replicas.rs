//! What a replica keeps of a shop follows what the other one writes.

use crate::{Shop, TEMPLATE, count, open_job, receive, replica};
use leadhand_app::AppError;
use leadhand_domain::command::{
    AddBay, AssignJob, Command, FinishStage, IssueStock, PublishTemplate, ReserveStock, StartStage,
};
use leadhand_facts::JobNo;
use leadhand_facts::words::BayKind;
use sqlx::Executor;

/// Each step of each job at another replica than the one before it.
#[tokio::test(flavor = "multi_thread")]
async fn jobs_that_change_sides_with_every_command_go_through() {
    let shop = Shop::open().await;
    let sides = [&shop.app, &replica(&shop.database, 2).await];
    shop.stock(3).await;
    for bay in ["floor-1", "floor-2", "floor-3"] {
        let kind = BayKind::Floor;
        shop.must(AddBay { bay: bay.into(), name: bay.into(), kind, rated_kg: 3000 }).await;
    }
    shop.must(PublishTemplate { source: TEMPLATE.into() }).await;
    let mut turn = 0;
    for (job, bay) in (1..).map(JobNo).zip(["floor-1", "floor-2", "floor-3"]) {
        let start = |stage: &str| StartStage { job, stage: stage.into(), override_reason: None };
        let finish = |stage: &str| FinishStage { job, stage: stage.into(), as_listed: true };
        let commands: Vec<Command> = vec![
            open_job().into(),
            AssignJob { job, bay: bay.into(), override_reason: None }.into(),
            ReserveStock { job, stage: None }.into(),
            start("strip").into(),
            receive(2).into(),
            finish("strip").into(),
            start("fit").into(),
            IssueStock { job, stage: None, item: None, quantity: None }.into(),
            count(4).into(),
            finish("fit").into(),
        ];
        for command in commands {
            turn += 1;
            let done = sides[turn % 2].execute(&shop.lead, shop.write(), command.clone()).await;
            assert!(done.is_ok(), "{} of job {job}: {done:?}", command.name());
        }
    }
    shop.verified().await;
}

/// A newer program on another replica wrote a kind of fact that this one does not know.
#[tokio::test(flavor = "multi_thread")]
async fn a_replica_that_meets_an_unknown_fact_stops_writing_and_says_so() {
    let shop = Shop::open().await;
    let other = replica(&shop.database, 2).await;
    shop.stock(1).await;
    other.execute(&shop.lead, shop.write(), receive(1)).await.unwrap();
    let head = shop.head().await;
    let newer = "UPDATE journal SET kind = 'tea_brewed' WHERE number = (SELECT number FROM head)";
    shop.database.superuser().await.unwrap().execute(newer).await.unwrap();
    for _ in 0..2 {
        let refused = shop.app.execute(&shop.lead, shop.write(), receive(1)).await;
        assert!(matches!(refused, Err(AppError::ServerTooOld)), "{refused:?}");
    }
    assert_eq!(shop.head().await, head);
}
