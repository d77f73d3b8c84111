//! The form of what a command says, before any rule looks at the state. Each refusal names the
//! field and says what fits.

use crate::refusal::Refusal;
use jiff::civil::Date;
use leadhand_facts::ids::{KEY_MAX, is_key};
use leadhand_facts::quantity::QUANTITY_MAX;
use leadhand_facts::template::Minutes;
use leadhand_facts::text::TEXT_MAX;
use leadhand_facts::{PlaceKey, Quantity};

/// Most characters of a name or another single line.
pub const NAME_MAX: usize = 200;

/// Most entries of a list in a command.
pub const LIST_MAX: usize = 100;

/// Most minutes of an estimate or a planned wait: a year, as in a template, so that a draft of the job can be published.
pub const MINUTES_MAX: i32 = crate::template::MINUTES_MAX;

/// A free text: some words, at most [`TEXT_MAX`] characters of any script, in lines.
pub fn text(field: &str, text: &str) -> Result<(), Refusal> {
    words(field, text, TEXT_MAX, |c| matches!(c, '\n' | '\t'))
}

/// A free text, if there is one.
pub fn text_some(field: &str, text: Option<&str>) -> Result<(), Refusal> {
    text.map_or(Ok(()), |words| self::text(field, words))
}

/// A name: some words of any script on one line, at most [`NAME_MAX`] characters.
pub fn name(field: &str, name: &str) -> Result<(), Refusal> {
    words(field, name, NAME_MAX, |_| false)
}

fn words(field: &str, text: &str, most: usize, allowed: impl Fn(char) -> bool) -> Result<(), Refusal> {
    match fault_of_words(text, most, allowed) {
        Some(why) => Err(Refusal::invalid(field, why)),
        None => Ok(()),
    }
}

/// What is wrong with words; nothing when they can be kept.
pub(crate) fn fault_of_words(text: &str, most: usize, allowed: impl Fn(char) -> bool) -> Option<String> {
    if text.trim().is_empty() {
        return Some("it is empty; write a few words".to_owned());
    }
    let length = text.chars().count();
    if length > most {
        return Some(format!("it has {length} characters and at most {most} fit; shorten it"));
    }
    let bad = text.chars().find(|c| c.is_control() && !allowed(*c))?;
    Some(format!("it has the control character U+{:04X}; take it out", u32::from(bad)))
}

/// A key that people choose and type.
pub fn key(field: &str, key: &str) -> Result<(), Refusal> {
    fault_of_key(key).map_or(Ok(()), |why| Err(Refusal::invalid(field, why)))
}

/// What is wrong with a key; nothing when it can be kept.
pub(crate) fn fault_of_key(key: &str) -> Option<String> {
    (!is_key(key)).then(|| {
        let shown = shorten(key);
        format!(
            "'{shown}' is no key; use letters, digits, '.', '_' and '-', a letter or digit first, at most {KEY_MAX} characters"
        )
    })
}

/// What is wrong with the key of a new bin beyond its form: the places of jobs and those of the
/// world outside have names of their own.
pub(crate) fn fault_of_bin(place: &PlaceKey) -> Option<String> {
    // The contra places are made with the shop, under these names.
    const CONTRA: [&str; 5] = ["supplier", "used", "scrap", "waste", "count"];
    let key = place.as_str().to_ascii_lowercase();
    let kept = key.starts_with("job-") || CONTRA.contains(&key.as_str());
    kept.then(|| format!("'{place}' is kept for the books' own places; choose another key, such as 'bin-{place}'"))
}

/// A quantity of stock: at least 1, and small enough that sums fit.
pub fn quantity(field: &str, quantity: Quantity) -> Result<(), Refusal> {
    if (1..=QUANTITY_MAX).contains(&quantity.0) {
        return Ok(());
    }
    Err(Refusal::invalid(field, format!("{quantity} is no quantity; give a whole number from 1 to {QUANTITY_MAX}")))
}

/// A day of the calendar, `YYYY-MM-DD` and nothing else.
pub fn date(field: &str, text: &str) -> Result<Date, Refusal> {
    read_date(text).map_err(|why| Refusal::invalid(field, why))
}

