//! A whole shop, read out and taken in: its facts and the words beside them. What the tables hold is folded
//! anew from the facts, so that it is never taken on trust.

use crate::App;
use crate::chance::random_id;
use crate::error::AppError;
use leadhand_auditor::{Books, check_books, check_texts};
use leadhand_domain::apply::apply;
use leadhand_domain::state::State;
use leadhand_facts::rows::{SignInRow, TABLES, TokenRow};
use leadhand_facts::text::TextBody;
use leadhand_facts::{Entry, Instant, RequestId, ShopId};
use leadhand_store::{Batch, Head, Snapshot, Written};
use serde_json::Value;

/// Facts written in one go.
const PAGE: usize = 500;
/// How far the clock of the machine that a shop comes from may be ahead: a minute.
const AHEAD_US: i64 = 60_000_000;

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
    /// it or nothing. `facts` is asked twice: the auditor folds and proves everything before the first of it is written.
    pub async fn take_in<E, F, I>(&self, shop: ShopId, facts: F, texts: &[TextBody]) -> Result<i64, E>
    where
        E: From<AppError>,
        F: Fn() -> Result<I, E>,
        I: Iterator<Item = Result<Entry, E>> + Send,
    {
        let heads = self.store.heads().await.map_err(AppError::from)?;
        if let Some((_, number)) = heads.into_iter().find(|(known, number)| *known == shop && *number > 0) {
            return Err(conflict(there_already(shop, number)).into());
        }
        let mut books = Books::new();
        let mut last = None;
        for entry in facts()? {
            let entry = entry?;
            books.take(&entry).map_err(|fault| conflict(format!("this is not a shop's journal: {fault}")))?;
            last = Some(entry.recorded_at);
        }
        prove(&books, texts)?;
        self.refuse_taken_secrets(&books).await?;
        drop(books);
        let mut batch = self.store.begin_new(shop).await.map_err(AppError::from)?;
        let refusal = objection(&batch, last);
        if let Some(why) = refusal {
            batch.rollback().await.map_err(AppError::from)?;
            return Err(conflict(why).into());
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

    /// A secret must lead to one holder in the whole database.
    async fn refuse_taken_secrets(&self, books: &Books) -> Result<(), AppError> {
        let tokens = books.rows::<TokenRow>().map(|row| row.hash.clone());
        let hashes: Vec<String> = tokens.chain(books.rows::<SignInRow>().map(|row| row.hash.clone())).collect();
        match self.store.secrets_taken(&hashes).await? {
            0 => Ok(()),
            taken => Err(conflict(format!(
                "{taken} of its tokens are in use in this database already, and a token must lead to one shop; take the \
                 shop in where the other one is not"
            ))),
        }
    }
}

fn there_already(shop: ShopId, facts: i64) -> String {
    format!(
        "shop {shop} is in this database already, with {facts} facts, and nothing is written over; take it in where it is \
         not"
    )
}

fn conflict(why: String) -> AppError {
    AppError::Conflict(why)
}

fn prove(books: &Books, texts: &[TextBody]) -> Result<(), AppError> {
    let broken = check_books(books).first().map(ToString::to_string);
    let broken = broken.or_else(|| check_texts(books, texts.to_vec()).first().map(ToString::to_string));
    broken.map_or(Ok(()), |fault| Err(conflict(format!("this is not a sound shop: {fault}"))))
}

/// What stands against taking a shop in here.
fn objection(batch: &Batch, last: Option<Instant>) -> Option<String> {
    let shop = batch.shop();
    if batch.head.number > 0 {
        return Some(there_already(shop, batch.head.number));
    }
    // Time in a journal never goes back, so nothing could be dated rightly after such a fact.
    last.filter(|last| *last > batch.now.plus_us(AHEAD_US)).map(|last| {
        format!(
            "its last fact was recorded at {last}, which has not come yet here ({}); set the clock right first",
            batch.now
        )
    })
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
        let page = self.snapshot.journal(self.read, i64::try_from(PAGE).unwrap_or(i64::MAX)).await?;
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
