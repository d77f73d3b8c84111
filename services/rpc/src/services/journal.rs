//! The journal, read and followed.

use super::serve;
use crate::call::Call;
use crate::convert::{fact::fact, fields, invalid, page};
use crate::status::status;
use crate::streams::HEARTBEAT;
use crate::streams::guard::{Guard, Tokens};
use crate::streams::outlet::{Messages, Outlet, Over, outlet};
use crate::streams::tails::{Read, Tail, Tails};
use leadhand_app::{App, AppError, JournalPage};
use leadhand_facts::FactId;
use leadhand_proto::v1;
use leadhand_proto::v1::journal_service_server::JournalService;
use prost::Message;
use std::sync::Arc;
use tokio::time::{Instant, timeout};
use tokio_util::task::TaskTracker;
use tonic::{Request, Response, Status};

/// Facts of one message of a stream at most.
const PAGE: usize = 200;
/// Bytes of one message's facts, more or less: a fact can be as large as a template, and an
/// answer has to stay below the limit of a message.
const BYTES: usize = 4 * 1024 * 1024;

/// The service.
pub struct Journal {
    pub(crate) app: App,
    pub(crate) tokens: Arc<Tokens>,
    pub(crate) tails: Arc<Tails>,
    pub(crate) calls: TaskTracker,
}

serve! { JournalService for Journal {
    read_journal(ReadJournalRequest) -> ReadJournalResponse;
} also {
    type FollowJournalStream = Messages<v1::FollowJournalResponse>;

    async fn follow_journal(
        &self,
        request: Request<v1::FollowJournalRequest>,
    ) -> Result<Response<Self::FollowJournalStream>, Status> {
        let call = Call::of(&self.app, &request).map_err(|error| status(&error))?;
        let place = Place::read(request.into_inner().after).map_err(|error| status(&error))?;
        let (outlet, messages) = outlet();
        let guard = self.tokens.guard(&call);
        let tail = self.tails.of(call.who.shop);
        self.calls.spawn(Following { call, place, guard, tail, at_the_end: false }.run(outlet));
        Ok(Response::new(messages))
    }
} }

async fn read_journal(call: &Call, asked: v1::ReadJournalRequest) -> Result<v1::ReadJournalResponse, AppError> {
    let size = page::size(asked.page_size)?;
    let place = Place::read(asked.after)?;
    let page = call.app.journal(&call.who, place.number, place.fact_id, size).await?;
    let (facts, _) = some(&page)?;
    Ok(v1::ReadJournalResponse { facts, head: page.head })
}

/// As many facts from the first on as fit one answer; and where the last of them stands.
fn some(page: &JournalPage) -> Result<(Vec<v1::Fact>, Option<Place>), AppError> {
    let (mut facts, mut bytes, mut last) = (Vec::new(), 0, None);
    for entry in &page.entries {
        let next = fact(entry, &page.words)?;
        bytes += next.encoded_len();
        if bytes > BYTES && !facts.is_empty() {
            break;
        }
        facts.push(next);
        last = Some(Place { number: entry.number, fact_id: Some(entry.fact_id) });
    }
    Ok((facts, last))
}

/// Where a reader stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Place {
    /// After this fact.
    pub(crate) number: i64,
    /// Which one that was, as far as that was said.
    pub(crate) fact_id: Option<FactId>,
}

impl Place {
    fn read(said: Option<v1::Cursor>) -> Result<Self, AppError> {
        let said = said.unwrap_or_default();
        let fact_id = fields::id_some("after.fact_id", &said.fact_id)?.map(FactId);
        if said.number == 0 && fact_id.is_some() {
            return Err(invalid("after.fact_id", "there is no fact 0 that could have an id; leave it empty"));
        }
        Ok(Self { number: said.number, fact_id })
    }
}

/// One follower of a journal.
struct Following {
    call: Call,
    place: Place,
    guard: Guard,
    /// What all who follow this journal read together, once they have come to its end.
    tail: Tail,
    at_the_end: bool,
}

impl Following {
    async fn run(mut self, outlet: Outlet<v1::FollowJournalResponse>) {
        let streams = metrics::gauge!("leadhand_streams", "rpc" => "FollowJournal");
        streams.increment(1);
        let over = self.follow(&outlet).await;
        outlet.end(over);
        streams.decrement(1);
    }

    async fn follow(&mut self, outlet: &Outlet<v1::FollowJournalResponse>) -> Over {
        let mut head = self.call.app.watch_head(self.call.who.shop);
        loop {
            let room = tokio::select! {
                status = self.guard.end() => return status.into(),
                room = outlet.room() => match room {
                    Ok(room) => room,
                    Err(over) => return over,
                },
            };
            let asked = Instant::now();
            // Whatever is written after this look at the head wakes the wait below.
            head.borrow_and_update();
            let message = match self.next(asked).await {
                Ok(message) => message,
                Err(error) => return status(&error).into(),
            };
            let more = !message.facts.is_empty();
            // Without a fact it says where the journal ends, and that the stream lives.
            room.send(message);
            if more {
                continue;
            }
            tokio::select! {
                biased;
                status = self.guard.end() => return status.into(),
                () = outlet.left() => return Over::Left,
                // Woken or not, the journal is looked at: a heartbeat is never behind it.
                _ = timeout(HEARTBEAT, head.changed()) => {}
            }
        }
    }

    async fn next(&mut self, asked: Instant) -> Result<v1::FollowJournalResponse, AppError> {
        if !self.at_the_end {
            let (message, last) = self.read().await?;
            self.at_the_end = last.is_none_or(|last| last.number == message.head);
            self.place = last.unwrap_or(self.place);
            return Ok(message);
        }
        let tail = self.tail.clone();
        let mut tail = tail.lock().await;
        if let Some(read) = tail.as_ref().filter(|read| read.serves(self.place, asked)) {
            self.place = read.last.unwrap_or(self.place);
            return Ok(read.message.clone());
        }
        let (begun, after) = (Instant::now(), self.place);
        let (message, last) = self.read().await?;
        self.place = last.unwrap_or(self.place);
        *tail = Some(Read { begun, after, message: message.clone(), last });
        Ok(message)
    }

    /// What comes next, and where that ends.
    async fn read(&self) -> Result<(v1::FollowJournalResponse, Option<Place>), AppError> {
        let Place { number, fact_id } = self.place;
        let page = self.call.app.journal(&self.call.who, number, fact_id, PAGE).await?;
        let (facts, last) = some(&page)?;
        Ok((v1::FollowJournalResponse { facts, head: page.head }, last))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cursor_is_read_and_what_is_none_is_refused() {
        let read = |number, fact_id: &str| Place::read(Some(v1::Cursor { number, fact_id: fact_id.to_owned() }));
        assert_eq!(Place::read(None).unwrap().number, 0);
        let id = "6f1c0a9e-3b52-4c0f-9d53-0d8f6a1b2c3d";
        assert_eq!(read(7, id).unwrap().fact_id.unwrap().to_string(), id);
        for (number, fact_id) in [(7, "x"), (0, id)] {
            assert!(read(number, fact_id).unwrap_err().to_string().starts_with("after.fact_id: "));
        }
    }
}
