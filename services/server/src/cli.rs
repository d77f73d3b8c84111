//! The command line of leadhandd.

use clap::{Args, Parser, Subcommand};
use std::path::PathBuf;

/// The Leadhand server: jobs, bays, stock and time of a workshop.
#[derive(Debug, Clone, Parser)]
#[command(name = "leadhandd", version, about)]
pub struct Cli {
    /// What to do; without one, serve.
    #[command(subcommand)]
    pub command: Option<Command>,
    /// Settings that every command understands.
    #[command(flatten)]
    pub flags: Flags,
}

impl Cli {
    /// What to do.
    pub fn command(&self) -> Command {
        self.command.clone().unwrap_or(Command::Serve)
    }
}

/// What leadhandd can do.
#[derive(Debug, Clone, PartialEq, Eq, Subcommand)]
pub enum Command {
    /// Serve until interrupted (the default)
    Serve,
    /// Write everything, as of one moment, into a directory that is not there yet; servers go on meanwhile
    Backup {
        /// The new directory
        #[arg(long, value_name = "PATH")]
        into: PathBuf,
    },
    /// Put a backup into a database that holds nothing yet, and prove that all of it is there
    Restore {
        /// The backup's directory
        #[arg(long, value_name = "PATH")]
        from: PathBuf,
    },
    /// Bring the private database to the newest Postgres that is installed; no server may use it meanwhile
    UpgradeDatabase,
    /// Write one shop as open files (JSON lines, CSV) into a directory that is not there yet
    Export(ExportArgs),
    /// Take in a shop that was exported, where there is none of its id, and verify it
    Import {
        /// The export's directory
        #[arg(long, value_name = "PATH")]
        from: PathBuf,
    },
    /// Make a shop and the token of its first lead
    Init(InitArgs),
    /// Bring the database's tables up to date
    Migrate,
    /// Operators, who make shops and help a lead who lost the token
    #[command(subcommand)]
    Operator(OperatorCommand),
    /// Prove that the tables are what the journals add up to
    Verify(VerifyArgs),
    /// Ask a running server whether it can work; ends with 0 when it says so
    Healthy,
}

/// A new shop.
#[derive(Debug, Clone, PartialEq, Eq, Args)]
pub struct InitArgs {
    /// The shop's name
    #[arg(long)]
    pub shop: String,
    /// The shop's time zone, by its IANA name: Europe/Berlin
    #[arg(long)]
    pub zone: String,
    /// The name of the first lead
    #[arg(long, default_value = "Lead")]
    pub lead: String,
    /// Write the lead's token to this new file (mode 0600) instead of printing it
    #[arg(long, value_name = "PATH")]
    pub token_file: Option<PathBuf>,
}

/// Which shop goes where.
#[derive(Debug, Clone, PartialEq, Eq, Args)]
pub struct ExportArgs {
    /// Which shop; may be left out where there is only one
    #[arg(long, value_name = "ID")]
    pub shop: Option<uuid::Uuid>,
    /// The new directory
    #[arg(long, value_name = "PATH")]
    pub into: PathBuf,
}

/// Operators' tokens.
#[derive(Debug, Clone, PartialEq, Eq, Subcommand)]
pub enum OperatorCommand {
    /// Make an operator's token
    Issue {
        /// What the operator is called
        #[arg(long)]
        label: String,
        /// Write the token to this new file (mode 0600)
        #[arg(long, value_name = "PATH")]
        into: PathBuf,
        /// When it expires, in RFC 3339; never when left out
        #[arg(long, value_name = "TIME")]
        expires: Option<String>,
    },
    /// Every operator's token, without the secret
    List,
    /// Revoke an operator's token
    Revoke {
        /// Its id, as 'operator list' shows it
        operator: uuid::Uuid,
    },
}

/// What to verify.
#[derive(Debug, Clone, PartialEq, Eq, Args)]
pub struct VerifyArgs {
    /// Only this shop
    #[arg(long, value_name = "ID")]
    pub shop: Option<uuid::Uuid>,
}

