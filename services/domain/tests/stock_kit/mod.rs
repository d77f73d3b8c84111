//! A shop in memory: each command is decided on everything, and again on only what it asked to
//! have loaded, and by one of two replicas that keep what they have and follow each other; all
//! must agree. The auditor folds the facts with its own code, its laws must
//! hold after every command, and both sides must have the same rows.
#![allow(dead_code, reason = "each test binary uses a part of it")]
#![allow(clippy::must_use_candidate, reason = "helpers of tests")]

pub mod loading;
pub mod replica;
pub mod texts;
pub mod yard;

use leadhand_auditor::compare::written;
use leadhand_auditor::{Books, check_books};
use leadhand_domain::answer::{Answer, Made, Notice, StockLine};
use leadhand_domain::command::*;
use leadhand_domain::context::{Actor, Chance, Context};
use leadhand_domain::decide::{Decision, decide};
use leadhand_domain::hand_over::{self, Line};
use leadhand_domain::refusal::Refusal;
use leadhand_domain::state::State;
use leadhand_facts::fact::Fact;
use leadhand_facts::rows::{DemandRow, HoldRow, Row, ShortageRow};
use leadhand_facts::safety::StepSafety;
use leadhand_facts::template::{Minutes, Need};
use leadhand_facts::words::{Role, StageKind};
use leadhand_facts::*;
use replica::Replicas;
use std::collections::BTreeMap;
use uuid::Uuid;

/// Ids and salts in a row, the same every time.
#[derive(Clone)]
pub struct Counter(pub u128);

impl Chance for Counter {
    fn id(&mut self) -> Uuid {
        self.0 += 1;
        Uuid::from_u128(self.0)
    }

    fn seal(&mut self, words: &str) -> TextRef {
        TextRef { id: TextId(self.id()), hash: format!("hash of {words}") }
    }
}

pub struct Shop {
    pub state: State,
    pub books: Books,
    pub now: Instant,
    pub facts: Vec<Fact>,
    /// Everything so far.
    pub journal: Vec<Entry>,
    chance: Counter,
    /// Two replicas that take turns.
    replicas: Replicas,
    /// Whether each command is decided twice and audited; costly for large books, and once it is
    /// off, the auditor has lost the thread.
    pub audited: bool,
    /// Who acts.
    pub person: Option<PersonId>,
    /// Who proved to be somebody, where that is not the person for whom it is recorded.
    pub proved: Option<PersonId>,
    /// As what.
    pub role: Role,
    /// The job's version on which the client insists.
    pub etag: Option<i64>,
}

/// A hand-over that names every line that is open, with one reason for all of them.
pub fn named(state: &State, job: JobNo, at: Instant, reason: &str) -> CompleteJob {
    let line = |line: &Line| Override { line: line.key(), reason: None };
    let overrides = hand_over::lines(state, job, at).iter().map(line).collect();
    CompleteJob { job, override_reason: Some(reason.to_owned()), overrides }
}

impl Shop {
    /// A shop that opened at this moment.
    pub fn open(zone: &str, at: &str) -> Self {
        let mut shop = Self {
            state: State::at(0),
            books: Books::new(),
            now: instant(at),
            facts: Vec::new(),
            journal: Vec::new(),
            chance: Counter(0),
            replicas: Replicas::new(),
            audited: true,
            person: None,
            proved: None,
            role: Role::Lead,
            etag: None,
        };
        shop.must(OpenShop { name: "Shed".into(), zone: zone.into() });
        shop
    }

    pub fn must(&mut self, command: impl Into<Command>) -> Answer {
        let command = command.into();
        self.run(&command).unwrap_or_else(|refusal| panic!("{} was refused: {refusal}", command.name()))
    }

    pub fn refused(&mut self, command: impl Into<Command>) -> Refusal {
        let command = command.into();
        let refusal = self.run(&command).expect_err("it was accepted");
        assert_ne!(refusal.reason(), "DEFECT", "{refusal}");
        refusal
    }

    pub fn run(&mut self, command: &Command) -> Result<Answer, Refusal> {
        self.now = self.now.plus_minutes(1);
        self.run_at(command, self.now)
    }

    /// Runs a command that `proved` records for another.
    pub fn run_for(&mut self, command: &Command, proved: PersonId, person: PersonId) -> Result<Answer, Refusal> {
        (self.proved, self.person) = (Some(proved), Some(person));
        let ran = self.run_at(command, self.now);
        self.proved = None;
        ran
    }

