//! What becomes true by time alone is found over all shops, each thing under a name of its own.

use crate::samples::{id, row, sample, with};
use crate::shop::{Shop, shop};
use leadhand_domain::state::{AnyRow, RowChange};
use leadhand_facts::{Instant, ShopId};
use leadhand_store::{Store, Written};
use serde_json::{Value, json};
use uuid::Uuid;

/// A far day: nothing of it is due.
const LATER: &str = "2999-01-01";

fn beside(table: &str, change: &Value) -> AnyRow {
    row(table, &with(&sample(table), change))
}

/// A shop whose calendar reaches far enough ahead.
async fn quiet() -> Shop {
    let shop = shop().await;
    let calendar = beside("calendar", &json!({"until_at": format!("{LATER}T00:00:00Z")}));
    shop.put(&[row("shop", &sample("shop")), calendar]).await.unwrap();
    shop
}

async fn due(store: &Store, shop: ShopId) -> Option<String> {
    let all = store.due_shops().await.unwrap();
    all.into_iter().find(|(id, _)| *id == shop).map(|(_, due)| due)
}

#[tokio::test]
async fn a_wait_that_is_over_is_due_until_it_has_passed() {
    let shop = quiet().await;
    let waiting = |from: &str| beside("stage", &json!({"ready_at": format!("{from}T00:00:00Z")}));
    shop.put(&[waiting(LATER)]).await.unwrap();
    assert_eq!(due(&shop.store, shop.id).await, None);
    shop.put(&[waiting("2020-01-01")]).await.unwrap();
    let first = due(&shop.store, shop.id).await.expect("a wait that is over");
    assert_eq!(due(&shop.store, shop.id).await.as_ref(), Some(&first), "the same thing has the same name");
    shop.put(&[waiting("2020-01-02")]).await.unwrap();
    assert_ne!(due(&shop.store, shop.id).await, Some(first), "another wait has another name");
    shop.put(&[beside("stage", &json!({"waiting": false}))]).await.unwrap();
    assert_eq!(due(&shop.store, shop.id).await, None);
}

#[tokio::test]
async fn a_lot_is_due_after_its_last_good_day_as_long_as_there_is_some_of_it() {
    let shop = quiet().await;
    let lot = |day: &str, expired: bool| beside("lot", &json!({"expires_on": day, "expired": expired}));
    shop.put(&[lot(LATER, false), row("balance", &sample("balance"))]).await.unwrap();
    assert_eq!(due(&shop.store, shop.id).await, None);
    shop.put(&[lot("2020-01-01", false)]).await.unwrap();
    assert!(due(&shop.store, shop.id).await.is_some());
    shop.put(&[beside("balance", &json!({"quantity": 0}))]).await.unwrap();
    assert_eq!(due(&shop.store, shop.id).await, None, "nothing is left of it");
    shop.put(&[lot("2020-01-01", true), row("balance", &sample("balance"))]).await.unwrap();
    assert_eq!(due(&shop.store, shop.id).await, None, "it is marked expired");
}

#[tokio::test]
async fn a_calendar_that_ends_soon_is_due() {
    let shop = quiet().await;
    let shift =
        json!({"revision": 2, "person": id(3), "until_at": "2020-01-01T00:00:00Z", "from_at": "2019-01-01T00:00:00Z"});
    shop.put(&[beside("calendar", &shift), row("person", &sample("person"))]).await.unwrap();
    assert!(due(&shop.store, shop.id).await.is_some(), "a person's shift is resolved no further");
    shop.put(&[beside("person", &json!({"forgotten": true}))]).await.unwrap();
    assert_eq!(due(&shop.store, shop.id).await, None, "nobody resolves it further");
}

const HOUR_US: i64 = 3_600 * 1_000_000;
const DAY_US: i64 = 24 * HOUR_US;

/// The same days on which the rule acts: services/domain/tests/calendar_windows.rs.
#[tokio::test]
async fn a_calendar_is_due_when_its_last_local_day_is_less_than_200_days_away() {
    let shop = shop().await;
    // A zone in which it is noon or a little later; its name has the sign the other way round (IANA
    // time-zone database, file etcetera).
    let now = shop.store.snapshot(shop.id).await.unwrap().now.0;
    let ahead = 12 - now.rem_euclid(DAY_US) / HOUR_US;
    let zone = format!("Etc/GMT{:+}", -ahead);
    let midnight = (now + ahead * HOUR_US).div_euclid(DAY_US) * DAY_US - ahead * HOUR_US;
    let due_at = async |n: u128, end: i64| {
        let other = ShopId(Uuid::from_u128(n));
        shop.store.open_head(other).await.unwrap();
        let hours = json!({"until_at": Instant(end).to_string(), "from_at": "2020-01-01T00:00:00Z"});
        let rows = [beside("shop", &json!({"zone": zone})), beside("calendar", &hours)].map(RowChange::Put);
        let mut batch = shop.store.begin(other).await.unwrap();
        batch.write(&Written { changes: &rows, ..Written::default() }).await.unwrap();
        batch.commit().await.unwrap();
        due(&shop.store, other).await.is_some()
    };
    assert!(!due_at(0xB, midnight + 200 * DAY_US).await, "the first moment of the 200th day");
    assert!(due_at(0xC, midnight + 200 * DAY_US - 1).await, "the last moment of the 199th day");
}

fn single_day(day: &str) -> Value {
    json!({"revision": 2, "change": {"what": "day", "day": day, "hours": [], "reason": null},
    "from_at": format!("{day}T00:00:00Z"), "until_at": format!("{day}T23:00:00Z")})
}

#[tokio::test]
async fn a_single_day_says_nothing_about_how_far_the_calendar_reaches() {
    let shop = shop().await;
    shop.put(&[row("shop", &sample("shop")), beside("calendar", &single_day("2020-01-01"))]).await.unwrap();
    assert_eq!(due(&shop.store, shop.id).await, None, "there are no hours to resolve");
    let ended = json!({"until_at": "2020-04-01T00:00:00Z", "from_at": "2020-01-01T00:00:00Z"});
    let far = with(&single_day(LATER), &json!({"revision": 3}));
    shop.put(&[beside("calendar", &ended), beside("calendar", &far)]).await.unwrap();
    assert!(due(&shop.store, shop.id).await.is_some(), "a far holiday hides that the hours run out");
}

/// The time zones that the server knows come with it; the database has a table of its own.
#[tokio::test]
async fn a_zone_that_the_database_does_not_know_holds_up_no_shop() {
    let shop = quiet().await;
    let stocked = |day: &str| [beside("lot", &json!({"expires_on": day})), row("balance", &sample("balance"))];
    shop.put(&stocked("2020-01-01")).await.unwrap();
    let other = Shop { id: ShopId(Uuid::from_u128(0xB)), ..shop };
    other.store.open_head(other.id).await.unwrap();
    let calendar = beside("calendar", &json!({"until_at": format!("{LATER}T00:00:00Z")}));
    other.put(&[beside("shop", &json!({"zone": "Nowhere/New"})), calendar]).await.unwrap();
    other.put(&stocked("2020-01-01")).await.unwrap();
    assert_eq!(other.store.due_shops().await.unwrap().len(), 2, "both shops are asked");
}
