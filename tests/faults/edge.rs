//! A replica as its clients reach it: the generated client and nothing that repeats by itself, so
//! that a history holds every try.

use crate::history::{Acknowledgement, Known, Outcome};
use anyhow::{Context, Result};
use leadhand_proto::v1;
use leadhand_proto::v1::journal_service_client::JournalServiceClient;
use leadhand_proto::v1::shop_service_client::ShopServiceClient;
use leadhand_proto::v1::stock_service_client::StockServiceClient;
use std::time::Duration;
use tonic::transport::{Channel, Endpoint};
use tonic::{Code, Request, Status, Streaming};
use tonic_types::StatusExt;
use uuid::Uuid;

/// A connection, made when it is first needed and again when it broke.
#[derive(Clone)]
pub struct Edge {
    pub channel: Channel,
}

/// What an accepted write answered.
pub type Said = Acknowledgement;

impl Edge {
    pub fn to(url: &str) -> Result<Self> {
        Ok(Self { channel: endpoint(url)?.connect_lazy() })
    }

    pub async fn issue_token(&self, token: &str, asked: v1::IssueTokenRequest) -> Result<String> {
        let mut client = ShopServiceClient::new(self.channel.clone());
        let answer = client.issue_token(with_token(token, asked)).await.context("no token was issued")?;
        Ok(answer.into_inner().secret)
    }

    /// The id of the shop that a token is of.
    pub async fn shop(&self, token: &str) -> Result<String, Status> {
        let mut client = ShopServiceClient::new(self.channel.clone());
        Ok(client.who_am_i(with_token(token, v1::WhoAmIRequest {})).await?.into_inner().shop)
    }

    /// The number of the last fact.
    pub async fn head(&self, token: &str) -> Result<i64, Status> {
        let asked = v1::ReadJournalRequest { after: None, page_size: 1 };
        let mut client = JournalServiceClient::new(self.channel.clone());
        Ok(client.read_journal(with_token(token, asked)).await?.into_inner().head)
    }

    /// The whole journal, page by page. A gap does not end it: what comes after belongs to it too.
    pub async fn journal(&self, token: &str) -> Result<Vec<Known>> {
        let mut client = JournalServiceClient::new(self.channel.clone());
        let mut journal: Vec<Known> = Vec::new();
        loop {
            let number = journal.last().map_or(0, |last| last.number);
            let after = Some(v1::Cursor { number, fact_id: String::new() });
            let asked = v1::ReadJournalRequest { after, page_size: 1_000 };
            let page = client.read_journal(with_token(token, asked)).await.context("the journal can't be read")?;
            let facts = page.into_inner().facts;
            if facts.is_empty() {
                return Ok(journal);
            }
            for fact in &facts {
                journal.push(known(fact)?);
            }
        }
    }

    pub async fn follow(&self, token: &str, after: v1::Cursor) -> Result<Streaming<v1::FollowJournalResponse>, Status> {
        let mut client = JournalServiceClient::new(self.channel.clone());
        let asked = v1::FollowJournalRequest { after: Some(after) };
        Ok(client.follow_journal(with_token(token, asked)).await?.into_inner())
    }

    /// What the bins hold of an item.
    pub async fn on_hand(&self, token: &str, item: &str) -> Result<i64, Status> {
        let mut client = StockServiceClient::new(self.channel.clone());
        let asked = v1::ListStockRequest { item: item.to_owned(), ..Default::default() };
        let items = client.list_stock(with_token(token, asked)).await?.into_inner().items;
        Ok(items.first().map_or(0, |item| item.on_hand))
    }
}

pub fn endpoint(url: &str) -> Result<Endpoint> {
    let endpoint = Channel::from_shared(url.to_owned()).with_context(|| format!("{url} is not an address"))?;
    Ok(endpoint.connect_timeout(Duration::from_secs(2)).http2_max_header_list_size(1 << 20))
}

pub fn with_token<M>(token: &str, message: M) -> Request<M> {
    let mut request = Request::new(message);
    let bearer = format!("Bearer {token}").parse().expect("a token is ASCII");
    request.metadata_mut().insert("authorization", bearer);
    request
}

pub fn known(fact: &v1::Fact) -> Result<Known> {
    let id = |text: &str| Uuid::parse_str(text).with_context(|| format!("fact {} has the id {text:?}", fact.number));
    Ok(Known { number: fact.number, fact_id: id(&fact.fact_id)?, request: id(&fact.request_id)? })
}

/// The reason of an error, as `google.rpc.ErrorInfo` has it; empty when it does not come from our server.
pub fn reason(status: &Status) -> String {
    status.get_details_error_info().map(|info| info.reason).unwrap_or_default()
}

/// What a client may conclude. An error that does not say that nothing was changed leaves everything open
/// (google.rpc.Code on UNAVAILABLE and DEADLINE_EXCEEDED).
pub fn outcome(answered: Result<Said, Status>) -> Outcome {
    let status = match answered {
        Ok(said) => return Outcome::Acknowledged(said),
        Err(status) => status,
    };
    let reason = reason(&status);
    match (status.code(), reason.as_str()) {
        (_, "DATABASE_UNAVAILABLE" | "DEADLINE_BEFORE_TURN") => Outcome::Refused(reason),
        (Code::Unavailable | Code::DeadlineExceeded | Code::Cancelled | Code::Unknown, _) | (_, "") => {
            let why = if reason.is_empty() { format!("{:?}", status.code()) } else { reason };
            Outcome::Unknown(why)
        }
        _ => Outcome::Refused(reason),
    }
}
