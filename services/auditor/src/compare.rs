//! What the facts add up to, against what a database holds, cell by cell.

use crate::fold::Books;
use crate::tables::{Kept, Tables};
use leadhand_facts::rows::{self, Row, StepRow, TABLES};
use leadhand_facts::{Instant, JobNo};
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};

/// The rows of one shop as read from a database: table name to rows, columns by name. A table
/// that was read and is empty has an empty list.
pub type ActualRows = BTreeMap<String, Vec<Value>>;

/// The column of a difference that is about a whole row.
pub const WHOLE_ROW: &str = "(row)";

/// A cell, or a whole row, that is not what the facts add up to.
#[derive(Debug, Clone, PartialEq)]
pub struct Difference {
    /// The table.
    pub table: String,
    /// The row's key as a JSON array; the row itself when its key can't be read.
    pub key: Value,
    /// The column, or [`WHOLE_ROW`].
    pub column: String,
    /// What the facts add up to; null for a row that should not be there.
    pub expected: Value,
    /// What was found; null for a row that is not there.
    pub found: Value,
}

impl std::fmt::Display for Difference {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self { table, key, column, expected, found } = self;
        write!(f, "table '{table}', key {key}, column '{column}': the facts add up to {expected}, found {found}")
    }
}

/// Every difference between what the facts add up to and the rows found, table by table.
///
/// Missing rows, surplus rows, rows that can't be read, columns that are missing or unknown,
/// tables that are unknown or were not read: each is a difference. A timestamp may be written in
/// any form of RFC 3339; everything else has to be the same value.
pub fn compare(expected: &Books, actual: &ActualRows) -> Vec<Difference> {
    let mut comparing = Comparing::of(expected.tables().clone());
    comparing.differences = unknown_tables(actual);
    for (table, rows) in actual {
        for row in rows {
            comparing.row(table, row);
        }
        comparing.table_over(table);
    }
    comparing.end()
}

/// The same row by row, for what does not fit into memory beside the books.
#[derive(Debug)]
pub struct Comparing {
    /// What was not found yet.
    left: Tables,
    read: BTreeSet<String>,
    differences: Vec<Difference>,
}

impl Comparing {
    /// What the facts add up to.
    pub fn of(expected: Tables) -> Self {
        Self { left: expected, read: BTreeSet::new(), differences: Vec::new() }
    }

    /// All that was found, with what was not read at all.
    pub fn end(mut self) -> Vec<Difference> {
        unread_each(&mut self);
        self.differences
    }
}

macro_rules! compare_each {
    ($($row:ident),+) => {
        impl Comparing {
            /// Takes a row as a database gives it. Of one table after the other, and steps in the order of jobs.
            pub fn row(&mut self, table: &str, raw: &Value) {
                $(if table == <rows::$row as rows::Row>::TABLE {
                    return take_row::<rows::$row>(&mut self.left, raw, &mut self.differences);
                })+
            }

            /// Every row of a table was taken: what is left of it is missing.
            pub fn table_over(&mut self, table: &str) {
                self.read.insert(table.to_owned());
                $(if table == <rows::$row as rows::Row>::TABLE {
                    return missing::<rows::$row>(&mut self.left, &mut self.differences);
                })+
            }
        }

        fn unread_each(comparing: &mut Comparing) {
            $(if !comparing.read.contains(<rows::$row as rows::Row>::TABLE) {
                let table = <rows::$row as rows::Row>::TABLE;
                let due = json!("a table that was read");
                comparing.differences.push(difference(table, Value::Null, "(table)", due, Value::Null));
            })+
        }
    };
}
leadhand_facts::each_row!(compare_each);

macro_rules! read_each {
    ($($row:ident),+) => {
        /// Rows read from a database as tables, so that the laws can be proved over them, and
        /// what could not be read.
        pub fn read_rows(actual: &ActualRows) -> (Tables, Vec<Difference>) {
            let mut tables = Tables::default();
            let mut differences = unknown_tables(actual);
            $(for found in actual.get(<rows::$row as rows::Row>::TABLE).into_iter().flatten() {
                match read::<rows::$row>(found) {
                    Ok(row) => { tables.put(row); }
                    Err(difference) => differences.push(*difference),
                }
            })+
            (tables, differences)
        }
    };
}
leadhand_facts::each_row!(read_each);

