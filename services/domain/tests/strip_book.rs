//! The strip book told as a story: what comes off goes back in its order, the law of places and pieces, who looks at
//! whose work, and what a vehicle may not leave with. The rules are the project's own; the balance of seven positions
//! is worked by hand, as common practice.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod stock_kit;

use leadhand_domain::answer::{Answer, Made, Notice};
use leadhand_domain::command::*;
use leadhand_domain::refusal::Refusal;
use leadhand_domain::strip::{Open, refit};
use leadhand_domain::view::strip::strip_view;
use leadhand_facts::rows::PositionRow;
use leadhand_facts::words::{Keep, Manner, Role, Tightness};
use leadhand_facts::*;
use stock_kit::Shop;

const JOB: JobNo = JobNo(1);

const TEMPLATE: &str = r#"
key = "top-end"
title = "The top end"

[[stage]]
key = "strip"
title = "Strip"
minutes = [20, 30, 60]

[[stage.step]]
do = "Cover the ports"

[[stage.step.in]]
key = "port-covers"
what = "Port covers"
count = 4
back = "refit"

[[stage.step]]
do = "Take the rail and the manifold off"

[[stage.step.off]]
key = "airbox"
what = "Airbox"
back = "refit"

[[stage.step.off]]
key = "rail"
what = "Fuel rail"
behind = ["airbox"]
back = "refit"

[[stage.step.off]]
key = "rail-bolts"
what = "Bolts of the fuel rail"
kind = "fastener"
count = 7
size = "M6 x 20"
on = "rail"
keep = "tray"
back = "refit"
tighten = ["10 N.m"]

[[stage.step.off]]
key = "head-bolts"
what = "Head bolts"
kind = "fastener"
count = 10
behind = ["rail"]
renew = "always"
back = "refit"
tighten = ["30 N.m", "90 deg", "90 deg"]
second-check = true

[[stage]]
key = "refit"
title = "Refit"
minutes = [20, 30, 60]
after = ["strip"]
"#;

struct Bench {
    shop: Shop,
    flint: PersonId,
    moss: PersonId,
}

impl Bench {
    /// The strip is under way; Flint acts.
    fn open() -> Self {
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
            template: Some("top-end".into()),
            revision: None,
            title: None,
            vehicle: WhichVehicle::New { label: "van".into(), weight_kg: None, plate: None, customer: None },
            priority: 3,
            promised_at: None,
            with: vec![],
            without: vec![],
        });
        let mut bench = Self { shop, flint, moss };
        bench.acts(Some(flint), Role::Technician);
        bench.must(StartStage { job: JOB, stage: "strip".into(), override_reason: None });
        bench
    }

    fn acts(&mut self, person: Option<PersonId>, role: Role) {
        (self.shop.person, self.shop.role) = (person, role);
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

    fn row(&self, position: &str) -> &PositionRow {
        self.shop.state.positions.get(&(JOB, position.into())).unwrap()
    }

    fn open_lines(&self) -> Vec<Open> {
        strip_view(&self.shop.state, JOB).open
    }

    /// Everything off as listed, and the refit under way.
    fn stripped() -> Self {
        let mut bench = Self::open();
        bench.must(finish("strip", true));
        bench.must(StartStage { job: JOB, stage: "refit".into(), override_reason: None });
        bench
    }
}

fn finish(stage: &str, as_listed: bool) -> FinishStage {
    FinishStage { job: JOB, stage: stage.into(), as_listed }
}

fn off(lines: Vec<OffLine>, as_listed: bool) -> TakeOff {
    TakeOff { job: JOB, stage: "strip".into(), step: None, lines, as_listed, override_reason: None }
}

fn line(position: &str) -> OffLine {
    OffLine::listed(position.into())
}

fn back(lines: Vec<BackLine>) -> PutBack {
    PutBack { job: JOB, stage: "refit".into(), lines, as_listed: false, override_reason: None }
}

fn put(position: &str) -> BackLine {
    BackLine::listed(position.into())
}

fn check(position: &str) -> ConfirmPositions {
    ConfirmPositions { job: JOB, positions: vec![position.into()] }
}

