//! Replicas over a Postgres of their own, with a few shops.

use crate::edge::Edge;
use crate::shop::Shop;
use anyhow::{Context, Result};
use kit::process::{leadhandd, open_shop};
use kit::{Leadhandd, OwnServer};
use sqlx::{Connection, PgConnection, raw_sql};
use std::sync::Arc;

pub struct Scene {
    // Dropped first: they hold connections to the database.
    pub replicas: Vec<Leadhandd>,
    pub shops: Vec<Arc<Shop>>,
    pub postgres: OwnServer,
    /// Where the replicas find the database.
    pub url: String,
}

impl Scene {
    /// Two replicas.
    pub async fn set_up(shops: usize) -> Result<Self> {
        Self::with_replicas(2, shops).await
    }

    pub async fn with_replicas(replicas: usize, shops: usize) -> Result<Self> {
        let postgres = OwnServer::start().await?;
        let url = postgres.app_url();
        let replicas = (0..replicas).map(|_| Leadhandd::over(&url)).collect::<Result<_>>()?;
        Self::of(postgres, url, replicas, shops).await
    }

    /// Starts these replicas, which find the database at `url`.
    pub async fn of(postgres: OwnServer, url: String, mut replicas: Vec<Leadhandd>, shops: usize) -> Result<Self> {
        for replica in &mut replicas {
            replica.start().await?;
        }
        let edge = Edge::to(&replicas[0].url())?;
        let mut furnished = Vec::new();
        for number in 0..shops {
            let lead = open_shop(&url, &format!("Yard {number}")).await?;
            let seed = u64::try_from(number)?;
            furnished.push(Arc::new(Shop::furnish(&edge, lead, 1_000 + seed).await?));
        }
        Ok(Self { replicas, shops: furnished, postgres, url })
    }

    pub fn urls(&self) -> Vec<String> {
        self.replicas.iter().map(Leadhandd::url).collect()
    }

    /// By the first replica.
    pub fn edge(&self) -> Result<Edge> {
        Edge::to(&self.replicas[0].url())
    }

    /// One connection to the database behind the server's back.
    pub async fn superuser(&self) -> Result<PgConnection> {
        let url = self.postgres.superuser_url();
        PgConnection::connect(&url).await.with_context(|| format!("cannot connect to {url}"))
    }

    /// Does something to the database behind the server's back.
    pub async fn meddle(&self, statements: &'static str) -> Result<()> {
        let mut connection = self.superuser().await?;
        raw_sql(statements).execute(&mut connection).await.with_context(|| format!("failed: {statements}"))?;
        Ok(connection.close().await?)
    }

    /// Whether `leadhandd verify` finds no fault, and what it said.
    pub async fn verify(&self) -> Result<(bool, String)> {
        let output = leadhandd(&["verify", "--database-url", &self.url]).await?;
        let said = [output.stdout, output.stderr].concat();
        Ok((output.status.success(), String::from_utf8_lossy(&said).into_owned()))
    }
}
