//! Unary calls: what is repeated, under which request id, and what is said when it fails.

mod support;

use leadhand_sdk::v1::{AuditTimeRequest, ClockOffRequest};
use leadhand_sdk::{Client, Code, Endpoint, write_with_id};
use std::collections::HashMap;
use std::time::Duration;
use support::{Act, Server};
use tonic::Status;
use tonic_types::{ErrorDetails, StatusExt};
use uuid::Uuid;

const ID: Uuid = Uuid::from_u128(7);

fn clock_off() -> ClockOffRequest {
    ClockOffRequest { write: Some(write_with_id(ID)) }
}

fn unavailable() -> Act {
    Act::Refuse(Status::unavailable("starting"))
}

fn ids(server: &Server) -> Vec<String> {
    server.calls().into_iter().map(|call| call.request_id).collect()
}

/// AIP-194: UNAVAILABLE is retried; AIP-155: with the same request id.
#[tokio::test]
async fn a_server_that_is_not_ready_is_tried_again_with_the_same_request_id() {
    let server = Server::start().await;
    server.acts([unavailable(), unavailable(), Act::Answer]);
    server.client().clock_off(clock_off()).await.unwrap();
    assert_eq!(ids(&server), vec![ID.to_string(); 3]);
    for call in server.calls() {
        assert_eq!(call.authorization.as_deref(), Some("Bearer lh_secret"));
        assert!(call.had_deadline, "the server was not told the deadline");
    }
}

#[tokio::test]
async fn a_write_without_an_id_is_given_one_that_all_its_attempts_share() {
    let server = Server::start().await;
    server.acts([unavailable(), Act::Answer, Act::Answer]);
    let client = server.client();
    client.clock_off(ClockOffRequest::default()).await.unwrap();
    client.clock_off(ClockOffRequest::default()).await.unwrap();
    let ids = ids(&server);
    assert!(Uuid::parse_str(&ids[0]).is_ok_and(|id| id.get_version_num() == 4), "{ids:?}");
    assert_eq!(ids[0], ids[1], "the second attempt was another request");
    assert_ne!(ids[1], ids[2], "the second request repeated the first");
}

#[tokio::test]
async fn a_broken_connection_is_repaired_and_the_same_request_repeated() {
    let server = Server::start().await;
    server.acts([Act::Cut, Act::Answer]);
    server.client().clock_off(clock_off()).await.unwrap();
    assert_eq!(ids(&server), vec![ID.to_string(); 2]);
}

#[tokio::test]
async fn a_broken_connection_without_time_left_is_unknown() {
    let server = Server::start().await;
    server.acts([Act::Cut]);
    let client = Client::connect(server.endpoint().budget(Duration::ZERO)).unwrap();
    let error = client.clock_off(clock_off()).await.unwrap_err();
    assert!(error.is_unknown_outcome(), "{error:?}");
    assert_eq!((error.code, error.request_id.as_deref()), (Code::Unavailable, Some(ID.to_string().as_str())));
}

#[tokio::test]
async fn a_write_without_an_answer_is_repeated_once_and_then_unknown() {
    let server = Server::start().await;
    server.acts([Act::Hang, Act::Answer, Act::Hang, Act::Hang]);
    let client = server.client();
    client.clock_off(clock_off()).await.unwrap();
    let error = client.clock_off(clock_off()).await.unwrap_err();
    assert!(error.is_unknown_outcome(), "{error:?}");
    assert_eq!(error.code, Code::DeadlineExceeded);
    assert_eq!(ids(&server), vec![ID.to_string(); 4]);
}

#[tokio::test]
async fn a_refusal_after_a_lost_answer_settles_the_matter() {
    let server = Server::start().await;
    server.acts([Act::Hang, Act::Refuse(Status::failed_precondition("you are not on any stage"))]);
    let error = server.client().clock_off(clock_off()).await.unwrap_err();
    assert!(!error.is_unknown_outcome(), "{error:?}");
    assert_eq!((error.code, error.message.as_str()), (Code::FailedPrecondition, "you are not on any stage"));
}

#[tokio::test]
async fn an_expired_token_after_a_lost_answer_settles_nothing() {
    let server = Server::start().await;
    server.acts([Act::Hang, Act::Refuse(Status::unauthenticated("the token has expired"))]);
    let error = server.client().clock_off(clock_off()).await.unwrap_err();
    assert!(error.is_unknown_outcome(), "{error:?}");
}

#[tokio::test]
async fn reading_too_slowly_is_no_unknown_outcome_and_not_repeated() {
    let server = Server::start().await;
    server.acts([Act::Hang]);
    let error = server.client().audit_time(AuditTimeRequest::default()).await.unwrap_err();
    assert_eq!((error.code, error.is_unknown_outcome()), (Code::DeadlineExceeded, false));
    assert_eq!(server.calls().len(), 1);
}

#[tokio::test]
async fn a_server_that_is_not_there_has_taken_nothing() {
    let gone = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap().local_addr().unwrap();
    let endpoint = Endpoint::new(format!("http://{gone}")).budget(Duration::from_millis(300));
    let error = Client::connect(endpoint).unwrap().clock_off(clock_off()).await.unwrap_err();
    assert_eq!((error.code, error.is_unknown_outcome()), (Code::Unavailable, false), "{error:?}");
    assert!(error.message.contains(&gone.to_string()), "{error}");
}

/// AIP-193: the refusal's details are read.
#[tokio::test]
async fn a_refusal_comes_once_with_its_reason_and_its_faults() {
    let server = Server::start().await;
    let mut details = ErrorDetails::with_error_info("INVALID_FIELD", "leadhand", HashMap::new());
    details.add_bad_request_violation("job", "give a number above 0");
    let status = Status::with_error_details(Code::InvalidArgument, "job: give a number above 0", details);
    server.acts([Act::Refuse(status)]);
    let error = server.client().clock_off(clock_off()).await.unwrap_err();
    assert_eq!((error.code, error.reason.as_str()), (Code::InvalidArgument, "INVALID_FIELD"));
    assert_eq!((error.fields[0].field.as_str(), error.fields[0].message.as_str()), ("job", "give a number above 0"));
    assert_eq!(server.calls().len(), 1);
}

#[test]
fn an_address_that_is_none_is_refused_at_once_and_no_token_is_shown() {
    // Plaintext to another machine would show the token to whoever listens.
    let elsewhere = ["http://192.0.2.1:7420", "http://shop.example:7420", "http://127.0.0.1.example"];
    for wrong in ["nowhere", "http://", "https://ho st", "ftp://localhost"].into_iter().chain(elsewhere) {
        assert!(Client::connect(Endpoint::new(wrong)).is_err(), "'{wrong}' was taken");
    }
    let endpoint = Endpoint::new("http://127.0.0.1:1").token("lh_secret");
    assert!(!format!("{endpoint:?}").contains("secret"));
    assert!(Client::connect(endpoint.token("line\nbreak")).is_err());
}
