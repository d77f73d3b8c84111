//! Bare SQL: what one reservation needs, by pgbench, in a transaction of its own.

use crate::figures::Round;
use kit::OwnServer;
use sqlx::{Connection, Executor, PgConnection};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;

/// Items, as many as the shop's reservations are spread over.
pub const ITEMS: u32 = 16;

/// The tables that a reservation touches, without anything else of the product: a head, facts, requests, balances.
const TABLES: &str = "
    CREATE SCHEMA bare;
    CREATE TABLE bare.head (shop int PRIMARY KEY, n bigint NOT NULL);
    CREATE TABLE bare.fact (shop int, n bigint, id uuid NOT NULL, at timestamptz NOT NULL, body jsonb NOT NULL,
        PRIMARY KEY (shop, n));
    CREATE TABLE bare.request (shop int, id uuid, n bigint NOT NULL, PRIMARY KEY (shop, id));
    CREATE TABLE bare.balance (shop int, item int, on_hand bigint NOT NULL, reserved bigint NOT NULL,
        PRIMARY KEY (shop, item), CHECK (on_hand >= reserved AND reserved >= 0));
    INSERT INTO bare.head SELECT shop, 0 FROM generate_series(1, 100) shop;
    INSERT INTO bare.balance SELECT shop, item, 1000000000, 0
        FROM generate_series(1, 100) shop, generate_series(1, 16) item;";

/// The fact is as long as the product's own.
const SCRIPT: &str = "\\set item random(1, 16)
BEGIN;
UPDATE bare.head SET n = n + 1 WHERE shop = SHOP RETURNING n \\gset
INSERT INTO bare.fact VALUES (SHOP, :n, gen_random_uuid(), clock_timestamp(), '{\"kind\":\"reserved\",\"version\":1,\
\"job\":1234,\"stage\":\"strip-intake\",\"step\":3,\"item\":\"hg-bolts-20\",\"place\":\"bin-a1\",\"quantity\":1,\
\"by\":\"0190f6f2-6a6e-7c4e-9d2b-5a3a0b1c2d3e\"}');
INSERT INTO bare.request VALUES (SHOP, gen_random_uuid(), :n);
UPDATE bare.balance SET reserved = reserved + 1 WHERE shop = SHOP AND item = :item AND on_hand > reserved;
COMMIT;
";

/// The newest Postgres programs of this machine.
fn programs() -> PathBuf {
    let mut found: Vec<PathBuf> = std::fs::read_dir("/usr/lib/postgresql")
        .unwrap()
        .filter_map(|entry| Some(entry.ok()?.path().join("bin")))
        .filter(|bin| bin.join("pgbench").exists())
        .collect();
    found.sort();
    found.pop().unwrap()
}

/// What `psql` and `pgbench` connect to, as whoever may do everything there.
pub fn program(name: &str) -> Command {
    Command::new(programs().join(name))
}

/// The server's version.
pub fn version(server: &OwnServer) -> String {
    let told = program("psql").args(["-XAtc", "show server_version", &server.superuser_url()]).output().unwrap();
    String::from_utf8_lossy(&told.stdout).trim().to_owned()
}

/// Makes the tables.
pub async fn prepare(server: &OwnServer) {
    let mut connection = PgConnection::connect(&server.superuser_url()).await.unwrap();
    connection.execute(TABLES).await.unwrap();
}

/// So many clients reserve, one transaction each, for so long; in one shop, or each in any of a hundred.
pub fn run(server: &OwnServer, clients: usize, seconds: u64, shops: u32) -> Round {
    let dir = tempfile::tempdir().unwrap();
    let script = dir.path().join("reserve.sql");
    let shop = if shops == 1 { "1".to_owned() } else { ":shop".to_owned() };
    let choose = if shops == 1 { String::new() } else { format!("\\set shop random(1, {shops})\n") };
    std::fs::write(&script, choose + &SCRIPT.replace("SHOP", &shop)).unwrap();
    let output = program("pgbench")
        .current_dir(dir.path())
        .args(["--no-vacuum", "--protocol=prepared", "--log", "--log-prefix=one"])
        .args(["--client", &clients.to_string(), "--jobs", "2", "--time", &seconds.to_string()])
        .arg("--file")
        .arg(&script)
        .arg(server.superuser_url())
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    Round::of(latencies(dir.path()), Duration::from_secs(seconds))
}

/// Milliseconds of every transaction: the third column of pgbench's logs is microseconds (its manual, "Per-Transaction
/// Logging").
fn latencies(dir: &Path) -> Vec<f64> {
    let logs = std::fs::read_dir(dir).unwrap().map(|entry| entry.unwrap().path());
    let logs = logs.filter(|path| path.file_name().is_some_and(|name| name.to_string_lossy().starts_with("one")));
    let text: Vec<String> = logs.map(|path| std::fs::read_to_string(path).unwrap()).collect();
    let columns = text.iter().flat_map(|text| text.lines()).filter_map(|line| line.split(' ').nth(2));
    columns.filter_map(|micros| micros.parse::<f64>().ok()).map(|micros| micros / 1000.0).collect()
}
