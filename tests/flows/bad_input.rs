//! Bad input gets a precise error with the field named, and changes nothing; odd input comes back byte for byte.

use crate::clock::later;
use crate::shop::Shop;
use leadhand_proto::v1;
use leadhand_sdk::{Code, SdkError, new_write};
use prost_types::Timestamp;

fn names<T: std::fmt::Debug>(field: &str, answer: Result<T, SdkError>) {
    let refused = answer.unwrap_err();
    let fields: Vec<&str> = refused.fields.iter().map(|fault| fault.field.as_str()).collect();
    assert_eq!((refused.code, fields.as_slice()), (Code::InvalidArgument, [field].as_slice()), "{refused}");
    assert!(!refused.reason.is_empty() && refused.message.contains(field), "{refused}");
}

/// Sends requests with one bad field each, and expects that field to be named.
macro_rules! refused {
    ($client:expr; $($rpc:ident $request:ident { $($field:ident: $value:expr),* $(,)? } => $bad:expr;)+) => {$(
        #[allow(clippy::needless_update, reason = "some requests have no other field")]
        let asked = v1::$request { $($field: $value,)* ..Default::default() };
        names($bad, $client.$rpc(asked).await);
    )+};
}

#[expect(clippy::unnecessary_wraps, reason = "a message field is an option")]
fn write() -> Option<v1::WriteContext> {
    Some(new_write())
}

