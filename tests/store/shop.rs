//! A shop in a fresh database, and the short way to write into it.

use kit::{TestDatabase, fresh_database};
use leadhand_domain::state::{AnyRow, RowChange};
use leadhand_facts::words::BayKind;
use leadhand_facts::{BayKey, Entry, Fact, FactId, Instant, RequestId, ShopId};
use leadhand_store::{Batch, Store, StoreError, Written};
use uuid::Uuid;

pub struct Shop {
    pub database: TestDatabase,
    pub store: Store,
    pub id: ShopId,
}

pub async fn shop() -> Shop {
    let database = fresh_database().await;
    let store = Store::connect(&database.app_url(), 4).await.unwrap();
    let id = ShopId(Uuid::from_u128(0xA));
    assert!(store.open_head(id).await.unwrap(), "a new shop gets a head");
    Shop { database, store, id }
}

impl Shop {
    /// Writes rows in a batch of their own.
    pub async fn put(&self, rows: &[AnyRow]) -> Result<(), StoreError> {
        let changes: Vec<_> = rows.iter().cloned().map(RowChange::Put).collect();
        self.write(&Written { changes: &changes, ..Written::default() }).await
    }

    /// Writes in a batch of its own.
    pub async fn write(&self, written: &Written<'_>) -> Result<(), StoreError> {
        let mut batch = self.store.begin(self.id).await?;
        match batch.write(written).await {
            Ok(()) => batch.commit().await,
            Err(error) => {
                batch.rollback().await?;
                Err(error)
            }
        }
    }

    /// Every row of a table.
    pub async fn rows(&self, table: &str) -> Vec<AnyRow> {
        let mut snapshot = self.store.snapshot(self.id).await.unwrap();
        let rows = snapshot.all_rows(table).await.unwrap();
        rows.into_iter().map(|row| AnyRow::from_value(table, row).unwrap().unwrap()).collect()
    }
}

/// Facts that follow a batch's head: `count` bays.
pub fn bays(batch: &Batch, count: i64) -> Vec<Entry> {
    (batch.head.number + 1..=batch.head.number + count).map(|number| entry(number, batch.now)).collect()
}

pub fn entry(number: i64, at: Instant) -> Entry {
    let bay = BayKey(format!("bay-{number}"));
    Entry {
        number,
        fact_id: FactId(Uuid::from_u128(0xFAC7_0000 + u128::from(number.unsigned_abs()))),
        recorded_at: at,
        happened_at: at.plus_minutes(-5),
        principal: None,
        person: None,
        proved: None,
        request: request(1),
        fact: Fact::BayAdded { bay, name: "Bay".to_owned(), bay_kind: BayKind::Floor, rated_kg: 2_500 },
    }
}

pub fn request(n: u128) -> RequestId {
    RequestId(Uuid::from_u128(0x5E9 << 16 | n))
}
