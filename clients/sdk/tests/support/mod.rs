//! A server in this process that does as it is told, behind a line that can be cut.
#![allow(dead_code, clippy::unwrap_used, reason = "test code; each test binary uses its own part")]

use leadhand_sdk::v1::board_service_server::{BoardService, BoardServiceServer};
use leadhand_sdk::v1::journal_service_server::{JournalService, JournalServiceServer};
use leadhand_sdk::v1::time_service_server::{TimeService, TimeServiceServer};
use leadhand_sdk::v1::{
    AskCorrectionRequest, AskCorrectionResponse, AuditTimeRequest, AuditTimeResponse, ClockOffRequest,
    ClockOffResponse, ClockOnRequest, ClockOnResponse, CorrectClockingRequest, CorrectClockingResponse, Cursor,
    DecideCorrectionRequest, DecideCorrectionResponse, FollowJournalRequest, FollowJournalResponse, GetBoardRequest,
    GetBoardResponse, ListAskedCorrectionsRequest, ListAskedCorrectionsResponse, ListClockingsRequest,
    ListClockingsResponse, ReadJournalRequest, ReadJournalResponse, RecordWorkRequest, RecordWorkResponse,
    WatchBoardRequest, WatchBoardResponse, WithdrawClockingRequest, WithdrawClockingResponse,
};
use leadhand_sdk::{Client, Endpoint};
use std::collections::VecDeque;
use std::future::pending;
use std::net::SocketAddr;
use std::pin::Pin;
use std::sync::{Arc, Mutex};
use std::time::Duration;
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::broadcast;
use tokio_stream::wrappers::TcpListenerStream;
use tokio_stream::{Stream, StreamExt};
use tonic::{Request, Response, Status};

/// What the server does with the next unary call.
pub enum Act {
    Answer,
    Refuse(Status),
    Hang,
    /// The line breaks while the call is under way.
    Cut,
}

/// What the server does on the next stream, word by word; then it hangs.
pub enum Word<M> {
    Say(M),
    Fail(Status),
    End,
}

/// What a unary call came with.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Call {
    pub request_id: String,
    pub authorization: Option<String>,
    pub had_deadline: bool,
}

#[derive(Default)]
struct Script {
    acts: Mutex<VecDeque<Act>>,
    calls: Mutex<Vec<Call>>,
    journal: Mutex<VecDeque<Vec<Word<FollowJournalResponse>>>>,
    cursors: Mutex<Vec<Cursor>>,
    board: Mutex<VecDeque<Vec<Word<WatchBoardResponse>>>>,
}

#[derive(Clone)]
pub struct Server {
    script: Arc<Script>,
    cut: broadcast::Sender<()>,
    address: SocketAddr,
}

impl Server {
    pub async fn start() -> Self {
        let behind = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let front = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let (cut, _) = broadcast::channel(1);
        let server = Self { script: Arc::default(), cut: cut.clone(), address: front.local_addr().unwrap() };
        tokio::spawn(forward(front, behind.local_addr().unwrap(), cut));
        tokio::spawn(
            tonic::transport::Server::builder()
                .add_service(TimeServiceServer::new(server.clone()))
                .add_service(JournalServiceServer::new(server.clone()))
                .add_service(BoardServiceServer::new(server.clone()))
                .serve_with_incoming(TcpListenerStream::new(behind)),
        );
        server
    }

    pub fn endpoint(&self) -> Endpoint {
        Endpoint::new(format!("http://{}", self.address))
            .token("lh_secret")
            .deadline(Duration::from_millis(400))
            .budget(Duration::from_secs(10))
            .heartbeat(Duration::from_millis(100))
    }

    pub fn client(&self) -> Client {
        Client::connect(self.endpoint()).unwrap()
    }

    pub fn acts(&self, acts: impl IntoIterator<Item = Act>) {
        self.script.acts.lock().unwrap().extend(acts);
    }

    pub fn journal(&self, words: Vec<Word<FollowJournalResponse>>) {
        self.script.journal.lock().unwrap().push_back(words);
    }

    pub fn board(&self, words: Vec<Word<WatchBoardResponse>>) {
        self.script.board.lock().unwrap().push_back(words);
    }

    pub fn calls(&self) -> Vec<Call> {
        self.script.calls.lock().unwrap().clone()
    }

    pub fn cursors(&self) -> Vec<Cursor> {
        self.script.cursors.lock().unwrap().clone()
    }

    async fn act<M, A: Default>(&self, request: &Request<M>, request_id: String) -> Result<Response<A>, Status> {
        let header = |name: &str| request.metadata().get(name).map(|value| value.to_str().unwrap().to_owned());
        self.script.calls.lock().unwrap().push(Call {
            request_id,
            authorization: header("authorization"),
            had_deadline: header("grpc-timeout").is_some(),
        });
        let act = self.script.acts.lock().unwrap().pop_front().expect("a call that the test did not expect");
        match act {
            Act::Answer => Ok(Response::new(A::default())),
            Act::Refuse(status) => Err(status),
            Act::Hang => pending().await,
            Act::Cut => {
                self.cut.send(()).unwrap();
                pending().await
            }
        }
    }
}

