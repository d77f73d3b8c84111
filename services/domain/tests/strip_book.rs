//! The strip book told as a story: what comes off goes back in its order, the law of places and pieces, who looks at
//! whose work, and what a vehicle may not leave with. The rules are the project's own; the balance of seven positions
//! is worked by hand, as common practice.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod bay_kit;
mod stock_kit;

use bay_kit::*;
use leadhand_domain::answer::{Answer, Made, Notice, WentBack};
use leadhand_domain::command::*;
use leadhand_domain::strip::{Open, refit};
use leadhand_domain::view::strip::strip_view;
use leadhand_facts::rows::PositionRow;
use leadhand_facts::words::{Keep, Role, Tightness};
use leadhand_facts::*;

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
behind = []
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

fn open() -> Bench {
    Bench::begun(TEMPLATE, "strip")
}

/// Everything off as listed, and the refit under way.
fn stripped() -> Bench {
    let mut bench = open();
    bench.must(finish("strip", true));
    bench.must(start("refit"));
    bench
}

fn open_lines(bench: &Bench) -> Vec<Open> {
    strip_view(&bench.shop.state, JOB).open
}

/// As tight as it has to be.
fn tight(position: &str) -> BackLine {
    BackLine { tightness: Some(Tightness::Final), ..put(position) }
}

fn check(position: &str) -> ConfirmPositions {
    ConfirmPositions { job: JOB, positions: vec![position.into()] }
}

fn complete() -> CompleteJob {
    CompleteJob { job: JOB, override_reason: None, overrides: vec![] }
}

#[test]
fn one_touch_says_that_all_came_off_as_listed() {
    let mut bench = open();
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
    let mut bench = open();
    bench.must(off(vec![OffLine { missing: Some(1), ..line("rail-bolts") }], true));
    assert_eq!((bench.row("rail-bolts").found, bench.row("rail-bolts").missing), (6, 1));
    bench.must(finish("strip", true));
    bench.must(start("refit"));
    bench.must(back(vec![put("head-bolts"), put("rail")]));
    bench.must(back(vec![BackLine { refitted: Some(6), ..tight("rail-bolts") }]));
    let places = Open::Places { position: "rail-bolts".into(), settled: 6, of: 7 };
    assert!(open_lines(&bench).contains(&places), "{:?}", open_lines(&bench));
    bench.must(back(vec![BackLine { renewed: Some(1), ..tight("rail-bolts") }]));
    assert!(!open_lines(&bench).iter().any(|open| open.position().as_str() == "rail-bolts"));
    let row = bench.row("rail-bolts");
    assert_eq!((row.found + row.missing, row.refitted + row.renewed + row.left_out), (7, 7));
    assert_eq!((row.found, row.refitted + row.scrapped + row.kept), (6, 6));
}

/// A new bolt in the place of an old one leaves a piece that must be somewhere.
#[test]
fn a_piece_that_is_nowhere_is_named() {
    let mut bench = stripped();
    bench.must(back(vec![put("head-bolts"), put("rail")]));
    bench.must(back(vec![BackLine { refitted: Some(6), renewed: Some(1), ..put("rail-bolts") }]));
    let nowhere = Open::Pieces { position: "rail-bolts".into(), settled: 6, of: 7 };
    assert!(open_lines(&bench).contains(&nowhere), "{:?}", open_lines(&bench));
    bench.must(back(vec![BackLine { refitted: Some(0), renewed: Some(0), kept: 1, ..put("rail-bolts") }]));
    assert!(!open_lines(&bench).contains(&nowhere));
    let more = back(vec![BackLine { scrapped: Some(1), refitted: Some(0), ..put("rail-bolts") }]);
    assert_eq!(bench.refused(more), "TOO_MANY_BACK");
}

/// Which of two lines holds would be a guess, and a step without "as listed" picks nothing.
#[test]
fn a_line_is_said_once_and_a_step_picks_from_what_is_listed() {
    let mut bench = open();
    assert_eq!(bench.refused(off(vec![line("airbox"), line("airbox")], false)), "INVALID_FIELD");
    assert_eq!(bench.refused(TakeOff { step: Some(StepNo(1)), ..off(vec![line("airbox")], false) }), "INVALID_FIELD");
    assert_eq!(bench.refused(TakeOff { step: Some(StepNo(99)), ..off(vec![], true) }), "NOT_FOUND");
    let mut bench = stripped();
    assert_eq!(bench.refused(back(vec![put("rail"), put("rail")])), "INVALID_FIELD");
}

