//! A cell that is wrong is found, in every column of every table.

use crate::kit::PERSON;
use crate::sample;
use leadhand_auditor::compare::{WHOLE_ROW, compare, read_rows, written};
use leadhand_auditor::{ActualRows, Books, Difference, Kept};
use leadhand_facts::rows;
use serde_json::{Value, json};

/// Values to put into a cell: one of them is of the column's type and differs from what is there.
fn candidates(cell: &Value) -> Vec<Value> {
    let words = [
        "2030-01-01T00:00:00Z",
        "00000000-0000-0000-0000-0000000000ff",
        "pit",
        "open",
        "pending",
        "lead",
        "work",
        "part",
        "moved",
        "mL",
        "bin",
        "viewer",
        "wait",
        "completed",
        "finished",
        "done",
        "tool",
        "job-ended",
        "pin",
        "badge",
        "bag",
        "loose",
        "g",
        "waste",
        "count",
        "scrap",
        "coolant",
        "coolant drained",
        "accept",
        "out-of-limits",
        "advice-declined",
        "x",
    ];
    let mut values = match cell {
        Value::Number(number) => vec![json!(number.as_i64().unwrap() + 1)],
        Value::Bool(value) => vec![json!(!value)],
        Value::Array(list) if !list.is_empty() => vec![json!([])],
        Value::Array(_) => vec![
            json!(["pit"]),
            json!([{ "word": "DANGER", "text": "x" }]),
            json!([{ "item": "x", "quantity": 1, "unit": "1" }]),
            json!(["spread"]),
            json!([{ "line": "x", "reason": crate::kit::text(9).id, "by": null }]),
        ],
        Value::Object(fields) if fields.is_empty() => vec![json!({ "hold": { "what": "x", "second": true } })],
        Value::Object(fields) => fields.keys().map(|key| with_other(fields, key)).collect(),
        Value::Null => vec![json!(1), json!(true)],
        Value::String(_) => Vec::new(),
    };
    values.extend(words.map(|word| json!(word)));
    values.push(json!([PERSON]));
    values.push(json!([{ "stage": "other", "why": "no-time" }]));
    values.retain(|value| value != cell);
    values
}

/// An object with another value of one field.
fn with_other(fields: &serde_json::Map<String, Value>, key: &str) -> Value {
    let mut other = fields.clone();
    let inner = fields[key].as_object().and_then(|inner| Some(with_other(inner, inner.keys().next()?)));
    let plain = || fields[key].as_i64().map_or_else(|| json!("something else"), |number| json!(number + 1));
    let wrong = inner.unwrap_or_else(plain);
    other.insert(key.to_owned(), wrong);
    Value::Object(other)
}

/// Corrupts each cell of one table in turn.
fn corrupt<R: Kept>(books: &Books) {
    let sound = written(books.tables());
    let rows = &sound[R::TABLE];
    assert!(!rows.is_empty(), "the sample has no row in {}", R::TABLE);
    for (index, row) in rows.iter().enumerate() {
        for (column, cell) in row.as_object().unwrap() {
            let good: R = serde_json::from_value(row.clone()).unwrap();
            let (wrong, read) = candidates(cell)
                .into_iter()
                .find_map(|candidate| {
                    let mut wrong = row.clone();
                    wrong[column] = candidate;
                    serde_json::from_value::<R>(wrong.clone()).ok().map(|read| (wrong, read))
                })
                .unwrap_or_else(|| panic!("no other value for {}.{column} = {cell}", R::TABLE));
            let mut actual = sound.clone();
            actual.get_mut(R::TABLE).unwrap()[index] = wrong.clone();
            let found = compare(books, &actual);
            let about = |key: R::Key, column: &str, expected: &Value, found: &Value| Difference {
                table: R::TABLE.to_owned(),
                key: serde_json::to_value(key).unwrap(),
                column: column.to_owned(),
                expected: expected.clone(),
                found: found.clone(),
            };
            let due = if read.key() == good.key() {
                vec![about(good.key(), column, cell, &wrong[column])]
            } else {
                let surplus = about(read.key(), WHOLE_ROW, &Value::Null, &wrong);
                vec![surplus, about(good.key(), WHOLE_ROW, row, &Value::Null)]
            };
            let other_row_has_the_key = read.key() != good.key()
                && rows.iter().any(|other| serde_json::from_value::<R>(other.clone()).unwrap().key() == read.key());
            if other_row_has_the_key {
                assert!(found.iter().any(|difference| difference.key == json!(good.key())), "{found:?}");
            } else {
                assert_eq!(found, due, "{}.{column}", R::TABLE);
            }
        }
    }
}

