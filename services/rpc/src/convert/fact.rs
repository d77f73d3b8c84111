//! Facts of the journal.

use super::time::timestamp;
use leadhand_app::AppError;
use leadhand_facts::{Entry, upcast};
use leadhand_proto::v1;
use prost_types::value::Kind;
use prost_types::{ListValue, Struct, Value};
use serde_json::{Map, Number, Value as Json};
use std::collections::{BTreeMap, HashMap};

/// Whole numbers up to here are exact in a double (IEEE 754).
const EXACT_MAX: u64 = 1 << 53;

/// A fact for the wire.
pub fn fact(entry: &Entry, words: &BTreeMap<String, String>) -> Result<v1::Fact, AppError> {
    let stored = upcast::store(&entry.fact)
        .map_err(|error| AppError::Internal(format!("fact {} can't be written: {error}", entry.number)))?;
    let mut said = HashMap::new();
    for person in [entry.person, entry.proved].into_iter().flatten() {
        if let Some((id, name)) = words.get_key_value(&person.to_string()) {
            said.insert(id.clone(), name.clone());
        }
    }
    if let Some((id, label)) = entry.principal.and_then(|principal| words.get_key_value(&principal.to_string())) {
        said.insert(id.clone(), label.clone());
    }
    gather(&stored.body, words, &mut said);
    let body = match stored.body {
        Json::Object(fields) => Some(object(fields)),
        _ => None,
    };
    Ok(v1::Fact {
        number: entry.number,
        fact_id: entry.fact_id.to_string(),
        kind: stored.kind,
        version: stored.version,
        recorded_at: Some(timestamp(entry.recorded_at)),
        happened_at: Some(timestamp(entry.happened_at)),
        person: entry.person.map(|person| person.to_string()).unwrap_or_default(),
        request_id: entry.request.to_string(),
        body,
        words: said,
        principal: entry.principal.map(|principal| principal.to_string()).unwrap_or_default(),
        proved_by: entry.proved.map(|person| person.to_string()).unwrap_or_default(),
    })
}

/// The words behind every id that stands in a fact.
fn gather(json: &Json, words: &BTreeMap<String, String>, said: &mut HashMap<String, String>) {
    match json {
        Json::String(id) => {
            if let Some(found) = words.get(id) {
                said.insert(id.clone(), found.clone());
            }
        }
        Json::Array(list) => list.iter().for_each(|json| gather(json, words, said)),
        Json::Object(fields) => fields.values().for_each(|json| gather(json, words, said)),
        Json::Null | Json::Bool(_) | Json::Number(_) => {}
    }
}

/// An object of JSON for the wire.
pub fn object(fields: Map<String, Json>) -> Struct {
    Struct { fields: fields.into_iter().map(|(name, json)| (name, value(json))).collect() }
}

fn value(json: Json) -> Value {
    let kind = match json {
        Json::Null => Kind::NullValue(0),
        Json::Bool(is) => Kind::BoolValue(is),
        Json::Number(number) => numeric(&number),
        Json::String(text) => Kind::StringValue(text),
        Json::Array(list) => Kind::ListValue(ListValue { values: list.into_iter().map(value).collect() }),
        Json::Object(fields) => Kind::StructValue(object(fields)),
    };
    Value { kind: Some(kind) }
}

fn numeric(number: &Number) -> Kind {
    let whole = number.as_i64().map(i64::unsigned_abs).or_else(|| number.as_u64());
    match number.as_f64() {
        Some(double) if whole.is_none_or(|whole| whole <= EXACT_MAX) => Kind::NumberValue(double),
        _ => Kind::StringValue(number.to_string()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // IEEE 754 binary64: 2^53 + 1 is the first whole number that it can't hold.
    #[test]
    fn numbers_that_a_double_can_not_hold_are_text() {
        let kind = |json: Json| value(json).kind.unwrap();
        assert_eq!(kind(Json::from(9_007_199_254_740_992_i64)), Kind::NumberValue(9_007_199_254_740_992.0));
        assert_eq!(kind(Json::from(9_007_199_254_740_993_i64)), Kind::StringValue("9007199254740993".to_owned()));
        assert_eq!(kind(Json::from(i64::MIN)), Kind::StringValue(i64::MIN.to_string()));
        assert_eq!(kind(Json::from(-7)), Kind::NumberValue(-7.0));
    }
}
