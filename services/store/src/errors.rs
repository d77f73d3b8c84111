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
    /// Every connection is taken, of the pool or of the server.
    #[error("no database connection became free in time; try again, or raise the number of connections")]
    Exhausted,
    /// The database has no room left on its disk, no memory, or is at another of its limits.
    #[error("the database is out of room: {0}; make room, then try again")]
    Full(#[source] sqlx::Error),
    /// The database can't be reached, is shutting down, or is a standby.
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
    /// A statement took longer than it may.
    #[error("the database did not finish a statement within its 30 seconds; nothing was written")]
    TooLong,
    /// The database refused a value or a size.
    #[error("the database refused what was to be read or written (SQLSTATE {code}); nothing was written")]
    Value {
        /// The SQLSTATE. The database's own words may quote the value, so they are not kept.
        code: String,
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
    /// A migration took away what this program needs.
    #[error(
        "the database's schema needs a program that knows migration {needed}, and this one knows up to {known}; put a \
         newer leadhandd in its place"
    )]
    SchemaAhead {
        /// What a program has to know at the least.
        needed: i64,
        /// The last one embedded here.
        known: i64,
    },
    /// A newer program has written this shop.
    #[error(
        "shop {shop} holds facts of format {found}, and this program knows formats up to {known}; a newer leadhandd \
         wrote them, so upgrade this one"
    )]
    NewerShop {
        /// The shop.
        shop: ShopId,
        /// The highest format in its journal.
        found: i32,
        /// The highest known here.
        known: i32,
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
    /// A row came that this program can't take in: a column of another type or without a value.
    #[error("a row that the database gave can't be read: {0}")]
    Unreadable(#[source] sqlx::Error),
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

impl StoreError {
    /// Whether it passes by itself: the same may succeed later, with nothing changed.
    pub fn is_passing(&self) -> bool {
        matches!(self, Self::Busy | Self::Exhausted | Self::Full(_) | Self::TooLong | Self::Unavailable(_))
            || self.needs_a_newer_program()
    }

    /// Whether what was to be read or written is of a newer program than this one.
    pub fn needs_a_newer_program(&self) -> bool {
        matches!(self, Self::NewerShop { .. } | Self::Fact { source: UpcastError::Unknown { .. }, .. })
    }

    /// What it means to each of the shops that shared a transaction; nothing where one of them may have brought it about, or
    /// where it tells them no more than they learn by themselves.
    pub fn for_each_shop(&self) -> Option<Self> {
        match self {
            Self::Exhausted => Some(Self::Exhausted),
            Self::CommitUnknown(why) => Some(Self::CommitUnknown(sqlx::Error::Protocol(why.to_string()))),
            _ => None,
        }
    }

    /// Whether one command of a batch may have brought this about by what it says or touches. Then
    /// the others are better off without it.
    pub fn may_be_one_commands(&self) -> bool {
        matches!(
            self,
            Self::Constraint { .. }
                | Self::Value { .. }
                | Self::TooLong
                | Self::NotDense { .. }
                | Self::Unreadable(_)
                | Self::Row { .. }
                | Self::NoSuchTable(_)
        )
    }
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
            sqlx::Error::ColumnDecode { .. } | sqlx::Error::Decode(_) | sqlx::Error::Encode(_) => {
                Self::Unreadable(error)
            }
            sqlx::Error::Database(said) => {
                let code = said.code().unwrap_or_default().into_owned();
                match Meaning::of(&code) {
                    Meaning::Constraint => Self::Constraint {
                        name: said.constraint().unwrap_or_default().to_owned(),
                        table: said.table().unwrap_or_default().to_owned(),
                    },
                    Meaning::Value => Self::Value { code },
                    Meaning::TooLong => Self::TooLong,
                    Meaning::Busy => Self::Busy,
                    Meaning::Exhausted => Self::Exhausted,
                    Meaning::Full => Self::Full(error),
                    Meaning::Unavailable => Self::Unavailable(error),
                    Meaning::Other => Self::Database(error),
                }
            }
            _ => Self::Database(error),
        }
    }
}

/// What a SQLSTATE means to a caller (PostgreSQL manual, appendix A).
#[derive(Debug, PartialEq, Eq)]
enum Meaning {
    Constraint,
    Value,
    TooLong,
    Busy,
    Exhausted,
    Full,
    Unavailable,
    Other,
}

impl Meaning {
    fn of(code: &str) -> Self {
        match code {
            // lock_not_available
            "55P03" => Self::Busy,
            // too_many_connections
            "53300" => Self::Exhausted,
            // query_canceled: by the statement timeout
            "57014" => Self::TooLong,
            // read_only_sql_transaction: this is a standby; a transaction that stood still or lasted too
            // long; object_not_in_prerequisite_state, object_in_use: while recovering, cloning or dropping
            "25006" | "25P03" | "25P04" | "55000" | "55006" => Self::Unavailable,
            _ => match code.get(..2) {
                // integrity_constraint_violation
                Some("23") => Self::Constraint,
                // data_exception, program_limit_exceeded
                Some("22" | "54") => Self::Value,
                // insufficient_resources: disk, memory, a configured limit
                Some("53") => Self::Full,
                // connection_exception, transaction_rollback, operator_intervention (shutdown,
                // crash), system_error
                Some("08" | "40" | "57" | "58") => Self::Unavailable,
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

#[cfg(test)]
mod tests {
    use super::*;

    // Codes and their names: PostgreSQL 15 manual, appendix A.
    #[test]
    fn codes_mean_what_the_manual_says() {
        let cases = [
            ("23505", Meaning::Constraint),  // unique_violation
            ("23P01", Meaning::Constraint),  // exclusion_violation
            ("22003", Meaning::Value),       // numeric_value_out_of_range
            ("22P05", Meaning::Value),       // untranslatable_character
            ("54000", Meaning::Value),       // program_limit_exceeded
            ("57014", Meaning::TooLong),     // query_canceled
            ("55P03", Meaning::Busy),        // lock_not_available
            ("53300", Meaning::Exhausted),   // too_many_connections
            ("53100", Meaning::Full),        // disk_full
            ("53200", Meaning::Full),        // out_of_memory
            ("25006", Meaning::Unavailable), // read_only_sql_transaction
            ("55000", Meaning::Unavailable), // object_not_in_prerequisite_state
            ("57P01", Meaning::Unavailable), // admin_shutdown
            ("57P03", Meaning::Unavailable), // cannot_connect_now
            ("40P01", Meaning::Unavailable), // deadlock_detected
            ("08006", Meaning::Unavailable), // connection_failure
            ("42P01", Meaning::Other),       // undefined_table
            ("", Meaning::Other),
        ];
        for (code, meaning) in cases {
            assert_eq!(Meaning::of(code), meaning, "{code}");
        }
    }
}