#[tokio::test(flavor = "multi_thread")]
async fn words_that_can_not_be_kept_are_refused() {
    let shop = Shop::open().await;
    let job = shop.blank_job(&["strip"]).await;
    let before = shop.head().await;
    let lead = &shop.lead;
    let stage = || "strip".to_owned();
    let long = |most: usize| "ß".repeat(most + 1);
    refused! { lead;
        add_person AddPersonRequest { write: write(), name: "Fl\0int".into() } => "name";
        add_person AddPersonRequest { write: write(), name: "Fl\nint".into() } => "name";
        add_person AddPersonRequest { write: write(), name: " \t ".into() } => "name";
        add_person AddPersonRequest { write: write(), name: long(200) } => "name";
        add_person AddPersonRequest { write: write(), name: "Flint".into(), skills: vec!["a".into(), "a".into()] }
            => "skills[1]";
        add_person AddPersonRequest { write: write(), name: "Flint".into(), skills: vec!["x".into(); 1001] }
            => "skills";
        open_job OpenJobRequest { write: write(), title: "T\u{1b}[2J".into(), vehicle_label: "van".into() } => "title";
        open_job OpenJobRequest { write: write(), vehicle_label: "van".into() } => "title";
        open_job OpenJobRequest { write: write(), title: "T".into() } => "vehicle_label";
        cancel_job CancelJobRequest { write: write(), job: job, reason: String::new(), as_it_is: false } => "reason";
        cancel_job CancelJobRequest { write: write(), job: job, reason: long(2000), as_it_is: false } => "reason";
        add_step AddStepRequest { write: write(), job: job, stage: stage(), instruction: "\u{85}".into() }
            => "instruction";
        add_step AddStepRequest {
            write: write(), job: job, stage: stage(), instruction: "x".into(), tools: vec!["\u{7f}".into()]
        } => "tools[0]";
        raise_blocker RaiseBlockerRequest { write: write(), job: job, stage: stage(), cause: 1, note: "a\0".into() }
            => "note";
        raise_blocker RaiseBlockerRequest { write: write(), job: job, stage: stage(), cause: 1, owner: "n".repeat(401) }
            => "owner";
        issue_token IssueTokenRequest { write: write(), role: 4, label: "\u{1}".into() } => "label";
        issue_token IssueTokenRequest { write: write(), role: 4 } => "label";
        add_item AddItemRequest { write: write(), item: "ok".into(), name: "\0".into(), unit: "1".into(), fluid: None } => "name";
        set_day SetDayRequest { write: write(), day: "2999-12-24".into(), reason: "\0".into() } => "day";
    }
    assert_eq!(shop.head().await, before);
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn keys_and_ids_have_a_form() {
    let shop = Shop::open().await;
    let job = shop.blank_job(&["strip"]).await;
    let before = shop.head().await;
    let lead = &shop.lead;
    let id = |id: &str| Some(v1::WriteContext { request_id: id.into(), ..Default::default() });
    let etag = |etag: &str| Some(v1::WriteContext { etag: etag.into(), ..new_write() });
    let bay = |bay: &str| Some(v1::Bay { bay: bay.into(), name: "B".into(), kind: 1, rated_kg: 1 });
    refused! { lead;
        complete_job CompleteJobRequest { write: id("00000000-0000-0000-0000-000000000000"), job: job }
            => "write.request_id";
        complete_job CompleteJobRequest { write: id("'; DROP TABLE job; --"), job: job } => "write.request_id";
        complete_job CompleteJobRequest { write: id("12345"), job: job } => "write.request_id";
        complete_job CompleteJobRequest { write: etag("7"), job: job } => "write.etag";
        complete_job CompleteJobRequest { write: etag("v99999999999999999999"), job: job } => "write.etag";
        complete_job CompleteJobRequest { write: write(), job: 0 } => "job";
        complete_job CompleteJobRequest { write: write(), job: -1 } => "job";
        get_job GetJobRequest { job: i64::MIN } => "job";
        assign_job AssignJobRequest { write: write(), job: job, bay: "lift 1".into() } => "bay";
        assign_job AssignJobRequest { write: write(), job: job, bay: String::new() } => "bay";
        add_bay AddBayRequest { write: write(), bay: bay("bay\u{202e}") } => "bay.bay";
        add_bay AddBayRequest { write: write(), bay: bay("../etc") } => "bay.bay";
        add_bay AddBayRequest { write: write(), bay: bay(&"b".repeat(100)) } => "bay.bay";
        add_bay AddBayRequest { write: write() } => "bay.bay";
        start_stage StartStageRequest { write: write(), job: job, stage: "s'--".into() } => "stage";
        open_job OpenJobRequest { write: write(), template: "a b".into(), vehicle_label: "van".into() } => "template";
        open_job OpenJobRequest { write: write(), title: "T".into(), vehicle: "van".into() } => "vehicle";
        edit_vehicle EditVehicleRequest { write: write(), vehicle: "van".into(), plate: "ZZ".into() } => "vehicle";
        get_customer GetCustomerRequest { customer: String::new() } => "customer";
        get_customer GetCustomerRequest { customer: "a\0b".into() } => "customer";
        list_customers ListCustomersRequest { page_size: -1 } => "page_size";
        get_customer_data GetCustomerDataRequest { page_token: "zz".into() } => "page_token";
        get_person_data GetPersonDataRequest { page_token: "zz".into() } => "page_token";
        add_customer AddCustomerRequest { write: write(), name: "\0".into() } => "name";
        add_customer AddCustomerRequest { write: write(), name: "A".into(), contact: " ".into() } => "contact";
        reopen_job ReopenJobRequest { write: write(), job: job } => "reason";
        set_bay SetBayRequest { write: write(), bay: "lift-1".into(), rated_kg: -1 } => "rated_kg";
        set_bay SetBayRequest { write: write(), bay: "lift-1".into(), kind: 99 } => "kind";
        rename_person RenamePersonRequest { write: write(), person: "Wren".into(), name: "\n".into() } => "name";
        revoke_token RevokeTokenRequest { write: write(), token: "lhd_1".into() } => "token";
        draft_template DraftTemplateRequest { job: job, template: "Ü".into() } => "template";
        read_journal ReadJournalRequest { after: Some(v1::Cursor { number: 3, fact_id: "x".into() }) }
            => "after.fact_id";
        read_journal ReadJournalRequest { page_size: -1 } => "page_size";
        list_jobs ListJobsRequest { page_size: i32::MIN } => "page_size";
        list_jobs ListJobsRequest { page_token: "garbage".into() } => "page_token";
        list_stock ListStockRequest { page_token: "zz".into() } => "page_token";
        list_stock ListStockRequest { page_size: -5 } => "page_size";
        list_templates ListTemplatesRequest { page_token: "6a6f62732f31".into() } => "page_token";
        list_tokens ListTokensRequest { page_token: "é".into() } => "page_token";
        get_statement GetStatementRequest { item: "hg-set-20".into(), page_token: "00".into() } => "page_token";
        get_statement GetStatementRequest { item: String::new() } => "item";
    }
    // The same bytes are a token of another list: "jobs/1" goes on with jobs.
    let asked = v1::ListJobsRequest { page_token: "6a6f62732f31".into(), ..Default::default() };
    assert!(shop.lead.list_jobs(asked).await.unwrap().jobs.is_empty());
    assert_eq!(shop.head().await, before);
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn figures_of_bays_stages_and_days_have_a_range() {
    let shop = Shop::open().await;
    let job = shop.blank_job(&["strip"]).await;
    let before = shop.head().await;
    let lead = &shop.lead;
    let stage = || "strip".to_owned();
    let bay = |kind, rated_kg| Some(v1::Bay { bay: "b".into(), name: "B".into(), kind, rated_kg });
    let minutes = |low, likely, high| Some(v1::Minutes { low, likely, high });
    let week =
        |weekday| vec![v1::WeekdayHours { weekday, hours: vec![v1::DayHours { from_minute: 0, until_minute: 60 }] }];
    refused! { lead;
        add_bay AddBayRequest { write: write(), bay: bay(0, 1) } => "bay.kind";
        add_bay AddBayRequest { write: write(), bay: bay(99, 1) } => "bay.kind";
        add_bay AddBayRequest { write: write(), bay: bay(1, 0) } => "bay.rated_kg";
        add_bay AddBayRequest { write: write(), bay: bay(1, -7) } => "bay.rated_kg";
        add_bay AddBayRequest { write: write(), bay: bay(3, -1) } => "bay.rated_kg";
        set_bay SetBayRequest { write: write(), bay: "lift-1".into(), reason: "x".into(), clear_rated_kg: true } => "rated_kg";
        set_bay SetBayRequest { write: write(), bay: "floor-1".into(), rated_kg: 9, clear_rated_kg: true } => "clear_rated_kg";
        issue_token IssueTokenRequest { write: write(), role: 77, label: "x".into() } => "role";
        raise_blocker RaiseBlockerRequest { write: write(), job: job, stage: stage(), cause: -3 } => "cause";
        clear_blocker ClearBlockerRequest { write: write(), job: job, blocker: 0 } => "blocker";
        own_blocker OwnBlockerRequest { write: write(), job: job, blocker: 0 } => "blocker";
        tick_steps TickStepsRequest { write: write(), job: job, stage: stage(), steps: vec![1, -1] } => "steps[1]";
        skip_step SkipStepRequest { write: write(), job: job, stage: stage(), step: 0, reason: "x".into() } => "step";
        add_stage AddStageRequest { write: write(), job: job, title: "x".into(), minutes: minutes(3, 2, 1) }
            => "minutes";
        add_stage AddStageRequest { write: write(), job: job, title: "x".into(), minutes: minutes(i32::MIN, 0, 0) }
            => "minutes";
        add_stage AddStageRequest { write: write(), job: job, title: "x".into(), hands: -1 } => "hands";
        add_stage AddStageRequest { write: write(), job: job, title: "x".into(), bays: vec![1, 9] } => "bays";
        open_job OpenJobRequest { write: write(), title: "T".into(), vehicle_label: "v".into(), priority: 6 }
            => "priority";
        open_job OpenJobRequest { write: write(), title: "T".into(), vehicle_label: "v".into(), priority: -1 }
            => "priority";
        open_job OpenJobRequest { write: write(), title: "T".into(), vehicle_label: "v".into(), vehicle_weight_kg: -5 }
            => "vehicle_weight_kg";
        open_job OpenJobRequest {
            write: write(), title: "T".into(), vehicle_label: "v".into(), vehicle_weight_kg: i32::MAX
        } => "vehicle_weight_kg";
        set_hours SetHoursRequest { write: write(), from_day: "tomorrow".into(), week: week(1) } => "from_day";
        set_hours SetHoursRequest { write: write(), from_day: "2031-03-03".into(), week: week(8) } => "week[0].weekday";
        audit_time AuditTimeRequest { by: 44 } => "by";
        list_jobs ListJobsRequest { states: vec![1, 0] } => "states";
    }
    assert_eq!(shop.head().await, before);
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn quantities_have_a_range() {
    let shop = Shop::open().await;
    let job = shop.blank_job(&["strip"]).await;
    let before = shop.head().await;
    let lead = &shop.lead;
    let (item, place, stage) = (|| "hg-set-20".to_owned(), || "bin-a1".to_owned(), || "strip".to_owned());
    let need = |quantity, unit: &str| vec![v1::Need { item: item(), quantity, unit: unit.into() }];
    refused! { lead;
        add_step AddStepRequest {
            write: write(), job: job, stage: stage(), instruction: "x".into(), needs: need(0, "1")
        } => "needs[0].quantity";
        add_step AddStepRequest {
            write: write(), job: job, stage: stage(), instruction: "x".into(), needs: need(-1, "1")
        } => "needs[0].quantity";
        add_step AddStepRequest {
            write: write(), job: job, stage: stage(), instruction: "x".into(), needs: need(1, "gal")
        } => "needs[0].unit";
        add_step AddStepRequest {
            write: write(), job: job, stage: stage(), instruction: "x".into(), needs: need(1, "mL")
        } => "needs[0].unit";
        receive_stock ReceiveStockRequest { write: write(), item: item(), place: place(), quantity: 0 } => "quantity";
        receive_stock ReceiveStockRequest {
            write: write(), item: item(), place: place(), quantity: 1, expires_on: "2031-02-29".into()
        } => "expires_on";
        issue_stock IssueStockRequest { write: write(), job: job, item: item(), quantity: -1 } => "quantity";
        issue_stock IssueStockRequest { write: write(), job: job, quantity: 1 } => "item";
        return_stock ReturnStockRequest { write: write(), job: job, item: item(), place: place(), quantity: -9 }
            => "quantity";
        count_stock CountStockRequest { write: write(), item: item(), place: place(), counted: -1, reason: "x".into() }
            => "counted";
        scrap_stock ScrapStockRequest { write: write(), item: item(), place: place(), quantity: 0, reason: "x".into() }
            => "quantity";
    }
    assert_eq!(shop.head().await, before);
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn times_are_real_and_not_ahead() {
    let shop = Shop::open().await;
    let job = shop.blank_job(&["strip"]).await;
    let before = shop.head().await;
    let lead = &shop.lead;
    let soon = later(shop.now().await, 3_600_000_000);
    let at = |happened_at| Some(v1::WriteContext { happened_at: Some(happened_at), ..new_write() });
    let garbage = [
        Timestamp { seconds: i64::MIN, nanos: 0 },
        Timestamp { seconds: i64::MAX, nanos: 999_999_999 },
        Timestamp { seconds: 0, nanos: -1 },
        Timestamp { seconds: 0, nanos: 1_000_000_000 },
    ];
    for time in garbage {
        let stage = || "strip".to_owned();
        refused! { lead;
            add_person AddPersonRequest { write: at(time), name: "Flint".into() } => "write.happened_at";
            promise_job PromiseJobRequest { write: write(), job: job, promised_at: Some(time) } => "promised_at";
            record_work RecordWorkRequest {
                write: write(), job: job, stage: stage(), from_at: Some(time), until_at: Some(soon)
            } => "from_at";
            get_calendar GetCalendarRequest { from_at: Some(time) } => "from_at";
            audit_time AuditTimeRequest { until_at: Some(time) } => "until_at";
            issue_token IssueTokenRequest { write: write(), role: 4, label: "x".into(), expires_at: Some(time) }
            => "expires_at";
        }
    }
    refused! { lead;
        record_work RecordWorkRequest { write: write(), job: job, stage: "strip".into(), until_at: Some(soon) }
            => "from_at";
        add_person AddPersonRequest { write: at(soon), name: "Flint".into() } => "happened_at";
    }
    let past = Timestamp { seconds: 1, nanos: 0 };
    refused! { lead;
        promise_job PromiseJobRequest { write: write(), job: job, promised_at: Some(past) } => "promised_at";
        issue_token IssueTokenRequest { write: write(), role: 4, label: "x".into(), expires_at: Some(past) }
            => "expires_at";
        promise_job PromiseJobRequest { write: write(), job: job, promised_at: Some(soon), withdraw_promise: true }
            => "withdraw_promise";
    }
    assert_eq!(shop.head().await, before);
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn odd_words_come_back_byte_for_byte() {
    let shop = Shop::open().await;
    let odd = [
        "'); DROP TABLE job; --",
        "عربة \u{202e}txt.exe",
        "שלום \u{2067}x\u{2069}",
        "e\u{301} is not é",
        "👩🏽‍🔧 \u{200d}\u{feff}",
        "%s %n {} \\x00 \\u0000 $1 ${HOME}",
        "<script>alert(1)</script> & \"quoted\"",
        "  kept at both ends  ",
        "\u{10ffff}\u{e000}",
    ];
    for words in odd {
        let opened = v1::OpenJobRequest {
            write: write(),
            title: words.into(),
            vehicle_label: words.into(),
            ..Default::default()
        };
        let job = shop.lead.open_job(opened).await.unwrap().job;
        let (title, stage) = (words.to_owned(), "strip".to_owned());
        let steps = vec![format!("{words}\n\tand on")];
        let add = v1::AddStageRequest { write: write(), job, stage: stage.clone(), title, steps, ..Default::default() };
        shop.lead.add_stage(add).await.unwrap();
        let (cause, note) = (v1::Cause::Tool.into(), words.to_owned());
        let raise = v1::RaiseBlockerRequest { write: write(), job, stage, cause, note, ..Default::default() };
        shop.lead.raise_blocker(raise).await.unwrap();
        let seen = shop.whole_job(job).await;
        let head = seen.job.unwrap();
        assert_eq!((head.title.as_str(), head.vehicle_label.as_str()), (words, words));
        assert_eq!((seen.stages[0].title.as_str(), seen.blockers[0].note.as_str()), (words, words));
        assert_eq!(seen.stages[0].steps[0].instruction, format!("{words}\n\tand on"));
        let board = shop.lead.get_board(v1::GetBoardRequest {}).await.unwrap();
        assert!(board.outside.iter().any(|card| card.job == job && card.vehicle_label == words));
        shop.lead
            .add_person(v1::AddPersonRequest { write: write(), name: words.into(), skills: vec![] })
            .await
            .unwrap();
        let persons = shop.elsewhere.get_shop(v1::GetShopRequest {}).await.unwrap().persons;
        assert_eq!(persons.last().unwrap().name, words);
    }
    shop.verified().await;
}
