//! `leadhand board`.

use super::board_live;
use super::board_text::{self, Look};
use crate::app::App;
use crate::failure::Outcome;
use crate::moment;
use clap::Args;
use leadhand_sdk::Board;
use leadhand_sdk::v1::GetBoardRequest;

/// How to show the board.
#[derive(Debug, Args)]
pub struct BoardArgs {
    /// Keep it up to date: on a terminal redrawn in place (q quits), else a line for each change
    #[arg(long)]
    live: bool,
}

/// Runs it.
pub async fn run(app: &App, args: &BoardArgs) -> Outcome {
    if args.live {
        return board_live::run(app).await;
    }
    let answer = app.client.get_board(GetBoardRequest {}).await?;
    if app.out.is_json() {
        return crate::out::json(&answer);
    }
    let zone = app.zone().await?;
    let now = answer.as_of.as_ref().and_then(moment::from_wire).unwrap_or_else(moment::now);
    let look = Look { zone, now, colour: app.out.colour, width: app.out.width };
    crate::out::put(&board_text::whole(&Board::from(answer), look))
}
