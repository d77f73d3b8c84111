//! One test's own database.

use std::sync::atomic::{AtomicU32, Ordering};

use anyhow::{Context, Result};
use sqlx::{Connection, PgConnection};
use tokio::sync::OnceCell;

use super::{
    APP_ROLE, OWNER_ROLE, Provided, SUPERUSER_ROLE, provide,
    server::Server,
    template::{self, CLONE_PREFIX},
};

/// SQLSTATE of a database name that is taken.
const DUPLICATE_DATABASE: &str = "42P04";

/// A migrated, empty database that nobody else uses; dropped with this value.
pub struct TestDatabase {
    server: Server,
    name: String,
}

/// Clones the template for one test. Under nextest the set-up script has provided the server; elsewhere the first test
/// to ask does.
///
/// # Panics
///
/// When there is no server to be had, with what is missing.
pub async fn fresh_database() -> TestDatabase {
    match TestDatabase::create().await {
        Ok(database) => database,
        Err(error) => panic!("no database for this test: {error:#}"),
    }
}

async fn provided() -> Result<&'static Provided> {
    static PROVIDED: OnceCell<Provided> = OnceCell::const_new();
    PROVIDED
        .get_or_try_init(|| async {
            match Provided::from_environment()? {
                Some(provided) => Ok(provided),
                None => provide().await,
            }
        })
        .await
}

impl TestDatabase {
    async fn create() -> Result<Self> {
        static MADE: AtomicU32 = AtomicU32::new(0);
        let Provided { server, template } = provided().await?;
        let mut connection = server.superuser().await?;
        loop {
            let number = MADE.fetch_add(1, Ordering::Relaxed);
            let name = format!("{CLONE_PREFIX}{}_{number}", std::process::id());
            let statement = format!("create database {name} owner {OWNER_ROLE} template {template}");
            match template::run(&mut connection, statement).await {
                Ok(()) => {
                    connection.close().await?;
                    return Ok(Self { server: server.clone(), name });
                }
                // A process of the same number left it behind.
                Err(sqlx::Error::Database(error)) if error.code().as_deref() == Some(DUPLICATE_DATABASE) => {}
                Err(error) => return Err(error).with_context(|| format!("cannot clone {template} as {name}")),
            }
        }
    }

    /// For migrating.
    pub fn owner_url(&self) -> String {
        self.server.url(OWNER_ROLE, &self.name)
    }

    /// For the server: the login that row-level security holds for.
    pub fn app_url(&self) -> String {
        self.server.url(APP_ROLE, &self.name)
    }

    /// For what a test does behind the product's back.
    pub fn superuser_url(&self) -> String {
        self.server.url(SUPERUSER_ROLE, &self.name)
    }

    /// Its name in the server.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// A superuser's connection.
    pub async fn superuser(&self) -> Result<PgConnection, sqlx::Error> {
        PgConnection::connect(&self.superuser_url()).await
    }
}

impl Drop for TestDatabase {
    /// Best effort: what stays behind is swept at the start of the next run.
    fn drop(&mut self) {
        let (server, name) = (self.server.clone(), self.name.clone());
        // The test's own runtime may be the one that is dropping us, so the work goes to another thread.
        let dropping = std::thread::spawn(move || -> Result<()> {
            let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build()?;
            runtime.block_on(async {
                let mut connection = server.superuser().await?;
                template::run(&mut connection, format!("drop database if exists {name} with (force)")).await?;
                Ok(connection.close().await?)
            })
        });
        if let Ok(Err(error)) = dropping.join() {
            eprintln!("tests: could not drop {}: {error:#}", self.name);
        }
    }
}
