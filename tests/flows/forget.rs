//! A person is forgotten: the name and the words are in no table any more, and the books still add up.

use crate::shop::{Shop, finish, start, stopped};
use futures::{Stream, StreamExt};
use leadhand_proto::v1;
use leadhand_sdk::{BoardEvent, Client, Code, SdkError, new_write};
use sqlx::{AssertSqlSafe, Connection};
use std::collections::BTreeMap;
use std::time::Duration;
use tokio::time::timeout;

/// In which tables of the database these words stand, by a look at every row of every table.
pub async fn tables_with(shop: &Shop, words: &str) -> BTreeMap<String, i64> {
    let mut database = shop.database.superuser().await.unwrap();
    let tables: Vec<String> = sqlx::query_scalar(
        "SELECT table_name::text FROM information_schema.tables \
         WHERE table_schema = 'public' AND table_type = 'BASE TABLE'",
    )
    .fetch_all(&mut database)
    .await
    .unwrap();
    assert!(tables.len() > 20, "{tables:?}");
    let mut found = BTreeMap::new();
    for table in tables {
        let asked = format!("SELECT count(*) FROM {table} AS t WHERE t::text ILIKE '%' || $1 || '%'");
        let count: i64 = sqlx::query_scalar(AssertSqlSafe(asked)).bind(words).fetch_one(&mut database).await.unwrap();
        if count > 0 {
            found.insert(table, count);
        }
    }
    database.close().await.unwrap();
    found
}

pub fn only_text_bodies(count: i64) -> BTreeMap<String, i64> {
    BTreeMap::from([("text_body".to_owned(), count)])
}

