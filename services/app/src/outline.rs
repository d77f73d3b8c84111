//! What of a command can be kept when its words are erased: everything else.

use leadhand_domain::command::Command;
use serde_json::Value;
use std::collections::BTreeSet;
use uuid::Uuid;

/// Fields in which somebody types freely: they are left out also when the command did not seal them, as a reason is
/// left aside that no rule asked for.
const TYPED: [&str; 3] = ["reason", "override_reason", "note"];

/// Where in a command erasable words stand, as JSON pointers. `kept` is the command as it will be hashed.
///
/// A word that was sealed and is no string of the command could be part of any of them. Then only ids are kept.
pub(crate) fn blanked(asked: &Command, kept: &Value, sealed: &[&str]) -> Vec<String> {
    let mut asked_for = Vec::new();
    walk(&serde_json::to_value(asked).unwrap_or_default(), "", &mut asked_for);
    let strings: BTreeSet<&str> = asked_for.iter().map(|(_, words)| words.as_str()).collect();
    let whole = sealed.iter().all(|words| strings.contains(words));
    let mut found = Vec::new();
    walk(kept, "", &mut found);
    let goes = |at: &str, words: &str| {
        let typed = at.split('/').any(|part| TYPED.contains(&part));
        typed || sealed.contains(&words) || !(whole || Uuid::try_parse(words).is_ok())
    };
    found.into_iter().filter(|(at, words)| goes(at, words)).map(|(at, _)| at).collect()
}

/// The command without what stands there; nothing when there is nothing to leave out in one of these places.
pub(crate) fn blank(mut command: Value, blanked: &[String]) -> Option<String> {
    for at in blanked {
        let words = command.pointer_mut(at).filter(|found| found.is_string())?;
        *words = Value::Bool(true);
    }
    Some(command.to_string())
}

/// Every string with its place. No field of a command has a name that a pointer would have to escape.
fn walk(value: &Value, at: &str, found: &mut Vec<(String, String)>) {
    match value {
        Value::String(words) => found.push((at.to_owned(), words.clone())),
        Value::Array(all) => {
            for (n, one) in all.iter().enumerate() {
                walk(one, &format!("{at}/{n}"), found);
            }
        }
        Value::Object(all) => {
            for (name, one) in all {
                walk(one, &format!("{at}/{name}"), found);
            }
        }
        Value::Null | Value::Bool(_) | Value::Number(_) => {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use leadhand_domain::command::{AddCustomer, AssignJob, Change, EditCustomer, SetPin};
    use leadhand_facts::words::Role;
    use leadhand_facts::{BayKey, CustomerId, JobNo, PersonId};

    fn outline(command: &Command, sealed: &[&str]) -> (Vec<String>, String) {
        let value = serde_json::to_value(command).unwrap();
        let places = blanked(command, &value, sealed);
        let text = blank(value, &places).unwrap();
        (places, text)
    }

    #[test]
    fn sealed_words_are_left_out_and_whatever_else_was_asked_stays() {
        let customer = CustomerId(Uuid::from_u128(7));
        let name = Some("Heatherby".to_owned());
        let note = Change::Set("rings the cowbell".to_owned());
        let edit = EditCustomer { customer, name, contact: Change::Clear, note }.into();
        let (places, text) = outline(&edit, &["Heatherby", "rings the cowbell"]);
        assert_eq!(places, ["/EditCustomer/name", "/EditCustomer/note/Set"]);
        assert!(text.contains(&customer.to_string()) && text.contains("Clear"), "{text}");
        assert!(!text.contains("Heatherby") && !text.contains("cowbell"), "{text}");
    }

    #[test]
    fn what_was_typed_and_not_sealed_is_left_out_as_well() {
        let reason = Some("as Heatherby asked".to_owned());
        let assign = AssignJob { job: JobNo(7), bay: BayKey::from("floor-1"), override_reason: reason }.into();
        let (places, text) = outline(&assign, &[]);
        assert_eq!(places, ["/AssignJob/override_reason"]);
        assert!(text.contains("floor-1") && !text.contains("Heatherby"), "{text}");
    }

    #[test]
    fn of_words_that_are_found_nowhere_nothing_can_be_left_but_ids() {
        let person = PersonId(Uuid::from_u128(9));
        let secret = "slow and salted".to_owned();
        let set = SetPin { person, role: Role::Lead, secret }.into();
        let (places, text) = outline(&set, &["a part of something"]);
        assert_eq!(places, ["/SetPin/role", "/SetPin/secret"]);
        assert!(text.contains(&person.to_string()) && !text.contains("salted"), "{text}");
    }

    #[test]
    fn another_form_does_not_fit_the_places() {
        let bare: Command = AddCustomer { name: "Heatherby".into(), contact: None, note: None }.into();
        let places = ["/AddCustomer/name".to_owned(), "/AddCustomer/note".to_owned()];
        assert_eq!(blank(serde_json::to_value(&bare).unwrap(), &places), None, "there is no note");
        assert!(blank(serde_json::to_value(&bare).unwrap(), &places[..1]).is_some());
    }
}
