//! Who may come in, before a shop is known: holders of tokens and sessions, and operators; and how
//! often somebody tried to sign in.

use crate::clock::{instant, stamp};
use crate::errors::StoreError;
use crate::store::{Store, begin};
use chrono::{DateTime, Utc};
use leadhand_facts::words::Role;
use leadhand_facts::{Instant, PersonId, PrincipalId, ShopId, TokenId};
use std::collections::{BTreeSet, HashMap};
use uuid::Uuid;

/// What a secret's hash leads to, also when it counts no longer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Holder {
    /// Who it is.
    pub who: Who,
    /// When it ends by itself.
    pub expires_at: Option<Instant>,
    /// Whether it was ended: revoked, signed out, or what it rests on counts no longer.
    pub over: bool,
    /// Whether it has ended by itself, by the database's clock.
    pub expired: bool,
}

/// Who holds a secret.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Who {
    /// Somebody or some device of a shop.
    Shop {
        /// The shop.
        shop: ShopId,
        /// The token, or the session.
        token: TokenId,
        /// For a session: the token of the device at which the person is signed in.
        device: Option<TokenId>,
        /// Who acts.
        principal: PrincipalId,
        /// The person, when it is a person's.
        person: Option<PersonId>,
        /// What its holder may do.
        role: Role,
    },
    /// An operator, by id.
    Operator(PrincipalId),
}

/// An operator's token without its secret.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OperatorInfo {
    /// Its id, which shops' journals name as the one who acted.
    pub operator: PrincipalId,
    /// What it is called.
    pub label: String,
    /// The first characters of the secret.
    pub prefix: String,
    /// When it was issued.
    pub issued_at: Instant,
    /// When it ends by itself.
    pub expires_at: Option<Instant>,
    /// When it was revoked.
    pub revoked_at: Option<Instant>,
    /// Whether it has ended by itself, by the database's clock.
    pub expired: bool,
}

/// A shop as an operator sees it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct OpenedShop {
    /// Its id.
    pub shop: ShopId,
    /// When it was opened; nothing while it is being opened.
    pub opened_at: Option<Instant>,
    /// The last number of its journal.
    pub number: i64,
}

/// A try to sign in that was counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tried {
    /// It may go on; the moment under which it was counted.
    Counted(Instant),
    /// There were too many; so many seconds until the next one is taken.
    TooMany(u64),
}

/// Who tries, and how many wrong tries are too many.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Trying {
    /// A device, a person, or what was typed in the place of one.
    pub who: Uuid,
    /// Wrong tries within the window.
    pub most: i32,
}

/// Secrets that one statement asks about: their hashes are a few hundred kilobytes.
const ASKED_AT_ONCE: usize = 5_000;

/// A holder's row as it is read.
struct RawHolder {
    hash: String,
    shop: Option<Uuid>,
    token: Uuid,
    principal: Uuid,
    person: Option<Uuid>,
    device: Option<Uuid>,
    role: Option<String>,
    expires_at: Option<DateTime<Utc>>,
    over: bool,
    expired: bool,
}

impl RawHolder {
    /// Nobody when the role is unknown here: the table's check knows the same words.
    fn holder(self) -> Option<Holder> {
        let who = match self.shop {
            None => Who::Operator(PrincipalId(self.principal)),
            Some(shop) => Who::Shop {
                shop: ShopId(shop),
                token: TokenId(self.token),
                device: self.device.map(TokenId),
                principal: PrincipalId(self.principal),
                person: self.person.map(PersonId),
                role: self.role.as_deref().and_then(Role::from_word)?,
            },
        };
        Some(Holder { who, expires_at: self.expires_at.map(instant), over: self.over, expired: self.expired })
    }
}

impl Store {
    /// Who holds the secret with this SHA-256 in hexadecimal, whatever the shop; also when it counts no
    /// longer.
    #[tracing::instrument(level = "debug", skip_all)]
    pub async fn holder(&self, hash: &str) -> Result<Option<Holder>, StoreError> {
        Ok(self.holders(&[hash.to_owned()]).await?.remove(hash))
    }

