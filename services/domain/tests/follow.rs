//! What a replica has loaded is brought forward by another's facts, or given up; it is never wrong.
//! Each case loads little, lets the other replica write, and says which of the two it must be; what
//! is kept is then held against everything, row by row.

mod stock_kit;

use leadhand_domain::command::*;
use leadhand_domain::follow::follow;
use leadhand_domain::need::Need;
use leadhand_facts::calendar::{DayHours, Week};
use leadhand_facts::fact::JobAfter;
use leadhand_facts::template::Minutes;
use leadhand_facts::words::{Cause, StageKind};
use leadhand_facts::*;
use stock_kit::replica::{as_loaded_now, load_into};
use stock_kit::scrap;
use stock_kit::yard::{Case, DEVICE, ONE, TWO, Yard, assign, person, run, start};

fn bay(bay: &str) -> Need {
    Need::BayStays(bay.into(), Instant(0))
}

#[test]
#[expect(clippy::too_many_lines, reason = "a table, a row a fact")]
fn stays_and_clockings() {
    let cases: [Case; 8] = [
        (
            "a bay that is looked at is taken",
            |_| vec![bay("lift-1")],
            |yard| {
                yard.shop.must(assign(TWO, "lift-1"));
            },
            false,
        ),
        (
            "another bay is taken",
            |_| vec![bay("floor-1")],
            |yard| {
                yard.shop.must(assign(TWO, "lift-1"));
            },
            true,
        ),
        (
            "a vehicle that is looked at comes in",
            |yard| vec![Need::VehicleStays(yard.vehicle(TWO), Instant(0))],
            |yard| {
                yard.shop.must(assign(TWO, "lift-1"));
            },
            false,
        ),
        (
            "a job that is loaded comes in",
            |_| vec![Need::Job(TWO), bay("lift-1")],
            |yard| {
                yard.shop.must(assign(TWO, "lift-1"));
            },
            true,
        ),
        (
            "somebody who is looked at goes to work",
            |yard| vec![Need::PersonClockings(yard.flint, Instant(0))],
            |yard| {
                yard.by(yard.flint, start(TWO));
            },
            false,
        ),
        (
            "somebody else goes to work",
            |yard| vec![Need::PersonClockings(yard.moss, Instant(0))],
            |yard| {
                yard.by(yard.flint, start(TWO));
            },
            true,
        ),
        (
            "work of somebody who is looked at is entered late",
            |yard| vec![Need::PersonClockings(yard.flint, Instant(0))],
            |yard| {
                yard.by(yard.moss, start(TWO));
                let from_at = yard.shop.now;
                yard.shop.now = from_at.plus_minutes(10);
                let until_at = from_at.plus_minutes(5);
                yard.by(
                    yard.flint,
                    RecordWork { job: TWO, stage: "strip".into(), from_at, until_at, override_reason: None },
                );
            },
            false,
        ),
        (
            "a stage is done from end to end",
            |_| vec![Need::Job(TWO)],
            |yard| {
                yard.by(yard.flint, start(TWO));
                yard.by(yard.moss, ClockOn { job: TWO, stage: "strip".into(), override_reason: None });
                yard.by(yard.flint, FinishStage { job: TWO, stage: "strip".into(), as_listed: true });
            },
            true,
        ),
    ];
    run(&cases, |_| {});
}

#[test]
fn what_ends_and_was_loaded_without_its_job() {
    let cases: [Case; 4] = [
        (
            "a stay that is loaded ends",
            |_| vec![bay("lift-1")],
            |yard| {
                yard.by(yard.flint, RollOut { job: TWO, override_reason: Some("the lift is wanted".into()) });
            },
            false,
        ),
        (
            "a stay that is not loaded ends",
            |_| vec![bay("floor-1")],
            |yard| {
                yard.by(yard.flint, RollOut { job: TWO, override_reason: Some("the lift is wanted".into()) });
            },
            true,
        ),
        (
            "a clocking that is loaded ends",
            |yard| vec![Need::PersonClockings(yard.flint, Instant(0))],
            |yard| {
                yard.by(yard.flint, ClockOff {});
            },
            false,
        ),
        (
            "a clocking that is not loaded ends",
            |yard| vec![Need::PersonClockings(yard.moss, Instant(0))],
            |yard| {
                yard.by(yard.flint, ClockOff {});
            },
            true,
        ),
    ];
    run(&cases, |yard| {
        yard.shop.must(assign(TWO, "lift-1"));
        yard.by(yard.flint, start(TWO));
    });
}

fn reserve(job: JobNo) -> ReserveStock {
    ReserveStock { job, stage: None }
}

fn stock(item: &str) -> Need {
    Need::Stock(item.into())
}

