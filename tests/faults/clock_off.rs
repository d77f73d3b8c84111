//! Replicas whose clocks are an hour off, either way: what is recorded when, and which token has
//! expired, is for the database's clock alone.

use crate::checker::check;
use crate::edge::{Edge, with_token};
use crate::report::report;
use crate::scene::Scene;
use crate::shop::new_id;
use crate::storm::{Plan, storm};
use crate::waiting::until;
use anyhow::{Context, Result};
use kit::{Leadhandd, OwnServer, Preload};
use leadhand_proto::v1;
use leadhand_proto::v1::journal_service_client::JournalServiceClient;
use rand::SeedableRng;
use rand::rngs::StdRng;
use sqlx::{Connection, PgConnection};
use std::time::Duration;
use tonic::Code;

const WITHIN: Duration = Duration::from_secs(30);
const HOUR: i64 = 3_600;

/// The first replica's clock is right, the second's is an hour fast, the third's an hour slow. Also the database's clock
/// before anything was recorded.
async fn set_up(preload: &Preload) -> Result<(Scene, i64)> {
    let postgres = OwnServer::start().await?;
    let begun = database_clock(&postgres).await?;
    let url = postgres.app_url();
    let off = |seconds| -> Result<Leadhandd> {
        Ok(Leadhandd::over(&url)?.with_variables(&preload.variables_with_clock(seconds)))
    };
    let replicas = vec![Leadhandd::over(&url)?, off(HOUR)?, off(-HOUR)?];
    Ok((Scene::of(postgres, url, replicas, 1).await?, begun))
}

/// Seconds of the database's clock.
async fn database_clock(postgres: &OwnServer) -> Result<i64> {
    let asked = "SELECT floor(extract(epoch FROM clock_timestamp()))::bigint";
    let mut connection = PgConnection::connect(&postgres.superuser_url()).await?;
    Ok(sqlx::query_scalar(asked).fetch_one(&mut connection).await?)
}

/// By how many seconds a replica's own clock, as its log tells it, differs from the database's.
async fn off_by(scene: &Scene, replica: &Leadhandd) -> Result<i64> {
    let log = replica.log_end();
    let stamp = log.split_whitespace().next().context("nothing was logged")?;
    let logged: jiff::Timestamp = stamp.parse().with_context(|| format!("the log begins with {stamp}"))?;
    Ok(logged.as_second() - database_clock(&scene.postgres).await?)
}

/// When the shop's facts were recorded, in seconds, in their order.
async fn recorded(edge: &Edge, lead: &str) -> Result<Vec<i64>> {
    let mut client = JournalServiceClient::new(edge.channel.clone());
    let (mut times, mut number) = (Vec::new(), 0);
    loop {
        let after = Some(v1::Cursor { number, fact_id: String::new() });
        let asked = v1::ReadJournalRequest { after, page_size: 1_000 };
        let page = client.read_journal(with_token(lead, asked)).await?.into_inner();
        let Some(last) = page.facts.last() else { return Ok(times) };
        number = last.number;
        for fact in &page.facts {
            times.push(fact.recorded_at.context("a fact without a time")?.seconds);
        }
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn facts_are_dated_and_ordered_by_the_database() {
    let Some(preload) = Preload::build().unwrap() else { return };
    let (mut scene, begun) = set_up(&preload).await.unwrap();
    for (replica, wanted) in scene.replicas.iter().zip([0, HOUR, -HOUR]) {
        let found = off_by(&scene, replica).await.unwrap();
        assert!((found - wanted).abs() < HOUR / 2, "a clock is off by {found} s, not by {wanted} s");
    }
    let after = storm(&mut scene, &Plan::quiet(61, 16, Duration::from_secs(2))).await.unwrap();
    let found = check(&after.history);
    report("clocks an hour off, either way", &after, &found);
    assert_eq!(found, []);
    let ended = database_clock(&scene.postgres).await.unwrap();
    let lead = &scene.shops[0].lead;
    for url in scene.urls() {
        let times = recorded(&Edge::to(&url).unwrap(), lead).await.unwrap();
        assert!(times.is_sorted(), "the facts are not dated in their order");
        let (first, last) = (times[0], *times.last().unwrap());
        assert!(begun <= first && last <= ended, "dated {first} to {last}, recorded {begun} to {ended}");
    }
    let (sound, said) = scene.verify().await.unwrap();
    assert!(sound, "{said}");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_token_ends_when_the_database_says_so_on_every_replica() {
    let Some(preload) = Preload::build().unwrap() else { return };
    let (scene, _) = set_up(&preload).await.unwrap();
    let lead = scene.shops[0].lead.clone();
    let edges: Vec<Edge> = scene.urls().iter().map(|url| Edge::to(url).unwrap()).collect();
    let mut random = StdRng::seed_from_u64(62);
    let mut issue = async |from_now: i64| {
        let seconds = database_clock(&scene.postgres).await?;
        let write = Some(v1::WriteContext { request_id: new_id(&mut random).to_string(), ..Default::default() });
        let expires_at = Some(prost_types::Timestamp { seconds: seconds + from_now, nanos: 0 });
        let rest = v1::IssueTokenRequest { label: "screen".into(), ..Default::default() };
        let asked = v1::IssueTokenRequest { write, role: v1::Role::Viewer.into(), expires_at, ..rest };
        edges[1].issue_token(&lead, asked).await
    };
    // Half an hour from now: over for the fast clock, an hour and a half away for the slow one.
    let valid = issue(HOUR / 2).await.unwrap();
    let brief = issue(2).await.unwrap();
    for edge in &edges {
        edge.on_hand(&valid, "gasket").await.unwrap();
    }
    let over =
        || async { (edges[0].on_hand(&brief, "gasket").await.err()?.code() == Code::Unauthenticated).then_some(()) };
    until(WITHIN, "the short token to end", over).await.unwrap();
    for edge in &edges {
        let refused = edge.on_hand(&brief, "gasket").await.unwrap_err();
        assert_eq!(refused.code(), Code::Unauthenticated, "{refused:?}");
    }
}
