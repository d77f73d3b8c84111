//! Streams that resume: never a gap, never a repeat, and honest about silence.

mod support;

use futures::StreamExt;
use leadhand_sdk::v1::{Bay, BoardBay, BoardJob, Cursor, Fact, FollowJournalResponse, WatchBoardResponse};
use leadhand_sdk::{BoardEvent, Client, Code, JournalEvent};
use std::pin::pin;
use std::time::Duration;
use support::{Server, Word};
use tonic::Status;

fn facts(numbers: impl IntoIterator<Item = i64>) -> Word<FollowJournalResponse> {
    let fact = |number| Fact { number, fact_id: format!("id-{number}"), ..Default::default() };
    Word::Say(FollowJournalResponse { facts: numbers.into_iter().map(fact).collect(), head: 9 })
}

fn cursor(number: i64) -> Cursor {
    let fact_id = if number == 0 { String::new() } else { format!("id-{number}") };
    Cursor { number, fact_id }
}

#[tokio::test]
async fn a_follower_hears_every_fact_once_through_breaks_repeats_and_gaps() {
    let server = Server::start().await;
    server.journal(vec![facts(1..=3), Word::Fail(Status::unavailable("going down"))]);
    server.journal(vec![facts(3..=5), Word::End]);
    server.journal(vec![facts([7])]);
    server.journal(vec![facts([]), facts(6..=8), Word::Fail(Status::data_loss("another history"))]);
    let heard: Vec<_> = server.client().follow_journal(cursor(0)).collect().await;
    let (last, before) = heard.split_last().unwrap();
    let numbers: Vec<i64> = before.iter().map(|fact| fact.as_ref().unwrap().number).collect();
    assert_eq!(numbers, [1, 2, 3, 4, 5, 6, 7, 8]);
    assert_eq!(last.as_ref().unwrap_err().code, Code::DataLoss);
    assert_eq!(server.cursors(), [cursor(0), cursor(3), cursor(5), cursor(5)]);
}

#[tokio::test]
async fn a_history_that_stays_broken_is_said() {
    let server = Server::start().await;
    for _ in 0..3 {
        server.journal(vec![facts([1, 3])]);
    }
    let heard: Vec<_> = server.client().follow_journal(cursor(1)).collect().await;
    assert_eq!(heard.len(), 1);
    let error = heard[0].as_ref().unwrap_err();
    assert_eq!(error.code, Code::DataLoss);
    assert!(error.message.contains("fact 3 where 2 comes next"), "{error}");
}

#[tokio::test]
async fn silence_for_three_heartbeats_is_noticed_and_the_stream_opened_again() {
    let server = Server::start().await;
    server.journal(vec![facts([1])]);
    server.journal(vec![facts([2]), Word::Fail(Status::permission_denied("the token was revoked"))]);
    let mut events = pin!(server.client().follow_journal_events(cursor(0)));
    assert!(matches!(events.next().await, Some(Ok(JournalEvent::Fact(fact))) if fact.number == 1));
    match events.next().await {
        Some(Ok(JournalEvent::NotLive { since, why })) => {
            assert!(since.elapsed() >= Duration::from_millis(300), "{:?}", since.elapsed());
            assert!(why.contains("no word"), "{why}");
        }
        other => panic!("{other:?}"),
    }
    assert!(matches!(events.next().await, Some(Ok(JournalEvent::Live))));
    assert!(matches!(events.next().await, Some(Ok(JournalEvent::Fact(fact))) if fact.number == 2));
    assert!(matches!(events.next().await, Some(Err(error)) if error.code == Code::PermissionDenied));
    assert!(events.next().await.is_none());
}

#[tokio::test]
async fn a_server_that_never_answers_is_given_up_after_the_budget() {
    let gone = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap().local_addr().unwrap();
    let endpoint = leadhand_sdk::Endpoint::new(format!("http://{gone}")).budget(Duration::from_millis(300));
    let heard: Vec<_> = Client::connect(endpoint).unwrap().follow_journal(cursor(0)).collect().await;
    assert!(matches!(heard.as_slice(), [Err(error)] if error.code == Code::Unavailable), "{heard:?}");
}

fn bay(key: &str, job: Option<i64>) -> BoardBay {
    let job = job.map(|job| BoardJob { job, ..Default::default() });
    BoardBay { bay: Some(Bay { bay: key.into(), ..Default::default() }), job }
}

fn whole(number: i64, bays: Vec<BoardBay>, outside: &[i64]) -> Word<WatchBoardResponse> {
    let outside = outside.iter().map(|&job| BoardJob { job, ..Default::default() }).collect();
    Word::Say(WatchBoardResponse { bays, outside, outside_changed: true, number, whole: true, ..Default::default() })
}

fn change(number: i64, bay: BoardBay) -> Word<WatchBoardResponse> {
    Word::Say(WatchBoardResponse { bays: vec![bay], number, ..Default::default() })
}

fn heartbeat(number: i64) -> Word<WatchBoardResponse> {
    Word::Say(WatchBoardResponse { number, heartbeat: true, ..Default::default() })
}

/// What a watcher saw: the number, each bay's job, the jobs outside.
type Sight = (i64, Vec<(String, i64)>, Vec<i64>);

fn sight(event: BoardEvent) -> Option<Sight> {
    let BoardEvent::Live(board) = event else { return None };
    let bays = board
        .bays
        .iter()
        .map(|line| (line.bay.clone().unwrap_or_default().bay, line.job.as_ref().map_or(0, |job| job.job)));
    Some((board.number, bays.collect(), board.outside.iter().map(|job| job.job).collect()))
}

fn seen(number: i64, bays: &[(&str, i64)], outside: &[i64]) -> Sight {
    (number, bays.iter().map(|(key, job)| ((*key).to_owned(), *job)).collect(), outside.to_vec())
}

#[tokio::test]
async fn a_watcher_sees_the_board_whole_and_begins_afresh_after_a_break() {
    let server = Server::start().await;
    server.board(vec![
        whole(10, vec![bay("a", None), bay("b", Some(1))], &[2]),
        change(11, bay("a", Some(3))),
        heartbeat(11),
        Word::End,
    ]);
    server.board(vec![change(12, bay("a", None)), Word::End]);
    server.board(vec![whole(13, vec![bay("b", None)], &[]), Word::Fail(Status::unauthenticated("revoked"))]);
    let heard: Vec<_> = server.client().watch_board().collect().await;
    let (last, before) = heard.split_last().unwrap();
    let sights: Vec<Option<Sight>> = before.iter().map(|event| sight(event.clone().unwrap())).collect();
    assert_eq!(
        sights,
        [
            Some(seen(10, &[("a", 0), ("b", 1)], &[2])),
            Some(seen(11, &[("a", 3), ("b", 1)], &[2])),
            None,
            Some(seen(13, &[("b", 0)], &[])),
        ]
    );
    assert_eq!(last.as_ref().unwrap_err().code, Code::Unauthenticated);
}
