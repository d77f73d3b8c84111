//! Under which names the pages are served. A page from elsewhere can have its own name lead to this machine (DNS
//! rebinding), and a browser then takes this screen for part of it; only the name tells.

use axum::http::{HeaderMap, header, uri::Authority};
use std::net::IpAddr;

/// The names that count.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Hosts {
    /// Whether the pages are for this machine only.
    loopback: bool,
    /// Names that were given, in small letters.
    given: Vec<String>,
}

impl Hosts {
    /// For pages that are at this address, with the names that were given.
    pub fn new(listen: IpAddr, given: &[String]) -> Self {
        Self { loopback: listen.is_loopback(), given: given.iter().map(|name| bare(name).to_lowercase()).collect() }
    }

    /// Whether a request with these headers is served: under a name of this machine for itself, or one that was given.
    /// Where other machines look and no name was given, every name counts.
    pub fn serve(&self, headers: &HeaderMap) -> bool {
        let mut said = headers.get_all(header::HOST).iter();
        let (Some(host), None) = (said.next(), said.next()) else { return false };
        let Some(host) = host.to_str().ok().and_then(|host| host.parse::<Authority>().ok()) else { return false };
        let name = bare(host.host()).to_lowercase();
        (!self.loopback && self.given.is_empty()) || is_here(&name) || self.given.contains(&name)
    }
}

/// An address of IP version 6 without its brackets, and a name without the root's dot.
fn bare(name: &str) -> &str {
    name.trim_start_matches('[').trim_end_matches(']').trim_end_matches('.')
}

/// A name that leads to the browser's own machine whatever a name server says (RFC 6761, 6.3).
fn is_here(name: &str) -> bool {
    name == "localhost" || name.parse().is_ok_and(|address: IpAddr| address.is_loopback())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn served(hosts: &Hosts, said: &[&str]) -> bool {
        hosts.serve(&said.iter().map(|host| (header::HOST, host.parse().unwrap())).collect())
    }

    #[test]
    fn on_this_machine_only_names_of_this_machine_count() {
        for listen in ["127.0.0.1", "::1"] {
            let hosts = Hosts::new(listen.parse().unwrap(), &[]);
            for own in
                ["localhost", "LocalHost:7480", "localhost.:80", "127.0.0.1:7480", "127.0.0.1", "[::1]:1", "[::1]"]
            {
                assert!(served(&hosts, &[own]), "{own}");
            }
            let others = ["", "evil.example", "evil.example:7480", "localhost.evil.example", "127.0.0.1.evil.example"];
            for other in others.into_iter().chain(["192.0.2.7:7480", "0.0.0.0", "[2001:db8::1]", "user@evil.example"]) {
                assert!(!served(&hosts, &[other]), "{other}");
            }
            assert!(!served(&hosts, &[]) && !served(&hosts, &["localhost", "evil.example"]));
        }
    }

    #[test]
    fn names_that_were_given_count_and_then_no_others() {
        let given = ["Shop.example".to_owned(), "192.0.2.7".to_owned()];
        for listen in ["127.0.0.1", "0.0.0.0"] {
            let hosts = Hosts::new(listen.parse().unwrap(), &given);
            assert!(served(&hosts, &["shop.EXAMPLE:443"]) && served(&hosts, &["192.0.2.7"]), "{listen}");
            assert!(served(&hosts, &["localhost:7480"]) && !served(&hosts, &["evil.example"]), "{listen}");
        }
        let open = Hosts::new("0.0.0.0".parse().unwrap(), &[]);
        assert!(served(&open, &["wall.example"]) && !served(&open, &[]));
    }
}
