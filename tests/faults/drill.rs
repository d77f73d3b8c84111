//! A backup taken while everybody writes, and the day on which it is needed: what was acknowledged before it is
//! there, every shop verifies, and whoever followed the history that is gone is told so.

use crate::checker::check;
use crate::edge::{Edge, reason};
use crate::history::Known;
use crate::postgres_killed::receive;
use crate::report::report;
use crate::scene::Scene;
use crate::shop::new_id;
use crate::storm::{Plan, storm_with};
use crate::waiting::until;
use anyhow::{Context, Result, ensure};
use kit::Leadhandd;
use kit::process::{leadhandd, program};
use leadhand_proto::v1;
use rand::SeedableRng;
use rand::rngs::StdRng;
use std::collections::BTreeMap;
use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;
use tempfile::TempDir;
use tonic::{Code, Status};

const WITHIN: Duration = Duration::from_secs(30);

/// A directory that the user of a private Postgres can pass.
fn place() -> TempDir {
    let dir = TempDir::with_prefix("leadhand-drill-").unwrap();
    fs::set_permissions(dir.path(), fs::Permissions::from_mode(0o711)).unwrap();
    dir
}

async fn run(args: &[&str]) -> Result<String> {
    let output = leadhandd(args).await?;
    let said = String::from_utf8_lossy(&[output.stdout, output.stderr].concat()).into_owned();
    ensure!(output.status.success(), "leadhandd {} failed: {said}", args.join(" "));
    Ok(said)
}

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

async fn heads(edge: &Edge, scene: &Scene) -> Result<Vec<i64>> {
    let mut heads = Vec::new();
    for shop in &scene.shops {
        heads.push(edge.head(&shop.lead).await?);
    }
    Ok(heads)
}

/// The last number of each shop in a backup, by what it says of itself.
fn numbers(backup: &Path) -> Result<Vec<i64>> {
    let said: serde_json::Value = serde_json::from_str(&fs::read_to_string(backup.join("backup.json"))?)?;
    let shops = said["shops"].as_array().context("no shops")?;
    let mut numbers: Vec<i64> = shops.iter().filter_map(|shop| shop["number"].as_i64()).collect();
    numbers.sort_unstable();
    Ok(numbers)
}

async fn refused(edge: &Edge, token: &str, number: i64, fact_id: String) -> Result<Status> {
    let cursor = v1::Cursor { number, fact_id };
    match edge.follow(token, cursor).await {
        Err(status) => Ok(status),
        Ok(mut stream) => Ok(stream.message().await.err().context("the cursor was accepted")?),
    }
}

/// Writes until the journal is as long as the one that is gone was.
async fn outgrow(edge: &Edge, lead: &str, number: i64) -> Result<()> {
    let mut random = StdRng::seed_from_u64(83);
    while edge.head(lead).await? <= number {
        receive(new_id(&mut random)).send(edge, lead, WITHIN).await.map_err(|status| anyhow::anyhow!("{status:?}"))?;
    }
    Ok(())
}

