//! What every write carries.

use leadhand_proto::v1::WriteContext;
use prost_types::Timestamp;
use uuid::Uuid;

/// The circumstances of a new write, with a request id of its own.
#[expect(clippy::disallowed_methods, reason = "a client draws the ids of its requests itself")]
pub fn new_write() -> WriteContext {
    write_with_id(Uuid::new_v4())
}

/// The circumstances of a write that repeats, or may repeat, an earlier one.
pub fn write_with_id(request_id: Uuid) -> WriteContext {
    WriteContext { request_id: request_id.to_string(), ..WriteContext::default() }
}

/// Says more about a write.
pub trait WriteContextExt {
    /// It happened then, and is recorded late.
    fn at(self, happened_at: Timestamp) -> Self;
    /// A lead records it for this person, by id or name.
    fn for_person(self, person: impl Into<String>) -> Self;
    /// Only if the job is still as it was seen.
    fn if_unchanged(self, etag: impl Into<String>) -> Self;
}

impl WriteContextExt for WriteContext {
    fn at(mut self, happened_at: Timestamp) -> Self {
        self.happened_at = Some(happened_at);
        self
    }

    fn for_person(mut self, person: impl Into<String>) -> Self {
        self.for_person = person.into();
        self
    }

    fn if_unchanged(mut self, etag: impl Into<String>) -> Self {
        self.etag = etag.into();
        self
    }
}