fn met(what: &str) -> AddPosition {
    AddPosition {
        job: JOB,
        stage: "strip".into(),
        position: None,
        what: what.into(),
        kind: None,
        manner: Manner::Off,
        count: 1,
        size: None,
        location: None,
        behind: None,
        attached_to: None,
        keep: None,
        renew: None,
        back: None,
        note: None,
        later: false,
        tags: false,
        item: None,
    }
}

fn complete(reason: Option<&str>) -> CompleteJob {
    CompleteJob { job: JOB, override_reason: reason.map(str::to_owned), overrides: vec![] }
}

#[test]
fn one_touch_says_that_all_came_off_as_listed() {
    let mut bench = Bench::open();
    bench.must(off(vec![], true));
    let counts: Vec<(String, i32)> =
        bench.shop.state.positions.iter().map(|row| (row.position.to_string(), row.found)).collect();
    let listed = [("airbox", 1), ("head-bolts", 10), ("port-covers", 4), ("rail", 1), ("rail-bolts", 7)];
    assert_eq!(counts, listed.map(|(key, count)| (key.to_owned(), count)));
    assert_eq!((bench.row("rail-bolts").keep, bench.row("port-covers").keep), (Some(Keep::Tray), None));
    assert_eq!(bench.refused(off(vec![], true)), "NOTHING_TO_DO");
    assert_eq!(bench.refused(off(vec![line("rail")], false)), "POSITION_SAID");
}

/// Seven positions, six found and one missing before; six refitted and one renewed; six pieces removed, six refitted.
#[test]
fn seven_positions_balance_by_hand() {
    let mut bench = Bench::open();
    bench.must(off(vec![OffLine { missing: Some(1), ..line("rail-bolts") }], true));
    assert_eq!((bench.row("rail-bolts").found, bench.row("rail-bolts").missing), (6, 1));
    bench.must(finish("strip", true));
    bench.must(StartStage { job: JOB, stage: "refit".into(), override_reason: None });
    bench.must(back(vec![put("head-bolts"), put("rail")]));
    bench.must(back(vec![BackLine { refitted: Some(6), ..put("rail-bolts") }]));
    let places = Open::Places { position: "rail-bolts".into(), settled: 6, of: 7 };
    assert!(bench.open_lines().contains(&places), "{:?}", bench.open_lines());
    bench.must(back(vec![BackLine { renewed: Some(1), ..put("rail-bolts") }]));
    assert!(!bench.open_lines().iter().any(|open| open.position().as_str() == "rail-bolts"));
    let row = bench.row("rail-bolts");
    assert_eq!((row.found + row.missing, row.refitted + row.renewed + row.left_out), (7, 7));
    assert_eq!((row.found, row.refitted + row.scrapped + row.kept), (6, 6));
}

/// A new bolt in the place of an old one leaves a piece that must be somewhere.
#[test]
fn a_piece_that_is_nowhere_is_named() {
    let mut bench = Bench::stripped();
    bench.must(back(vec![put("head-bolts"), put("rail")]));
    bench.must(back(vec![BackLine { refitted: Some(6), renewed: Some(1), ..put("rail-bolts") }]));
    let nowhere = Open::Pieces { position: "rail-bolts".into(), settled: 6, of: 7 };
    assert!(bench.open_lines().contains(&nowhere), "{:?}", bench.open_lines());
    bench.must(back(vec![BackLine { refitted: Some(0), renewed: Some(0), kept: 1, ..put("rail-bolts") }]));
    assert!(!bench.open_lines().contains(&nowhere));
    let more = back(vec![BackLine { scrapped: Some(1), refitted: Some(0), ..put("rail-bolts") }]);
    assert_eq!(bench.refused(more), "TOO_MANY_BACK");
}

