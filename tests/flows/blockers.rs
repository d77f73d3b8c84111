//! Blockers: every cause, several at once, with an owner and a time until which they are expected.

use crate::clock::{ago, later};
use crate::shop::{Shop, finish, reason, start, stopped};
use leadhand_proto::v1;
use leadhand_sdk::{Code, new_write};

/// As the contract lists them.
const CAUSES: [v1::Cause; 9] = [
    v1::Cause::Part,
    v1::Cause::Tool,
    v1::Cause::Person,
    v1::Cause::Customer,
    v1::Cause::SentOut,
    v1::Cause::SeizedOrDamaged,
    v1::Cause::Safety,
    v1::Cause::Bay,
    v1::Cause::Information,
];

fn raise(job: i64, cause: v1::Cause) -> v1::RaiseBlockerRequest {
    let (write, stage) = (Some(new_write()), "strip".to_owned());
    v1::RaiseBlockerRequest { write, job, stage, cause: cause.into(), ..Default::default() }
}

fn clear(job: i64, blocker: i32) -> v1::ClearBlockerRequest {
    v1::ClearBlockerRequest { write: Some(new_write()), job, blocker, note: "it is settled".into() }
}

#[tokio::test(flavor = "multi_thread")]
async fn every_cause_holds_a_stage_up_and_all_of_them_at_once() {
    let shop = Shop::open().await;
    let flint = shop.technician("Flint", &[]).await;
    shop.technician("Moss", &[]).await;
    let job = shop.blank_job(&["strip"]).await;
    shop.assign(job, "lift-1").await.unwrap();
    start(&flint, job, "strip").await.unwrap();
    let until = later(shop.now().await, 3_600_000_000);
    for (cause, number) in CAUSES.into_iter().zip(1..) {
        let note = format!("the {number}. of them");
        let asked =
            v1::RaiseBlockerRequest { owner: "moss".into(), expected_at: Some(until), note, ..raise(job, cause) };
        assert_eq!(flint.raise_blocker(asked).await.unwrap().blocker, number);
    }
    // The board says the same as the job, at the other replica too.
    let board = shop.elsewhere.get_board(v1::GetBoardRequest {}).await.unwrap();
    let mut shown = board.bays.into_iter().find_map(|bay| bay.job.filter(|found| found.job == job)).unwrap().blockers;
    assert_eq!(shown[0].cause(), v1::Cause::Safety, "whoever saw a danger comes first on the board");
    shown.sort_by_key(|one| one.blocker);
    let listed = shop.whole_job(job).await.blockers;
    for blockers in [&shown, &listed] {
        assert!(blockers.iter().map(v1::Blocker::cause).eq(CAUSES));
        for (found, number) in blockers.iter().zip(1..) {
            assert_eq!((found.blocker, found.stage.as_str(), found.owner.as_str()), (number, "strip", "Moss"));
            assert_eq!((found.expected_at, found.cleared_at), (Some(until), None));
            assert_eq!(found.note, format!("the {number}. of them"));
        }
    }
    // Each by itself, in any order; only without any does the work go on.
    for number in [5, 1, 9, 2, 8, 3, 7, 4, 6] {
        stopped(finish(&flint, job, "strip").await, "BLOCKERS_OPEN", &number.to_string());
        // What is not safe only a lead calls safe again.
        let who = if CAUSES[usize::try_from(number - 1).unwrap()] == v1::Cause::Safety {
            assert_eq!(reason(flint.clear_blocker(clear(job, number)).await), "LEAD_ONLY");
            &shop.lead
        } else {
            &flint
        };
        who.clear_blocker(clear(job, number)).await.unwrap();
        stopped(flint.clear_blocker(clear(job, number)).await, "BLOCKER_CLEARED", &number.to_string());
        let open = shop.whole_job(job).await.blockers.iter().filter(|found| found.cleared_at.is_none()).count();
        let board = shop.lead.get_board(v1::GetBoardRequest {}).await.unwrap();
        let shown = board.bays.into_iter().find_map(|bay| bay.job).unwrap().blockers;
        assert_eq!((shown.len(), shown.iter().any(|found| found.blocker == number)), (open, false));
    }
    finish(&flint, job, "strip").await.unwrap();
    stopped(flint.raise_blocker(raise(job, v1::Cause::Tool)).await, "STAGE_STATE", "strip");
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_expected_lies_ahead_and_who_sees_to_it_is_known() {
    let shop = Shop::open().await;
    let job = shop.blank_job(&["strip"]).await;
    let (now, before) = (shop.now().await, shop.head().await);
    let early = v1::RaiseBlockerRequest { expected_at: Some(ago(now, 1)), ..raise(job, v1::Cause::Part) };
    let refused = shop.lead.raise_blocker(early).await.unwrap_err();
    assert_eq!((refused.code, refused.fields[0].field.as_str()), (Code::InvalidArgument, "expected_at"));
    let nobody = v1::RaiseBlockerRequest { owner: "Sorrel".into(), ..raise(job, v1::Cause::Person) };
    assert_eq!(reason(shop.lead.raise_blocker(nobody).await), "NOT_FOUND");
    assert_eq!(reason(shop.lead.clear_blocker(clear(job, 1)).await), "NOT_FOUND");
    assert_eq!(shop.head().await, before);
    // Who sees to it may be said later, by whoever takes it on.
    shop.technician("Moss", &[]).await;
    shop.lead.raise_blocker(raise(job, v1::Cause::Part)).await.unwrap();
    let own = |owner: &str, expected_at| {
        let (write, owner) = (Some(new_write()), owner.to_owned());
        v1::OwnBlockerRequest { write, job, blocker: 1, owner, expected_at }
    };
    let soon = later(now, 5_400_000_000);
    shop.lead.own_blocker(own("Moss", Some(soon))).await.unwrap();
    let told = shop.whole_job(job).await.blockers.remove(0);
    assert_eq!((told.owner.as_str(), told.expected_at), ("Moss", Some(soon)));
    assert_eq!(reason(shop.lead.own_blocker(own("Moss", Some(soon))).await), "NOTHING_TO_DO");
    assert_eq!(reason(shop.lead.own_blocker(own("Sorrel", None)).await), "NOT_FOUND");
    let early = shop.lead.own_blocker(own("Moss", Some(ago(now, 1)))).await.unwrap_err();
    assert_eq!(early.fields[0].field, "expected_at");
    shop.lead.own_blocker(own("", None)).await.unwrap();
    let told = shop.whole_job(job).await.blockers.remove(0);
    assert_eq!((told.owner.as_str(), told.expected_at), ("", None));
    shop.lead.clear_blocker(clear(job, 1)).await.unwrap();
    stopped(shop.lead.own_blocker(own("Moss", None)).await, "BLOCKER_CLEARED", "1");
    shop.verified().await;
}