/// Carries bytes between client and server until the line is cut.
async fn forward(front: TcpListener, behind: SocketAddr, cut: broadcast::Sender<()>) {
    while let Ok((mut client, _)) = front.accept().await {
        let mut cut = cut.subscribe();
        tokio::spawn(async move {
            let mut server = TcpStream::connect(behind).await.unwrap();
            tokio::select! {
                _ = tokio::io::copy_bidirectional(&mut client, &mut server) => {}
                _ = cut.recv() => {}
            }
        });
    }
}

type Words<M> = Pin<Box<dyn Stream<Item = Result<M, Status>> + Send>>;

fn speak<M: Send + 'static>(words: Vec<Word<M>>) -> Response<Words<M>> {
    let ends = words.iter().any(|word| matches!(word, Word::End));
    let said = tokio_stream::iter(words).filter_map(|word| match word {
        Word::Say(message) => Some(Ok(message)),
        Word::Fail(status) => Some(Err(status)),
        Word::End => None,
    });
    let silence = futures::stream::pending();
    Response::new(if ends { Box::pin(said) } else { Box::pin(said.chain(silence)) })
}

fn id(write: Option<&leadhand_sdk::v1::WriteContext>) -> String {
    write.map(|write| write.request_id.clone()).unwrap_or_default()
}

#[tonic::async_trait]
impl TimeService for Server {
    async fn clock_on(&self, request: Request<ClockOnRequest>) -> Result<Response<ClockOnResponse>, Status> {
        self.act(&request, id(request.get_ref().write.as_ref())).await
    }

    async fn clock_off(&self, request: Request<ClockOffRequest>) -> Result<Response<ClockOffResponse>, Status> {
        self.act(&request, id(request.get_ref().write.as_ref())).await
    }

    async fn record_work(&self, request: Request<RecordWorkRequest>) -> Result<Response<RecordWorkResponse>, Status> {
        self.act(&request, id(request.get_ref().write.as_ref())).await
    }

    async fn correct_clocking(
        &self,
        request: Request<CorrectClockingRequest>,
    ) -> Result<Response<CorrectClockingResponse>, Status> {
        self.act(&request, id(request.get_ref().write.as_ref())).await
    }

    async fn withdraw_clocking(
        &self,
        request: Request<WithdrawClockingRequest>,
    ) -> Result<Response<WithdrawClockingResponse>, Status> {
        self.act(&request, id(request.get_ref().write.as_ref())).await
    }

    async fn ask_correction(
        &self,
        request: Request<AskCorrectionRequest>,
    ) -> Result<Response<AskCorrectionResponse>, Status> {
        self.act(&request, id(request.get_ref().write.as_ref())).await
    }

    async fn decide_correction(
        &self,
        request: Request<DecideCorrectionRequest>,
    ) -> Result<Response<DecideCorrectionResponse>, Status> {
        self.act(&request, id(request.get_ref().write.as_ref())).await
    }

    async fn list_asked_corrections(
        &self,
        request: Request<ListAskedCorrectionsRequest>,
    ) -> Result<Response<ListAskedCorrectionsResponse>, Status> {
        self.act(&request, String::new()).await
    }

    async fn list_clockings(
        &self,
        request: Request<ListClockingsRequest>,
    ) -> Result<Response<ListClockingsResponse>, Status> {
        self.act(&request, String::new()).await
    }

    async fn audit_time(&self, request: Request<AuditTimeRequest>) -> Result<Response<AuditTimeResponse>, Status> {
        self.act(&request, String::new()).await
    }
}

#[tonic::async_trait]
impl JournalService for Server {
    async fn read_journal(
        &self,
        request: Request<ReadJournalRequest>,
    ) -> Result<Response<ReadJournalResponse>, Status> {
        self.act(&request, String::new()).await
    }

    type FollowJournalStream = Words<FollowJournalResponse>;

    async fn follow_journal(
        &self,
        request: Request<FollowJournalRequest>,
    ) -> Result<Response<Self::FollowJournalStream>, Status> {
        self.script.cursors.lock().unwrap().push(request.into_inner().after.unwrap());
        let words = self.script.journal.lock().unwrap().pop_front();
        words.map(speak).ok_or_else(|| Status::out_of_range("the script is over"))
    }
}

#[tonic::async_trait]
impl BoardService for Server {
    async fn get_board(&self, request: Request<GetBoardRequest>) -> Result<Response<GetBoardResponse>, Status> {
        self.act(&request, String::new()).await
    }

    type WatchBoardStream = Words<WatchBoardResponse>;

    async fn watch_board(&self, _: Request<WatchBoardRequest>) -> Result<Response<Self::WatchBoardStream>, Status> {
        let words = self.script.board.lock().unwrap().pop_front();
        words.map(speak).ok_or_else(|| Status::out_of_range("the script is over"))
    }
}
