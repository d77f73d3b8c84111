//! Each need loads the rows that it names, and no others.

use crate::samples::{at, first_rows, id, row, sample, with};
use crate::shop::{Shop, shop};
use leadhand_domain::need::Need;
use leadhand_domain::state::AnyRow;
use leadhand_facts::words::{BayKind, JobState};
use leadhand_facts::{BayKey, CustomerId, Instant, ItemKey, JobNo, PersonId, TemplateKey, TokenId, ToolKey, VehicleId};
use leadhand_store::JobFilter;
use serde_json::json;
use std::collections::BTreeMap;
use uuid::Uuid;

fn uuid(n: u8) -> Uuid {
    Uuid::try_parse(&id(n)).unwrap()
}

fn instant(clock: &str) -> Instant {
    Instant::parse(&at(clock)).unwrap()
}

/// The samples, all about job 7, and beside them what the needs must not take in.
async fn filled() -> Shop {
    let shop = shop().await;
    shop.put(&first_rows()).await.unwrap();
    let beside = [
        (
            "job",
            json!({"job": 8, "vehicle": id(60), "customer": id(96), "state": "completed",
            "closed_at": at("12:00")}),
        ),
        ("vehicle", json!({"vehicle": id(60), "customer": id(96)})),
        ("customer", json!({"customer": id(96)})),
        ("place", json!({"place": "job-7", "kind": "job", "job": 7})),
        ("place", json!({"place": "job-8", "kind": "job", "job": 8})),
        (
            "stay",
            json!({"stay": id(61), "bay": "lift-2", "vehicle": id(60), "job": 8, "from_at": at("06:00"),
            "until_at": at("07:00"), "why_left": "job-ended", "until_n": 9}),
        ),
        ("stage", json!({"job": 8, "waiting": false})),
        (
            "clocking",
            json!({"clocking": id(62), "job": 8, "from_at": at("06:00"), "until_at": at("07:00"),
            "off_n": 9}),
        ),
        // Another job has had the tool, and worked in that bay on a stage that asks for a floor.
        ("tool_loan", json!({"loan": id(66), "job": 8, "from_at": at("06:00"), "until_at": at("07:00"), "until_n": 9})),
        ("step", json!({"job": 8, "step": 2, "state": "done", "done_at": at("08:30"), "done_n": 9})),
        ("step", json!({"job": 8})),
        ("shared_tool", json!({"tool": "puller"})),
        ("open_window", json!({"from_at": at("05:00"), "until_at": at("06:00")})),
        ("shift_window", json!({"from_at": at("05:00"), "until_at": at("06:00")})),
        ("template_revision", json!({"revision": 2})),
        ("item", json!({"item": "coolant"})),
        ("lot", json!({"lot": id(63), "expires_on": "2027-06-30"})),
        ("balance", json!({"lot": id(63), "quantity": 0})),
        ("balance", json!({"place": "supplier", "quantity": -4, "held": false})),
        // Jobs that are over leave rows that are 0; an empty bin's says that it had some.
        ("balance", json!({"place": "job-8", "quantity": 0})),
        ("hold", json!({"place": "job-8", "on_hand": 0, "expired": 0, "reserved": 0})),
        ("place", json!({"place": "bin-b1"})),
        ("hold", json!({"place": "bin-b1", "on_hand": 0, "expired": 0, "reserved": 0})),
        ("reservation", json!({"reservation": id(64), "job": 8, "quantity": 0})),
        ("shortage", json!({"shortage": id(65), "job": 8, "quantity": 0, "closed_n": 9})),
        ("demand", json!({"job": 8})),
    ];
    let rows: Vec<AnyRow> =
        beside.into_iter().map(|(table, change)| row(table, &with(&sample(table), &change))).collect();
    shop.put(&rows).await.unwrap();
    shop
}

async fn loaded(shop: &Shop, needs: &[Need]) -> Vec<AnyRow> {
    shop.store.snapshot(shop.id).await.unwrap().load(needs).await.unwrap()
}

fn counted(rows: &[AnyRow]) -> BTreeMap<&'static str, usize> {
    rows.iter().fold(BTreeMap::new(), |mut count, row| {
        *count.entry(row.table()).or_default() += 1;
        count
    })
}

