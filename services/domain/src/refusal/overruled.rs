//! Which refusals somebody may overrule. Here alone: clients are told, and decide nothing.

use super::Refusal;

/// Who may overrule a refusal, with a reason.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Overruler {
    /// A lead, by name.
    Lead,
}

impl Overruler {
    /// As a client is told.
    pub fn word(self) -> &'static str {
        match self {
            Self::Lead => "lead",
        }
    }
}

/// The codes of refusals that a lead's reason overrules, of those commands that take one.
const BY_LEAD: [&str; 28] = [
    "BACK_ON",
    "BEHIND_OTHERS",
    "CANNOT_LEAVE",
    "FLUID_NOT_IN",
    "FLUID_NOT_OUT",
    "HOLD_NOT_PASSED",
    "HOLD_NOT_WHOLE",
    "LEAD_ONLY",
    "LEFT_OUT",
    "NOT_IN_YET",
    "NOT_READY",
    "NOT_READY_NOR_SKILLED",
    "OBJECTIONS",
    "OTHERS_FIRST",
    "RENEW_ALWAYS",
    "RUNG_STOPPED",
    "SIGN_IN_FIRST",
    "SKILL_FOR_STEP",
    "SKILL_MISSING",
    "SKILL_NOBODY",
    "SKILL_NOT_ON_STAGE",
    "SPOILT_BACK",
    "STATE_WANTED",
    "STAYS_IN",
    "STILL_ATTACHED",
    "STILL_STUCK",
    "WAIT_NOT_OVER",
    "WAKES_OPEN",
];

impl Refusal {
    /// Who may overrule it, by giving a reason with the same command; nobody where nothing is said of it.
    pub fn may_overrule(&self) -> Option<Overruler> {
        BY_LEAD.contains(&self.reason()).then_some(Overruler::Lead)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::refusal::Class;

    const SOURCE: &str = include_str!("../refusal.rs");
    const OFFERED: &str = "let the lead override with a reason";

    /// The code that is written last in a piece of the list.
    fn last_code(text: &str) -> Option<&str> {
        let is_code =
            |word: &&str| word.len() > 3 && word.bytes().all(|byte| byte.is_ascii_uppercase() || byte == b'_');
        text.split('"').rfind(is_code)
    }

    /// Whatever sentence offers a lead's word can be overruled by one.
    #[test]
    fn what_a_sentence_offers_is_so() {
        let pieces: Vec<&str> = SOURCE.split(OFFERED).collect();
        assert!(pieces.len() > 20, "the sentence has changed, and this test finds nothing any more");
        for piece in &pieces[..pieces.len() - 1] {
            let code = last_code(piece).expect("a refusal has its code before its sentence");
            assert!(BY_LEAD.contains(&code), "{code} offers a lead's word and is not in the list");
        }
    }

    #[test]
    fn only_what_stands_in_the_way_is_overruled() {
        for code in BY_LEAD {
            let known = Refusal::CODES.iter().find(|(known, _)| *known == code);
            let (_, class) = known.unwrap_or_else(|| panic!("there is no refusal {code}"));
            assert!(matches!(class, Class::Precondition | Class::Denied), "{code} is {class:?}");
        }
        assert_eq!(Refusal::LeadOnly { what: "do this" }.may_overrule().map(Overruler::word), Some("lead"));
        assert_eq!(Refusal::invalid("field", "why").may_overrule(), None);
    }
}
