//! Structured logs on standard error: lines for people, or one JSON object a line.

use crate::traces::Traces;
use std::io::IsTerminal;
use tracing::Subscriber;
use tracing_subscriber::EnvFilter;
use tracing_subscriber::fmt::MakeWriter;
use tracing_subscriber::layer::SubscriberExt;
use tracing_subscriber::registry::LookupSpan;
use tracing_subscriber::util::SubscriberInitExt;
use tracing_subscriber::{Layer, Registry};

/// How a line looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LogFormat {
    /// For people.
    Text,
    /// For machines.
    Json,
}

/// What is logged, and how.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LogSettings {
    /// How a line looks.
    pub format: LogFormat,
    /// Which lines, in the directives of `tracing`: `info,leadhand_store=debug`.
    pub filter: String,
}

/// Why logging could not begin.
#[derive(Debug, thiserror::Error)]
pub enum LogError {
    /// The filter cannot be read.
    #[error("the log filter {filter:?} cannot be read ({why}): write it like info,leadhand_store=debug")]
    Filter {
        /// As given.
        filter: String,
        /// What is wrong.
        why: String,
    },
    /// Somebody else has begun already.
    #[error("logging was begun twice in one process: {0}")]
    Twice(#[from] tracing_subscriber::util::TryInitError),
}

/// Checks a filter without using it.
pub fn check_filter(filter: &str) -> Result<EnvFilter, LogError> {
    EnvFilter::try_new(filter).map_err(|fault| LogError::Filter { filter: filter.to_owned(), why: fault.to_string() })
}

/// Begins logging to standard error, for the whole process, and making traces where they are asked for.
pub fn begin(settings: &LogSettings, traces: Option<&Traces>) -> Result<(), LogError> {
    let colours = std::io::stderr().is_terminal() && std::env::var_os("NO_COLOR").is_none();
    let lines = lines(settings, colours, std::io::stderr)?;
    // Each has a filter of its own: what is traced need not be logged.
    tracing_subscriber::registry().with(lines).with(traces.map(Traces::layer)).try_init()?;
    Ok(())
}

/// A subscriber that writes to `writer`.
pub fn subscriber<W>(
    settings: &LogSettings,
    colours: bool,
    writer: W,
) -> Result<impl Subscriber + Send + Sync + use<W>, LogError>
where
    W: for<'w> MakeWriter<'w> + Send + Sync + 'static,
{
    Ok(Registry::default().with(lines(settings, colours, writer)?))
}

fn lines<S, W>(settings: &LogSettings, colours: bool, writer: W) -> Result<Box<dyn Layer<S> + Send + Sync>, LogError>
where
    S: Subscriber + for<'a> LookupSpan<'a>,
    W: for<'w> MakeWriter<'w> + Send + Sync + 'static,
{
    let filter = check_filter(&settings.filter)?;
    let common = tracing_subscriber::fmt::layer().with_writer(writer);
    Ok(match settings.format {
        LogFormat::Text => Box::new(common.with_ansi(colours).with_filter(filter)),
        LogFormat::Json => Box::new(common.json().flatten_event(true).with_filter(filter)),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Write;
    use std::sync::{Arc, Mutex};

    #[derive(Clone, Default)]
    struct Page(Arc<Mutex<Vec<u8>>>);

    impl Write for Page {
        fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
            self.0.lock().unwrap().extend_from_slice(bytes);
            Ok(bytes.len())
        }

        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }

    fn written(format: LogFormat, filter: &str) -> String {
        let page = Page::default();
        let copy = page.clone();
        let settings = LogSettings { format, filter: filter.to_owned() };
        let subscriber = subscriber(&settings, false, move || copy.clone()).unwrap();
        tracing::subscriber::with_default(subscriber, || {
            tracing::info!(bay = "lift-1", "bay lift-1 is free");
            tracing::debug!("details");
        });
        String::from_utf8(page.0.lock().unwrap().clone()).unwrap()
    }

    #[test]
    fn json_is_one_object_a_line_with_the_fields_beside_the_message() {
        let lines = written(LogFormat::Json, "info");
        assert_eq!(lines.lines().count(), 1, "{lines}");
        let line: serde_json::Value = serde_json::from_str(lines.trim()).unwrap();
        assert_eq!(line["message"], "bay lift-1 is free");
        assert_eq!(line["bay"], "lift-1");
        assert_eq!(line["level"], "INFO");
    }

    #[test]
    fn text_is_a_line_and_the_filter_decides_which() {
        let lines = written(LogFormat::Text, "debug");
        assert!(lines.contains("bay lift-1 is free") && lines.contains("details"), "{lines}");
        assert_eq!(written(LogFormat::Text, "error"), "");
    }

    #[test]
    fn a_filter_that_cannot_be_read_is_refused() {
        let refusal = check_filter("leadhand=loudly").unwrap_err().to_string();
        assert!(refusal.contains("leadhand=loudly"), "{refusal}");
    }
}
