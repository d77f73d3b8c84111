//! What may go wrong, and the one place where the database's own errors get a meaning.

use leadhand_facts::ShopId;
use leadhand_facts::upcast::UpcastError;
use thiserror::Error;

/// Why the store could not do what was asked.
#[derive(Debug, Error)]
pub enum StoreError {
    /// Nobody opened this shop here.
    #[error("shop {0} is unknown in this database; make it with `leadhandd init`")]
    NoSuchShop(ShopId),
    /// Another replica holds the shop's head for longer than the lock timeout.
    #[error("the shop is being written by another replica and did not become free within 2 seconds; try again")]
    Busy,
    /// Every connection of the pool is taken.
    #[error("no database connection became free in time; try again, or raise the number of connections")]
    Exhausted,
    /// The database can't be reached, is shutting down, or gave up on the statement.
    #[error("the database can't be used right now: {0}; try again")]
    Unavailable(#[source] sqlx::Error),
    /// The database refused a row: its second lock on a rule caught what the rules let through.
    #[error("the database refused a row of table '{table}' by its constraint '{name}'; nothing was written")]
    Constraint {
        /// The constraint.
        name: String,
        /// Its table; empty for a column type's own check.
        table: String,
    },
    /// The connection broke while committing: the batch may be in the journal or not.
    #[error("the outcome of the commit is unknown: {0}; repeat the request with the same id to learn it")]
    CommitUnknown(#[source] sqlx::Error),
    /// A statement of the batch failed before, so that there is nothing to commit.
    #[error("the batch was broken off by an earlier error and can't be committed")]
    BrokenBatch,
    /// What was to be written does not follow the head of the journal.
    #[error("the facts to be written begin at number {found}, but the journal goes on at {wanted}")]
    NotDense {
        /// The number that has to come next.
        wanted: i64,
        /// The number that came.
        found: i64,
    },
    /// The login could get around row-level security.
    #[error("database login '{login}' {why}; give the server a login that is only a member of leadhand_app")]
    UnsafeRole {
        /// The login.
        login: String,
        /// What is wrong with it.
        why: &'static str,
    },
    /// The roles were not made, or the login can't act as the owner.
    #[error("can't migrate as '{login}': {why}")]
    NotOwner {
        /// The login.
        login: String,
        /// What is wrong, and what to do.
        why: &'static str,
    },
    /// The database was migrated by another version of this program.
    #[error("the database's schema is at migration {found}, this program needs {wanted}; run `leadhandd migrate`")]
    SchemaBehind {
        /// The last migration applied.
        found: i64,
        /// The last one embedded here.
        wanted: i64,
    },
    /// A migration failed.
    #[error("migrating the database failed: {0}")]
    Migrate(#[from] sqlx::migrate::MigrateError),
    /// A fact of the journal can't be read.
    #[error("fact {number} of the journal can't be read: {source}")]
    Fact {
        /// Its number.
        number: i64,
        /// Why not.
        source: UpcastError,
    },
    /// A row does not have the columns that this program knows, or can't be written as JSON.
    #[error("a row of table '{table}' can't be converted: {source}")]
    Row {
        /// The table.
        table: String,
        /// Why not.
        source: serde_json::Error,
    },
    /// There is no such table of rows.
    #[error("there is no table of rows called '{0}'")]
    NoSuchTable(String),
    /// Anything else that the database said.
    #[error("the database answered with an error: {0}")]
    Database(#[source] sqlx::Error),
}

impl From<sqlx::Error> for StoreError {
    fn from(error: sqlx::Error) -> Self {
        match &error {
            sqlx::Error::PoolTimedOut => Self::Exhausted,
            sqlx::Error::PoolClosed
            | sqlx::Error::Io(_)
            | sqlx::Error::Tls(_)
            | sqlx::Error::Protocol(_)
            | sqlx::Error::BeginFailed
            | sqlx::Error::WorkerCrashed => Self::Unavailable(error),
            sqlx::Error::Database(said) => {
                let code = said.code().unwrap_or_default().into_owned();
                match Meaning::of(&code) {
                    Meaning::Constraint => Self::Constraint {
                        name: said.constraint().unwrap_or_default().to_owned(),
                        table: said.table().unwrap_or_default().to_owned(),
                    },
                    Meaning::Busy => Self::Busy,
                    Meaning::Unavailable => Self::Unavailable(error),
                    Meaning::Other => Self::Database(error),
                }
            }
            _ => Self::Database(error),
        }
    }
}

/// What a SQLSTATE means to a caller.
enum Meaning {
    Constraint,
    Busy,
    Unavailable,
    Other,
}

impl Meaning {
    fn of(code: &str) -> Self {
        match code {
            // lock_not_available
            "55P03" => Self::Busy,
            // read_only_sql_transaction: this is a standby; object_in_use while cloning or dropping
            "25006" | "55006" => Self::Unavailable,
            _ => match code.get(..2) {
                // integrity_constraint_violation
                Some("23") => Self::Constraint,
                // connection_exception, transaction_rollback, insufficient_resources,
                // operator_intervention (shutdown, statement timeout), system_error
                Some("08" | "40" | "53" | "57" | "58") => Self::Unavailable,
                _ => Self::Other,
            },
        }
    }
}

/// What a failed COMMIT means. Only an error by which the server says that it rolled back is a
/// failure; after any other the batch may have been written.
pub(crate) fn commit_failed(error: sqlx::Error) -> StoreError {
    let rolled_back = error.as_database_error().and_then(sqlx::error::DatabaseError::code).is_some_and(|code| {
        // integrity_constraint_violation, transaction_rollback, invalid_transaction_state
        matches!(code.get(..2), Some("23" | "40" | "25"))
    });
    if rolled_back { error.into() } else { StoreError::CommitUnknown(error) }
}