#[test]
fn nothing_comes_off_before_what_it_is_behind_or_while_something_hangs_on_it() {
    let mut bench = open();
    assert_eq!(bench.refused(off(vec![line("rail")], false)), "BEHIND_OTHERS");
    bench.must(off(vec![line("airbox")], false));
    assert_eq!(bench.refused(off(vec![line("rail")], false)), "STILL_ATTACHED");
    // What is named together comes off together, in whatever order it is named.
    bench.must(off(vec![line("rail"), line("rail-bolts")], false));
    // The book's way was not possible: the lead says so, by name.
    let mut bench = open();
    let out_of_order =
        TakeOff { override_reason: Some("no room for the airbox".into()), ..off(vec![line("rail")], false) };
    assert_eq!(bench.refused(out_of_order.clone()), "LEAD_ONLY");
    bench.acts(bench.flint, Role::Lead);
    bench.must(out_of_order);
    let row = bench.row("rail");
    assert_eq!((row.note, row.off_overruled.len()), (None, 1), "it is an override and no note");
    assert_eq!((row.off_overruled[0].line.as_str(), row.off_overruled[0].by), ("off-order:rail", Some(bench.flint)));
}

#[test]
fn it_goes_back_in_the_other_order() {
    let mut bench = stripped();
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
        [("head-bolts", true), ("rail", true), ("rail-bolts", true), ("airbox", true), ("port-covers", false)]
    );
}

#[test]
fn the_refit_follows_what_was_really_met() {
    let mut bench = open();
    bench.must(off(vec![line("airbox")], false));
    // Nobody said behind what: behind all that came off in the stage so far.
    let Made::Position { position, .. } = bench.must(met("hidden hose under the inlet")).made else { panic!() };
    assert_eq!(position.as_str(), "found-1");
    assert_eq!(bench.row("found-1").detail.behind, [PositionKey::from("airbox")]);
    bench.must(off(vec![], true));
    let rows: Vec<&PositionRow> = bench.shop.state.positions.iter().collect();
    let order = refit(&rows, &[]);
    let place = |key: &str| order.iter().position(|line| line.position.as_str() == key).unwrap();
    assert!(place("found-1") < place("airbox"), "{order:?}");
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
    let mut bench = open();
    let eight = OffLine { found: Some(8), ..line("rail-bolts") };
    assert_eq!(bench.refused(off(vec![eight.clone()], true)), "OTHER_COUNT");
    bench.must(off(vec![OffLine { note: Some("one more behind the bracket".into()), ..eight }], true));
    assert_eq!(bench.row("rail-bolts").found, 8);
    // Damaged pieces, and places that were empty, will need new ones.
    let mut bench = open();
    let answer = bench.must(off(vec![OffLine { damaged: 2, missing: Some(1), ..line("rail-bolts") }], true));
    assert_eq!(answer.notices, [Notice::NewPieces { position: "rail-bolts".into(), pieces: 3 }]);
    let all = OffLine { damaged: 8, ..line("rail-bolts") };
    assert_eq!(open().refused(off(vec![all], true)), "INVALID_FIELD");
}

#[test]
fn what_is_always_renewed_goes_back_new() {
    let mut bench = stripped();
    let old = back(vec![BackLine { refitted: Some(10), ..put("head-bolts") }]);
    assert_eq!(bench.refused(old.clone()), "RENEW_ALWAYS");
    bench.must(back(vec![put("head-bolts")]));
    let row = bench.row("head-bolts");
    assert_eq!((row.renewed, row.scrapped, row.refitted), (10, 10, 0), "the old ones are thrown away");
    let mut bench = stripped();
    bench.acts(bench.flint, Role::Lead);
    bench.must(PutBack { override_reason: Some("the set comes tomorrow, mock-up only".into()), ..old });
    let row = bench.row("head-bolts");
    let [overruled] = row.back_overruled.as_slice() else { panic!("{row:?}") };
    assert_eq!((overruled.line.as_str(), overruled.by, row.reason), ("old-part:head-bolts", Some(bench.flint), None));
}

#[test]
fn nobody_looks_at_their_own_work() {
    let mut bench = stripped();
    assert_eq!(bench.refused(check("head-bolts")), "NOT_WHOLE_YET");
    bench.must(back(vec![BackLine { tightness: Some(Tightness::Finger), ..put("head-bolts") }]));
    bench.acts(bench.moss, Role::Technician);
    assert_eq!(bench.refused(check("head-bolts")), "NOT_WHOLE_YET");
    let tighten = TightenPositions { job: JOB, positions: vec!["head-bolts".into()], tightness: Tightness::Final };
    bench.must(tighten.clone());
    assert_eq!(bench.refused(tighten), "AS_TIGHT");
    // Moss tightened them last, so it is Moss' work.
    assert_eq!(bench.refused(check("head-bolts")), "OWN_WORK");
    bench.device(Role::Technician);
    assert_eq!(bench.refused(check("head-bolts")), "NAME_NEEDED");
    bench.acts(bench.flint, Role::Technician);
    bench.must(check("head-bolts"));
    assert_eq!(bench.row("head-bolts").checked_by, Some(bench.flint));
}