async fn raise(who: &Client, job: i64, note: &str) {
    let raise = v1::RaiseBlockerRequest {
        write: Some(new_write()),
        job,
        stage: "strip".into(),
        cause: v1::Cause::Tool.into(),
        note: note.into(),
        ..Default::default()
    };
    who.raise_blocker(raise).await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn the_name_and_the_words_of_a_person_go_and_the_figures_stay() {
    let shop = Shop::open().await;
    let flint = shop.technician("Flintwhistle", &["brakes"]).await;
    let job = shop.blank_job(&["look", "strip"]).await;
    shop.assign(job, "lift-1").await.unwrap();
    start(&flint, job, "look").await.unwrap();
    let asked = v1::ForgetPersonRequest { write: Some(new_write()), person: "Flintwhistle".into() };
    stopped(shop.lead.forget_person(asked).await, "STILL_AT_WORK", "look");
    finish(&flint, job, "look").await.unwrap();
    raise(&flint, job, "gaugefellow is lent to my cousin").await;
    raise(&shop.lead, job, "leadkeeper words").await;
    assert_eq!(tables_with(&shop, "flintwhistle").await, only_text_bodies(1), "names lie in one table only");
    assert_eq!(tables_with(&shop, "gaugefellow").await, only_text_bodies(1));
    let audit = v1::AuditTimeRequest { job, ..Default::default() };
    let look = |audit: v1::AuditTimeResponse| audit.lines.into_iter().find(|line| line.about == "look").unwrap();
    let before = look(shop.lead.audit_time(audit.clone()).await.unwrap());
    let head = shop.head().await;

    let asked = v1::ForgetPersonRequest { write: Some(new_write()), person: "flintWHISTLE".into() };
    shop.lead.forget_person(asked).await.unwrap();

    let refused = flint.get_board(v1::GetBoardRequest {}).await.unwrap_err();
    assert_eq!((refused.code, refused.reason.as_str()), (Code::Unauthenticated, "TOKEN_INVALID"));
    assert_eq!(tables_with(&shop, "flintwhistle").await, BTreeMap::new());
    assert_eq!(tables_with(&shop, "gaugefellow").await, BTreeMap::new());
    assert_eq!(tables_with(&shop, "leadkeeper").await, only_text_bodies(1), "what others typed stays");
    let erased: Vec<String> = shop.facts_after(head).await.into_iter().map(|fact| fact.kind).collect();
    assert_eq!(erased, ["token_revoked", "person_forgotten"]);
    let board = shop.elsewhere.get_board(v1::GetBoardRequest {}).await.unwrap();
    let shown = format!("{board:?} {:?} {:?}", shop.whole_job(job).await, shop.facts_after(0).await).to_lowercase();
    assert!(!shown.contains("flintwhistle") && !shown.contains("gaugefellow"));
    assert!(shown.contains("leadkeeper"));
    let after = look(shop.elsewhere.audit_time(audit).await.unwrap());
    assert_eq!((after.worked, after.labour, after.elapsed), (before.worked, before.labour, before.elapsed));
    // Nothing more can be entered for who was forgotten; another person may have the name.
    let persons = shop.lead.get_shop(v1::GetShopRequest {}).await.unwrap().persons;
    let gone = persons.iter().find(|person| person.forgotten).unwrap();
    let skills = v1::SetSkillsRequest { write: Some(new_write()), person: gone.person.clone(), skills: Vec::new() };
    assert_eq!(shop.lead.set_skills(skills).await.unwrap_err().reason, "FORGOTTEN");
    shop.technician("Flintwhistle", &[]).await;
    shop.verified().await;
}

/// Waits for a board on which the name stands, or does not.
async fn until_named(board: &mut (impl Stream<Item = Result<BoardEvent, SdkError>> + Unpin), named: bool) {
    while let Some(event) = board.next().await {
        if format!("{:?}", event.unwrap()).contains("Flintwhistle") == named {
            return;
        }
    }
    panic!("the stream ended");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_watching_screen_loses_the_name() {
    let shop = Shop::open().await;
    let flint = shop.technician("Flintwhistle", &[]).await;
    let job = shop.blank_job(&["strip"]).await;
    shop.assign(job, "lift-1").await.unwrap();
    let persons = shop.lead.get_shop(v1::GetShopRequest {}).await.unwrap().persons;
    let owner = persons.iter().find(|person| person.name == "Flintwhistle").unwrap().person.clone();
    let (write, cause) = (Some(new_write()), v1::Cause::Person.into());
    let owned = v1::RaiseBlockerRequest { write, job, stage: "strip".into(), cause, owner, ..Default::default() };
    flint.raise_blocker(owned).await.unwrap();
    let mut board = Box::pin(shop.elsewhere.watch_board());
    let within = Duration::from_secs(30);
    timeout(within, until_named(&mut board, true)).await.expect("the owner is never shown");
    let asked = v1::ForgetPersonRequest { write: Some(new_write()), person: "Flintwhistle".into() };
    shop.lead.forget_person(asked).await.unwrap();
    timeout(within, until_named(&mut board, false)).await.expect("the name stays on the screen");
    shop.verified().await;
}

/// A step that was done or left out is to be done after all.
async fn reopen_step(who: &Client, job: i64, reason: &str) {
    let (write, stage, reason) = (Some(new_write()), "strip".into(), reason.into());
    who.reopen_step(v1::ReopenStepRequest { write, job, stage, step: 1, reason }).await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn reasons_of_corrections_go_with_the_person() {
    let shop = Shop::open().await;
    let flint = shop.technician("Flintwhistle", &[]).await;
    let job = shop.blank_job(&["strip"]).await;
    shop.step_with(job, "strip", "hg-set-20", 1).await;
    start(&flint, job, "strip").await.unwrap();
    finish(&flint, job, "strip").await.unwrap();
    let (write, reason) = (Some(new_write()), "the gaugefellow asked".into());
    flint.reopen_stage(v1::ReopenStageRequest { write, job, stage: "strip".into(), reason }).await.unwrap();
    reopen_step(&flint, job, "my gaugefellow saw it").await;
    let entry = flint.list_clockings(v1::ListClockingsRequest::default()).await.unwrap().clockings[0].entry;
    // A lead's reason about that person's time is about the person as well.
    let (write, reason) = (Some(new_write()), "the gaugefellow of Flintwhistle says so".into());
    shop.lead.withdraw_clocking(v1::WithdrawClockingRequest { write, entry, reason }).await.unwrap();
    finish(&shop.lead, job, "strip").await.unwrap();
    let (write, reason) = (Some(new_write()), "leadkeeper words".into());
    shop.lead.reopen_stage(v1::ReopenStageRequest { write, job, stage: "strip".into(), reason }).await.unwrap();
    assert_eq!(tables_with(&shop, "gaugefellow").await, only_text_bodies(3));
    let asked = v1::ForgetPersonRequest { write: Some(new_write()), person: "Flintwhistle".into() };
    shop.lead.forget_person(asked).await.unwrap();
    assert_eq!(tables_with(&shop, "gaugefellow").await, BTreeMap::new());
    assert_eq!(tables_with(&shop, "flintwhistle").await, BTreeMap::new());
    assert_eq!(tables_with(&shop, "leadkeeper").await, only_text_bodies(1), "what others typed stays");
    shop.verified().await;
}

/// A lead's reasons against the order of a strip book lie in the fact's own list, and go like all others.
#[tokio::test(flavor = "multi_thread")]
async fn why_something_came_off_or_went_back_out_of_its_order_goes_with_the_lead() {
    let shop = Shop::open().await;
    let flint = shop.technician("Flint", &[]).await;
    shop.technician("Teal", &[]).await;
    let (write, person, role) = (Some(new_write()), "Teal".to_owned(), v1::Role::Lead.into());
    let teal =
        shop.lead.issue_token(v1::IssueTokenRequest { write, person, role, ..Default::default() }).await.unwrap();
    let teal = shop.with_secret(&teal.secret);
    let job = shop.blank_job(&["strip"]).await;
    shop.assign(job, "lift-1").await.unwrap();
    start(&flint, job, "strip").await.unwrap();
    for (key, behind) in [("cover", ""), ("nut", "cover")] {
        let asked = v1::AddPositionRequest {
            write: Some(new_write()),
            job,
            stage: "strip".into(),
            position: key.into(),
            what: key.into(),
            behind: Some(behind.to_owned()).filter(|behind| !behind.is_empty()).into_iter().collect(),
            behind_nothing: behind.is_empty(),
            later: true,
            ..Default::default()
        };
        flint.add_position(asked).await.unwrap();
    }
    let off = |position: &str, why: &str| v1::TakeOffRequest {
        write: Some(new_write()),
        job,
        stage: "strip".into(),
        lines: vec![v1::OffLine { position: position.into(), ..Default::default() }],
        override_reason: why.into(),
        ..Default::default()
    };
    stopped(teal.take_off(off("nut", "")).await, "BEHIND_OTHERS", "cover");
    teal.take_off(off("nut", "gaugefellow said so, off")).await.unwrap();
    teal.take_off(off("cover", "")).await.unwrap();
    let back = |why: &str| v1::PutBackRequest {
        write: Some(new_write()),
        job,
        stage: "strip".into(),
        lines: vec![v1::BackLine { position: "cover".into(), ..Default::default() }],
        override_reason: why.into(),
        ..Default::default()
    };
    stopped(teal.put_back(back("")).await, "OTHERS_FIRST", "nut");
    teal.put_back(back("gaugefellow said so, back")).await.unwrap();
    assert_eq!(tables_with(&shop, "gaugefellow").await, only_text_bodies(2));
    let asked = v1::ForgetPersonRequest { write: Some(new_write()), person: "Teal".into() };
    shop.lead.forget_person(asked).await.unwrap();
    assert_eq!(tables_with(&shop, "gaugefellow").await, BTreeMap::new());
    shop.verified().await;
}
