//! Answers as JSON, read from the contract's own descriptor so that no field is forgotten:
//! the contract's field names in snake_case, RFC 3339 times, enum words as in the contract
//! without their prefix, whole numbers as numbers, lengths of time in whole microseconds under
//! a name that ends in `_us`. Every field is there; what was not said is `null`, empty or 0.

use crate::failure::{Failure, Outcome};
use crate::moment;
use crate::words;
use leadhand_proto::DESCRIPTOR_SET;
use leadhand_sdk::ContractMessage;
use prost::Message;
use prost_reflect::{DescriptorPool, DynamicMessage, EnumDescriptor, FieldDescriptor, Kind, ReflectMessage};
use serde_json::{Map, Value, json};
use std::sync::LazyLock;

static CONTRACT: LazyLock<Option<DescriptorPool>> = LazyLock::new(|| DescriptorPool::decode(DESCRIPTOR_SET).ok());

/// A message of the contract as JSON.
pub fn of<M: ContractMessage + Message>(message: &M) -> Outcome<Value> {
    let missing = || Failure::Defect(format!("the contract's descriptor does not hold {}", M::FULL_NAME));
    let descriptor = CONTRACT.as_ref().and_then(|pool| pool.get_message_by_name(M::FULL_NAME)).ok_or_else(missing)?;
    let dynamic = DynamicMessage::decode(descriptor, message.encode_to_vec().as_slice()).map_err(|_| missing())?;
    Ok(from_message(&dynamic))
}

fn from_message(message: &DynamicMessage) -> Value {
    match message.descriptor().full_name() {
        "google.protobuf.Timestamp" => timestamp(message),
        "google.protobuf.Duration" => duration(message),
        "google.protobuf.Struct" | "google.protobuf.Value" | "google.protobuf.ListValue" => free_form(message),
        _ => {
            let descriptor = message.descriptor();
            Value::Object(descriptor.fields().map(|field| named(message, &field)).collect())
        }
    }
}

fn named(message: &DynamicMessage, field: &FieldDescriptor) -> (String, Value) {
    let is_length = matches!(field.kind(), Kind::Message(kind) if kind.full_name() == "google.protobuf.Duration");
    let name = if is_length { format!("{}_us", field.name()) } else { field.name().to_owned() };
    if field.supports_presence() && !message.has_field(field) {
        return (name, Value::Null);
    }
    (name, from_value(&message.get_field(field), &field.kind()))
}

fn from_value(value: &prost_reflect::Value, kind: &Kind) -> Value {
    use prost_reflect::Value as Wire;
    match value {
        Wire::Bool(value) => json!(value),
        Wire::I32(value) => json!(value),
        Wire::I64(value) => json!(value),
        Wire::U32(value) => json!(value),
        Wire::U64(value) => json!(value),
        Wire::F32(value) => json!(value),
        Wire::F64(value) => json!(value),
        Wire::String(value) => json!(value),
        Wire::Bytes(value) => json!(value.to_vec()),
        Wire::EnumNumber(number) => enum_word(*number, kind),
        Wire::Message(message) => from_message(message),
        Wire::List(values) => values.iter().map(|value| from_value(value, kind)).collect(),
        Wire::Map(entries) => {
            entries.iter().map(|(key, value)| (map_key(key), from_value(value, &map_kind(kind)))).collect()
        }
    }
}

fn map_key(key: &prost_reflect::MapKey) -> String {
    key.as_str().map_or_else(|| format!("{key:?}"), str::to_owned)
}

fn map_kind(kind: &Kind) -> Kind {
    match kind {
        Kind::Message(entry) if entry.is_map_entry() => entry.map_entry_value_field().kind(),
        other => other.clone(),
    }
}

/// The word of an enum; `null` when nothing was said, the number when it is newer than this
/// program.
fn enum_word(number: i32, kind: &Kind) -> Value {
    let Kind::Enum(known) = kind else { return json!(number) };
    if number == 0 {
        return Value::Null;
    }
    let prefix = prefix(known);
    known.get_value(number).map_or(json!(number), |value| json!(words::plain(value.name(), &prefix)))
}

/// What every name of an enum begins with: buf's STANDARD rules make it the enum's own name.
fn prefix(known: &EnumDescriptor) -> String {
    known.default_value().name().trim_end_matches("UNSPECIFIED").to_owned()
}

fn number(message: &DynamicMessage, field: &str) -> i64 {
    let value = message.get_field_by_name(field);
    value.and_then(|value| value.as_i64().or_else(|| value.as_i32().map(i64::from))).unwrap_or(0)
}

fn timestamp(message: &DynamicMessage) -> Value {
    let nanos = i32::try_from(number(message, "nanos")).unwrap_or(0);
    let at = prost_types::Timestamp { seconds: number(message, "seconds"), nanos };
    moment::from_wire(&at).map_or(Value::Null, |at| json!(at.to_string()))
}

fn duration(message: &DynamicMessage) -> Value {
    let seconds = number(message, "seconds").saturating_mul(1_000_000);
    json!(seconds.saturating_add(number(message, "nanos") / 1000))
}

