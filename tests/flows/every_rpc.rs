//! Every method of the contract, called by everybody who may not: nothing is let in and nothing changes.

use crate::raw::{call, code, methods, said};
use crate::shop::Shop;
use leadhand_app::access::{OPERATOR, PERMISSIONS};
use leadhand_facts::words::Role;
use leadhand_proto::v1;
use leadhand_sdk::new_write;
use std::time::Duration;
use tokio::time::timeout;
use tonic::Code;

/// A token of a role, and when it is to end.
async fn issue(shop: &Shop, role: v1::Role, expires_at: Option<prost_types::Timestamp>) -> v1::IssueTokenResponse {
    let (write, label) = (Some(new_write()), "some device".to_owned());
    let asked = v1::IssueTokenRequest { write, role: role.into(), label, expires_at, ..Default::default() };
    shop.lead.issue_token(asked).await.unwrap()
}

/// A lead's token that has run out.
async fn expired(shop: &Shop) -> String {
    let soon = crate::clock::later(shop.now().await, 2_000_000);
    let secret = issue(shop, v1::Role::Lead, Some(soon)).await.secret;
    let client = shop.with_secret(&secret);
    // By the server's clock, which is asked rather than waited for.
    let over = async { while client.who_am_i(v1::WhoAmIRequest {}).await.is_ok() {} };
    timeout(Duration::from_secs(30), over).await.expect("a token never ran out");
    secret
}

#[tokio::test(flavor = "multi_thread")]
async fn nobody_without_a_valid_token_calls_anything() {
    let shop = Shop::open().await;
    let revoked = issue(&shop, v1::Role::Lead, None).await;
    let revoke = v1::RevokeTokenRequest { write: Some(new_write()), token: revoked.token };
    shop.lead.revoke_token(revoke).await.unwrap();
    let expired = expired(&shop).await;
    let never = format!("Bearer lhd_{}", "0".repeat(64));
    let good = shop.secret();
    let cases = [
        (None, "TOKEN_MISSING"),
        (Some(good.to_owned()), "TOKEN_MALFORMED"),
        (Some(format!("Basic {good}")), "TOKEN_MALFORMED"),
        (Some("Bearer ".to_owned()), "TOKEN_MALFORMED"),
        (Some(never), "TOKEN_INVALID"),
        (Some(format!("Bearer {}", good.to_uppercase())), "TOKEN_INVALID"),
        (Some(format!("Bearer {}", revoked.secret)), "TOKEN_INVALID"),
        (Some(format!("Bearer {expired}")), "TOKEN_INVALID"),
        (Some(format!("Bearer {}", session_of_a_revoked_device(&shop).await)), "TOKEN_INVALID"),
        (Some(format!("Bearer {}", revoked_operator(&shop).await)), "TOKEN_INVALID"),
    ];
    let before = shop.head().await;
    let methods = methods();
    assert!(methods.len() > 50, "the contract has {} methods", methods.len());
    for method in &methods {
        for (authorization, reason) in &cases {
            let answer = call(&shop.lead, &method.path, authorization.as_deref(), Vec::new()).await;
            assert_eq!(code(&answer), Code::Unauthenticated, "{} with {reason}", method.path);
            assert_eq!(said(&answer), *reason, "{}", method.path);
        }
    }
    println!("{} methods, {} ways of not coming in: {} cases", methods.len(), cases.len(), methods.len() * cases.len());
    assert_eq!(shop.head().await, before);
    shop.verified().await;
}

/// A lead's session at a device whose token was revoked afterwards.
async fn session_of_a_revoked_device(shop: &Shop) -> String {
    let device = issue(shop, v1::Role::Technician, None).await;
    let person = "Wren".to_owned();
    let badge = v1::SetBadgeRequest { write: Some(new_write()), person, role: v1::Role::Lead.into() };
    let badge = shop.lead.set_badge(badge).await.unwrap().code;
    let sign_in = v1::SignInRequest { write: Some(new_write()), badge, ..Default::default() };
    let session = shop.with_secret(&device.secret).sign_in(sign_in).await.unwrap().secret;
    shop.with_secret(&session).who_am_i(v1::WhoAmIRequest {}).await.expect("it is valid until the device is not");
    let revoke = v1::RevokeTokenRequest { write: Some(new_write()), token: device.token };
    shop.lead.revoke_token(revoke).await.unwrap();
    session
}

