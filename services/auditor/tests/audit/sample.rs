//! One journal with every kind of fact and a row in every table, sound by every law.

use crate::kit::{
    CUSTOMER, JOB, Journal, LOT, OTHER, PERSON, VEHICLE, bin, gasket, id, job_opened, minute, moved, stage, step,
    strip, text, wanter,
};
use crate::sample_told;
use leadhand_auditor::compare::written;
use leadhand_auditor::fold::{job_of, texts_of};
use leadhand_auditor::{check_books, check_journal};
use leadhand_facts::calendar::{CalendarChange, Resolved, Week};
use leadhand_facts::fact::{JobStep, Wording};
use leadhand_facts::plan::{BayVisit, HangsOn, PlannedJob, PlannedStage};
use leadhand_facts::reading::{JobReading, OffLimit, Overruled, ReadingDetail};
use leadhand_facts::rows::{JobRow, TABLES};
use leadhand_facts::safety::{Fill, ReckonedFill};
use leadhand_facts::strip::{JobPosition, PositionDetail};
use leadhand_facts::template::{Need, Template};
use leadhand_facts::upcast::{KINDS, store};
use leadhand_facts::words::{
    BayKind, Cause, Decision, Keep, LeaveReason, Manner, MoveReason, Outcome, PositionKind, ProofKind, ReadingKind,
    ReadingUnit, RemarkKind, ReservationChange, Role, Tightness, VehicleState, Verdict,
};
use leadhand_facts::{
    AttemptNo, BlockerNo, ClockingId, Entry, Fact, FluidKey, JobNo, LoanId, Measure, PersonId, PositionKey,
    PrincipalId, Quantity, ReadingKey, RemarkNo, ReservationId, ShortageId, StageKey, StayId, StepNo, TokenId, ToolKey,
    Unit, Window,
};
use serde_json::Value;
use std::collections::BTreeSet;

/// The journal: job 1 is worked on and stays open; job 2 is cancelled and job 3 completed.
pub fn journal() -> Journal {
    let mut journal = Journal::stocked();
    shop(&mut journal);
    stock(&mut journal);
    work(&mut journal);
    closing(&mut journal);
    journal
}

fn shop(journal: &mut Journal) {
    let resolved = || Resolved {
        from: minute(0),
        until: minute(1_000),
        windows: vec![Window { from: minute(0), until: minute(480) }],
    };
    let change = CalendarChange::Day { day: "2026-03-02".to_owned(), hours: Vec::new(), reason: Some(text(40)) };
    journal.at(0, Fact::CalendarSet { revision: 1, change, person: None, resolved: resolved() });
    let change = CalendarChange::Shift { person: PERSON, from_day: "2026-03-02".to_owned(), week: Week::default() };
    journal.at(0, Fact::CalendarSet { revision: 2, change, person: Some(PERSON), resolved: resolved() });
    journal.at(0, Fact::PersonRenamed { person: PERSON, name: text(70), erased: vec![text(2).id], reason: text(71) });
    let bay_kind = BayKind::TwoPostLift;
    journal.at(0, Fact::BayCorrected { bay: "b1".into(), bay_kind, rated_kg: 3_600, reason: text(72) });
    journal.at(0, Fact::YardSet { places_outside: 3, moving_minutes: 12 });
    journal.at(0, Fact::SkillsSet { person: OTHER, skills: vec!["brakes".to_owned()] });
    journal.at(0, Fact::PersonForgotten { person: OTHER, texts: vec![text(3).id] });
    let token = TokenId(id(0x41));
    let (principal, person, label) = (PrincipalId(id(0x42)), Some(PERSON), Some(text(41)));
    let (prefix, hash) = ("lh_ab12".to_owned(), "cd".repeat(32));
    let expires_at = Some(minute(900));
    journal.at(0, Fact::TokenIssued { token, principal, person, label, role: Role::Lead, prefix, hash, expires_at });
    journal.at(1, Fact::TokenRevoked { token });
    doors(journal);
    let template = Template {
        key: "short".into(),
        title: "Short".to_owned(),
        options: Vec::new(),
        stages: Vec::new(),
        ladders: Vec::new(),
    };
    journal.at(1, Fact::TemplatePublished { revision: 1, template });
    journal.at(1, Fact::JobPromised { job: JOB, priority: 3, promised_at: Some(minute(700)) });
}

