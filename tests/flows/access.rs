//! Who may come in: nobody without a valid token, nobody beyond the role, nobody next door.

use crate::shop::{Shop, reason, start};
use leadhand_proto::v1;
use leadhand_sdk::new_write;

#[tokio::test(flavor = "multi_thread")]
async fn no_token_a_wrong_one_and_a_revoked_one_are_refused() {
    let shop = Shop::open().await;
    let ask = v1::GetShopRequest {};
    let changed = format!("{}0", &shop.secret()[..shop.secret().len() - 1]);
    for secret in ["x", "lhd_0000", changed.as_str()] {
        if secret != shop.secret() {
            assert_eq!(reason(shop.with_secret(secret).get_shop(ask).await), "TOKEN_INVALID", "{secret}");
        }
    }
    let viewer = shop.token(v1::Role::Viewer, "wall screen").await;
    viewer.get_board(v1::GetBoardRequest {}).await.unwrap();
    let job = shop.job("front-brakes", "white van").await;
    let before = shop.head().await;
    assert_eq!(reason(start(&viewer, job, "book-in").await), "ROLE_NOT_ALLOWED");
    assert_eq!(shop.head().await, before);
    let tokens = shop.lead.list_tokens(v1::ListTokensRequest::default()).await.unwrap().tokens;
    let token = tokens.iter().find(|token| token.name == "wall screen").unwrap().token.clone();
    shop.lead.revoke_token(v1::RevokeTokenRequest { write: Some(new_write()), token }).await.unwrap();
    assert_eq!(reason(viewer.get_board(v1::GetBoardRequest {}).await), "TOKEN_INVALID");
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_neighbour_learns_nothing() {
    let shop = Shop::open().await;
    let neighbour = shop.neighbour().await;
    let job = shop.job("front-brakes", "white van").await;
    assert_eq!(reason(neighbour.get_job(v1::GetJobRequest { job }).await), "NOT_FOUND");
    assert!(neighbour.list_jobs(v1::ListJobsRequest::default()).await.unwrap().jobs.is_empty());
    assert!(neighbour.list_stock(v1::ListStockRequest::default()).await.unwrap().items.is_empty());
    assert!(neighbour.get_board(v1::GetBoardRequest {}).await.unwrap().bays.is_empty());
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_forgotten_person_has_no_name_anywhere() {
    let shop = Shop::open().await;
    let flint = shop.technician("Flint", &["brakes"]).await;
    let job = shop.job("front-brakes", "white van").await;
    start(&flint, job, "book-in").await.unwrap();
    let asked = |person: &str| v1::ForgetPersonRequest { write: Some(new_write()), person: person.into() };
    assert_eq!(reason(shop.lead.forget_person(asked("Flint")).await), "STILL_AT_WORK");
    flint.clock_off(v1::ClockOffRequest { write: Some(new_write()) }).await.unwrap();
    shop.lead.forget_person(asked("Flint")).await.unwrap();
    assert_eq!(reason(flint.get_board(v1::GetBoardRequest {}).await), "TOKEN_INVALID");
    let persons = shop.lead.get_shop(v1::GetShopRequest {}).await.unwrap().persons;
    assert!(persons.iter().any(|person| person.forgotten && person.name.is_empty()));
    assert!(!format!("{:?}", shop.whole_job(job).await).contains("Flint"));
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn bad_input_names_its_field_and_changes_nothing() {
    let shop = Shop::open().await;
    let job = shop.job("front-brakes", "white van").await;
    let before = shop.head().await;
    let open = |label: &str| v1::OpenJobRequest {
        write: Some(new_write()),
        template: "front-brakes".into(),
        vehicle_label: label.into(),
        ..Default::default()
    };
    for label in ["van\0", "van\u{7}", &"v".repeat(201), "   "] {
        let refused = shop.lead.open_job(open(label)).await.unwrap_err();
        assert_eq!((refused.reason.as_str(), refused.fields[0].field.as_str()), ("INVALID_FIELD", "vehicle_label"));
    }
    let receive = |quantity| v1::ReceiveStockRequest {
        write: Some(new_write()),
        item: "hg-set-20".into(),
        place: "bin-a1".into(),
        quantity,
        expires_on: String::new(),
    };
    for quantity in [0, -1, i64::MIN, i64::MAX] {
        let refused = shop.lead.receive_stock(receive(quantity)).await.unwrap_err();
        assert_eq!(refused.fields[0].field, "quantity", "{quantity}");
    }
    let nil = v1::WriteContext { request_id: uuid::Uuid::nil().to_string(), ..Default::default() };
    let refused = shop.lead.assign_job(v1::AssignJobRequest {
        write: Some(nil),
        job,
        bay: "lift-1".into(),
        ..Default::default()
    });
    assert!(refused.await.unwrap_err().fields[0].field.contains("request_id"));
    assert_eq!(shop.head().await, before);
    // Any script comes back byte for byte, and SQL is words like any other.
    let odd = "عربة'); DROP TABLE job; --";
    let opened = shop.lead.open_job(open(odd)).await.unwrap().job;
    assert_eq!(shop.whole_job(opened).await.job.unwrap().vehicle_label, odd);
    shop.verified().await;
}
