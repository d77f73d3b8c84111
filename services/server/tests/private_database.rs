//! The private database on real Postgres binaries. Figures and behaviour that the checks lean
//! on are those of Postgres' own documentation; where none is named, common practice.

use leadhand_server::private_database::{PrivateDatabase, PrivateError, PrivateSettings};
use std::os::unix::fs::{MetadataExt, PermissionsExt};
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// Names the data directory to the process that is started to be killed.
const HOLD: &str = "LEADHAND_TEST_HOLD";

/// A data directory of one test, whose Postgres does not outlive it.
struct Place(tempfile::TempDir);

impl Place {
    fn new() -> Self {
        let directory = tempfile::tempdir().expect("a temporary directory");
        std::fs::set_permissions(directory.path(), std::fs::Permissions::from_mode(0o755)).expect("its mode");
        Self(directory)
    }

    fn data(&self) -> PathBuf {
        self.0.path().join("data")
    }

    fn settings(&self) -> PrivateSettings {
        settings(self.data())
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        if let Some(pid) = postmaster(&self.data()) {
            signal(pid, "QUIT");
        }
    }
}

fn settings(data_dir: PathBuf) -> PrivateSettings {
    PrivateSettings { data_dir, postgres_bin: None, run_as: None }
}

/// The process that the cluster's lock file names.
fn postmaster(data: &Path) -> Option<i32> {
    let text = std::fs::read_to_string(data.join("postgres/postmaster.pid")).ok()?;
    text.lines().next()?.parse().ok()
}

fn signal(pid: i32, name: &str) {
    let status = Command::new("kill").arg(format!("-{name}")).arg(pid.to_string()).stderr(Stdio::null()).status();
    status.expect("kill is on every machine");
}

/// The newest psql of the machine.
fn psql() -> PathBuf {
    let mut found: Vec<PathBuf> = std::fs::read_dir("/usr/lib/postgresql")
        .into_iter()
        .flatten()
        .flatten()
        .map(|entry| entry.path().join("bin/psql"))
        .filter(|path| path.is_file())
        .collect();
    found.sort();
    found.pop().unwrap_or_else(|| PathBuf::from("psql"))
}

/// Runs SQL the way the server would log in; the error is psql's own.
fn ask(url: &str, sql: &str) -> Result<String, String> {
    let output = Command::new(psql()).args(["-X", "-A", "-t", "-q", "-v", "ON_ERROR_STOP=1", "-c", sql, url]).output();
    let output = output.expect("psql can be run");
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).trim().to_owned();
    if output.status.success() { Ok(text(&output.stdout)) } else { Err(text(&output.stderr)) }
}

