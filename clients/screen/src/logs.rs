//! Structured logs on standard error: lines for people, or one JSON object a line.

use anyhow::Context;
use std::io::IsTerminal;
use tracing_subscriber::EnvFilter;

/// How a line looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum LogFormat {
    /// For people.
    Text,
    /// For machines.
    Json,
}

/// Begins logging, for the whole process.
pub fn begin(format: LogFormat, filter: &str) -> anyhow::Result<()> {
    let filter = EnvFilter::try_new(filter)
        .with_context(|| format!("the log filter {filter:?} cannot be read; write it like info,leadhand_sdk=debug"))?;
    let colours = std::io::stderr().is_terminal() && std::env::var_os("NO_COLOR").is_none();
    let lines = tracing_subscriber::fmt().with_env_filter(filter).with_writer(std::io::stderr);
    let begun = match format {
        LogFormat::Text => lines.with_ansi(colours).try_init(),
        LogFormat::Json => lines.json().flatten_event(true).try_init(),
    };
    begun.map_err(|error| anyhow::anyhow!("logging was begun twice in one process: {error}"))
}
