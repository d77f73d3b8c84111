//! The primary dies and its standby takes over (plain streaming replication): with synchronous
//! commits nothing acknowledged is lost, and followers go on at their cursors. Without them the
//! same failover loses, and the checker says so.

use crate::checker::{Violation, check, words};
use crate::report::report;
use crate::scene::Scene;
use crate::storm::{Aftermath, Plan, storm_with};
use crate::waiting::until;
use anyhow::{Result, ensure};
use kit::{Forwarder, Leadhandd, OwnServer};
use sqlx::{Connection, PgConnection, raw_sql};
use std::collections::BTreeSet;
use std::time::Duration;

const WITHIN: Duration = Duration::from_secs(30);

/// Two replicas that find the database by a port in front of it, and a standby.
struct Pair {
    scene: Scene,
    standby: OwnServer,
    /// What the replicas connect to: the one in charge.
    front: Forwarder,
    /// What the standby follows by.
    link: Forwarder,
}

impl Pair {
    async fn set_up(synchronous: bool) -> Result<Self> {
        let primary = OwnServer::start().await?;
        let link = Forwarder::to(primary.port()).await?;
        let standby = primary.standby_through(link.port()).await?;
        let mut superuser = PgConnection::connect(&primary.superuser_url()).await?;
        if synchronous {
            // Commits wait for whichever standby is there (PostgreSQL manual, 20.6.2).
            for statement in ["ALTER SYSTEM SET synchronous_standby_names = '*'", "SELECT pg_reload_conf()"] {
                raw_sql(statement).execute(&mut superuser).await?;
            }
        }
        let wanted = if synchronous { "sync" } else { "async" };
        wait_for_one(&mut superuser, "SELECT count(*) FROM pg_stat_replication WHERE sync_state = $1", wanted).await?;
        let front = Forwarder::to(primary.port()).await?;
        let url = OwnServer::app_url_through(front.port());
        let replicas = vec![Leadhandd::over(&url)?, Leadhandd::over(&url)?];
        let scene = Scene::of(primary, url, replicas, 1).await?;
        Ok(Self { scene, standby, front, link })
    }

    /// A storm in which the standby takes over, some time after it was cut off if it is.
    async fn fail_over(&mut self, cut: Option<Cut>) -> Result<(Aftermath, Vec<Violation>)> {
        let Self { scene, standby, front, link } = self;
        let plan = Plan::quiet(71, 8, Duration::from_secs(1));
        let after = storm_with(scene, &plan, async |scene, recorder| {
            let some_more = async |what: &str| {
                let before = recorder.acknowledged();
                let look = || async { (recorder.acknowledged() >= before + 200).then_some(()) };
                until(WITHIN, what, look).await
            };
            some_more("writes before the failover").await?;
            match cut {
                None => {}
                Some(Cut::UntilCommitsWait) => {
                    link.cut();
                    let waits = "SELECT count(*) FROM pg_stat_activity WHERE wait_event = $1";
                    wait_for_one(&mut scene.superuser().await?, waits, "SyncRep").await?;
                }
                Some(Cut::UntilSomeAreAcknowledged) => {
                    link.cut();
                    some_more("writes that the standby does not hear of").await?;
                }
            }
            scene.postgres.kill9()?;
            let mut superuser = PgConnection::connect(&standby.superuser_url()).await?;
            let promoted: bool = sqlx::query_scalar("SELECT pg_promote(true, 60)").fetch_one(&mut superuser).await?;
            ensure!(promoted, "the standby was not promoted: {}", standby.log());
            front.point_at(standby.port());
            std::mem::swap(&mut scene.postgres, standby);
            some_more("writes after the failover").await
        });
        let after = after.await?;
        let found = check(&after.history);
        Ok((after, found))
    }
}

/// How long the standby is left without news before it takes over.
#[derive(Debug, Clone, Copy)]
enum Cut {
    UntilCommitsWait,
    UntilSomeAreAcknowledged,
}

async fn wait_for_one(superuser: &mut PgConnection, count: &'static str, of: &str) -> Result<()> {
    let begun = tokio::time::Instant::now();
    while sqlx::query_scalar::<_, i64>(count).bind(of).fetch_one(&mut *superuser).await? == 0 {
        ensure!(begun.elapsed() < WITHIN, "waited {WITHIN:?} in vain for {of}: {count}");
        tokio::task::yield_now().await;
    }
    Ok(())
}

async fn nothing_is_lost(cut: Option<Cut>, fault: &str) {
    let mut pair = Pair::set_up(true).await.unwrap();
    let (after, found) = pair.fail_over(cut).await.unwrap();
    report(fault, &after, &found);
    assert_eq!(found, []);
    let (sound, said) = pair.scene.verify().await.unwrap();
    assert!(sound, "{said}");
    for defect in ["refused DEFECT", "refused INTERNAL"] {
        assert_eq!(after.figures.count(defect), 0, "{defect}: {:?}", after.figures.outcomes);
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_synchronous_standby_takes_over_without_a_loss() {
    nothing_is_lost(None, "failover to a synchronous standby").await;
}

/// What was written and waits for the standby is not acknowledged, so that nobody misses it.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_synchronous_standby_that_was_cut_off_takes_over_without_a_loss() {
    nothing_is_lost(Some(Cut::UntilCommitsWait), "failover to a synchronous standby that was cut off").await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn without_synchronous_commits_it_is_red() {
    let mut pair = Pair::set_up(false).await.unwrap();
    let (after, found) = pair.fail_over(Some(Cut::UntilSomeAreAcknowledged)).await.unwrap();
    report("failover to an asynchronous standby, a guard switched off", &after, &found);
    let lost = BTreeSet::from(["missing", "elsewhere", "answers differ"]);
    assert!(!words(&found).is_disjoint(&lost), "{:?}", words(&found));
}
