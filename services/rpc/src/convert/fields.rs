//! Keys, numbers, ids and texts of a request.

use super::invalid;
use leadhand_app::AppError;
use leadhand_facts::template::{Caution, Minutes, Need};
use leadhand_facts::{BlockerNo, JobNo, KEY_MAX, Quantity, StepNo, Unit, is_key};
use leadhand_proto::v1;
use uuid::Uuid;

/// Most entries of one list of a request.
pub const LIST_MAX: usize = 1_000;
/// Most bytes of a person's id or name.
const NAMED_MAX: usize = 400;

/// Refuses a list that is too long.
pub fn bounded<T>(field: &str, list: &[T]) -> Result<(), AppError> {
    if list.len() <= LIST_MAX {
        return Ok(());
    }
    Err(invalid(field, format!("it has {} entries; give at most {LIST_MAX}", list.len())))
}

/// A key that must be given.
pub fn key<K: for<'a> From<&'a str>>(field: &str, text: &str) -> Result<K, AppError> {
    if is_key(text) {
        return Ok(K::from(text));
    }
    let what = if text.is_empty() { "it is missing" } else { "it is not a key" };
    Err(invalid(
        field,
        format!(
            "{what}; give letters, digits, '.', '_' and '-', a letter or digit first, at most {KEY_MAX} characters"
        ),
    ))
}

/// A key, when it was said.
pub fn key_some<K: for<'a> From<&'a str>>(field: &str, text: &str) -> Result<Option<K>, AppError> {
    if text.is_empty() { Ok(None) } else { key(field, text).map(Some) }
}

/// Several keys.
pub fn keys<K: for<'a> From<&'a str>>(field: &str, texts: &[String]) -> Result<Vec<K>, AppError> {
    bounded(field, texts)?;
    texts.iter().map(|text| key(field, text)).collect()
}

/// Words, when they were said. What they hold is for the rules to check.
pub fn text_some(text: String) -> Option<String> {
    if text.is_empty() { None } else { Some(text) }
}

/// Who is meant, by id or name.
pub fn named<'a>(field: &str, text: &'a str) -> Result<Option<&'a str>, AppError> {
    if text.len() > NAMED_MAX || text.contains(char::is_control) {
        return Err(invalid(field, "it is neither an id nor a name; give one of them, without control characters"));
    }
    Ok(Some(text).filter(|text| !text.trim().is_empty()))
}

/// A random id that must be given.
pub fn id(field: &str, text: &str) -> Result<Uuid, AppError> {
    match Uuid::try_parse(text) {
        Ok(id) if !id.is_nil() => Ok(id),
        _ => Err(invalid(field, "it is not a UUID; give one like 6f1c0a9e-3b52-4c0f-9d53-0d8f6a1b2c3d")),
    }
}

/// A random id, when it was said.
pub fn id_some(field: &str, text: &str) -> Result<Option<Uuid>, AppError> {
    if text.is_empty() { Ok(None) } else { id(field, text).map(Some) }
}

/// A job's number.
pub fn job(number: i64) -> Result<JobNo, AppError> {
    if number > 0 { Ok(JobNo(number)) } else { Err(invalid("job", "it is not a job's number; give 1 or more")) }
}

/// A job's number, when it was said.
pub fn job_some(number: i64) -> Result<Option<JobNo>, AppError> {
    if number == 0 { Ok(None) } else { job(number).map(Some) }
}

/// A step's number.
pub fn step(field: &str, number: i32) -> Result<StepNo, AppError> {
    if number > 0 { Ok(StepNo(number)) } else { Err(invalid(field, "it is not a step's number; give 1 or more")) }
}

/// A blocker's number.
pub fn blocker(number: i32) -> Result<BlockerNo, AppError> {
    let wrong = || invalid("blocker", "it is not a blocker's number; give 1 or more");
    if number > 0 { Ok(BlockerNo(number)) } else { Err(wrong()) }
}

/// The number of an entry of time.
pub fn entry(number: i64) -> Result<i64, AppError> {
    let wrong = "it is not an entry's number; give 1 or more, as the list of clockings has it";
    if number > 0 { Ok(number) } else { Err(invalid("entry", wrong)) }
}

