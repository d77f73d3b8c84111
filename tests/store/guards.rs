//! The database's own lock on the rules: every refusal is known by its constraint's name.

use crate::samples::{at, first_rows, id, row, sample, with};
use crate::shop::{bays, shop};
use leadhand_facts::ShopId;
use leadhand_store::{StoreError, Written};
use serde_json::{Value, json};
use uuid::Uuid;

/// Table, what a row has beside the sample's columns, and the constraint that refuses it.
fn faults() -> Vec<(&'static str, Value, &'static str)> {
    vec![
        // One vehicle a bay, one bay a vehicle, one stage a person, at any instant.
        ("stay", json!({"stay": id(50), "vehicle": id(51), "from_at": at("09:00")}), "stay_one_vehicle_a_bay"),
        ("stay", json!({"stay": id(50), "bay": "lift-9", "from_at": at("09:00")}), "stay_one_bay_a_vehicle"),
        (
            "clocking",
            json!({"clocking": id(50), "stage": "strip", "from_at": at("09:00")}),
            "clocking_one_stage_a_person",
        ),
        ("open_window", json!({"from_at": at("16:59"), "until_at": at("18:00")}), "open_window_apart"),
        ("shift_window", json!({"from_at": at("16:59"), "until_at": at("18:00")}), "shift_window_apart"),
        // An empty range overlaps nothing and would pass.
        (
            "stay",
            json!({"stay": id(50), "bay": "lift-9", "vehicle": id(51), "until_at": at("08:00"),
            "why_left": "moved", "until_n": 9}),
            "stay_not_empty",
        ),
        (
            "clocking",
            json!({"clocking": id(50), "person": id(51), "until_at": at("08:05"), "off_n": 9}),
            "clocking_not_empty",
        ),
        ("open_window", json!({"from_at": at("18:00"), "until_at": at("18:00")}), "open_window_not_empty"),
        ("shift_window", json!({"from_at": at("18:00"), "until_at": at("18:00")}), "shift_window_not_empty"),
        // Nothing is promised twice, and a held place never goes below zero.
        ("hold", json!({"reserved": 4}), "hold_promised_once"),
        ("hold", json!({"reserved": -1}), "hold_reserved_not_negative"),
        ("hold", json!({"expired": -1}), "hold_expired_not_negative"),
        ("balance", json!({"quantity": -1}), "balance_held_not_negative"),
        ("stock_move", json!({"n": 99, "quantity": 0}), "stock_move_quantity_check"),
        ("stock_move", json!({"n": 99, "to_place": "supplier"}), "stock_move_to_another_place"),
        ("shortage", json!({"quantity": 0}), "shortage_open_until_nothing"),
        ("shortage", json!({"shortage": id(50)}), "shortage_one_open_a_need"),
        ("demand", json!({"short": -1}), "demand_short_check"),
        ("reservation", json!({"quantity": -1}), "reservation_quantity_check"),
        // States carry their own data.
        ("job", json!({"state": "completed"}), "job_open_until_closed"),
        ("job", json!({"state": "cancelled", "closed_at": at("12:00")}), "job_reason_when_cancelled"),
        ("job", json!({"title_text": id(50)}), "job_one_title"),
        ("job", json!({"job": 50}), "job_one_open_a_vehicle"),
        ("stage", json!({"state": "active"}), "stage_active_started"),
        ("stage", json!({"state": "finished"}), "stage_ended_when_over"),
        ("stage", json!({"ready_at": null, "ready_n": null}), "stage_waiting_when_ready"),
        (
            "stage",
            json!({"state": "finished", "waiting": false, "started_at": at("09:30"), "started_n": 11,
            "ended_at": at("09:29"), "ended_n": 12}),
            "stage_ended_after_started",
        ),
        (
            "stage",
            json!({"state": "finished", "waiting": false, "started_at": at("08:58"), "started_n": 11,
            "ended_at": at("08:59"), "ended_n": 12}),
            "stage_ended_after_ready",
        ),
        ("step", json!({"state": "done"}), "step_done_has_time"),
        ("blocker", json!({"cleared_at": at("08:00"), "cleared_n": 9}), "blocker_cleared_after_raised"),
        ("place", json!({"kind": "job"}), "place_of_a_job"),
        ("shop", json!({"zone": ""}), "shop_zone_check"),
        ("bay", json!({"bay": "-lift"}), "typed_key_format"),
        ("lot", json!({"expires_on": "28.02.2027"}), "lot_expires_on_check"),
    ]
}

