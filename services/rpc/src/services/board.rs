//! The board: every bay, and what holds it up.

use super::serve;
use crate::call::Call;
use crate::convert::board::{alive, board, change};
use crate::status::status;
use crate::streams::HEARTBEAT;
use crate::streams::boards::{Boards, Latest};
use crate::streams::guard::{Guard, Tokens};
use crate::streams::outlet::{Messages, Outlet, Over, broken, outlet};
use leadhand_app::{App, AppError};
use leadhand_proto::v1;
use leadhand_proto::v1::board_service_server::BoardService;
use std::sync::Arc;
use tokio::sync::watch::Receiver;
use tokio::time::{MissedTickBehavior, interval};
use tokio_util::task::TaskTracker;
use tonic::{Request, Response, Status};

/// The service.
pub struct Board {
    pub(crate) app: App,
    pub(crate) boards: Arc<Boards>,
    pub(crate) tokens: Arc<Tokens>,
    pub(crate) calls: TaskTracker,
}

serve! { BoardService for Board {
    get_board(GetBoardRequest) -> GetBoardResponse;
} also {
    type WatchBoardStream = Messages<v1::WatchBoardResponse>;

    async fn watch_board(
        &self,
        request: Request<v1::WatchBoardRequest>,
    ) -> Result<Response<Self::WatchBoardStream>, Status> {
        let call = Call::of(&self.app, &request).map_err(|error| status(&error))?;
        let (outlet, messages) = outlet();
        let mut latest = self.boards.follow(call.who);
        // What others were sent already is new to this one.
        latest.mark_changed();
        let watching = Watching {
            latest,
            guard: self.tokens.guard(&call),
            sent: None,
        };
        self.calls.spawn(watching.run(outlet));
        Ok(Response::new(messages))
    }
} }

async fn get_board(call: &Call, _: v1::GetBoardRequest) -> Result<v1::GetBoardResponse, AppError> {
    Ok(board(&call.app.board(&call.who).await?))
}

/// One watcher of a board.
struct Watching {
    latest: Receiver<Latest>,
    guard: Guard,
    sent: Option<Arc<v1::GetBoardResponse>>,
}

impl Watching {
    async fn run(mut self, outlet: Outlet<v1::WatchBoardResponse>) {
        let streams = metrics::gauge!("leadhand_streams", "rpc" => "WatchBoard");
        streams.increment(1);
        let over = self.watch(&outlet).await;
        outlet.end(over);
        streams.decrement(1);
    }

    async fn watch(&mut self, outlet: &Outlet<v1::WatchBoardResponse>) -> Over {
        let mut beats = interval(HEARTBEAT);
        beats.set_missed_tick_behavior(MissedTickBehavior::Delay);
        beats.reset();
        loop {
            let beat = tokio::select! {
                biased;
                status = self.guard.end() => return status.into(),
                () = outlet.left() => return Over::Left,
                changed = self.latest.changed() => match changed {
                    Ok(()) => false,
                    // Boards are kept as long as they are followed: this one's task broke.
                    Err(_) => return broken().into(),
                },
                _ = beats.tick() => true,
            };
            // A slow client holds the next board up here, and skips those in between.
            let room = tokio::select! {
                status = self.guard.end() => return status.into(),
                room = outlet.room() => match room {
                    Ok(room) => room,
                    Err(over) => return over,
                },
            };
            match self.next(beat) {
                Ok(Some(message)) => room.send(message),
                Ok(None) => {}
                Err(status) => return status.into(),
            }
        }
    }

    /// What the watcher lacks, or a heartbeat when it lacks nothing and one is due.
    fn next(&mut self, beat: bool) -> Result<Option<v1::WatchBoardResponse>, Status> {
        let latest = self.latest.borrow_and_update().clone();
        let now = match latest {
            None => return Ok(None),
            Some(Ok(now)) => now,
            Some(Err(error)) => return Err(status(&error)),
        };
        let message = change(self.sent.as_deref(), &now)
            .or_else(|| beat.then(|| v1::WatchBoardResponse { heartbeat: true, ..alive(&now) }));
        self.sent = Some(now);
        Ok(message)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use tokio::sync::watch;
    use tokio_stream::StreamExt;
    use tonic::Code;

    #[tokio::test]
    async fn a_watcher_whose_board_is_kept_no_more_is_told_to_come_again() {
        let (sender, latest) = watch::channel(None);
        let (checking, valid) = watch::channel(true);
        let (outlet, mut messages) = outlet();
        let watching = Watching { latest, guard: Guard::of(valid), sent: None };
        let running = tokio::spawn(watching.run(outlet));
        drop(sender);
        let end = messages.next().await.unwrap().unwrap_err();
        assert_eq!(end.code(), Code::Unavailable, "{end}");
        running.await.unwrap();
        drop(checking);
    }
}
