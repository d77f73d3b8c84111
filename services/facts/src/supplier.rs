//! When a supplier takes orders, and when what was ordered arrives.

use serde::{Deserialize, Serialize};

/// A delivery round: what is ordered on one of these weekdays by a local time arrives at a local time on that day or
/// so many days later. Local times are minutes from local midnight.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Round {
    /// Weekdays on which it is ordered, 1 Monday to 7 Sunday as in ISO 8601, in order.
    pub weekdays: Vec<i32>,
    /// The cut-off on such a day, 0 to 1439.
    pub order_by_minute: i32,
    /// When it arrives, 0 to 1439.
    pub here_minute: i32,
    /// How many days after the cut-off's day it arrives; 0 on that day.
    pub days_later: i32,
}
