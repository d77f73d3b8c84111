//! All SQL: the journal and its heads, derived rows, requests seen, erasable texts, row-level
//! security. Nothing here decides anything about a workshop.
//!
//! A shop's writer takes a [`Batch`]: it locks the shop's head, loads what the rules ask for by
//! [`Need`](leadhand_domain::need::Need), and writes facts and changed rows in few statements.
//! Where several shops' writers have everything that the rules ask for, they share a [`Joint`].
//! Everybody else reads in a [`Snapshot`]. Rows travel as JSON whose fields are the columns, so a
//! new column is a migration and a field, and no statement has to be touched.

mod about;
mod batch;
mod clock;
mod doors;
mod errors;
mod joint;
mod lives;
mod load;
mod migrate;
mod moment;
mod read;
mod role;
mod snapshot;
mod store;
mod wake;
mod write;

pub use batch::{AcceptedRequest, Batch, Outline, Written};
pub use doors::{Holder, OpenedShop, OperatorInfo, Tried, Trying, Who};
pub use errors::StoreError;
pub use joint::{Joint, Known, Taken};
pub use migrate::{migrate, newest_migration};
pub use moment::{Moment, is_empty};
pub use read::{Called, Head};
pub use snapshot::{JobFilter, Snapshot};
pub use store::Store;
pub use wake::{Wake, Wakes};
