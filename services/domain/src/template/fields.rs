//! Reading the fields of one table: which are there, of which type, and where they stand.

use super::fault::Faults;
use super::nearest::suggestion;
use leadhand_facts::is_key;
use leadhand_facts::text::TEXT_MAX;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Most entries of a list within a stage or step.
pub const LIST_MAX: usize = 100;

/// A value of the document with its span.
pub(super) type Value<'i> = Spanned<DeValue<'i>>;

/// Whether a text is a single line, or may have several and tabs, as a free text typed for a job may.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Shape {
    Line,
    Paragraph,
}

/// The fields of one table.
pub(super) struct Fields<'d, 'i> {
    table: &'d DeTable<'i>,
    /// Where the table begins.
    pub(super) at: usize,
    /// What it describes, for messages: `stage 'drain'`.
    pub(super) what: String,
}

impl<'d, 'i> Fields<'d, 'i> {
    pub(super) fn of(table: &'d DeTable<'i>, at: usize, what: String) -> Self {
        Self { table, at, what }
    }

    /// The fields of a value that has to be a table.
    pub(super) fn of_value(value: &'d Value<'i>, what: String, faults: &mut Faults<'_>) -> Option<Self> {
        let at = value.span().start;
        let table = value.get_ref().as_table();
        if table.is_none() {
            faults.at(at, format!("{what} must be a table of fields, but it is {}", type_of(value)));
        }
        table.map(|table| Self::of(table, at, what))
    }

    /// Says which fields have no meaning here.
    pub(super) fn only(&self, known: &[&'static str], faults: &mut Faults<'_>) {
        for (name, _) in self.table {
            let (at, name) = (name.span().start, name.get_ref().as_ref());
            if !known.contains(&name) {
                // A wait is the field that is looked for most often in the wrong place.
                let near = if name == "wait" && known.contains(&"after") {
                    "; a wait stands with what it comes after: after = [{ stage = \"…\", wait = 30 }]".to_owned()
                } else {
                    suggestion(name, known.iter().copied())
                };
                let list = known.join(", ");
                let shown = shorten(name);
                faults.at(at, format!("{} has no field '{shown}'{near}; its fields are {list}", self.what));
            }
        }
    }

    pub(super) fn find(&self, name: &str) -> Option<&'d Value<'i>> {
        self.table.iter().find(|(key, _)| key.get_ref() == name).map(|(_, value)| value)
    }

    /// Where the value of a field stands; where all of it begins when it is not there.
    pub(super) fn place(&self, name: &str) -> usize {
        self.find(name).map_or(self.at, |value| value.span().start)
    }

    /// A field that must be there; `example` is how to write it.
    pub(super) fn required(&self, name: &str, example: &str, faults: &mut Faults<'_>) -> Option<&'d Value<'i>> {
        let found = self.find(name);
        if found.is_none() {
            faults.absent(self.at, format!("{} lacks the field '{name}'; add {example}", self.what));
        }
        found
    }

    /// A text that must be there; empty when it isn't.
    pub(super) fn text(&self, name: &str, shape: Shape, example: &str, faults: &mut Faults<'_>) -> (String, usize) {
        let Some(value) = self.required(name, example, faults) else { return (String::new(), self.at) };
        let label = self.label(name);
        (text_of(value, &label, shape, faults).unwrap_or_default().to_owned(), value.span().start)
    }

    /// A key that must be there. A bad one is kept as written, so that what refers to it is found.
    pub(super) fn key(&self, name: &str, example: &str, faults: &mut Faults<'_>) -> (String, usize) {
        let Some(value) = self.required(name, example, faults) else { return (String::new(), self.at) };
        let Some(text) = string_of(value, &self.label(name), faults) else {
            return (String::new(), value.span().start);
        };
        check_key(text, value.span().start, &self.label(name), faults);
        (text.to_owned(), value.span().start)
    }

    /// A yes or no, with what holds when it is not written.
    pub(super) fn flag(&self, name: &str, otherwise: bool, faults: &mut Faults<'_>) -> bool {
        let Some(value) = self.find(name) else { return otherwise };
        value.get_ref().as_bool().unwrap_or_else(|| {
            self.wrong_type(name, value, "true or false", faults);
            otherwise
        })
    }

    /// The entries of a list; none when it is not written.
    pub(super) fn list(&self, name: &str, most: usize, faults: &mut Faults<'_>) -> Vec<&'d Value<'i>> {
        let Some(value) = self.find(name) else { return Vec::new() };
        let Some(array) = value.get_ref().as_array() else {
            self.wrong_type(name, value, "a list", faults);
            return Vec::new();
        };
        if let Some(extra) = array.get(most) {
            let label = self.label(name);
            faults.at(extra.span().start, format!("{label} has {} entries; at most {most} fit", array.len()));
        }
        array.iter().take(most).collect()
    }

    /// A list of single lines.
    pub(super) fn texts(&self, name: &str, faults: &mut Faults<'_>) -> Vec<String> {
        let label = format!("an entry of {}", self.label(name));
        let entries = self.list(name, LIST_MAX, faults);
        entries.iter().filter_map(|value| text_of(value, &label, Shape::Line, faults)).map(str::to_owned).collect()
    }

    /// `field 'title' of stage 'drain'`.
    pub(super) fn label(&self, name: &str) -> String {
        format!("field '{name}' of {}", self.what)
    }

    pub(super) fn wrong_type(&self, name: &str, value: &Value<'i>, wanted: &str, faults: &mut Faults<'_>) {
        let message = format!("{} must be {wanted}, but it is {}", self.label(name), type_of(value));
        faults.at(value.span().start, message);
    }
}

/// The text of a value that has to be one.
pub(super) fn string_of<'d>(value: &'d Value<'_>, label: &str, faults: &mut Faults<'_>) -> Option<&'d str> {
    let text = value.get_ref().as_str();
    if text.is_none() {
        let message = format!("{label} must be a text in quotes, but it is {}", type_of(value));
        faults.at(value.span().start, message);
    }
    text
}

