//! The board.

use super::Reading;
use crate::App;
use crate::access::Principal;
use crate::error::AppError;
use crate::words::Words;
use leadhand_domain::need::Need;
use leadhand_domain::view::board::{Board, board};
use leadhand_facts::ItemKey;

/// The board with its words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BoardView {
    /// The board.
    pub board: Board,
    /// The words it refers to.
    pub words: Words,
    /// What a bay may bear, by its place in [`Board::bays`].
    pub rated_kg: Vec<i32>,
}

impl App {
    /// The board as it is.
    pub async fn board(&self, who: &Principal) -> Result<BoardView, AppError> {
        let mut reading = Reading::begin(self, who.shop).await?;
        let now = reading.now();
        reading.load(&[Need::Shop, Need::OpenJobs, Need::OpenWindows(now)]).await?;
        let short: Vec<ItemKey> = reading.state.shortages.iter().map(|row| row.item.clone()).collect();
        if !short.is_empty() {
            reading.load(&[Need::Items(short)]).await?;
        }
        let board = board(&reading.state, now);
        let rated_kg = reading.state.bays.iter().map(|bay| bay.rated_kg).collect();
        let words = reading.words(board.text_ids()).await?;
        Ok(BoardView { board, words, rated_kg })
    }
}
