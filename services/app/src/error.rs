//! What a use case may answer instead of a result.

use leadhand_domain::refusal::Refusal;
use leadhand_domain::state::State;
use leadhand_facts::RequestId;
use leadhand_store::StoreError;
use thiserror::Error;

/// Why a use case gave no result.
#[derive(Debug, Clone, Error)]
pub enum AppError {
    /// A rule refused; nothing was changed.
    #[error("{told}")]
    Refused {
        /// Which rule.
        refusal: Refusal,
        /// The sentence, on the shop's clock where the shop is known.
        told: String,
    },
    /// The reckoner has no answer.
    #[error("{0}")]
    Reckoner(leadhand_reckoner::Refusal),
    /// No token, or one that is not valid.
    #[error("this token is not valid (unknown, expired or revoked); get one from your lead")]
    Unauthenticated(
        /// Which of these, for the log alone.
        &'static str,
    ),
    /// Too often with secrets that are not valid.
    #[error("too many calls with tokens that are not valid; wait {wait} s, and see that the right token is sent")]
    TooManyFailures {
        /// Seconds until the next one is looked at.
        wait: u64,
    },
    /// Too many of one address were not valid, and this one is not known yet.
    #[error(
        "too many calls from this address had tokens that are not valid; come again in {wait} s, and this token is looked at"
    )]
    ComeAgain {
        /// Seconds until it is.
        wait: u64,
    },
    /// A person could not sign in. One sentence, whatever was wrong.
    #[error("this person, PIN or badge code does not fit; try again, or ask your lead to set it anew")]
    SignInRefused,
    /// Too many wrong tries to sign in.
    #[error("too many wrong tries; wait {wait} s, or ask your lead to set the PIN anew")]
    TooManyTries {
        /// Seconds until the next one is taken.
        wait: u64,
    },
    /// The token's role may not call this.
    #[error("a token of role '{role}' may not do this; it needs {needed}")]
    Denied {
        /// The token's role.
        role: String,
        /// Roles that may.
        needed: String,
    },
    /// The request id was used for something else.
    #[error("request id {0} was used for another request already; draw a new id for a new request")]
    RequestReused(RequestId),
    /// The deadline passed while the command was queued; nothing was changed.
    #[error("the deadline passed before the command's turn came, and nothing was changed; try again")]
    DeadlineQueued,
    /// Too much is waiting.
    #[error("too many requests are waiting for this shop; try again in a moment")]
    Busy,
    /// As many plans are being made as may be.
    #[error("other plans are being made at the moment; try again in a moment")]
    PlannerBusy,
    /// The database can't be used now; nothing was changed.
    #[error("the database can't be used right now and nothing was changed; try again in a moment")]
    Unavailable,
    /// The database has no room left; nothing was changed.
    #[error("the database has run out of room and nothing was changed; have room made on its disk, then try again")]
    DatabaseFull,
    /// A newer version of the server has written the shop.
    #[error(
        "a newer version of leadhandd has written this shop and this server can't read that, so that nothing was changed; \
         ask a server that has been upgraded, or have this one upgraded"
    )]
    ServerTooOld,
    /// The server is being stopped; nothing was changed.
    #[error("this server is shutting down and nothing was changed; try again in a moment")]
    Stopping,
    /// The connection broke while committing.
    #[error("it is not known whether this took effect; repeat it with the same request id to learn it")]
    Unknown,
    /// A cursor or page token points to what is not there.
    #[error("{0}")]
    OutOfRange(String),
    /// What was to be taken in does not fit what is there; nothing was changed.
    #[error("{0}")]
    Conflict(String),
    /// A defect, or a database that does not fit.
    #[error("this should not happen and nothing was changed: {0}; please report it")]
    Internal(String),
}

impl From<Refusal> for AppError {
    fn from(refusal: Refusal) -> Self {
        let told = refusal.to_string();
        Self::Refused { refusal, told }
    }
}

impl From<leadhand_reckoner::Refusal> for AppError {
    fn from(refusal: leadhand_reckoner::Refusal) -> Self {
        Self::Reckoner(refusal)
    }
}

impl AppError {
    /// A refusal in the words of the shop that was asked.
    pub fn refused(refusal: Refusal, state: &State) -> Self {
        let told = refusal.told_in(state);
        Self::Refused { refusal, told }
    }
}

impl From<StoreError> for AppError {
    fn from(error: StoreError) -> Self {
        match error {
            newer if newer.needs_a_newer_program() => {
                tracing::warn!(error = %newer, "this server is too old for a shop");
                Self::ServerTooOld
            }
            StoreError::Busy | StoreError::Exhausted => Self::Busy,
            StoreError::Unavailable(_) | StoreError::TooLong => Self::Unavailable,
            StoreError::Full(said) => {
                tracing::error!(error = %said, "the database has run out of room");
                Self::DatabaseFull
            }
            StoreError::CommitUnknown(_) => Self::Unknown,
            other => {
                tracing::error!(error = %other, "store failed");
                Self::Internal(other.to_string())
            }
        }
    }
}
