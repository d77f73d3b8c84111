//! The servers of `deploy/compose.yaml` for one test, taken down again whatever becomes of it.

use std::{
    hash::{DefaultHasher, Hash, Hasher},
    io::Write,
    os::unix::fs::symlink,
    path::{Path, PathBuf},
    process::{Command, Output, Stdio},
};

use anyhow::{Context, Result, bail, ensure};
use kit::postgres::free_port;
use leadhand_sdk::{Client, Endpoint, Tls};
use tempfile::TempDir;

pub struct Composed {
    dir: TempDir,
    project: String,
    image: String,
    backup_image: String,
    ports: [u16; 3],
    is_down: bool,
}

impl Composed {
    /// Builds the image from the server under test and brings everything up; nothing, with the reason, where there is
    /// no engine, no Compose, or no image of Postgres.
    pub fn up() -> Result<std::result::Result<Self, &'static str>> {
        if let Some(why) = missing() {
            return Ok(Err(why));
        }
        // One name for one work tree: what a run that was killed left behind is found by the next one.
        let mut hasher = DefaultHasher::new();
        env!("CARGO_MANIFEST_DIR").hash(&mut hasher);
        let project = format!("leadhand-test-{:08x}", hasher.finish() >> 32);
        let image = format!("{project}:under-test");
        let backup_image = format!("{project}-backup:under-test");
        let dir = TempDir::with_prefix("leadhand-compose-").context("cannot make a directory")?;
        let composed = Self {
            dir,
            project,
            image,
            backup_image,
            ports: [free_port()?, free_port()?, free_port()?],
            is_down: false,
        };
        let certificate = composed.dir.path().join("secret/tls/server.pem");
        composed.script("compose-files", &[&composed.secrets()])?;
        let first = std::fs::read(&certificate)?;
        composed.script("compose-files", &[&composed.secrets()])?;
        ensure!(std::fs::read(&certificate)? == first, "a certificate that has all names is kept");
        // A name that it lacks is added to those that it has, and stays when nobody gives it again.
        composed.script("compose-files", &[&composed.secrets(), "shop.example"])?;
        composed.script("compose-files", &[&composed.secrets()])?;
        for name in ["localhost", "leadhandd", "shop.example"] {
            Self::names(&certificate, name)?;
        }
        composed.compose(&["down", "--volumes", "--remove-orphans", "--timeout", "1"])?;
        composed.build_image()?;
        composed.compose(&["up", "--detach"]).inspect_err(|_| composed.print_logs())?;
        Ok(Ok(composed))
    }

    fn names(certificate: &Path, name: &str) -> Result<()> {
        let path = certificate.to_str().context("the temporary directory is no text")?;
        let asked = Command::new("openssl").args(["x509", "-in", path, "-noout", "-checkhost", name]).output()?;
        let said = printed("openssl", &asked)?;
        ensure!(said.contains("does match"), "{said}");
        Ok(())
    }

    fn build_image(&self) -> Result<()> {
        let own = std::env::current_exe().context("cannot tell where this test's program lies")?;
        let built = own.ancestors().nth(2).unwrap_or(Path::new("/"));
        let programs = self.dir.path().join("programs");
        std::fs::create_dir(&programs)?;
        for (made, name) in [("leadhandd_under_test", "leadhandd"), ("leadhand_screen_under_test", "leadhand-screen")] {
            symlink(built.join(made), programs.join(name))?;
        }
        let from = programs.to_str().context("the temporary directory is no text")?;
        let said = self.script("image", &["--from", from, "--tag", &self.image])?;
        ensure!(said.trim() == self.image, "deploy/image printed {said:?} instead of {}", self.image);
        let said = self.script("backup-image", &["--from", &self.image, "--tag", &self.backup_image])?;
        ensure!(said.trim() == self.backup_image, "deploy/backup-image printed {said:?}, not {}", self.backup_image);
        Ok(())
    }

    fn secrets(&self) -> String {
        self.dir.path().join("secret").display().to_string()
    }

    /// Runs a script of `deploy`; gives what it printed.
    fn script(&self, name: &str, args: &[&str]) -> Result<String> {
        let mut command = Command::new(deploy().join(name));
        command.args(args).stdin(Stdio::null());
        command.env("LEADHAND_PROJECT", &self.project).env("LEADHAND_IMAGE", &self.image);
        command.env("LEADHAND_BACKUP_IMAGE", &self.backup_image).env_remove("LEADHAND_PG_IMAGE");
        command.env("LEADHAND_PORT_1", self.ports[0].to_string()).env("LEADHAND_PORT_2", self.ports[1].to_string());
        command.env("LEADHAND_PORT_PAGES", self.ports[2].to_string()).env_remove("LEADHAND_SCREEN_HOSTS");
        command.env_remove("LEADHAND_PUBLISH");
        printed(name, &command.output().with_context(|| format!("cannot run deploy/{name}"))?)
    }

    pub fn compose(&self, args: &[&str]) -> Result<String> {
        let secrets = self.secrets();
        let args: Vec<&str> = std::iter::once(secrets.as_str()).chain(args.iter().copied()).collect();
        self.script("compose-run", &args)
    }

    /// One command of the server, in a container of its own that has the tools of Postgres.
    pub fn by_hand(&self, args: &[&str]) -> Result<String> {
        self.compose(&[&["run", "--rm", "-T", "backup"][..], args].concat())
    }

    /// What the engine knows of a container, by a template of its own.
    pub fn inspect(&self, service: &str, template: &str) -> Result<String> {
        let id = self.compose(&["ps", "--quiet", service])?;
        docker(&["inspect", "--format", template, id.trim()])
    }

    /// Ends a container with no chance to finish anything.
    pub fn kill9(&self, service: &str) -> Result<()> {
        let id = self.compose(&["ps", "--quiet", service])?;
        docker(&["kill", "--signal", "KILL", id.trim()]).map(|_| ())
    }

    /// Starts the pages with a token.
    pub fn start_pages(&self, token: &str) -> Result<()> {
        std::fs::write(self.dir.path().join("secret/secrets/screen-token"), token)?;
        self.compose(&["--profile", "pages", "up", "--detach", "screen"]).map(|_| ())
    }

    /// What a browser is answered at `/`; nothing while they do not listen yet.
    pub fn pages(&self) -> Result<String> {
        let (address, authority) = (format!("localhost:{}", self.ports[2]), self.authority().display().to_string());
        let dial = ["s_client", "-quiet", "-verify_return_error", "-CAfile", &authority, "-connect", &address];
        let mut browser = Command::new("openssl").args(dial).stdin(Stdio::piped()).stdout(Stdio::piped()).spawn()?;
        let mut asks = browser.stdin.take().context("no way to ask")?;
        write!(asks, "GET / HTTP/1.0\r\nHost: {address}\r\n\r\n")?;
        let answer = browser.wait_with_output()?;
        drop(asks);
        Ok(String::from_utf8(answer.stdout)?)
    }

    fn authority(&self) -> PathBuf {
        self.dir.path().join("secret/authority/authority.pem")
    }

    /// A client of replica 0 or 1, over TLS.
    pub fn client(&self, replica: usize, token: &str) -> Result<Client> {
        let authority = std::fs::read_to_string(self.authority())?;
        let tls = Tls { authorities: Some(authority), ..Tls::default() };
        let url = format!("https://localhost:{}", self.ports[replica]);
        Ok(Client::connect(Endpoint::new(url).tls(tls).token(token))?)
    }

    /// What the engine still has of it: containers, networks, volumes.
    fn left_behind(&self) -> Result<Vec<String>> {
        let name = format!("name={}", self.project);
        let mut left = Vec::new();
        for what in [&["ps", "--all", "--quiet"][..], &["network", "ls", "--quiet"], &["volume", "ls", "--quiet"]] {
            let found = docker(&[what, &["--filter", &name]].concat())?;
            left.extend(found.lines().map(str::to_owned));
        }
        Ok(left)
    }

    fn print_logs(&self) {
        let logs = self.compose(&["logs", "--no-color", "--tail", "40"]);
        eprintln!("{}", logs.unwrap_or_else(|error| format!("there are no logs: {error:#}")));
    }

    fn take_down(&self) -> Result<()> {
        self.compose(&["down", "--volumes", "--remove-orphans", "--timeout", "10"])?;
        let left = self.left_behind()?;
        ensure!(left.is_empty(), "after 'down' the engine still has {left:?}");
        docker(&["image", "rm", "--force", &self.image, &self.backup_image]).map(|_| ())
    }

    /// Takes everything down, and says whether anything is left.
    pub fn down(mut self) -> Result<()> {
        self.is_down = true;
        self.take_down()
    }
}

