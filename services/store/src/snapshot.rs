//! A read of one shop in which everything is as of one moment.

use crate::clock::stamp;
use crate::errors::StoreError;
use crate::read::{Clocked, Head, RawHead, refuse_newer};
use crate::store::begin;
use crate::{about, lives, load, read};
use leadhand_domain::labels::Opening;
use leadhand_domain::need::Need;
use leadhand_domain::state::AnyRow;
use leadhand_domain::view::lives::LivedStage;
use leadhand_facts::rows::{MoveRow, Row, StepRow, TABLES};
use leadhand_facts::text::TextBody;
use leadhand_facts::words::JobState;
use leadhand_facts::{CustomerId, Entry, FactId, Instant, ItemKey, JobNo, PersonId, ShopId, TemplateKey, TextId};
use serde_json::Value;
use sqlx::{AssertSqlSafe, PgPool, Postgres, Transaction};

/// A read-only transaction whose every statement sees the same state.
#[derive(Debug)]
pub struct Snapshot {
    tx: Transaction<'static, Postgres>,
    shop: ShopId,
    /// The journal number at which everything read is true.
    pub head: Head,
    /// The database's clock, never behind the last fact.
    pub now: Instant,
}

/// Which jobs to list. What is empty does not restrict.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct JobFilter {
    /// In one of these states.
    pub states: Vec<JobState>,
    /// Of this template, any revision.
    pub template: Option<TemplateKey>,
    /// Opened at or after.
    pub opened_from: Option<Instant>,
    /// Opened before.
    pub opened_until: Option<Instant>,
    /// Closed at or after.
    pub closed_from: Option<Instant>,
    /// Closed before.
    pub closed_until: Option<Instant>,
    /// With a number above this one: the last of the page before.
    pub after: Option<JobNo>,
    /// At most so many; nothing for all.
    pub limit: Option<i64>,
}

impl Snapshot {
    #[tracing::instrument(level = "debug", name = "Snapshot::begin", skip(pool), fields(%shop))]
    pub(crate) async fn begin(pool: &PgPool, shop: ShopId) -> Result<Self, StoreError> {
        let mut tx = begin(pool, "ISOLATION LEVEL REPEATABLE READ READ ONLY", shop).await?;
        let found = sqlx::query_as!(
            RawHead,
            r#"SELECT number, fact_id, recorded_at, format, clock_timestamp() AS "clock!" FROM head WHERE shop = $1"#,
            shop.0
        )
        .fetch_optional(&mut *tx)
        .await?
        .ok_or(StoreError::NoSuchShop(shop))?;
        let Clocked { head, now } = Clocked::new(&found);
        refuse_newer(shop, &head)?;
        Ok(Self { tx, shop, head, now })
    }

    /// The shop that is read.
    pub fn shop(&self) -> ShopId {
        self.shop
    }

    /// The rows that these needs name. A row that several of them name may come more than once.
    pub async fn load(&mut self, needs: &[Need]) -> Result<Vec<AnyRow>, StoreError> {
        load::load(&mut self.tx, self.shop, needs).await
    }

    /// Facts after a number, in order.
    pub async fn journal(&mut self, after: i64, limit: i64) -> Result<Vec<Entry>, StoreError> {
        read::journal(&mut self.tx, self.shop, after, limit).await
    }

    /// The facts with these numbers, in order.
    pub async fn facts(&mut self, numbers: &[i64]) -> Result<Vec<Entry>, StoreError> {
        read::facts(&mut self.tx, self.shop, numbers).await
    }

    /// Jobs of a template, of any revision, that were handed over: so many of the last.
    #[tracing::instrument(level = "debug", skip(self))]
    pub async fn finished_jobs(&mut self, template: &TemplateKey, limit: i64) -> Result<Vec<JobNo>, StoreError> {
        let found = sqlx::query_scalar!(
            "SELECT job FROM job WHERE shop = $1 AND template = $2 AND state = 'completed'
            ORDER BY closed_at DESC, job DESC LIMIT $3",
            self.shop.0,
            template.as_str(),
            limit
        )
        .fetch_all(&mut *self.tx)
        .await?;
        Ok(found.into_iter().map(JobNo).collect())
    }

    /// Facts of these kinds after a number, in order, up to a number of them.
    pub async fn facts_of(&mut self, kinds: &[&str], after: i64, limit: i64) -> Result<Vec<Entry>, StoreError> {
        read::facts_of(&mut self.tx, self.shop, kinds, after, limit).await
    }

