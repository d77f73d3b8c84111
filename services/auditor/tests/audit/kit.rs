//! A journal written by hand: numbers, ids and times count up by themselves.

use leadhand_auditor::{Books, Fault, Kept};
use leadhand_facts::fact::{JobAfter, JobStage, JobStep, Wanter, Wording};
use leadhand_facts::instant::MINUTE_US;
use leadhand_facts::safety::StepSafety;
use leadhand_facts::template::Minutes;
use leadhand_facts::words::{BayKind, PlaceKind, StageKind};
use leadhand_facts::{
    CustomerId, Entry, Fact, FactId, Instant, ItemKey, JobNo, LotId, PersonId, PlaceKey, Quantity, RequestId, StageKey,
    StepNo, TextId, TextRef, Unit, VehicleId,
};
use uuid::Uuid;

/// 2026-03-02T08:00:00Z, a Monday.
pub const START: Instant = Instant(1_772_438_400_000_000);

/// A moment some minutes after the start.
pub fn minute(minutes: i64) -> Instant {
    START.plus_us(minutes * MINUTE_US)
}

/// An id made of a small number.
pub fn id(number: u128) -> Uuid {
    Uuid::from_u128(number)
}

pub const PERSON: PersonId = PersonId(Uuid::from_u128(0x11));
pub const OTHER: PersonId = PersonId(Uuid::from_u128(0x12));
pub const VEHICLE: VehicleId = VehicleId(Uuid::from_u128(0x21));
pub const CUSTOMER: CustomerId = CustomerId(Uuid::from_u128(0x22));
pub const LOT: LotId = LotId(Uuid::from_u128(0x31));
pub const JOB: JobNo = JobNo(1);

pub fn text(number: u128) -> TextRef {
    TextRef { id: TextId(id(0x7000 + number)), hash: format!("{number:064x}") }
}

/// A journal under construction. Each fact is a request of its own.
#[derive(Default)]
pub struct Journal {
    pub entries: Vec<Entry>,
    requests: u128,
}

impl Journal {
    /// A shop that is open and has nothing.
    pub fn opened() -> Self {
        let mut journal = Self::default();
        journal.at(0, Fact::ShopOpened { name: text(1), zone: "Europe/Paris".to_owned() });
        journal
    }

    /// A shop with a bay, two persons, a vehicle, an item, a bin, and job 1 with the stages
    /// `strip` (two steps) and `refit` (one step, 10 minutes after `strip`). 8 facts.
    pub fn working() -> Self {
        let mut journal = Self::opened();
        let bay_kind = BayKind::TwoPostLift;
        journal.at(0, Fact::BayAdded { bay: "b1".into(), name: "Bay 1".to_owned(), bay_kind, rated_kg: 3_500 });
        journal.at(0, Fact::PersonAdded { person: PERSON, name: text(2), skills: vec!["engine".to_owned()] });
        journal.at(0, Fact::PersonAdded { person: OTHER, name: text(3), skills: Vec::new() });
        journal.at(0, Fact::VehicleAdded { vehicle: VEHICLE, label: text(4), weight_kg: Some(1_400) });
        journal.at(0, Fact::ItemAdded { item: gasket(), name: "Gasket set".to_owned(), unit: Unit::Piece });
        let place_kind = PlaceKind::Bin;
        journal.at(0, Fact::PlaceAdded { place: bin(), place_kind, name: "Bin A".to_owned() });
        let stages = vec![stage("strip", 1, 2, &[]), stage("refit", 2, 1, &[("strip", 10)])];
        journal.at(0, job_opened(stages));
        journal
    }

    /// `working`, and a lot of 10 gasket sets in the bin. 10 facts.
    pub fn stocked() -> Self {
        let mut journal = Self::working();
        journal.at(0, Fact::LotMade { lot: LOT, item: gasket(), expires_on: Some("2026-03-02".to_owned()) });
        journal.at(0, moved("supplier", "bin-a", 10, leadhand_facts::words::MoveReason::Receipt, None));
        journal
    }

    /// Adds a fact that happened, and was written, some minutes after the start.
    pub fn at(&mut self, minutes: i64, fact: Fact) -> i64 {
        self.late(minutes, minutes, fact)
    }

