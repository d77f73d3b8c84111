//! What goes out, and where: data to standard output, everything else to standard error.

use crate::failure::{Failure, Outcome};
use crate::json;
use comfy_table::{Attribute, Cell, CellAlignment, ContentArrangement, presets};
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
    pub width: Option<u16>,
}

impl Out {
    /// As the command line and the surroundings ask for it.
    pub fn new(format: Format, no_colour: bool) -> Self {
        let terminal = std::io::stdout().is_terminal();
        let quiet = no_colour || std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
        let width = terminal.then(|| crossterm::terminal::size().map_or(100, |(columns, _)| columns.max(40)));
        Self { format, colour: terminal && !quiet, width }
    }

    /// Whether data is written for programs.
    pub fn is_json(self) -> bool {
        self.format == Format::Json
    }

    /// Writes a table; says so aside when it has no rows.
    pub fn table(self, table: &Table) -> Outcome {
        if table.rows.is_empty() {
            note(&format!("no {} to show", table.what));
            return Ok(());
        }
        put(&table.render(self))
    }
}

/// Writes an answer in full, as JSON.
pub fn json<M: ContractMessage + Message>(answer: &M) -> Outcome {
    value(&json::of(answer)?)
}

/// Writes a JSON value.
pub fn value(value: &serde_json::Value) -> Outcome {
    line(&format!("{value:#}"))
}

/// Writes data as it is.
pub fn put(text: &str) -> Outcome {
    let mut out = std::io::stdout().lock();
    out.write_all(text.as_bytes()).and_then(|()| out.flush()).map_err(|error| match error.kind() {
        std::io::ErrorKind::BrokenPipe => Failure::ReaderLeft,
        _ => Failure::Usage(format!("standard output can't be written: {error}")),
    })
}

/// Writes a line of data.
pub fn line(text: &str) -> Outcome {
    put(&format!("{text}\n"))
}

/// Says something aside, on standard error.
pub fn note(text: &str) {
    // Nobody there to read it is no reason to fail.
    let _ = writeln!(std::io::stderr().lock(), "{text}");
}

/// Text from elsewhere without anything that a terminal would obey.
pub fn clean(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}

/// A text below a name, in a column of its own: broken between words, and never wider than the terminal.
pub fn beside(name: &str, column: usize, text: &str, width: Option<u16>) -> String {
    let room = width.map_or(usize::MAX, |width| usize::from(width).saturating_sub(column).max(20));
    let mut lines = vec![String::new()];
    for word in clean(text).split_whitespace() {
        let last = lines.last().map_or(0, |line| line.chars().count());
        match lines.last_mut() {
            Some(line) if last == 0 => line.push_str(word),
            Some(line) if last + 1 + word.chars().count() <= room => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    let names = std::iter::once(clean(name)).chain(std::iter::repeat(String::new()));
    lines.iter().zip(names).map(|(line, name)| format!("{name:<column$}{line}\n")).collect::<Vec<_>>().concat()
}

/// A table: words left, figures right.
#[derive(Debug)]
pub struct Table {
    what: &'static str,
    header: Vec<&'static str>,
    figures: Vec<usize>,
    rows: Vec<Vec<String>>,
}

impl Table {
    /// An empty table of these things. A column whose name ends in `#` holds figures.
    pub fn new(what: &'static str, header: &[&'static str]) -> Self {
        let figures = (0..header.len()).filter(|&column| header[column].ends_with('#')).collect();
        let header = header.iter().map(|name| name.trim_end_matches('#')).collect();
        Self { what, header, figures, rows: Vec::new() }
    }

    /// Adds a row.
    pub fn row<const N: usize>(&mut self, cells: [String; N]) {
        self.rows.push(cells.map(|cell| clean(&cell)).into());
    }

    /// Whether every row stands on one line of the terminal.
    pub fn fits(&self, out: Out) -> bool {
        let bare = self.render(Out { colour: false, width: None, ..out });
        out.width.is_none_or(|width| bare.lines().all(|line| line.chars().count() <= usize::from(width)))
    }

    /// How it looks: bare columns, wrapped to the terminal where there is one.
    pub fn render(&self, out: Out) -> String {
        let mut table = comfy_table::Table::new();
        table.load_style(presets::NOTHING);
        match out.width {
            Some(width) => table.set_content_arrangement(ContentArrangement::Dynamic).set_width(width),
            None => table.set_content_arrangement(ContentArrangement::Disabled),
        };
        if out.colour {
            table.enforce_styling();
        } else {
            table.force_no_tty();
        }
        table.set_header(self.header.iter().map(|name| {
            let cell = Cell::new(name.to_uppercase());
            if out.colour { cell.add_attribute(Attribute::Bold) } else { cell }
        }));
        for row in &self.rows {
            table.add_row(row);
        }
        for &column in &self.figures {
            if let Some(column) = table.column_mut(column) {
                column.set_cell_alignment(CellAlignment::Right);
            }
        }
        let mut text = String::new();
        for line in table.lines() {
            text.push_str(line.trim_end());
            text.push('\n');
        }
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_is_plain_when_nobody_looks() {
        let mut table = Table::new("bays", &["bay", "kg#"]);
        table.row(["lift-1".to_owned(), "3000".to_owned()]);
        table.row(["pit\u{1b}[31m".to_owned(), "40".to_owned()]);
        let text = table.render(Out { format: Format::Table, colour: false, width: None });
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!(lines.len(), 3);
        assert!(lines[0].contains("BAY") && lines[1].contains("lift-1") && lines[2].ends_with("  40"), "{text}");
        assert!(!text.contains('\u{1b}'), "an escape sequence got through");
    }

    #[test]
    fn a_text_beside_its_name_is_broken_between_words() {
        assert_eq!(beside("kept", 6, "tray: tray 2", None), "kept  tray: tray 2\n");
        let narrow = beside("  off", 8, "5 off, 1 missing before, repaired before", Some(30));
        assert_eq!(narrow, "  off   5 off, 1 missing\n        before, repaired\n        before\n");
    }

    #[test]
    fn a_table_is_wrapped_to_the_terminal() {
        let mut table = Table::new("steps", &["step", "what"]);
        table.row(["1".to_owned(), "loosen the bolts from the outside to the middle ".repeat(5)]);
        let text = table.render(Out { format: Format::Table, colour: false, width: Some(60) });
        assert!(text.lines().all(|line| line.chars().count() <= 60), "{text}");
    }
}