    /// Runs a command as entered late.
    pub fn run_at(&mut self, command: &Command, happened_at: Instant) -> Result<Answer, Refusal> {
        let context = Context {
            now: self.now,
            happened_at,
            actor: Actor { principal: None, person: self.person, proved: self.proved.or(self.person), role: self.role },
            request: RequestId(self.chance.id()),
            etag: self.etag,
        };
        let alone = self.audited.then(|| self.decide_alone(command, &context));
        let in_turn = self.audited.then(|| {
            self.replicas.decide(
                loading::Kept { books: &self.books, journal: &self.journal },
                command,
                &context,
                &mut self.chance.clone(),
            )
        });
        loading::note_needs(&mut self.state, command, &context);
        let before = self.rows();
        let decided = decide(&mut self.state, command, &context, &mut self.chance);
        if let Some(alone) = alone {
            assert_eq!(alone, decided, "what {} asked to have loaded was not enough", command.name());
            assert_eq!(in_turn.as_ref(), Some(&decided), "the replica decided {} otherwise", command.name());
        }
        if decided.is_err() {
            assert_eq!(before, self.rows(), "a refusal left something behind");
        }
        let decision = decided?;
        let entries = if self.audited { decision.entries.as_slice() } else { &[] };
        for entry in entries {
            self.books.take(entry).unwrap_or_else(|fault| panic!("{}: {fault:?}", command.name()));
        }
        self.journal.extend(decision.entries.iter().cloned());
        self.facts = decision.entries.into_iter().map(|entry| entry.fact).collect();
        self.audit();
        Ok(decision.answer)
    }

    /// What lies in the database.
    pub fn kept(&self) -> loading::Kept<'_> {
        loading::Kept { books: &self.books, journal: &self.journal }
    }

    /// Decides on only what the command asked to have loaded.
    fn decide_alone(&self, command: &Command, context: &Context) -> Result<Decision, Refusal> {
        let mut state = State::at(self.state.head);
        let kept = self.kept();
        loading::load_for(&mut state, kept, command, context);
        decide(&mut state, command, context, &mut self.chance.clone())
    }

    fn audit(&self) {
        if self.audited {
            let broken: Vec<String> = check_books(&self.books).iter().map(ToString::to_string).collect();
            assert!(broken.is_empty(), "{broken:#?}");
            assert_eq!(self.rows(), written(self.books.tables()));
        }
    }

    fn rows(&self) -> BTreeMap<String, Vec<serde_json::Value>> {
        if self.audited { loading::rows_of(&self.state) } else { BTreeMap::new() }
    }

    pub fn item(&mut self, item: &str) -> ItemKey {
        self.must(AddItem { item: item.into(), name: format!("Item {item}"), unit: Unit::Piece, fluid: None });
        item.into()
    }

    pub fn bin(&mut self, place: &str) -> PlaceKey {
        self.must(AddPlace { place: place.into(), name: format!("Bin {place}") });
        place.into()
    }

    /// A blank job with one stage per list of needs, each need in a step of its own.
    pub fn job(&mut self, priority: i32, stages: &[(&str, &[(&str, i64)])]) -> JobNo {
        let vehicle = WhichVehicle::New { label: "van".into(), weight_kg: None, plate: None, customer: None };
        let (template, revision, promised_at) = (None, None, None);
        let (with, without) = (Vec::new(), Vec::new());
        let title = Some("Work".into());
        let made = self.must(OpenJob { template, revision, title, vehicle, priority, promised_at, with, without }).made;
        let Made::Job { job, .. } = made else { panic!("{made:?}") };
        for (stage, needs) in stages {
            self.stage(job, stage);
            for (item, quantity) in *needs {
                self.step(job, stage, item, *quantity);
            }
        }
        job
    }

    fn stage(&mut self, job: JobNo, stage: &str) {
        self.must(AddStage {
            job,
            stage: Some(stage.into()),
            title: stage.into(),
            kind: StageKind::Work,
            minutes: Minutes { low: 1, likely: 2, high: 3 },
            bays: vec![],
            skills: vec![],
            hands: 1,
            tools: vec![],
            after: vec![],
            after_last: true,
            before: vec![],
            may_leave: true,
            in_one_go: false,
            steps: vec![],
        });
    }

    fn step(&mut self, job: JobNo, stage: &str, item: &str, quantity: i64) {
        let needs = vec![Need { item: item.into(), quantity: Quantity(quantity), unit: Unit::Piece }];
        let (stage, instruction) = (stage.into(), "Fit".into());
        let (tools, shared_tools, cautions, safety) = (vec![], vec![], vec![], StepSafety::default());
        self.must(AddStep { job, stage, instruction, tools, shared_tools, cautions, needs, follow_up: None, safety });
    }

    pub fn receive(&mut self, item: &str, place: &str, quantity: i64, expires_on: Option<&str>) -> LotId {
        let command = receive(item, place, quantity, expires_on);
        match self.must(command).made {
            Made::Lot(lot) => lot,
            made => panic!("{made:?}"),
        }
    }

    pub fn reserve(&mut self, job: JobNo) -> Vec<StockLine> {
        lines(self.must(ReserveStock { job, stage: None }))
    }

    pub fn issue(&mut self, job: JobNo, item: &str, quantity: i64) -> Vec<StockLine> {
        lines(self.must(issue(job, item, quantity)))
    }

    pub fn count(&mut self, item: &str, place: &str, counted: i64) -> Answer {
        self.must(count(item, place, counted))
    }

    /// On hand, expired and reserved at a place.
    pub fn hold(&self, item: &str, place: &str) -> (i64, i64, i64) {
        let row = self.state.holds.get(&(item.into(), place.into()));
        row.map_or((0, 0, 0), |HoldRow { on_hand, expired, reserved, .. }| (on_hand.0, expired.0, reserved.0))
    }

    /// Wanted, reserved, issued and short of a step.
    pub fn demand(&self, job: JobNo, stage: &str, step: i32, item: &str) -> (i64, i64, i64, i64) {
        let key = (job, stage.into(), StepNo(step), item.into());
        let row = self.state.demands.get(&key);
        row.map_or((0, 0, 0, 0), |DemandRow { wanted, reserved, issued, short, .. }| {
            (wanted.0, reserved.0, issued.0, short.0)
        })
    }

    pub fn short(&self, job: JobNo) -> i64 {
        let open = self.state.shortages.iter().filter(|row| row.job == job);
        open.map(|ShortageRow { quantity, .. }| quantity.0).sum()
    }

    pub fn blockers(&self, job: JobNo) -> usize {
        self.state.blockers.iter().filter(|row| row.job == job && row.cleared_at.is_none()).count()
    }

    /// Lots and quantities of the movements of the last command.
    pub fn moved(&self) -> Vec<(LotId, i64)> {
        let moved = self.facts.iter().filter_map(|fact| match fact {
            Fact::Moved { lot, quantity, .. } => Some((*lot, quantity.0)),
            _ => None,
        });
        moved.collect()
    }
}