/// A device at which a person signs in with a badge and a PIN.
fn doors(journal: &mut Journal) {
    let (device, principal) = (TokenId(id(0x43)), PrincipalId(id(0x44)));
    let (prefix, hash, role) = ("lh_cd34".to_owned(), "ef".repeat(32), Role::Technician);
    let (label, expires_at) = (Some(text(55)), None);
    journal.at(1, Fact::TokenIssued { token: device, principal, person: None, label, role, prefix, hash, expires_at });
    journal.at(1, Fact::TokenLimited { token: device, expires_at: minute(800) });
    journal.at(1, Fact::BadgeSet { person: PERSON, role, hash: "0a".repeat(32) });
    journal.at(1, Fact::PinSet { person: PERSON, role, secret: text(56), erased: None });
    journal.at(1, Fact::PinSet { person: PERSON, role, secret: text(57), erased: Some(text(56).id) });
    let (session, proof, expires_at) = (TokenId(id(0x45)), ProofKind::Pin, minute(11));
    let (person, prefix, hash) = (PERSON, "lhs_ef56".to_owned(), "1b".repeat(32));
    journal.at(1, Fact::SignedIn { session, device, principal, person, role, proof, prefix, hash, expires_at });
    journal.at(1, Fact::SignedOut { session });
    journal.at(1, Fact::ProofWithdrawn { person, proof, erased: Some(text(57).id) });
}

fn stock(journal: &mut Journal) {
    let item = gasket;
    let reservation = ReservationId(id(0x61));
    let shortage = ShortageId(id(0x62));
    journal.at(2, Fact::DemandSet { wanter: wanter(), item: item(), wanted: Quantity(12) });
    journal.at(2, Fact::Reserved { reservation, wanter: wanter(), item: item(), place: bin(), quantity: Quantity(10) });
    journal.at(2, Fact::ShortageOpened { shortage, wanter: wanter(), item: item(), quantity: Quantity(2) });
    let (left, why) = (Quantity(6), ReservationChange::Issued);
    journal.at(3, Fact::ReservationReduced { reservation, wanter: wanter(), item: item(), place: bin(), left, why });
    journal.at(3, moved("bin-a", "job-1", 4, MoveReason::Issue, Some(wanter())));
    let Fact::Moved { item: gaskets, lot, from_place, to_place, quantity, .. } =
        moved("job-1", "scrap", 1, MoveReason::Scrap, None)
    else {
        unreachable!()
    };
    let (why, wanter_, reason) = (MoveReason::Scrap, Some(wanter()), Some(text(42)));
    journal.at(4, Fact::Moved { item: gaskets, lot, from_place, to_place, quantity, why, wanter: wanter_, reason });
    journal.at(5, Fact::ShortageChanged { shortage, wanter: wanter(), item: item(), left: Quantity(1) });
    let (left, why) = (Quantity(0), ReservationChange::Displaced);
    journal.at(6, Fact::ReservationReduced { reservation, wanter: wanter(), item: item(), place: bin(), left, why });
    journal.at(6, Fact::LotExpired { lot: LOT, item: item() });
}

