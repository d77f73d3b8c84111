//! leadhandd as a process of its own: started, asked, killed.

use std::{
    fs::{self, File},
    net::{Ipv4Addr, SocketAddr},
    path::{Path, PathBuf},
    process::{Child, Command, ExitStatus, Output, Stdio},
    time::Duration,
};

use anyhow::{Context, Result, bail, ensure};
use nix::{
    sys::signal::{Signal, kill},
    unistd::Pid,
};
use tempfile::TempDir;
use tokio::{
    io::{AsyncReadExt, AsyncWriteExt},
    net::TcpStream,
    time::{sleep, timeout},
};

use crate::postgres::free_port;

/// The name that the server's program has in this package.
const PROGRAM: &str = "leadhandd_under_test";
const CLIENT: &str = "leadhand_under_test";
const START_WITHIN: Duration = Duration::from_secs(30);
const LOG_LINES_SHOWN: usize = 60;

/// A replica: it keeps its ports and its log over a kill and a restart, and is killed with this value.
pub struct Leadhandd {
    grpc: u16,
    http: u16,
    flags: Vec<String>,
    variables: Vec<(String, String)>,
    process: Option<Child>,
    dir: TempDir,
}

impl Leadhandd {
    /// A replica over a database, not started yet.
    pub fn over(app_url: &str) -> Result<Self> {
        Ok(Self::new()?.with("--database-url", app_url))
    }

    /// A server with a private database in this directory, not started yet.
    pub fn with_private_database(data_dir: &Path) -> Result<Self> {
        let data_dir = data_dir.to_str().context("the data directory is no text")?;
        Ok(Self::new()?.with("--data-dir", data_dir))
    }

    fn new() -> Result<Self> {
        let dir = TempDir::with_prefix("leadhandd-").context("cannot make a directory for a server's log")?;
        let (flags, variables) = (Vec::new(), Vec::new());
        Ok(Self { grpc: free_port()?, http: free_port()?, flags, variables, process: None, dir })
    }

    /// The same with one more flag.
    pub fn with(mut self, flag: &str, value: &str) -> Self {
        self.flags.extend([flag.to_owned(), value.to_owned()]);
        self
    }

    /// The same with more environment variables.
    pub fn with_variables(mut self, variables: &[(String, String)]) -> Self {
        self.variables.extend_from_slice(variables);
        self
    }

    /// Returns when it is healthy. Until then it is started again whenever it ends, as a service manager does: its
    /// database may be down just now.
    pub async fn start(&mut self) -> Result<()> {
        let healthy = async {
            loop {
                if !self.runs()? {
                    self.process = Some(self.spawn()?);
                }
                if self.page("/healthz").await.is_ok_and(|page| page.contains("200 OK")) {
                    return anyhow::Ok(());
                }
                sleep(Duration::from_millis(20)).await;
            }
        };
        match timeout(START_WITHIN, healthy).await {
            Ok(started) => started,
            Err(_) => {
                bail!("leadhandd was not healthy within {START_WITHIN:?}; its log ends with:\n{}", self.log_end())
            }
        }
    }

    /// Whether its process lives.
    pub fn runs(&mut self) -> Result<bool> {
        match &mut self.process {
            Some(process) => Ok(process.try_wait().context("cannot look after leadhandd")?.is_none()),
            None => Ok(false),
        }
    }

    fn spawn(&self) -> Result<Child> {
        let log = File::options().create(true).append(true).open(self.log_file()).context("cannot open the log")?;
        let errors = log.try_clone().context("cannot share the log")?;
        command()?
            .arg("serve")
            .args(["--listen", &format!("127.0.0.1:{}", self.grpc)])
            .args(["--http-listen", &format!("127.0.0.1:{}", self.http)])
            .args(&self.flags)
            .envs(self.variables.iter().map(|(name, value)| (name, value)))
            .stdout(log)
            .stderr(errors)
            .spawn()
            .context("cannot start leadhandd")
    }

    /// Ends it with no chance to finish anything.
    pub fn kill9(&mut self) -> Result<()> {
        if let Some(mut process) = self.process.take() {
            process.kill().context("cannot kill leadhandd")?;
            process.wait().context("cannot reap leadhandd")?;
        }
        Ok(())
    }

    /// Asks it to end, and waits until it has.
    pub async fn stop(&mut self, within: Duration) -> Result<ExitStatus> {
        let mut process = self.process.take().context("leadhandd does not run")?;
        kill(Pid::from_raw(i32::try_from(process.id())?), Signal::SIGTERM).context("cannot signal leadhandd")?;
        let ended = async {
            loop {
                if let Some(status) = process.try_wait()? {
                    return anyhow::Ok(status);
                }
                sleep(Duration::from_millis(20)).await;
            }
        };
        if let Ok(ended) = timeout(within, ended).await {
            return ended;
        }
        process.kill()?;
        process.wait()?;
        bail!("leadhandd did not end within {within:?} of SIGTERM; its log ends with:\n{}", self.log_end())
    }

    /// Its process' number.
    pub fn process_id(&self) -> Option<u32> {
        self.process.as_ref().map(Child::id)
    }

