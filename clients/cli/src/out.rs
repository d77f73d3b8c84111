//! What goes out, and where: data to standard output, everything else to standard error.

use crate::failure::{Failure, Outcome};
use crate::fit::{prose, wrapped};
use crate::json;
pub use crate::table::Table;
use leadhand_sdk::ContractMessage;
use prost::Message;
use std::io::{IsTerminal, Write};

/// The form in which data is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum Format {
    /// For people.
    Table,
    /// For programs: every field of the answer.
    Json,
    /// For spreadsheets; time audit only.
    Csv,
}

/// Where and how a command writes.
#[derive(Debug, Clone, Copy)]
pub struct Out {
    /// The form.
    pub format: Format,
    /// Whether colour and weight may be used.
    pub colour: bool,
    /// The terminal's width; none when standard output is not one.
    pub width: Option<usize>,
    /// Whether the fine print of an answer is left out.
    pub brief: bool,
}

impl Out {
    /// As the command line and the surroundings ask for it.
    pub fn new(format: Format, no_colour: bool) -> Self {
        let terminal = std::io::stdout().is_terminal();
        let quiet = no_colour || std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
        Self { format, colour: terminal && !quiet, width: width_of(terminal), brief: false }
    }

    /// Whether data is written for programs.
    pub fn is_json(self) -> bool {
        self.format == Format::Json
    }

    /// Writes a table; says so aside when it has no rows.
    pub fn table(self, table: &Table) -> Outcome {
        if let Some(nothing) = table.nothing() {
            note(nothing);
            return Ok(());
        }
        put(&table.render(self.width, self.colour))
    }
}

/// Writes an answer in full, as JSON.
pub fn json<M: ContractMessage + Message>(answer: &M) -> Outcome {
    value(&json::of(answer)?)
}

/// Writes a JSON value.
pub fn value(value: &serde_json::Value) -> Outcome {
    put(&format!("{value:#}\n"))
}

/// Writes data as it is.
pub fn put(text: &str) -> Outcome {
    let mut out = std::io::stdout().lock();
    out.write_all(text.as_bytes()).and_then(|()| out.flush()).map_err(|error| match error.kind() {
        std::io::ErrorKind::BrokenPipe => Failure::ReaderLeft,
        _ => Failure::Usage(format!("standard output can't be written: {error}")),
    })
}

/// Writes lines of words, broken between words where a terminal is too narrow for them.
pub fn line(text: &str) -> Outcome {
    put(&format!("{}\n", prose(text, width_of(std::io::stdout().is_terminal()))))
}

/// Says something aside, on standard error.
pub fn note(text: &str) {
    aside(&format!("{text}\n"));
}

/// Writes to standard error as it is, but broken between words where a terminal is too narrow.
pub fn aside(text: &str) {
    // Nobody there to read it is no reason to fail.
    let _ = std::io::stderr().write_all(prose(text, width_of(std::io::stderr().is_terminal())).as_bytes());
}

/// Shows on standard error that something takes a while, until it is dropped; nothing where that is no terminal.
pub fn working(what: &'static str) -> Working {
    let bar = indicatif::ProgressBar::with_draw_target(None, indicatif::ProgressDrawTarget::stderr());
    bar.set_message(what);
    bar.enable_steady_tick(std::time::Duration::from_millis(120));
    Working(bar)
}

/// What shows that something takes a while.
pub struct Working(indicatif::ProgressBar);

impl Drop for Working {
    fn drop(&mut self) {
        self.0.finish_and_clear();
    }
}

/// The terminal's width, where there is one.
fn width_of(terminal: bool) -> Option<usize> {
    terminal.then(|| crossterm::terminal::size().map_or(100, |(columns, _)| usize::from(columns.max(40))))
}

/// Text from elsewhere without anything that a terminal would obey.
pub fn clean(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}

/// A text below a name, in a column of its own: broken between words, and never wider than the terminal. Where the name is
/// wider than its column, the text begins two blanks behind it, or below it.
pub fn beside(name: &str, column: usize, text: &str, width: Option<usize>) -> String {
    let (name, text) = (clean(name), clean(text));
    let wide = name.chars().count();
    if wide > 0 && wide >= column {
        let fits = width.is_none_or(|width| wide + 2 + text.chars().count() <= width);
        return if fits {
            format!("{name}  {text}\n")
        } else {
            format!("{name}\n{}", beside("", column, &text, width))
        };
    }
    let room = width.map_or(usize::MAX, |width| width.saturating_sub(column).max(20));
    let names = std::iter::once(name).chain(std::iter::repeat(String::new()));
    let lines = wrapped(&text, room);
    lines.iter().zip(names).map(|(line, name)| format!("{name:<column$}{line}\n")).collect::<Vec<_>>().concat()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_text_beside_its_name_is_broken_between_words() {
        assert_eq!(beside("kept", 6, "tray: tray 2", None), "kept  tray: tray 2\n");
        let narrow = beside("  off", 8, "5 off, 1 missing before, repaired before", Some(30));
        assert_eq!(beside("preload at this friction", 10, "23400 N", None), "preload at this friction  23400 N\n");
        let below = beside("preload at this friction", 10, "it yields there", Some(30));
        assert_eq!(below, "preload at this friction\n          it yields there\n");
        assert_eq!(narrow, "  off   5 off, 1 missing\n        before, repaired\n        before\n");
    }
}
