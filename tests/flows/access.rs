//! Tokens that are replaced, persons who sign in at devices, and failed attempts.

use crate::shop::{Shop, reason, start};
use leadhand_proto::v1;
use leadhand_rpc::Limits;
use leadhand_sdk::{Client, Code, SdkError, new_write};
use prost_types::Duration;

const PIN: &str = "270591";

async fn issue(shop: &Shop, role: v1::Role, label: &str) -> v1::IssueTokenResponse {
    let (write, label) = (Some(new_write()), label.to_owned());
    shop.lead
        .issue_token(v1::IssueTokenRequest { write, role: role.into(), label, ..Default::default() })
        .await
        .unwrap()
}

fn rotate(token: &str, minutes: i64) -> v1::RotateTokenRequest {
    let overlap = Some(Duration { seconds: minutes * 60, nanos: 0 });
    v1::RotateTokenRequest { write: Some(new_write()), token: token.into(), overlap, expires_at: None }
}

async fn valid(client: &Client) -> bool {
    match client.who_am_i(v1::WhoAmIRequest {}).await {
        Ok(_) => true,
        Err(refused) => {
            assert_eq!(refused.reason, "TOKEN_INVALID", "{refused}");
            false
        }
    }
}

async fn set_pin(shop: &Shop, person: &str, role: v1::Role, pin: &str) -> Result<v1::SetPinResponse, SdkError> {
    let (write, person) = (Some(new_write()), person.to_owned());
    shop.lead.set_pin(v1::SetPinRequest { write, person, role: role.into(), pin: pin.to_owned() }).await
}

async fn by_pin(device: &Client, person: &str, pin: &str) -> Result<v1::SignInResponse, SdkError> {
    let (write, person, pin) = (Some(new_write()), person.to_owned(), pin.to_owned());
    device.sign_in(v1::SignInRequest { write, person, pin, ..Default::default() }).await
}

