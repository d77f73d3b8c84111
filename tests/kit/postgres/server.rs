//! The server that all tests of a work tree share.

use std::{fs, path::PathBuf, time::Duration};

use anyhow::{Context, Result, bail};
use serde::{Deserialize, Serialize};
use sqlx::{Connection, PgConnection};

use super::{SUPERUSER_ROLE, binaries::Binaries, container, place, template};

const READY_WITHIN: Duration = Duration::from_mins(1);

/// Where the server comes from.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
enum Source {
    Container { image: String },
    Machine,
}

impl Source {
    /// `LEADHAND_TEST_POSTGRES` (container or machine) decides; without it, a container if one can be started.
    fn choose() -> Result<Self> {
        let image = container::image();
        let asked = std::env::var("LEADHAND_TEST_POSTGRES").unwrap_or_default();
        match asked.as_str() {
            "container" | "" if container::available(&image) => Ok(Self::Container { image }),
            "machine" | "" => Ok(Self::Machine),
            "container" => bail!("no Docker engine answers that has the image {image}; run deploy/postgres-image"),
            other => bail!("LEADHAND_TEST_POSTGRES is {other:?}; it may be container or machine"),
        }
    }

    fn words(&self) -> String {
        match self {
            Self::Container { image } => format!("a container of {image}"),
            Self::Machine => "this machine's binaries".to_owned(),
        }
    }
}

/// A server that runs, as the state file holds it.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct Server {
    source: Source,
    host: String,
    port: u16,
}

impl Server {
    pub(super) fn at(host: &str, port: u16) -> Self {
        Self { source: Source::Machine, host: host.to_owned(), port }
    }

    /// The URL of a database for a role.
    pub(super) fn url(&self, role: &str, database: &str) -> String {
        format!("postgres://{role}@{}:{}/{database}", self.host, self.port)
    }

    /// A superuser's connection to the maintenance database.
    pub(super) async fn superuser(&self) -> Result<PgConnection> {
        let url = self.url(SUPERUSER_ROLE, "postgres");
        PgConnection::connect(&url).await.with_context(|| format!("cannot connect to the tests' Postgres at {url}"))
    }

    /// Whether it answers now.
    pub(super) async fn answers(&self) -> bool {
        let asked = async { self.superuser().await?.ping().await.context("no answer") };
        matches!(tokio::time::timeout(Duration::from_secs(3), asked).await, Ok(Ok(())))
    }

    async fn wait_until_ready(&self) -> Result<()> {
        let ready = async {
            while !self.answers().await {
                tokio::time::sleep(Duration::from_millis(50)).await;
            }
        };
        tokio::time::timeout(READY_WITHIN, ready).await.with_context(|| {
            format!("Postgres from {} accepted no connection within {READY_WITHIN:?}", self.source.words())
        })
    }
}

/// What a test needs to know: a server, and the template to clone.
#[derive(Clone, Debug)]
pub struct Provided {
    pub(super) server: Server,
    pub(super) template: String,
}

const SERVER_VARIABLE: &str = "LEADHAND_TEST_SERVER";
const TEMPLATE_VARIABLE: &str = "LEADHAND_TEST_TEMPLATE";

impl Provided {
    /// The variables that hand this to the test processes.
    pub fn variables(&self) -> Result<Vec<(&'static str, String)>> {
        Ok(vec![(SERVER_VARIABLE, serde_json::to_string(&self.server)?), (TEMPLATE_VARIABLE, self.template.clone())])
    }

    /// What the set-up script handed over, if it ran.
    pub(super) fn from_environment() -> Result<Option<Self>> {
        let (Ok(server), Ok(template)) = (std::env::var(SERVER_VARIABLE), std::env::var(TEMPLATE_VARIABLE)) else {
            return Ok(None);
        };
        let server = serde_json::from_str(&server)
            .with_context(|| format!("{SERVER_VARIABLE} is not what the set-up writes: {server}"))?;
        Ok(Some(Self { server, template }))
    }
}

/// Finds this work tree's server or starts one, and makes the template of the present migrations.
pub async fn provide() -> Result<Provided> {
    let _lock = place::lock()?;
    let source = Source::choose()?;
    let server = match running(&source).await {
        Some(server) => server,
        None => start(source).await?,
    };
    let mut connection = server.superuser().await?;
    let version: String = sqlx::query_scalar("show server_version").fetch_one(&mut connection).await?;
    eprintln!("tests: Postgres {version} from {}, port {}", server.source.words(), server.port);
    template::sweep(&mut connection).await?;
    let template = template::prepare(&server, &mut connection).await?;
    Ok(Provided { server, template })
}

/// Ends this work tree's server, wherever it came from, with everything in it.
pub fn remove() -> Result<()> {
    let _lock = place::lock()?;
    remove_locked()
}

fn remove_locked() -> Result<()> {
    container::remove()?;
    let data = data_dir();
    if data.exists() {
        Binaries::find()?.stop_detached(&data)?;
        fs::remove_dir_all(&data).with_context(|| format!("cannot remove {}", data.display()))?;
    }
    match fs::remove_file(place::state_file()?) {
        Err(error) if error.kind() != std::io::ErrorKind::NotFound => {
            Err(error).context("cannot remove the state file")
        }
        _ => Ok(()),
    }
}

/// The server of an earlier run, if it came from the same source and still answers.
async fn running(source: &Source) -> Option<Server> {
    let text = fs::read_to_string(place::state_file().ok()?).ok()?;
    let server: Server = serde_json::from_str(&text).ok()?;
    (server.source == *source && server.answers().await).then_some(server)
}

async fn start(source: Source) -> Result<Server> {
    remove_locked()?;
    let (host, port) = match &source {
        Source::Container { image } => container::start(image).await?,
        Source::Machine => start_from_binaries()?,
    };
    let server = Server { source, host, port };
    server.wait_until_ready().await?;
    let path = place::state_file()?;
    fs::write(&path, serde_json::to_vec(&server)?).with_context(|| format!("cannot write {}", path.display()))?;
    Ok(server)
}

fn start_from_binaries() -> Result<(String, u16)> {
    let binaries = Binaries::find()?;
    let data = data_dir();
    fs::create_dir(&data).with_context(|| format!("cannot create {}", data.display()))?;
    binaries.give(&data)?;
    binaries.make_cluster(&data)?;
    let port = place::free_port()?;
    binaries.start_detached(&data, port)?;
    Ok(("127.0.0.1".to_owned(), port))
}

fn data_dir() -> PathBuf {
    place::scratch().join(format!("leadhand-tests-{}", place::key()))
}