#[test]
fn whoever_had_a_hand_in_it_does_not_look_at_it() {
    let mut bench = stripped();
    let one = |tightness| BackLine { renewed: Some(1), tightness: Some(tightness), ..put("head-bolts") };
    let first = bench.shop.person.unwrap();
    bench.must(back(vec![one(Tightness::Finger)]));
    bench.acts(bench.moss, Role::Technician);
    bench.must(back(vec![tight("head-bolts")]));
    assert_eq!(bench.row("head-bolts").hands, [first, bench.moss]);
    // The last word says nothing of the bolt before.
    assert_eq!(bench.row("head-bolts").tightness, Some(Tightness::Finger));
    let taken = ReopenPosition { job: JOB, position: "head-bolts".into(), reason: "anew".into() };
    bench.must(taken.clone());
    bench.must(back(vec![one(Tightness::Final)]));
    bench.acts(first, Role::Technician);
    bench.must(back(vec![tight("head-bolts")]));
    for person in [first, bench.moss] {
        bench.acts(person, Role::Technician);
        assert_eq!(bench.refused(check("head-bolts")), "OWN_WORK");
    }
    // Without a name nobody knows whose work it is.
    bench.must(taken);
    bench.device(Role::Technician);
    bench.must(back(vec![tight("head-bolts")]));
    bench.acts(bench.moss, Role::Technician);
    assert_eq!(bench.refused(check("head-bolts")), "NOBODYS_WORK");
}

#[test]
fn a_vehicle_does_not_leave_with_anything_open() {
    let mut bench = stripped();
    assert_eq!(bench.refused(finish("refit", false)), "POSITIONS_UNSAID");
    let some = ["head-bolts", "rail", "rail-bolts", "airbox"].map(tight).to_vec();
    bench.must(back(some));
    bench.acts(bench.flint, Role::Lead);
    assert_eq!(bench.refused(finish("refit", false)), "POSITIONS_UNSAID");
    bench.must(back(vec![BackLine { refitted: Some(3), ..put("port-covers") }]));
    // One cover is forgotten. The stage may be ended by nobody, and the vehicle goes with nobody's word.
    assert_eq!(bench.refused(finish("refit", false)), "POSITIONS_UNSAID");
    bench.must(SkipStage { job: JOB, stage: "refit".into(), reason: "he says all is in".into() });
    assert_eq!(bench.refused(complete()), "HAND_OVER_FOR_GOOD");
    let named = stock_kit::named(&bench.shop.state, JOB, bench.shop.now, "customer waits");
    assert_eq!(bench.refused(named), "HAND_OVER_FOR_GOOD");
    let still = Open::StillIn { position: "port-covers".into(), pieces: 1 };
    assert_eq!(open_lines(&bench), [Open::NotChecked { position: "head-bolts".into() }, still]);
}

#[test]
fn places_may_be_overruled_by_a_lead_and_what_is_in_never() {
    let mut bench = stripped();
    bench.must(back(vec![tight("head-bolts"), put("rail"), tight("rail-bolts"), put("port-covers")]));
    bench.acts(bench.moss, Role::Lead);
    bench.must(check("head-bolts"));
    bench.must(SkipStage { job: JOB, stage: "refit".into(), reason: "the airbox is on order".into() });
    let refused = bench.run(complete()).unwrap_err();
    assert_eq!(refused.reason(), "HAND_OVER_OPEN");
    assert!(refused.to_string().contains("airbox: 0 of 1 place(s) refitted, renewed or left out"), "{refused}");
    bench.must(stock_kit::named(&bench.shop.state, JOB, bench.shop.now, "drives without it until Friday"));
    assert_eq!(bench.shop.state.jobs.get(&(JOB,)).unwrap().overruled.len(), 2, "the place and the piece, each by name");
}

#[test]
fn a_book_that_balances_lets_the_vehicle_go_without_a_word() {
    let mut bench = stripped();
    bench.must(finish("refit", true));
    bench.acts(bench.moss, Role::Lead);
    assert_eq!(bench.refused(complete()), "HAND_OVER_FOR_GOOD");
    bench.must(check("head-bolts"));
    bench.must(complete());
    assert!(bench.shop.state.jobs.get(&(JOB,)).unwrap().overruled.is_empty());
    assert_eq!(bench.refused(off(vec![], true)), "JOB_CLOSED");
}