    /// The id of the fact with this number, to tell whether a cursor is of this history.
    pub async fn fact_id_at(&mut self, number: i64) -> Result<Option<FactId>, StoreError> {
        read::fact_id_at(&mut self.tx, self.shop, number).await
    }

    /// The words of these texts, as far as they were not erased.
    pub async fn texts(&mut self, texts: &[TextId]) -> Result<Vec<TextBody>, StoreError> {
        read::texts(&mut self.tx, self.shop, texts).await
    }

    /// The rows that are about a person, with their tables.
    pub async fn person_rows(&mut self, person: PersonId) -> Result<Vec<(String, Value)>, StoreError> {
        about::person_rows(&mut self.tx, self.shop, person).await
    }

    /// The rows that are about a customer, with their tables.
    pub async fn customer_rows(&mut self, customer: CustomerId) -> Result<Vec<(String, Value)>, StoreError> {
        about::customer_rows(&mut self.tx, self.shop, customer).await
    }

    /// Facts about a person, and those that were recorded as the person's doing, after a number; with `sent`
    /// also what the person's tokens recorded for others.
    pub async fn person_facts(
        &mut self,
        person: PersonId,
        sent: bool,
        after: i64,
        limit: i64,
    ) -> Result<Vec<Entry>, StoreError> {
        about::person_facts(&mut self.tx, self.shop, person, sent, after, limit).await
    }

    /// Facts about a customer, the customer's vehicles and jobs, after a number; without the time of persons.
    pub async fn customer_facts(
        &mut self,
        customer: CustomerId,
        after: i64,
        limit: i64,
    ) -> Result<Vec<Entry>, StoreError> {
        about::customer_facts(&mut self.tx, self.shop, customer, after, limit).await
    }

    /// The words of every text that was not erased.
    #[tracing::instrument(level = "debug", skip_all)]
    pub async fn text_bodies(&mut self) -> Result<Vec<TextBody>, StoreError> {
        let found = sqlx::query!("SELECT text, salt, body FROM text_body WHERE shop = $1 ORDER BY text", self.shop.0)
            .fetch_all(&mut *self.tx)
            .await?;
        Ok(found.into_iter().map(|t| TextBody { id: TextId(t.text), salt: t.salt, body: t.body }).collect())
    }

    /// Movements of an item after a journal number, in order.
    #[tracing::instrument(level = "debug", skip(self))]
    pub async fn moves(&mut self, item: &ItemKey, after_n: i64, limit: i64) -> Result<Vec<MoveRow>, StoreError> {
        let found = sqlx::query_scalar!(
            r#"SELECT to_jsonb(t) - 'shop' AS "row!" FROM stock_move AS t
            WHERE t.shop = $1 AND t.item = $2 AND t.n > $3 ORDER BY t.n LIMIT $4"#,
            self.shop.0,
            item.as_str(),
            after_n,
            limit
        )
        .fetch_all(&mut *self.tx)
        .await?;
        let read = |row| {
            serde_json::from_value(row).map_err(|source| StoreError::Row { table: MoveRow::TABLE.to_owned(), source })
        };
        found.into_iter().map(read).collect()
    }

    /// Customers after this fact, oldest first.
    #[tracing::instrument(level = "debug", skip(self))]
    pub async fn customers(&mut self, after_n: i64, limit: i64) -> Result<Vec<CustomerId>, StoreError> {
        let found = sqlx::query_scalar!(
            "SELECT customer FROM customer WHERE shop = $1 AND added_n > $2 ORDER BY added_n LIMIT $3",
            self.shop.0,
            after_n,
            limit
        )
        .fetch_all(&mut *self.tx)
        .await?;
        Ok(found.into_iter().map(CustomerId).collect())
    }

    /// Keys of items after this one, in order.
    #[tracing::instrument(level = "debug", skip(self))]
    pub async fn items(&mut self, after: Option<&ItemKey>, limit: i64) -> Result<Vec<ItemKey>, StoreError> {
        let found = sqlx::query_scalar!(
            "SELECT item FROM item WHERE shop = $1 AND item > $2 ORDER BY item LIMIT $3",
            self.shop.0,
            after.map_or("", ItemKey::as_str),
            limit
        )
        .fetch_all(&mut *self.tx)
        .await?;
        Ok(found.into_iter().map(ItemKey).collect())
    }

