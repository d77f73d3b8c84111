//! The condition of a vehicle: facts that can't be, and each law with rows that break it.

use crate::kit::{JOB, Journal, OTHER, PERSON, minute, refused, step, strip, text};
use crate::laws::{any, broken, broken_by, edit};
use leadhand_auditor::Books;
use leadhand_facts::rows::{FluidRow, StepRow, VehicleStateRow, WayRow};
use leadhand_facts::safety::{Hold, StepSafety};
use leadhand_facts::words::{StepState, VehicleState};
use leadhand_facts::{Fact, JobNo, StepNo};

const SOUND: [&str; 0] = [];
/// The sample's job that was handed over, on nobody's word.
const GONE: JobNo = JobNo(3);

fn state(state: VehicleState, before: VehicleState, step: Option<StepNo>) -> Fact {
    let stage = step.map(|_| strip());
    Fact::VehicleStateSet { job: JOB, state, before, person: None, stage, step, reason: None }
}

fn fluid(drained_ml: i64, filled_ml: i64) -> Fact {
    Fact::FluidRecorded { job: JOB, fluid: "oil".into(), person: None, drained_ml, filled_ml, note: None }
}

#[test]
fn a_state_follows_on_the_one_before_and_a_step_brings_about_its_own() {
    let (on, off) = (VehicleState::BatteryConnected, VehicleState::BatteryIsolated);
    refused(Journal::working, 5, state(on, off, None), "vehicle_state", "was 'battery connected'");
    refused(Journal::working, 5, state(off, on, Some(StepNo(1))), "vehicle_state", "did not bring about");
    refused(Journal::working, 5, state(off, on, Some(StepNo(9))), "step", "unknown");
}

#[test]
fn amounts_are_something_and_what_was_not_said_is_not_taken_back() {
    refused(Journal::working, 5, fluid(0, 0), "fluid", "say nothing");
    refused(Journal::working, 5, fluid(-1, 5), "fluid", "say nothing");
    let reopened = Fact::FluidReopened { job: JOB, fluid: "oil".into(), reason: text(8) };
    refused(Journal::working, 5, reopened, "fluid", "unknown");
    let mut journal = Journal::working();
    journal.at(5, fluid(900, 0));
    journal.at(6, fluid(100, 400));
    let reopened = || Fact::FluidReopened { job: JOB, fluid: "oil".into(), reason: text(8) };
    journal.at(7, reopened());
    let amounts = |journal: &Journal| {
        let row = journal.books().rows::<FluidRow>().next().cloned().unwrap();
        (row.drained_ml, row.filled_ml)
    };
    assert_eq!(amounts(&journal), (1_000, 0));
    journal.at(8, reopened());
    assert_eq!(amounts(&journal), (0, 0));
}

#[test]
fn a_way_is_of_a_step_that_is_left_and_is_decided_after_it_was_proposed() {
    let (stage, step) = (strip(), StepNo(1));
    let proposed =
        Fact::WayProposed { job: JOB, stage: stage.clone(), step, person: None, note: text(8), reason: text(9) };
    let decided = || Fact::WayDecided { job: JOB, stage: strip(), step, person: PERSON, approved: true, note: None };
    refused(Journal::working, 5, decided(), "own_way", "unknown");
    let begun = || {
        let mut journal = Journal::working();
        journal.at(5, proposed.clone());
        journal
    };
    let early = || {
        let mut journal = begun();
        journal.late(4, 6, decided());
        journal
    };
    assert_eq!(early().fault().table, "own_way");
    let mut journal = begun();
    journal.at(6, decided());
    journal.at(7, proposed.clone());
    let row = journal.books().rows::<WayRow>().next().cloned().unwrap();
    assert_eq!((row.approved, row.proposed_at), (None, minute(7)), "what was decided is forgotten");
}

fn hold(second: bool) -> StepSafety {
    StepSafety { hold: Some(Hold { what: "dry".into(), second }), ..StepSafety::default() }
}