fn work(journal: &mut Journal) {
    let stay = StayId(id(0x51));
    let (job, person, clocking) = (JOB, PERSON, ClockingId(id(0x52)));
    journal.at(10, Fact::VehiclePlaced { stay, bay: "b1".into(), vehicle: VEHICLE, job });
    let (from_at, until_at, reason) = (minute(10), None, text(59));
    journal.at(10, Fact::StayCorrected { stay, bay: "b1".into(), vehicle: VEHICLE, job, from_at, until_at, reason });
    journal.at(10, Fact::StageReady { job, stage: strip(), ready_at: minute(12), waits: true });
    journal.at(12, Fact::WaitPassed { job, stage: strip() });
    journal.at(12, Fact::StageHeld { job, stage: strip() });
    journal.at(13, Fact::StageReady { job, stage: strip(), ready_at: minute(13), waits: false });
    let overridden = Some(text(43));
    journal.at(14, Fact::StageStarted { job, stage: strip(), person: Some(person), overridden });
    journal.at(14, Fact::ClockedOn { clocking, person, job, stage: strip(), overridden: Some(text(53)) });
    planned(journal);
    journal.at(
        15,
        Fact::StepDone { job, stage: strip(), step: StepNo(1), person: Some(person), overridden: Some(text(100)) },
    );
    journal.at(15, Fact::StepSkipped { job, stage: strip(), step: StepNo(2), reason: text(44) });
    let typed = JobStep { instruction: Wording::Typed(text(45)), unplanned: true, ..step(3) };
    journal.at(16, Fact::StepAdded { job, stage: strip(), step: typed });
    let mut drill = stage("drill", 3, 1, &[("strip", 0)]);
    drill.title = Wording::Typed(text(46));
    drill.steps[0].instruction = Wording::Typed(text(47));
    journal.at(16, Fact::StageAdded { job, stage: drill, before: vec!["refit".into()] });
    journal.at(
        17,
        Fact::BlockerRaised {
            job,
            blocker: BlockerNo(1),
            stage: strip(),
            cause: Cause::Part,
            owner: Some(person),
            expected_at: Some(minute(60)),
            note: Some(text(48)),
            step: Some(StepNo(1)),
            item: Some(gasket()),
            reading: None,
            tool: None,
        },
    );
    strip_book(journal);
    readings(journal);
    condition(journal);
    let (owner, expected_at) = (None, Some(minute(400)));
    journal.at(18, Fact::BlockerOwned { job, blocker: BlockerNo(1), owner, expected_at });
    journal.at(18, Fact::BlockerCleared { job, blocker: BlockerNo(1), note: Some(text(49)) });
    journal.at(19, Fact::ClockedOff { clocking, person, job, stage: strip() });
    mistakes(journal);
    journal.at(20, Fact::StageFinished { job, stage: strip(), person: Some(person) });
    journal.at(20, Fact::StageReady { job, stage: "drill".into(), ready_at: minute(20), waits: false });
    journal.at(21, Fact::StageSkipped { job, stage: "drill".into(), reason: text(50) });
    let clocking = ClockingId(id(0x53));
    let (from_at, until_at, overridden) = (minute(10), minute(13), Some(text(54)));
    let work = Fact::WorkRecorded { clocking, person, job, stage: strip(), from_at, until_at, overridden };
    let entry = journal.at(22, work);
    sample_told::asked(journal, clocking, entry);
    shared_tools(journal);
    sample_told::suppliers_and_told(journal);
    let (bay, why, overridden) = ("b1".into(), LeaveReason::RolledOut, Some(text(52)));
    journal.at(23, Fact::VehicleLeft { stay, bay, vehicle: VEHICLE, job, why, overridden });
}

/// Two shared tools: one is lent, handed on to a person, and both are taken back; in the end a job has it.
fn shared_tools(journal: &mut Journal) {
    let tool = || ToolKey::from("lock");
    let loan = |n: u128| LoanId(id(0x9000 + n));
    let (name, due) = ("Camshaft lock".to_owned(), Some("2026-03-01".to_owned()));
    let listed =
        |key: &str| Fact::ToolAdded { tool: key.into(), name: name.clone(), what: None, calibration_due: None };
    journal.at(22, listed("lock"));
    journal.at(22, listed("old-lock"));
    journal.at(22, Fact::ToolRetired { tool: "old-lock".into(), reason: text(95) });
    let what = Some("20 mm".to_owned());
    journal.at(22, Fact::ToolDescribed { tool: tool(), name: name.clone(), what, calibration_due: due });
    let (job, stage, bay, person) = (Some(JOB), Some(strip()), Some("b1".into()), None);
    journal.at(22, Fact::ToolLent { loan: loan(1), tool: tool(), job, stage: stage.clone(), bay, person });
    journal.at(23, Fact::ToolReturned { loan: loan(1), tool: tool() });
    let (job, stage, bay, person) = (None, None, None, Some(PERSON));
    journal.at(23, Fact::ToolLent { loan: loan(2), tool: tool(), job, stage, bay, person });
    journal.at(23, Fact::LoanReopened { loan: loan(2), tool: tool(), reason: text(96) });
    journal.at(23, Fact::LoanReopened { loan: loan(1), tool: tool(), reason: text(97) });
}

