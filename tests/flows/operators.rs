//! Operators make shops, and help a lead who lost the token.

use crate::shop::{Shop, reason};
use leadhand_proto::v1;
use leadhand_sdk::{Code, new_write};

#[tokio::test(flavor = "multi_thread")]
async fn an_operator_opens_a_shop_once() {
    let shop = Shop::open().await;
    let issued = shop.app().issue_operator("Night desk", None).await.unwrap();
    let operator = shop.with_secret(&issued.secret);
    let asked = v1::OpenShopRequest {
        write: Some(new_write()),
        name: "Quarry Road".into(),
        zone: "Europe/Lisbon".into(),
        lead: "Heron".into(),
    };
    let opened = operator.open_shop(asked.clone()).await.unwrap();
    let again = shop.elsewhere_with(&issued.secret).open_shop(asked.clone()).await.unwrap();
    assert!(again.secret.is_empty() && again.shop == opened.shop && again.lead == opened.lead, "{again:?}");
    let other = v1::OpenShopRequest { name: "Elsewhere".into(), ..asked.clone() };
    assert_eq!(reason(operator.open_shop(other).await), "REQUEST_ID_REUSED");
    let wrong = v1::OpenShopRequest { write: Some(new_write()), zone: "Moon".into(), ..asked };
    assert_eq!(reason(operator.open_shop(wrong).await), "INVALID_FIELD");
    let lead = shop.with_secret(&opened.secret);
    let theirs = lead.read_journal(v1::ReadJournalRequest::default()).await.unwrap().facts;
    assert_eq!(theirs.len(), 3);
    assert!(theirs.iter().all(|fact| fact.principal == issued.operator.to_string()), "{theirs:?}");
    let listed = operator.list_shops(v1::ListShopsRequest { page_size: 1, ..Default::default() }).await.unwrap();
    let page_token = listed.next_page_token;
    let next = operator.list_shops(v1::ListShopsRequest { page_size: 1, page_token }).await.unwrap();
    assert_eq!((next.shops[0].shop.as_str(), next.shops[0].number), (opened.shop.as_str(), 3));
    assert!(next.next_page_token.is_empty(), "a shop that was refused is no shop");
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_lost_lead_s_token_is_replaced() {
    let shop = Shop::open().await;
    let operator = shop.app().issue_operator("Night desk", None).await.unwrap();
    let operator = shop.with_secret(&operator.secret);
    let id = shop.lead.who_am_i(v1::WhoAmIRequest {}).await.unwrap().shop;
    let asked = |person: &str, revoke_others| v1::ReplaceLeadTokenRequest {
        write: Some(new_write()),
        shop: id.clone(),
        person: person.into(),
        revoke_others,
    };
    let kept = operator.replace_lead_token(asked("", false)).await.unwrap();
    shop.lead.who_am_i(v1::WhoAmIRequest {}).await.expect("nothing was revoked");
    let request = asked("wren", true);
    let replaced = operator.replace_lead_token(request.clone()).await.unwrap();
    assert!(operator.replace_lead_token(request).await.unwrap().secret.is_empty());
    for lost in [&shop.lead, &shop.with_secret(&kept.secret)] {
        assert_eq!(reason(lost.who_am_i(v1::WhoAmIRequest {}).await), "TOKEN_INVALID");
    }
    let lead = shop.with_secret(&replaced.secret);
    let me = lead.who_am_i(v1::WhoAmIRequest {}).await.unwrap();
    assert_eq!((me.name.as_str(), me.role()), ("Wren", v1::Role::Lead));
    lead.add_person(v1::AddPersonRequest { write: Some(new_write()), name: "Flint".into(), skills: Vec::new() })
        .await
        .unwrap();
    assert_eq!(reason(operator.replace_lead_token(asked("Flint", false)).await), "NEVER_A_LEAD");
    assert_eq!(reason(operator.replace_lead_token(asked("Nobody", true)).await), "NOT_FOUND");
    let nowhere = v1::ReplaceLeadTokenRequest { shop: uuid::Uuid::from_u128(7).to_string(), ..asked("", true) };
    assert_eq!(operator.replace_lead_token(nowhere).await.unwrap_err().code, Code::NotFound);
    shop.verified().await;
}