impl Drop for Composed {
    fn drop(&mut self) {
        if std::thread::panicking() {
            self.print_logs();
        }
        if !self.is_down
            && let Err(error) = self.take_down()
        {
            eprintln!("tests: could not take {} down: {error:#}", self.project);
        }
    }
}

fn deploy() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../deploy")
}

fn missing() -> Option<&'static str> {
    let fine =
        |program: &str, args: &[&str]| Command::new(program).args(args).output().is_ok_and(|o| o.status.success());
    let postgres = "leadhand-postgres:15";
    if !fine("docker", &["info"]) {
        Some("there is no Docker engine that answers")
    } else if !fine("docker", &["compose", "version"]) && !fine("docker-compose", &["version"]) {
        Some("there is no Compose; install docker-compose")
    } else if !fine("docker", &["image", "inspect", postgres]) {
        Some("there is no image leadhand-postgres:15; deploy/postgres-image, as root, builds it")
    } else {
        None
    }
}

fn docker(args: &[&str]) -> Result<String> {
    let output = Command::new("docker").args(args).stdin(Stdio::null()).output().context("cannot run docker")?;
    printed("docker", &output)
}

fn printed(what: &str, output: &Output) -> Result<String> {
    if !output.status.success() {
        bail!("{what} failed: {}", String::from_utf8_lossy(&output.stderr).trim());
    }
    Ok(String::from_utf8(output.stdout.clone())?)
}
