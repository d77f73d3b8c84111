//! A server in this process with one shop and a board that changes once, for the binary to talk to.
#![allow(clippy::unwrap_used, reason = "test code")]

use leadhand_sdk::v1::board_service_server::{BoardService, BoardServiceServer};
use leadhand_sdk::v1::shop_service_server::{ShopService, ShopServiceServer};
use leadhand_sdk::v1::{
    AddBayRequest, AddBayResponse, AddPersonRequest, AddPersonResponse, Bay, BayKind, Blocker, BoardBay, BoardJob,
    BoardStage, Cause, ForgetPersonRequest, ForgetPersonResponse, GetBoardRequest, GetBoardResponse,
    GetCalendarRequest, GetCalendarResponse, GetShopRequest, GetShopResponse, IssueTokenRequest, IssueTokenResponse,
    ListTokensRequest, ListTokensResponse, Notice, PromiseState, Receipt, RenamePersonRequest, RenamePersonResponse,
    RevokeTokenRequest, RevokeTokenResponse, SetBayRequest, SetBayResponse, SetDayRequest, SetDayResponse,
    SetHoursRequest, SetHoursResponse, SetShiftRequest, SetShiftResponse, SetSkillsRequest, SetSkillsResponse,
    SetYardRequest, SetYardResponse, StageState, WatchBoardRequest, WatchBoardResponse, WhoAmIRequest, WhoAmIResponse,
};
use prost_types::Timestamp;
use std::pin::Pin;
use std::process::{Command, Output};
use tokio::net::TcpListener;
use tokio_stream::Stream;
use tokio_stream::wrappers::TcpListenerStream;
use tonic::{Code, Request, Response, Status};
use tonic_types::{ErrorDetails, StatusExt};

/// 2031-03-03T10:05:00Z, a Monday.
const NOW: i64 = 1_930_298_700;

/// Starts it; gives its address.
pub async fn start() -> String {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    tokio::spawn(
        tonic::transport::Server::builder()
            .add_service(ShopServiceServer::new(Fake))
            .add_service(BoardServiceServer::new(Fake))
            .serve_with_incoming(TcpListenerStream::new(listener)),
    );
    format!("http://{address}")
}

/// Runs the binary against it.
pub async fn leadhand(server: &str, arguments: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_leadhand"));
    command.args(arguments).env_clear().env("LEADHAND_SERVER", server).env("LEADHAND_TOKEN", "lh_test");
    tokio::task::spawn_blocking(move || command.output()).await.unwrap().unwrap()
}

/// What it wrote on standard output and on standard error.
pub fn said(output: &Output) -> (String, String) {
    (String::from_utf8(output.stdout.clone()).unwrap(), String::from_utf8(output.stderr.clone()).unwrap())
}

#[derive(Clone, Copy)]
struct Fake;

fn at(seconds: i64) -> Timestamp {
    Timestamp { seconds: NOW + seconds, nanos: 0 }
}

fn job() -> BoardJob {
    BoardJob {
        job: 12,
        title: "Front brakes".into(),
        vehicle_label: "Blue estate".into(),
        priority: 2,
        promised_at: Some(at(6 * 3600)),
        expected_at: Some(at(7 * 3600)),
        promise: PromiseState::AtRisk.into(),
        stages_total: 4,
        next: vec![BoardStage { title: "Wheels off".into(), state: StageState::Ready.into(), ..Default::default() }],
        blockers: vec![Blocker {
            blocker: 1,
            stage: "pads".into(),
            cause: Cause::SeizedOrDamaged.into(),
            note: "slide pin".into(),
            since: Some(at(-900)),
            ..Default::default()
        }],
        ..Default::default()
    }
}

fn bays(job: Option<BoardJob>) -> Vec<BoardBay> {
    let bay =
        |key: &str, kind: BayKind| Some(Bay { bay: key.into(), name: key.into(), kind: kind.into(), rated_kg: 3000 });
    vec![
        BoardBay { bay: bay("floor-1", BayKind::Floor), job: None },
        BoardBay { bay: bay("lift-1", BayKind::TwoPostLift), job },
    ]
}