/// Fields of a fact: JSON already, in another dress.
fn free_form(message: &DynamicMessage) -> Value {
    match message.descriptor().full_name() {
        "google.protobuf.Struct" => prost_types::Struct::decode(message.encode_to_vec().as_slice())
            .map_or(Value::Null, |fields| from_struct(&fields)),
        "google.protobuf.Value" => prost_types::Value::decode(message.encode_to_vec().as_slice())
            .map_or(Value::Null, |value| from_free(&value)),
        _ => prost_types::ListValue::decode(message.encode_to_vec().as_slice())
            .map_or(Value::Null, |list| list.values.iter().map(from_free).collect()),
    }
}

/// A free-form object as JSON.
pub fn from_struct(fields: &prost_types::Struct) -> Value {
    let entries: Map<String, Value> =
        fields.fields.iter().map(|(key, value)| (key.clone(), from_free(value))).collect();
    Value::Object(entries)
}

fn from_free(value: &prost_types::Value) -> Value {
    use prost_types::value::Kind as Free;
    match &value.kind {
        None | Some(Free::NullValue(_)) => Value::Null,
        Some(Free::BoolValue(value)) => json!(value),
        Some(Free::StringValue(value)) => json!(value),
        Some(Free::NumberValue(value)) => figure(*value),
        Some(Free::StructValue(fields)) => from_struct(fields),
        Some(Free::ListValue(list)) => list.values.iter().map(from_free).collect(),
    }
}

/// Whole numbers without a point: the wire knows only floating ones, exact up to 2^53.
fn figure(value: f64) -> Value {
    const EXACT: f64 = 9_007_199_254_740_992.0;
    if value.fract() == 0.0 && value.abs() <= EXACT {
        #[expect(clippy::cast_possible_truncation, reason = "whole and within the exact range")]
        let whole = value as i64;
        json!(whole)
    } else {
        json!(value)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use leadhand_sdk::v1;

    /// The documented form, by example. Whoever changes it breaks other people's scripts.
    #[test]
    fn the_form_is_stable() {
        let answer = v1::GetBoardResponse {
            bays: vec![v1::BoardBay {
                bay: Some(v1::Bay {
                    bay: "lift-1".into(),
                    name: "Lift by the door".into(),
                    kind: v1::BayKind::TwoPostLift.into(),
                    rated_kg: 3000,
                }),
                job: None,
            }],
            outside: vec![],
            number: 9_007_199_254_740_993,
            as_of: Some(prost_types::Timestamp { seconds: 1_929_952_800, nanos: 500_000_000 }),
        };
        assert_eq!(
            of(&answer).unwrap(),
            json!({
                "bays": [{
                    "bay": {"bay": "lift-1", "name": "Lift by the door", "kind": "two-post-lift", "rated_kg": 3000},
                    "job": null,
                }],
                "outside": [],
                "number": 9_007_199_254_740_993_i64,
                "as_of": "2031-02-27T10:00:00.5Z",
            })
        );
    }

    #[test]
    fn lengths_are_whole_microseconds_and_words_have_no_prefix() {
        let answer = v1::AuditTimeResponse {
            total: Some(v1::AuditLine {
                blocked_by: vec![v1::BlockedTime {
                    cause: v1::Cause::SeizedOrDamaged.into(),
                    time: Some(prost_types::Duration { seconds: 90, nanos: 1000 }),
                }],
                ..Default::default()
            }),
            ..Default::default()
        };
        let shown = of(&answer).unwrap();
        assert_eq!(shown["total"]["blocked_by"], json!([{"cause": "seized-or-damaged", "time_us": 90_000_001}]));
        assert_eq!(shown["total"]["elapsed_us"], Value::Null);
        assert_eq!(shown["as_of"], Value::Null);
    }

    #[test]
    fn facts_keep_their_own_fields() {
        let fields = [("job", 12.0), ("share", 0.5)].map(|(key, value)| {
            (key.to_owned(), prost_types::Value { kind: Some(prost_types::value::Kind::NumberValue(value)) })
        });
        let body = prost_types::Struct { fields: fields.into() };
        let fact = v1::Fact { number: 1, kind: "job_opened".into(), body: Some(body), ..Default::default() };
        let shown = of(&fact).unwrap();
        assert_eq!(shown["body"], json!({"job": 12, "share": 0.5}));
        assert_eq!(shown["kind"], "job_opened");
        assert_eq!(shown["recorded_at"], Value::Null);
    }

    /// Every answer has a descriptor, and every enum word can be typed as it is shown.
    #[test]
    fn every_enum_of_the_contract_is_shown_as_it_is_typed() {
        let pool = CONTRACT.as_ref().unwrap();
        let cause = pool.get_enum_by_name("leadhand.v1.Cause").unwrap();
        assert_eq!(enum_word(6, &Kind::Enum(cause.clone())), json!("seized-or-damaged"));
        assert_eq!(enum_word(0, &Kind::Enum(cause)), Value::Null);
        let signal = pool.get_enum_by_name("leadhand.v1.SignalWord").unwrap();
        assert_eq!(enum_word(1, &Kind::Enum(signal)), json!("DANGER"));
        for known in pool.all_enums().filter(|known| known.full_name().starts_with("leadhand.")) {
            assert!(known.default_value().name().ends_with("_UNSPECIFIED"), "{}", known.full_name());
        }
    }
}