/// The text of a value, fit to be shown and kept.
pub(super) fn text_of<'d>(value: &'d Value<'_>, label: &str, shape: Shape, faults: &mut Faults<'_>) -> Option<&'d str> {
    let text = string_of(value, label, faults)?;
    let at = value.span().start;
    if text.trim().is_empty() {
        faults.at(at, format!("{label} is empty; write what it is"));
    }
    let length = text.chars().count();
    if length > TEXT_MAX {
        faults.at(at, format!("{label} has {length} characters; at most {TEXT_MAX} fit"));
    }
    let allowed = |c: char| !c.is_control() || (matches!(c, '\n' | '\t') && shape == Shape::Paragraph);
    if let Some(bad) = text.chars().find(|c| !allowed(*c)) {
        let code = u32::from(bad);
        faults.at(at, format!("{label} has the control character U+{code:04X}; take it out"));
    }
    Some(text)
}

/// Says when a text can't be a key.
pub(super) fn check_key(text: &str, at: usize, label: &str, faults: &mut Faults<'_>) {
    if !is_key(text) {
        let shown = shorten(text);
        let rule = "a key has letters, digits, '.', '_' and '-', a letter or digit first, and at most 63 characters";
        faults.at(at, format!("{label} is '{shown}', which is no key; {rule}"));
    }
}

/// The whole number of a value, whatever its radix; `None` when it is another type or too large.
pub(super) fn integer_of(value: &Value<'_>) -> Option<i64> {
    let integer = value.get_ref().as_integer()?;
    i64::from_str_radix(integer.as_str(), integer.radix()).ok()
}

/// What a value is, with its article.
pub(super) fn type_of(value: &Value<'_>) -> &'static str {
    match value.get_ref() {
        DeValue::String(_) => "a text",
        DeValue::Integer(_) if integer_of(value).is_none() => "a whole number that is too large",
        DeValue::Integer(_) => "a whole number",
        DeValue::Float(_) => "a number with a point",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date or time",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table of fields",
    }
}

/// A text short enough for a message, with control characters made visible.
pub(super) fn shorten(text: &str) -> String {
    let shown: String = text.chars().take(40).flat_map(char::escape_debug).collect();
    if text.chars().nth(40).is_some() { format!("{shown}…") } else { shown }
}