/// Settings. They are read as text, so that every fault can be reported at once.
#[derive(Debug, Clone, Default, Args)]
#[command(next_help_heading = "Settings (flag, else LEADHAND_… in the environment, else the file, else the default)")]
pub struct Flags {
    /// Read settings from this TOML file, keys named as the flags
    #[arg(long, global = true, value_name = "PATH")]
    pub config: Option<String>,
    /// Where gRPC is served [default: 127.0.0.1:7420]
    #[arg(long, global = true, value_name = "ADDRESS:PORT")]
    pub listen: Option<String>,
    /// Where health and metrics are served [default: 127.0.0.1:7421]
    #[arg(long, global = true, value_name = "ADDRESS:PORT")]
    pub http_listen: Option<String>,
    /// Use this Postgres instead of a private one
    #[arg(long, global = true, value_name = "URL")]
    pub database_url: Option<String>,
    /// How the owner of its tables logs in, for migrating only
    #[arg(long, global = true, value_name = "URL")]
    pub owner_url: Option<String>,
    /// Where the private database lies [default: /var/lib/leadhand as root, else the user's data directory]
    #[arg(long, global = true, value_name = "PATH")]
    pub data_dir: Option<String>,
    /// The directory of the Postgres binaries [default: found by itself]
    #[arg(long, global = true, value_name = "PATH")]
    pub postgres_bin: Option<String>,
    /// Whom the private database runs as when the server is root [default: postgres]
    #[arg(long, global = true, value_name = "USER")]
    pub run_as: Option<String>,
    /// The certificate in PEM, with those between it and the root; then gRPC speaks TLS, and only
    /// then other addresses than loopback may be listened on
    #[arg(long, global = true, value_name = "PATH")]
    pub tls_cert: Option<String>,
    /// The certificate's private key in PEM
    #[arg(long, global = true, value_name = "PATH")]
    pub tls_key: Option<String>,
    /// Let in only clients with a certificate of one of these authorities (PEM)
    #[arg(long, global = true, value_name = "PATH")]
    pub tls_client_ca: Option<String>,
    /// text or json [default: text]
    #[arg(long, global = true, value_name = "FORMAT")]
    pub log_format: Option<String>,
    /// Which lines are logged [default: info]
    #[arg(long, global = true, value_name = "DIRECTIVES")]
    pub log_filter: Option<String>,
    /// Send traces by OTLP over gRPC to this collector, https://HOST:PORT, or http:// on this machine;
    /// none are made without one
    #[arg(long, global = true, value_name = "URL")]
    pub otlp_collector: Option<String>,
    /// How long open requests may take to end at shutdown [default: 10]
    #[arg(long, global = true, value_name = "SECONDS")]
    pub shutdown_grace_seconds: Option<String>,
    /// Most connections to the database [default: 16]
    #[arg(long, global = true, value_name = "COUNT")]
    pub max_connections: Option<String>,
    /// How often journals are looked at for facts of other servers [default: 500]
    #[arg(long, global = true, value_name = "MILLISECONDS")]
    pub poll_interval_ms: Option<String>,
    /// Whether gRPC-Web is spoken too, over HTTP/1.1 on the port of gRPC, for programs in a browser [default: no]
    #[arg(long, global = true, value_name = "yes|no")]
    pub grpc_web: Option<String>,
}

impl Flags {
    /// The value of a flag by its name.
    pub fn get(&self, key: &str) -> Option<&str> {
        let value = match key {
            "config" => &self.config,
            "listen" => &self.listen,
            "http-listen" => &self.http_listen,
            "database-url" => &self.database_url,
            "owner-url" => &self.owner_url,
            "data-dir" => &self.data_dir,
            "postgres-bin" => &self.postgres_bin,
            "run-as" => &self.run_as,
            "tls-cert" => &self.tls_cert,
            "tls-key" => &self.tls_key,
            "tls-client-ca" => &self.tls_client_ca,
            "log-format" => &self.log_format,
            "log-filter" => &self.log_filter,
            "otlp-collector" => &self.otlp_collector,
            "shutdown-grace-seconds" => &self.shutdown_grace_seconds,
            "max-connections" => &self.max_connections,
            "poll-interval-ms" => &self.poll_interval_ms,
            "grpc-web" => &self.grpc_web,
            _ => &None,
        };
        value.as_deref()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::configuration::KEYS;
    use clap::CommandFactory;

    fn parse(line: &str) -> Cli {
        Cli::try_parse_from(line.split(' ')).unwrap()
    }

    #[test]
    fn the_definition_is_sound() {
        <Cli as CommandFactory>::command().debug_assert();
    }

    #[test]
    fn serving_is_the_default() {
        assert_eq!(parse("leadhandd").command(), Command::Serve);
        assert_eq!(parse("leadhandd serve").command(), Command::Serve);
    }

    #[test]
    fn settings_may_stand_before_and_after_the_command() {
        assert_eq!(parse("leadhandd --data-dir /a migrate").flags.get("data-dir"), Some("/a"));
        assert_eq!(parse("leadhandd migrate --data-dir /a").flags.get("data-dir"), Some("/a"));
    }

    #[test]
    fn a_shop_is_made_from_its_name_and_zone() {
        let expected = InitArgs {
            shop: "Northside".to_owned(),
            zone: "Europe/Berlin".to_owned(),
            lead: "Lead".to_owned(),
            token_file: Some("lead.token".into()),
        };
        let line = "leadhandd init --shop Northside --zone Europe/Berlin --token-file lead.token";
        assert_eq!(parse(line).command(), Command::Init(expected));
        assert!(Cli::try_parse_from(["leadhandd", "init", "--shop", "Northside"]).is_err());
    }

    #[test]
    fn verify_takes_one_shop_or_all() {
        assert_eq!(parse("leadhandd verify").command(), Command::Verify(VerifyArgs { shop: None }));
        assert!(Cli::try_parse_from(["leadhandd", "verify", "--shop", "not-an-id"]).is_err());
    }

    // Every setting can be given in all three ways, or the list of keys has drifted.
    #[test]
    fn every_setting_has_a_flag_and_every_flag_is_a_setting() {
        let command = <Cli as CommandFactory>::command();
        let mut flags: Vec<&str> = command.get_arguments().filter_map(|arg| arg.get_long()).collect();
        flags.retain(|name| !["help", "version", "config"].contains(name));
        flags.sort_unstable();
        let mut keys = KEYS.to_vec();
        keys.sort_unstable();
        assert_eq!(flags, keys);
        for key in KEYS {
            let cli = Cli::try_parse_from(["leadhandd", &format!("--{key}"), "x"]).unwrap();
            assert_eq!(cli.flags.get(key), Some("x"), "{key}");
        }
    }
}