    /// Adds a fact that was written later than it happened.
    pub fn late(&mut self, happened: i64, recorded: i64, fact: Fact) -> i64 {
        self.requests += 1;
        let number = i64::try_from(self.entries.len()).unwrap() + 1;
        self.entries.push(Entry {
            number,
            fact_id: FactId(id(0xF_0000 + self.requests)),
            recorded_at: minute(recorded),
            happened_at: minute(happened),
            principal: None,
            person: Some(PERSON),
            proved: None,
            request: RequestId(id(0xE_0000 + self.requests)),
            fact,
        });
        number
    }

    /// What it adds up to.
    pub fn books(&self) -> Books {
        Books::of(&self.entries).unwrap()
    }

    /// The fault of its last fact; every fact before it is sound.
    pub fn fault(&self) -> Fault {
        let (last, before) = self.entries.split_last().unwrap();
        let mut books = Books::of(before).unwrap();
        let fault = books.take(last).expect_err("the last fact can't be");
        assert_eq!(fault.number, last.number);
        fault
    }
}

/// Adds a fact to a copy of a journal's start and expects a fault of a table that says `says`.
pub fn refused(journal: impl Fn() -> Journal, minutes: i64, fact: Fact, table: &str, says: &str) {
    let mut journal = journal();
    let shown = format!("{fact:?}");
    journal.at(minutes, fact);
    let fault = journal.fault();
    assert_eq!(fault.table, table, "{fault} for {shown}");
    assert!(fault.sentence.contains(says), "'{}' does not say '{says}' for {shown}", fault.sentence);
}

/// The rows of a table.
pub fn all<R: Kept>(books: &Books) -> Vec<R> {
    books.rows::<R>().cloned().collect()
}

/// The row with a key.
pub fn one<R: Kept>(books: &Books, key: &R::Key) -> R {
    books.tables().get::<R>(key).cloned().unwrap_or_else(|| panic!("no row {key:?} in {}", R::TABLE))
}

pub fn gasket() -> ItemKey {
    "gasket".into()
}

pub fn bin() -> PlaceKey {
    "bin-a".into()
}

pub fn job_opened(stages: Vec<JobStage>) -> Fact {
    Fact::JobOpened {
        job: JOB,
        template: None,
        revision: None,
        title: Wording::Typed(text(5)),
        vehicle: VEHICLE,
        priority: 2,
        promised_at: Some(minute(600)),
        options: Vec::new(),
        stages,
        came_apart: None,
    }
}

pub fn stage(key: &str, ordinal: i32, steps: i32, after: &[(&str, i32)]) -> JobStage {
    let after =
        after.iter().map(|(stage, wait_minutes)| JobAfter { stage: (*stage).into(), wait_minutes: *wait_minutes });
    JobStage {
        stage: key.into(),
        ordinal,
        title: Wording::Template(key.to_owned()),
        kind: StageKind::Work,
        minutes: Minutes { low: 10, likely: 20, high: 40 },
        bays: vec![BayKind::TwoPostLift],
        skills: vec!["engine".to_owned()],
        hands: 1,
        tools: vec!["hoist".to_owned()],
        after: after.collect(),
        may_leave: false,
        in_one_go: false,
        unplanned: false,
        steps: (1..=steps).map(step).collect(),
        positions: vec![],
        readings: vec![],
    }
}

pub fn step(number: i32) -> JobStep {
    JobStep {
        step: StepNo(number),
        instruction: Wording::Template(format!("step {number}")),
        tools: vec!["socket 13 mm".to_owned()],
        shared_tools: Vec::new(),
        cautions: Vec::new(),
        needs: Vec::new(),
        follow_up: None,
        safety: StepSafety::default(),
        unplanned: false,
        fits: None,
    }
}

pub fn strip() -> StageKey {
    "strip".into()
}

pub fn wanter() -> Wanter {
    Wanter { job: JOB, stage: strip(), step: StepNo(1) }
}

pub fn moved(
    from: &str,
    to: &str,
    quantity: i64,
    why: leadhand_facts::words::MoveReason,
    wanter: Option<Wanter>,
) -> Fact {
    Fact::Moved {
        item: gasket(),
        lot: LOT,
        from_place: from.into(),
        to_place: to.into(),
        quantity: Quantity(quantity),
        why,
        wanter,
        reason: None,
    }
}
