//! Pages of lists (AIP-158): sizes, and tokens that say where the next page begins. A token is
//! opaque to clients, and one that was not made here is refused.

use super::invalid;
use leadhand_app::AppError;
use std::fmt::Write;

const SIZE_DEFAULT: usize = 100;
const SIZE_MAX: usize = 1_000;
/// Twice a list's name, a key and two numbers is far below this.
const TOKEN_MAX: usize = 512;

/// How many entries a page gets: what was asked for, within bounds.
pub fn size(asked: i32) -> Result<usize, AppError> {
    match usize::try_from(asked) {
        Ok(0) => Ok(SIZE_DEFAULT),
        Ok(size) => Ok(size.min(SIZE_MAX)),
        Err(_) => Err(invalid("page_size", "it is below 0; give 0 or more")),
    }
}

/// The token by which a list of this name goes on; empty on the last page.
pub fn token(list: &str, next: Option<impl std::fmt::Display>) -> String {
    let Some(next) = next else { return String::new() };
    format!("{list}/{next}").bytes().fold(String::new(), |mut hex, byte| {
        // Writing to a string cannot fail.
        let _ = write!(hex, "{byte:02x}");
        hex
    })
}

/// Where a list of this name goes on; nothing for the first page.
pub fn read<T>(list: &str, token: &str, place: impl Fn(&str) -> Option<T>) -> Result<Option<T>, AppError> {
    if token.is_empty() {
        return Ok(None);
    }
    let text = unhex(token);
    let found = text.as_deref().and_then(|text| text.strip_prefix(list)?.strip_prefix('/')).and_then(place);
    let wrong = "it was not given out for this list; leave it empty, or repeat what the page before gave";
    found.map(Some).ok_or_else(|| invalid("page_token", wrong))
}

fn unhex(token: &str) -> Option<String> {
    if token.len() > TOKEN_MAX || !token.len().is_multiple_of(2) || !token.is_ascii() {
        return None;
    }
    let byte = |at: usize| u8::from_str_radix(token.get(at..at + 2)?, 16).ok();
    let bytes: Option<Vec<u8>> = (0..token.len()).step_by(2).map(byte).collect();
    String::from_utf8(bytes?).ok()
}

/// A number above 0.
pub fn number(text: &str) -> Option<i64> {
    text.parse().ok().filter(|number| *number > 0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_token_comes_back_as_it_went() {
        let given = token("jobs", Some(41));
        assert_eq!(read("jobs", &given, number).unwrap(), Some(41));
        assert_eq!(read("jobs", "", number).unwrap(), None);
        assert_eq!(token("jobs", None::<i64>), "");
    }

    // AIP-158: "the API should return INVALID_ARGUMENT" for a token that it did not give out.
    #[test]
    fn any_other_token_is_refused() {
        let others =
            [token("tokens", Some(41)), token("jobs", Some(-1)), "zz".to_owned(), "6".to_owned(), "é".repeat(3)];
        for other in others {
            let refusal = read("jobs", &other, number).unwrap_err();
            let named =
                matches!(&refusal, AppError::Refused { refusal: refused, .. } if refused.field() == Some("page_token"));
            assert!(named, "{other}: {refusal}");
        }
    }

    // AIP-158: 0 is the default, more than the most is the most, negative is refused.
    #[test]
    fn sizes_have_bounds() {
        assert_eq!([size(0).unwrap(), size(7).unwrap(), size(5_000).unwrap()], [100, 7, 1_000]);
        assert!(size(-1).is_err());
    }
}