    /// The same of many secrets, by their hashes, in one question for thousands of them.
    #[tracing::instrument(level = "debug", skip_all, fields(hashes = hashes.len()))]
    pub async fn holders(&self, hashes: &[String]) -> Result<HashMap<String, Holder>, StoreError> {
        let (mut holders, mut shared) = (HashMap::with_capacity(hashes.len()), Vec::new());
        let once: BTreeSet<&String> = hashes.iter().collect();
        let once: Vec<String> = once.into_iter().cloned().collect();
        for asked in once.chunks(ASKED_AT_ONCE) {
            let found = sqlx::query_as!(
                RawHolder,
                r#"SELECT hash AS "hash!", shop, token AS "token!", principal AS "principal!", person, device, role,
                    expires_at, over AS "over!", expired AS "expired!"
                FROM holders_by_hash($1)"#,
                asked
            )
            .fetch_all(&mut *self.connection().await?)
            .await?;
            for raw in found {
                let hash = raw.hash.clone();
                if holders.insert(hash.clone(), raw.holder()).is_some() {
                    shared.push(hash);
                }
            }
        }
        for hash in shared {
            // A secret that leads to two leads to nobody: neither may act as the other.
            tracing::error!("a secret has more than one holder; nobody is let in with it");
            holders.remove(&hash);
        }
        Ok(holders.into_iter().filter_map(|(hash, holder)| Some((hash, holder?))).collect())
    }

    /// How many of these hashes of secrets somebody has already, in any shop or outside of all.
    #[tracing::instrument(level = "debug", skip_all)]
    pub async fn secrets_taken(&self, hashes: &[String]) -> Result<i64, StoreError> {
        let found = sqlx::query_scalar!(r#"SELECT secrets_taken($1) AS "taken!""#, hashes);
        Ok(found.fetch_one(&mut *self.connection().await?).await?)
    }

    /// Counts a try for each of these, all or none, before anything is compared. The window is in
    /// minutes. The rows stay locked until each is counted, so no replica takes one too many.
    #[tracing::instrument(level = "debug", skip_all, fields(%shop))]
    pub async fn count_try(&self, shop: ShopId, all: &[Trying], minutes: i32) -> Result<Tried, StoreError> {
        let mut tx = begin(&self.pool, "", shop).await?;
        let mut now = None;
        for trying in all {
            let found = sqlx::query!(
                r#"INSERT INTO sign_in_try AS t (shop, who, tries, last_at) VALUES ($1, $2, '{}', clock_timestamp())
                ON CONFLICT (shop, who) DO UPDATE SET last_at = clock_timestamp(), tries = ARRAY(
                    SELECT at FROM unnest(t.tries) AS at
                    WHERE at > clock_timestamp() - make_interval(mins => $3) ORDER BY at
                )
                RETURNING last_at, cardinality(tries) AS "count!",
                    coalesce(ceil(extract(epoch FROM
                        tries[cardinality(tries) + 1 - $4] + make_interval(mins => $3) - clock_timestamp()))::bigint, 0)
                        AS "wait!""#,
                shop.0,
                trying.who,
                minutes,
                trying.most
            )
            .fetch_one(&mut *tx)
            .await?;
            if found.count >= trying.most {
                tx.rollback().await?;
                return Ok(Tried::TooMany(u64::try_from(found.wait).unwrap_or(0).max(1)));
            }
            now = Some(found.last_at);
        }
        let at = now.unwrap_or_default();
        let who: Vec<Uuid> = all.iter().map(|trying| trying.who).collect();
        sqlx::query!(
            "UPDATE sign_in_try SET tries = tries || $3::timestamptz WHERE shop = $1 AND who = ANY($2)",
            shop.0,
            &who,
            at
        )
        .execute(&mut *tx)
        .await?;
        // Whoever is locked just now is not over.
        sqlx::query!(
            "DELETE FROM sign_in_try WHERE shop = $1 AND who IN (
                SELECT who FROM sign_in_try WHERE shop = $1 AND last_at < clock_timestamp() - make_interval(mins => $2)
                ORDER BY last_at LIMIT 20 FOR UPDATE SKIP LOCKED
            )",
            shop.0,
            minutes
        )
        .execute(&mut *tx)
        .await?;
        tx.commit().await?;
        Ok(Tried::Counted(instant(at)))
    }

