//! A derived table as CSV (RFC 4180): columns by name, and beside each one that refers to words, the words.

use leadhand_facts::text::TextBody;
use serde_json::Value;
use std::cmp::Ordering;
use std::collections::{BTreeMap, BTreeSet};
use std::fs::File;

/// What the name of a column of words ends with.
const WORDS: &str = "_words";

/// Columns that are of use to nobody who counts, and to whoever guesses: a slow hash of six digits is soon tried.
const SECRET: [&str; 2] = ["secret", "hash"];

/// Words by the id of their text.
pub(super) struct Words(BTreeMap<String, String>);

impl Words {
    /// Those that were not erased.
    pub fn of(texts: &[TextBody]) -> Self {
        Self(texts.iter().map(|text| (text.id.to_string(), text.body.clone())).collect())
    }

    fn get(&self, value: &Value) -> Option<&str> {
        self.0.get(value.as_str()?).map(String::as_str)
    }
}

/// Writes rows, in the order of what they hold.
pub(super) fn write(file: File, mut rows: Vec<Value>, words: &Words) -> anyhow::Result<()> {
    let columns: BTreeSet<String> =
        rows.iter().filter_map(Value::as_object).flat_map(|row| row.keys().cloned()).collect();
    let columns: BTreeSet<String> = columns.into_iter().filter(|column| !SECRET.contains(&column.as_str())).collect();
    let spoken: Vec<&String> =
        columns.iter().filter(|c| rows.iter().any(|row| words.get(&row[*c]).is_some())).collect();
    let cells = |row: &Value| columns.iter().map(|column| row[column].clone()).collect::<Vec<_>>();
    rows.sort_by(|one, other| {
        let pairs = cells(one).into_iter().zip(cells(other));
        pairs.map(|(one, other)| order(&one, &other)).find(|found| found.is_ne()).unwrap_or(Ordering::Equal)
    });
    let mut out = csv::Writer::from_writer(file);
    if !columns.is_empty() {
        out.write_record(columns.iter().cloned().chain(spoken.iter().map(|column| format!("{column}{WORDS}"))))?;
    }
    for row in &rows {
        let plain = columns.iter().map(|column| cell(&row[column]));
        let said = spoken.iter().map(|column| as_words(words.get(&row[*column]).unwrap_or_default()));
        out.write_record(plain.chain(said))?;
    }
    Ok(out.flush()?)
}

/// A text that a spreadsheet would take for a formula begins with an apostrophe, which it does not show. (OWASP, "CSV
/// Injection".)
fn as_words(words: &str) -> String {
    let formula = words.starts_with(['=', '+', '-', '@', '\t', '\r', '\n']);
    if formula { format!("'{words}") } else { words.to_owned() }
}

fn cell(value: &Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::String(text) => as_words(text),
        other => other.to_string(),
    }
}

/// Numbers by their size, everything else by how it is written.
fn order(one: &Value, other: &Value) -> Ordering {
    match (one.as_i64(), other.as_i64()) {
        (Some(one), Some(other)) => one.cmp(&other),
        _ => cell(one).cmp(&cell(other)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use leadhand_facts::TextId;
    use serde_json::json;

    #[test]
    fn rows_come_in_order_with_their_words_beside_them() {
        let text = |n: u128, body: &str| TextBody {
            id: TextId(uuid::Uuid::from_u128(n)),
            salt: String::new(),
            body: body.to_owned(),
        };
        let texts = [text(1, "=HYPERLINK(\"x\")"), text(2, "says \"no\", twice")];
        let id = |n: usize| texts[n].id.to_string();
        let rows = vec![
            json!({ "job": 10, "note": id(1), "skills": ["a", "b"], "until": null }),
            json!({ "job": 9, "note": id(0), "skills": [], "until": null, "name": "-2+3", "secret": "x", "hash": "y" }),
        ];
        let file = tempfile::NamedTempFile::new().unwrap();
        write(file.reopen().unwrap(), rows, &Words::of(&texts)).unwrap();
        let written = std::fs::read_to_string(file.path()).unwrap();
        let expected = format!(
            "job,name,note,skills,until,note_words\n9,'-2+3,{},[],,\"'=HYPERLINK(\"\"x\"\")\"\n\
             10,,{},\"[\"\"a\"\",\"\"b\"\"]\",,\"says \"\"no\"\", twice\"\n",
            id(0),
            id(1)
        );
        assert_eq!(written, expected);
    }
}