#[tonic::async_trait]
impl BoardService for Fake {
    async fn get_board(&self, _: Request<GetBoardRequest>) -> Result<Response<GetBoardResponse>, Status> {
        Ok(Response::new(GetBoardResponse { bays: bays(Some(job())), outside: vec![], number: 40, as_of: Some(at(0)) }))
    }

    type WatchBoardStream = Pin<Box<dyn Stream<Item = Result<WatchBoardResponse, Status>> + Send>>;

    async fn watch_board(&self, _: Request<WatchBoardRequest>) -> Result<Response<Self::WatchBoardStream>, Status> {
        let whole = WatchBoardResponse {
            bays: bays(Some(job())),
            number: 40,
            as_of: Some(at(0)),
            whole: true,
            ..Default::default()
        };
        let freed = WatchBoardResponse { bays: bays(None), number: 41, as_of: Some(at(60)), ..Default::default() };
        let end = Status::permission_denied("the token was revoked; ask the lead for another");
        Ok(Response::new(Box::pin(tokio_stream::iter([Ok(whole), Ok(freed), Err(end)]))))
    }
}

macro_rules! not_here {
    ($($name:ident($request:ident) -> $answer:ident;)+) => {
        #[tonic::async_trait]
        impl ShopService for Fake {
            async fn get_shop(&self, _: Request<GetShopRequest>) -> Result<Response<GetShopResponse>, Status> {
                let shop = GetShopResponse { name: "Yard".into(), zone: "Europe/London".into(), ..Default::default() };
                Ok(Response::new(shop))
            }

            async fn add_bay(&self, request: Request<AddBayRequest>) -> Result<Response<AddBayResponse>, Status> {
                let AddBayRequest { write, bay } = request.into_inner();
                let (write, bay) = (write.unwrap_or_default(), bay.unwrap_or_default());
                if bay.bay == "taken" {
                    return Err(Status::already_exists("the bay 'taken' is there already; choose another name"));
                }
                if bay.bay == "wrong" {
                    let mut details = ErrorDetails::with_bad_request_violation("bay.bay", "too plain");
                    details.add_bad_request_violation("bay.name", "too long");
                    return Err(Status::with_error_details(Code::InvalidArgument, "2 fields are wrong", details));
                }
                let seen = Notice { code: "SEEN".into(), text: format!("{} {} {:?}", write.request_id, write.for_person, write.happened_at.map(|at| at.seconds - NOW)) };
                let receipt = Receipt { number: 41, recorded_at: Some(at(0)), repeated: false, notices: vec![seen], dry_run: false };
                Ok(Response::new(AddBayResponse { receipt: Some(receipt) }))
            }

            $(async fn $name(&self, _: Request<$request>) -> Result<Response<$answer>, Status> {
                Err(Status::unimplemented("not in this test"))
            })+
        }
    };
}

not_here! {
    who_am_i(WhoAmIRequest) -> WhoAmIResponse;
    add_person(AddPersonRequest) -> AddPersonResponse;
    set_skills(SetSkillsRequest) -> SetSkillsResponse;
    set_yard(SetYardRequest) -> SetYardResponse;
    set_bay(SetBayRequest) -> SetBayResponse;
    rename_person(RenamePersonRequest) -> RenamePersonResponse;
    forget_person(ForgetPersonRequest) -> ForgetPersonResponse;
    set_hours(SetHoursRequest) -> SetHoursResponse;
    set_day(SetDayRequest) -> SetDayResponse;
    set_shift(SetShiftRequest) -> SetShiftResponse;
    get_calendar(GetCalendarRequest) -> GetCalendarResponse;
    issue_token(IssueTokenRequest) -> IssueTokenResponse;
    revoke_token(RevokeTokenRequest) -> RevokeTokenResponse;
    list_tokens(ListTokensRequest) -> ListTokensResponse;
}
