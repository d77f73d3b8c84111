//! Facts about jobs, and about vehicles in bays.

use crate::kit::{JOB, Journal, VEHICLE, all, id, job_opened, minute, one, refused, stage, strip, text};
use leadhand_facts::rows::{AfterRow, JobRow, PlaceRow, ShopRow, StageRow, StayRow, StepRow, TextRow};
use leadhand_facts::safety::StepSafety;
use leadhand_facts::words::{BayKind, JobState, LeaveReason, PlaceKind, StageKind, StageState, StepState};
use leadhand_facts::{BayKey, Fact, JobNo, StayId, StepNo, VehicleId};

fn opened_job() -> JobRow {
    JobRow {
        job: JOB,
        template: None,
        revision: None,
        title: None,
        title_text: Some(text(5).id),
        vehicle: VEHICLE,
        customer: None,
        priority: 2,
        promised_at: Some(minute(600)),
        state: JobState::Open,
        options: Vec::new(),
        opened_at: minute(0),
        closed_at: None,
        reason: None,
        last_blocker: 0,
        overridden: None,
        overruled: vec![],
        last_stage: 2,
        version: 8,
        apart: false,
        came_apart: None,
    }
}

#[test]
fn opening_a_job_lays_out_its_place_stages_and_steps() {
    let books = Journal::working().books();
    assert_eq!(all::<JobRow>(&books), [opened_job()]);
    assert_eq!(one::<ShopRow>(&books, &()).last_job, 1);
    let place =
        PlaceRow { place: "job-1".into(), kind: PlaceKind::Job, name: "Job 1".to_owned(), job: Some(JOB), added_n: 8 };
    assert_eq!(one::<PlaceRow>(&books, &("job-1".into(),)), place);
    let strip_row = StageRow {
        job: JOB,
        stage: strip(),
        ordinal: 1,
        title: Some("strip".to_owned()),
        title_text: None,
        kind: StageKind::Work,
        low: 10,
        likely: 20,
        high: 40,
        bays: vec![BayKind::TwoPostLift],
        skills: vec!["engine".to_owned()],
        hands: 1,
        tools: vec!["hoist".to_owned()],
        may_leave: false,
        in_one_go: false,
        unplanned: false,
        state: StageState::Pending,
        ready_at: None,
        ready_n: None,
        waiting: false,
        started_at: None,
        started_n: None,
        ended_at: None,
        ended_n: None,
        reason: None,
        last_step: 2,
    };
    assert_eq!(one::<StageRow>(&books, &(JOB, strip())), strip_row);
    let after = AfterRow { job: JOB, stage: "refit".into(), after: strip(), wait_minutes: 10 };
    assert_eq!(all::<AfterRow>(&books), [after]);
    let step = StepRow {
        job: JOB,
        stage: strip(),
        step: StepNo(2),
        instruction: Some("step 2".to_owned()),
        instruction_text: None,
        tools: vec!["socket 13 mm".to_owned()],
        shared_tools: Vec::new(),
        cautions: Vec::new(),
        needs: Vec::new(),
        follow_up: None,
        safety: StepSafety::default(),
        unplanned: false,
        fits: None,
        state: StepState::Pending,
        done_at: None,
        done_by: None,
        done_n: None,
        reason: None,
        overridden: None,
    };
    assert_eq!(one::<StepRow>(&books, &(JOB, strip(), StepNo(2))), step);
    assert_eq!(all::<StepRow>(&books).len(), 3);
}

#[test]
fn promises_change_and_jobs_close_once() {
    let mut journal = Journal::working();
    let version = journal.at(1, Fact::JobPromised { job: JOB, priority: 5, promised_at: None });
    let promised = JobRow { priority: 5, promised_at: None, version, ..opened_job() };
    assert_eq!(all::<JobRow>(&journal.books()), [promised]);

    let completed = || {
        let mut journal = Journal::working();
        journal.late(3, 4, Fact::JobCompleted { job: JOB, overridden: None, lines: vec![] });
        journal
    };
    let row = JobRow { state: JobState::Completed, closed_at: Some(minute(3)), version: 9, ..opened_job() };
    assert_eq!(all::<JobRow>(&completed().books()), [row]);
    let cancel = Fact::JobCancelled { job: JOB, reason: text(7), apart: false };
    refused(completed, 5, cancel.clone(), "job", "is completed and can't become cancelled");

    let mut journal = Journal::working();
    journal.at(3, cancel);
    let row = JobRow {
        state: JobState::Cancelled,
        closed_at: Some(minute(3)),
        reason: Some(text(7).id),
        version: 9,
        ..opened_job()
    };
    assert_eq!(all::<JobRow>(&journal.books()), [row]);
    assert_eq!(one::<TextRow>(&journal.books(), &(text(7).id,)).hash, text(7).hash);
}

