//! A second pair of eyes stays one: nobody becomes a worker of the stage after having looked, and work without a name could
//! be anybody's. The rules are the project's own.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod stock_kit;

use leadhand_domain::answer::{Answer, Made};
use leadhand_domain::command::*;
use leadhand_domain::refusal::Refusal;
use leadhand_facts::words::Role;
use leadhand_facts::*;
use stock_kit::Shop;

const JOB: JobNo = JobNo(1);

const TEMPLATE: &str = r#"
key = "lift"
title = "Lift"

[[stage]]
key = "raise"
title = "Raise"
minutes = [10, 20, 30]

[[stage.step]]
do = "Set the arms"

[[stage.step]]
do = "Vehicle supported"
hold = "vehicle supported"
second = true

[[stage.step]]
do = "Raise it"
"#;

struct Bench {
    shop: Shop,
    flint: PersonId,
    moss: PersonId,
}

impl Bench {
    /// The stage is under way, begun by somebody or by a device without a name.
    fn begun(by_flint: bool) -> Self {
        let mut shop = Shop::open("UTC", "2026-05-04T06:00:00Z");
        let mut add = |name: &str| {
            let Made::Person(person) = shop.must(AddPerson { name: name.into(), skills: vec![] }).made else {
                panic!()
            };
            person
        };
        let (flint, moss) = (add("Flint"), add("Moss"));
        shop.must(PublishTemplate { source: TEMPLATE.into() });
        shop.must(OpenJob {
            template: Some("lift".into()),
            revision: None,
            title: None,
            vehicle: WhichVehicle::New { label: "van".into(), weight_kg: None, plate: None, customer: None },
            priority: 3,
            promised_at: None,
            with: vec![],
            without: vec![],
        });
        let mut bench = Self { shop, flint, moss };
        bench.acts(by_flint.then_some(flint));
        bench.must(StartStage { job: JOB, stage: "raise".into(), override_reason: None });
        bench
    }

    /// Flint set the arms, and Moss looked.
    fn looked() -> Self {
        let mut bench = Self::begun(true);
        bench.must(tick(1));
        bench.acts(Some(bench.moss));
        bench.must(tick(2));
        bench
    }

    fn acts(&mut self, person: Option<PersonId>) {
        (self.shop.person, self.shop.role) = (person, Role::Technician);
    }

    fn run(&mut self, command: impl Into<Command>) -> Result<Answer, Refusal> {
        self.shop.now = self.shop.now.plus_minutes(1);
        self.shop.run_at(&command.into(), self.shop.now)
    }

    fn must(&mut self, command: impl Into<Command>) -> Answer {
        self.run(command).unwrap()
    }

    fn refused(&mut self, command: impl Into<Command>) -> &'static str {
        self.run(command).unwrap_err().reason()
    }

    fn passed_at(&self) -> Instant {
        self.shop.state.steps.get(&(JOB, "raise".into(), StepNo(2))).unwrap().done_at.unwrap()
    }

    fn started_at(&self) -> Instant {
        self.shop.state.stages.get(&(JOB, "raise".into())).unwrap().started_at.unwrap()
    }
}

fn tick(step: i32) -> TickSteps {
    TickSteps { job: JOB, stage: "raise".into(), steps: vec![StepNo(step)], override_reason: None }
}

fn work(from_at: Instant, until_at: Instant) -> RecordWork {
    RecordWork { job: JOB, stage: "raise".into(), from_at, until_at, override_reason: None }
}

fn on() -> ClockOn {
    ClockOn { job: JOB, stage: "raise".into(), override_reason: None }
}

#[test]
fn time_entered_late_does_not_make_a_look_at_the_own_work_of_it() {
    let mut bench = Bench::looked();
    let (started, passed) = (bench.started_at(), bench.passed_at());
    let late = bench.run(work(started, passed)).unwrap_err();
    assert_eq!(late.reason(), "LOOKED_AT_OWN_WORK", "{late}");
    assert!(late.to_string().contains("hold point 2 of stage 'raise'"), "{late}");
    // Nor does clocking on as of before, whoever says so.
    bench.shop.now = bench.shop.now.plus_minutes(1);
    let refused = bench.shop.run_at(&on().into(), started).unwrap_err();
    assert_eq!(refused.reason(), "LOOKED_AT_OWN_WORK");
    // Helping from then on is another matter, and is not moved to before.
    bench.must(on());
    bench.must(ClockOff {});
    let entry = bench.shop.state.clockings.iter().find(|row| row.person == bench.moss).unwrap().on_n;
    let correct = |from_at: Instant, until_at: Option<Instant>| CorrectClocking {
        entry,
        from_at: Some(from_at),
        until_at,
        job: None,
        stage: None,
        reason: "it was earlier".into(),
        override_reason: None,
    };
    assert_eq!(bench.refused(correct(started, None)), "LOOKED_AT_OWN_WORK");
    assert_eq!(bench.refused(correct(started, Some(passed))), "LOOKED_AT_OWN_WORK");
    bench.must(correct(passed, None));
    // Who did the work enters what was forgotten as ever; and once the look is taken back, so does Moss.
    bench.must(ReopenStep { job: JOB, stage: "raise".into(), step: StepNo(2), reason: "I set an arm".into() });
    bench.must(work(started, passed));
    assert_eq!(bench.refused(tick(2)), "HOLD_OWN_WORK");
}

#[test]
fn work_that_is_nobody_s_by_name_may_be_the_looker_s_own() {
    let mut bench = Bench::begun(false);
    bench.must(tick(1));
    let done = bench.shop.now;
    bench.acts(Some(bench.moss));
    let refused = bench.run(tick(2)).unwrap_err();
    assert_eq!(refused.reason(), "HOLD_NOBODYS_WORK");
    assert!(refused.to_string().contains("nobody is named for step 1"), "{refused}");
    // Flint's time on the stage says whose it was.
    bench.acts(Some(bench.flint));
    bench.must(work(bench.started_at(), done));
    bench.acts(Some(bench.moss));
    bench.must(tick(2));
}

#[test]
fn a_tick_without_a_name_is_known_by_who_was_clocked_on() {
    let mut bench = Bench::begun(true);
    bench.acts(None);
    bench.must(tick(1));
    bench.acts(Some(bench.moss));
    bench.must(tick(2));
}
