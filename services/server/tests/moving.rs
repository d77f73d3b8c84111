//! Backups, exports and the move to another Postgres, where they go wrong: what is refused is refused before
//! anything was made, and what is broken off leaves what was there.

#![allow(clippy::unwrap_used, reason = "a test that can't go on says where")]

mod place;

use leadhand_server::backup::{backup, restore};
use leadhand_server::cli::{ExportArgs, VerifyArgs};
use leadhand_server::configuration::{Configuration, Database};
use leadhand_server::private_database::Held;
use leadhand_server::{commands, transfer, upgrade};
use place::{Place, open_shop, start};
use std::fs;
use std::path::{Path, PathBuf};

/// The binaries of another major version of Postgres, with the contrib module btree_gist, where somebody has them.
const SECOND: &str = "LEADHAND_TEST_SECOND_POSTGRES";

/// A place with a shop, nobody serving.
async fn with_shop() -> Place {
    let place = Place::new();
    open_shop(&place).await;
    place
}

/// The same server with its data elsewhere.
fn elsewhere(place: &Place, name: &str) -> Configuration {
    let mut configuration = place.configuration();
    if let Database::Private(settings) = &mut configuration.database {
        settings.data_dir = place.path().join(name);
    }
    configuration
}

/// What a command says at its end, whichever it is.
fn said<T: std::fmt::Debug>(done: anyhow::Result<T>, out: Vec<u8>) -> String {
    match done {
        Ok(value) => format!("{value:?}: {}", String::from_utf8(out).unwrap()),
        Err(error) => format!("refused: {error:#}"),
    }
}

async fn back_up(configuration: &Configuration, into: &Path) -> String {
    let mut out = Vec::new();
    said(backup(configuration, into, &mut out).await, out)
}

async fn put_back(configuration: &Configuration, from: &Path) -> String {
    let mut out = Vec::new();
    said(restore(configuration, from, &mut out).await, out)
}

async fn export(configuration: &Configuration, into: PathBuf) -> String {
    let mut out = Vec::new();
    said(transfer::export(configuration, &ExportArgs { shop: None, into }, &mut out).await, out)
}

async fn import(configuration: &Configuration, from: &Path) -> String {
    let mut out = Vec::new();
    said(transfer::import(configuration, from, &mut out).await, out)
}

async fn verify(configuration: &Configuration) -> String {
    let mut out = Vec::new();
    said(commands::verify(configuration, &VerifyArgs { shop: None }, &mut out).await, out)
}

#[tokio::test(flavor = "multi_thread")]
async fn a_backup_is_made_beside_a_server_and_never_over_another_one() {
    let place = with_shop().await;
    let running = start(&place.configuration()).await;
    let postmaster = place.postmaster();
    let into = place.path().join("monday");
    let made = back_up(&place.configuration(), &into).await;
    assert!(made.starts_with("(): backup of 1 shop(s) as of "), "{made}");
    assert_eq!(place.postmaster(), postmaster, "the server's database goes on");
    let again = back_up(&place.configuration(), &into).await;
    assert!(again.contains("exists already; name a directory that is not there yet"), "{again}");
    running.stop().await.unwrap();
    let nowhere = back_up(&elsewhere(&place, "nothing"), &place.path().join("tuesday")).await;
    assert!(nowhere.starts_with("refused: there is no database under "), "{nowhere}");
    assert!(!place.path().join("tuesday").exists() && !place.path().join("nothing").exists());
}

