//! From texts to settings, with every fault on the way.

use super::sources::{Said, Sources};
use crate::logs::{LogFormat, LogSettings, check_filter};
use crate::private_database::PrivateSettings;
use crate::traces::TraceSettings;
use leadhand_tls::TlsFiles;
use std::net::{IpAddr, SocketAddr};
use std::ops::RangeInclusive;
use std::path::PathBuf;
use std::time::Duration;
use tonic::transport::Uri;

/// Everything the server is told.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Configuration {
    /// Where gRPC is served.
    pub listen: SocketAddr,
    /// Where health and metrics are served.
    pub http_listen: SocketAddr,
    /// Certificate and key; without them plaintext is spoken, on loopback only.
    pub tls: Option<TlsFiles>,
    /// Which database.
    pub database: Database,
    /// What is logged, and how.
    pub log: LogSettings,
    /// Where traces go; nowhere, and none are made, without it.
    pub traces: Option<TraceSettings>,
    /// How long open requests may take to end at shutdown.
    pub shutdown_grace: Duration,
    /// Most connections to the database.
    pub max_connections: u32,
    /// How often journals are looked at for facts of other servers.
    pub poll_interval: Duration,
    /// Whether gRPC-Web is spoken on the port of gRPC as well.
    pub grpc_web: bool,
}

/// Which database.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Database {
    /// One of the server's own.
    Private(PrivateSettings),
    /// One that others run.
    Given(GivenDatabase),
}

/// A database that others run.
#[derive(Clone, PartialEq, Eq)]
pub struct GivenDatabase {
    /// How the server logs in.
    pub url: String,
    /// How the owner of the tables logs in; without it, nothing is migrated and nothing backed up.
    pub owner_url: Option<String>,
    /// The directory of Postgres' tools, for backups; the newest that are installed when left out.
    pub postgres_bin: Option<PathBuf>,
}

impl std::fmt::Debug for GivenDatabase {
    /// Without the URLs, which may hold passwords.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self { owner_url, postgres_bin, .. } = self;
        let mut shown = f.debug_struct("GivenDatabase");
        shown.field("has_owner_url", &owner_url.is_some()).field("postgres_bin", postgres_bin).finish_non_exhaustive()
    }
}

/// Reads everything; `None` only beside at least one fault.
pub(super) fn read(
    sources: &Sources,
    environment: &dyn Fn(&str) -> Option<String>,
    root: bool,
    faults: &mut Vec<String>,
) -> Option<Configuration> {
    let mut reader = Reader { sources, faults };
    let tls = reader.tls();
    let listen = reader.address("listen", 7420);
    let http_listen = reader.address("http-listen", 7421);
    let database = reader.database(environment, root);
    let log = reader.log();
    let traces = reader.traces();
    let shutdown_grace = reader.number("shutdown-grace-seconds", 10, 0..=3_600);
    let max_connections = reader.number("max-connections", 16, 2..=1_000);
    let poll_interval = reader.number("poll-interval-ms", 500, 10..=60_000);
    let grpc_web = reader.yes_or_no("grpc-web");
    if let (Some(one), Some(other)) = (listen, http_listen)
        && one == other
        && one.port() != 0
    {
        let origins = format!("{} and {}", reader.origin("listen"), reader.origin("http-listen"));
        reader.faults.push(format!("{origins}: both are {one}; give them different ports"));
    }
    Some(Configuration {
        listen: listen?,
        http_listen: http_listen?,
        tls: tls.ok()?,
        database: database?,
        log: log?,
        traces: traces.ok()?,
        shutdown_grace: Duration::from_secs(shutdown_grace?.into()),
        max_connections: max_connections?,
        poll_interval: Duration::from_millis(poll_interval?.into()),
        grpc_web: grpc_web?,
    })
}

struct Reader<'a> {
    sources: &'a Sources,
    faults: &'a mut Vec<String>,
}

