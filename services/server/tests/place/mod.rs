//! A place for a whole server on a private database.
#![allow(dead_code, reason = "each test binary uses a part of it")]

use leadhand_server::cli::InitArgs;
use leadhand_server::commands;
use leadhand_server::configuration::{Configuration, Database};
use leadhand_server::logs::{LogFormat, LogSettings};
use leadhand_server::private_database::PrivateSettings;
use leadhand_server::serve::Running;
use metrics_exporter_prometheus::PrometheusBuilder;
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::time::Duration;

/// Far more than an end needs, far less than a test waits for.
pub const GRACE: Duration = Duration::from_secs(20);

/// A directory whose Postgres does not outlive the test.
pub struct Place(tempfile::TempDir);

impl Place {
    pub fn new() -> Self {
        let directory = tempfile::tempdir().expect("a temporary directory");
        std::fs::set_permissions(directory.path(), std::fs::Permissions::from_mode(0o755)).expect("its mode");
        Self(directory)
    }

    pub fn path(&self) -> &Path {
        self.0.path()
    }

    pub fn configuration(&self) -> Configuration {
        let data_dir = self.path().join("data");
        let loopback = "127.0.0.1:0".parse().expect("an address");
        Configuration {
            listen: loopback,
            http_listen: loopback,
            tls: None,
            traces: None,
            database: Database::Private(PrivateSettings { data_dir, postgres_bin: None, run_as: None }),
            log: LogSettings { format: LogFormat::Text, filter: "off".to_owned() },
            shutdown_grace: GRACE,
            max_connections: 8,
            poll_interval: Duration::from_millis(100),
            grpc_web: false,
        }
    }

    pub fn postmaster(&self) -> Option<i32> {
        let text = std::fs::read_to_string(self.path().join("data/postgres/postmaster.pid")).ok()?;
        text.lines().next()?.parse().ok()
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        if let Some(pid) = self.postmaster() {
            let pid = nix::unistd::Pid::from_raw(pid);
            nix::sys::signal::kill(pid, nix::sys::signal::Signal::SIGQUIT).ok();
        }
    }
}

/// A running server.
pub async fn start(configuration: &Configuration) -> Running {
    let metrics = PrometheusBuilder::new().build_recorder().handle();
    Running::start(configuration, metrics).await.expect("the server starts")
}

/// Opens a shop as `leadhandd init` does; gives the token.
pub async fn open_shop(place: &Place) -> String {
    let path = place.path().join("lead.token");
    let args = InitArgs {
        shop: "Northside".to_owned(),
        zone: "Europe/Lisbon".to_owned(),
        lead: "Wren".to_owned(),
        token_file: Some(path.clone()),
    };
    let mut said = Vec::new();
    commands::init(&place.configuration(), &args, &mut said).await.expect("the shop is opened");
    let said = String::from_utf8(said).expect("text");
    assert!(said.contains("token in ") && said.contains("lead.token"), "{said}");
    let mode = path.metadata().expect("the file is there").permissions().mode() & 0o777;
    assert_eq!(mode, 0o600);
    let refused = commands::init(&place.configuration(), &args, &mut Vec::new()).await.expect_err("the file is there");
    assert!(refused.to_string().contains("can't be written to a new file"), "{refused}");
    std::fs::read_to_string(path).expect("the token can be read").trim().to_owned()
}
