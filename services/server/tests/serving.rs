//! The whole server on a private database: what is served, who is let in, and its orderly end.
//! The protocols are gRPC's own (health checking, reflection, status codes); where none is named,
//! common practice.

mod place;

use futures::StreamExt;
use leadhand_proto::v1;
use leadhand_proto::v1::board_service_client::BoardServiceClient;
use leadhand_proto::v1::journal_service_client::JournalServiceClient;
use leadhand_proto::v1::shop_service_client::ShopServiceClient;
use leadhand_proto::v1::stock_service_client::StockServiceClient;
use leadhand_server::cli::VerifyArgs;
use leadhand_server::commands;
use leadhand_server::serve::Running;
use place::{GRACE, Place, open_shop, start};
use std::time::Instant;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;
use tonic::transport::Channel;
use tonic::{Code, Request, Status};
use tonic_health::pb::HealthCheckRequest;
use tonic_health::pb::health_client::HealthClient;
use tonic_types::StatusExt;

async fn channel(running: &Running) -> Channel {
    let address = format!("http://{}", running.grpc);
    let endpoint = Channel::from_shared(address).expect("an address").http2_max_header_list_size(1024 * 1024);
    endpoint.connect().await.expect("a connection")
}

fn with_token<M>(token: &str, message: M) -> Request<M> {
    let mut request = Request::new(message);
    request.metadata_mut().insert("authorization", format!("Bearer {token}").parse().expect("a header"));
    request
}

fn reason(status: &Status) -> (Code, String) {
    (status.code(), status.get_details_error_info().map(|info| info.reason).unwrap_or_default())
}

fn write(id: u128) -> v1::WriteContext {
    let request_id = uuid::Uuid::from_u128(id).to_string();
    v1::WriteContext { request_id, ..v1::WriteContext::default() }
}