async fn revoked_operator(shop: &Shop) -> String {
    let operator = shop.app().issue_operator("Night desk", None).await.unwrap();
    assert!(shop.app().revoke_operator(operator.operator).await.unwrap());
    operator.secret
}

/// An operator's token is good for nothing of a shop, and for all of the operator's.
#[tokio::test(flavor = "multi_thread")]
async fn an_operator_calls_nothing_of_a_shop() {
    let shop = Shop::open().await;
    let secret = shop.app().issue_operator("Night desk", None).await.unwrap().secret;
    let operator = format!("Bearer {secret}");
    let before = shop.head().await;
    let methods = methods();
    for method in &methods {
        let answer = call(&shop.elsewhere, &method.path, Some(&operator), Vec::new()).await;
        let denied = code(&answer) == Code::PermissionDenied && said(&answer) == "ROLE_NOT_ALLOWED";
        assert_eq!(denied, !OPERATOR.contains(&method.path.as_str()), "{}: {answer:?}", method.path);
    }
    println!("{} methods by an operator", methods.len());
    assert_eq!(shop.head().await, before);
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn each_role_calls_what_its_work_needs_and_nothing_else() {
    let shop = Shop::open().await;
    let roles = [
        (Role::Lead, v1::Role::Lead),
        (Role::Technician, v1::Role::Technician),
        (Role::Parts, v1::Role::Parts),
        (Role::Viewer, v1::Role::Viewer),
    ];
    let mut tokens = Vec::new();
    for (role, wire) in roles {
        tokens.push((role, format!("Bearer {}", issue(&shop, wire, None).await.secret)));
    }
    let before = shop.head().await;
    for method in methods() {
        let found = PERMISSIONS.iter().find(|(path, _)| *path == method.path);
        let allowed = found.map_or(&[][..], |(_, allowed)| allowed);
        assert_eq!(allowed.is_empty(), OPERATOR.contains(&method.path.as_str()), "{}", method.path);
        for (role, token) in &tokens {
            let answer = call(&shop.elsewhere, &method.path, Some(token), Vec::new()).await;
            let denied = code(&answer) == Code::PermissionDenied && said(&answer) == "ROLE_NOT_ALLOWED";
            assert_eq!(denied, !allowed.contains(role), "{} by {role}: {answer:?}", method.path);
            assert_ne!(code(&answer), Code::Unauthenticated, "{} by {role}", method.path);
            // Whoever only looks changes nothing but the own token, and only a lead says who may come in and how the shop is run.
            let own = method.path.ends_with("/RotateToken");
            assert!(denied || *role != Role::Viewer || !method.writes || own, "a viewer may call {}", method.path);
            let run_by_lead = method.writes && method.path.starts_with("/leadhand.v1.ShopService/");
            assert!(denied || *role == Role::Lead || !run_by_lead, "{role} may call {}", method.path);
            if method.writes && !denied {
                assert_eq!(code(&answer), Code::InvalidArgument, "{} without a request id: {answer:?}", method.path);
            }
        }
    }
    assert_eq!(shop.head().await, before);
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_in_no_table_is_refused_to_everybody() {
    let shop = Shop::open().await;
    let lead = format!("Bearer {}", shop.secret());
    let paths = [
        "/leadhand.v1.ShopService/Sell",
        "/leadhand.v1.ShopService/getShop",
        "/leadhand.v1.ShopService/GetShop/",
        "/leadhand.v2.ShopService/GetShop",
        "/nothing.at.All/Here",
        "/",
    ];
    for path in paths {
        assert_eq!(code(&call(&shop.lead, path, Some(&lead), Vec::new()).await), Code::PermissionDenied, "{path}");
        assert_eq!(code(&call(&shop.lead, path, None, Vec::new()).await), Code::Unauthenticated, "{path}");
    }
    shop.verified().await;
}