macro_rules! write_each {
    ($($row:ident),+) => {
        /// Tables as rows in the form in which a database gives them.
        pub fn written(tables: &Tables) -> ActualRows {
            let mut actual = ActualRows::new();
            $(actual.insert(
                <rows::$row as rows::Row>::TABLE.to_owned(),
                tables.rows::<rows::$row>().map(json_of).collect(),
            );)+
            actual
        }
    };
}
leadhand_facts::each_row!(write_each);

fn unknown_tables(actual: &ActualRows) -> Vec<Difference> {
    let unknown = actual.keys().filter(|table| !TABLES.contains(&table.as_str()));
    unknown.map(|table| difference(table, Value::Null, "(table)", Value::Null, json!("an unknown table"))).collect()
}

fn take_row<R: Kept>(left: &mut Tables, raw: &Value, out: &mut Vec<Difference>) {
    let row = match read::<R>(raw) {
        Ok(row) => row,
        Err(difference) => {
            out.push(*difference);
            return;
        }
    };
    if R::TABLE == StepRow::TABLE
        && let Some(job) = raw.get("job").and_then(Value::as_i64)
    {
        left.unpack_steps(JobNo(job));
    }
    // A second row of the same key finds nothing, like one that should not be there.
    match left.remove::<R>(&row.key()) {
        Some(due) => compare_row(&due, &row, raw, out),
        None => out.push(difference(R::TABLE, json_of(&row.key()), WHOLE_ROW, Value::Null, raw.clone())),
    }
}

fn missing<R: Kept>(left: &mut Tables, out: &mut Vec<Difference>) {
    if R::TABLE == StepRow::TABLE {
        left.unpack_all();
    }
    let rows = std::mem::take(R::of_mut(left)).into_values();
    out.extend(rows.map(|row| difference(R::TABLE, json_of(&row.key()), WHOLE_ROW, json_of(&row), Value::Null)));
}

fn read<R: Kept>(raw: &Value) -> Result<R, Box<Difference>> {
    R::deserialize(raw).map_err(|error| {
        let due = json!(format!("a row that can be read ({error})"));
        Box::new(difference(R::TABLE, raw.clone(), WHOLE_ROW, due, raw.clone()))
    })
}

fn compare_row<R: Kept>(due: &R, row: &R, raw: &Value, out: &mut Vec<Difference>) {
    let written = json_of(due);
    let (Some(due_cells), Some(raw_cells)) = (written.as_object(), raw.as_object()) else {
        out.push(difference(R::TABLE, json_of(&due.key()), WHOLE_ROW, written.clone(), raw.clone()));
        return;
    };
    // Written only where a cell differs, in the way of writing a time mostly.
    let mut read_cells: Option<Value> = None;
    let surplus = raw_cells.keys().filter(|column| !due_cells.contains_key(*column));
    for column in due_cells.keys().chain(surplus) {
        let (expected, found) = (due_cells.get(column), raw_cells.get(column));
        if expected == found {
            continue;
        }
        let read_cells = read_cells.get_or_insert_with(|| json_of(row));
        if !same_instant(expected, found, read_cells.get(column)) {
            let shown = |cell: Option<&Value>| cell.cloned().unwrap_or_else(|| json!("no such column"));
            out.push(difference(R::TABLE, json_of(&due.key()), column, shown(expected), shown(found)));
        }
    }
}

/// Whether a cell differs in the way of writing a timestamp only. Values are compared as found,
/// not as read, because reading drops what a row type has no place for.
fn same_instant(expected: Option<&Value>, found: Option<&Value>, read: Option<&Value>) -> bool {
    let moment = |cell: Option<&Value>| cell?.as_str().and_then(|text| Instant::parse(text).ok());
    expected == read && moment(expected).is_some() && moment(expected) == moment(found)
}

fn difference(table: &str, key: Value, column: &str, expected: Value, found: Value) -> Difference {
    Difference { table: table.to_owned(), key, column: column.to_owned(), expected, found }
}

/// A row or key as JSON. What can't be written (an instant outside of the calendar) shows as the
/// reason, which equals no cell.
pub(crate) fn json_of<T: serde::Serialize>(value: &T) -> Value {
    serde_json::to_value(value).unwrap_or_else(|error| json!({ "can't be written": error.to_string() }))
}