    /// Takes a try back that was right after all, from whoever made it, and forgets every try of `cleared`.
    #[tracing::instrument(level = "debug", skip_all, fields(%shop))]
    pub async fn forgive_tries(
        &self,
        shop: ShopId,
        made_by: Option<(Uuid, Instant)>,
        cleared: Uuid,
    ) -> Result<(), StoreError> {
        let mut tx = begin(&self.pool, "", shop).await?;
        if let Some((who, at)) = made_by {
            sqlx::query!(
                "UPDATE sign_in_try SET tries = array_remove(tries, $3::timestamptz) WHERE shop = $1 AND who = $2",
                shop.0,
                who,
                stamp(at)
            )
            .execute(&mut *tx)
            .await?;
        }
        sqlx::query!("UPDATE sign_in_try SET tries = '{}' WHERE shop = $1 AND who = $2", shop.0, cleared)
            .execute(&mut *tx)
            .await?;
        tx.commit().await?;
        Ok(())
    }

    /// Writes down an operator's token.
    #[tracing::instrument(level = "debug", skip_all)]
    pub async fn issue_operator(
        &self,
        operator: PrincipalId,
        label: &str,
        (prefix, hash): (&str, &str),
        expires_at: Option<Instant>,
    ) -> Result<(), StoreError> {
        let expires_at = expires_at.map(stamp);
        sqlx::query!("SELECT issue_operator($1, $2, $3, $4, $5)", operator.0, label, prefix, hash, expires_at)
            .fetch_one(&mut *self.connection().await?)
            .await?;
        Ok(())
    }

    /// Revokes an operator's token; `false` when there is none.
    #[tracing::instrument(level = "debug", skip_all)]
    pub async fn revoke_operator(&self, operator: PrincipalId) -> Result<bool, StoreError> {
        Ok(sqlx::query_scalar!(r#"SELECT revoke_operator($1) AS "there!""#, operator.0)
            .fetch_one(&mut *self.connection().await?)
            .await?)
    }

    /// Every operator's token, oldest first.
    #[tracing::instrument(level = "debug", skip_all)]
    pub async fn operators(&self) -> Result<Vec<OperatorInfo>, StoreError> {
        let found = sqlx::query!(
            r#"SELECT operator AS "operator!", label AS "label!", prefix AS "prefix!", issued_at AS "issued_at!",
                expires_at, revoked_at, expired AS "expired!"
            FROM operators()"#
        )
        .fetch_all(&mut *self.connection().await?)
        .await?;
        let info = found.into_iter().map(|row| OperatorInfo {
            operator: PrincipalId(row.operator),
            label: row.label,
            prefix: row.prefix,
            issued_at: instant(row.issued_at),
            expires_at: row.expires_at.map(instant),
            revoked_at: row.revoked_at.map(instant),
            expired: row.expired,
        });
        Ok(info.collect())
    }

    /// Every shop as an operator sees it.
    #[tracing::instrument(level = "debug", skip_all)]
    pub async fn opened_shops(&self) -> Result<Vec<OpenedShop>, StoreError> {
        let found = sqlx::query!(r#"SELECT shop AS "shop!", opened_at, number AS "number!" FROM opened_shops()"#)
            .fetch_all(&mut *self.connection().await?)
            .await?;
        let shop = found.into_iter().map(|row| OpenedShop {
            shop: ShopId(row.shop),
            opened_at: row.opened_at.map(instant),
            number: row.number,
        });
        Ok(shop.collect())
    }
}