/// Put back in its own hole is kept there, and never looks refitted.
#[test]
fn a_bolt_in_its_own_hole_is_still_off() {
    let mut bench = open();
    bench.must(off(vec![OffLine { keep: Some(Keep::OwnHole), ..line("rail-bolts") }], true));
    assert!(open_lines(&bench).contains(&Open::Places { position: "rail-bolts".into(), settled: 0, of: 7 }));
}

#[test]
fn a_wrong_word_is_taken_back_step_by_step() {
    let mut bench = stripped();
    let reopen = |position: &str| ReopenPosition { job: JOB, position: position.into(), reason: "wrong".into() };
    bench.must(back(vec![put("head-bolts")]));
    bench.must(reopen("head-bolts"));
    assert_eq!((bench.row("head-bolts").found, bench.row("head-bolts").renewed), (10, 0), "it is off again");
    // The stage in which they came off is over, and nobody would ask for it any more.
    assert_eq!(bench.refused(reopen("head-bolts")), "STAGE_STATE");
    assert_eq!(bench.refused(reopen("airbox")), "STAGE_STATE");
    // While it goes on, whoever was wrong says it anew.
    let mut bench = open();
    bench.must(off(vec![line("airbox")], false));
    bench.must(reopen("airbox"));
    assert_eq!((bench.row("airbox").found, bench.row("airbox").off_n), (0, None));
    assert_eq!(bench.refused(reopen("airbox")), "NOTHING_TO_DO");
}

#[test]
fn calling_a_job_off_says_what_the_vehicle_goes_with() {
    let mut bench = stripped();
    bench.acts(bench.flint, Role::Lead);
    let answer = bench.must(CancelJob { job: JOB, reason: "sold as it stands".into(), as_it_is: true });
    let left: Vec<Notice> = ["port-covers", "airbox", "head-bolts", "rail", "rail-bolts"]
        .map(|position| Notice::LeftOpen { position: position.into() })
        .to_vec();
    let said: Vec<&Notice> = answer.notices.iter().filter(|one| left.contains(one)).collect();
    assert_eq!(said.len(), 5, "{:?}", answer.notices);
}

/// More left empty, or kept, than there is would make less than nothing of the rest.
#[test]
fn more_than_there_is_is_refused_and_never_goes_back_by_less_than_nothing() {
    let mut bench = stripped();
    bench.must(back(vec![put("head-bolts"), put("rail")]));
    let reason = || Some("it is on order".to_owned());
    bench.acts(bench.moss, Role::Lead);
    let back = |lines: Vec<BackLine>| PutBack { override_reason: Some("so be it".into()), ..back(lines) };
    let empty = BackLine { left_out: 8, reason: reason(), ..put("rail-bolts") };
    assert_eq!(bench.refused(back(vec![empty])), "TOO_MANY_BACK");
    let kept = BackLine { kept: 8, ..put("rail-bolts") };
    assert_eq!(bench.refused(back(vec![kept])), "TOO_MANY_BACK");
    bench.must(back(vec![put("rail-bolts")]));
    let one = BackLine { left_out: 1, reason: reason(), ..put("rail-bolts") };
    assert_eq!(bench.refused(back(vec![one])), "TOO_MANY_BACK");
}

fn said(answer: Answer) -> WentBack {
    let Made::Back(mut lines) = answer.made else { panic!() };
    lines.pop().unwrap()
}

/// Worked by hand: seven bolts, one of them kept for the file. Six go back; nobody said that there is a seventh.
#[test]
fn a_piece_that_is_kept_makes_no_new_one() {
    let mut bench = stripped();
    bench.must(back(vec![tight("head-bolts"), put("rail")]));
    let line = said(bench.must(back(vec![BackLine { kept: 1, ..put("rail-bolts") }])));
    assert_eq!((line.refitted, line.renewed, line.kept, line.scrapped), (6, 0, 1, 0));
    assert_eq!((line.places_left, line.pieces_left), (1, 0), "its place stays open");
    let open = Open::Places { position: "rail-bolts".into(), settled: 6, of: 7 };
    assert!(open_lines(&bench).contains(&open));
    // A place that is left empty leaves a piece, which nobody threw away.
    let mut bench = stripped();
    bench.must(back(vec![tight("head-bolts"), put("rail")]));
    let empty = BackLine { left_out: 1, reason: Some("stripped thread".into()), ..put("rail-bolts") };
    // A fastener's place that stays empty is a lead's word, and stays.
    let alone = PutBack { override_reason: Some("it holds with six".into()), ..back(vec![empty.clone()]) };
    assert_eq!(bench.refused(back(vec![empty])), "LEFT_OUT");
    assert_eq!(bench.refused(alone.clone()), "LEAD_ONLY");
    bench.acts(bench.moss, Role::Lead);
    let line = said(bench.must(alone));
    assert_eq!((line.refitted, line.renewed, line.scrapped, line.pieces_left), (6, 0, 0, 1));
    let told: Vec<&str> = bench.row("rail-bolts").back_overruled.iter().map(|one| one.line.as_str()).collect();
    assert_eq!(told, ["left-empty:rail-bolts"]);
}

