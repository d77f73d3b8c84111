//! What the facts add up to, against what a database holds, cell by cell.

use crate::fold::Books;
use crate::tables::{Kept, Tables};
use leadhand_facts::Instant;
use leadhand_facts::rows::{self, TABLES};
use serde_json::{Map, Value, json};
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
    let mut differences = unknown_tables(actual);
    compare_each(expected.tables(), actual, &mut differences);
    differences
}

macro_rules! compare_each {
    ($($row:ident),+) => {
        fn compare_each(expected: &Tables, actual: &ActualRows, out: &mut Vec<Difference>) {
            $(compare_table::<rows::$row>(expected, actual, out);)+
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

fn compare_table<R: Kept>(expected: &Tables, actual: &ActualRows, out: &mut Vec<Difference>) {
    let Some(found) = actual.get(R::TABLE) else {
        out.push(difference(R::TABLE, Value::Null, "(table)", json!("a table that was read"), Value::Null));
        return;
    };
    let mut seen = BTreeSet::new();
    for raw in found {
        let row = match read::<R>(raw) {
            Ok(row) => row,
            Err(difference) => {
                out.push(*difference);
                continue;
            }
        };
        match expected.get::<R>(&row.key()) {
            Some(due) if seen.insert(row.key()) => compare_row(due, &row, raw, out),
            _ => out.push(difference(R::TABLE, json_of(&row.key()), WHOLE_ROW, Value::Null, raw.clone())),
        }
    }
    let missing = expected.rows::<R>().filter(|row| !seen.contains(&row.key()));
    out.extend(missing.map(|row| difference(R::TABLE, json_of(&row.key()), WHOLE_ROW, json_of(row), Value::Null)));
}

fn read<R: Kept>(raw: &Value) -> Result<R, Box<Difference>> {
    serde_json::from_value(raw.clone()).map_err(|error| {
        let due = json!(format!("a row that can be read ({error})"));
        Box::new(difference(R::TABLE, raw.clone(), WHOLE_ROW, due, raw.clone()))
    })
}

fn compare_row<R: Kept>(due: &R, row: &R, raw: &Value, out: &mut Vec<Difference>) {
    let (due_cells, read_cells, raw_cells) = (cells(&json_of(due)), cells(&json_of(row)), cells(raw));
    let columns: BTreeSet<&String> = due_cells.keys().chain(raw_cells.keys()).collect();
    for column in columns {
        let expected = due_cells.get(column);
        let found = raw_cells.get(column);
        let same = expected == found || same_instant(expected, found, read_cells.get(column));
        if !same {
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

fn cells(row: &Value) -> Map<String, Value> {
    row.as_object().cloned().unwrap_or_default()
}

fn difference(table: &str, key: Value, column: &str, expected: Value, found: Value) -> Difference {
    Difference { table: table.to_owned(), key, column: column.to_owned(), expected, found }
}

/// A row or key as JSON. What can't be written (an instant outside of the calendar) shows as the
/// reason, which equals no cell.
pub(crate) fn json_of<T: serde::Serialize>(value: &T) -> Value {
    serde_json::to_value(value).unwrap_or_else(|error| json!({ "can't be written": error.to_string() }))
}