macro_rules! corrupt_each {
    ($($row:ident),+) => {
        #[test]
        fn every_cell_of_every_table_is_compared() {
            let books = sample::journal().books();
            $(corrupt::<rows::$row>(&books);)+
        }
    };
}
leadhand_facts::each_row!(corrupt_each);

fn sample_rows() -> (Books, ActualRows) {
    let books = sample::journal().books();
    let actual = written(books.tables());
    (books, actual)
}

#[test]
fn equal_rows_do_not_differ_in_whatever_order_they_come() {
    let (books, mut actual) = sample_rows();
    for rows in actual.values_mut() {
        rows.reverse();
    }
    assert_eq!(compare(&books, &actual), []);
    let (tables, unread) = read_rows(&actual);
    assert_eq!((&tables, unread), (books.tables(), Vec::new()));
}

#[test]
fn timestamps_may_be_written_as_a_database_writes_them() {
    let (books, mut actual) = sample_rows();
    let stays = actual.get_mut("stay").unwrap();
    assert_eq!(stays[0]["from_at"], json!("2026-03-02T08:10:00Z"));
    stays[0]["from_at"] = json!("2026-03-02T09:10:00.000000+01:00");
    assert_eq!(compare(&books, &actual), []);
    actual.get_mut("stay").unwrap()[0]["from_at"] = json!("2026-03-02T08:10:00.000001+00:00");
    assert_eq!(compare(&books, &actual).len(), 1);
}

/// Columns of the differences after the rows of one table were changed.
fn columns_after(table: &str, change: impl Fn(&mut Vec<Value>)) -> Vec<(String, Value, Value)> {
    let (books, mut actual) = sample_rows();
    change(actual.get_mut(table).unwrap());
    let found = compare(&books, &actual);
    assert!(found.iter().all(|difference| difference.table == table), "{found:?}");
    found.into_iter().map(|difference| (difference.column, difference.expected, difference.found)).collect()
}

#[test]
fn rows_and_columns_that_are_missing_or_too_many_are_found() {
    let (_, sound) = sample_rows();
    let (first, whole) = (sound["bay"][0].clone(), WHOLE_ROW.to_owned());
    assert_eq!(columns_after("bay", Vec::clear), [(whole.clone(), first.clone(), Value::Null)]);
    let twice = columns_after("bay", |rows| rows.push(rows[0].clone()));
    assert_eq!(twice, [(whole.clone(), Value::Null, first.clone())]);
    let without = columns_after("job", |rows| drop(rows[0].as_object_mut().unwrap().remove("reason")));
    assert_eq!(without, [("reason".to_owned(), Value::Null, json!("no such column"))]);
    let surplus = columns_after("bay", |rows| rows[0]["colour"] = json!("red"));
    assert_eq!(surplus, [("colour".to_owned(), json!("no such column"), json!("red"))]);
    let inside = columns_after("template_revision", |rows| rows[0]["doc"]["colour"] = json!("red"));
    assert_eq!(inside[0].0, "doc");
}

#[test]
fn a_row_that_can_t_be_read_is_found() {
    let found = columns_after("bay", |rows| rows[0]["kind"] = json!("hoist"));
    let (column, expected, row) = &found[0];
    assert_eq!(column, WHOLE_ROW);
    assert!(expected.as_str().unwrap().contains("unknown variant `hoist`"), "{expected}");
    assert_eq!(row["kind"], "hoist");
    assert_eq!(found.len(), 2, "the row that should be there is missing");
}

#[test]
fn tables_that_were_not_read_or_are_unknown_are_found() {
    let (books, mut actual) = sample_rows();
    let rows = actual.remove("hold").unwrap();
    actual.insert("holds".to_owned(), rows);
    let found: Vec<(String, String)> =
        compare(&books, &actual).into_iter().map(|difference| (difference.table, difference.column)).collect();
    let table = |name: &str| (name.to_owned(), "(table)".to_owned());
    assert_eq!(found, [table("holds"), table("hold")]);
    let shown = compare(&books, &actual)[1].to_string();
    assert!(shown.starts_with("table 'hold', key null, column '(table)': the facts add up to"), "{shown}");
}
