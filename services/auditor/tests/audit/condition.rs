//! The condition of a vehicle: facts that can't be, and each law with rows that break it.

use crate::kit::{JOB, Journal, OTHER, PERSON, all, gasket, id, minute, refused, step, strip, text};
use crate::laws::{any, broken, broken_by, edit};
use leadhand_auditor::Books;
use leadhand_facts::reading::OverruledLine;
use leadhand_facts::rows::{ClockingRow, FluidRow, JobRow, PositionRow, StepRow, VehicleStateRow, WayRow};
use leadhand_facts::safety::{Fill, Gainsaid, Hold, ReckonedFill, StepSafety};
use leadhand_facts::template::{Caution, Need};
use leadhand_facts::words::{Manner, SignalWord, StepState, Tightness, VehicleState};
use leadhand_facts::{ClockingId, Fact, JobNo, Quantity, StepNo, Unit};

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

/// What went in at a step that is done stays what was said of it; that an item of it says otherwise since is all that is added.
#[test]
fn of_a_fill_that_is_done_only_what_an_item_says_since_is_added() {
    let own = ReckonedFill { recipe: "2 L of it".into(), from: vec![gasket()], ..ReckonedFill::default() };
    let need = |quantity| vec![Need { item: gasket(), quantity: Quantity(quantity), unit: Unit::Piece }];
    let says = |own: &ReckonedFill, needs: Vec<Need>| Fact::FillReckoned {
        job: JOB,
        stage: strip(),
        step: StepNo(3),
        fill: Fill { fluid: "oil".into(), reckoned: Some(own.clone()) },
        needs,
        cautions: Vec::new(),
    };
    let journal = || {
        let mut journal = Journal::working();
        journal.at(1, Fact::StepAdded { job: JOB, stage: strip(), step: step(3) });
        journal.at(2, says(&own, need(2)));
        let (job, stage, step) = (JOB, strip(), StepNo(3));
        journal.at(5, Fact::StepDone { job, stage, step, person: Some(PERSON), overridden: None });
        journal
    };
    let caution = Caution { word: SignalWord::Warning, text: "It says otherwise.".into() };
    let gainsaid = |item| ReckonedFill { gainsaid: vec![Gainsaid { item, caution: caution.clone() }], ..own.clone() };
    let mut followed = journal();
    followed.at(6, says(&gainsaid(gasket()), need(2)));
    followed.at(7, says(&own, need(2)));
    let rows = all::<StepRow>(&followed.books());
    let row = rows.into_iter().find(|row| row.step == StepNo(3)).unwrap();
    assert_eq!((row.state, row.safety.fill.unwrap().reckoned), (StepState::Done, Some(own.clone())));
    for wrong in [
        says(&ReckonedFill { recipe: "3 L of it".into(), ..own.clone() }, need(2)),
        says(&own, need(3)),
        says(&gainsaid("other".into()), need(2)),
    ] {
        refused(journal, 6, wrong, "step", "is done");
    }
}

