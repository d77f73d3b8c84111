//! A yard of two jobs, of which a replica has loaded a part while another one writes.

use super::Shop;
use super::replica::{as_loaded_now, keeping};
use leadhand_domain::answer::Made;
use leadhand_domain::command::*;
use leadhand_domain::follow::follow;
use leadhand_domain::need::Need;
use leadhand_domain::state::State;
use leadhand_facts::words::{BayKind, Role};
use leadhand_facts::*;
use uuid::Uuid;

pub const ONE: JobNo = JobNo(1);
pub const TWO: JobNo = JobNo(2);
pub const DEVICE: TokenId = TokenId(Uuid::from_u128(0xD));

/// A shop with two jobs, and two persons.
pub struct Yard {
    pub shop: Shop,
    pub flint: PersonId,
    pub moss: PersonId,
}

pub fn person(shop: &mut Shop, name: &str) -> PersonId {
    match shop.must(AddPerson { name: name.into(), skills: vec![] }).made {
        Made::Person(person) => person,
        made => panic!("{made:?}"),
    }
}

impl Yard {
    /// Two jobs that want the same goods, with stock of an old lot, and somebody at work on the second.
    pub fn open() -> Self {
        let mut shop = Shop::open("UTC", "2026-05-04T08:00:00Z");
        for bay in ["lift-1", "floor-1"] {
            shop.must(AddBay { bay: bay.into(), name: bay.into(), kind: BayKind::Floor, rated_kg: 2000 });
        }
        let (flint, moss) = (person(&mut shop, "Flint"), person(&mut shop, "Moss"));
        for item in ["gasket", "seal"] {
            shop.item(item);
        }
        shop.bin("a1");
        shop.receive("gasket", "a1", 5, Some("2026-05-04"));
        for _ in [ONE, TWO] {
            shop.job(3, &[("strip", &[("gasket", 2)]), ("fit", &[("seal", 1)])]);
        }
        let (label, hash) = (Some("Counter".to_owned()), "c".repeat(64));
        let (principal, prefix) = (PrincipalId(Uuid::from_u128(1)), "lhd_cc".to_owned());
        let role = Role::Parts;
        shop.must(IssueToken { token: DEVICE, principal, person: None, label, role, prefix, hash, expires_at: None });
        Self { shop, flint, moss }
    }

    pub fn by(&mut self, person: PersonId, command: impl Into<Command>) {
        self.shop.person = Some(person);
        self.shop.must(command);
        self.shop.person = None;
    }

    pub fn vehicle(&self, job: JobNo) -> VehicleId {
        self.shop.state.jobs.get(&(job,)).unwrap_or_else(|| panic!("no job {job}")).vehicle
    }

    /// What a replica knows that has loaded this.
    pub fn keeping(&self, needs: &[Need]) -> State {
        keeping(self.shop.kept(), self.shop.state.head, needs)
    }

    /// Whether it can follow what was written since; if so, it is as loaded now.
    pub fn follows(&self, state: &mut State) -> bool {
        let since = usize::try_from(state.head).unwrap_or_default();
        let followed = follow(state, &self.shop.journal[since..]).is_ok();
        if followed {
            as_loaded_now(state, self.shop.kept());
            assert_eq!(state.take_changes(), [], "what the other replica wrote would be written again");
        }
        followed
    }
}

pub fn start(job: JobNo) -> StartStage {
    StartStage { job, stage: "strip".into(), override_reason: None }
}

pub fn assign(job: JobNo, bay: &str) -> AssignJob {
    AssignJob { job, bay: bay.into(), override_reason: None }
}

/// What is loaded, what the other replica does, and whether it can be followed.
pub type Case = (&'static str, fn(&Yard) -> Vec<Need>, fn(&mut Yard), bool);

pub fn run(cases: &[Case], before: fn(&mut Yard)) {
    for (what, needs, elsewhere, expected) in cases {
        let mut yard = Yard::open();
        before(&mut yard);
        let mut state = yard.keeping(&needs(&yard));
        elsewhere(&mut yard);
        assert_eq!(yard.follows(&mut state), *expected, "{what}");
    }
}