fn bay(key: &str) -> v1::Bay {
    let kind = v1::BayKind::TwoPostLift.into();
    v1::Bay { bay: key.to_owned(), name: key.to_owned(), kind, rated_kg: 3_000 }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_shop_opened_beside_the_server_is_served_to_whoever_has_its_token() {
    let place = Place::new();
    let running = start(&place.configuration()).await;
    let postmaster = place.postmaster();
    let token = open_shop(&place).await;
    assert_eq!(place.postmaster(), postmaster, "init leaves the server's database running");
    let mut shop = ShopServiceClient::new(channel(&running).await);

    let me = shop.who_am_i(with_token(&token, v1::WhoAmIRequest {})).await.unwrap().into_inner();
    assert_eq!((me.shop_name.as_str(), me.name.as_str(), me.role()), ("Northside", "Wren", v1::Role::Lead));

    let missing = shop.who_am_i(v1::WhoAmIRequest {}).await.unwrap_err();
    assert_eq!(reason(&missing), (Code::Unauthenticated, "TOKEN_MISSING".to_owned()));
    let unknown = shop.who_am_i(with_token("lhd_0000", v1::WhoAmIRequest {})).await.unwrap_err();
    assert_eq!(reason(&unknown), (Code::Unauthenticated, "TOKEN_INVALID".to_owned()));

    // AIP-155: the same request has the same answer and takes effect once.
    let add = |id, key| with_token(&token, v1::AddBayRequest { write: Some(write(id)), bay: Some(bay(key)) });
    let first = shop.add_bay(add(1, "lift-1")).await.unwrap().into_inner().receipt.unwrap();
    let again = shop.add_bay(add(1, "lift-1")).await.unwrap().into_inner().receipt.unwrap();
    assert_eq!((first.number, first.repeated, again.number, again.repeated), (first.number, false, first.number, true));
    let other = shop.add_bay(add(1, "lift-2")).await.unwrap_err();
    assert_eq!(reason(&other), (Code::InvalidArgument, "REQUEST_ID_REUSED".to_owned()));
    let wrong = shop.add_bay(add(2, "lift 2")).await.unwrap_err();
    assert_eq!(wrong.get_details_bad_request().unwrap().field_violations[0].field, "bay.bay");
    let taken = shop.add_bay(add(3, "lift-1")).await.unwrap_err();
    assert_eq!(taken.code(), Code::AlreadyExists);

    // A viewer sees, and changes nothing.
    let issue = v1::IssueTokenRequest {
        write: Some(write(4)),
        role: v1::Role::Viewer.into(),
        label: "screen".to_owned(),
        ..Default::default()
    };
    let viewer = shop.issue_token(with_token(&token, issue)).await.unwrap().into_inner().secret;
    let refused =
        shop.add_bay(with_token(&viewer, v1::AddBayRequest { write: Some(write(5)), bay: Some(bay("pit")) })).await;
    assert_eq!(reason(&refused.unwrap_err()), (Code::PermissionDenied, "ROLE_NOT_ALLOWED".to_owned()));
    assert_eq!(shop.get_shop(with_token(&viewer, v1::GetShopRequest {})).await.unwrap().into_inner().bays.len(), 1);

    let mut verified = Vec::new();
    let sound = commands::verify(&place.configuration(), &VerifyArgs { shop: None }, &mut verified).await.unwrap();
    let verified = String::from_utf8(verified).unwrap();
    assert!(sound && verified.contains(&me.shop) && verified.contains("no fault"), "{verified}");
    running.stop().await.unwrap();
    assert_eq!(place.postmaster(), None, "the server ends its database");
}

// google.rpc.BadRequest travels in the trailers: a file with many faults must still be answered.
#[tokio::test(flavor = "multi_thread")]
async fn a_file_with_two_thousand_bad_rows_is_answered_with_each_of_them() {
    let place = Place::new();
    let running = start(&place.configuration()).await;
    let token = open_shop(&place).await;
    let header = "item,name,unit,place,quantity,expires_on\n".to_owned();
    let csv = (0..2_000).fold(header, |csv, row| csv + &format!("item-{row},Item,gal,bin-1,1,\n"));
    let asked = with_token(&token, v1::ImportStockRequest { write: Some(write(1)), csv });
    let refused = StockServiceClient::new(channel(&running).await).import_stock(asked).await.unwrap_err();
    assert_eq!(reason(&refused), (Code::InvalidArgument, "BAD_ROWS".to_owned()));
    let violations = refused.get_details_bad_request().unwrap().field_violations;
    assert_eq!(violations.len(), 2_000);
    assert_eq!(
        (violations[0].field.as_str(), violations[1_999].field.as_str()),
        ("csv: line 2 unit", "csv: line 2001 unit")
    );
    running.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn health_and_reflection_are_open_and_true() {
    let place = Place::new();
    let running = start(&place.configuration()).await;
    let mut health = HealthClient::new(channel(&running).await);
    for service in ["", "leadhand.v1.JobService"] {
        let asked = HealthCheckRequest { service: service.to_owned() };
        let status = health.check(asked).await.unwrap().into_inner().status();
        assert_eq!(status, tonic_health::pb::health_check_response::ServingStatus::Serving, "{service}");
    }
    let mut watched = health.watch(HealthCheckRequest::default()).await.unwrap().into_inner();
    assert!(watched.next().await.unwrap().is_ok());

    let services = v1_services(channel(&running).await).await;
    for name in ["leadhand.v1.BoardService", "leadhand.v1.JournalService", "grpc.health.v1.Health"] {
        assert!(services.iter().any(|service| service == name), "{name} is not among {services:?}");
    }

    let mut http = TcpStream::connect(running.http).await.unwrap();
    http.write_all(b"GET /healthz HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n").await.unwrap();
    let mut answer = String::new();
    http.read_to_string(&mut answer).await.unwrap();
    assert!(answer.starts_with("HTTP/1.1 200"), "{answer}");

    running.stop().await.unwrap();
    let last = watched.next().await.unwrap().unwrap().status();
    assert_eq!(last, tonic_health::pb::health_check_response::ServingStatus::NotServing);
}

async fn v1_services(channel: Channel) -> Vec<String> {
    use tonic_reflection::pb::v1::ServerReflectionRequest;
    use tonic_reflection::pb::v1::server_reflection_client::ServerReflectionClient;
    use tonic_reflection::pb::v1::server_reflection_request::MessageRequest;
    use tonic_reflection::pb::v1::server_reflection_response::MessageResponse;
    let asked = ServerReflectionRequest {
        host: String::new(),
        message_request: Some(MessageRequest::ListServices(String::new())),
    };
    let mut client = ServerReflectionClient::new(channel);
    let mut answers = client.server_reflection_info(tokio_stream::iter([asked])).await.expect("a stream").into_inner();
    let answer = answers.next().await.expect("an answer").expect("no refusal").message_response.expect("a message");
    let MessageResponse::ListServicesResponse(list) = answer else { panic!("not a list: {answer:?}") };
    list.service.into_iter().map(|service| service.name).collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn streams_tell_what_changes_and_end_with_their_token() {
    let place = Place::new();
    let running = start(&place.configuration()).await;
    let token = open_shop(&place).await;
    let channel = channel(&running).await;
    let mut shop = ShopServiceClient::new(channel.clone());
    let issue = v1::IssueTokenRequest {
        write: Some(write(1)),
        role: v1::Role::Lead.into(),
        label: "wall".to_owned(),
        ..Default::default()
    };
    let issued = shop.issue_token(with_token(&token, issue)).await.unwrap().into_inner();

    let watch = with_token(&issued.secret, v1::WatchBoardRequest {});
    let mut board = BoardServiceClient::new(channel.clone()).watch_board(watch).await.unwrap().into_inner();
    let first = board.next().await.unwrap().unwrap();
    assert!(first.whole && first.outside_changed && first.bays.is_empty(), "{first:?}");

    let follow = with_token(&token, v1::FollowJournalRequest { after: None });
    let mut journal = JournalServiceClient::new(channel.clone()).follow_journal(follow).await.unwrap().into_inner();
    let added = v1::AddBayRequest { write: Some(write(2)), bay: Some(bay("lift-1")) };
    let number = shop.add_bay(with_token(&token, added)).await.unwrap().into_inner().receipt.unwrap().number;
    let mut facts = Vec::new();
    while facts.len() < usize::try_from(number).unwrap() {
        facts.extend(journal.next().await.unwrap().unwrap().facts);
    }
    let numbers: Vec<i64> = facts.iter().map(|fact| fact.number).collect();
    assert_eq!(numbers, (1..=number).collect::<Vec<_>>());
    assert_eq!(facts.last().unwrap().kind, "bay_added");

    let changed = loop {
        let message = board.next().await.unwrap().unwrap();
        if !message.bays.is_empty() {
            break message;
        }
    };
    assert!(!changed.whole && !changed.outside_changed && changed.number >= number, "{changed:?}");
    assert_eq!(changed.bays[0].bay.as_ref().unwrap().bay, "lift-1");

    let astray = v1::Cursor { number, fact_id: uuid::Uuid::from_u128(9).to_string() };
    let follow = with_token(&token, v1::FollowJournalRequest { after: Some(astray) });
    let mut other = JournalServiceClient::new(channel).follow_journal(follow).await.unwrap().into_inner();
    assert_eq!(other.next().await.unwrap().unwrap_err().code(), Code::OutOfRange);

    let revoke = v1::RevokeTokenRequest { write: Some(write(3)), token: issued.token };
    shop.revoke_token(with_token(&token, revoke)).await.unwrap();
    let ended = loop {
        match board.next().await.expect("the stream says why it ends") {
            Ok(_) => {}
            Err(status) => break status,
        }
    };
    assert_eq!(reason(&ended), (Code::Unauthenticated, "TOKEN_INVALID".to_owned()));
    running.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn an_open_stream_and_a_dead_connection_do_not_hold_up_the_end() {
    let place = Place::new();
    let running = start(&place.configuration()).await;
    let token = open_shop(&place).await;
    let watch = with_token(&token, v1::WatchBoardRequest {});
    let mut board = BoardServiceClient::new(channel(&running).await).watch_board(watch).await.unwrap().into_inner();
    assert!(board.next().await.unwrap().unwrap().whole);
    let mut dead = TcpStream::connect(running.grpc).await.unwrap();
    dead.write_all(b"P").await.unwrap();

    let begun = Instant::now();
    running.stop().await.unwrap();
    assert!(begun.elapsed() < GRACE, "cut off by what is open, not by the deadline: {:?}", begun.elapsed());
    let ended = board.next().await.unwrap().unwrap_err();
    assert_eq!(reason(&ended), (Code::Unavailable, "SHUTTING_DOWN".to_owned()));
    assert_eq!(place.postmaster(), None);
}
