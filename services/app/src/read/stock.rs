//! Stock, shortages and the statement of an item.

use super::Reading;
use crate::App;
use crate::access::Principal;
use crate::error::AppError;
use crate::words::Words;
use leadhand_domain::command::{Command, ImportStock};
use leadhand_domain::context::Context;
use leadhand_domain::decide::check_import;
use leadhand_domain::look;
use leadhand_domain::need::Need;
use leadhand_domain::refusal::Refusal;
use leadhand_domain::state::State;
use leadhand_domain::supplier::{Order, order_from, order_of};
use leadhand_domain::view::parts::ShortageLine;
use leadhand_domain::view::stock::{ItemLine, stock_view};
use leadhand_facts::rows::{ItemRow, MoveRow, SupplierRow};
use leadhand_facts::{Instant, ItemKey, JobNo, Quantity, RequestId, SupplierKey};
use std::collections::BTreeSet;
use uuid::Uuid;

/// Items by key.
#[derive(Debug, Clone)]
pub struct StockPage {
    /// The items.
    pub items: Vec<ItemLine>,
    /// The last item of a full page: more may follow.
    pub next: Option<ItemKey>,
    /// The journal number at which this is true.
    pub number: i64,
}

/// An item's movements, oldest first.
#[derive(Debug, Clone)]
pub struct Movements {
    /// The item.
    pub item: ItemRow,
    /// Each movement with what all bins together had after it.
    pub lines: Vec<(MoveRow, Quantity)>,
    /// The words they refer to.
    pub words: Words,
    /// The last number of a full page, and the stock after it: more may follow.
    pub next: Option<(i64, Quantity)>,
}

/// What is short.
#[derive(Debug, Clone)]
pub struct Short {
    /// The shortage.
    pub line: ShortageLine,
    /// Whether it holds up its stage now.
    pub holds_up: bool,
    /// From whom to order it, and when.
    pub order: Option<Order>,
}

/// Suppliers by key.
#[derive(Debug, Clone)]
pub struct SupplierPage {
    /// The suppliers, each with when to order next.
    pub suppliers: Vec<(SupplierRow, Option<Order>)>,
    /// The last key of a full page: more may follow.
    pub next: Option<SupplierKey>,
}

impl App {
    /// Suppliers after this key.
    pub async fn suppliers(
        &self,
        who: &Principal,
        after: Option<SupplierKey>,
        size: usize,
    ) -> Result<SupplierPage, AppError> {
        let mut reading = Reading::begin(self, who.shop).await?;
        let now = reading.now();
        reading.load(&[Need::Shop]).await?;
        reading.snapshot.end().await?;
        let rest =
            reading.state.suppliers.iter().filter(|row| after.as_ref().is_none_or(|after| row.supplier > *after));
        let rows: Vec<SupplierRow> = rest.take(size).cloned().collect();
        let next = (rows.len() == size).then(|| rows.last().map(|row| row.supplier.clone())).flatten();
        let order = |row: &SupplierRow| order_from(&reading.state, &row.supplier, now);
        Ok(SupplierPage { suppliers: rows.into_iter().map(|row| (row.clone(), order(&row))).collect(), next })
    }

    /// Whether an opening stock could be taken over now, or the refusal that lists its bad rows.
    pub async fn check_import(&self, who: &Principal, csv: String) -> Result<(), AppError> {
        let asked = ImportStock { csv };
        let mut reading = Reading::begin(self, who.shop).await?;
        let now = reading.now();
        let context =
            Context { now, happened_at: now, actor: who.actor(None)?, request: RequestId(Uuid::nil()), etag: None };
        let command = Command::ImportStock(asked.clone());
        reading.load_for(&command, &context).await?;
        reading.snapshot.end().await?;
        Ok(check_import(&reading.state, now, &asked)?)
    }

