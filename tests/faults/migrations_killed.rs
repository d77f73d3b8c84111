//! A migration is killed at every step, the process or its session, and begun anew: in the end the
//! schema is the one that is made from nothing.

use crate::migrators::{ROLES, on};
use crate::waiting::until;
use anyhow::{Context, Result, ensure};
use kit::OwnServer;
use kit::process::{begin_leadhandd, leadhandd};
use sqlx::{Connection, PgConnection, raw_sql};
use std::process::Child;
use std::time::Duration;

const WITHIN: Duration = Duration::from_secs(30);

/// Has the session of a migration wait at its n-th statement that changes the schema, for as long as another session
/// holds the lock 4711 (PostgreSQL manual, chapter 40).
const STOP: &str = "
    CREATE SCHEMA stop;
    GRANT USAGE ON SCHEMA stop TO PUBLIC;
    CREATE TABLE stop.at (n int);
    INSERT INTO stop.at VALUES (0);
    CREATE FUNCTION stop.here() RETURNS event_trigger LANGUAGE plpgsql SECURITY DEFINER AS $$
        DECLARE
            n int := coalesce(nullif(current_setting('stop.n', true), ''), '0')::int + 1;
        BEGIN
            IF current_setting('application_name') = 'leadhand-migrate' THEN
                PERFORM set_config('stop.n', n::text, false);
                IF n = (SELECT a.n FROM stop.at AS a) THEN
                    PERFORM pg_advisory_xact_lock(4711);
                END IF;
            END IF;
        END $$;
    CREATE EVENT TRIGGER stop ON ddl_command_start EXECUTE FUNCTION stop.here();
    SELECT pg_advisory_lock(4711);";

const SESSIONS: &str = "SELECT pid FROM pg_stat_activity WHERE application_name = 'leadhand-migrate'";

struct Killing {
    /// Holds the lock.
    superuser: PgConnection,
    app: String,
    owner: String,
    kills: usize,
}

/// Where a migration is stopped.
#[derive(Debug, Clone, Copy)]
enum At {
    /// At this statement of the session.
    Statement(i32),
    /// Where it notes a migration as done.
    Noting,
}

impl Killing {
    /// Migrates until it is stopped there, and kills it. Whether it was stopped; otherwise it has succeeded.
    async fn run(&mut self, at: At) -> Result<bool> {
        let statement = if let At::Statement(n) = at { n } else { 0 };
        sqlx::query("UPDATE stop.at SET n = $1").bind(statement).execute(&mut self.superuser).await?;
        let mut locker = PgConnection::connect(&on(&self.owner, "killed")).await?;
        let mut locked = locker.begin().await?;
        if matches!(at, At::Noting) {
            raw_sql("LOCK TABLE _sqlx_migrations IN SHARE MODE").execute(&mut *locked).await?;
        }
        let args = ["migrate", "--database-url", &self.app, "--owner-url", &self.owner];
        let mut child = begin_leadhandd(&args)?;
        let Some(session) = self.stopped(&mut child).await? else { return Ok(false) };
        // Now the process, and now its session behind its back.
        self.kills += 1;
        if self.kills.is_multiple_of(2) {
            child.kill()?;
        } else {
            let end = "SELECT pg_terminate_backend($1)";
            sqlx::query(end).bind(session).execute(&mut self.superuser).await?;
        }
        let ended = tokio::task::spawn_blocking(move || child.wait_with_output()).await??;
        let errors = String::from_utf8_lossy(&ended.stderr);
        ensure!(!ended.status.success(), "a migration that was killed says that all went well");
        ensure!(self.kills.is_multiple_of(2) != errors.contains("migrating the database failed"), "it said: {errors}");
        locked.rollback().await?;
        self.let_go().await?;
        Ok(true)
    }

    /// The session that waits, unless the process ends without.
    async fn stopped(&mut self, child: &mut Child) -> Result<Option<i32>> {
        let begun = tokio::time::Instant::now();
        loop {
            let waits = format!("{SESSIONS} AND wait_event_type = 'Lock'");
            let waits = sqlx::query_scalar(sqlx::AssertSqlSafe(waits)).fetch_optional(&mut self.superuser).await?;
            if waits.is_some() {
                return Ok(waits);
            }
            if let Some(status) = child.try_wait()? {
                ensure!(status.success(), "a migration that nobody killed ended with {status}");
                return Ok(None);
            }
            ensure!(begun.elapsed() < WITHIN, "the migration neither waits nor ends");
            tokio::task::yield_now().await;
        }
    }