/// A plan in the place of one before, pins, and overtime of which the second is taken back.
fn planned(journal: &mut Journal) {
    let (job, stage, made_at) = (JOB, strip(), minute(14));
    let pin = |people: Vec<PersonId>, from_at| Fact::StagePinned {
        job,
        stage: strip(),
        bay: Some("b1".into()),
        people,
        from_at,
    };
    journal.at(14, pin(vec![], Some(minute(24))));
    journal.at(14, Fact::StageUnpinned { job, stage: strip() });
    journal.at(14, pin(vec![PERSON], None));
    for from in [100, 200] {
        journal.at(14, Fact::OvertimeOpened { person: PERSON, from_at: minute(from), until_at: minute(from + 60) });
    }
    journal.at(14, Fact::OvertimeClosed { person: PERSON, from_at: minute(200) });
    let row = PlannedStage {
        job,
        stage,
        bay: Some("b1".into()),
        people: vec![PERSON],
        tools: vec![],
        from: minute(25),
        until: minute(45),
    };
    let visit = BayVisit { job, bay: "b1".into(), from: minute(24), until: minute(60) };
    let ready = PlannedJob {
        job,
        ready: Some(minute(45)),
        likely: Some(minute(45)),
        safe: Some(minute(50)),
        nowhere: vec![],
        hangs_on: vec![HangsOn { job, stage: "strip".into() }],
    };
    for made_n in [1, 2] {
        let (stages, visits, jobs) = (vec![row.clone()], vec![visit.clone()], vec![ready.clone()]);
        journal.at(14, Fact::PlanAccepted { made_n, made_at, stages, visits, jobs });
    }
}

/// A hidden hose and what holds it, off and back; said wrongly once.
fn strip_book(journal: &mut Journal) {
    let (job, person) = (JOB, Some(PERSON));
    let position = || PositionKey::from("hose");
    let plain = PositionDetail::plain(PositionKind::Hose, Manner::Off, 4);
    let detail = PositionDetail { size: Some("16 mm".into()), second_check: true, ..plain };
    let what = Wording::Typed(text(90));
    let added = JobPosition { position: position(), step: Some(StepNo(1)), what, detail, unplanned: true };
    journal.at(17, Fact::PositionAdded { job, stage: strip(), position: added });
    let (found, missing, damaged, keep, kept_at, note) = (3, 1, 1, Some(Keep::Tray), Some(text(91)), Some(text(92)));
    let repair = Some(text(95));
    let overruled = |line: &str, number| vec![Overruled { line: line.into(), reason: text(number) }];
    let off = Fact::PositionOff {
        job,
        position: position(),
        person,
        found,
        missing,
        damaged,
        keep,
        kept_at,
        note,
        repair,
        overruled: overruled("off-order:hose", 96),
    };
    seized(journal);
    journal.at(17, off.clone());
    journal.at(17, Fact::PositionReopened { job, position: position(), reason: text(93) });
    journal.at(17, off);
    let (found, missing, damaged, reason) = (3, 1, 0, text(197));
    journal
        .at(17, Fact::PositionRecounted { job, position: position(), person: None, found, missing, damaged, reason });
    let (refitted, renewed, left_out, scrapped, kept) = (1, 2, 1, 1, 1);
    let (tightness, reason) = (Tightness::Finger, Some(text(94)));
    let position_ = position();
    journal.at(
        17,
        Fact::PositionBack {
            job,
            position: position_,
            person: Some(OTHER),
            refitted,
            renewed,
            left_out,
            scrapped,
            kept,
            tightness,
            reason,
            overruled: overruled("back-order:hose", 97),
        },
    );
    journal.at(
        17,
        Fact::PositionTightened { job, position: position(), person: Some(OTHER), tightness: Tightness::Final },
    );
    journal.at(17, Fact::PositionChecked { job, position: position(), person: PERSON });
}

/// A compression that is out of its limits, accepted by the lead, and taken again; remarks for the sheet.
fn readings(journal: &mut Journal) {
    let (job, person, reading) = (JOB, Some(PERSON), || ReadingKey::from("compression"));
    let plain = ReadingDetail::plain(ReadingKind::Compression, ReadingUnit::Bar);
    let labels = vec!["1".to_owned(), "2".to_owned()];
    let (low, spread, method) = (Some(Measure::whole(9)), Some(Measure::whole(20)), Some("dry".to_owned()));
    let detail = ReadingDetail { labels, low, spread, method, ..plain };
    let what = Wording::Typed(text(100));
    let added = JobReading { reading: reading(), step: Some(StepNo(1)), what, detail, unplanned: true };
    journal.at(17, Fact::ReadingAdded { job, stage: strip(), reading: added });
    let taken = |figures: [i32; 2], verdict, off_limits| Fact::ReadingTaken {
        job,
        reading: reading(),
        person,
        figures: figures.map(Measure::whole).into(),
        verdict,
        off_limits,
        instrument: Some(text(101)),
        note: Some(text(102)),
    };
    journal.at(17, taken([12, 8], Verdict::Out, vec![OffLimit::Low(1), OffLimit::Spread]));
    let (decision, reason) = (Decision::Accept, text(103));
    journal.at(17, Fact::ReadingDecided { job, reading: reading(), person: PERSON, decision, reason });
    journal.at(17, taken([12, 11], Verdict::In, vec![]));
    let (remark, what, words) = (RemarkNo(1), RemarkKind::FollowUp, text(104));
    journal.at(17, Fact::RemarkMade { job, remark, person, what, words });
    journal.at(17, Fact::RemarkWithdrawn { job, remark, reason: text(105) });
}

