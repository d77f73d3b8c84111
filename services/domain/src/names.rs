//! Names of persons, which people tell apart by reading them. They lie in erasable texts, so that
//! only the application knows them; what they may be is said here.

use crate::refusal::Refusal;
use unicode_normalization::UnicodeNormalization;

/// A name as it is compared: as it reads, whatever its capitals, the space in and around it, the way
/// its letters are put together, and marks that nobody sees. The name itself is kept as it was typed.
pub fn folded(name: &str) -> String {
    let seen: String = name.chars().filter(|c| !unseen(*c)).nfkc().collect();
    // Up and down again: some letters differ in one direction only ("ß" and "SS").
    let seen: String = seen.to_uppercase().to_lowercase().nfkc().filter(|c| !unseen(*c)).collect();
    seen.split_whitespace().collect::<Vec<&str>>().join(" ")
}

/// Refuses a name that somebody of the shop has already.
pub fn tell_apart<'a>(name: &str, others: impl IntoIterator<Item = &'a str>) -> Result<(), Refusal> {
    let wanted = folded(name);
    if wanted.is_empty() {
        return Err(Refusal::invalid("name", "nothing of it can be seen; write a name that can be read"));
    }
    match others.into_iter().find(|other| folded(other) == wanted) {
        Some(other) => Err(Refusal::NameTaken { name: other.trim().to_owned() }),
        None => Ok(()),
    }
}

/// What shows nothing by itself: joiners, direction marks, soft hyphens, variation selectors, fillers
/// (Default_Ignorable_Code_Point of the Unicode Character Database, `DerivedCoreProperties.txt`, 16.0).
fn unseen(c: char) -> bool {
    matches!(c,
        '\u{ad}' | '\u{34f}' | '\u{61c}' | '\u{115f}'..='\u{1160}' | '\u{17b4}'..='\u{17b5}' | '\u{180b}'..='\u{180f}'
        | '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{3164}'
        | '\u{fe00}'..='\u{fe0f}' | '\u{feff}' | '\u{ffa0}' | '\u{fff0}'..='\u{fff8}' | '\u{1bca0}'..='\u{1bca3}'
        | '\u{1d173}'..='\u{1d17a}' | '\u{e0000}'..='\u{e0fff}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_taken_whatever_its_capitals_and_the_space_around_it() {
        let persons = ["Flint ", "Élan"];
        for taken in ["flint", " FLINT", "Flint", "éLAN"] {
            assert!(tell_apart(taken, persons).is_err(), "'{taken}'");
        }
        assert_eq!(tell_apart("Flint the younger", persons), Ok(()));
        let said = tell_apart("flint", persons).unwrap_err().to_string();
        assert_eq!(said, "there is already a 'Flint'; give a name that tells them apart");
    }

    // Unicode Standard Annex #15: U+00E9 and U+0065 U+0301 are canonically the same, U+FB02 and U+FF26 compatibly;
    // the Unicode Standard, 3.13: caseless matching after NFKC.
    #[test]
    fn a_name_is_taken_however_its_letters_are_put_together() {
        let persons = ["R\u{e9}mi", "Flint", "Weiß", "ΦΩΣ", "한글"];
        let same =
            ["Re\u{301}mi", "RE\u{301}MI", "\u{fb02}int", "\u{ff26}lint", "WEISS", "φως", "\u{1112}\u{1161}\u{11ab}글"];
        for taken in same {
            assert!(tell_apart(taken, persons).is_err(), "'{taken}'");
        }
        assert_eq!(tell_apart("Remi", persons), Ok(()), "an accent tells apart");
        assert_eq!(tell_apart("Weis", persons), Ok(()));
    }

    #[test]
    fn what_nobody_sees_tells_nobody_apart() {
        let persons = ["Flint Ash", "عربة"];
        let alike = [
            "Fl\u{200b}int Ash",
            "\u{202e}Flint Ash\u{202c}",
            "Flint\u{a0} Ash",
            "Flint  Ash",
            "Fli\u{ad}nt Ash\u{fe0f}",
            "\u{2067}عربة\u{2069}",
            "عر\u{200c}بة",
        ];
        for taken in alike {
            assert!(tell_apart(taken, persons).is_err(), "{taken:?}");
        }
        for blank in ["\u{200b}", " \u{2060}\u{3164} "] {
            assert_eq!(tell_apart(blank, persons).unwrap_err().field(), Some("name"), "{blank:?}");
        }
    }
}
