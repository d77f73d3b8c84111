//! Postgres is killed while nothing is going on; the server has only to wait for it.
//! Common practice: a server outlives its database's restart.

use crate::command::Command;
use crate::edge::reason;
use crate::history::Outcome;
use crate::scene::Scene;
use crate::shop::new_id;
use crate::waiting::until;
use leadhand_proto::v1;
use rand::SeedableRng;
use rand::rngs::StdRng;
use std::time::Duration;
use tonic::Code;
use tonic_types::StatusExt;
use uuid::Uuid;

const WITHIN: Duration = Duration::from_secs(10);

/// A delivery of one gasket.
pub fn receive(request: Uuid) -> Command {
    let write = Some(v1::WriteContext { request_id: request.to_string(), ..Default::default() });
    let (item, place) = ("gasket".to_owned(), "a1".to_owned());
    Command::Receive(v1::ReceiveStockRequest { write, item, place, quantity: 1, expires_on: String::new() })
}

#[tokio::test]
async fn commands_work_again_when_the_database_is_back_and_the_server_was_not_touched() {
    let mut scene = Scene::set_up(1).await.unwrap();
    let mut random = StdRng::seed_from_u64(5);
    let (edge, lead) = (scene.edge().unwrap(), scene.shops[0].lead.clone());
    let process = scene.replicas[0].process_id();
    let before = receive(new_id(&mut random));
    let first = before.send(&edge, &lead, WITHIN).await.unwrap();

    scene.postgres.kill9().unwrap();
    let during = receive(new_id(&mut random));
    let refused = during.send(&edge, &lead, WITHIN).await.unwrap_err();
    assert_eq!((refused.code(), reason(&refused).as_str()), (Code::Unavailable, "DATABASE_UNAVAILABLE"));
    assert!(refused.get_details_retry_info().is_some(), "a client is told to come again: {refused:?}");
    assert!(!scene.replicas[0].page("/healthz").await.unwrap().contains("200 OK"));
    scene.postgres.restart().await.unwrap();

    let look = || async { during.send(&edge, &lead, WITHIN).await.ok() };
    let second = until(WITHIN, "the command to work again", look).await.unwrap();
    assert!(second.number > first.number);
    let again = before.send(&edge, &lead, WITHIN).await.unwrap();
    assert_eq!((again.number, again.repeated), (first.number, true));
    assert_eq!(edge.on_hand(&lead, "gasket").await.unwrap(), 2);
    assert_eq!(scene.replicas[0].process_id(), process);
    // It ends in order as well, with nothing left over from the connections that broke.
    assert!(scene.replicas[0].stop(WITHIN).await.unwrap().success());
    let (sound, said) = scene.verify().await.unwrap();
    assert!(sound, "{said}");
}

#[tokio::test]
async fn a_commit_cut_off_by_the_kill_becomes_known_by_its_request_id() {
    let mut scene = Scene::set_up(1).await.unwrap();
    let mut random = StdRng::seed_from_u64(6);
    let (edge, lead) = (scene.edge().unwrap(), scene.shops[0].lead.clone());
    let commands: Vec<Command> = (0..50).map(|_| receive(new_id(&mut random))).collect();
    let calls = commands.iter().map(|command| command.send(&edge, &lead, WITHIN));
    let (answers, killed) = tokio::join!(futures::future::join_all(calls), async {
        // In the middle of it: some are answered, some are not.
        let look = || async { (edge.on_hand(&lead, "gasket").await.ok()? > 0).then_some(()) };
        until(WITHIN, "the first delivery", look).await?;
        scene.postgres.kill9()?;
        scene.postgres.restart().await
    });
    killed.unwrap();
    let acknowledged = answers.iter().filter(|answer| answer.is_ok()).count();
    for (command, answer) in commands.iter().zip(answers) {
        let look = || async { command.send(&edge, &lead, WITHIN).await.ok() };
        let said = until(WITHIN, "the command to become known", look).await.unwrap();
        if let Outcome::Acknowledged(first) = crate::edge::outcome(answer) {
            assert_eq!((said.number, said.repeated), (first.number, true));
        }
    }
    eprintln!("{acknowledged} of {} were acknowledged before the kill or across it", commands.len());
    assert_eq!(edge.on_hand(&lead, "gasket").await.unwrap(), 50);
}