/// One of the places is not alike the others; what is left soaks and is tried.
fn seized(journal: &mut Journal) {
    let (job, position) = (JOB, || PositionKey::from("hose"));
    let detail =
        PositionDetail { tags: true, tag: Some(4), ..PositionDetail::plain(PositionKind::Hose, Manner::Off, 1) };
    let what = Wording::Typed(text(96));
    let part = JobPosition { position: "hose-2".into(), step: Some(StepNo(1)), what, detail, unplanned: true };
    journal.at(17, Fact::PositionSplit { job, position: position(), part });
    let until_at = Some(minute(30));
    journal.at(17, Fact::PositionSoaked { job, position: position(), person: Some(PERSON), until_at });
    let tried = Fact::AttemptRecorded {
        job,
        position: position(),
        attempt: AttemptNo(1),
        person: Some(PERSON),
        rung: 5,
        measure: "Heat it".to_owned(),
        last_safe: true,
        outcome: Outcome::Broken,
        pieces: 2,
        plan: Some(text(97)),
        note: Some(text(98)),
        overridden: Some(text(99)),
    };
    journal.at(17, tried);
}

/// A state said by word of mouth, a fluid that is out and said wrongly once, and another way.
fn condition(journal: &mut Journal) {
    let (job, person, fluid) = (JOB, Some(PERSON), || FluidKey::from("coolant"));
    let (state, before) = (VehicleState::BatteryIsolated, VehicleState::BatteryConnected);
    let (stage, step, reason) = (None, None, Some(text(101)));
    journal.at(17, Fact::VehicleStateSet { job, state, before, person, stage, step, reason });
    let out =
        |drained_ml, filled_ml, note| Fact::FluidRecorded { job, fluid: fluid(), person, drained_ml, filled_ml, note };
    journal.at(17, out(5_200, 0, Some(text(102))));
    journal.at(17, Fact::FluidReopened { job, fluid: fluid(), reason: text(103) });
    journal.at(17, out(4_800, 500, None));
    let reckoned = ReckonedFill { recipe: "2 L of it".into(), from: vec![gasket()], ..ReckonedFill::default() };
    let fill = Fill { fluid: fluid(), reckoned: Some(reckoned) };
    let needs = vec![Need { item: gasket(), quantity: Quantity(2), unit: Unit::Piece }];
    let (stage, step, cautions) = (strip(), StepNo(3), Vec::new());
    journal.at(17, Fact::FillReckoned { job, stage, step, fill, needs, cautions });
    let (stage, step) = (strip(), StepNo(3));
    let (note, reason) = (text(104), text(105));
    journal.at(17, Fact::WayProposed { job, stage: stage.clone(), step, person, note, reason });
    let note = Some(text(106));
    journal.at(17, Fact::WayDecided { job, stage, step, person: PERSON, approved: true, note });
}

/// What was wrong and is taken back; in the end all is as before.
fn mistakes(journal: &mut Journal) {
    let (job, person, clocking) = (JOB, PERSON, ClockingId(id(0x54)));
    let (from_at, until_at) = (minute(11), minute(13));
    let work = Fact::WorkRecorded { clocking, person, job, stage: strip(), from_at, until_at, overridden: None };
    journal.at(19, work);
    let (reason, replaced_by) = (text(55), None);
    journal.at(19, Fact::ClockingWithdrawn { clocking, person, job, stage: strip(), reason, replaced_by });
    let drill = || StageKey::from("drill");
    journal.at(19, Fact::StageFinished { job, stage: strip(), person: Some(person) });
    journal.at(19, Fact::StageReady { job, stage: drill(), ready_at: minute(19), waits: false });
    journal.at(19, Fact::StageSkipped { job, stage: drill(), reason: text(50) });
    journal.at(19, Fact::StageReopened { job, stage: drill(), ready_at: Some(minute(19)), reason: text(56) });
    journal.at(19, Fact::StageReopened { job, stage: strip(), ready_at: Some(minute(13)), reason: text(57) });
    journal.at(19, Fact::StageHeld { job, stage: drill() });
    journal.at(19, Fact::StepReopened { job, stage: strip(), step: StepNo(2), reason: text(58) });
    journal.at(19, Fact::StepSkipped { job, stage: strip(), step: StepNo(2), reason: text(44) });
}