/// Which of two lines holds would be a guess, and a step without "as listed" picks nothing.
#[test]
fn a_line_is_said_once_and_a_step_picks_from_what_is_listed() {
    let mut bench = Bench::open();
    assert_eq!(bench.refused(off(vec![line("airbox"), line("airbox")], false)), "INVALID_FIELD");
    assert_eq!(bench.refused(TakeOff { step: Some(StepNo(1)), ..off(vec![line("airbox")], false) }), "INVALID_FIELD");
    assert_eq!(bench.refused(TakeOff { step: Some(StepNo(99)), ..off(vec![], true) }), "NOT_FOUND");
    let mut bench = Bench::stripped();
    assert_eq!(bench.refused(back(vec![put("rail"), put("rail")])), "INVALID_FIELD");
}

#[test]
fn nothing_comes_off_before_what_it_is_behind_or_while_something_hangs_on_it() {
    let mut bench = Bench::open();
    assert_eq!(bench.refused(off(vec![line("rail")], false)), "BEHIND_OTHERS");
    bench.must(off(vec![line("airbox")], false));
    assert_eq!(bench.refused(off(vec![line("rail")], false)), "STILL_ATTACHED");
    // What is named together comes off together, in whatever order it is named.
    bench.must(off(vec![line("rail"), line("rail-bolts")], false));
    // The book's way was not possible: the lead says so, by name.
    let mut bench = Bench::open();
    let out_of_order =
        TakeOff { override_reason: Some("no room for the airbox".into()), ..off(vec![line("rail")], false) };
    assert_eq!(bench.refused(out_of_order.clone()), "LEAD_ONLY");
    bench.acts(Some(bench.flint), Role::Lead);
    bench.must(out_of_order);
    assert!(bench.row("rail").note.is_some(), "the reason stays");
}

#[test]
fn it_goes_back_in_the_other_order() {
    let mut bench = Bench::stripped();
    assert_eq!(bench.refused(back(vec![put("airbox")])), "OTHERS_FIRST");
    assert_eq!(bench.refused(back(vec![put("rail-bolts")])), "OTHERS_FIRST");
    assert_eq!(bench.refused(back(vec![put("rail")])), "OTHERS_FIRST");
    for position in ["head-bolts", "rail", "rail-bolts", "airbox"] {
        bench.must(back(vec![put(position)]));
    }
    let view = strip_view(&bench.shop.state, JOB);
    let done: Vec<(&str, bool)> = view.refit.iter().map(|line| (line.position.as_str(), line.done)).collect();
    assert_eq!(
        done,
        [("port-covers", false), ("head-bolts", true), ("rail", true), ("rail-bolts", true), ("airbox", true)]
    );
}

#[test]
fn the_refit_follows_what_was_really_met() {
    let mut bench = Bench::open();
    bench.must(off(vec![line("airbox")], false));
    // Nobody said behind what: behind all that came off in the stage so far.
    let Made::Position { position, .. } = bench.must(met("hidden hose under the inlet")).made else { panic!() };
    assert_eq!(position.as_str(), "found-6");
    assert_eq!(bench.row("found-6").detail.behind, [PositionKey::from("airbox")]);
    bench.must(off(vec![], true));
    let rows: Vec<&PositionRow> = bench.shop.state.positions.iter().collect();
    let order = refit(&rows, &[]);
    let place = |key: &str| order.iter().position(|line| line.position.as_str() == key).unwrap();
    assert!(place("found-6") < place("airbox"), "{order:?}");
    // A ring is refused: the rail is behind the airbox already.
    let ring = AddPosition {
        position: Some("clip".into()),
        behind: Some(vec!["rail".into()]),
        attached_to: Some("airbox".into()),
        ..met("clip")
    };
    assert_eq!(bench.refused(ring), "POSITION_RING");
    let strange = AddPosition { behind: Some(vec!["nothing".into()]), ..met("clip") };
    assert_eq!(bench.refused(strange), "NOT_FOUND");
}

