//! What a decision is told besides state and command: time, actor, chance.

use leadhand_facts::words::Role;
use leadhand_facts::{Instant, PersonId, PrincipalId, RequestId, TextRef};
use uuid::Uuid;

/// Who acts, as the server proved it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Actor {
    /// Whose token was used; nobody for the timer and for setting up.
    pub principal: Option<PrincipalId>,
    /// The person who acts: the token's, or the one for whom a lead records.
    pub person: Option<PersonId>,
    /// The person whose own token or sign-in was used, and who answers by name; nobody for a device
    /// alone, whomever it records for.
    pub proved: Option<PersonId>,
    /// What the token allows.
    pub role: Role,
}

/// The circumstances of one command.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Context {
    /// When it is recorded, by the database's clock.
    pub now: Instant,
    /// When it happened: `now`, or earlier when it is entered late.
    pub happened_at: Instant,
    /// Who acts.
    pub actor: Actor,
    /// The client's name for the request.
    pub request: RequestId,
    /// The job's version that the client saw, when it insists on it.
    pub etag: Option<i64>,
}

/// Randomness, as an argument.
pub trait Chance {
    /// A new random id.
    fn id(&mut self) -> Uuid;
    /// Seals words: gives them an id and a salted hash, and keeps them for the text table.
    fn seal(&mut self, words: &str) -> TextRef;
}
