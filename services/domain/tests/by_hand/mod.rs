//! A small shop made fact by fact, for tests that look at what the facts add up to.
#![allow(dead_code, clippy::missing_panics_doc, reason = "each test takes what it needs")]

use leadhand_auditor::{ActualRows, Books, compare};
use leadhand_domain::apply::{Broken, apply};
use leadhand_domain::state::{RowChange, State};
use leadhand_facts::calendar::{CalendarChange, Resolved, Week};
use leadhand_facts::fact::{JobAfter, JobStage, JobStep, Wanter, Wording};
use leadhand_facts::rows::TABLES;
use leadhand_facts::safety::StepSafety;
use leadhand_facts::template::Minutes;
use leadhand_facts::words::{BayKind, MoveReason, StageKind};
use leadhand_facts::*;
use uuid::Uuid;

/// Monday, 2 March 2026, 08:00 UTC: the shop opens.
pub fn start() -> Instant {
    Instant::parse("2026-03-02T08:00:00Z").expect("a timestamp")
}

/// So many minutes after the shop opened on Monday.
pub fn at(minutes: i64) -> Instant {
    start().plus_minutes(minutes)
}

pub fn id(n: u128) -> Uuid {
    Uuid::from_u128(n)
}

pub fn text(n: u128) -> TextRef {
    TextRef { id: TextId(id(0x7e00_0000 + n)), hash: format!("{n:064x}") }
}

pub const ANN: PersonId = PersonId(Uuid::from_u128(0xa1));
pub const BOB: PersonId = PersonId(Uuid::from_u128(0xb0));
pub const JOB: JobNo = JobNo(1);

/// Entries in order, and the state that they add up to.
#[derive(Default)]
pub struct Hand {
    pub state: State,
    pub entries: Vec<Entry>,
}

impl Hand {
    /// Takes a fact that happened so many minutes after the start; its number.
    pub fn fact(&mut self, minutes: i64, fact: Fact) -> i64 {
        let entry = self.entry(minutes, fact);
        apply(&mut self.state, &entry).expect("the fact fits");
        self.entries.push(entry);
        self.state.head
    }

    /// Takes a fact that does not fit, and takes it back; why it does not.
    pub fn misfit(&mut self, minutes: i64, fact: Fact) -> Broken {
        let entry = self.entry(minutes, fact);
        let head = self.state.head;
        self.state.mark();
        let broken = apply(&mut self.state, &entry).expect_err("the fact does not fit");
        self.state.roll_back(head);
        broken
    }

    fn entry(&self, minutes: i64, fact: Fact) -> Entry {
        let number = self.state.head + 1;
        let last = self.entries.last().map_or(at(minutes), |entry| entry.recorded_at);
        Entry {
            number,
            fact_id: FactId(id(0xfac7_0000 + u128::from(number.unsigned_abs()))),
            recorded_at: at(minutes).max(last),
            happened_at: at(minutes),
            principal: None,
            person: None,
            proved: None,
            request: RequestId(id(0x4e00_0000 + u128::from(number.unsigned_abs()))),
            fact,
        }
    }

    /// The auditor, who folds the same entries with code of its own, finds the same rows.
    pub fn agrees_with_the_auditor(&self) {
        let books = Books::of(&self.entries).expect("the auditor folds them");
        let mut rows: ActualRows = TABLES.iter().map(|table| ((*table).to_owned(), Vec::new())).collect();
        for change in self.state.clone().take_changes() {
            if let RowChange::Put(row) = change {
                let value = row.to_value().expect("a row can be written");
                rows.get_mut(row.table()).expect("a table that is known").push(value);
            }
        }
        let differences: Vec<String> = compare(&books, &rows).iter().map(ToString::to_string).collect();
        assert!(differences.is_empty(), "{}", differences.join("\n"));
    }

    /// A shop that is open from 08:00 to 17:00 on five days, with two persons, three bays, a
    /// bin and two items.
    pub fn shop() -> Self {
        let mut hand = Self::default();
        hand.fact(-60, Fact::ShopOpened { name: text(1), zone: "Etc/UTC".to_owned() });
        let day = |day: i64| Window { from: at(day * 1440), until: at(day * 1440 + 540) };
        hand.fact(-60, calendar(1, None, (at(-60), at(7 * 1440)), (0..5).map(day).collect()));
        for (key, bay_kind) in
            [("floor", BayKind::Floor), ("lift-1", BayKind::TwoPostLift), ("lift-2", BayKind::TwoPostLift)]
        {
            let (bay, name) = (BayKey::from(key), format!("Bay {key}"));
            hand.fact(-60, Fact::BayAdded { bay, name, bay_kind, rated_kg: 3_000 });
        }
        hand.fact(-60, Fact::PersonAdded { person: ANN, name: text(2), skills: vec![] });
        hand.fact(-60, Fact::PersonAdded { person: BOB, name: text(3), skills: vec!["engine".to_owned()] });
        for item in ["gasket", "coolant"] {
            let unit = if item == "gasket" { Unit::Piece } else { Unit::Millilitre };
            hand.fact(-60, Fact::ItemAdded { item: item.into(), name: format!("The {item}"), unit });
        }
        let place_kind = words::PlaceKind::Bin;
        hand.fact(-60, Fact::PlaceAdded { place: "bin-a1".into(), place_kind, name: "Shelf A".to_owned() });
        hand
    }

