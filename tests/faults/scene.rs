//! Two replicas over a Postgres of their own, with a few shops.

use crate::edge::Edge;
use crate::shop::Shop;
use anyhow::{Context, Result};
use kit::process::{leadhandd, open_shop};
use kit::{Leadhandd, OwnServer};
use sqlx::{Connection, PgConnection, raw_sql};
use std::sync::Arc;

pub struct Scene {
    // Dropped first: they hold connections to the database.
    pub replicas: [Leadhandd; 2],
    pub shops: Vec<Arc<Shop>>,
    pub postgres: OwnServer,
}

impl Scene {
    pub async fn set_up(shops: usize) -> Result<Self> {
        let postgres = OwnServer::start().await?;
        let url = postgres.app_url();
        let mut replicas = [Leadhandd::over(&url)?, Leadhandd::over(&url)?];
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
        Ok(Self { replicas, shops: furnished, postgres })
    }

    pub fn urls(&self) -> [String; 2] {
        [self.replicas[0].url(), self.replicas[1].url()]
    }

    pub fn edge(&self) -> Result<Edge> {
        Edge::to(&self.replicas[0].url())
    }

    /// Does something to the database behind the server's back.
    pub async fn meddle(&self, statements: &'static str) -> Result<()> {
        let mut connection = PgConnection::connect(&self.postgres.superuser_url()).await?;
        raw_sql(statements).execute(&mut connection).await.with_context(|| format!("failed: {statements}"))?;
        Ok(connection.close().await?)
    }

    /// Whether `leadhandd verify` finds no fault, and what it said.
    pub async fn verify(&self) -> Result<(bool, String)> {
        let output = leadhandd(&["verify", "--database-url", &self.postgres.app_url()]).await?;
        let said = [output.stdout, output.stderr].concat();
        Ok((output.status.success(), String::from_utf8_lossy(&said).into_owned()))
    }
}
