//! Identities. Things of the shop have keys that people chose and type; persons, vehicles and
//! whatever is made in passing have random ids, so that nothing in a fact names anybody.

use serde::{Deserialize, Serialize};
use uuid::Uuid;

macro_rules! random_ids {
    ($($(#[$doc:meta])* $name:ident),+ $(,)?) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub Uuid);

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                self.0.fmt(f)
            }
        }
    )+};
}

macro_rules! keys {
    ($($(#[$doc:meta])* $name:ident),+ $(,)?) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub String);

        impl $name {
            /// The key as typed.
            pub fn as_str(&self) -> &str {
                &self.0
            }
        }

        impl From<&str> for $name {
            fn from(text: &str) -> Self {
                Self(text.to_owned())
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                self.0.fmt(f)
            }
        }
    )+};
}

random_ids! {
    /// One workshop, the tenant.
    ShopId,
    /// A technician or other person of the shop.
    PersonId,
    /// A vehicle.
    VehicleId,
    /// A customer, to whom vehicles and jobs belong.
    CustomerId,
    /// Who a token stands for.
    PrincipalId,
    /// One token; its secret is never stored.
    TokenId,
    /// A delivery of an item.
    LotId,
    /// A quantity set aside for a step of a job.
    ReservationId,
    /// What a step needs and nobody has promised.
    ShortageId,
    /// One stretch of a person's time on a stage.
    ClockingId,
    /// One stretch of a vehicle's stay in a bay.
    StayId,
    /// One stretch in which a shared tool was lent.
    LoanId,
    /// One fact of the journal.
    FactId,
    /// The client's name for one request, repeated when it tries again.
    RequestId,
    /// An erasable text.
    TextId,
}

keys! {
    /// A bay, as the shop calls it: `lift-1`.
    BayKey,
    /// A stocked item: `hg-set-20`.
    ItemKey,
    /// A supplier of items: `north-parts`.
    SupplierKey,
    /// A place that holds stock: `bin-a3`, `job-12`, or a contra place such as `supplier`.
    PlaceKey,
    /// A shared tool of the shop: `cam-lock-20`.
    ToolKey,
    /// A kind of job: `head-gasket-20`.
    TemplateKey,
    /// A stage within its job or template: `drain`.
    StageKey,
    /// What comes off or is put in, within its job or template: `intake-nuts`.
    PositionKey,
    /// What is measured, within its job or template: `compression`.
    ReadingKey,
    /// A ladder of measures against what will not move, within its template: `exhaust-studs`.
    LadderKey,
    /// A fluid of a vehicle, within its job or template: `coolant`.
    FluidKey,
    /// An option of a template: `machine-shop`.
    OptionKey,
}

/// A job's number in its shop, counted from 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct JobNo(pub i64);

/// A step's number in its stage, counted from 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct StepNo(pub i32);

/// A blocker's number in its job, counted from 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct BlockerNo(pub i32);

/// A remark's number in its job, counted from 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct RemarkNo(pub i32);

/// The number of what was told to somebody about a job, counted from 1 in the job.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct ToldNo(pub i32);

/// The number of a correction that somebody asked for, counted from 1 in the job.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct AskNo(pub i32);

/// The number of an attempt at something that will not move, counted from 1 in its position.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct AttemptNo(pub i32);

macro_rules! shown_as_number {
    ($($name:ident),+) => {$(
        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                self.0.fmt(f)
            }
        }
    )+};
}
shown_as_number!(JobNo, StepNo, BlockerNo, RemarkNo, AttemptNo, ToldNo, AskNo);

/// Most characters of a key.
pub const KEY_MAX: usize = 63;

/// Whether a text may serve as a key: letters, digits, `.`, `_` and `-`, a letter or digit
/// first, at most [`KEY_MAX`] characters.
pub fn is_key(text: &str) -> bool {
    let first = text.bytes().next().is_some_and(|b| b.is_ascii_alphanumeric());
    let rest = text.bytes().all(|b| b.is_ascii_alphanumeric() || b"._-".contains(&b));
    first && rest && text.len() <= KEY_MAX
}

impl PlaceKey {
    /// The place that holds what was issued to a job.
    pub fn of_job(job: JobNo) -> Self {
        Self(format!("job-{job}"))
    }
}
