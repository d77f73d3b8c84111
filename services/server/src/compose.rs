//! The only place that puts the parts together.

use crate::configuration::{Configuration, Database, GivenDatabase};
use crate::entropy::SystemEntropy;
use crate::private_database::{PrivateDatabase, PrivateError};
use anyhow::Context;
use leadhand_app::{App, Entropy, Options};
use leadhand_store::{Store, StoreError, migrate};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

/// How long the last connections may take to close.
const CLOSE_WITHIN: Duration = Duration::from_secs(5);
/// How long commands that are being committed may take to be answered. A commit is never
/// cancelled; one that takes longer is settled by the database and learnt by its request id.
const DRAIN_WITHIN: Duration = Duration::from_mins(1);

/// A database that can be logged in to, and its private Postgres if it has one.
#[derive(Debug)]
pub struct OpenDatabase {
    app_url: String,
    owner_url: Option<String>,
    /// The directory of Postgres' tools, where it is known.
    tools: Option<PathBuf>,
    private: Option<PrivateDatabase>,
}

impl OpenDatabase {
    /// For a server, which is then responsible for its private Postgres.
    pub async fn for_serving(database: &Database) -> Result<Self, PrivateError> {
        match database {
            Database::Private(settings) => Ok(Self::private(PrivateDatabase::start(settings).await?)),
            Database::Given(given) => Ok(Self::given(given)),
        }
    }

    /// For a command, which may run beside a server on the same private Postgres.
    pub async fn for_a_command(database: &Database) -> Result<Self, PrivateError> {
        match database {
            Database::Private(settings) => Ok(Self::private(PrivateDatabase::borrow_or_start(settings).await?)),
            Database::Given(given) => Ok(Self::given(given)),
        }
    }

    /// A private database that was started by others.
    pub(crate) fn private(private: PrivateDatabase) -> Self {
        Self {
            app_url: private.app_url(),
            owner_url: Some(private.owner_url()),
            tools: Some(private.binaries().to_path_buf()),
            private: Some(private),
        }
    }

    fn given(given: &GivenDatabase) -> Self {
        let GivenDatabase { url, owner_url, postgres_bin } = given.clone();
        Self { app_url: url, owner_url, tools: postgres_bin, private: None }
    }

    /// The same with these tools of Postgres.
    pub(crate) fn with_tools(mut self, directory: &Path) -> Self {
        self.tools = Some(directory.to_path_buf());
        self
    }

    /// The directory of Postgres' tools, where one was named or is known.
    pub fn tools(&self) -> Option<&Path> {
        self.tools.as_deref()
    }

    /// How the server logs in.
    pub fn app_url(&self) -> &str {
        &self.app_url
    }

    /// How the owner of the tables logs in; `None` when migrating is somebody else's task.
    pub fn owner_url(&self) -> Option<&str> {
        self.owner_url.as_deref()
    }

    /// Brings the tables up to date; `false` when that is somebody else's task.
    pub async fn migrate(&self) -> Result<bool, StoreError> {
        let Some(owner_url) = self.owner_url() else { return Ok(false) };
        migrate(owner_url).await?;
        Ok(true)
    }

    /// The tables, brought up to date where this may be done here; refused when they are behind,
    /// and under a login for which row-level security would not hold.
    pub async fn store(&self, max_connections: u32) -> Result<Store, StoreError> {
        self.migrate().await?;
        let store = Store::connect(self.app_url(), max_connections).await?;
        store.refuse_other_schema().await?;
        store.refuse_unsafe_role().await?;
        Ok(store)
    }

    /// Shuts a private Postgres down; to be called after the last connection is closed.
    pub async fn close(self) -> Result<(), PrivateError> {
        match self.private {
            Some(private) => private.stop().await,
            None => Ok(()),
        }
    }
}

impl Entropy for SystemEntropy {
    fn fill(&self, buffer: &mut [u8]) {
        Self::fill(self, buffer);
    }
}

/// The application on its database.
pub struct OpenApp {
    /// The application.
    pub app: App,
    store: Store,
    database: OpenDatabase,
}

impl OpenApp {
    /// For a server.
    pub async fn for_serving(configuration: &Configuration) -> anyhow::Result<Self> {
        let database = OpenDatabase::for_serving(&configuration.database).await?;
        let options = Options { poll_interval: configuration.poll_interval, ..Options::default() };
        Self::open(database, configuration.max_connections, options).await
    }

    /// For a command, which leaves to a server what falls due by time.
    pub async fn for_a_command(configuration: &Configuration) -> anyhow::Result<Self> {
        let database = OpenDatabase::for_a_command(&configuration.database).await?;
        let options = Options { timer_interval: Duration::ZERO, ..Options::default() };
        Self::open(database, configuration.max_connections, options).await
    }

    async fn open(database: OpenDatabase, max_connections: u32, options: Options) -> anyhow::Result<Self> {
        match database.store(max_connections).await {
            Ok(store) => {
                let app = App::start(store.clone(), Arc::new(SystemEntropy), options);
                Ok(Self { app, store, database })
            }
            Err(error) => {
                // What was started for this is not left behind; the first error is the one that counts.
                if let Err(also) = database.close().await {
                    tracing::error!(%also, "the private database could not be stopped: {also}");
                }
                Err(error.into())
            }
        }
    }

    /// Answers what is queued, then closes everything, a private Postgres last.
    pub async fn close(self) -> anyhow::Result<()> {
        self.app.stop();
        if tokio::time::timeout(DRAIN_WITHIN, self.app.drain()).await.is_err() {
            tracing::error!("commands were not answered within {} s; leaving them", DRAIN_WITHIN.as_secs());
        }
        if tokio::time::timeout(CLOSE_WITHIN, self.store.close()).await.is_err() {
            tracing::warn!("a database connection did not close within {} s; leaving it", CLOSE_WITHIN.as_secs());
        }
        self.database.close().await.context("the private database could not be stopped")
    }
}
