//! The exclusion constraints are the second lock, and `verify` is the third pair of eyes: with the
//! constraint nobody can write what must not be, and without it `verify` finds it. The facts are
//! written past `decide`, as a defect of a rule would.

use crate::{Shop, TEMPLATE, open_job};
use leadhand_domain::apply::apply;
use leadhand_domain::command::{AddBay, AssignJob, PublishTemplate, StartStage};
use leadhand_domain::need::Need;
use leadhand_domain::state::State;
use leadhand_facts::words::BayKind;
use leadhand_facts::{ClockingId, Entry, Fact, FactId, JobNo, RequestId, StayId};
use leadhand_store::{Store, StoreError, Written};
use sqlx::{AssertSqlSafe, Executor};
use uuid::Uuid;

const ONE: JobNo = JobNo(1);
const TWO: JobNo = JobNo(2);

impl Shop {
    /// Two jobs; the first is in the bay, and the lead is at work on it.
    async fn at_work() -> Self {
        let shop = Self::open().await;
        shop.must(AddBay { bay: "floor-1".into(), name: "Floor".into(), kind: BayKind::Floor, rated_kg: 3000 }).await;
        shop.stock(1).await;
        shop.must(PublishTemplate { source: TEMPLATE.into() }).await;
        for _ in [ONE, TWO] {
            shop.must(open_job()).await;
        }
        shop.must(AssignJob { job: ONE, bay: "floor-1".into(), override_reason: None }).await;
        shop.must(StartStage { job: ONE, stage: "strip".into(), override_reason: None }).await;
        shop
    }

    /// Writes a fact with its rows, whatever the rules say to it.
    async fn smuggle(&self, fact: impl Fn(&State) -> Fact) -> Result<(), StoreError> {
        let store = Store::connect(&self.database.app_url(), 1).await?;
        let mut batch = store.begin(self.new.shop).await?;
        let mut state = State::at(batch.head.number);
        for row in batch.load(&[Need::Shop, Need::Job(ONE), Need::Job(TWO)]).await? {
            state.load(row);
        }
        let entry = Entry {
            number: state.head + 1,
            fact_id: FactId(Uuid::from_u128(0xFAC7)),
            recorded_at: batch.now,
            happened_at: batch.now,
            principal: None,
            person: None,
            proved: None,
            request: RequestId(Uuid::from_u128(0x5E9)),
            fact: fact(&state),
        };
        apply(&mut state, &entry).unwrap();
        let changes = state.take_changes();
        batch.write(&Written { entries: &[entry], changes: &changes, ..Written::default() }).await?;
        batch.commit().await
    }

    /// With the constraint the fact is refused by its name; without it `verify` finds this law broken.
    async fn guarded(&self, table: &str, constraint: &str, law: &str, fact: impl Fn(&State) -> Fact) {
        let head = self.head().await;
        match self.smuggle(&fact).await {
            Err(StoreError::Constraint { name, .. }) => assert_eq!(name, constraint),
            other => panic!("{constraint} let it through: {other:?}"),
        }
        assert_eq!(self.head().await, head);
        self.verified().await;
        let drop = format!("ALTER TABLE {table} DROP CONSTRAINT {constraint}");
        self.database.superuser().await.unwrap().execute(AssertSqlSafe(drop)).await.unwrap();
        self.smuggle(&fact).await.unwrap();
        let faults = self.app.verify(self.new.shop).await.unwrap().faults;
        assert!(faults.iter().any(|fault| fault.contains(law)), "{faults:?}");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn two_vehicles_in_a_bay_are_refused_and_without_that_lock_they_are_found() {
    let shop = Shop::at_work().await;
    let second = |state: &State| {
        let (stay, bay, vehicle) =
            (StayId(Uuid::from_u128(2)), "floor-1".into(), state.jobs.get(&(TWO,)).unwrap().vehicle);
        Fact::VehiclePlaced { stay, bay, vehicle, job: TWO }
    };
    shop.guarded("stay", "stay_one_vehicle_a_bay", "law 'stay'", second).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_vehicle_in_two_bays_is_refused_and_without_that_lock_it_is_found() {
    let shop = Shop::at_work().await;
    shop.must(AddBay { bay: "floor-2".into(), name: "Floor".into(), kind: BayKind::Floor, rated_kg: 3000 }).await;
    let again = |state: &State| {
        let (stay, bay, vehicle) =
            (StayId(Uuid::from_u128(2)), "floor-2".into(), state.jobs.get(&(ONE,)).unwrap().vehicle);
        Fact::VehiclePlaced { stay, bay, vehicle, job: ONE }
    };
    shop.guarded("stay", "stay_one_bay_a_vehicle", "law 'stay'", again).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_person_on_two_stages_is_refused_and_without_that_lock_is_found() {
    let shop = Shop::at_work().await;
    let lead = shop.new.lead;
    let twice = |_: &State| {
        let clocking = ClockingId(Uuid::from_u128(2));
        Fact::ClockedOn { clocking, person: lead, job: TWO, stage: "strip".into(), overridden: None }
    };
    shop.guarded("clocking", "clocking_one_stage_a_person", "law 'clocking'", twice).await;
}
