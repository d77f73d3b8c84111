//! Tables: words left, figures right. What does not fit beside each other on the terminal stands below its row, so that
//! no column becomes a stack of half words.

use crate::fit::{width_of, wrapped};
use crate::out::clean;

/// Between two columns.
const GAP: usize = 2;
/// Before the first one.
const EDGE: usize = 1;
/// Before what stands below a row.
const BELOW: usize = 6;
/// The most lines that a row of columns takes before its last columns go below it.
const LINES_MAX: usize = 2;

/// A table: words left, figures right.
#[derive(Debug)]
pub struct Table {
    empty: String,
    header: Vec<&'static str>,
    figures: Vec<bool>,
    rows: Vec<Vec<String>>,
}

/// Which columns stand beside each other and how wide they are; the others stand below.
struct Layout {
    beside: Vec<(usize, usize)>,
    below: Vec<usize>,
}

impl Table {
    /// An empty table of these things. A column whose name ends in `#` holds figures.
    pub fn new(what: &str, header: &[&'static str]) -> Self {
        let figures = header.iter().map(|name| name.ends_with('#')).collect();
        let header = header.iter().map(|name| name.trim_end_matches('#')).collect();
        Self { empty: format!("no {what} to show"), header, figures, rows: Vec::new() }
    }

    /// What is said when it has no row: that there is nothing, and what to do.
    pub fn when_empty(self, sentence: impl Into<String>) -> Self {
        Self { empty: sentence.into(), ..self }
    }

    /// What is to be said in its place, when it has no row.
    pub fn nothing(&self) -> Option<&str> {
        self.rows.is_empty().then_some(self.empty.as_str())
    }

    /// Adds a row.
    pub fn row<const N: usize>(&mut self, cells: [String; N]) {
        self.rows.push(cells.map(|cell| clean(&cell)).into());
    }

    /// Adds a row of as many cells as the header has.
    pub fn row_of(&mut self, cells: impl IntoIterator<Item = String>) {
        self.rows.push(cells.into_iter().map(|cell| clean(&cell)).collect());
    }

    /// Whether every row stands on one line of the terminal.
    pub fn fits(&self, width: Option<usize>) -> bool {
        width.is_none_or(|width| self.render(None, false).lines().all(|line| width_of(line) <= width))
    }

    /// How it looks: bare columns, fitted to the terminal where there is one.
    pub fn render(&self, width: Option<usize>, bold: bool) -> String {
        let layout = self.layout(width);
        let header: Vec<String> = self.header.iter().map(|name| name.to_uppercase()).collect();
        let mut text = String::new();
        for line in self.lines(&header, &layout) {
            let line = if bold { format!("\u{1b}[1m{line}\u{1b}[0m") } else { line };
            text.push_str(&line);
            text.push('\n');
        }
        for row in &self.rows {
            for line in self.lines(row, &layout).into_iter().chain(self.details(row, &layout, width)) {
                text.push_str(&line);
                text.push('\n');
            }
        }
        text
    }

    /// A row's columns, line by line.
    fn lines(&self, cells: &[String], layout: &Layout) -> Vec<String> {
        let wrapped: Vec<Vec<String>> =
            layout.beside.iter().map(|(column, width)| wrapped(&cells[*column], *width)).collect();
        let height = wrapped.iter().map(Vec::len).max().unwrap_or_default();
        let line = |at: usize| {
            let mut line = " ".repeat(EDGE);
            for ((column, width), parts) in layout.beside.iter().zip(&wrapped) {
                let part = parts.get(at).map_or("", String::as_str);
                let space = " ".repeat(width.saturating_sub(width_of(part)));
                let gap = " ".repeat(GAP);
                let cell = if self.figures[*column] { [&space, part, &gap] } else { [part, &space, &gap] };
                line.push_str(&cell.concat());
            }
            line.trim_end().to_owned()
        };
        (0..height).map(line).collect()
    }

    /// What stands below a row.
    fn details(&self, cells: &[String], layout: &Layout, width: Option<usize>) -> Vec<String> {
        let said = layout.below.iter().filter(|column| !cells[**column].is_empty());
        let said: Vec<String> = said.map(|column| format!("{}: {}", self.header[*column], cells[*column])).collect();
        if said.is_empty() {
            return Vec::new();
        }
        let room = width.unwrap_or(usize::MAX).saturating_sub(BELOW).max(1);
        wrapped(&said.join("; "), room).into_iter().map(|line| format!("{}{line}", " ".repeat(BELOW))).collect()
    }

    fn layout(&self, width: Option<usize>) -> Layout {
        let all: Vec<usize> = (0..self.header.len()).collect();
        let natural: Vec<usize> = all.iter().map(|column| self.natural(*column)).collect();
        let whole =
            Layout { beside: all.iter().map(|column| (*column, natural[*column])).collect(), below: Vec::new() };
        let Some(width) = width else { return whole };
        if room(width, all.len()).is_some_and(|room| natural.iter().sum::<usize>() <= room) {
            return whole;
        }
        // A column in which nothing is said takes no room where there is none to spare.
        let said = |column: &usize| *column == 0 || self.rows.iter().any(|row| !row[*column].is_empty());
        let all: Vec<usize> = all.into_iter().filter(said).collect();
        for count in (1..=all.len()).rev() {
            let (beside, below) = all.split_at(count);
            if let Some(beside) = self.fitted(beside, width, &natural) {
                return Layout { beside, below: below.to_vec() };
            }
        }
        let alone = width.saturating_sub(EDGE).max(1);
        Layout { beside: all.iter().take(1).map(|column| (*column, alone)).collect(), below: all[1..].to_vec() }
    }

    /// The widths of these columns if they fit beside each other without a row growing too high or a word being broken.
    fn fitted(&self, columns: &[usize], width: usize, natural: &[usize]) -> Option<Vec<(usize, usize)>> {
        let room = room(width, columns.len())?;
        let least: Vec<usize> = columns.iter().map(|column| self.least(*column)).collect();
        let mut widths = (1..=LINES_MAX).find_map(|lines| {
            let want: Vec<usize> = columns
                .iter()
                .zip(&least)
                .map(|(column, least)| natural[*column].div_ceil(lines).max(*least))
                .collect();
            (want.iter().sum::<usize>() <= room).then_some(want)
        })?;
        // What is left over goes to whoever is most pressed.
        for _ in widths.iter().sum::<usize>()..room {
            let pressed = |at: &usize| {
                let natural = natural[columns[*at]];
                (natural > widths[*at]).then(|| (natural.div_ceil(widths[*at].max(1)), natural - widths[*at]))
            };
            let Some(most) = (0..widths.len()).filter(|at| pressed(at).is_some()).max_by_key(pressed) else { break };
            widths[most] += 1;
        }
        let beside: Vec<(usize, usize)> = columns.iter().copied().zip(widths).collect();
        let high =
            |row: &Vec<String>| beside.iter().any(|(column, width)| wrapped(&row[*column], *width).len() > LINES_MAX);
        (!self.rows.iter().any(high)).then_some(beside)
    }

    fn cells(&self, column: usize) -> impl Iterator<Item = &str> {
        std::iter::once(self.header[column]).chain(self.rows.iter().map(move |row| row[column].as_str()))
    }

    fn natural(&self, column: usize) -> usize {
        self.cells(column).map(width_of).max().unwrap_or_default()
    }

    /// The width in which no word is broken, and no figure and no time is torn apart.
    fn least(&self, column: usize) -> usize {
        let whole = |cell: &str| {
            self.figures[column]
                || cell.len() <= "2031-03-03 14:30".len() && cell.starts_with(|c: char| c.is_ascii_digit())
        };
        let least = |cell: &str| {
            if whole(cell) { width_of(cell) } else { cell.split(' ').map(width_of).max().unwrap_or_default() }
        };
        let header = self.header[column].split(' ').map(width_of).max().unwrap_or_default();
        self.rows.iter().map(|row| least(&row[column])).max().unwrap_or_default().max(header)
    }
}

/// What so many columns have together.
fn room(width: usize, columns: usize) -> Option<usize> {
    width.checked_sub(EDGE + GAP * columns.saturating_sub(1)).filter(|room| *room > 0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::width_of;

    #[test]
    fn a_table_is_plain_when_nobody_looks() {
        let mut table = Table::new("bays", &["bay", "kg#"]);
        table.row(["lift-1".to_owned(), "3000".to_owned()]);
        table.row(["pit\u{1b}[31m".to_owned(), "40".to_owned()]);
        let text = table.render(None, false);
        assert_eq!(text, " BAY         KG\n lift-1    3000\n pit [31m    40\n");
    }

    fn jobs() -> Table {
        let mut table =
            Table::new("jobs", &["job#", "vehicle", "title", "state", "bay", "plate", "promised", "template"]);
        let row = |job: &str, vehicle: &str, title: &str, bay: &str, promised: &str| {
            let template = "head-gasket-20, revision 1";
            [job, vehicle, title, "open", bay, "", promised, template].map(str::to_owned)
        };
        table.row(row("1", "green estate", "Head gasket and head, 2.0 petrol", "lift-1", "2031-03-06 17:00"));
        table.row(row("12", "grey hatchback", "Rattle under load, find and mend", "outside", ""));
        table
    }

    #[test]
    fn where_there_is_room_everything_stands_side_by_side() {
        let text = jobs().render(Some(140), false);
        assert_eq!(text.lines().count(), 3, "{text}");
        assert!(text.contains("PLATE"), "{text}");
    }

    /// At 80 columns times and keys stay whole, what is said nowhere is left out, and the rest stands below its row.
    #[test]
    fn what_does_not_fit_stands_below_its_row() {
        let text = jobs().render(Some(80), false);
        assert!(text.lines().all(|line| width_of(line) <= 80), "{text}");
        for whole in ["2031-03-06 17:00", "head-gasket-20", "hatchback", "template: head-gasket-20, revision 1"] {
            assert!(text.contains(whole), "{whole}:\n{text}");
        }
        assert!(!text.contains(" PLATE") && !text.contains(" plate"), "{text}");
    }

    /// Whatever the width, no line is wider and every word is there.
    #[test]
    fn nothing_is_lost_and_nothing_is_too_wide_at_any_width() {
        for width in 40..160 {
            let text = jobs().render(Some(width), false);
            assert!(text.lines().all(|line| width_of(line) <= width), "{width}:\n{text}");
            for word in ["estate", "gasket", "petrol", "Rattle", "mend", "outside", "17:00", "head-gasket-20,"] {
                assert!(text.contains(word), "{width} {word}:\n{text}");
            }
        }
    }

    #[test]
    fn a_long_text_is_wrapped_and_never_becomes_a_tower() {
        let mut table = Table::new("steps", &["step#", "what", "who"]);
        table.row(["1".to_owned(), "loosen the bolts from the outside to the middle. ".repeat(5), "Moss".to_owned()]);
        let text = table.render(Some(60), false);
        assert!(text.lines().all(|line| width_of(line) <= 60), "{text}");
        let words: Vec<&str> = text.split_whitespace().collect();
        assert!(words.join(" ").ends_with("who: Moss"), "{text}");
    }

    #[test]
    fn the_header_alone_is_bold() {
        let mut table = Table::new("bays", &["bay"]);
        table.row(["lift-1".to_owned()]);
        assert_eq!(table.render(Some(80), true), "\u{1b}[1m BAY\u{1b}[0m\n lift-1\n");
    }
}
