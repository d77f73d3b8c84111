//! The board kept up to date: redrawn in place on a terminal, a line for each change elsewhere.

use super::board_screen;
use super::board_text::{self, Look};
use crate::app::App;
use crate::failure::Outcome;
use crate::json;
use crate::moment;
use crate::out::{self, clean};
use futures::StreamExt;
use jiff::Timestamp;
use leadhand_sdk::v1::GetBoardResponse;
use leadhand_sdk::{Board, BoardEvent};
use std::collections::BTreeMap;
use std::pin::pin;

/// Runs it until it is told to stop.
pub async fn run(app: &App) -> Outcome {
    if app.out.width.is_some() && !app.out.is_json() { board_screen::run(app).await } else { as_lines(app).await }
}

async fn as_lines(app: &App) -> Outcome {
    let mut shown: BTreeMap<String, String> = BTreeMap::new();
    let mut live = true;
    let mut events = pin!(app.client.watch_board());
    while let Some(event) = events.next().await {
        match event? {
            BoardEvent::Live(board) if app.out.is_json() => print_json(*board)?,
            BoardEvent::Live(board) => {
                if !std::mem::replace(&mut live, true) {
                    out::note("leadhand: live again");
                }
                print_changes(app, &board, &mut shown).await?;
            }
            BoardEvent::NotLive { why, .. } => {
                live = false;
                out::note(&format!("leadhand: not live: {}; trying again", clean(&why)));
            }
        }
    }
    Ok(())
}

fn print_json(board: Board) -> Outcome {
    let Board { bays, outside, number, as_of } = board;
    out::put(&format!("{}\n", json::of(&GetBoardResponse { bays, outside, number, as_of })?))
}

/// Prints what differs from what was printed before. Lengths of time are left out of the
/// comparison: they grow by themselves.
async fn print_changes(app: &App, board: &Board, shown: &mut BTreeMap<String, String>) -> Outcome {
    let zone = app.zone().await?;
    let now = board.as_of.as_ref().and_then(moment::from_wire).unwrap_or_else(moment::now);
    let mut current = BTreeMap::new();
    for bay in &board.bays {
        let key = bay.bay.as_ref().map(|bay| bay.bay.as_str()).unwrap_or_default();
        current.insert(format!("bay {key}"), bay.job.as_ref());
    }
    for job in &board.outside {
        current.insert(format!("outside, job {}", job.job), Some(job));
    }
    shown.retain(|place, _| current.contains_key(place));
    let time = moment::show_near(board.as_of.as_ref(), zone, now);
    for (place, job) in current {
        let still = Look { zone, now: Timestamp::UNIX_EPOCH, colour: false, width: None };
        let sight = board_text::one_line(&place, job, still);
        if shown.get(&place) != Some(&sight) {
            let line = board_text::one_line(&place, job, Look { now, ..still });
            out::line(&format!("{time} {line} (fact {})", board.number))?;
            shown.insert(place, sight);
        }
    }
    Ok(())
}
