//! The only place that puts the parts together.

use crate::configuration::Database;
use crate::private_database::{PrivateDatabase, PrivateError};

/// A database that can be logged in to, and its private Postgres if it has one.
#[derive(Debug)]
pub struct OpenDatabase {
    app_url: String,
    owner_url: Option<String>,
    private: Option<PrivateDatabase>,
}

impl OpenDatabase {
    /// For a server, which is then responsible for its private Postgres.
    pub async fn for_serving(database: &Database) -> Result<Self, PrivateError> {
        match database {
            Database::Private(settings) => Ok(Self::private(PrivateDatabase::start(settings).await?)),
            Database::Given { url, owner_url } => Ok(Self::given(url, owner_url.as_deref())),
        }
    }

    /// For a command, which may run beside a server on the same private Postgres.
    pub async fn for_a_command(database: &Database) -> Result<Self, PrivateError> {
        match database {
            Database::Private(settings) => Ok(Self::private(PrivateDatabase::borrow_or_start(settings).await?)),
            Database::Given { url, owner_url } => Ok(Self::given(url, owner_url.as_deref())),
        }
    }

    fn private(private: PrivateDatabase) -> Self {
        Self { app_url: private.app_url(), owner_url: Some(private.owner_url()), private: Some(private) }
    }

    fn given(url: &str, owner_url: Option<&str>) -> Self {
        Self { app_url: url.to_owned(), owner_url: owner_url.map(str::to_owned), private: None }
    }

    /// How the server logs in.
    pub fn app_url(&self) -> &str {
        &self.app_url
    }

    /// How the owner of the tables logs in; `None` when migrating is somebody else's task.
    pub fn owner_url(&self) -> Option<&str> {
        self.owner_url.as_deref()
    }

    /// Shuts a private Postgres down; to be called after the last connection is closed.
    pub async fn close(self) -> Result<(), PrivateError> {
        match self.private {
            Some(private) => private.stop().await,
            None => Ok(()),
        }
    }
}