fn hold(second: bool) -> StepSafety {
    StepSafety { hold: Some(Hold { what: "dry".into(), second, whole: false }), ..StepSafety::default() }
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

/// Who looked as a second pair of eyes has no time on that stage from before.
#[test]
fn who_looked_at_a_hold_point_did_not_work_there_before() {
    let worked = |books: &mut Books, from: i64| {
        passed(books, true, Some(OTHER));
        let time = books.rows::<ClockingRow>().find(|row| row.stage == strip()).cloned().unwrap();
        let (from_at, until_at) = (minute(from), Some(minute(from + 1)));
        let clocking = ClockingId(id(0x999));
        books.tables_mut().put(ClockingRow { clocking, person: OTHER, from_at, until_at, on_n: 1, ..time });
    };
    assert!(broken(|books| worked(books, 18)).contains(&"hold-point"));
    assert!(!broken(|books| worked(books, 19)).contains(&"hold-point"));
}

/// A position of the job whose vehicle went, with two new pieces in its two places.
fn renewed(books: &mut Books, change: impl Fn(&mut PositionRow)) {
    let mut row = books.rows::<PositionRow>().next().cloned().unwrap();
    (row.job, row.found, row.renewed, row.scrapped) = (GONE, 2, 2, 2);
    (row.missing, row.damaged, row.refitted, row.left_out, row.kept) = (0, 0, 0, 0, 0);
    (row.detail.manner, row.detail.second_check, row.detail.tag) = (Manner::Off, false, None);
    row.detail.count = 2;
    (row.off_at, row.off_n, row.back_at, row.back_n) = (Some(minute(1)), Some(1), Some(minute(2)), Some(2));
    (row.tightness, row.checked_by, row.checked_at, row.checked_n) = (Some(Tightness::Final), None, None, None);
    change(&mut row);
    books.tables_mut().put(row);
}

#[test]
fn what_was_renewed_came_from_stock_or_a_lead_overrode_that() {
    assert_eq!(broken(|books| renewed(books, |row| row.detail.item = None)), SOUND);
    assert_eq!(broken(|books| renewed(books, |row| row.detail.item = Some("seal".into()))), ["renewed-taken"]);
    let on_a_word = broken(|books| {
        renewed(books, |row| row.detail.item = Some("seal".into()));
        let line = OverruledLine { line: "not-taken:seal".into(), reason: text(9).id, by: None };
        edit(books, |row: &JobRow| row.job == GONE, |row| row.overruled.push(line.clone()));
    });
    assert!(!on_a_word.contains(&"renewed-taken"), "{on_a_word:?}");
}

#[test]
fn as_many_were_there_as_are_listed_or_a_lead_said_why() {
    let fewer = |line: Option<&str>| {
        broken(|books| {
            renewed(books, |row| (row.detail.item, row.detail.count) = (None, 3));
            if let Some(line) = line {
                let line = OverruledLine { line: line.into(), reason: text(9).id, by: None };
                edit(books, |row: &JobRow| row.job == GONE, |row| row.overruled.push(line.clone()));
            }
        })
    };
    assert_eq!(fewer(None), ["strip-fewer"]);
    assert!(!fewer(Some("fewer:hose")).contains(&"strip-fewer"));
}

/// A system of 6 L, of which 5.5 came out: a tenth more than that may go in again, and nothing said is not nothing done.
#[test]
fn no_more_of_a_fluid_is_in_than_it_holds_and_what_was_drained_was_said() {
    let fluid = |drained_ml: i64, filled_ml: i64| {
        broken(|books| {
            let row = books.rows::<FluidRow>().next().cloned().unwrap();
            let step = books.rows::<StepRow>().find(|row| row.state == StepState::Done).cloned().unwrap();
            let (stage, number) = (step.stage.clone(), step.step);
            books.tables_mut().put(StepRow { job: GONE, ..step });
            let said = drained_ml + filled_ml > 0;
            let (said_at, said_n) = (said.then(|| minute(2)), said.then_some(2));
            let (stage, step, note) = (Some(stage), Some(number), None);
            let expected_ml = Some(6_000);
            let row =
                FluidRow { job: GONE, stage, step, note, expected_ml, drained_ml, filled_ml, said_at, said_n, ..row };
            books.tables_mut().put(row);
        })
    };
    let has = |law: &str, drained_ml, filled_ml| fluid(drained_ml, filled_ml).contains(&law);
    assert!(!has("fluid-over", 5_500, 6_000) && !has("fluid-over", 5_500, 6_100) && has("fluid-over", 5_500, 6_300));
    assert!(!has("fluid-over", 5_800, 6_300), "the surplus was let out");
    assert!(has("fluid-said", 0, 0) && !has("fluid-said", 5_500, 5_500));
}

#[test]
fn what_a_step_put_in_was_said_before_a_vehicle_went() {
    let unsaid = |books: &mut Books, manner: Manner| {
        let step = books.rows::<StepRow>().find(|row| row.job == JOB && row.state == StepState::Done).cloned().unwrap();
        let (stage, number) = (step.stage.clone(), step.step);
        books.tables_mut().put(StepRow { job: GONE, ..step });
        renewed(books, |row| {
            (row.stage, row.step, row.detail.item) = (stage.clone(), Some(number), None);
            (row.found, row.renewed, row.scrapped, row.detail.manner) = (0, 0, 0, manner);
            (row.off_at, row.off_n, row.back_at, row.back_n, row.tightness) = (None, None, None, None, None);
        });
    };
    assert_eq!(broken(|books| unsaid(books, Manner::In)), ["step-said"]);
    assert_eq!(broken(|books| unsaid(books, Manner::Off)), SOUND);
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