#[test]
fn another_count_asks_for_a_word() {
    let mut bench = Bench::open();
    let eight = OffLine { found: Some(8), ..line("rail-bolts") };
    assert_eq!(bench.refused(off(vec![eight.clone()], true)), "OTHER_COUNT");
    bench.must(off(vec![OffLine { note: Some("one more behind the bracket".into()), ..eight }], true));
    assert_eq!(bench.row("rail-bolts").found, 8);
    // Damaged pieces, and places that were empty, will need new ones.
    let mut bench = Bench::open();
    let answer = bench.must(off(vec![OffLine { damaged: 2, missing: Some(1), ..line("rail-bolts") }], true));
    assert_eq!(answer.notices, [Notice::NewPieces { position: "rail-bolts".into(), pieces: 3 }]);
    let all = OffLine { damaged: 8, ..line("rail-bolts") };
    assert_eq!(Bench::open().refused(off(vec![all], true)), "INVALID_FIELD");
}

#[test]
fn what_is_always_renewed_goes_back_new() {
    let mut bench = Bench::stripped();
    let old = back(vec![BackLine { refitted: Some(10), ..put("head-bolts") }]);
    assert_eq!(bench.refused(old.clone()), "RENEW_ALWAYS");
    bench.must(back(vec![put("head-bolts")]));
    let row = bench.row("head-bolts");
    assert_eq!((row.renewed, row.scrapped, row.refitted), (10, 10, 0), "the old ones are thrown away");
    let mut bench = Bench::stripped();
    bench.acts(Some(bench.flint), Role::Lead);
    bench.must(PutBack { override_reason: Some("the set comes tomorrow, mock-up only".into()), ..old });
    assert!(bench.row("head-bolts").reason.is_some());
}

#[test]
fn nobody_looks_at_their_own_work() {
    let mut bench = Bench::stripped();
    assert_eq!(bench.refused(check("head-bolts")), "NOT_WHOLE_YET");
    bench.must(back(vec![BackLine { tightness: Some(Tightness::Finger), ..put("head-bolts") }]));
    bench.acts(Some(bench.moss), Role::Technician);
    assert_eq!(bench.refused(check("head-bolts")), "NOT_WHOLE_YET");
    let tighten = TightenPositions { job: JOB, positions: vec!["head-bolts".into()], tightness: Tightness::Final };
    bench.must(tighten.clone());
    assert_eq!(bench.refused(tighten), "AS_TIGHT");
    // Moss tightened them last, so it is Moss' work.
    assert_eq!(bench.refused(check("head-bolts")), "OWN_WORK");
    bench.acts(None, Role::Technician);
    assert_eq!(bench.refused(check("head-bolts")), "NAME_NEEDED");
    bench.acts(Some(bench.flint), Role::Technician);
    bench.must(check("head-bolts"));
    assert_eq!(bench.row("head-bolts").checked_by, Some(bench.flint));
}

#[test]
fn a_vehicle_does_not_leave_with_anything_open() {
    let mut bench = Bench::stripped();
    assert_eq!(bench.refused(finish("refit", false)), "POSITIONS_UNSAID");
    let some = ["head-bolts", "rail", "rail-bolts", "airbox"].map(put).to_vec();
    bench.must(back(some));
    bench.acts(Some(bench.flint), Role::Lead);
    assert_eq!(bench.refused(finish("refit", false)), "POSITIONS_UNSAID");
    bench.must(back(vec![BackLine { refitted: Some(3), ..put("port-covers") }]));
    // One cover is forgotten. The stage may be ended by nobody, and the vehicle goes with nobody's word.
    assert_eq!(bench.refused(finish("refit", false)), "POSITIONS_UNSAID");
    bench.must(SkipStage { job: JOB, stage: "refit".into(), reason: "he says all is in".into() });
    assert_eq!(bench.refused(complete(None)), "HAND_OVER_FOR_GOOD");
    assert_eq!(bench.refused(complete(Some("customer waits"))), "HAND_OVER_FOR_GOOD");
    let still = Open::StillIn { position: "port-covers".into(), pieces: 1 };
    assert_eq!(bench.open_lines(), [Open::NotChecked { position: "head-bolts".into() }, still]);
}

