//! Names of persons, which people tell apart by reading them. They lie in erasable texts, so that
//! only the application knows them; what they may be is said here.

use crate::refusal::Refusal;

/// A name as it is compared: without the space around it, and without regard to capitals.
pub fn folded(name: &str) -> String {
    name.trim().to_lowercase()
}

/// Refuses a name that somebody of the shop has already.
pub fn tell_apart<'a>(name: &str, others: impl IntoIterator<Item = &'a str>) -> Result<(), Refusal> {
    let wanted = folded(name);
    match others.into_iter().find(|other| folded(other) == wanted) {
        Some(other) => Err(Refusal::NameTaken { name: other.trim().to_owned() }),
        None => Ok(()),
    }
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
}
