//! What a refusal says of itself: its sentence, its field, what it names.

use super::Refusal;
use crate::state::State;
use crate::telling::Telling;
use leadhand_facts::ItemKey;

/// Without a shop at hand: times in UTC, quantities bare.
impl std::fmt::Display for Refusal {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.told(&Telling::default()))
    }
}

impl std::error::Error for Refusal {}

impl Refusal {
    /// The sentence as this shop tells it.
    pub fn told_in(&self, state: &State) -> String {
        self.told(&Telling::of(state, self))
    }

    /// Whether ids of persons stand in it, in the place of which the application puts names.
    pub fn names_persons(&self) -> bool {
        matches!(
            self,
            Self::AtWork { .. }
                | Self::ToolOut { .. }
                | Self::ToolOutThen { .. }
                | Self::ToolThere { .. }
                | Self::PlanPersonTwice { .. }
                | Self::PlanSkill { .. }
                | Self::PlanUnlawful { .. }
        )
    }

    /// The item whose quantities it tells.
    pub fn item(&self) -> Option<&ItemKey> {
        match self {
            Self::NotEnough { item, .. } | Self::NotAtJob { item, .. } => Some(item),
            _ => None,
        }
    }

    /// A wrong field.
    pub fn invalid(field: impl Into<String>, why: impl Into<String>) -> Self {
        Self::Invalid { field: field.into(), why: why.into() }
    }

    /// The field that is wrong, for refusals of the request's own form.
    pub fn field(&self) -> Option<&str> {
        match self {
            Self::Invalid { field, .. } => Some(field),
            Self::InTheFuture { .. } => Some("happened_at"),
            Self::TemplateFaults { .. } => Some("source"),
            Self::BadRows { .. } => Some("csv"),
            Self::TooMuch { .. } => Some("quantity"),
            _ => None,
        }
    }
}