    /// Stock by item: one, or all after this one.
    pub async fn stock(
        &self,
        who: &Principal,
        item: Option<ItemKey>,
        after: Option<ItemKey>,
        size: usize,
    ) -> Result<StockPage, AppError> {
        let mut reading = Reading::begin(self, who.shop).await?;
        let keys = match item {
            Some(item) => vec![item],
            None => reading.snapshot.items(after.as_ref(), i64::try_from(size).unwrap_or(i64::MAX)).await?,
        };
        let next = (keys.len() == size).then(|| keys.last().cloned()).flatten();
        let mut needs: Vec<Need> = keys.iter().map(|item| Need::Stock(item.clone())).collect();
        needs.push(Need::Shop);
        reading.load(&needs).await?;
        if let [only] = &keys[..] {
            known(&reading, only)?;
        }
        let view = stock_view(&reading.state);
        reading.snapshot.end().await?;
        Ok(StockPage { items: view.items, next, number: view.number })
    }

    /// What is short, in the order in which a delivery would cover it.
    pub async fn shortages(&self, who: &Principal, job: Option<JobNo>) -> Result<(Vec<Short>, i64), AppError> {
        let mut reading = Reading::begin(self, who.shop).await?;
        let now = reading.now();
        reading.load(&[Need::Shop, Need::OpenJobs]).await?;
        if let Some(job) = job {
            reading.load(&[Need::Job(job)]).await?;
            look::job(&reading.state, job)?;
        }
        let items: BTreeSet<ItemKey> = reading.state.shortages.iter().map(|row| row.item.clone()).collect();
        reading.load(&[Need::Items(items.into_iter().collect())]).await?;
        let view = stock_view(&reading.state);
        let lines = view.shortages.into_iter().filter(|line| job.is_none_or(|job| line.job == job));
        let lines = lines.map(|line| short_of(&reading.state, line, now)).collect();
        reading.snapshot.end().await?;
        Ok((lines, view.number))
    }

    /// The movements of an item after a fact, on top of what all bins together had then.
    pub async fn movements(
        &self,
        who: &Principal,
        item: &ItemKey,
        after: (i64, Quantity),
        size: usize,
    ) -> Result<Movements, AppError> {
        let mut reading = Reading::begin(self, who.shop).await?;
        reading.load(&[Need::Shop, Need::Items(vec![item.clone()])]).await?;
        let row = known(&reading, item)?;
        let moves = reading.snapshot.moves(item, after.0, i64::try_from(size).unwrap_or(i64::MAX)).await?;
        let mut on_hand = after.1;
        let is_bin = |place: &leadhand_facts::PlaceKey| {
            reading
                .state
                .places
                .get(&(place.clone(),))
                .is_some_and(|row| row.kind == leadhand_facts::words::PlaceKind::Bin)
        };
        let mut lines = Vec::with_capacity(moves.len());
        for moved in moves {
            let into = i64::from(is_bin(&moved.to_place)) - i64::from(is_bin(&moved.from_place));
            on_hand = Quantity(on_hand.0.saturating_add(into.saturating_mul(moved.quantity.0)));
            lines.push((moved, on_hand));
        }
        let next = (lines.len() == size).then(|| lines.last().map(|(row, after)| (row.n, *after))).flatten();
        let texts: Vec<_> = lines.iter().filter_map(|(row, _)| row.reason).collect();
        let words = reading.words(texts).await?;
        Ok(Movements { item: row, lines, words, next })
    }

    /// The units of these items, for showing quantities.
    pub async fn items(&self, who: &Principal, items: Vec<ItemKey>) -> Result<Vec<ItemRow>, AppError> {
        let mut reading = Reading::begin(self, who.shop).await?;
        reading.load(&[Need::Items(items)]).await?;
        reading.snapshot.end().await?;
        Ok(reading.state.items.iter().cloned().collect())
    }
}

/// A shortage with what it holds up, and from whom to order it.
pub(super) fn short_of(state: &State, line: ShortageLine, now: Instant) -> Short {
    let holds_up = look::open_blockers(state, line.job)
        .any(|row| row.stage == line.stage && row.step == Some(line.step) && row.item.as_ref() == Some(&line.item));
    let order = order_of(state, &line.item, now);
    Short { line, holds_up, order }
}

fn known(reading: &Reading, item: &ItemKey) -> Result<ItemRow, Refusal> {
    reading.state.items.get(&(item.clone(),)).cloned().ok_or_else(|| Refusal::Unknown {
        what: "item",
        which: item.to_string(),
        todo: "`leadhand stock list` shows them",
    })
}