fn closing(journal: &mut Journal) {
    for job in [JobNo(2), JobNo(3)] {
        let Fact::JobOpened { title, vehicle, priority, promised_at, options, stages, .. } = job_opened(Vec::new())
        else {
            unreachable!()
        };
        let (template, revision) = (Some("short".into()), Some(1));
        journal.at(
            30,
            Fact::JobOpened {
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
            },
        );
    }
    customers(journal);
    journal.at(31, Fact::JobCompleted { job: JobNo(3), overridden: None, lines: vec![] });
    journal.at(31, Fact::JobReopened { job: JobNo(3), reason: text(73) });
    journal.at(31, Fact::JobCancelled { job: JobNo(2), reason: text(51), apart: false });
    journal.at(32, Fact::JobCompleted { job: JobNo(3), overridden: None, lines: vec![] });
    let texts = [80, 83, 51].map(|number| text(number).id).into();
    journal.at(33, Fact::CustomerForgotten { customer: CUSTOMER, texts });
}

/// A customer whose job is job 2, and whose vehicle was another's before and is again.
fn customers(journal: &mut Journal) {
    let (vehicle, customer, weight_kg) = (VEHICLE, Some(CUSTOMER), Some(1_400));
    let (contact, about) = (Some(text(81)), Some(text(82)));
    journal.at(30, Fact::CustomerAdded { customer: CUSTOMER, name: text(80), contact: contact.clone(), about });
    let (about, erased) = (Some(text(83)), vec![text(82).id, text(81).id]);
    journal.at(30, Fact::CustomerEdited { customer: CUSTOMER, name: text(80), contact: None, about, erased });
    let described =
        |label, plate, customer, erased| Fact::VehicleDescribed { vehicle, label, plate, weight_kg, customer, erased };
    journal.at(30, described(text(84), Some(text(85)), customer, vec![text(4).id]));
    journal.at(30, Fact::JobCustomerSet { job: JobNo(2), customer });
    journal.at(30, described(text(86), Some(text(85)), None, vec![text(84).id]));
}

#[test]
fn the_sample_has_every_kind_and_every_table_and_breaks_no_law() {
    let journal = journal();
    let kinds: BTreeSet<String> = journal.entries.iter().map(|entry| store(&entry.fact).unwrap().kind).collect();
    assert_eq!(kinds, KINDS.map(str::to_owned).into());
    let books = journal.books();
    let filled: BTreeSet<String> =
        written(books.tables()).into_iter().filter(|(_, rows)| !rows.is_empty()).map(|(table, _)| table).collect();
    assert_eq!(filled, TABLES.iter().map(|table| (*table).to_owned()).collect());
    assert_eq!(check_books(&books), []);
    assert_eq!(check_journal(&journal.entries), []);
}

/// Every object with exactly an id and a hash, wherever it lies in a fact.
fn text_objects(value: &Value, found: &mut BTreeSet<String>) {
    match value {
        Value::Object(fields) if fields.len() == 2 && fields.contains_key("id") && fields.contains_key("hash") => {
            found.insert(fields["id"].to_string());
        }
        Value::Object(fields) => fields.values().for_each(|value| text_objects(value, found)),
        Value::Array(values) => values.iter().for_each(|value| text_objects(value, found)),
        _ => {}
    }
}

#[test]
fn no_text_in_a_fact_is_overlooked() {
    for Entry { fact, .. } in journal().entries {
        let mut found = BTreeSet::new();
        text_objects(&serde_json::to_value(&fact).unwrap(), &mut found);
        let told: BTreeSet<String> = texts_of(&fact).iter().map(|text| format!("\"{}\"", text.id)).collect();
        assert_eq!(told, found, "{fact:?}");
    }
}

#[test]
fn every_fact_with_a_job_raises_the_job_s_version() {
    let journal = journal();
    for end in 1..=journal.entries.len() {
        let entry = &journal.entries[end - 1];
        let body = store(&entry.fact).unwrap().body;
        let named = [&body["job"], &body["wanter"]["job"]].into_iter().find_map(Value::as_i64).map(JobNo);
        assert_eq!(job_of(&entry.fact), named, "{:?}", entry.fact);
        let books = leadhand_auditor::Books::of(&journal.entries[..end]).unwrap();
        if let Some(job) = named {
            assert_eq!(crate::kit::one::<JobRow>(&books, &(job,)).version, entry.number);
        }
    }
}