impl<'a> Reader<'a> {
    fn said(&self, key: &str) -> Option<&'a Said> {
        self.sources.get(key)
    }

    fn origin(&self, key: &str) -> String {
        self.said(key).map_or_else(|| format!("the default of {key}"), |said| said.origin.clone())
    }

    fn fault<T>(&mut self, key: &str, what: impl std::fmt::Display) -> Option<T> {
        self.faults.push(format!("{}: {what}", self.origin(key)));
        None
    }

    fn address(&mut self, key: &str, port: u16) -> Option<SocketAddr> {
        let Some(said) = self.said(key) else { return Some(SocketAddr::from(([127, 0, 0, 1], port))) };
        let Ok(address) = said.value.parse::<SocketAddr>() else {
            let what = format!("{:?} is not an address with a port; write it like 127.0.0.1:{port}", said.value);
            return self.fault(key, what);
        };
        if address.ip().is_loopback() || self.said("tls-cert").is_some() {
            return Some(address);
        }
        let what = format!(
            "{address} is reachable from other machines, and plaintext is for loopback only; \
             give tls-cert and tls-key, or use 127.0.0.1:{} or [::1]:{}",
            address.port(),
            address.port()
        );
        self.fault(key, what)
    }

    /// Certificate and key, if TLS is asked for; an error beside a fault.
    fn tls(&mut self) -> Result<Option<TlsFiles>, ()> {
        let faulty = match (self.said("tls-cert"), self.said("tls-key"), self.said("tls-client-ca")) {
            (None, None, None) => return Ok(None),
            (Some(_), Some(_), _) => None,
            (Some(_), None, _) => Some(("tls-cert", "there is no tls-key beside it; give both")),
            (None, Some(_), _) => Some(("tls-key", "there is no tls-cert beside it; give both")),
            (None, None, Some(_)) => {
                Some(("tls-client-ca", "there is no tls-cert beside it; give tls-cert and tls-key too"))
            }
        };
        if let Some((key, what)) = faulty {
            return self.fault(key, what).ok_or(());
        }
        let (cert, key) = (self.path("tls-cert"), self.path("tls-key"));
        let client_ca = self.said("tls-client-ca").is_some().then(|| self.path("tls-client-ca").ok_or(())).transpose();
        Ok(Some(TlsFiles { cert: cert.ok_or(())?, key: key.ok_or(())?, client_ca: client_ca? }))
    }

    /// Where traces go, if they are asked for; an error beside a fault. Like everything else they
    /// leave the machine with TLS only.
    fn traces(&mut self) -> Result<Option<TraceSettings>, ()> {
        let Some(said) = self.said("otlp-collector") else { return Ok(None) };
        let collector = said.value.parse::<Uri>().ok();
        let wrong = match collector.as_ref().map(|uri| (uri.scheme_str(), uri.host())) {
            Some((Some("https"), Some(_))) => None,
            Some((Some("http"), Some(host))) if is_here(host) => None,
            Some((Some("http"), Some(_))) => Some("would send traces in plaintext to another machine; give https://"),
            _ => Some("is not the address of a collector; write it like http://127.0.0.1:4317"),
        };
        match (wrong, collector) {
            (None, Some(collector)) => Ok(Some(TraceSettings { collector })),
            (wrong, _) => {
                let what = format!("{:?} {}", said.value, wrong.unwrap_or_default());
                self.fault("otlp-collector", what).ok_or(())
            }
        }
    }

    fn number(&mut self, key: &str, default: u32, range: RangeInclusive<u32>) -> Option<u32> {
        let Some(said) = self.said(key) else { return Some(default) };
        match said.value.trim().parse::<u32>() {
            Ok(number) if range.contains(&number) => Some(number),
            _ => {
                let (least, most) = range.into_inner();
                self.fault(key, format!("{:?} is not a whole number from {least} to {most}", said.value))
            }
        }
    }

    /// No, where nothing was said.
    fn yes_or_no(&mut self, key: &str) -> Option<bool> {
        match self.said(key).map(|said| said.value.as_str()) {
            None | Some("no") => Some(false),
            Some("yes") => Some(true),
            Some(other) => {
                let what = format!("{other:?} is neither yes nor no");
                self.fault(key, what)
            }
        }
    }

    fn log(&mut self) -> Option<LogSettings> {
        let format = match self.said("log-format") {
            None => Some(LogFormat::Text),
            Some(said) => match said.value.as_str() {
                "text" => Some(LogFormat::Text),
                "json" => Some(LogFormat::Json),
                other => self.fault("log-format", format!("{other:?} is neither text nor json")),
            },
        };
        let filter = self.said("log-filter").map_or("info", |said| said.value.as_str());
        let filter = match check_filter(filter) {
            Ok(_) => Some(filter.to_owned()),
            Err(fault) => self.fault("log-filter", fault),
        };
        Some(LogSettings { format: format?, filter: filter? })
    }

    fn database(&mut self, environment: &dyn Fn(&str) -> Option<String>, root: bool) -> Option<Database> {
        let url = self.url("database-url");
        let owner_url = self.url("owner-url");
        if self.said("database-url").is_none() {
            if self.said("owner-url").is_some() {
                self.faults.push(format!(
                    "{}: there is no database-url beside it; give both, or neither for a private database",
                    self.origin("owner-url")
                ));
            }
            return self.private(environment, root).map(Database::Private);
        }
        for key in ["data-dir", "run-as"] {
            if self.said(key).is_some() {
                let given = self.origin("database-url");
                self.fault::<()>(key, format!("is for a private database, but {given} names another; remove one"));
            }
        }
        let postgres_bin = self.postgres_bin();
        Some(Database::Given(GivenDatabase { url: url?, owner_url, postgres_bin: postgres_bin? }))
    }

    /// A faulty value is never repeated, it may hold a password.
    fn url(&mut self, key: &str) -> Option<String> {
        let said = self.said(key)?;
        if said.value.starts_with("postgres://") || said.value.starts_with("postgresql://") {
            return Some(said.value.clone());
        }
        self.fault(key, "must begin with postgres:// (the value is not shown, it may hold a password)")
    }

    fn private(&mut self, environment: &dyn Fn(&str) -> Option<String>, root: bool) -> Option<PrivateSettings> {
        let data_dir = match self.said("data-dir") {
            Some(_) => self.path("data-dir"),
            None => default_data_dir(environment, root).or_else(|| {
                self.fault("data-dir", "neither XDG_DATA_HOME nor HOME is set; say where the data shall lie")
            }),
        };
        let postgres_bin = self.postgres_bin();
        let run_as = self.said("run-as").map(|said| said.value.clone());
        Some(PrivateSettings { data_dir: data_dir?, postgres_bin: postgres_bin?, run_as })
    }

    /// Where it was named; the outer `None` beside a fault.
    #[allow(clippy::option_option, reason = "not said and wrong are two things here")]
    fn postgres_bin(&mut self) -> Option<Option<PathBuf>> {
        match self.said("postgres-bin") {
            Some(_) => self.path("postgres-bin").map(Some),
            None => Some(None),
        }
    }

    fn path(&mut self, key: &str) -> Option<PathBuf> {
        let path = PathBuf::from(&self.said(key)?.value);
        if path.is_absolute() {
            return Some(path);
        }
        self.fault(key, format!("{:?} is not an absolute path", path.display().to_string()))
    }
}

fn is_here(host: &str) -> bool {
    let address = host.trim_matches(['[', ']']).parse::<IpAddr>();
    host == "localhost" || address.is_ok_and(|address| address.is_loopback())
}

/// `/var/lib` is the system's place for such data, and `XDG_DATA_HOME` a user's.
fn default_data_dir(environment: &dyn Fn(&str) -> Option<String>, root: bool) -> Option<PathBuf> {
    if root {
        return Some(PathBuf::from("/var/lib/leadhand"));
    }
    let absolute = |name: &str| environment(name).map(PathBuf::from).filter(|path| path.is_absolute());
    let data = absolute("XDG_DATA_HOME").or_else(|| absolute("HOME").map(|home| home.join(".local/share")));
    data.map(|data| data.join("leadhand"))
}