/// A day, or what is wrong with it.
pub(crate) fn read_date(text: &str) -> Result<Date, String> {
    let formed = text.len() == 10
        && text
            .bytes()
            .enumerate()
            .all(|(at, byte)| if matches!(at, 4 | 7) { byte == b'-' } else { byte.is_ascii_digit() });
    let date = if formed { text.parse::<Date>().ok() } else { None };
    date.ok_or_else(|| format!("'{}' is no day of the calendar; write it as YYYY-MM-DD", shorten(text)))
}

/// Three-point minutes: none below 0, each at least the one before.
pub fn minutes(field: &str, minutes: Minutes) -> Result<(), Refusal> {
    let Minutes { low, likely, high } = minutes;
    if 0 <= low && low <= likely && likely <= high && high <= MINUTES_MAX {
        return Ok(());
    }
    let why = format!(
        "{low}, {likely}, {high} are no three-point minutes; give low, likely and high from 0 to {MINUTES_MAX}, none below the one before"
    );
    Err(Refusal::invalid(field, why))
}

/// A list of skills: single lines, none twice.
pub fn skills(field: &str, skills: &[String]) -> Result<(), Refusal> {
    if skills.len() > LIST_MAX {
        let why = format!("it has {} entries and at most {LIST_MAX} fit; shorten the list", skills.len());
        return Err(Refusal::invalid(field, why));
    }
    for (at, skill) in skills.iter().enumerate() {
        name(&format!("{field}[{at}]"), skill)?;
        if skills[..at].contains(skill) {
            return Err(Refusal::invalid(
                format!("{field}[{at}]"),
                format!("'{skill}' is listed twice; once is enough"),
            ));
        }
    }
    Ok(())
}

/// A text short enough for a message, with control characters made visible.
pub(crate) fn shorten(text: &str) -> String {
    let shown: String = text.chars().take(40).flat_map(char::escape_debug).collect();
    if text.chars().nth(40).is_some() { format!("{shown}…") } else { shown }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_of_any_script_fit_and_control_characters_do_not() {
        for fine in ["Öl", "シール", "حلقة", "two\nlines\twith a tab"] {
            assert_eq!(text("reason", fine), Ok(()), "{fine}");
        }
        for bad in ["", "  \n", "a\0b", "bell\u{7}", "c1\u{85}"] {
            assert!(text("reason", bad).is_err(), "{bad:?}");
        }
        assert!(name("name", "two\nlines").is_err());
        assert_eq!(name("name", &"ß".repeat(NAME_MAX)), Ok(()), "characters count, not bytes");
        assert!(name("name", &"ß".repeat(NAME_MAX + 1)).is_err());
    }

    #[test]
    fn days_have_one_form() {
        // ISO 8601 calendar date, extended format; 2000 was a leap year and 1900 was not.
        assert!(date("day", "2000-02-29").is_ok());
        for bad in ["1900-02-29", "2024-13-01", "2024-1-1", "20240101", "2024-01-01T00", "+24-01-010", "２024-01-1"] {
            assert!(date("day", bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn figures_have_their_ranges() {
        assert!(quantity("quantity", Quantity(0)).is_err());
        assert!(quantity("quantity", Quantity(-1)).is_err());
        assert!(quantity("quantity", Quantity(QUANTITY_MAX + 1)).is_err());
        assert_eq!(quantity("quantity", Quantity(QUANTITY_MAX)), Ok(()));
        assert_eq!(minutes("minutes", Minutes { low: 0, likely: 0, high: 0 }), Ok(()));
        assert!(minutes("minutes", Minutes { low: 2, likely: 1, high: 3 }).is_err());
        assert!(minutes("minutes", Minutes { low: -1, likely: 1, high: 3 }).is_err());
    }

    #[test]
    fn kept_places_are_no_bins() {
        for kept in ["job-7", "JOB-x", "supplier", "Used"] {
            assert!(fault_of_bin(&PlaceKey::from(kept)).is_some(), "{kept}");
        }
        assert_eq!(fault_of_bin(&PlaceKey::from("bin-a3")), None);
    }

    #[test]
    fn a_skill_is_named_once() {
        let twice = ["lift".to_owned(), "lift".to_owned()];
        assert_eq!(skills("skills", &twice).unwrap_err().field(), Some("skills[1]"));
        assert_eq!(skills("skills", &twice[..1]), Ok(()));
    }
}
