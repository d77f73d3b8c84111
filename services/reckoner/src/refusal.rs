//! Why there is no answer: one closed list, each a sentence that says where, what, and what to do.

use crate::words::of_field;

/// Why something is not reckoned.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Refusal {
    /// A text that is no number with a unit.
    #[error("{}", unreadable(.field, .typed, .why, .example))]
    Unreadable {
        /// Which input.
        field: String,
        /// What was typed, cut when it is long.
        typed: String,
        /// What is wrong with it.
        why: String,
        /// How it is written.
        example: &'static str,
    },
    /// A quantity of another kind, or a unit that nobody knows or that means two things.
    #[error("{}: \"{typed}\" is no {wanted}: {why}; write it like {example}", of_field(.field))]
    Unit {
        /// Which input.
        field: String,
        /// What was typed, cut when it is long.
        typed: String,
        /// What kind is wanted there.
        wanted: &'static str,
        /// What is wrong with the unit.
        why: String,
        /// How it is written.
        example: &'static str,
    },
    /// Outside of what the data or the method covers.
    #[error("{} is {given}, outside of {least} to {most}, the range of {covered}; {todo}", of_field(.field))]
    OutOfRange {
        /// Which input.
        field: String,
        /// What was given.
        given: String,
        /// The least that is covered.
        least: Box<str>,
        /// The most that is covered.
        most: Box<str>,
        /// Whose range that is.
        covered: &'static str,
        /// What to do.
        todo: &'static str,
    },
    /// A word that stands in no list.
    #[error("{}: there is no {given} in {list}; known are {known}", of_field(.field))]
    Unknown {
        /// Which input.
        field: String,
        /// What was given.
        given: String,
        /// Which list.
        list: &'static str,
        /// What the list has.
        known: String,
    },
    /// Inputs that can't both be so.
    #[error("{}: {problem}; {todo}", of_field(.field))]
    Contradiction {
        /// Which input.
        field: String,
        /// What does not go together.
        problem: String,
        /// What to do.
        todo: String,
    },
    /// A target that nothing reaches.
    #[error("{what} can't be reached: {reason}; {todo}")]
    Impossible {
        /// Which target.
        what: &'static str,
        /// Why not.
        reason: String,
        /// What to do instead.
        todo: String,
    },
    /// The method is not made for this.
    #[error("{}: {method} does not cover {case}; {todo}", of_field(.field))]
    NotCovered {
        /// Which input.
        field: String,
        /// Which method.
        method: &'static str,
        /// What it does not cover.
        case: String,
        /// What to do instead.
        todo: &'static str,
    },
}

impl Refusal {
    /// A short word for a client, in capitals.
    pub fn reason(&self) -> &'static str {
        match self {
            Self::Unreadable { .. } => "UNREADABLE",
            Self::Unit { .. } => "WRONG_UNIT",
            Self::OutOfRange { .. } => "OUT_OF_RANGE",
            Self::Unknown { .. } => "UNKNOWN",
            Self::Contradiction { .. } => "CONTRADICTION",
            Self::Impossible { .. } => "IMPOSSIBLE",
            Self::NotCovered { .. } => "NOT_COVERED",
        }
    }

    /// Whether the inputs are understood and no answer is known: beyond the data or the method, or out of reach.
    pub fn is_beyond_data(&self) -> bool {
        matches!(self, Self::OutOfRange { .. } | Self::Impossible { .. } | Self::NotCovered { .. })
    }

    /// Which input is meant, by its path in the question; none where it is the target as a whole.
    pub fn field(&self) -> Option<&str> {
        match self {
            Self::Unreadable { field, .. }
            | Self::Unit { field, .. }
            | Self::OutOfRange { field, .. }
            | Self::Unknown { field, .. }
            | Self::Contradiction { field, .. }
            | Self::NotCovered { field, .. } => Some(field),
            Self::Impossible { .. } => None,
        }
    }

    pub(crate) fn contradiction(field: &str, problem: impl Into<String>, todo: impl Into<String>) -> Self {
        Self::Contradiction { field: field.to_owned(), problem: problem.into(), todo: todo.into() }
    }

    pub(crate) fn impossible(what: &'static str, reason: impl Into<String>, todo: impl Into<String>) -> Self {
        Self::Impossible { what, reason: reason.into(), todo: todo.into() }
    }
}

/// What was left out is told as that, and not as an empty text that can't be read.
fn unreadable(field: &str, typed: &str, why: &str, example: &str) -> String {
    let field = of_field(field);
    if typed.is_empty() {
        return format!("{field}: {why}; write it like {example}");
    }
    format!("{field}: \"{typed}\" can't be read: {why}; write it like {example}")
}