async fn by_badge(device: &Client, badge: &str) -> Result<v1::SignInResponse, SdkError> {
    let (write, badge) = (Some(new_write()), badge.to_owned());
    device.sign_in(v1::SignInRequest { write, badge, ..Default::default() }).await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_token_is_replaced_with_an_overlap() {
    let shop = Shop::open().await;
    let first = issue(&shop, v1::Role::Technician, "Bay tablet").await;
    let old = shop.with_secret(&first.secret);
    let asked = rotate("", 60);
    let second = old.rotate_token(asked.clone()).await.unwrap();
    let again = old.rotate_token(asked).await.unwrap();
    assert!(again.secret.is_empty() && again.token == second.token, "a repeat gets no secret: {again:?}");
    let new = shop.elsewhere_with(&second.secret);
    assert!(valid(&old).await && valid(&new).await);
    let third = new.rotate_token(rotate("", 0)).await.unwrap();
    assert!(!valid(&new).await && !valid(&old).await, "no overlap ends all that came before");
    assert!(valid(&shop.with_secret(&third.secret)).await);
    let listed = shop.lead.list_tokens(v1::ListTokensRequest::default()).await.unwrap().tokens;
    let of = |id: &str| listed.iter().find(|token| token.token == id).unwrap().clone();
    assert!(of(&second.token).expired && of(&first.token).expired && !of(&third.token).expired);
    assert_eq!(of(&third.token).name, "Bay tablet");
    // Only a lead replaces another's, and no unknown one is told from it.
    let other = issue(&shop, v1::Role::Parts, "Counter").await;
    let third = shop.with_secret(&third.secret);
    let theirs = third.rotate_token(rotate(&other.token, 60)).await.unwrap_err();
    let nobodys = third.rotate_token(rotate(&uuid::Uuid::from_u128(7).to_string(), 60)).await.unwrap_err();
    assert_eq!((theirs.reason.as_str(), &theirs.message), ("LEAD_ONLY", &nobodys.message));
    shop.lead.rotate_token(rotate(&other.token, 60)).await.unwrap();
    assert_eq!(reason(shop.lead.rotate_token(rotate(&other.token, 30 * 24 * 60 + 1)).await), "INVALID_FIELD");
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_replaced_token_is_nobody_s_last_one() {
    let shop = Shop::open().await;
    let new = shop.lead.rotate_token(rotate("", 24 * 60)).await.unwrap();
    let revoke = |token: String| v1::RevokeTokenRequest { write: Some(new_write()), token };
    // The old one still lets the lead in, but not for long.
    assert_eq!(reason(shop.lead.revoke_token(revoke(new.token)).await), "LAST_LEAD");
    let old = shop.lead.list_tokens(v1::ListTokensRequest::default()).await.unwrap().tokens.remove(0);
    shop.with_secret(&new.secret).revoke_token(revoke(old.token)).await.unwrap();
    assert!(!valid(&shop.lead).await);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_lead_overrides_at_a_device_after_signing_in() {
    let shop = Shop::open().await;
    let tablet = issue(&shop, v1::Role::Technician, "Bay tablet").await;
    let device = shop.with_secret(&tablet.secret);
    set_pin(&shop, "Wren", v1::Role::Lead, PIN).await.unwrap();
    let job = shop.blank_job(&["strip", "refit"]).await;
    shop.assign(job, "lift-1").await.unwrap();
    let forced = || v1::StartStageRequest {
        write: Some(new_write()),
        job,
        stage: "refit".into(),
        override_reason: "it is bare already".into(),
    };
    let refused = device.start_stage(forced()).await.unwrap_err();
    assert_eq!(refused.reason, "SIGN_IN_FIRST");
    assert!(refused.message.contains("sign in at this device"), "{refused}");
    let signed = by_pin(&device, "wren", PIN).await.unwrap();
    assert_eq!(signed.role(), v1::Role::Lead);
    let session = shop.elsewhere_with(&signed.secret);
    session.start_stage(forced()).await.unwrap();
    let me = session.who_am_i(v1::WhoAmIRequest {}).await.unwrap();
    assert_eq!((me.name.as_str(), me.device.as_str()), ("Wren", tablet.token.as_str()));
    let facts = shop.facts_after(0).await;
    let started = facts.iter().find(|fact| fact.kind == "stage_started").unwrap();
    let name = |id: &str| started.words.get(id).map(String::as_str);
    assert_eq!((name(&started.person), name(&started.principal)), (Some("Wren"), Some("Bay tablet")));
    assert_eq!(started.proved_by, "", "nobody else's word");
    // Nothing of the PIN comes out, neither itself nor its slow hash.
    assert!(!format!("{facts:?}").contains("argon2") && !format!("{facts:?}").contains(PIN));
    session.sign_out(v1::SignOutRequest { write: Some(new_write()) }).await.unwrap();
    assert!(!valid(&session).await && valid(&device).await);
    assert_eq!(reason(device.sign_out(v1::SignOutRequest { write: Some(new_write()) }).await), "NOT_SIGNED_IN");
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn who_signs_in_for_a_shift_leads_nobody_at_that_device() {
    let shop = Shop::open().await;
    let device = shop.with_secret(&issue(&shop, v1::Role::Technician, "Bay tablet").await.secret);
    set_pin(&shop, "Wren", v1::Role::Lead, PIN).await.unwrap();
    let asked = |minutes| {
        let (write, person, pin) = (Some(new_write()), "Wren".to_owned(), PIN.to_owned());
        v1::SignInRequest { write, person, pin, minutes, ..Default::default() }
    };
    let shift = device.sign_in(asked(600)).await.unwrap();
    assert_eq!(shift.role(), v1::Role::Technician);
    let session = shop.elsewhere_with(&shift.secret);
    let me = session.who_am_i(v1::WhoAmIRequest {}).await.unwrap();
    assert_eq!((me.name.as_str(), me.role()), ("Wren", v1::Role::Technician));
    let job = shop.blank_job(&["strip", "refit"]).await;
    shop.assign(job, "lift-1").await.unwrap();
    let forced = || v1::StartStageRequest {
        write: Some(new_write()),
        job,
        stage: "refit".into(),
        override_reason: "it is bare already".into(),
    };
    assert_eq!(session.start_stage(forced()).await.unwrap_err().reason, "LEAD_ONLY");
    // Whoever shows the PIN anew overrules, and that ends within the hour.
    let hour = device.sign_in(asked(60)).await.unwrap();
    shop.elsewhere_with(&hour.secret).start_stage(forced()).await.unwrap();
    assert_eq!(reason(device.sign_in(asked(961)).await), "INVALID_FIELD");
    shop.verified().await;
}

/// The facts of a kind, with the names of who acted, at what, and on whose word.
async fn who_did(shop: &Shop, kind: &str) -> Vec<[String; 3]> {
    let facts = shop.facts_after(0).await.into_iter().filter(|fact| fact.kind == kind);
    let name = |fact: &v1::Fact, id: &str| fact.words.get(id).cloned().unwrap_or_default();
    facts.map(|fact| [&fact.person, &fact.principal, &fact.proved_by].map(|id| name(&fact, id))).collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn who_overrides_for_somebody_else_is_named_and_can_be_forgotten() {
    let shop = Shop::open().await;
    shop.technician("Teasel", &[]).await;
    shop.technician("Flint", &[]).await;
    let device = shop.with_secret(&issue(&shop, v1::Role::Technician, "Bay tablet").await.secret);
    set_pin(&shop, "Wren", v1::Role::Lead, PIN).await.unwrap();
    let session = shop.with_secret(&by_pin(&device, "Wren", PIN).await.unwrap().secret);
    let job = shop.blank_job(&["strip", "refit", "road"]).await;
    shop.assign(job, "lift-1").await.unwrap();
    let forced = |stage: &str, reason: &str| {
        let write = Some(v1::WriteContext { for_person: "Teasel".into(), ..new_write() });
        v1::StartStageRequest { write, job, stage: stage.into(), override_reason: reason.into() }
    };
    session.start_stage(forced("refit", "the gaugefellow waits")).await.unwrap();
    shop.lead.start_stage(forced("road", "he still waits")).await.unwrap();
    let said = who_did(&shop, "stage_started").await;
    assert_eq!(said, [["Teasel", "Bay tablet", "Wren"], ["Teasel", "", "Wren"]]);
    let asked = v1::GetPersonDataRequest { person: "Wren".into(), page_size: 500, ..Default::default() };
    let kept = shop.lead.get_person_data(asked).await.unwrap();
    assert_eq!(kept.facts.iter().filter(|fact| fact.kind == "stage_started").count(), 2, "{kept:?}");
    shop.verified().await;

    let (write, person, role) = (Some(new_write()), "Flint".to_owned(), v1::Role::Lead.into());
    let flint = shop.lead.issue_token(v1::IssueTokenRequest { write, person, role, ..Default::default() });
    let flint = shop.with_secret(&flint.await.unwrap().secret);
    flint.forget_person(v1::ForgetPersonRequest { write: Some(new_write()), person: "Wren".into() }).await.unwrap();
    let asked = v1::ReadJournalRequest { page_size: 1000, ..Default::default() };
    let facts = flint.read_journal(asked).await.unwrap().facts;
    let started: Vec<&v1::Fact> = facts.iter().filter(|fact| fact.kind == "stage_started").collect();
    assert!(started.iter().all(|fact| !fact.proved_by.is_empty()), "that somebody did stays: {started:?}");
    let words = format!("{:?}", started.iter().map(|fact| &fact.words).collect::<Vec<_>>());
    assert!(words.contains("Teasel") && !words.contains("Wren") && !words.contains("waits"), "{words}");
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_session_ends_with_what_it_rests_on() {
    let shop = Shop::open().await;
    let tablet = issue(&shop, v1::Role::Parts, "Counter").await;
    let device = shop.with_secret(&tablet.secret);
    shop.technician("Flint", &[]).await;
    let badge =
        v1::SetBadgeRequest { write: Some(new_write()), person: "Flint".into(), role: v1::Role::Technician.into() };
    let code = shop.lead.set_badge(badge).await.unwrap().code;
    // As it is typed by somebody in a hurry.
    let typed = code.to_lowercase().replace('-', " ").replace('0', "o").replace('1', "l");
    let session = shop.elsewhere_with(&by_badge(&device, &typed).await.unwrap().secret);
    assert!(valid(&session).await);
    assert_eq!(reason(by_badge(&session, &code).await), "NOT_A_DEVICE", "nobody signs in at a session");
    assert_eq!(reason(by_badge(&shop.lead, &code).await), "NOT_A_DEVICE", "nor with a person's token");
    assert_eq!(reason(by_badge(&shop.token(v1::Role::Viewer, "Wall").await, &code).await), "ROLE_NOT_ALLOWED");
    let proof = v1::ProofKind::Badge.into();
    let withdraw = v1::WithdrawProofRequest { write: Some(new_write()), person: "Flint".into(), proof };
    shop.lead.withdraw_proof(withdraw).await.unwrap();
    assert!(!valid(&session).await);
    assert_eq!(reason(by_badge(&device, &code).await), "SIGN_IN_REFUSED");

    set_pin(&shop, "Flint", v1::Role::Technician, PIN).await.unwrap();
    let session = shop.elsewhere_with(&by_pin(&device, "Flint", PIN).await.unwrap().secret);
    assert!(valid(&session).await);
    set_pin(&shop, "Flint", v1::Role::Technician, "918273").await.unwrap();
    assert!(!valid(&session).await, "the PIN it was begun with is another one now");
    let session = shop.elsewhere_with(&by_pin(&device, "Flint", "918273").await.unwrap().secret);
    assert!(valid(&session).await);
    shop.lead
        .forget_person(v1::ForgetPersonRequest { write: Some(new_write()), person: "Flint".into() })
        .await
        .unwrap();
    assert!(!valid(&session).await);
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn wrong_tries_are_limited_over_all_replicas() {
    let shop = Shop::open().await;
    let tablet = issue(&shop, v1::Role::Technician, "Bay tablet").await;
    let (here, there) = (shop.with_secret(&tablet.secret), shop.elsewhere_with(&tablet.secret));
    assert_eq!(reason(set_pin(&shop, "Wren", v1::Role::Lead, "123456").await), "INVALID_FIELD");
    set_pin(&shop, "Wren", v1::Role::Lead, PIN).await.unwrap();
    let wrong = by_pin(&here, "Wren", "000001").await.unwrap_err();
    let unknown = by_pin(&here, "Nobody", PIN).await.unwrap_err();
    assert_eq!((wrong.code, wrong.reason.as_str()), (Code::PermissionDenied, "SIGN_IN_REFUSED"));
    assert_eq!((&wrong.message, &wrong.reason), (&unknown.message, &unknown.reason));
    for device in [&there, &here, &there, &here] {
        assert_eq!(reason(by_pin(device, "Wren", "000001").await), "SIGN_IN_REFUSED");
    }
    let stopped = by_pin(&there, "Wren", PIN).await.unwrap_err();
    assert_eq!((stopped.code, stopped.reason.as_str()), (Code::ResourceExhausted, "TOO_MANY_TRIES"), "{stopped}");
    // A lead's new PIN lets the person try again; what went wrong at the device still counts there.
    set_pin(&shop, "Wren", v1::Role::Lead, "918273").await.unwrap();
    by_pin(&there, "Wren", "918273").await.unwrap();
    for _ in 0..4 {
        by_badge(&here, "0000-0000-0000-0000").await.unwrap_err();
    }
    assert_eq!(reason(by_pin(&here, "Wren", "918273").await), "TOO_MANY_TRIES", "ten at this device");
    let other = shop.with_secret(&issue(&shop, v1::Role::Technician, "Other tablet").await.secret);
    by_pin(&other, "Wren", "918273").await.unwrap();
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_device_records_for_somebody_without_speaking_for_them() {
    let shop = Shop::open().await;
    let device = shop.with_secret(&issue(&shop, v1::Role::Lead, "Office").await.secret);
    let job = shop.blank_job(&["strip", "refit"]).await;
    shop.assign(job, "lift-1").await.unwrap();
    let write = Some(v1::WriteContext { for_person: "Wren".into(), ..new_write() });
    let forced = v1::StartStageRequest { write, job, stage: "refit".into(), override_reason: "bare".into() };
    assert_eq!(reason(device.start_stage(forced).await), "SIGN_IN_FIRST");
    start(&device, job, "strip").await.unwrap();
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn whoever_holds_a_valid_token_is_not_held_up_by_guesses() {
    let shop = Shop::open_with("UTC", Limits::default()).await;
    let late = issue(&shop, v1::Role::Viewer, "Wall").await;
    let guess = |n: usize| shop.with_secret(&format!("lhd_{n:064x}"));
    for n in 0..31 {
        assert_eq!(reason(guess(n).who_am_i(v1::WhoAmIRequest {}).await), "TOKEN_INVALID", "{n}");
    }
    // Beyond the limit nothing is said of a guess, and whoever has no patience gets no further.
    let hasty = |n: usize| shop.hasty_with(&format!("lhd_{n:064x}"));
    for n in 31..100 {
        let refused = hasty(n).who_am_i(v1::WhoAmIRequest {}).await.unwrap_err();
        assert_eq!((refused.code, refused.reason.as_str()), (Code::Unavailable, "COME_AGAIN"), "{n}: {refused}");
    }
    let refused = guess(7).who_am_i(v1::WhoAmIRequest {}).await.unwrap_err();
    assert_eq!((refused.code, refused.reason.as_str()), (Code::ResourceExhausted, "TOO_MANY_FAILURES"), "{refused}");
    assert!(valid(&shop.lead).await, "who was valid a while ago goes on");
    // It was never shown on this replica, so it comes again, as every client does by itself.
    let unseen = shop.hasty_with(&late.secret).who_am_i(v1::WhoAmIRequest {}).await;
    assert_eq!(reason(unseen), "COME_AGAIN");
    assert!(valid(&shop.with_secret(&late.secret)).await);
    assert!(valid(&shop.hasty_with(&late.secret)).await, "and then it is known");
    assert!(valid(&shop.elsewhere_with(&late.secret)).await, "another replica counts for itself");
}