/// What belongs to a job; of each the job 7 has one row.
const JOB_TABLES: [&str; 26] = [
    "job",
    "vehicle",
    "place",
    "stay",
    "stage",
    "stage_after",
    "step",
    "strip_position",
    "reading",
    "job_remark",
    "job_told",
    "asked_correction",
    "strip_attempt",
    "vehicle_state",
    "fluid",
    "own_way",
    "blocker",
    "clocking",
    "tool_loan",
    "demand",
    "reservation",
    "shortage",
    "plan_stage",
    "plan_visit",
    "plan_job",
    "stage_pin",
];

#[tokio::test]
#[expect(clippy::too_many_lines, reason = "a table, a line a need")]
async fn each_need_loads_what_it_names() {
    let shop = Box::pin(filled()).await;
    let (person, vehicle, item) = (PersonId(uuid(3)), VehicleId(uuid(10)), ItemKey::from("hg-set-20"));
    let customer = CustomerId(uuid(91));
    let template = TemplateKey::from("head-gasket-20");
    let job = JOB_TABLES.map(|table| (table, 1));
    let expected: Vec<(Need, Vec<(&str, usize)>)> = vec![
        (
            Need::Shop,
            vec![
                ("shop", 1),
                ("bay", 1),
                ("person", 1),
                ("place", 2),
                ("calendar", 1),
                ("shared_tool", 2),
                ("tool_loan", 1),
                ("supplier", 1),
            ],
        ),
        (Need::Tokens, vec![("token", 1), ("proof", 1)]),
        (Need::SignIn(TokenId(uuid(81))), vec![("sign_in", 1)]),
        (Need::OpenWindows(instant("06:00")), vec![("open_window", 1)]),
        (Need::ShiftWindows(person, instant("05:59")), vec![("shift_window", 2)]),
        (Need::LatestTemplate(template.clone()), vec![("template_revision", 1)]),
        (Need::LatestTemplates, vec![("template_revision", 1)]),
        (Need::Template(template, 1), vec![("template_revision", 1)]),
        (Need::Job(JobNo(7)), job.to_vec()),
        (Need::Job(JobNo(9)), vec![]),
        (Need::OpenJobs, job.to_vec()),
        (Need::Plan, vec![("plan", 1), ("plan_stage", 1), ("plan_visit", 1), ("plan_job", 1)]),
        (Need::Overtime(instant("19:59")), vec![("overtime_window", 1)]),
        (Need::Overtime(instant("20:00")), vec![]),
        (Need::BayStays(BayKey::from("lift-1"), instant("23:00")), vec![("stay", 1)]),
        (Need::BayStays(BayKey::from("lift-2"), instant("07:00")), vec![]),
        (Need::BayStays(BayKey::from("lift-2"), instant("06:59")), vec![("stay", 1)]),
        (Need::BayMisfits(BayKey::from("lift-1"), BayKind::Pit), vec![("stay", 1)]),
        (Need::BayMisfits(BayKey::from("lift-1"), BayKind::Floor), vec![]),
        (Need::BayMisfits(BayKey::from("lift-2"), BayKind::Pit), vec![("stay", 1)]),
        (Need::BayMisfits(BayKey::from("lift-3"), BayKind::Pit), vec![]),
        (Need::ToolLoans(ToolKey::from("cam-lock-20"), instant("07:00")), vec![("tool_loan", 1)]),
        (Need::ToolLoans(ToolKey::from("cam-lock-20"), instant("06:59")), vec![("tool_loan", 2)]),
        (Need::ToolLoans(ToolKey::from("puller"), instant("06:00")), vec![]),
        (Need::LastLoan(ToolKey::from("cam-lock-20"), None), vec![("tool_loan", 1)]),
        (Need::LastLoan(ToolKey::from("cam-lock-20"), Some(instant("07:00"))), vec![("tool_loan", 1)]),
        (Need::LastLoan(ToolKey::from("cam-lock-20"), Some(instant("06:59"))), vec![]),
        (Need::LastLoan(ToolKey::from("puller"), None), vec![]),
        (Need::ToolWanted(ToolKey::from("cam-lock-20")), vec![("step", 1)]),
        (Need::ToolWanted(ToolKey::from("puller")), vec![]),
        (Need::FillsFrom(ItemKey::from("hg-set-20")), vec![("step", 1)]),
        (Need::FillsFrom(ItemKey::from("coolant")), vec![]),
        (Need::VehicleStays(vehicle, instant("07:00")), vec![("vehicle", 1), ("stay", 1)]),
        (Need::VehicleStays(VehicleId(uuid(60)), instant("07:00")), vec![("vehicle", 1)]),
        (Need::VehicleJobs(vehicle), vec![("job", 1)]),
        (Need::VehicleJobs(VehicleId(uuid(60))), vec![]),
        (Need::PersonClockings(person, instant("07:00")), vec![("clocking", 1)]),
        (Need::PersonClockings(person, instant("06:59")), vec![("clocking", 2)]),
        (Need::Customer(customer), vec![("customer", 1)]),
        (Need::CustomerBooks(customer), vec![("customer", 1), ("vehicle", 1), ("job", 1)]),
        (Need::CustomerBooks(CustomerId(uuid(97))), vec![]),
        (Need::VehicleHistory(vehicle), vec![("vehicle", 1), ("customer", 1), ("job", 1)]),
        (Need::VehicleHistory(VehicleId(uuid(60))), vec![("vehicle", 1), ("customer", 1), ("job", 1)]),
        (Need::Clocking(15), vec![("clocking", 2)]),
        (Need::Clocking(999), vec![]),
        (Need::Items(vec![item.clone(), ItemKey::from("unknown")]), vec![("item", 1)]),
        (
            Need::Stock(item),
            vec![
                ("item", 1),
                ("lot", 1),
                ("balance", 2),
                ("hold", 2),
                ("reservation", 1),
                ("shortage", 1),
                ("demand", 1),
            ],
        ),
        (Need::WaitsOver(instant("09:00")), vec![("stage", 1)]),
        (Need::WaitsOver(instant("08:59")), vec![]),
        (Need::LotsExpired("2027-03-01".to_owned()), vec![("lot", 1)]),
        (Need::LotsExpired("2027-02-28".to_owned()), vec![]),
    ];
    for (need, wanted) in expected {
        assert_eq!(
            counted(&loaded(&shop, std::slice::from_ref(&need)).await),
            wanted.into_iter().collect(),
            "{need:?}"
        );
    }
}

