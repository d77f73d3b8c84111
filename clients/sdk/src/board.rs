//! Watching the board: always whole, and honest about whether it is live.

use crate::client::{ANSWER_MAX, Client};
use crate::error::SdkError;
use crate::link::{Heard, Link};
use futures::Stream;
use futures::stream::unfold;
use leadhand_proto::v1::board_service_client::BoardServiceClient;
use leadhand_proto::v1::{BoardBay, BoardJob, GetBoardResponse, WatchBoardRequest, WatchBoardResponse};
use prost_types::Timestamp;
use std::collections::BTreeMap;
use tokio::time::Instant;

/// The whole board.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Board {
    /// Bays by key.
    pub bays: Vec<BoardBay>,
    /// Open jobs whose vehicle is outside.
    pub outside: Vec<BoardJob>,
    /// The journal number at which this is true.
    pub number: i64,
    /// The moment at which it was worked out.
    pub as_of: Option<Timestamp>,
}

impl From<GetBoardResponse> for Board {
    fn from(answer: GetBoardResponse) -> Self {
        Self { bays: answer.bays, outside: answer.outside, number: answer.number, as_of: answer.as_of }
    }
}

/// What a watcher of the board hears.
#[derive(Debug, Clone)]
pub enum BoardEvent {
    /// The board as it is now, whole.
    Live(Box<Board>),
    /// The server is not heard: what was shown may be old.
    NotLive {
        /// When it was heard last.
        since: Instant,
        /// Why.
        why: String,
    },
}

struct Watcher {
    client: Client,
    link: Link<WatchBoardResponse>,
    kept: Option<Kept>,
    not_live: bool,
    ended: bool,
}

/// What is known of the board on this stream.
#[derive(Default)]
struct Kept {
    bays: BTreeMap<String, BoardBay>,
    outside: Vec<BoardJob>,
    number: i64,
    as_of: Option<Timestamp>,
}

impl Client {
    /// The board, whole, each time it changes. It reconnects by itself and starts from a fresh
    /// snapshot then; it ends with an error that trying again can't mend.
    pub fn watch_board(&self) -> impl Stream<Item = Result<BoardEvent, SdkError>> + Send + use<> {
        let watcher = Watcher { client: self.clone(), link: Link::new(), kept: None, not_live: false, ended: false };
        unfold(watcher, async |mut watcher| watcher.next().await.map(|event| (event, watcher)))
    }
}

impl Watcher {
    async fn next(&mut self) -> Option<Result<BoardEvent, SdkError>> {
        while !self.ended {
            match self.hear().await {
                Heard::Message(change) => {
                    if let Some(board) = self.take(change) {
                        self.not_live = false;
                        return Some(Ok(BoardEvent::Live(Box::new(board))));
                    }
                }
                Heard::Lost { since, why } => {
                    self.kept = None;
                    self.not_live = true;
                    return Some(Ok(BoardEvent::NotLive { since, why }));
                }
                Heard::Ended(error) => {
                    self.ended = true;
                    return Some(Err(error));
                }
            }
        }
        None
    }

    async fn hear(&mut self) -> Heard<WatchBoardResponse> {
        let client = &self.client;
        self.link
            .hear(client, || {
                let request = client.request(WatchBoardRequest {});
                let mut service = BoardServiceClient::new(client.channel()).max_decoding_message_size(ANSWER_MAX);
                async move { service.watch_board(request).await }
            })
            .await
    }

    /// Takes a change in. A change without a snapshot before it is of no use: begin again.
    fn take(&mut self, change: WatchBoardResponse) -> Option<Board> {
        let quiet = change.heartbeat && !self.not_live;
        if change.whole {
            self.kept = Some(Kept::default());
        }
        let Some(kept) = &mut self.kept else {
            self.link.drop_stream();
            return None;
        };
        kept.number = kept.number.max(change.number);
        kept.as_of = change.as_of.or(kept.as_of);
        if change.whole || change.outside_changed {
            kept.outside = change.outside;
        }
        for bay in change.bays {
            let key = bay.bay.as_ref().map(|bay| bay.bay.clone()).unwrap_or_default();
            kept.bays.insert(key, bay);
        }
        (!quiet).then(|| kept.board())
    }
}

impl Kept {
    fn board(&self) -> Board {
        Board {
            bays: self.bays.values().cloned().collect(),
            outside: self.outside.clone(),
            number: self.number,
            as_of: self.as_of,
        }
    }
}