#[test]
fn places_may_be_overruled_by_a_lead_and_what_is_in_never() {
    let mut bench = Bench::stripped();
    bench.must(back(vec![put("head-bolts"), put("rail"), put("rail-bolts"), put("port-covers")]));
    bench.acts(Some(bench.moss), Role::Lead);
    bench.must(check("head-bolts"));
    bench.must(SkipStage { job: JOB, stage: "refit".into(), reason: "the airbox is on order".into() });
    let refused = bench.run(complete(None)).unwrap_err();
    assert_eq!(refused.reason(), "HAND_OVER_OPEN");
    assert!(refused.to_string().contains("airbox: 0 of 1 place(s) refitted, renewed or left out"), "{refused}");
    bench.must(complete(Some("drives without it until Friday")));
    assert!(bench.shop.state.jobs.get(&(JOB,)).unwrap().overridden.is_some());
}

#[test]
fn a_book_that_balances_lets_the_vehicle_go_without_a_word() {
    let mut bench = Bench::stripped();
    bench.must(finish("refit", true));
    bench.acts(Some(bench.moss), Role::Lead);
    assert_eq!(bench.refused(complete(None)), "HAND_OVER_FOR_GOOD");
    bench.must(check("head-bolts"));
    bench.must(complete(None));
    assert!(bench.shop.state.jobs.get(&(JOB,)).unwrap().overridden.is_none());
    assert_eq!(bench.refused(off(vec![], true)), "JOB_CLOSED");
}

/// Put back in its own hole is kept there, and never looks refitted.
#[test]
fn a_bolt_in_its_own_hole_is_still_off() {
    let mut bench = Bench::open();
    bench.must(off(vec![OffLine { keep: Some(Keep::OwnHole), ..line("rail-bolts") }], true));
    assert!(bench.open_lines().contains(&Open::Places { position: "rail-bolts".into(), settled: 0, of: 7 }));
}

#[test]
fn a_wrong_word_is_taken_back_step_by_step() {
    let mut bench = Bench::stripped();
    let reopen = |position: &str| ReopenPosition { job: JOB, position: position.into(), reason: "wrong".into() };
    bench.must(back(vec![put("head-bolts")]));
    bench.must(reopen("head-bolts"));
    assert_eq!((bench.row("head-bolts").found, bench.row("head-bolts").renewed), (10, 0), "it is off again");
    // They ask for a second check, and nobody would ask for it any more.
    assert_eq!(bench.refused(reopen("head-bolts")), "STAGE_STATE");
    bench.must(reopen("airbox"));
    assert_eq!((bench.row("airbox").found, bench.row("airbox").off_n), (0, None));
    assert_eq!(bench.refused(reopen("airbox")), "NOTHING_TO_DO");
    assert_eq!(bench.refused(back(vec![put("airbox")])), "NOT_OFF");
}

#[test]
fn calling_a_job_off_says_what_the_vehicle_goes_with() {
    let mut bench = Bench::stripped();
    bench.acts(Some(bench.flint), Role::Lead);
    let answer = bench.must(CancelJob { job: JOB, reason: "sold as it stands".into() });
    let left: Vec<Notice> = ["port-covers", "airbox", "head-bolts", "rail", "rail-bolts"]
        .map(|position| Notice::LeftOpen { position: position.into() })
        .to_vec();
    let said: Vec<&Notice> = answer.notices.iter().filter(|one| left.contains(one)).collect();
    assert_eq!(said.len(), 5, "{:?}", answer.notices);
}

/// More left empty, or kept, than there is would make less than nothing of the rest.
#[test]
fn more_than_there_is_is_refused_and_never_goes_back_by_less_than_nothing() {
    let mut bench = Bench::stripped();
    bench.must(back(vec![put("head-bolts"), put("rail")]));
    let reason = || Some("it is on order".to_owned());
    let empty = BackLine { left_out: 8, reason: reason(), ..put("rail-bolts") };
    assert_eq!(bench.refused(back(vec![empty])), "TOO_MANY_BACK");
    let kept = BackLine { kept: 8, ..put("rail-bolts") };
    assert_eq!(bench.refused(back(vec![kept])), "TOO_MANY_BACK");
    bench.must(back(vec![put("rail-bolts")]));
    let one = BackLine { left_out: 1, reason: reason(), ..put("rail-bolts") };
    assert_eq!(bench.refused(back(vec![one])), "TOO_MANY_BACK");
}
