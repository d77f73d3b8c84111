//! Typed client: deadlines, retries with the same request id, and streams that resume.
//!
//! ```no_run
//! # async fn example() -> Result<(), leadhand_sdk::SdkError> {
//! use leadhand_sdk::{Client, Endpoint, new_write, v1};
//! let client = Client::connect(Endpoint::new("http://127.0.0.1:7420").token("lh_…"))?;
//! let assigned = client
//!     .assign_job(v1::AssignJobRequest { write: Some(new_write()), job: 12, bay: "lift-1".into(), ..Default::default() })
//!     .await?;
//! # Ok(()) }
//! ```

mod board;
mod client;
mod endpoint;
mod error;
mod journal;
mod link;
pub mod moment;
pub mod quantity;
mod retry;
mod rpcs;
mod standing;
mod write;

pub use board::{Board, BoardEvent};
pub use client::Client;
pub use endpoint::{Endpoint, Tls};
pub use error::{FieldFault, SdkError};
pub use journal::JournalEvent;
pub use leadhand_proto::v1;
pub use prost_types::Timestamp as WireTimestamp;
pub use rpcs::{ContractMessage, RPCS};
pub use standing::{Standing, held_stage};
pub use tonic::Code;
pub use write::{WriteContextExt, new_write, write_with_id};
