//! Following the journal: every fact once, in order, whatever happens to the connection.

use crate::client::{ANSWER_MAX, Client};
use crate::error::SdkError;
use crate::link::{Heard, Link};
use futures::Stream;
use futures::stream::{StreamExt, unfold};
use leadhand_proto::v1::journal_service_client::JournalServiceClient;
use leadhand_proto::v1::{Cursor, Fact, FollowJournalRequest, FollowJournalResponse};
use std::collections::VecDeque;
use tokio::time::Instant;
use tonic::Code;

/// What a follower of the journal hears.
#[derive(Debug, Clone)]
pub enum JournalEvent {
    /// The next fact.
    Fact(Box<Fact>),
    /// The server was heard again after silence.
    Live,
    /// The server is not heard; what was sent so far stays true, and the rest follows.
    NotLive {
        /// When it was heard last.
        since: Instant,
        /// Why.
        why: String,
    },
}

/// How often in a row a stream may skip a number before it is taken for a broken history.
const GAPS_MAX: u32 = 3;

struct Follower {
    client: Client,
    link: Link<FollowJournalResponse>,
    cursor: Cursor,
    waiting: VecDeque<Fact>,
    not_live: bool,
    gaps: u32,
    ended: bool,
}

impl Client {
    /// Every fact after `after`, and then each as it is written. It reconnects by itself; it ends
    /// with an error that trying again can't mend.
    pub fn follow_journal(&self, after: Cursor) -> impl Stream<Item = Result<Fact, SdkError>> + Send + use<> {
        self.follow_journal_events(after).filter_map(async |event| match event {
            Ok(JournalEvent::Fact(fact)) => Some(Ok(*fact)),
            Ok(_) => None,
            Err(error) => Some(Err(error)),
        })
    }

    /// The same, and whether the server is heard.
    pub fn follow_journal_events(
        &self,
        after: Cursor,
    ) -> impl Stream<Item = Result<JournalEvent, SdkError>> + Send + use<> {
        let follower = Follower {
            client: self.clone(),
            link: Link::new(),
            cursor: after,
            waiting: VecDeque::new(),
            not_live: false,
            gaps: 0,
            ended: false,
        };
        unfold(follower, async |mut follower| follower.next().await.map(|event| (event, follower)))
    }
}

impl Follower {
    async fn next(&mut self) -> Option<Result<JournalEvent, SdkError>> {
        while !self.ended {
            if let Some(event) = self.next_waiting() {
                return Some(event);
            }
            match self.hear().await {
                Heard::Message(answer) => {
                    self.waiting.extend(answer.facts);
                    if std::mem::replace(&mut self.not_live, false) {
                        return Some(Ok(JournalEvent::Live));
                    }
                }
                Heard::Lost { since, why } => {
                    self.not_live = true;
                    return Some(Ok(JournalEvent::NotLive { since, why }));
                }
                Heard::Ended(error) => {
                    self.ended = true;
                    return Some(Err(error));
                }
            }
        }
        None
    }

    async fn hear(&mut self) -> Heard<FollowJournalResponse> {
        let (client, cursor) = (&self.client, &self.cursor);
        self.link
            .hear(client, || {
                let request = client.request(FollowJournalRequest { after: Some(cursor.clone()) });
                let mut service = JournalServiceClient::new(client.channel()).max_decoding_message_size(ANSWER_MAX);
                async move { service.follow_journal(request).await }
            })
            .await
    }

    /// The next fact that was sent and is really the next: one seen already is passed over, and
    /// after a gap the stream is opened again where the reader stands.
    fn next_waiting(&mut self) -> Option<Result<JournalEvent, SdkError>> {
        while let Some(fact) = self.waiting.pop_front() {
            let expected = self.cursor.number + 1;
            if fact.number < expected {
                continue;
            }
            if fact.number == expected {
                self.gaps = 0;
                self.cursor = Cursor { number: fact.number, fact_id: fact.fact_id.clone() };
                return Some(Ok(JournalEvent::Fact(Box::new(fact))));
            }
            self.waiting.clear();
            self.link.drop_stream();
            self.gaps += 1;
            if self.gaps >= GAPS_MAX {
                self.ended = true;
                return Some(Err(SdkError::local(
                    Code::DataLoss,
                    format!(
                        "the server sent fact {} where {expected} comes next; read the journal again from the start",
                        fact.number
                    ),
                )));
            }
        }
        None
    }
}
