//! The database's disk runs full, and has room again: writes are refused in words, reads go on, and
//! nothing has to be started anew.

use crate::checker::check;
use crate::edge::{Edge, reason};
use crate::postgres_killed::receive;
use crate::report::report;
use crate::scene::Scene;
use crate::shop::{Shop, new_id};
use crate::storm::{Plan, storm_with};
use crate::waiting::until;
use anyhow::Result;
use kit::process::{leadhandd, open_shop_at};
use kit::{Leadhandd, OwnServer, SmallDisk, Surroundings};
use rand::SeedableRng;
use rand::rngs::StdRng;
use sqlx::{Connection, PgConnection, raw_sql};
use std::time::Duration;
use tonic::Code;
use tonic_types::StatusExt;

const WITHIN: Duration = Duration::from_mins(1);
const MEGABYTES: u32 = 192;

/// What was refused for want of room says so, and that coming again is worth it.
async fn refused_in_words(edge: &Edge, lead: &str, random: &mut StdRng) -> Result<()> {
    // Pages that are there already still take a few rows.
    let refused = || {
        let write = receive(new_id(random));
        async move { write.send(edge, lead, WITHIN).await.err() }
    };
    let refused = until(WITHIN, "a write to be refused", refused).await?;
    assert_eq!((refused.code(), reason(&refused).as_str()), (Code::ResourceExhausted, "DATABASE_FULL"), "{refused:?}");
    assert!(refused.get_details_retry_info().is_some(), "{refused:?}");
    eprintln!("refused: {}", refused.message());
    Ok(())
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_disk_that_is_full_refuses_writes_and_loses_nothing() {
    let Some(disk) = SmallDisk::mount(MEGABYTES).unwrap() else { return };
    let surroundings = Surroundings { place: Some(disk.path().to_path_buf()), ..Surroundings::default() };
    let postgres = OwnServer::start_in(surroundings).await.unwrap();
    let url = postgres.app_url();
    let replicas = vec![Leadhandd::over(&url).unwrap(), Leadhandd::over(&url).unwrap()];
    let mut scene = Scene::of(postgres, url, replicas, 1).await.unwrap();
    let processes: Vec<_> = scene.replicas.iter().map(Leadhandd::process_id).collect();
    let mut random = StdRng::seed_from_u64(51);
    let plan = Plan::quiet(51, 16, Duration::from_secs(2));
    let after = storm_with(&mut scene, &plan, async |scene, recorder| {
        let look = || async { (recorder.acknowledged() >= 200).then_some(()) };
        until(WITHIN, "writes before the disk is full", look).await?;
        // A fresh segment of the write-ahead log: it is the tables that have no room.
        scene.meddle("SELECT pg_switch_wal()").await?;
        disk.fill()?;
        let look = || async { (recorder.refused("DATABASE_FULL") >= 50).then_some(()) };
        until(WITHIN, "writes to be refused", look).await?;
        let lead = &scene.shops[0].lead;
        for url in scene.urls() {
            let edge = Edge::to(&url)?;
            refused_in_words(&edge, lead, &mut random).await?;
            edge.head(lead).await?;
            edge.on_hand(lead, "gasket").await?;
            edge.journal(lead).await?;
        }
        disk.make_room()?;
        let before = recorder.acknowledged();
        let look = || async { (recorder.acknowledged() >= before + 100).then_some(()) };
        until(WITHIN, "writes to be accepted again", look).await
    });
    let after = after.await.unwrap();
    let found = check(&after.history);
    report("disk full, then room again", &after, &found);
    assert_eq!(found, []);
    assert_eq!(scene.replicas.iter().map(Leadhandd::process_id).collect::<Vec<_>>(), processes);
    for defect in ["refused DEFECT", "refused INTERNAL"] {
        assert_eq!(after.figures.count(defect), 0, "{defect}: {:?}", after.figures.outcomes);
    }
    let (sound, said) = scene.verify().await.unwrap();
    assert!(sound, "{said}");
}

/// Without room for its write-ahead log Postgres gives up at once, and can't start either.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_private_database_that_gave_up_on_a_full_disk_comes_back_by_itself() {
    let Some(disk) = SmallDisk::mount(MEGABYTES).unwrap() else { return };
    let data = disk.path().join("data");
    let mut replica = Leadhandd::with_private_database(&data).unwrap();
    replica.start().await.unwrap();
    let process = replica.process_id();
    let edge = Edge::to(&replica.url()).unwrap();
    let data = data.to_str().unwrap();
    let lead = open_shop_at(["--data-dir", data], "Yard").await.unwrap();
    let shop = Shop::furnish(&edge, lead, 3).await.unwrap();
    let mut random = StdRng::seed_from_u64(52);
    let before = receive(new_id(&mut random));
    let first = before.send(&edge, &shop.lead, WITHIN).await.unwrap();

    disk.fill().unwrap();
    let superuser = format!("postgres://postgres@localhost/leadhand?host={data}/run");
    let mut superuser = PgConnection::connect(&superuser).await.unwrap();
    raw_sql("SELECT pg_switch_wal()").execute(&mut superuser).await.unwrap();
    let during = receive(new_id(&mut random));
    let refused = during.send(&edge, &shop.lead, WITHIN).await.unwrap_err();
    eprintln!("{}: {}", reason(&refused), refused.message());
    let down = || async { (!replica.page("/healthz").await.ok()?.contains("200 OK")).then_some(()) };
    until(WITHIN, "the database to be down", down).await.unwrap();
    disk.make_room().unwrap();

    let look = || async { during.send(&edge, &shop.lead, WITHIN).await.ok() };
    until(WITHIN, "the command to work again", look).await.unwrap();
    let again = before.send(&edge, &shop.lead, WITHIN).await.unwrap();
    assert_eq!((again.number, again.repeated), (first.number, true));
    assert_eq!(edge.on_hand(&shop.lead, "gasket").await.unwrap(), 2);
    assert_eq!(replica.process_id(), process);
    eprintln!("{}", replica.log_end());
    let verified = leadhandd(&["verify", "--data-dir", data]).await.unwrap();
    assert!(verified.status.success(), "{}", String::from_utf8_lossy(&verified.stderr));
    assert!(replica.stop(WITHIN).await.unwrap().success());
}
