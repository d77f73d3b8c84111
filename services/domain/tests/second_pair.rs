//! A second pair of eyes stays one: nobody becomes a worker of the stage after having looked, and work without a name could
//! be anybody's. The rules are the project's own.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod bay_kit;
mod stock_kit;

use bay_kit::{Bench, JOB, start};
use leadhand_domain::command::*;
use leadhand_facts::words::Role;
use leadhand_facts::*;

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

/// The stage is under way, begun by Flint or by a device without a name.
fn begun(by_flint: bool) -> Bench {
    let mut bench = Bench::new(TEMPLATE);
    let person = by_flint.then_some(bench.flint);
    acts(&mut bench, person);
    bench.must(start("raise"));
    bench
}

/// Flint set the arms, and Moss looked.
fn looked() -> Bench {
    let mut bench = begun(true);
    bench.must(tick(1));
    let moss = bench.moss;
    acts(&mut bench, Some(moss));
    bench.must(tick(2));
    bench
}

fn acts(bench: &mut Bench, person: Option<PersonId>) {
    (bench.shop.person, bench.shop.role) = (person, Role::Technician);
}

fn passed_at(bench: &Bench) -> Instant {
    bench.step("raise", 2).done_at.unwrap()
}

fn started_at(bench: &Bench) -> Instant {
    bench.shop.state.stages.get(&(JOB, "raise".into())).unwrap().started_at.unwrap()
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
    let mut bench = looked();
    let (started, passed) = (started_at(&bench), passed_at(&bench));
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
    let mut bench = begun(false);
    bench.must(tick(1));
    let done = bench.shop.now;
    bench.acts(bench.moss, Role::Technician);
    let refused = bench.run(tick(2)).unwrap_err();
    assert_eq!(refused.reason(), "HOLD_NOBODYS_WORK");
    assert!(refused.to_string().contains("nobody is named for step 1"), "{refused}");
    // Flint's time on the stage says whose it was.
    bench.acts(bench.flint, Role::Technician);
    bench.must(work(started_at(&bench), done));
    bench.acts(bench.moss, Role::Technician);
    bench.must(tick(2));
}

#[test]
fn a_tick_without_a_name_is_known_by_who_was_clocked_on() {
    let mut bench = begun(true);
    acts(&mut bench, None);
    bench.must(tick(1));
    bench.acts(bench.moss, Role::Technician);
    bench.must(tick(2));
}
