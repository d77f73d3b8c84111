//! The sealed template database that every test's database is cloned from.

use std::{fs, path::Path, time::Duration};

use anyhow::{Context, Result};
use sqlx::{AssertSqlSafe, Connection, PgConnection, raw_sql};

use super::{OWNER_ROLE, SUPERUSER_ROLE, place, server::Server};

const PREFIX: &str = "leadhand_template_";
const BUILDING: &str = "leadhand_building_template";
/// Concurrent runs at different migrations each need theirs; more than this many are leftovers.
const KEPT: i64 = 4;
/// The start of the name of a test's database; the number of the process that made it comes next.
pub(super) const CLONE_PREFIX: &str = "leadhand_test_";

/// Runs one statement that takes no parameters; names in it are the kit's own.
pub(super) async fn run(connection: &mut PgConnection, statement: String) -> Result<(), sqlx::Error> {
    raw_sql(AssertSqlSafe(statement)).execute(connection).await.map(|_| ())
}

/// The name of the template for the present migrations, made if it isn't there. The caller holds the lock.
pub(super) async fn prepare(server: &Server, connection: &mut PgConnection) -> Result<String> {
    let name = format!("{PREFIX}{}", digest_of_migrations()?);
    let known: bool = sqlx::query_scalar("select exists (select from pg_database where datname = $1)")
        .bind(&name)
        .fetch_one(&mut *connection)
        .await?;
    if !known {
        build(server, connection, &name).await.with_context(|| format!("cannot make the template database {name}"))?;
    }
    Ok(name)
}

/// Builds under another name, so that a template that carries its name is complete.
async fn build(server: &Server, connection: &mut PgConnection, name: &str) -> Result<()> {
    run(connection, format!("drop database if exists {BUILDING} with (force)")).await?;
    make_database(server, connection, BUILDING).await?;
    run(connection, format!("alter database {BUILDING} allow_connections false")).await?;
    end_connections(connection).await?;
    run(connection, format!("alter database {BUILDING} rename to {name}")).await?;
    run(connection, format!("alter database {name} is_template true")).await?;
    drop_old(connection).await
}

/// A closed connection's backend lives on for a moment, and a database in use can't be renamed.
async fn end_connections(connection: &mut PgConnection) -> Result<()> {
    let gone = async {
        loop {
            let ended: Vec<bool> =
                sqlx::query_scalar("select pg_terminate_backend(pid) from pg_stat_activity where datname = $1")
                    .bind(BUILDING)
                    .fetch_all(&mut *connection)
                    .await?;
            if ended.is_empty() {
                return Ok(());
            }
            tokio::time::sleep(Duration::from_millis(10)).await;
        }
    };
    tokio::time::timeout(Duration::from_secs(10), gone).await.context("the migrated database stayed in use for 10 s")?
}

async fn drop_old(connection: &mut PgConnection) -> Result<()> {
    let old: Vec<String> = sqlx::query_scalar(
        "select datname::text from pg_database where starts_with(datname, $1) order by oid desc offset $2",
    )
    .bind(PREFIX)
    .bind(KEPT)
    .fetch_all(&mut *connection)
    .await?;
    for name in old {
        run(connection, format!("alter database {name} is_template false")).await?;
        run(connection, format!("drop database if exists {name} with (force)")).await?;
    }
    Ok(())
}

/// Drops the databases of test processes that died before they could.
pub(super) async fn sweep(connection: &mut PgConnection) -> Result<()> {
    let clones: Vec<String> =
        sqlx::query_scalar("select datname::text from pg_database where starts_with(datname, $1)")
            .bind(CLONE_PREFIX)
            .fetch_all(&mut *connection)
            .await?;
    for name in clones {
        let process = name.trim_start_matches(CLONE_PREFIX).split('_').next().unwrap_or_default();
        if !Path::new("/proc").join(process).exists() {
            run(connection, format!("drop database if exists {name} with (force)")).await?;
        }
    }
    Ok(())
}

/// Stands for everything that decides what is in the template.
fn digest_of_migrations() -> Result<String> {
    let dir = place::root().join("migrations");
    let mut files: Vec<_> = fs::read_dir(&dir)
        .with_context(|| format!("cannot read {}", dir.display()))?
        .map(|entry| entry.map(|entry| entry.path()))
        .collect::<Result<_, _>>()?;
    files.retain(|path| path.extension().is_some_and(|extension| extension == "sql"));
    files.sort();
    files.push(place::root().join("deploy/roles.sql"));
    let mut bytes = Vec::new();
    for file in files {
        bytes.extend_from_slice(file.file_name().unwrap_or_default().as_encoded_bytes());
        bytes.push(0);
        bytes.extend(fs::read(&file).with_context(|| format!("cannot read {}", file.display()))?);
        bytes.push(0);
    }
    Ok(place::digest(&bytes))
}

/// Makes a migrated database the way an administrator does: roles by the script, then the migrations as the owner.
pub(super) async fn make_database(server: &Server, connection: &mut PgConnection, name: &str) -> Result<()> {
    run(connection, format!("create database {name} template template0")).await?;
    let script = place::root().join("deploy/roles.sql");
    let script = fs::read_to_string(&script).with_context(|| format!("cannot read {}", script.display()))?;
    let mut inside = PgConnection::connect(&server.url(SUPERUSER_ROLE, name)).await?;
    run(&mut inside, script).await.context("deploy/roles.sql failed")?;
    inside.close().await?;
    leadhand_store::migrate(&server.url(OWNER_ROLE, name)).await.context("the migrations failed")
}