#[tokio::test(flavor = "multi_thread")]
async fn a_damaged_backup_is_refused_before_a_database_is_made() {
    let place = with_shop().await;
    let good = place.path().join("good");
    back_up(&place.configuration(), &good).await;
    let dump = fs::read(good.join("database.dump")).unwrap();
    let manifest = fs::read_to_string(good.join("backup.json")).unwrap();
    let mut flipped = dump.clone();
    flipped[dump.len() / 2] ^= 1;
    let schema = manifest.lines().find(|line| line.contains("\"schema\"")).unwrap();
    let newer = manifest.replace(schema, "  \"schema\": 99991231235959,");
    for (dump, manifest, complaint) in [
        (Some(flipped), manifest.as_str(), "is damaged: it has"),
        (Some(dump[..dump.len() - 1].to_vec()), manifest.as_str(), "is damaged: it has"),
        (None, manifest.as_str(), "database.dump can't be read"),
        (Some(dump.clone()), "{", "is damaged, or of a newer leadhandd"),
        (Some(dump.clone()), newer.as_str(), "which is newer than this one; restore it with that version"),
    ] {
        let bad = tempfile::tempdir_in(place.path()).unwrap();
        fs::write(bad.path().join("backup.json"), manifest).unwrap();
        if let Some(dump) = dump {
            fs::write(bad.path().join("database.dump"), dump).unwrap();
        }
        let refused = put_back(&elsewhere(&place, "fresh"), bad.path()).await;
        assert!(refused.starts_with("refused: ") && refused.contains(complaint), "{refused}");
        assert!(!place.path().join("fresh").exists());
    }
    let used = put_back(&place.configuration(), &good).await;
    assert!(used.contains("holds tables already, and nothing is written over"), "{used}");
    let restored = put_back(&elsewhere(&place, "fresh"), &good).await;
    assert!(restored.starts_with("true: ") && restored.contains("revoke again the tokens"), "{restored}");
}

