//! Clients in another language: what the README shows is run as it stands there, and a generic client finds everything by
//! reflection. Outside sources: grpcio, grpcio-tools and grpcio-reflection, the gRPC project's own packages for Python.
//!
//! `LEADHAND_CLIENT_PYTHON` names a python3 that has what `tests/reference/requirements-clients.txt` names (deploy/check makes
//! one). Without it the tests say so and are skipped, unless `LEADHAND_TEST_PYTHON=required`.

use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

use kit::{Leadhandd, TestDatabase, fresh_database, process};
use leadhand_sdk::v1::{AddBayRequest, Bay, BayKind};
use leadhand_sdk::{Client, Endpoint, new_write};

const PYTHON: &str = "LEADHAND_CLIENT_PYTHON";

fn python() -> Option<PathBuf> {
    if let Some(named) = std::env::var_os(PYTHON) {
        return Some(named.into());
    }
    let required = std::env::var("LEADHAND_TEST_PYTHON").is_ok_and(|said| said == "required");
    assert!(!required, "{PYTHON} names no python3 with grpcio, grpcio-tools and grpcio-reflection");
    eprintln!(
        "skipped: {PYTHON} names no python3 with grpcio, grpcio-tools and grpcio-reflection (deploy/check makes one)"
    );
    None
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap()
}

/// The first block of this language behind a heading of the README, as it stands there.
fn shown(heading: &str, language: &str) -> String {
    let text = std::fs::read_to_string(root().join("README.md")).unwrap();
    let (_, section) = text.split_once(heading).unwrap();
    let (_, rest) = section.split_once(&format!("```{language}\n")).unwrap();
    rest.split_once("```").unwrap().0.to_owned()
}

struct Served {
    server: Leadhandd,
    lead: Client,
    dir: tempfile::TempDir,
    _database: TestDatabase,
}

impl Served {
    async fn begin() -> Self {
        let database = fresh_database().await;
        let mut server = Leadhandd::over(&database.app_url()).unwrap();
        server.start().await.unwrap();
        let token = process::open_shop(&database.app_url(), "Yard").await.unwrap();
        let dir = tempfile::tempdir().unwrap();
        std::fs::write(dir.path().join("lead.token"), &token).unwrap();
        let lead = Client::connect(Endpoint::new(server.url()).token(token)).unwrap();
        let served = Self { server, lead, dir, _database: database };
        served.add("lift-1").await;
        served
    }

    async fn add(&self, bay: &str) {
        let bay = Bay { bay: bay.into(), name: "A bay".into(), kind: BayKind::Floor.into(), rated_kg: 0 };
        self.lead.add_bay(AddBayRequest { write: Some(new_write()), bay: Some(bay) }).await.unwrap();
    }

    fn address(&self) -> String {
        self.server.url().trim_start_matches("http://").to_owned()
    }

    fn token_file(&self) -> PathBuf {
        self.dir.path().join("lead.token")
    }
}

/// Ends the program with the test, also with one that fails.
struct Running(Child);

impl Drop for Running {
    fn drop(&mut self) {
        self.0.kill().ok();
        self.0.wait().ok();
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn the_client_in_the_readme_watches_the_board() {
    const HEADING: &str = "## From another language";
    let Some(python) = python() else { return };
    let served = Served::begin().await;
    let made = served.dir.path();
    // The README says python3 and starts where the contract is.
    let generate = shown(HEADING, "sh").replace("python3 ", &format!("'{}' ", python.display()));
    let generate: String = generate.lines().filter(|line| !line.contains("pip install")).collect::<Vec<_>>().join("\n");
    let done = Command::new("sh").arg("-euc").arg(generate).current_dir(root()).env("OUT", made).output().unwrap();
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    let program = shown(HEADING, "python");
    let lines = program.lines().filter(|line| !line.trim().is_empty()).count();
    assert!(lines <= 10, "the client has {lines} lines");
    std::fs::write(made.join("watch.py"), program).unwrap();
    let mut watching = Command::new(&python);
    watching.arg("watch.py").current_dir(made);
    watching.env("LEADHAND_SERVER", served.server.url()).env("LEADHAND_TOKEN_FILE", served.token_file());
    let mut watching = Running(watching.stdout(Stdio::piped()).spawn().unwrap());
    let mut told = BufReader::new(watching.0.stdout.take().unwrap()).lines();
    assert_eq!(told.next().unwrap().unwrap(), "lift-1 free");
    // What is added while it watches comes by itself.
    served.add("pit-2").await;
    let next = tokio::task::spawn_blocking(move || told.next().unwrap().unwrap()).await.unwrap();
    assert_eq!(next, "pit-2 free");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_generic_client_finds_everything_by_reflection() {
    let Some(python) = python() else { return };
    let served = Served::begin().await;
    let program = root().join("tests/reference/generic_client.py");
    let mut command = Command::new(python);
    command.arg("-B").arg(program).arg(served.address()).arg(served.token_file());
    let output = tokio::task::spawn_blocking(move || command.output()).await.unwrap().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let told = String::from_utf8(output.stdout).unwrap();
    let told: Vec<&str> = told.lines().collect();
    for service in ["grpc.health.v1.Health", "leadhand.v1.BoardService", "leadhand.v1.StockService"] {
        assert!(told.contains(&service), "{service} is not among {told:?}");
    }
    assert_eq!(told.last(), Some(&"bay lift-1"));
}