    /// Bytes of memory that its process holds (VmRSS, proc(5)).
    pub fn memory(&self) -> Result<u64> {
        let id = self.process_id().context("leadhandd does not run")?;
        let status = fs::read_to_string(format!("/proc/{id}/status")).context("cannot read of leadhandd's memory")?;
        let held = status.lines().find_map(|line| line.strip_prefix("VmRSS:")?.trim().strip_suffix(" kB"));
        let held: u64 = held.context("/proc does not say how much memory leadhandd holds")?.trim().parse()?;
        Ok(held * 1024)
    }

    /// Where it serves gRPC.
    pub fn url(&self) -> String {
        format!("http://127.0.0.1:{}", self.grpc)
    }

    /// A page of its second port (health, metrics), with status line and headers.
    pub async fn page(&self, path: &str) -> Result<String> {
        let mut stream = TcpStream::connect(SocketAddr::from((Ipv4Addr::LOCALHOST, self.http))).await?;
        let asked = format!("GET {path} HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n");
        stream.write_all(asked.as_bytes()).await?;
        let mut page = String::new();
        stream.read_to_string(&mut page).await?;
        Ok(page)
    }

    /// The value of a metric, by its name and labels as the page writes them; 0 while it was never set.
    pub async fn metric(&self, name: &str) -> Result<f64> {
        let page = self.page("/metrics").await?;
        let line = page.lines().find_map(|line| line.strip_prefix(name)?.strip_prefix(' '));
        line.map_or(Ok(0.0), |value| value.trim().parse().with_context(|| format!("{name} is not a number: {value}")))
    }

    /// The last lines that it logged.
    pub fn log_end(&self) -> String {
        let log = fs::read_to_string(self.log_file()).unwrap_or_default();
        let lines: Vec<&str> = log.lines().collect();
        lines[lines.len().saturating_sub(LOG_LINES_SHOWN)..].join("\n")
    }

    fn log_file(&self) -> PathBuf {
        self.dir.path().join("leadhandd.log")
    }
}

impl Drop for Leadhandd {
    fn drop(&mut self) {
        if std::thread::panicking() {
            eprintln!("the log of leadhandd at {} ends with:\n{}", self.url(), self.log_end());
        }
        if let Err(error) = self.kill9() {
            eprintln!("tests: could not end leadhandd: {error:#}");
        }
    }
}

/// Runs leadhandd to its end: `migrate`, `verify` and the like.
pub async fn leadhandd(args: &[&str]) -> Result<Output> {
    let child = begin_leadhandd(args)?;
    tokio::task::spawn_blocking(move || child.wait_with_output())
        .await?
        .with_context(|| format!("cannot wait for leadhandd {}", args.join(" ")))
}

/// Begins to run leadhandd, with its output kept in pipes.
pub fn begin_leadhandd(args: &[&str]) -> Result<Child> {
    let child = command()?.args(args).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn();
    child.with_context(|| format!("cannot start leadhandd {}", args.join(" ")))
}

/// Opens a shop with `leadhandd init`; gives its lead's token.
pub async fn open_shop(app_url: &str, name: &str) -> Result<String> {
    open_shop_at(["--database-url", app_url], name).await
}

/// The same, with the database said by any flag.
pub async fn open_shop_at(database: [&str; 2], name: &str) -> Result<String> {
    open_shop_in(database, name, "Europe/Lisbon").await
}

/// The same in another time zone.
pub async fn open_shop_in(database: [&str; 2], name: &str, zone: &str) -> Result<String> {
    let dir = TempDir::with_prefix("leadhandd-").context("cannot make a directory for a token")?;
    let file = dir.path().join("lead.token");
    let path = file.to_str().context("the temporary directory is no text")?;
    let [flag, value] = database;
    let args = ["init", flag, value, "--shop", name, "--zone", zone, "--token-file", path];
    let output = leadhandd(&args).await?;
    let errors = String::from_utf8_lossy(&output.stderr);
    ensure!(output.status.success(), "leadhandd init failed: {}", errors.trim());
    let token = fs::read_to_string(&file).with_context(|| format!("cannot read {}", file.display()))?;
    Ok(token.trim().to_owned())
}

/// The program, with nothing of this process' environment that would configure it.
fn command() -> Result<Command> {
    let mut command = Command::new(program()?);
    command.stdin(Stdio::null());
    for (name, _) in std::env::vars_os() {
        if name.as_encoded_bytes().starts_with(b"LEADHAND_") {
            command.env_remove(name);
        }
    }
    Ok(command)
}

/// Runs the command line to its end, at a server and with a token.
pub async fn leadhand(url: &str, token: &str, args: &[&str]) -> Result<Output> {
    let mut command = Command::new(built(CLIENT)?);
    command.args(args).env_clear().env("LEADHAND_SERVER", url).env("LEADHAND_TOKEN", token).stdin(Stdio::null());
    let told = format!("cannot run leadhand {}", args.join(" "));
    tokio::task::spawn_blocking(move || command.output()).await?.context(told)
}

/// The server's program.
pub fn program() -> Result<PathBuf> {
    built(PROGRAM)
}

/// A program that is built along with the tests. It lies one directory above the test's own program.
fn built(name: &str) -> Result<PathBuf> {
    let own = std::env::current_exe().context("cannot tell where this test's program lies")?;
    let program = own.ancestors().nth(2).unwrap_or(Path::new("/")).join(name);
    ensure!(program.exists(), "there is no {}; build it with `cargo build -p leadhand-tests`", program.display());
    Ok(program)
}