/// Worked by hand: seven places, one empty before, two of six damaged. Four go back, three are new, two are thrown away;
/// when one of the damaged is kept, one is thrown away.
#[test]
fn what_is_missing_or_damaged_comes_new_and_the_answer_says_so() {
    for (kept, scrapped) in [(0, 2), (1, 1), (2, 0)] {
        let mut bench = open();
        bench.must(off(vec![OffLine { missing: Some(1), damaged: 2, ..line("rail-bolts") }], true));
        bench.must(finish("strip", true));
        bench.must(start("refit"));
        bench.must(back(vec![tight("head-bolts"), put("rail")]));
        let line = said(bench.must(back(vec![BackLine { kept, ..put("rail-bolts") }])));
        assert_eq!((line.refitted, line.renewed, line.kept, line.scrapped), (4, 3, kept, scrapped));
        assert_eq!((line.places_left, line.pieces_left), (0, 0));
    }
}

#[test]
fn the_answer_says_what_is_open_and_how_tight_it_is_by_itself() {
    let mut bench = stripped();
    let line = said(bench.must(back(vec![BackLine { refitted: Some(3), ..put("port-covers") }])));
    assert_eq!((line.put_in, line.refitted, line.pieces_left, line.tightness), (true, 3, 1, None));
    let line = said(bench.must(back(vec![put("head-bolts")])));
    assert_eq!((line.renewed, line.scrapped, line.tightness, line.unsaid), (10, 10, Some(Tightness::Finger), true));
    let line = said(bench.must(back(vec![put("rail")])));
    assert_eq!((line.tightness, line.unsaid), (Some(Tightness::Final), false), "nothing of it is tightened by stages");
    // Six are torqued; who says where the seventh is says nothing of how tight they are.
    bench.must(back(vec![BackLine { refitted: Some(6), ..tight("rail-bolts") }]));
    bench.must(back(vec![BackLine { refitted: Some(0), renewed: Some(0), kept: 1, ..put("rail-bolts") }]));
    assert_eq!(bench.row("rail-bolts").tightness, Some(Tightness::Final));
}

#[test]
fn what_is_loosened_again_is_open_again_and_looked_at_anew() {
    let mut bench = stripped();
    bench.must(back(vec![tight("head-bolts")]));
    bench.acts(bench.moss, Role::Technician);
    bench.must(check("head-bolts"));
    let to = |tightness| TightenPositions { job: JOB, positions: vec!["head-bolts".into()], tightness };
    let told = bench.must(to(Tightness::Loose)).notices;
    assert_eq!(told, [Notice::LoosenedAgain { position: "head-bolts".into(), checked: true }]);
    assert_eq!((bench.row("head-bolts").checked_by, bench.row("head-bolts").back_by), (None, Some(bench.moss)));
    let open = Open::NotTight { position: "head-bolts".into(), tightness: Tightness::Loose };
    assert!(open_lines(&bench).contains(&open));
    assert_eq!(bench.refused(to(Tightness::Loose)), "AS_TIGHT");
    bench.must(to(Tightness::Final));
    bench.acts(bench.flint, Role::Technician);
    bench.must(check("head-bolts"));
}

#[test]
fn nobody_tightens_what_waits_for_the_lead() {
    let mut bench = stripped();
    bench.must(back(vec![put("head-bolts")]));
    let called = bench.must(CallLead { job: None, stage: None, note: None }).made;
    let tighten = TightenPositions { job: JOB, positions: vec!["head-bolts".into()], tightness: Tightness::Final };
    assert_eq!(bench.refused(tighten.clone()), "LEAD_CALLED");
    let Made::Blocker { job, blocker } = called else { panic!() };
    bench.acts(bench.moss, Role::Lead);
    bench.must(ClearBlocker { job, blocker, note: Some("it holds".into()) });
    bench.must(tighten);
}