pub fn receive(item: &str, place: &str, quantity: i64, expires_on: Option<&str>) -> ReceiveStock {
    let expires_on = expires_on.map(str::to_owned);
    ReceiveStock { item: item.into(), place: place.into(), quantity: Quantity(quantity), expires_on }
}

pub fn issue(job: JobNo, item: &str, quantity: i64) -> IssueStock {
    IssueStock { job, stage: None, item: Some(item.into()), quantity: Some(Quantity(quantity)) }
}

pub fn count(item: &str, place: &str, counted: i64) -> CountStock {
    CountStock { item: item.into(), place: place.into(), counted: Quantity(counted), reason: "counted".into() }
}

pub fn scrap(item: &str, place: &str, quantity: i64) -> ScrapStock {
    ScrapStock { item: item.into(), place: place.into(), quantity: Quantity(quantity), reason: "bent".into() }
}

pub fn take_back(job: JobNo, item: &str, quantity: i64, place: &str) -> ReturnStock {
    ReturnStock { job, item: item.into(), quantity: Quantity(quantity), place: place.into() }
}

pub fn lines(answer: Answer) -> Vec<StockLine> {
    match answer.made {
        Made::Stock(lines) => lines,
        made => panic!("{made:?}"),
    }
}

/// Jobs that lost reserved stock, in the order in which they did.
pub fn displaced(answer: &Answer) -> Vec<(JobNo, i64)> {
    let told = answer.notices.iter().filter_map(|notice| match notice {
        Notice::Displaced { job, quantity, .. } => Some((*job, quantity.0)),
        _ => None,
    });
    told.collect()
}

/// Jobs whose shortage was covered, in the order in which they were.
pub fn covered(answer: &Answer) -> Vec<(JobNo, i64)> {
    let told = answer.notices.iter().filter_map(|notice| match notice {
        Notice::Covered { job, quantity, .. } => Some((*job, quantity.0)),
        _ => None,
    });
    told.collect()
}

/// A moment as written in a test.
pub fn instant(text: &str) -> Instant {
    Instant::parse(text).expect("it is RFC 3339")
}

/// A row as the database would give it.
pub fn json<R: Row>(row: &R) -> serde_json::Value {
    serde_json::to_value(row).expect("a row can be written")
}