    /// Numbers of the jobs that a filter lets through, in order.
    #[tracing::instrument(level = "debug", skip(self))]
    pub async fn jobs(&mut self, filter: &JobFilter) -> Result<Vec<JobNo>, StoreError> {
        let states: Vec<String> = filter.states.iter().map(|state| state.word().to_owned()).collect();
        let found = sqlx::query_scalar!(
            "SELECT job FROM job
            WHERE shop = $1 AND job > $2
                AND (cardinality($3::text[]) = 0 OR state = ANY($3))
                AND ($4::text IS NULL OR template = $4)
                AND ($5::timestamptz IS NULL OR opened_at >= $5) AND ($6::timestamptz IS NULL OR opened_at < $6)
                AND ($7::timestamptz IS NULL OR closed_at >= $7) AND ($8::timestamptz IS NULL OR closed_at < $8)
            ORDER BY job LIMIT $9",
            self.shop.0,
            filter.after.map_or(0, |job| job.0),
            &states,
            filter.template.as_ref().map(TemplateKey::as_str),
            filter.opened_from.map(stamp),
            filter.opened_until.map(stamp),
            filter.closed_from.map(stamp),
            filter.closed_until.map(stamp),
            filter.limit
        )
        .fetch_all(&mut *self.tx)
        .await?;
        Ok(found.into_iter().map(JobNo).collect())
    }

    /// Jobs in which a correction of time waits for a decision, or one of this person's was decided since then, by number.
    #[tracing::instrument(level = "debug", skip(self))]
    pub async fn jobs_asked_about(&mut self, decided: Option<(PersonId, Instant)>) -> Result<Vec<JobNo>, StoreError> {
        let (person, since) = decided.unzip();
        let found = sqlx::query_scalar!(
            "SELECT DISTINCT job FROM asked_correction
            WHERE shop = $1 AND (decided_n IS NULL OR (person = $2 AND decided_at >= $3)) ORDER BY job",
            self.shop.0,
            person.map(|person| person.0),
            since.map(stamp)
        )
        .fetch_all(&mut *self.tx)
        .await?;
        Ok(found.into_iter().map(JobNo).collect())
    }

    /// What the time of the stages of these jobs depends on, by template; the filter's states and page do not count.
    pub async fn lives(&mut self, job: Option<JobNo>, filter: &JobFilter) -> Result<Vec<LivedStage>, StoreError> {
        lives::lives(&mut self.tx, self.shop, job, filter).await
    }

    /// When the shop was open after an instant, in order.
    pub async fn openings(&mut self, after: Instant) -> Result<Vec<Opening>, StoreError> {
        lives::openings(&mut self.tx, self.shop, after).await
    }

    /// Every row of a table of [`TABLES`], columns by name, as they lie in the database.
    #[tracing::instrument(level = "debug", skip(self))]
    pub async fn all_rows(&mut self, table: &str) -> Result<Vec<Value>, StoreError> {
        if !TABLES.contains(&table) {
            return Err(StoreError::NoSuchTable(table.to_owned()));
        }
        // The name is one of our own constants.
        let sql = format!("SELECT to_jsonb(t) - 'shop' FROM {table} AS t WHERE t.shop = $1");
        Ok(sqlx::query_scalar(AssertSqlSafe(sql)).bind(self.shop.0).fetch_all(&mut *self.tx).await?)
    }

    /// The same a page at a time, for tables that may be long. Steps come in the order of jobs.
    #[tracing::instrument(level = "debug", skip(self, then))]
    pub async fn each_row(&mut self, table: &str, mut then: impl FnMut(Value)) -> Result<usize, StoreError> {
        if !TABLES.contains(&table) {
            return Err(StoreError::NoSuchTable(table.to_owned()));
        }
        let order = if table == StepRow::TABLE { "ORDER BY t.job" } else { "" };
        // A cursor, and not a stream: a statement that goes on for as long as its rows are looked at meets its limit of time.
        let (shop, mut count) = (self.shop, 0);
        let declared = format!(
            "DECLARE each_row NO SCROLL CURSOR FOR \
             SELECT to_jsonb(t) - 'shop' FROM {table} AS t WHERE t.shop = '{shop}' {order}"
        );
        sqlx::raw_sql(AssertSqlSafe(declared)).execute(&mut *self.tx).await?;
        loop {
            let fetch = sqlx::query_scalar("FETCH 2000 FROM each_row").persistent(false);
            let page: Vec<Value> = fetch.fetch_all(&mut *self.tx).await?;
            if page.is_empty() {
                break;
            }
            count += page.len();
            page.into_iter().for_each(&mut then);
        }
        sqlx::raw_sql("CLOSE each_row").execute(&mut *self.tx).await?;
        Ok(count)
    }

    /// Ends the read. Dropping does the same a little later.
    pub async fn end(self) -> Result<(), StoreError> {
        Ok(self.tx.commit().await?)
    }
}
