//! Progress streams: stages, blockers, the board and the journal.

use crate::shop::{Shop, finish, reason, start};
use futures::StreamExt;
use leadhand_proto::v1;
use leadhand_sdk::{BoardEvent, new_write};
use std::time::Duration;

#[tokio::test(flavor = "multi_thread")]
async fn a_change_at_one_replica_is_seen_at_the_other() {
    let shop = Shop::open().await;
    let job = shop.job("front-brakes", "white van").await;
    let mut board = Box::pin(shop.elsewhere.watch_board());
    let seen = async {
        let mut number = 0;
        while let Some(event) = board.next().await {
            let BoardEvent::Live(board) = event.unwrap() else { continue };
            assert!(board.number >= number, "the board went back");
            number = board.number;
            assert_eq!(board.bays.len(), 4, "the board is always whole");
            if board.bays.iter().any(|bay| bay.job.as_ref().is_some_and(|found| found.job == job)) {
                return;
            }
        }
    };
    let (assigned, seen) =
        tokio::join!(shop.assign(job, "lift-1"), tokio::time::timeout(Duration::from_secs(30), seen));
    assigned.unwrap();
    seen.expect("the change was not seen");
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn stages_become_ready_and_a_wait_passes_by_itself() {
    let shop = Shop::open().await;
    let flint = shop.technician("Flint", &["engine", "service"]).await;
    let job = shop.job("coolant-service", "grey hatchback").await;
    shop.assign(job, "pit-1").await.unwrap();
    let state = async |stage: &str| {
        let found = shop.whole_job(job).await.stages.into_iter().find(|found| found.stage == stage).unwrap();
        v1::StageState::try_from(found.state).unwrap()
    };
    assert_eq!((state("cool").await, state("drain").await), (v1::StageState::Ready, v1::StageState::NotYet));
    assert_eq!(reason(start(&flint, job, "drain").await), "NOT_READY");
    start(&flint, job, "cool").await.unwrap();
    finish(&flint, job, "cool").await.unwrap();
    assert_eq!(state("drain").await, v1::StageState::Ready);
    start(&flint, job, "drain").await.unwrap();
    for (cause, note) in [(v1::Cause::Tool, "the pump is lent"), (v1::Cause::SeizedOrDamaged, "the tap turns round")] {
        let asked = v1::RaiseBlockerRequest {
            write: Some(new_write()),
            job,
            stage: "drain".into(),
            cause: cause.into(),
            note: note.into(),
            ..Default::default()
        };
        flint.raise_blocker(asked).await.unwrap();
    }
    shop.fluid(job, "coolant", 5_000, 0).await;
    assert_eq!(reason(finish(&flint, job, "drain").await), "BLOCKERS_OPEN");
    for blocker in [1, 2] {
        let asked = v1::ClearBlockerRequest { write: Some(new_write()), job, blocker, note: String::new() };
        flint.clear_blocker(asked).await.unwrap();
    }
    let extra = v1::AddStepRequest {
        write: Some(new_write()),
        job,
        stage: "drain".into(),
        instruction: "Extract the broken tap".into(),
        ..Default::default()
    };
    flint.add_step(extra).await.unwrap();
    finish(&flint, job, "drain").await.unwrap();
    // A wait of one minute behind a stage that ended long ago is over; of an hour it is not.
    for (stage, wait_minutes, expected) in [("soon", 0, v1::StageState::Ready), ("later", 60, v1::StageState::Waiting)]
    {
        let asked = v1::AddStageRequest {
            write: Some(new_write()),
            job,
            stage: stage.into(),
            title: stage.into(),
            after: vec![v1::After { stage: "drain".into(), wait_minutes }],
            ..Default::default()
        };
        flint.add_stage(asked).await.unwrap();
        assert_eq!(state(stage).await, expected);
    }
    assert_eq!(reason(start(&flint, job, "later").await), "WAIT_NOT_OVER");
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_journal_resumes_after_n_with_n_plus_1() {
    let shop = Shop::open().await;
    let head = shop.head().await;
    let from_start = shop.followed(v1::Cursor::default(), usize::try_from(head).unwrap()).await;
    assert!(from_start.iter().map(|fact| fact.number).eq(1..=head));
    let tenth = &from_start[9];
    let resumed = shop.followed(v1::Cursor { number: 10, fact_id: tenth.fact_id.clone() }, 5).await;
    assert!(resumed.iter().map(|fact| fact.number).eq(11..=15));
    assert_eq!(resumed[..], from_start[10..15]);
    let elsewhere = v1::Cursor { number: 10, fact_id: from_start[3].fact_id.clone() };
    let asked = v1::ReadJournalRequest { after: Some(elsewhere), page_size: 1 };
    assert_eq!(reason(shop.lead.read_journal(asked).await), "OUT_OF_RANGE");
    let job = shop.job("front-brakes", "white van").await;
    let stale = shop.whole_job(job).await.job.unwrap().etag;
    shop.assign(job, "lift-1").await.unwrap();
    let write = Some(v1::WriteContext { etag: stale, ..new_write() });
    let late = v1::PromiseJobRequest { write, job, priority: 1, ..Default::default() };
    assert_eq!(reason(shop.lead.promise_job(late).await), "JOB_CHANGED");
    shop.verified().await;
}
