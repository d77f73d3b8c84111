//! What the screen is started with: a flag, else the environment, else the default.

use crate::logs::LogFormat;
use crate::texts::LOCALES;
use clap::Parser;
use leadhand_sdk::{Endpoint, Tls};
use leadhand_tls::TlsFiles;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};

/// Shows the shop in browsers: the shop screen at /, each bay at /bay/KEY
#[derive(Debug, Parser)]
#[command(name = "leadhand-screen", version)]
pub struct Flags {
    /// The job server
    #[arg(long, env = "LEADHAND_SERVER", default_value = "http://127.0.0.1:7420")]
    pub server: String,
    /// File with this screen's token: a viewer's for a wall, a device's where people sign in
    #[arg(long, env = "LEADHAND_TOKEN_FILE", value_name = "FILE")]
    pub token_file: PathBuf,
    /// PEM file of the authority that signed the server's certificate
    #[arg(long, env = "LEADHAND_CA", value_name = "FILE")]
    pub ca: Option<PathBuf>,
    /// Where browsers find the pages; without a certificate on this machine only
    #[arg(long, env = "LEADHAND_SCREEN_LISTEN", default_value = "127.0.0.1:7480", value_name = "ADDRESS")]
    pub listen: String,
    /// PEM file of the certificate that browsers are shown
    #[arg(long, env = "LEADHAND_SCREEN_TLS_CERT", value_name = "FILE", requires = "tls_key")]
    pub tls_cert: Option<PathBuf>,
    /// PEM file of its private key
    #[arg(long, env = "LEADHAND_SCREEN_TLS_KEY", value_name = "FILE", requires = "tls_cert")]
    pub tls_key: Option<PathBuf>,
    /// Name under which browsers find the pages; may be given more than once; then the pages are served
    /// under these names and those of the machine for itself only
    #[arg(long = "host", env = "LEADHAND_SCREEN_HOSTS", value_delimiter = ',', value_name = "NAME")]
    pub hosts: Vec<String>,
    /// The words on the pages
    #[arg(long, env = "LEADHAND_LOCALE", default_value = LOCALES[0], value_parser = LOCALES)]
    pub locale: String,
    /// Lines for people, or JSON for machines
    #[arg(long, env = "LEADHAND_LOG_FORMAT", value_enum, default_value = "text")]
    pub log_format: LogFormat,
    /// What is logged
    #[arg(long, env = "LEADHAND_LOG_FILTER", default_value = "info")]
    pub log_filter: String,
}

/// What was said, checked.
#[derive(Debug, Clone)]
pub struct Settings {
    /// The job server, with this screen's token.
    pub endpoint: Endpoint,
    /// Where browsers find the pages.
    pub listen: SocketAddr,
    /// Names under which they find them; on this machine alone those of this machine count besides.
    pub hosts: Vec<String>,
    /// Certificate and key of the pages.
    pub tls: Option<TlsFiles>,
    /// The words on the pages.
    pub locale: String,
}

impl Flags {
    /// Checks what was said; the sentence says what is wrong and what to do.
    pub fn settings(&self) -> Result<Settings, String> {
        let listen: SocketAddr = self.listen.parse().map_err(|_| {
            format!("--listen {:?} is not an address with a port; write it like 127.0.0.1:7480", self.listen)
        })?;
        let tls = match (&self.tls_cert, &self.tls_key) {
            (Some(cert), Some(key)) => Some(TlsFiles { cert: cert.clone(), key: key.clone(), client_ca: None }),
            _ => None,
        };
        if !listen.ip().is_loopback() && tls.is_none() {
            return Err(format!(
                "{listen} is reachable from other machines, and plaintext is for loopback only; give --tls-cert and \
                 --tls-key, or use 127.0.0.1:{}",
                listen.port()
            ));
        }
        if let Some(name) = self.hosts.iter().find(|name| !is_name(name)) {
            return Err(format!("--host {name:?} is no name of a machine; write it without scheme and port"));
        }
        let hosts = self.hosts.clone();
        let authorities = self.ca.as_deref().map(|path| read("the authority's file", path)).transpose()?;
        let token = read("the token file", &self.token_file)?.trim().to_owned();
        if token.is_empty() {
            let shown = self.token_file.display();
            return Err(format!("the token file {shown} is empty; put the token that was issued into it"));
        }
        let endpoint = Endpoint::new(&self.server).token(token).tls(Tls { authorities, client: None });
        Ok(Settings { endpoint, listen, hosts, tls, locale: self.locale.clone() })
    }
}

/// A name or an address, without scheme, port and path.
fn is_name(name: &str) -> bool {
    let plain = |byte: u8| byte.is_ascii_alphanumeric() || matches!(byte, b'.' | b'-' | b'_');
    let address: Result<std::net::IpAddr, _> = name.trim_start_matches('[').trim_end_matches(']').parse();
    address.is_ok() || (!name.is_empty() && name.bytes().all(plain))
}

fn read(what: &str, path: &Path) -> Result<String, String> {
    std::fs::read_to_string(path).map_err(|error| format!("{what} {} can't be read: {error}", path.display()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn settings(token: &str, more: &[&str]) -> Result<Settings, String> {
        let dir = tempfile::tempdir().unwrap();
        let file = dir.path().join("token");
        std::fs::write(&file, token).unwrap();
        let args = ["leadhand-screen", "--token-file", file.to_str().unwrap()];
        Flags::try_parse_from(args.iter().chain(more)).map_err(|error| error.to_string())?.settings()
    }

    #[test]
    fn plaintext_stays_on_this_machine() {
        assert!(settings("lhd_1", &["--listen", "127.0.0.1:80"]).is_ok());
        assert!(settings("lhd_1", &["--listen", "[::1]:80"]).is_ok());
        let refused = settings("lhd_1", &["--listen", "0.0.0.0:7480"]).unwrap_err();
        assert!(refused.starts_with("0.0.0.0:7480 is reachable from other machines"), "{refused}");
        let with_tls = ["--listen", "0.0.0.0:7480", "--tls-cert", "cert.pem", "--tls-key", "key.pem"];
        assert!(settings("lhd_1", &with_tls).unwrap().tls.is_some());
        assert!(settings("lhd_1", &["--tls-cert", "cert.pem"]).is_err(), "a certificate without its key");
    }

    #[test]
    fn what_cannot_be_used_is_said_in_a_sentence() {
        assert!(settings(" \n", &[]).unwrap_err().ends_with("is empty; put the token that was issued into it"));
        assert!(settings("lhd_1", &["--listen", "wall"]).unwrap_err().contains("is not an address with a port"));
        assert!(settings("lhd_1", &["--ca", "/nowhere/ca.pem"]).unwrap_err().contains("/nowhere/ca.pem can't be read"));
        assert!(settings("lhd_1", &["--locale", "xx"]).is_err());
        for wrong in ["https://shop.example", "shop.example:7480", ""] {
            let said = settings("lhd_1", &["--host", wrong]).unwrap_err();
            assert!(said.contains("write it without scheme and port"), "{said}");
        }
        let hosts = settings("lhd_1", &["--host", "shop.example", "--host", "[2001:db8::1]"]).unwrap().hosts;
        assert_eq!(hosts, ["shop.example", "[2001:db8::1]"]);
        assert_eq!(settings("lhd_1\n", &[]).unwrap().endpoint.token.as_deref(), Some("lhd_1"));
    }
}