#[test]
#[expect(clippy::too_many_lines, reason = "a table, a row a fact")]
fn goods() {
    let cases: [Case; 10] = [
        (
            "goods that are looked at are set aside for an unknown job",
            |_| vec![stock("gasket")],
            |yard| {
                yard.shop.must(reserve(TWO));
            },
            false,
        ),
        (
            "an unknown job reserves what nobody looks at",
            |_| vec![Need::Job(ONE)],
            |yard| {
                yard.shop.must(reserve(TWO));
            },
            true,
        ),
        (
            "a known job reserves what nobody looks at",
            |_| vec![Need::Job(TWO)],
            |yard| {
                yard.shop.must(reserve(TWO));
            },
            false,
        ),
        (
            "a known job reserves known goods",
            |_| vec![Need::Job(TWO), stock("gasket"), stock("seal")],
            |yard| {
                yard.shop.must(reserve(TWO));
                yard.shop.issue(TWO, "gasket", 1);
            },
            true,
        ),
        (
            "only the row of a job is known that reserves",
            |yard| vec![Need::VehicleJobs(yard.vehicle(TWO)), stock("gasket"), stock("seal")],
            |yard| {
                yard.shop.must(reserve(TWO));
            },
            false,
        ),
        (
            "a lot is loaded alone and is issued to a known job",
            |_| vec![Need::Job(TWO), Need::LotsExpired("2026-05-05".into())],
            |yard| {
                yard.shop.issue(TWO, "gasket", 1);
            },
            false,
        ),
        (
            "a delivery of what is looked at",
            |_| vec![stock("gasket")],
            |yard| {
                yard.shop.receive("gasket", "a1", 3, None);
            },
            true,
        ),
        (
            "a delivery of what nobody looks at",
            |_| vec![stock("seal")],
            |yard| {
                yard.shop.receive("gasket", "a1", 3, None);
                yard.shop.must(scrap("gasket", "a1", 1));
            },
            true,
        ),
        (
            "a lot is loaded alone and leaves",
            |_| vec![Need::LotsExpired("2026-05-05".into())],
            |yard| {
                yard.shop.must(scrap("gasket", "a1", 5));
            },
            false,
        ),
        (
            "lots that are overdue are looked for and another is",
            |_| vec![Need::LotsExpired("2026-05-09".into())],
            |yard| {
                yard.shop.receive("seal", "a1", 3, Some("2026-05-06"));
            },
            true,
        ),
    ];
    run(&cases, |_| {});
}

/// Whether a step has a row of demand can't be told from the job's own row.
#[test]
fn demand_is_not_made_from_nothing_beside_a_job_that_is_half_loaded() {
    let mut yard = Yard::open();
    let mut state = yard.keeping(&[Need::VehicleJobs(yard.vehicle(TWO))]);
    yard.shop.must(reserve(TWO));
    let first = yard.shop.journal.iter().find(|entry| entry.number == state.head + 1);
    let first = first.expect("a reservation makes facts");
    assert!(matches!(first.fact, Fact::DemandSet { .. }), "{first:?}");
    assert_eq!(follow(&mut state, std::slice::from_ref(first)).unwrap_err().number, first.number);
}

/// A vehicle that was here before is not loaded with its new job.
#[test]
fn a_job_of_a_vehicle_that_is_not_loaded_is_not_taken_for_whole() {
    let mut yard = Yard::open();
    let mut state = yard.keeping(&[Need::Job(JobNo(3))]);
    let vehicle = WhichVehicle::Known(yard.vehicle(TWO));
    yard.shop.must(CancelJob { job: TWO, reason: "the customer changed plans".into(), as_it_is: false });
    let (title, with, without) = (Some("Again".into()), vec![], vec![]);
    let (template, revision, promised_at) = (None, None, None);
    yard.shop.must(OpenJob { template, revision, title, vehicle, priority: 3, promised_at, with, without });
    assert!(yard.follows(&mut state));
    assert!(!state.has(&Need::Job(JobNo(3))));
}

fn wait_stage() -> AddStage {
    AddStage {
        job: TWO,
        stage: Some("cool".into()),
        title: "Cool".into(),
        kind: StageKind::Wait,
        minutes: Minutes { low: 1, likely: 2, high: 3 },
        bays: vec![],
        skills: vec![],
        hands: 0,
        tools: vec![],
        after: vec![JobAfter { stage: "strip".into(), wait_minutes: 30 }],
        after_last: false,
        before: vec![],
        may_leave: true,
        in_one_go: false,
        steps: vec![],
    }
}