/// Asks until there is an answer that pleases, for a minute at most.
async fn ask_until(url: &str, sql: &str, pleases: impl Fn(&Result<String, String>) -> bool) -> String {
    let begun = Instant::now();
    loop {
        let answer = ask(url, sql);
        if pleases(&answer) {
            return answer.expect("only answers please");
        }
        assert!(begun.elapsed() < Duration::from_mins(1), "no answer that pleases within a minute: {answer:?}");
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
}

fn write_rows(owner_url: &str) {
    ask(owner_url, "create table kept (n int); insert into kept select generate_series(1, 1000)")
        .expect("the owner may");
}

const COUNT_ROWS: &str = "select count(*), sum(n) from kept";
/// 1 + 2 + … + 1000.
const ALL_ROWS: &str = "1000|500500";

#[tokio::test(flavor = "multi_thread")]
async fn the_first_start_makes_roles_and_database_and_the_next_keeps_them() {
    let place = Place::new();
    let database = PrivateDatabase::start(&place.settings()).await.unwrap();
    let (owner, app) = (database.owner_url(), database.app_url());
    write_rows(&owner);
    let roles = "select rolname, rolsuper, rolbypassrls, rolcreatedb, rolcreaterole from pg_roles \
                 where rolname like 'leadhand%' order by 1";
    assert_eq!(ask(&app, roles).unwrap(), "leadhand_app|f|f|f|f\nleadhand_owner|f|f|f|f");
    assert_eq!(ask(&app, "select current_user").unwrap(), "leadhand_app");
    assert!(ask(&app, "create table mine (n int)").unwrap_err().contains("permission denied"));
    assert!(ask(&app, COUNT_ROWS).unwrap_err().contains("permission denied"));
    database.stop().await.unwrap();
    assert_eq!(postmaster(&place.data()), None);

    let again = PrivateDatabase::start(&place.settings()).await.unwrap();
    assert_eq!(ask(&again.owner_url(), COUNT_ROWS).unwrap(), ALL_ROWS);
    again.stop().await.unwrap();
}

// Postgres documentation, "20.5 Write Ahead Log" and "20.3.1 Connection Settings".
#[tokio::test(flavor = "multi_thread")]
async fn it_is_durable_whatever_its_files_say_and_closed_to_the_network() {
    let place = Place::new();
    let first = PrivateDatabase::start(&place.settings()).await.unwrap();
    first.stop().await.unwrap();
    let cluster = place.data().join("postgres");
    let weakened = "fsync = off\nsynchronous_commit = off\nfull_page_writes = off\nlisten_addresses = '*'\n";
    let own = std::fs::read_to_string(cluster.join("postgresql.conf")).unwrap();
    std::fs::write(cluster.join("postgresql.conf"), own + weakened).unwrap();

    let database = PrivateDatabase::start(&place.settings()).await.unwrap();
    let shown = |name: &str| ask(&database.app_url(), &format!("show {name}")).unwrap();
    for name in ["fsync", "synchronous_commit", "full_page_writes", "data_checksums"] {
        assert_eq!(shown(name), "on", "{name}");
    }
    assert_eq!(shown("listen_addresses"), "");
    for private in [cluster.as_path(), database.sockets()] {
        let mode = private.metadata().unwrap().permissions().mode() & 0o777;
        assert_eq!(mode, 0o700, "{}", private.display());
    }
    database.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_postgres_that_is_killed_comes_back_with_its_rows() {
    let place = Place::new();
    let database = PrivateDatabase::start(&place.settings()).await.unwrap();
    write_rows(&database.owner_url());
    for _ in 0..2 {
        let killed = postmaster(&place.data()).unwrap();
        signal(killed, "KILL");
        // Only the new one may answer: the lock file names it.
        let another = |_: &Result<String, String>| postmaster(&place.data()).is_some_and(|pid| pid != killed);
        let url = database.owner_url();
        let rows = ask_until(&url, COUNT_ROWS, |answer| another(answer) && answer.is_ok()).await;
        assert_eq!(rows, ALL_ROWS);
    }
    database.stop().await.unwrap();
    assert_eq!(postmaster(&place.data()), None);
}

#[test]
fn an_orphan_is_adopted_and_then_watched_and_ended_like_any_other() {
    let place = Place::new();
    let settings = place.settings();
    // A runtime that goes takes the supervisor with it, without a stop.
    let gone = tokio::runtime::Runtime::new().unwrap();
    let owner = gone.block_on(async {
        let database = PrivateDatabase::start(&settings).await.unwrap();
        write_rows(&database.owner_url());
        database.owner_url()
    });
    drop(gone);
    let orphan = postmaster(&place.data()).unwrap();
    assert_eq!(ask(&owner, COUNT_ROWS).unwrap(), ALL_ROWS, "the orphan lives");

    tokio::runtime::Runtime::new().unwrap().block_on(async {
        let database = PrivateDatabase::start(&settings).await.unwrap();
        assert_eq!(postmaster(&place.data()), Some(orphan), "adopted, not started again");
        signal(orphan, "KILL");
        let another = |answer: &Result<String, String>| {
            answer.is_ok() && postmaster(&place.data()).is_some_and(|pid| pid != orphan)
        };
        assert_eq!(ask_until(&database.owner_url(), COUNT_ROWS, another).await, ALL_ROWS);
        database.stop().await.unwrap();
    });
    assert_eq!(postmaster(&place.data()), None);
}

/// Not a check: the process that the next test starts in order to kill it.
#[tokio::test(flavor = "multi_thread")]
#[ignore = "started by another test, to be killed"]
async fn hold_the_database() {
    let data = std::env::var(HOLD).expect("the other test says where");
    let database = PrivateDatabase::start(&settings(data.into())).await.unwrap();
    std::future::pending::<()>().await;
    drop(database);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_server_that_is_killed_leaves_a_database_that_the_next_one_takes_over() {
    let place = Place::new();
    let mut server = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "hold_the_database", "--ignored"])
        .env(HOLD, place.data())
        .stdout(Stdio::null())
        .spawn()
        .unwrap();
    // The other process holds the lock or will: whoever comes first, the database is up then.
    while postmaster(&place.data()).is_none() {
        assert!(server.try_wait().unwrap().is_none(), "the holder ended");
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
    let beside = PrivateDatabase::borrow_or_start(&place.settings()).await.unwrap();
    assert!(beside.is_borrowed());
    write_rows(&beside.owner_url());
    let refusal = PrivateDatabase::start(&place.settings()).await.unwrap_err();
    let holder = i32::try_from(server.id()).unwrap();
    assert!(matches!(refusal, PrivateError::InUse { pid: Some(pid), .. } if pid == holder), "{refusal}");
    beside.stop().await.unwrap();

    let orphan = postmaster(&place.data()).unwrap();
    server.kill().unwrap();
    server.wait().unwrap();
    let next = PrivateDatabase::start(&place.settings()).await.unwrap();
    assert_eq!(postmaster(&place.data()), Some(orphan));
    assert_eq!(ask(&next.owner_url(), COUNT_ROWS).unwrap(), ALL_ROWS);
    next.stop().await.unwrap();
    assert_eq!(postmaster(&place.data()), None);
}

// A zombie answers to kill(pid, 0), and Postgres takes its lock for a live server's.
#[tokio::test(flavor = "multi_thread")]
async fn a_lock_file_that_names_a_zombie_or_a_stranger_is_cleared() {
    let place = Place::new();
    let first = PrivateDatabase::start(&place.settings()).await.unwrap();
    write_rows(&first.owner_url());
    let (path, sockets) = (place.data().join("postgres/postmaster.pid"), first.sockets().to_path_buf());
    let lock = std::fs::read_to_string(&path).unwrap();
    first.stop().await.unwrap();

    // Postgres gives way only to processes of its own user, so both belong to it.
    let user = place.data().join("postgres").metadata().unwrap().uid();
    let spawn = |program: &str, argument: &str| Command::new(program).arg(argument).uid(user).spawn().unwrap();
    let mut zombie = spawn("true", "");
    let mut stranger = spawn("sleep", "600");
    while !std::fs::read_to_string(format!("/proc/{}/stat", zombie.id())).unwrap().contains(") Z ") {
        tokio::time::sleep(Duration::from_millis(5)).await;
    }
    for pid in [zombie.id(), stranger.id()] {
        let old = postmaster_lock(&lock, pid);
        std::fs::write(&path, &old).unwrap();
        std::fs::write(sockets.join(".s.PGSQL.5432.lock"), &old).unwrap();
        let started = PrivateDatabase::start(&place.settings()).await;
        let database = started.unwrap_or_else(|fault| {
            signal(i32::try_from(stranger.id()).unwrap(), "KILL");
            panic!("{fault}")
        });
        assert_eq!(ask(&database.owner_url(), COUNT_ROWS).unwrap(), ALL_ROWS);
        database.stop().await.unwrap();
    }
    zombie.wait().unwrap();
    stranger.kill().unwrap();
    stranger.wait().unwrap();
}

/// The same lock file in another process' name.
fn postmaster_lock(text: &str, pid: u32) -> String {
    let rest: Vec<&str> = text.lines().skip(1).collect();
    format!("{pid}\n{}\n", rest.join("\n"))
}

#[tokio::test(flavor = "multi_thread")]
async fn data_of_another_version_are_refused_and_left_alone() {
    let place = Place::new();
    PrivateDatabase::start(&place.settings()).await.unwrap().stop().await.unwrap();
    let version = place.data().join("postgres/PG_VERSION");
    let own = std::fs::read_to_string(&version).unwrap();
    std::fs::write(&version, "9\n").unwrap();
    let refusal = PrivateDatabase::start(&place.settings()).await.unwrap_err().to_string();
    assert!(refusal.contains("written by Postgres 9") && refusal.contains("leadhandd upgrade-database"), "{refusal}");
    assert_eq!(postmaster(&place.data()), None);

    std::fs::write(&version, own).unwrap();
    PrivateDatabase::start(&place.settings()).await.unwrap().stop().await.unwrap();
}

// unix(7): a socket's path has at most 107 bytes and a closing zero.
#[tokio::test(flavor = "multi_thread")]
async fn a_data_directory_that_is_too_deep_for_a_socket_still_works() {
    let place = Place::new();
    let deep = settings(place.data().join("d".repeat(60)).join("e".repeat(60)));
    let database = PrivateDatabase::start(&deep).await.unwrap();
    assert!(!database.sockets().starts_with(&deep.data_dir), "{}", database.sockets().display());
    assert_eq!(ask(&database.app_url(), "select 1").unwrap(), "1");
    let sockets = database.sockets().to_path_buf();
    database.stop().await.unwrap();
    let again = PrivateDatabase::start(&deep).await.unwrap();
    assert_eq!(again.sockets(), sockets, "every start finds the same directory");
    again.stop().await.unwrap();
    std::fs::remove_dir_all(sockets).unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn binaries_that_are_named_and_missing_are_refused() {
    let place = Place::new();
    let named = PrivateSettings { postgres_bin: Some("/nowhere/bin".into()), ..place.settings() };
    let refusal = PrivateDatabase::start(&named).await.unwrap_err();
    assert!(matches!(refusal, PrivateError::BadBinaries { .. }), "{refusal}");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_user_that_does_not_exist_is_refused() {
    let place = Place::new();
    let named = PrivateSettings { run_as: Some("nobody-of-this-name".to_owned()), ..place.settings() };
    let refusal = PrivateDatabase::start(&named).await.unwrap_err();
    let expected = matches!(refusal, PrivateError::NoSuchUser { .. } | PrivateError::CannotChangeUser { .. });
    assert!(expected, "{refusal}");
    assert!(!place.data().exists(), "nothing was made");
}