#[tokio::test]
async fn the_database_refuses_what_no_rule_may_let_through_and_says_by_which_constraint() {
    let shop = shop().await;
    shop.put(&first_rows()).await.unwrap();
    for (table, change, constraint) in faults() {
        let faulty = row(table, &with(&sample(table), &change));
        match shop.put(&[faulty]).await {
            Err(StoreError::Constraint { name, table: of }) => {
                assert_eq!(name, constraint, "{table} {change}");
                // A column type's own check belongs to no table.
                let expected = if constraint == "typed_key_format" { "" } else { table };
                assert_eq!(of, expected, "{constraint}");
            }
            other => panic!("{table} {change}: {other:?} instead of {constraint}"),
        }
        assert_eq!(shop.rows(table).await, [row(table, &sample(table))], "nothing was changed");
    }
}

/// Half-open ranges: a bay is free at the instant at which a vehicle leaves it.
#[tokio::test]
async fn a_stay_may_begin_where_another_ends() {
    let shop = shop().await;
    let open = sample("stay");
    shop.put(&[row("stay", &open)]).await.unwrap();
    let closed = with(&open, &json!({"until_at": at("10:00"), "why_left": "moved", "until_n": 20}));
    let next = with(&open, &json!({"stay": id(50), "vehicle": id(51), "from_at": at("10:00"), "from_n": 21}));
    // The one that follows is handed over first: the store has to close before it opens.
    shop.put(&[row("stay", &next), row("stay", &closed)]).await.unwrap();
    assert_eq!(shop.rows("stay").await.len(), 2);
}

/// Text can't hold the character NUL (PostgreSQL manual, section 8.3), so no column needs a check of
/// its own; what is told is the code, and never the words.
#[tokio::test]
async fn a_nul_in_words_is_refused_as_a_value() {
    let shop = shop().await;
    let spoilt = row("bay", &with(&sample("bay"), &json!({"name": "First\0lift"})));
    match shop.put(&[spoilt]).await {
        // untranslatable_character (section A)
        Err(StoreError::Value { code }) => assert_eq!(code, "22P05"),
        other => panic!("{other:?}"),
    }
    assert_eq!(shop.rows("bay").await, []);
}

/// Number and id of a fact name one history together.
#[tokio::test]
async fn a_fact_is_in_a_journal_once() {
    let shop = shop().await;
    let mut batch = shop.store.begin(shop.id).await.unwrap();
    let mut entries = bays(&batch, 2);
    entries[1].fact_id = entries[0].fact_id;
    let refused = batch.write(&Written { entries: &entries, ..Written::default() }).await;
    let Err(StoreError::Constraint { name, table }) = refused else { panic!("{refused:?}") };
    assert_eq!((name.as_str(), table.as_str()), ("journal_fact_once", "journal"));
    batch.rollback().await.unwrap();

    // The same id in another shop says nothing about this one.
    let (here, there) = (&bays(&shop.store.begin(shop.id).await.unwrap(), 1), ShopId(Uuid::from_u128(0xB)));
    shop.write(&Written { entries: here, ..Written::default() }).await.unwrap();
    shop.store.open_head(there).await.unwrap();
    let mut batch = shop.store.begin(there).await.unwrap();
    let entries = bays(&batch, 1);
    assert_eq!(entries[0].fact_id, here[0].fact_id);
    batch.write(&Written { entries: &entries, ..Written::default() }).await.unwrap();
    batch.commit().await.unwrap();
}

/// In one batch a job may end and the vehicle's next one begin, and a shortage be covered and come
/// back: whatever the order in which the rows are handed over, the store ends before it begins.
#[tokio::test]
async fn what_may_be_open_once_is_ended_before_the_next_begins() {
    let shop = shop().await;
    let (job, short) = (sample("job"), sample("shortage"));
    shop.put(&[row("job", &job), row("shortage", &short)]).await.unwrap();
    let ended = with(&job, &json!({"state": "completed", "closed_at": at("12:00")}));
    let next = with(&job, &json!({"job": 1}));
    shop.put(&[row("job", &next), row("job", &ended)]).await.unwrap();
    let covered = with(&short, &json!({"quantity": 0, "closed_n": 30}));
    let again = with(&short, &json!({"shortage": id(1), "opened_n": 31}));
    shop.put(&[row("shortage", &again), row("shortage", &covered)]).await.unwrap();
    assert_eq!((shop.rows("job").await.len(), shop.rows("shortage").await.len()), (2, 2));
}
