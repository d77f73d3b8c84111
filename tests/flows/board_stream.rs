//! The board as it is streamed: whole once, then only what changed; also what changes by time alone.

use crate::clock::{MINUTE_US, instant_us, later, written_at};
use crate::shop::{Shop, start};
use leadhand_proto::v1;
use leadhand_proto::v1::board_service_client::BoardServiceClient;
use leadhand_sdk::{Client, new_write};
use std::time::Duration;
use tokio::time::timeout;
use tonic::{Request, Streaming};

const SOON: Duration = Duration::from_secs(30);

/// The stream itself, without what the client makes of it.
async fn watch(client: &Client, secret: &str) -> Streaming<v1::WatchBoardResponse> {
    let mut asked = Request::new(v1::WatchBoardRequest {});
    asked.metadata_mut().insert("authorization", format!("Bearer {secret}").parse().unwrap());
    BoardServiceClient::new(client.channel()).watch_board(asked).await.unwrap().into_inner()
}

/// The next message that says more than that the stream lives.
async fn next(stream: &mut Streaming<v1::WatchBoardResponse>) -> v1::WatchBoardResponse {
    loop {
        let message = timeout(SOON, stream.message()).await.expect("no word from the board").unwrap().unwrap();
        if !message.heartbeat {
            return message;
        }
    }
}

fn keys(message: &v1::WatchBoardResponse) -> Vec<&str> {
    message.bays.iter().map(|bay| bay.bay.as_ref().unwrap().bay.as_str()).collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn the_first_message_is_whole_and_then_only_changed_bays_come() {
    let shop = Shop::open().await;
    let jobs = [shop.job("front-brakes", "white van").await, shop.job("front-brakes", "grey van").await];
    // Watched at the second replica, changed at the first. The shop has said no hours, so that nothing on its board
    // moves by time alone.
    let mut stream = watch(&shop.elsewhere, shop.secret()).await;
    let first = next(&mut stream).await;
    assert!(first.whole && first.outside_changed);
    assert_eq!(keys(&first), ["floor-1", "lift-1", "lift-2", "pit-1"]);
    assert_eq!(first.outside.len(), 2);
    let mut number = first.number;
    for (job, bay) in [(jobs[0], "lift-1"), (jobs[1], "floor-1")] {
        let receipt = shop.assign(job, bay).await.unwrap().receipt.unwrap();
        let change = next(&mut stream).await;
        assert!(!change.whole && change.outside_changed);
        assert_eq!(keys(&change), [bay]);
        assert_eq!(change.bays[0].job.as_ref().unwrap().job, job, "a changed bay comes whole");
        assert!(change.number >= receipt.number && change.number > number, "{} after {number}", change.number);
        number = change.number;
    }
    // What is on neither board changes nothing on it; the next message is about the next change.
    let item = v1::AddItemRequest {
        write: Some(new_write()),
        item: "rag".into(),
        name: "Rag".into(),
        unit: "1".into(),
        fluid: None,
    };
    shop.lead.add_item(item).await.unwrap();
    let urgent = v1::PromiseJobRequest { write: Some(new_write()), job: jobs[0], priority: 1, ..Default::default() };
    shop.lead.promise_job(urgent).await.unwrap();
    let change = next(&mut stream).await;
    assert_eq!((keys(&change), change.outside_changed), (vec!["lift-1"], false));
    assert_eq!(change.bays[0].job.as_ref().unwrap().priority, 1);
    // Who comes later gets everything, once.
    let late = next(&mut watch(&shop.elsewhere, shop.secret()).await).await;
    assert!(late.whole && late.bays.len() == 4 && late.outside.is_empty());
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_wait_that_passes_shows_by_itself_and_is_one_fact_of_two_timers() {
    let shop = Shop::open().await;
    // Entered late, so that a wait of one minute has four seconds left.
    let now = shop.now().await;
    let begun = v1::OpenJobRequest {
        write: written_at(later(now, -3 * MINUTE_US)),
        title: "Glue".into(),
        vehicle_label: "boat trailer".into(),
        ..Default::default()
    };
    let job = shop.lead.open_job(begun).await.unwrap().job;
    let add = |stage: &str, after: &[(&str, i32)]| v1::AddStageRequest {
        write: written_at(later(now, -2 * MINUTE_US)),
        job,
        stage: stage.into(),
        title: stage.into(),
        after: after.iter().map(|(stage, wait)| v1::After { stage: (*stage).into(), wait_minutes: *wait }).collect(),
        ..Default::default()
    };
    shop.lead.add_stage(add("glue", &[])).await.unwrap();
    shop.lead.add_stage(add("sand", &[("glue", 1)])).await.unwrap();
    let (write, stage) = (written_at(later(now, -2 * MINUTE_US)), "glue".into());
    shop.lead.start_stage(v1::StartStageRequest { write, job, stage, ..Default::default() }).await.unwrap();
    let (write, stage) = (written_at(later(now, 4_000_000 - MINUTE_US)), "glue".into());
    shop.lead.finish_stage(v1::FinishStageRequest { write, job, stage, as_listed: true }).await.unwrap();
    let before = shop.head().await;
    let mut stream = watch(&shop.elsewhere, shop.secret()).await;
    let state = |message: &v1::WatchBoardResponse| {
        let job = message.outside.iter().find(|found| found.job == job)?;
        Some(job.next.iter().find(|stage| stage.stage == "sand")?.state())
    };
    // However late a message comes, it says what was true at its moment.
    let over = instant_us(later(now, 4_000_000));
    loop {
        let message = next(&mut stream).await;
        let Some(found) = state(&message) else { continue };
        let expected =
            if instant_us(message.as_of.unwrap()) < over { v1::StageState::Waiting } else { v1::StageState::Ready };
        assert_eq!(found, expected);
        if found == v1::StageState::Ready {
            break;
        }
    }
    let passed = async || shop.facts_after(before).await.iter().filter(|fact| fact.kind == "wait_passed").count();
    // The board may be worked out between the moment and its fact.
    let noted = async {
        while passed().await == 0 {
            tokio::task::yield_now().await;
        }
    };
    timeout(SOON, noted).await.expect("the wait was never noted");
    start(&shop.lead, job, "sand").await.unwrap();
    assert_eq!(passed().await, 1, "both replicas have a timer, and the wait passed once");
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_revoked_token_ends_its_streams() {
    let shop = Shop::open().await;
    let asked = v1::IssueTokenRequest {
        write: Some(new_write()),
        role: v1::Role::Viewer.into(),
        label: "wall screen".into(),
        ..Default::default()
    };
    let issued = shop.lead.issue_token(asked).await.unwrap();
    let mut stream = watch(&shop.elsewhere, &issued.secret).await;
    assert!(next(&mut stream).await.whole);
    let revoke = v1::RevokeTokenRequest { write: Some(new_write()), token: issued.token };
    shop.lead.revoke_token(revoke).await.unwrap();
    let end = async {
        loop {
            if let Err(status) = stream.message().await {
                return status;
            }
        }
    };
    let status = timeout(SOON, end).await.expect("the stream of a revoked token goes on");
    assert_eq!(status.code(), tonic::Code::Unauthenticated);
    shop.verified().await;
}