async fn is_told_that_it_is_gone(edge: &Edge, lead: &str, before: &[Known], kept: usize) -> Result<()> {
    let last = before.last().context("no facts")?;
    let gone = refused(edge, lead, last.number, last.fact_id.to_string()).await?;
    ensure!((gone.code(), reason(&gone).as_str()) == (Code::OutOfRange, "OUT_OF_RANGE"), "{gone:?}");
    outgrow(edge, lead, last.number).await?;
    let other = refused(edge, lead, last.number, last.fact_id.to_string()).await?;
    ensure!((other.code(), reason(&other).as_str()) == (Code::OutOfRange, "OUT_OF_RANGE"), "{other:?}");
    ensure!(other.message().starts_with("after.fact_id: "), "{other:?}");
    // Who stands in what both histories share goes on.
    let shared = before[kept - 1];
    let cursor = v1::Cursor { number: shared.number, fact_id: shared.fact_id.to_string() };
    let next = edge.follow(lead, cursor).await?.message().await?.context("nothing came")?;
    ensure!(next.facts.first().map(|fact| fact.number) == Some(shared.number + 1), "{next:?}");
    Ok(())
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_backup_taken_while_everybody_writes_holds_what_was_acknowledged_before_it() {
    let mut scene = Scene::set_up(2).await.unwrap();
    let place = place();
    let backup = place.path().join("backup");
    let owner = scene.postgres.owner_url();
    let (mut floor, mut ceiling) = (vec![], vec![]);
    let plan = Plan::quiet(81, 8, Duration::ZERO);
    let after = storm_with(&mut scene, &plan, async |scene, recorder| {
        let edge = scene.edge()?;
        let look = || async { (recorder.acknowledged() >= 200).then_some(()) };
        until(WITHIN, "writes before the backup", look).await?;
        floor = heads(&edge, scene).await?;
        run(&["backup", "--database-url", &scene.url, "--owner-url", &owner, "--into", text(&backup)]).await?;
        ceiling = heads(&edge, scene).await?;
        let before = recorder.acknowledged();
        let look = || async { (recorder.acknowledged() >= before + 200).then_some(()) };
        until(WITHIN, "writes after the backup", look).await
    });
    let after = after.await.unwrap();
    let found = check(&after.history);
    report("a backup while everybody writes", &after, &found);
    assert_eq!(found, []);

    let mut drill = Command::new(repository().join("deploy/drill"));
    let said = drill.arg(&backup).env("LEADHANDD", program().unwrap()).output().unwrap();
    assert!(said.status.success(), "{}", String::from_utf8_lossy(&said.stderr));
    assert!(String::from_utf8_lossy(&said.stderr).contains("passed"), "{said:?}");

    let data = place.path().join("data");
    let said = run(&["restore", "--from", text(&backup), "--data-dir", text(&data)]).await.unwrap();
    assert_eq!(said.matches("no fault").count(), 2, "{said}");
    let mut restored = Leadhandd::with_private_database(&data).unwrap();
    restored.start().await.unwrap();
    let edge = Edge::to(&restored.url()).unwrap();
    let mut kept = Vec::new();
    for (number, shop) in scene.shops.iter().enumerate() {
        let journal = edge.journal(&shop.lead).await.unwrap();
        let before = &after.history.journals[number];
        assert_eq!(journal[..], before[..journal.len()], "what is there is the beginning of what there was");
        let end = i64::try_from(journal.len()).unwrap();
        eprintln!("shop {number}: {end} facts are back, of those acknowledged before {}", floor[number]);
        assert!((floor[number]..=ceiling[number]).contains(&end), "{end} of {floor:?} to {ceiling:?}");
        kept.push(end);
        is_told_that_it_is_gone(&edge, &shop.lead, before, journal.len()).await.unwrap();
    }
    kept.sort_unstable();
    assert_eq!(kept, numbers(&backup).unwrap());
    assert!(restored.stop(WITHIN).await.unwrap().success());
    let said = run(&["verify", "--data-dir", text(&data)]).await.unwrap();
    assert_eq!(said.matches("no fault").count(), 2, "{said}");
}

fn repository() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

/// Every file of a directory.
fn files(dir: &Path) -> BTreeMap<String, String> {
    let read =
        |entry: fs::DirEntry| (entry.file_name().into_string().unwrap(), fs::read_to_string(entry.path()).unwrap());
    fs::read_dir(dir).unwrap().map(|entry| read(entry.unwrap())).collect()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_shop_that_moves_as_open_files_is_the_same_shop_elsewhere() {
    let mut scene = Scene::set_up(2).await.unwrap();
    let plan = Plan { replica_kills: 1, ..Plan::quiet(82, 6, Duration::from_secs(1)) };
    let after = crate::storm::storm(&mut scene, &plan).await.unwrap();
    assert_eq!(check(&after.history), []);
    let (edge, place) = (scene.edge().unwrap(), place());
    let lead = &scene.shops[1].lead;
    let shop = edge.shop(lead).await.unwrap();
    let (first, second, data) = (place.path().join("a"), place.path().join("b"), place.path().join("data"));
    let several = run(&["export", "--database-url", &scene.url, "--into", text(&first)]).await.unwrap_err();
    assert!(several.to_string().contains("say which one with --shop"), "{several}");
    run(&["export", "--database-url", &scene.url, "--shop", &shop, "--into", text(&first)]).await.unwrap();
    let said = run(&["import", "--from", text(&first), "--data-dir", text(&data)]).await.unwrap();
    assert_eq!(said.matches("no fault").count(), 1, "{said}");
    run(&["export", "--data-dir", text(&data), "--into", text(&second)]).await.unwrap();
    assert_eq!(files(&first), files(&second));

    // Its people come in with the tokens that they had, and go on where they were.
    let mut moved = Leadhandd::with_private_database(&data).unwrap();
    moved.start().await.unwrap();
    let there = Edge::to(&moved.url()).unwrap();
    assert_eq!(there.journal(lead).await.unwrap(), after.history.journals[1]);
    outgrow(&there, lead, after.history.journals[1].last().unwrap().number).await.unwrap();
    let neighbour = there.head(&scene.shops[0].lead).await.unwrap_err();
    assert_eq!(neighbour.code(), Code::Unauthenticated);
    let again = run(&["import", "--from", text(&first), "--data-dir", text(&data)]).await.unwrap_err();
    assert!(again.to_string().contains("is in this database already"), "{again}");
    assert!(moved.stop(WITHIN).await.unwrap().success());
    let said = run(&["verify", "--data-dir", text(&data)]).await.unwrap();
    assert_eq!(said.matches("no fault").count(), 1, "{said}");
}