    /// A session whose process is gone goes on until it notices; its lock is free only then.
    async fn let_go(&mut self) -> Result<()> {
        raw_sql("SELECT pg_advisory_unlock(4711)").execute(&mut self.superuser).await?;
        let begun = tokio::time::Instant::now();
        while sqlx::query(SESSIONS).fetch_optional(&mut self.superuser).await?.is_some() {
            ensure!(begun.elapsed() < WITHIN, "a session outlives its killed process");
            tokio::task::yield_now().await;
        }
        raw_sql("SELECT pg_advisory_lock(4711)").execute(&mut self.superuser).await?;
        Ok(())
    }

    async fn applied(&mut self) -> Result<i64> {
        let there: bool = sqlx::query_scalar("SELECT to_regclass('_sqlx_migrations') IS NOT NULL")
            .fetch_one(&mut self.superuser)
            .await?;
        if !there {
            return Ok(-1);
        }
        Ok(sqlx::query_scalar("SELECT count(*) FROM _sqlx_migrations").fetch_one(&mut self.superuser).await?)
    }
}

/// A database that was never migrated.
async fn empty(postgres: &OwnServer, name: &'static str) -> Result<PgConnection> {
    let mut superuser = PgConnection::connect(&postgres.superuser_url()).await?;
    let make = format!("CREATE DATABASE {name} TEMPLATE template0");
    raw_sql(sqlx::AssertSqlSafe(make)).execute(&mut superuser).await?;
    let mut inside = PgConnection::connect(&on(&postgres.superuser_url(), name)).await?;
    raw_sql(ROLES).execute(&mut inside).await.context("the roles can't be made")?;
    Ok(inside)
}

async fn noted(connection: &mut PgConnection) -> Result<Vec<(i64, bool, Vec<u8>)>> {
    let noted = "SELECT version, success, checksum FROM _sqlx_migrations ORDER BY version";
    Ok(sqlx::query_as(noted).fetch_all(connection).await?)
}

/// Kills at each statement of each migration, and where each is noted; gives how often.
async fn kill_at_each_step(killing: &mut Killing) -> Result<usize> {
    // The first statement of a session is for the table in which migrations are noted.
    let (mut statement, mut applied) = (1, -1);
    while killing.run(At::Statement(statement)).await? {
        let now = killing.applied().await?;
        if now > applied {
            // The migrations before this one are through. It was stopped at its first statement.
            applied = now;
            statement = 2;
            ensure!(killing.run(At::Noting).await?, "nothing was left to be noted");
        }
        statement += 1;
    }
    Ok(killing.kills)
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn migrations_killed_at_every_step_end_with_the_schema_that_is_made_from_nothing() {
    let postgres = OwnServer::start().await.unwrap();
    let mut superuser = empty(&postgres, "killed").await.unwrap();
    raw_sql(STOP).execute(&mut superuser).await.unwrap();
    let (app, owner) = (on(&postgres.app_url(), "killed"), on(&postgres.owner_url(), "killed"));
    let mut killing = Killing { superuser, app, owner, kills: 0 };
    let kills = kill_at_each_step(&mut killing).await.unwrap();
    eprintln!("FAULT migrations killed: {kills} times, the process and its session in turns");
    assert!(kills > 50, "{kills} kills are too few for every step");

    let undo = "DROP EVENT TRIGGER stop; DROP SCHEMA stop CASCADE";
    raw_sql(undo).execute(&mut killing.superuser).await.unwrap();
    let mut whole = empty(&postgres, "whole").await.unwrap();
    let (app, owner) = (on(&postgres.app_url(), "whole"), on(&postgres.owner_url(), "whole"));
    let args = ["migrate", "--database-url", &app, "--owner-url", &owner];
    assert!(leadhandd(&args).await.unwrap().status.success());
    assert_eq!(noted(&mut killing.superuser).await.unwrap(), noted(&mut whole).await.unwrap());
    let (killed, whole) = (postgres.schema_of("killed").unwrap(), postgres.schema_of("whole").unwrap());
    assert!(killed.contains("CREATE TABLE public.journal"), "{killed}");
    assert_eq!(killed, whole);
    let look = || async { leadhandd(&["verify", "--database-url", &on(&postgres.app_url(), "killed")]).await.ok() };
    let verified = until(WITHIN, "verify", look).await.unwrap();
    assert!(verified.status.success(), "{}", String::from_utf8_lossy(&verified.stderr));
}