    /// That shop with job 1 opened on Monday at 08:00: drain, strip, cure (a wait), fill.
    pub fn with_job(promised_at: Option<Instant>) -> Self {
        let mut hand = Self::shop();
        hand.open_job(JOB, 1, promised_at);
        hand
    }

    pub fn open_job(&mut self, job: JobNo, vehicle: u128, promised_at: Option<Instant>) {
        let vehicle = VehicleId(id(0xca00 + vehicle));
        let label = text(0x100 + vehicle.0.as_u128());
        self.fact(0, Fact::VehicleAdded { vehicle, label, weight_kg: Some(1_400) });
        let stages = vec![
            stage("drain", 1, StageKind::Work, (10, 20, 40), &[]),
            stage("strip", 2, StageKind::Work, (60, 90, 180), &[("drain", 0)]),
            stage("cure", 3, StageKind::Wait, (30, 60, 90), &[("strip", 0)]),
            stage("fill", 4, StageKind::Work, (20, 30, 60), &[("cure", 15)]),
        ];
        let title = Wording::Typed(text(0x200 + u128::from(job.0.unsigned_abs())));
        let (template, revision, options) = (None, None, vec![]);
        self.fact(
            0,
            Fact::JobOpened {
                job,
                template,
                revision,
                title,
                vehicle,
                priority: 3,
                promised_at,
                options,
                stages,
                came_apart: None,
            },
        );
        self.fact(0, Fact::StageReady { job, stage: "drain".into(), ready_at: at(0), waits: false });
    }

    pub fn place(&mut self, minutes: i64, job: JobNo, bay: &str) {
        let vehicle = self.state.jobs.get(&(job,)).expect("the job is there").vehicle;
        let stay = StayId(id(0x57a0_0000 + u128::from(self.state.head.unsigned_abs())));
        self.fact(minutes, Fact::VehiclePlaced { stay, bay: bay.into(), vehicle, job });
    }

    pub fn start(&mut self, minutes: i64, key: &str) -> i64 {
        self.fact(minutes, Fact::StageStarted { job: JOB, stage: key.into(), person: None, overridden: None })
    }

    pub fn finish(&mut self, minutes: i64, key: &str) -> i64 {
        self.fact(minutes, Fact::StageFinished { job: JOB, stage: key.into(), person: None })
    }

    pub fn on(&mut self, minutes: i64, clocking: u128, person: PersonId, key: &str) -> i64 {
        let clocking = ClockingId(id(clocking));
        self.fact(minutes, Fact::ClockedOn { clocking, person, job: JOB, stage: key.into(), overridden: None })
    }

    pub fn off(&mut self, minutes: i64, clocking: u128, person: PersonId, key: &str) -> i64 {
        let clocking = ClockingId(id(clocking));
        self.fact(minutes, Fact::ClockedOff { clocking, person, job: JOB, stage: key.into() })
    }

    pub fn moved(&mut self, minutes: i64, lot: u128, (from, to): (&str, &str), quantity: i64, why: MoveReason) {
        self.fact(minutes, moved(lot, (from, to), quantity, why, None));
    }
}

pub fn calendar(
    revision: i32,
    person: Option<PersonId>,
    (from, until): (Instant, Instant),
    windows: Vec<Window>,
) -> Fact {
    let from_day = "2026-03-02".to_owned();
    let change = match person {
        None => CalendarChange::Hours { from_day, week: Week::default() },
        Some(person) => CalendarChange::Shift { person, from_day, week: Week::default() },
    };
    Fact::CalendarSet { revision, change, person, resolved: Resolved { from, until, windows } }
}

pub fn stage(
    key: &str,
    ordinal: i32,
    kind: StageKind,
    (low, likely, high): (i32, i32, i32),
    after: &[(&str, i32)],
) -> JobStage {
    let after =
        after.iter().map(|(stage, wait_minutes)| JobAfter { stage: (*stage).into(), wait_minutes: *wait_minutes });
    let step = JobStep {
        step: StepNo(1),
        instruction: Wording::Template(format!("Do the {key}.")),
        tools: vec![],
        shared_tools: vec![],
        cautions: vec![],
        needs: vec![],
        follow_up: None,
        safety: StepSafety::default(),
        unplanned: false,
        fits: None,
    };
    JobStage {
        stage: key.into(),
        ordinal,
        title: Wording::Template(format!("The {key}")),
        kind,
        minutes: Minutes { low, likely, high },
        bays: vec![],
        skills: vec![],
        hands: i32::from(kind == StageKind::Work),
        tools: vec![],
        after: after.collect(),
        may_leave: false,
        in_one_go: false,
        unplanned: false,
        steps: if kind == StageKind::Work { vec![step] } else { vec![] },
        positions: vec![],
        readings: vec![],
    }
}

/// The first step of a stage of job 1.
pub fn wanter(key: &str) -> Wanter {
    Wanter { job: JOB, stage: key.into(), step: StepNo(1) }
}

/// Gaskets on the move.
pub fn moved(lot: u128, (from, to): (&str, &str), quantity: i64, why: MoveReason, wanter: Option<Wanter>) -> Fact {
    Fact::Moved {
        item: "gasket".into(),
        lot: LotId(id(lot)),
        from_place: from.into(),
        to_place: to.into(),
        quantity: Quantity(quantity),
        why,
        wanter,
        reason: None,
    }
}
