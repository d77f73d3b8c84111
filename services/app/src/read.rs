//! Views: everything a view shows is read in one snapshot, with the journal number at which it
//! is true.

mod about;
mod asked;
mod board;
mod customers;
mod hand_over;
mod jobs;
mod journal;
mod lessons;
mod names;
mod ready;
mod shop;
mod stock;
mod strip;
mod templates;
mod time;
mod tools;

pub use about::{About, Whom};
pub use asked::{AskedLine, AskedPage};
pub use board::BoardView;
pub use customers::{CustomerPage, CustomerView};
pub use hand_over::{FillBooks, HandOver, LooseEnds, Told};
pub use jobs::{JobLine, JobPage, WholeJob};
pub use journal::JournalPage;
pub use lessons::Taught;
pub(crate) use names::nobody;
pub(crate) use shop::Standing;
pub use shop::{Calendar, ShopView, TokenPage};
pub use stock::{Movements, Short, StockPage, SupplierPage};
pub use strip::StripBook;
pub use templates::{DraftedTemplate, TemplatePage};
pub use time::{AuditFilter, ClockingFilter, ClockingPage};
pub use tools::ToolPage;

use crate::App;
use crate::error::AppError;
use crate::words::Words;
use leadhand_domain::command::Command;
use leadhand_domain::context::Context;
use leadhand_domain::decide::needs;
use leadhand_domain::need::Need;
use leadhand_domain::state::State;
use leadhand_facts::{Instant, ShopId, TextId};
use leadhand_store::Snapshot;

/// A snapshot with the rows that were loaded from it.
pub(crate) struct Reading {
    pub(crate) snapshot: Snapshot,
    pub(crate) state: State,
}

impl Reading {
    pub(crate) async fn begin(app: &App, shop: ShopId) -> Result<Self, AppError> {
        let snapshot = app.store.snapshot(shop).await?;
        let state = State::at(snapshot.head.number);
        Ok(Self { snapshot, state })
    }

    pub(crate) fn now(&self) -> Instant {
        self.snapshot.now
    }

    pub(crate) async fn load(&mut self, needs: &[Need]) -> Result<(), AppError> {
        for row in self.snapshot.load(needs).await? {
            self.state.load(row);
        }
        Ok(())
    }

    /// All that a command needs to see, without deciding it.
    async fn load_for(&mut self, command: &Command, context: &Context) -> Result<(), AppError> {
        loop {
            let missing = needs(&self.state, command, context);
            if missing.is_empty() {
                return Ok(());
            }
            self.load(&missing).await?;
            for need in missing {
                self.state.note_loaded(need);
            }
        }
    }

    /// The words behind these texts; ends the snapshot.
    async fn words(mut self, texts: impl IntoIterator<Item = TextId>) -> Result<Words, AppError> {
        let words = Words::load(&mut self.snapshot, texts).await?;
        self.snapshot.end().await?;
        Ok(words)
    }
}
