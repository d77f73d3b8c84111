//! Configuration: a flag, else the environment, else the file, else the default. All of it is
//! read before anything is refused, so that one run shows every fault.

mod read;
mod sources;

pub use read::Configuration;
pub use read::{Database, GivenDatabase};
pub use sources::KEYS;

use crate::cli::Flags;
use sources::Sources;

/// Everything that is wrong with the configuration, one fault a line.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("the configuration has {}:\n{}", count(faults), faults.join("\n"))]
pub struct Faults {
    /// Where each came from, what is wrong, what to do.
    pub faults: Vec<String>,
}

fn count(faults: &[String]) -> String {
    if faults.len() == 1 { "a fault".to_owned() } else { format!("{} faults", faults.len()) }
}

impl Configuration {
    /// From the flags, this process' environment and the file that either names.
    pub fn load(flags: &Flags) -> Result<Self, Faults> {
        let root = nix::unistd::Uid::effective().is_root();
        Self::from_sources(flags, &|name| std::env::var(name).ok(), root)
    }

    /// The same with the environment passed in; `root` says whose defaults hold.
    pub fn from_sources(
        flags: &Flags,
        environment: &dyn Fn(&str) -> Option<String>,
        root: bool,
    ) -> Result<Self, Faults> {
        let mut faults = Vec::new();
        let sources = Sources::gather(flags, environment, &mut faults);
        let configuration = read::read(&sources, environment, root, &mut faults);
        match configuration {
            Some(configuration) if faults.is_empty() => Ok(configuration),
            _ => Err(Faults { faults }),
        }
    }
}

#[cfg(test)]
mod tests;
