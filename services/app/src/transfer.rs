//! A whole shop, read out and taken in: its facts and the words beside them. What the tables hold is folded
//! anew from the facts, so that it is never taken on trust.

use crate::App;
use crate::chance::random_id;
use crate::error::AppError;
use leadhand_domain::apply::apply;
use leadhand_domain::state::State;
use leadhand_facts::rows::TABLES;
use leadhand_facts::text::TextBody;
use leadhand_facts::{Entry, RequestId, ShopId};
use leadhand_store::{Batch, Head, Snapshot, Written};
use serde_json::Value;

/// Facts written in one go.
const PAGE: usize = 500;

/// A shop as of one moment.
#[derive(Debug)]
pub struct Reading {
    snapshot: Snapshot,
    read: i64,
}

impl App {
    /// Begins to read a whole shop.
    pub async fn read_out(&self, shop: ShopId) -> Result<Reading, AppError> {
        Ok(Reading { snapshot: self.store.snapshot(shop).await?, read: 0 })
    }

    /// Takes a shop in where there is none of its id: facts in order from the first, and the words of texts. All of
    /// it or nothing. `facts` is asked twice, because everything is folded before the first of it is written.
    pub async fn take_in<E, F, I>(&self, shop: ShopId, facts: F, texts: &[TextBody]) -> Result<i64, E>
    where
        E: From<AppError>,
        F: Fn() -> Result<I, E>,
        I: Iterator<Item = Result<Entry, E>> + Send,
    {
        let mut folded = State::default();
        for entry in facts()? {
            fold(&mut folded, &entry?)?;
        }
        drop(folded);
        self.store.open_head(shop).await.map_err(AppError::from)?;
        let mut batch = self.store.begin(shop).await.map_err(AppError::from)?;
        if batch.head.number > 0 {
            let number = batch.head.number;
            batch.rollback().await.map_err(AppError::from)?;
            return Err(AppError::Conflict(format!(
                "shop {shop} is in this database already, with {number} facts, and nothing is written over; take it in \
                 where it is not"
            ))
            .into());
        }
        let request = RequestId(random_id(&*self.entropy));
        let mut texts: Vec<(TextBody, RequestId)> = texts.iter().map(|text| (text.clone(), request)).collect();
        let mut state = State::default();
        let mut page = Vec::with_capacity(PAGE);
        for entry in facts()? {
            let entry = entry?;
            fold(&mut state, &entry)?;
            page.push(entry);
            if page.len() == PAGE {
                write(&mut batch, &mut state, &mut page, &mut texts).await?;
            }
        }
        write(&mut batch, &mut state, &mut page, &mut texts).await?;
        batch.commit().await.map_err(AppError::from)?;
        self.hub.committed(shop, state.head);
        Ok(state.head)
    }
}

fn fold(state: &mut State, entry: &Entry) -> Result<(), AppError> {
    apply(state, entry).map_err(|fault| AppError::Conflict(format!("this is not a shop's journal: {fault}")))?;
    // There is no way back to before a fact, so nothing has to be kept for it.
    state.mark();
    Ok(())
}

async fn write(
    batch: &mut Batch,
    state: &mut State,
    page: &mut Vec<Entry>,
    texts: &mut Vec<(TextBody, RequestId)>,
) -> Result<(), AppError> {
    let changes = state.take_changes();
    let written = Written { entries: page, changes: &changes, texts, ..Written::default() };
    batch.write(&written).await?;
    page.clear();
    texts.clear();
    Ok(())
}

impl Reading {
    /// Where the journal ends.
    pub fn head(&self) -> Head {
        self.snapshot.head
    }

    /// The next facts; none at the end.
    pub async fn facts(&mut self) -> Result<Vec<Entry>, AppError> {
        let page = self.snapshot.journal(self.read, PAGE as i64).await?;
        self.read = page.last().map_or(self.read, |entry| entry.number);
        Ok(page)
    }

    /// The words of every text that was not erased.
    pub async fn texts(&mut self) -> Result<Vec<TextBody>, AppError> {
        Ok(self.snapshot.text_bodies().await?)
    }

    /// Every derived table.
    pub fn tables() -> &'static [&'static str] {
        TABLES
    }

    /// The rows of a derived table, columns by name.
    pub async fn rows(&mut self, table: &str) -> Result<Vec<Value>, AppError> {
        Ok(self.snapshot.all_rows(table).await?)
    }

    /// Ends the read.
    pub async fn end(self) -> Result<(), AppError> {
        Ok(self.snapshot.end().await?)
    }
}