#[test]
fn a_hold_point_is_passed_by_somebody() {
    let journal = || {
        let mut journal = Journal::working();
        let looked = leadhand_facts::fact::JobStep { safety: hold(false), ..step(3) };
        journal.at(1, Fact::StepAdded { job: JOB, stage: strip(), step: looked });
        journal
    };
    let done = Fact::StepDone { job: JOB, stage: strip(), step: StepNo(3), person: None, overridden: None };
    refused(journal, 5, done, "step", "nobody passed hold point 3");
}

/// Steps 1 (done by PERSON) and 2 (left out) of `strip`, and 3, which is pending and becomes a hold point.
fn passed(books: &mut Books, second: bool, by: Option<leadhand_facts::PersonId>) {
    edit(
        books,
        |row: &StepRow| (row.job, row.step) == (JOB, StepNo(3)),
        |row| {
            row.safety = hold(second);
            row.state = StepState::Done;
            (row.done_at, row.done_n, row.done_by) = (Some(minute(19)), Some(1), by);
        },
    );
}

#[test]
fn who_passes_a_hold_point_is_named_looked_last_and_is_another_where_that_is_asked_for() {
    assert_eq!(broken(|books| passed(books, true, Some(OTHER))), SOUND);
    assert_eq!(broken(|books| passed(books, true, Some(PERSON))), ["hold-point"]);
    assert_eq!(broken(|books| passed(books, false, Some(PERSON))), SOUND);
    assert_eq!(broken(|books| passed(books, false, None)), ["hold-point"]);
    let early = broken(|books| {
        passed(books, false, Some(OTHER));
        edit(
            books,
            |row: &StepRow| (row.job, row.step) == (JOB, StepNo(2)),
            |row| {
                row.state = StepState::Pending;
                (row.done_at, row.done_n, row.reason) = (None, None, None);
            },
        );
    });
    assert_eq!(early, ["hold-point"]);
    let unseen = broken(|books| {
        let row = books.rows::<StepRow>().find(|row| row.job == JOB && row.step == StepNo(3)).cloned().unwrap();
        books.tables_mut().put(StepRow { job: GONE, safety: hold(false), ..row });
    });
    assert_eq!(unseen, ["hold-passed"]);
}

#[test]
fn states_fluids_and_ways_agree_and_are_settled_before_a_vehicle_goes() {
    assert_eq!(broken_by(any::<VehicleStateRow>, |row| row.state = VehicleState::OilDrained), ["vehicle-state"]);
    assert_eq!(broken_by(any::<VehicleStateRow>, |row| row.step = Some(StepNo(1))), ["vehicle-state"]);
    assert_eq!(broken_by(any::<FluidRow>, |row| row.filled_ml = -1), ["fluid"]);
    assert_eq!(broken_by(any::<FluidRow>, |row| row.said_n = None), ["fluid"]);
    assert_eq!(broken_by(any::<WayRow>, |row| row.decided_by = None), ["own-way"]);
    assert_eq!(broken_by(any::<WayRow>, |row| row.decided_at = Some(minute(1))), ["own-way"]);
    // The same rows on the job whose vehicle went.
    assert_eq!(broken_by(any::<VehicleStateRow>, |row| row.job = GONE), ["at-rest"]);
    let rested = |row: &mut VehicleStateRow| (row.job, row.state) = (GONE, VehicleState::BatteryConnected);
    assert_eq!(broken_by(any::<VehicleStateRow>, rested), SOUND);
    assert_eq!(broken_by(any::<FluidRow>, |row| row.job = GONE), ["fluid-back"]);
    assert_eq!(broken_by(any::<FluidRow>, |row| (row.job, row.filled_ml) = (GONE, 4_800)), SOUND);
    let undecided = |row: &mut WayRow| {
        row.job = GONE;
        (row.approved, row.decided_by, row.decided_at, row.decided_n) = (None, None, None, None);
    };
    assert_eq!(broken_by(any::<WayRow>, undecided), ["own-way"]);
}