/// A dump that is whole, with a manifest that says more: as if facts had been lost on the way.
#[tokio::test(flavor = "multi_thread")]
async fn a_restore_that_lacks_facts_is_called_unsound() {
    let place = with_shop().await;
    let backup = place.path().join("backup");
    back_up(&place.configuration(), &backup).await;
    let path = backup.join("backup.json");
    let manifest = fs::read_to_string(&path).unwrap();
    let number = manifest.lines().find(|line| line.contains("\"number\"")).unwrap();
    fs::write(&path, manifest.replace(number, "      \"number\": 7777,")).unwrap();
    let restored = put_back(&elsewhere(&place, "fresh"), &backup).await;
    assert!(restored.starts_with("false: ") && restored.contains("and should end at 7777"), "{restored}");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_damaged_export_is_refused_and_leaves_no_shop() {
    let place = with_shop().await;
    let good = place.path().join("good");
    export(&place.configuration(), good.clone()).await;
    let read = |name: &str| fs::read_to_string(good.join(name)).unwrap();
    let (shop, journal, texts) = (read("shop.json"), read("journal.jsonl"), read("texts.jsonl"));
    let lines: Vec<&str> = journal.lines().collect();
    let without_second = [lines[0], lines[2]].join("\n") + "\n";
    let unknown = journal.replace("person_added", "person_adored");
    for (journal, texts, complaint) in [
        (lines[..2].join("\n"), texts.clone(), "it does not hold the 3 facts"),
        (journal.clone(), String::new(), "it does not hold the 3 facts"),
        (without_second.clone() + lines[2], texts.clone(), "this is not a shop's journal"),
        (unknown, texts.clone(), "line 2 of "),
        (journal.replacen('{', "[", 1), texts.clone(), "line 1 of "),
    ] {
        let bad = tempfile::tempdir_in(place.path()).unwrap();
        fs::write(bad.path().join("shop.json"), &shop).unwrap();
        fs::write(bad.path().join("journal.jsonl"), journal).unwrap();
        fs::write(bad.path().join("texts.jsonl"), texts).unwrap();
        let refused = import(&elsewhere(&place, "fresh"), bad.path()).await;
        assert!(refused.starts_with("refused: ") && refused.contains(complaint), "{refused}");
    }
    let found = verify(&elsewhere(&place, "fresh")).await;
    assert!(found.contains("there is no shop in this database"), "{found}");
    let taken = import(&elsewhere(&place, "fresh"), &good).await;
    assert!(taken.starts_with("true: ") && taken.contains("3 facts"), "{taken}");
}

/// Words that were put into the files by hand don't pass for those that the facts speak of.
#[tokio::test(flavor = "multi_thread")]
async fn an_export_with_other_words_is_refused_and_leaves_no_shop() {
    let place = with_shop().await;
    let changed = place.path().join("changed");
    export(&place.configuration(), changed.clone()).await;
    let path = changed.join("texts.jsonl");
    let texts = fs::read_to_string(&path).unwrap();
    assert!(texts.contains("Wren"));
    fs::write(&path, texts.replace("Wren", "Crow")).unwrap();
    let taken = import(&elsewhere(&place, "fresh"), &changed).await;
    assert!(taken.starts_with("refused: nothing was taken in: this is not a sound shop"), "{taken}");
    let doubled = texts.lines().chain(texts.lines()).collect::<Vec<_>>().join("\n");
    fs::write(&path, doubled).unwrap();
    let shop = fs::read_to_string(changed.join("shop.json")).unwrap();
    let twice = shop.replace("\"texts\": 2", "\"texts\": 4");
    assert_ne!(shop, twice);
    fs::write(changed.join("shop.json"), twice).unwrap();
    let taken = import(&elsewhere(&place, "fresh"), &changed).await;
    assert!(taken.contains("line 3 of ") && taken.contains("is there twice"), "{taken}");
    let found = verify(&elsewhere(&place, "fresh")).await;
    assert!(found.contains("there is no shop in this database"), "{found}");
}

/// A token is looked up before a shop is known, so it must not lead to two.
#[tokio::test(flavor = "multi_thread")]
async fn a_shop_does_not_come_in_under_another_id_while_its_tokens_are_in_use() {
    let place = with_shop().await;
    let copy = place.path().join("copy");
    export(&place.configuration(), copy.clone()).await;
    let said = fs::read_to_string(copy.join("shop.json")).unwrap();
    let shop = said.lines().find(|line| line.contains("\"shop\"")).unwrap();
    let other = "  \"shop\": \"11111111-1111-4111-8111-111111111111\",";
    fs::write(copy.join("shop.json"), said.replace(shop, other)).unwrap();
    let taken = import(&place.configuration(), &copy).await;
    assert!(taken.contains("1 of its tokens are in use in this database already"), "{taken}");
    let found = verify(&place.configuration()).await;
    assert_eq!(found.matches("no fault").count(), 1, "{found}");
    assert!(!found.contains("11111111"), "{found}");
    let elsewhere = import(&elsewhere(&place, "fresh"), &copy).await;
    assert!(elsewhere.starts_with("true: "), "{elsewhere}");
}

/// Time in a journal never goes back: after a fact of the year 9000 nothing could be dated.
#[tokio::test(flavor = "multi_thread")]
async fn a_shop_from_the_future_is_not_taken_in() {
    let place = with_shop().await;
    let copy = place.path().join("copy");
    export(&place.configuration(), copy.clone()).await;
    let journal = fs::read_to_string(copy.join("journal.jsonl")).unwrap();
    let mut lines: Vec<serde_json::Value> = journal.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    lines.last_mut().unwrap()["recorded_at"] = "9000-01-01T00:00:00Z".into();
    let journal: Vec<String> = lines.iter().map(ToString::to_string).collect();
    fs::write(copy.join("journal.jsonl"), journal.join("\n")).unwrap();
    let taken = import(&elsewhere(&place, "fresh"), &copy).await;
    assert!(taken.contains("which has not come yet here"), "{taken}");
}

/// The binaries that this machine's databases run on.
async fn same_binaries(held: &Held) -> PathBuf {
    held.newest().await.unwrap().0
}

fn settings(configuration: &Configuration) -> leadhand_server::private_database::PrivateSettings {
    match &configuration.database {
        Database::Private(settings) => settings.clone(),
        Database::Given(_) => panic!("the place has a private database"),
    }
}

/// All of a move but the difference of versions, which needs two of them: see below.
#[tokio::test(flavor = "multi_thread")]
async fn a_database_moves_into_a_new_cluster_and_the_old_one_is_kept() {
    let place = with_shop().await;
    let configuration = place.configuration();
    let running = start(&configuration).await;
    let mut out = Vec::new();
    let busy = upgrade::upgrade(&configuration, &mut out).await.unwrap_err().to_string();
    assert!(busy.contains("another leadhandd"), "{busy}");
    running.stop().await.unwrap();
    let before = verify(&configuration).await;

    let held = Held::take(&settings(&configuration)).unwrap();
    let version = held.written_by().to_owned();
    let binaries = same_binaries(&held).await;
    // What an earlier try that was killed has left is in nobody's way.
    fs::create_dir_all(place.path().join("data/upgrade/postgres")).unwrap();
    upgrade::move_to(&configuration, &held, &binaries, &mut out).await.unwrap();
    drop(held);
    let kept = place.path().join(format!("data/postgres-{version}"));
    assert!(String::from_utf8(out).unwrap().contains(&format!("kept in {}", kept.display())));
    assert!(kept.join("PG_VERSION").exists() && !place.path().join("data/upgrade").exists());
    assert_eq!(verify(&configuration).await, before);
    assert!(before.contains("3 facts") && before.contains("no fault"), "{before}");
    start(&configuration).await.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_move_that_fails_leaves_the_old_database_as_it_was() {
    let place = with_shop().await;
    let configuration = place.configuration();
    let before = verify(&configuration).await;
    let held = Held::take(&settings(&configuration)).unwrap();
    let empty = place.path().join("no-binaries");
    fs::create_dir(&empty).unwrap();
    let failed = upgrade::move_to(&configuration, &held, &empty, &mut Vec::new()).await.unwrap_err();
    assert!(failed.to_string().contains("there are no pg_dump and pg_restore in"), "{failed:#}");
    drop(held);
    assert_eq!(verify(&configuration).await, before);
    let left: Vec<_> =
        fs::read_dir(place.path().join("data")).unwrap().map(|entry| entry.unwrap().file_name()).collect();
    assert!(!left.iter().any(|name| name.to_string_lossy().starts_with("upgrade")), "{left:?}");
}

/// Killed after the exchange and before the old one got its name.
#[tokio::test(flavor = "multi_thread")]
async fn a_move_that_was_killed_in_its_last_step_is_finished_by_the_next_try() {
    let place = with_shop().await;
    let configuration = place.configuration();
    let beside = place.path().join("data/upgrade/postgres");
    fs::create_dir_all(&beside).unwrap();
    fs::write(beside.join("PG_VERSION"), "14\n").unwrap();
    let mut out = Vec::new();
    upgrade::upgrade(&configuration, &mut out).await.unwrap();
    let out = String::from_utf8(out).unwrap();
    assert!(out.contains("an earlier upgrade was finished; the old database is kept in "), "{out}");
    assert!(out.contains("no newer one is installed: nothing to do"), "{out}");
    assert!(place.path().join("data/postgres-14/PG_VERSION").exists());
    assert!(!place.path().join("data/upgrade").exists());
    assert!(verify(&configuration).await.contains("no fault"));
}

#[tokio::test(flavor = "multi_thread")]
async fn a_database_moves_to_another_major_version() {
    let Ok(second) = std::env::var(SECOND) else {
        eprintln!("not tried: {SECOND} names no binaries of a second major version");
        return;
    };
    let place = with_shop().await;
    let before = verify(&place.configuration()).await;
    let mut configuration = place.configuration();
    if let Database::Private(settings) = &mut configuration.database {
        settings.postgres_bin = Some(second.into());
    }
    let refused = verify(&configuration).await;
    assert!(refused.contains("leadhandd upgrade-database"), "{refused}");
    let mut out = Vec::new();
    upgrade::upgrade(&configuration, &mut out).await.unwrap();
    assert_eq!(verify(&configuration).await, before);
    start(&configuration).await.stop().await.unwrap();
    let back = upgrade::upgrade(&place.configuration(), &mut out).await.unwrap_err().to_string();
    assert!(back.contains("there is no way back to an older version"), "{back}");
}