#[tokio::test]
async fn needs_of_one_kind_are_loaded_together() {
    let shop = Box::pin(filled()).await;
    let rows = loaded(&shop, &[Need::Job(JobNo(7)), Need::Job(JobNo(8)), Need::Tokens]).await;
    let jobs: Vec<_> = rows.iter().filter(|row| row.table() == "job").collect();
    assert_eq!(jobs.len(), 2);
    assert_eq!(counted(&rows)["token"], 1);
    let latest = loaded(&shop, &[Need::LatestTemplate(TemplateKey::from("head-gasket-20"))]).await;
    let [AnyRow::TemplateRow(latest)] = latest.as_slice() else { panic!("{latest:?}") };
    assert_eq!(latest.revision, 2);
}

#[tokio::test]
async fn jobs_are_listed_by_state_template_and_time_in_pages() {
    let shop = Box::pin(filled()).await;
    let mut snapshot = shop.store.snapshot(shop.id).await.unwrap();
    let (seven, eight) = (JobNo(7), JobNo(8));
    let all = JobFilter::default();
    for (filter, wanted) in [
        (all.clone(), vec![seven, eight]),
        (JobFilter { states: vec![JobState::Open], ..all.clone() }, vec![seven]),
        (JobFilter { states: vec![JobState::Open, JobState::Completed], ..all.clone() }, vec![seven, eight]),
        (JobFilter { template: Some(TemplateKey::from("other")), ..all.clone() }, vec![]),
        (JobFilter { opened_from: Some(instant("08:00")), ..all.clone() }, vec![seven, eight]),
        (JobFilter { opened_until: Some(instant("08:00")), ..all.clone() }, vec![]),
        (JobFilter { closed_from: Some(instant("12:00")), ..all.clone() }, vec![eight]),
        (JobFilter { closed_until: Some(instant("12:00")), ..all.clone() }, vec![]),
        (JobFilter { after: Some(seven), ..all.clone() }, vec![eight]),
        (JobFilter { limit: Some(1), ..all.clone() }, vec![seven]),
    ] {
        assert_eq!(snapshot.jobs(&filter).await.unwrap(), wanted, "{filter:?}");
    }
    let item = ItemKey::from("hg-set-20");
    assert_eq!(snapshot.moves(&item, 0, 10).await.unwrap().len(), 1);
    assert_eq!(snapshot.moves(&item, 19, 10).await.unwrap(), []);
    assert_eq!(snapshot.moves(&ItemKey::from("coolant"), 0, 10).await.unwrap(), []);
}
