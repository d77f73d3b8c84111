//! Faults of a template file, and where they stand in it.

use std::collections::BTreeSet;

/// Most faults that are told at once; a file with more is better read again after some are gone.
pub const FAULTS_MAX: usize = 200;

/// A place in a template file, counted from 1; columns count characters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Position {
    /// The line.
    pub line: usize,
    /// The column.
    pub column: usize,
}

/// Something wrong in a template file.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Fault {
    /// The line, counted from 1.
    pub line: usize,
    /// The column, counted from 1 in characters.
    pub column: usize,
    /// What is wrong, and what to do.
    pub message: String,
}

impl std::fmt::Display for Fault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "line {}, column {}: {}", self.line, self.column, self.message)
    }
}

/// Where lines begin, to turn offsets into positions.
pub(super) struct Lines<'t> {
    text: &'t str,
    starts: Vec<usize>,
}

impl<'t> Lines<'t> {
    pub(super) fn of(text: &'t str) -> Self {
        let after_breaks = text.match_indices('\n').map(|(at, _)| at + 1);
        Self { text, starts: std::iter::once(0).chain(after_breaks).collect() }
    }

    fn line(&self, offset: usize) -> usize {
        self.starts.partition_point(|start| *start <= offset)
    }

    pub(super) fn position(&self, offset: usize) -> Position {
        let line = self.line(offset);
        let before = self.text.as_bytes().get(self.starts[line - 1]..offset).unwrap_or_default();
        // Every byte that is not a continuation byte begins a character.
        let column = before.iter().filter(|byte| (**byte & 0xC0) != 0x80).count() + 1;
        Position { line, column }
    }
}

/// The faults found so far.
pub(super) struct Faults<'t> {
    lines: Lines<'t>,
    list: Vec<Fault>,
    left_off: usize,
    /// Lines that TOML itself could not read. What follows from them is not told as well.
    broken: BTreeSet<usize>,
}

impl<'t> Faults<'t> {
    pub(super) fn of(text: &'t str) -> Self {
        Self { lines: Lines::of(text), list: Vec::new(), left_off: 0, broken: BTreeSet::new() }
    }

    /// The file is not TOML here. One such fault a line is enough: the rest follow from it.
    pub(super) fn syntax(&mut self, offset: usize, message: &str) {
        if self.broken.insert(self.lines.line(offset)) {
            self.add(offset, format!("this is not valid TOML: {message}"));
        }
    }

    /// Something that is written is wrong.
    pub(super) fn at(&mut self, offset: usize, message: String) {
        let recovered = !self.broken.is_empty() && offset == 0;
        if !recovered && !self.broken.contains(&self.lines.line(offset)) {
            self.add(offset, message);
        }
    }

    /// Something is not there. It may well be on a line that could not be read, so while there
    /// are such lines nothing is said.
    pub(super) fn absent(&mut self, offset: usize, message: String) {
        if self.broken.is_empty() {
            self.add(offset, message);
        }
    }

    /// Whether there is room for another; what is costly to word can be left out when not.
    pub(super) fn has_room(&self) -> bool {
        self.list.len() < FAULTS_MAX
    }

    pub(super) fn is_empty(&self) -> bool {
        self.list.is_empty()
    }

    pub(super) fn line_of(&self, offset: usize) -> usize {
        self.lines.line(offset)
    }

    pub(super) fn position(&self, offset: usize) -> Position {
        self.lines.position(offset)
    }

    /// All of them in the order of the file.
    pub(super) fn sorted(mut self) -> Vec<Fault> {
        self.list.sort();
        self.list.dedup();
        if let (Some(last), true) = (self.list.last().cloned(), self.left_off > 0) {
            let message = format!("{} more faults are not shown; mend these first and check again", self.left_off);
            self.list.push(Fault { message, ..last });
        }
        self.list
    }

    fn add(&mut self, offset: usize, message: String) {
        if self.has_room() {
            let Position { line, column } = self.lines.position(offset);
            self.list.push(Fault { line, column, message });
        } else {
            self.left_off += 1;
        }
    }
}