#[test]
fn stages_of_jobs_that_are_not_loaded() {
    let waits = |_: &Yard| vec![Need::WaitsOver(Instant(i64::MAX))];
    let cases: [Case; 4] = [
        (
            "a stage that is loaded alone is left out",
            waits,
            |yard| {
                yard.shop.must(SkipStage { job: TWO, stage: "cool".into(), reason: "cold already".into() });
            },
            false,
        ),
        (
            "a stage is loaded alone and another one begins",
            waits,
            |yard| {
                yard.by(
                    yard.flint,
                    StartStage { job: TWO, stage: "fit".into(), override_reason: Some("urgent".into()) },
                );
            },
            true,
        ),
        (
            "a blocker is raised by somebody whose words are looked for",
            |yard| vec![Need::PersonTexts(yard.flint)],
            |yard| {
                let (stage, cause, note) = ("fit".into(), Cause::Tool, Some("the puller is lent".to_owned()));
                let raise = RaiseBlocker { job: TWO, stage, cause, owner: None, expected_at: None, note };
                yard.by(yard.flint, raise);
            },
            true,
        ),
        (
            "a job is opened that was looked for, and goes on",
            |_| vec![Need::Job(JobNo(3))],
            |yard| {
                let job = yard.shop.job(3, &[("strip", &[])]);
                yard.shop.must(assign(job, "floor-1"));
                yard.shop.must(CancelJob { job, reason: "the customer changed plans".into(), as_it_is: false });
            },
            true,
        ),
    ];
    run(&cases, |yard| {
        yard.by(yard.flint, start(TWO));
        yard.by(yard.flint, FinishStage { job: TWO, stage: "strip".into(), as_listed: true });
        yard.shop.must(wait_stage());
    });
}

/// A stage of an unknown job begins to wait: whoever asks for those that wait has to look again.
#[test]
fn what_is_named_by_its_content_is_looked_for_again() {
    let mut yard = Yard::open();
    let waits = Need::WaitsOver(Instant(i64::MAX));
    let mut state = yard.keeping(&[waits.clone(), Need::Job(ONE)]);
    yard.by(yard.flint, start(TWO));
    yard.by(yard.flint, FinishStage { job: TWO, stage: "strip".into(), as_listed: true });
    yard.shop.must(wait_stage());
    assert!(yard.follows(&mut state));
    assert!(!state.has(&waits) && state.has(&Need::Job(ONE)));
}

#[test]
fn the_shop_itself() {
    let cases: [Case; 6] = [
        (
            "a token is revoked and none is loaded",
            |_| vec![],
            |yard| {
                yard.shop.must(RevokeToken { token: DEVICE });
            },
            true,
        ),
        (
            "a token is revoked and all are loaded",
            |_| vec![Need::Tokens],
            |yard| {
                yard.shop.must(RevokeToken { token: DEVICE });
            },
            true,
        ),
        (
            "hours are set",
            |_| vec![],
            |yard| {
                let mut week = Week::default();
                week.0[0] = vec![DayHours { from_minute: 480, until_minute: 1020 }];
                yard.shop.must(SetHours { from_day: "2026-05-11".into(), week });
            },
            false,
        ),
        (
            "somebody is forgotten",
            |_| vec![],
            |yard| {
                yard.shop.must(ForgetPerson { person: yard.moss, texts: vec![] });
            },
            false,
        ),
        (
            "things and persons are added",
            |_| vec![Need::Items(vec!["bolt".into()])],
            |yard| {
                yard.shop.item("bolt");
                yard.shop.bin("b2");
                person(&mut yard.shop, "Wren");
                yard.shop.must(SetSkills { person: yard.flint, skills: vec!["engine".into()] });
                yard.shop.must(SetYard { places_outside: Some(2), moving_minutes: None });
            },
            true,
        ),
        (
            "a template is published again",
            |_| vec![Need::LatestTemplate("round".into())],
            |yard| {
                publish(yard);
            },
            true,
        ),
    ];
    run(&cases, publish);
}

fn publish(yard: &mut Yard) {
    let source =
        "key = \"round\"\ntitle = \"Round\"\n[[stage]]\nkey = \"look\"\ntitle = \"Look\"\nminutes = [1, 2, 3]\n";
    yard.shop.must(PublishTemplate { source: source.into() });
}

/// Everything that was kept by passing over is loaded later beside what was there, and fits.
#[test]
fn what_was_passed_over_is_loaded_when_it_is_needed() {
    let mut yard = Yard::open();
    let mut state = yard.keeping(&[Need::Job(ONE)]);
    let lot = yard.shop.receive("seal", "a1", 4, None);
    yard.shop.must(reserve(TWO));
    yard.shop.issue(TWO, "seal", 1);
    assert!(yard.follows(&mut state));
    assert!(state.lots.get(&(lot,)).is_none(), "a lot without its balances is no use");
    let fresh = yard.keeping(&[stock("seal"), Need::Job(TWO)]);
    load_into(&mut state, yard.shop.kept(), &[stock("seal"), Need::Job(TWO)]);
    assert_eq!(state.balances.len(), fresh.balances.len());
    as_loaded_now(&state, yard.shop.kept());
}

#[test]
fn facts_that_leave_a_gap_are_not_followed() {
    let mut yard = Yard::open();
    let mut state = yard.keeping(&[]);
    let since = yard.shop.journal.len();
    yard.shop.must(reserve(TWO));
    assert_eq!(follow(&mut state, &yard.shop.journal[since + 1..]).unwrap_err().number, state.head + 2);
}
