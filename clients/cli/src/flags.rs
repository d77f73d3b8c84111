//! A field of the contract as it is typed in the command that was given: `places_outside` is `--places` there.

use clap::{Arg, ArgMatches, Command};

/// Fields that are typed under another name than their own.
const TYPED: [(&str, &str); 20] = [
    ("places_outside", "places"),
    ("moving_minutes", "moving"),
    ("from_at", "from"),
    ("from_day", "from"),
    ("until_at", "until"),
    ("promised_at", "promised"),
    ("expected_at", "expected"),
    ("expected_at", "until"),
    ("expires_on", "expires"),
    ("expires_at", "expires"),
    ("poured_strength", "poured"),
    ("limit_ms", "seconds"),
    ("override_reason", "override"),
    ("drained_ml", "litres"),
    ("filled_ml", "litres"),
    ("people", "person"),
    ("cure_minutes", "cure"),
    ("friction_least", "least"),
    ("friction_most", "most"),
    ("vehicle_weight_kg", "weight_kg"),
];

/// What the command that was given takes.
#[derive(Debug, Clone, Default)]
pub struct Flags {
    taken: Vec<Arg>,
}

impl Flags {
    /// Of the last command that the command line names.
    pub fn of(whole: &Command, typed: &ArgMatches) -> Self {
        let (mut command, mut typed) = (whole, typed);
        while let Some((name, below)) = typed.subcommand() {
            let Some(found) = command.find_subcommand(name) else { break };
            (command, typed) = (found, below);
        }
        Self { taken: command.get_arguments().cloned().collect() }
    }

    /// How a field is typed there; nothing where the command takes no such thing, or takes it under the field's own name and
    /// nobody has to be told.
    pub fn typed(&self, field: &str) -> Option<String> {
        let last = field.rsplit('.').next().unwrap_or(field);
        let others = TYPED.iter().filter(|(name, _)| *name == last).map(|(_, typed)| *typed);
        std::iter::once(last).chain(others).find_map(|name| self.named(name))
    }

    fn named(&self, name: &str) -> Option<String> {
        let long = name.replace('_', "-");
        let is = |one: &&Arg| one.get_id().as_str() == name || one.get_long() == Some(long.as_str());
        let found = self.taken.iter().find(is)?;
        if let Some(long) = found.get_long() {
            return Some(format!("--{long}"));
        }
        let value = found.get_value_names().and_then(<[_]>::first).map(ToString::to_string);
        Some(format!("<{}>", value.unwrap_or_else(|| name.to_uppercase())))
    }

    /// A sentence that begins with a field and a colon, with the field as it is typed.
    pub fn sentence(&self, text: &str) -> String {
        let is_field = |text: &str| text.chars().all(|c| c.is_ascii_lowercase() || c == '_' || c == '.');
        let Some((field, rest)) = text.split_once(": ").filter(|(field, _)| is_field(field)) else {
            return text.to_owned();
        };
        self.typed(field).map_or_else(|| text.to_owned(), |typed| format!("{typed}: {rest}"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn flags(line: &str) -> Flags {
        let whole = crate::help::command();
        let typed = whole.clone().try_get_matches_from(line.split(' ')).expect("it is a command line");
        Flags::of(&whole, &typed)
    }

    #[test]
    fn a_field_is_named_as_it_is_typed_in_that_command() {
        for (line, field, typed) in [
            ("leadhand shop yard set --places 900", "places_outside", Some("--places")),
            ("leadhand shop yard set --moving 900", "moving_minutes", Some("--moving")),
            ("leadhand plan overtime open Moss 1 2", "from_at", Some("<FROM>")),
            ("leadhand reckon fill --capacity 7L --left 1L --target 50%", "poured_strength", Some("--poured")),
            ("leadhand reckon ratio --bore 1 --stroke 1 --ratio 1 --cut 1", "ratio", Some("--ratio")),
            ("leadhand item add conc --fluid coolant", "fluid.strength", Some("--strength")),
            ("leadhand fluid out 7 coolant 1L", "drained_ml", Some("<AMOUNT>")),
            ("leadhand bay add lift-1 --kind pit", "rated_kg", Some("--rated-kg")),
            ("leadhand bay list", "places_outside", None),
        ] {
            assert_eq!(flags(line).typed(field).as_deref(), typed, "{line}: {field}");
        }
    }

    #[test]
    fn only_what_is_a_field_at_the_head_of_a_sentence_is_named_anew() {
        let flags = flags("leadhand shop yard set --places 900");
        assert_eq!(flags.sentence("places_outside: it is not from 0 to 500"), "--places: it is not from 0 to 500");
        for same in ["the places: they are full", "stage 'x' of job 7 waits", "figures: two belong here", "Places: no"]
        {
            assert_eq!(flags.sentence(same), same);
        }
    }
}