/// The number of a stay, when it was said.
pub fn stay_some(number: i64) -> Result<Option<i64>, AppError> {
    match number {
        0 => Ok(None),
        1.. => Ok(Some(number)),
        _ => Err(invalid("stay", "it is below 0; give the number of the fact that began the stay, or leave it out")),
    }
}

/// A number, when it was said; below 0 it is refused.
pub fn positive_some(field: &str, number: i32) -> Result<Option<i32>, AppError> {
    match number {
        0 => Ok(None),
        1.. => Ok(Some(number)),
        _ => Err(invalid(field, "it is below 0; give 0 or more")),
    }
}

/// A unit by its UCUM code.
pub fn unit(field: &str, code: &str) -> Result<Unit, AppError> {
    Unit::from_code(code).ok_or_else(|| {
        let known: Vec<&str> = Unit::ALL.into_iter().map(Unit::code).collect();
        invalid(field, format!("it is not a unit that is kept here; give one of {}", known.join(", ")))
    })
}

/// Three-point minutes; unknown when they were not said.
pub fn minutes(minutes: Option<v1::Minutes>) -> Minutes {
    minutes.map_or(Minutes { low: 0, likely: 0, high: 0 }, |said| Minutes {
        low: said.low,
        likely: said.likely,
        high: said.high,
    })
}

/// Cautions.
pub fn cautions(field: &str, said: Vec<v1::Caution>) -> Result<Vec<Caution>, AppError> {
    bounded(field, &said)?;
    let read = |(at, caution): (usize, v1::Caution)| {
        let word = super::enums::read_signal_word(&format!("{field}[{at}].word"), caution.word)?;
        Ok(Caution { word, text: caution.text })
    };
    said.into_iter().enumerate().map(read).collect()
}

/// What a step takes from stock.
pub fn needs(field: &str, said: &[v1::Need]) -> Result<Vec<Need>, AppError> {
    bounded(field, said)?;
    let read = |(at, need): (usize, &v1::Need)| {
        Ok(Need {
            item: key(&format!("{field}[{at}].item"), &need.item)?,
            quantity: Quantity(need.quantity),
            unit: unit(&format!("{field}[{at}].unit"), &need.unit)?,
        })
    };
    said.iter().enumerate().map(read).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use leadhand_facts::BayKey;

    fn refused_field<T: std::fmt::Debug>(result: Result<T, AppError>) -> String {
        match result.unwrap_err() {
            AppError::Refused { refusal, .. } => refusal.field().unwrap_or_default().to_owned(),
            other => other.to_string(),
        }
    }

    #[test]
    fn what_can_not_be_understood_is_refused_with_its_field() {
        assert_eq!(refused_field(key::<BayKey>("bay", "")), "bay");
        assert_eq!(refused_field(key::<BayKey>("bay", "lift 1")), "bay");
        assert_eq!(refused_field(key::<BayKey>("bay", "lift\0")), "bay");
        assert_eq!(refused_field(id("vehicle", "00000000-0000-0000-0000-000000000000")), "vehicle");
        assert_eq!(refused_field(job(0)), "job");
        assert_eq!(refused_field(job_some(-1)), "job");
        assert_eq!(refused_field(positive_some("revision", -1)), "revision");
        assert_eq!(refused_field(unit("unit", "gal")), "unit");
        assert_eq!(refused_field(named("person", &"n".repeat(401))), "person");
        let needs_of = vec![v1::Need { item: "ok".into(), quantity: 1, unit: "1".into() }, v1::Need::default()];
        assert_eq!(refused_field(needs("needs", &needs_of)), "needs[1].item");
        assert_eq!(refused_field(bounded("steps", &[0; 1_001])), "steps");
    }

    #[test]
    fn what_was_not_said_is_nothing() {
        assert_eq!(key_some::<BayKey>("bay", "").unwrap(), None);
        assert_eq!(id_some("vehicle", "").unwrap(), None);
        assert_eq!(job_some(0).unwrap(), None);
        assert_eq!(named("person", "  ").unwrap(), None);
        assert_eq!(positive_some("revision", 0).unwrap(), None);
    }
}