#[test]
fn jobs_that_can_t_be_are_refused() {
    refused(Journal::working, 1, job_opened(Vec::new()), "job", "should have the number 2");
    refused(
        Journal::working,
        1,
        Fact::JobCompleted { job: JobNo(2), overridden: None, lines: vec![] },
        "job",
        "unknown",
    );
    refused(Journal::opened, 1, job_opened(Vec::new()), "vehicle", "unknown");
    let no_vehicle_needed = || {
        let mut journal = Journal::opened();
        journal.at(0, Fact::VehicleAdded { vehicle: VEHICLE, label: text(4), weight_kg: None });
        journal
    };
    let twice = job_opened(vec![stage("strip", 1, 0, &[]), stage("strip", 2, 0, &[])]);
    refused(no_vehicle_needed, 1, twice, "stage", "there already");
    let unknown = job_opened(vec![stage("strip", 1, 0, &[("wash", 0)])]);
    refused(no_vehicle_needed, 1, unknown, "stage", "unknown");
    let itself = job_opened(vec![stage("strip", 1, 0, &[("strip", 0)])]);
    refused(no_vehicle_needed, 1, itself, "stage_after", "after itself");
    let Fact::JobOpened { job, title, vehicle, priority, promised_at, options, stages, .. } = job_opened(Vec::new())
    else {
        unreachable!()
    };
    let with = |template: Option<&str>, revision| Fact::JobOpened {
        job,
        template: template.map(Into::into),
        revision,
        title: title.clone(),
        vehicle,
        priority,
        promised_at,
        options: options.clone(),
        stages: stages.clone(),
        came_apart: None,
    };
    refused(no_vehicle_needed, 1, with(Some("head-gasket"), Some(1)), "template_revision", "unknown");
    refused(no_vehicle_needed, 1, with(Some("head-gasket"), None), "job", "not both");
}

fn placed(stay: u128, bay: &str, vehicle: VehicleId) -> Fact {
    Fact::VehiclePlaced { stay: StayId(id(stay)), bay: bay.into(), vehicle, job: JOB }
}

fn left(stay: u128, bay: &str) -> Fact {
    let why = LeaveReason::RolledOut;
    let overridden = None;
    Fact::VehicleLeft { stay: StayId(id(stay)), bay: bay.into(), vehicle: VEHICLE, job: JOB, why, overridden }
}

#[test]
fn a_stay_lasts_from_placing_to_leaving() {
    let mut journal = Journal::working();
    let from_n = journal.late(1, 2, placed(1, "b1", VEHICLE));
    let mut row = StayRow {
        stay: StayId(id(1)),
        bay: BayKey::from("b1"),
        vehicle: VEHICLE,
        job: JOB,
        from_at: minute(1),
        until_at: None,
        why_left: None,
        from_n,
        until_n: None,
    };
    assert_eq!(all::<StayRow>(&journal.books()), [row.clone()]);
    assert_eq!(all::<JobRow>(&journal.books()), [JobRow { version: from_n, ..opened_job() }]);
    let until_n = journal.late(3, 4, left(1, "b1"));
    row.until_at = Some(minute(3));
    row.why_left = Some(LeaveReason::RolledOut);
    row.until_n = Some(until_n);
    assert_eq!(all::<StayRow>(&journal.books()), [row]);
    assert_eq!(all::<JobRow>(&journal.books()), [JobRow { version: until_n, ..opened_job() }]);
}

#[test]
fn stays_that_can_t_be_are_refused() {
    let inside = || {
        let mut journal = Journal::working();
        journal.at(1, placed(1, "b1", VEHICLE));
        journal
    };
    let outside = || {
        let mut journal = inside();
        journal.at(2, left(1, "b1"));
        journal
    };
    refused(Journal::working, 1, placed(1, "b2", VEHICLE), "bay", "unknown");
    refused(Journal::working, 1, placed(1, "b1", VehicleId(id(0x99))), "stay", "is about vehicle");
    refused(inside, 2, placed(1, "b1", VEHICLE), "stay", "there already");
    refused(inside, 2, left(2, "b1"), "stay", "unknown");
    refused(inside, 2, left(1, "b2"), "stay", "in bay 'b1'");
    refused(inside, 1, left(1, "b1"), "stay", "does not end after it begins");
    refused(outside, 3, left(1, "b1"), "stay", "ended before");
}

#[test]
fn a_job_that_was_closed_goes_on_unless_its_vehicle_came_again() {
    let closed = || {
        let mut journal = Journal::working();
        journal.at(2, Fact::JobCancelled { job: JOB, reason: text(6), apart: false });
        journal
    };
    let reopen = || Fact::JobReopened { job: JOB, reason: text(7) };
    let mut journal = closed();
    let version = journal.at(3, reopen());
    assert_eq!(all::<JobRow>(&journal.books()), [JobRow { version, ..opened_job() }]);
    refused(Journal::working, 3, reopen(), "job", "was not closed by then");
    let mut early = closed();
    early.late(1, 3, reopen());
    assert!(early.fault().sentence.contains("was not closed by then"));
    let came_again = || {
        let mut journal = closed();
        let Fact::JobOpened { template, revision, title, vehicle, priority, promised_at, options, stages, .. } =
            job_opened(Vec::new())
        else {
            unreachable!()
        };
        let job = JobNo(2);
        let again = Fact::JobOpened {
            job,
            template,
            revision,
            title,
            vehicle,
            priority,
            promised_at,
            options,
            stages,
            came_apart: None,
        };
        journal.at(3, again);
        journal
    };
    refused(came_again, 4, reopen(), "job", "has come again since");
}
