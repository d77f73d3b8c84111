//! What will not move, told as a story: it soaks before its turn, is tried by the rungs of a ladder, and from the last
//! safe try on a new one is at hand and somebody has a plan. The usual ladder is common practice, no source; the rules
//! are the project's own.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod bay_kit;
mod seized_kit;
mod stock_kit;

use bay_kit::*;
use leadhand_domain::answer::{Made, Notice};
use leadhand_domain::command::*;
use leadhand_domain::strip::{self, Open, usual_ladder};
use leadhand_domain::view::strip::{soaking, strip_view};
use leadhand_facts::words::{Cause, Outcome, Renew, Role, SignalWord};
use leadhand_facts::*;
use seized_kit::*;

#[test]
fn the_answer_offers_the_next_rung_or_names_who_may() {
    let mut bench = open();
    let next = bench.tries(tried(Outcome::NotMoved)).unwrap();
    assert_eq!((next.rung, next.measure.as_str(), next.may), (2, "Warm it", false));
    assert_eq!(next.who, [bench.flint]);
    // Moss may not, and a reason of a technician's own does not help.
    let refusal = bench.refusal(tried(Outcome::NotMoved));
    assert_eq!(refusal.reason(), "RUNG_STOPPED");
    assert!(refusal.to_string().contains("asks for heating"), "{refusal}");
    let reason = Some("he showed me".to_owned());
    let refusal = bench.refusal(RecordAttempt { override_reason: reason, ..tried(Outcome::NotMoved) });
    assert_eq!(refusal.reason(), "LEAD_ONLY");
    bench.acts(bench.flint, Role::Technician);
    let next = bench.tries(tried(Outcome::NotMoved)).unwrap();
    assert_eq!((next.rung, next.may), (3, true));
    // The gentler one may be tried again, and the next one stays.
    let again = RecordAttempt { rung: Some(1), pieces: Some(2), ..tried(Outcome::Moved) };
    assert_eq!(bench.tries(again).unwrap().rung, 3);
    let kept: Vec<(i32, i32, Outcome, i32)> =
        bench.line("nuts").attempts.iter().map(|row| (row.attempt.0, row.rung, row.outcome, row.pieces)).collect();
    assert_eq!(kept, [(1, 1, Outcome::NotMoved, 8), (2, 2, Outcome::NotMoved, 8), (3, 1, Outcome::Moved, 2)]);
}

#[test]
fn the_last_safe_try_asks_for_a_new_one_on_the_shelf_and_a_plan() {
    let mut bench = open();
    bench.acts(bench.flint, Role::Technician);
    let last = |plan: Option<&str>| RecordAttempt {
        rung: Some(3),
        pieces: Some(2),
        plan: plan.map(str::to_owned),
        ..tried(Outcome::NotMoved)
    };
    let told = bench.refusal(last(None)).to_string();
    assert!(told.contains("2 of 'nut-8' would have to be there, and 0 are"), "{told}");
    assert!(told.contains("how to get out what breaks"), "{told}");
    bench.receive("nut-8", 1);
    assert_eq!(bench.refusal(last(Some("weld a nut on"))).reason(), "RUNG_STOPPED", "one is not two");
    bench.receive("nut-8", 1);
    let told = bench.refusal(last(None)).to_string();
    assert!(!told.contains("nut-8") && told.contains("plan"), "{told}");
    bench.must(last(Some("weld a nut on")));
    // Who thought about it at one try is not asked again at those that follow.
    bench.must(RecordAttempt { rung: Some(4), ..last(None) });
    // A position that names no item is asked about as well, and has no plan yet.
    let told = bench.refusal(RecordAttempt { position: "bolts".into(), rung: Some(5), ..last(None) }).to_string();
    assert!(told.contains("how to get out what breaks"), "{told}");
    let usual = RecordAttempt { position: "bolts".into(), rung: Some(5), ..last(Some("drill it")) };
    let told = bench.refusal(usual.clone()).to_string();
    assert!(told.contains("no new one is named"), "{told}");
    let oil = bench.refusal(RecordAttempt { item: Some("oil".into()), ..usual.clone() });
    assert_eq!(oil.field(), Some("item"), "{oil}");
    bench.receive("bolt-45", 2);
    bench.must(RecordAttempt { item: Some("bolt-45".into()), ..usual });
}

#[test]
fn a_named_lead_overrules_and_the_reason_stays() {
    let mut bench = open();
    bench.acts(bench.flint, Role::Lead);
    let reason = Some("the vehicle blocks the road".to_owned());
    bench.must(RecordAttempt { rung: Some(3), override_reason: reason, ..tried(Outcome::NotMoved) });
    assert!(bench.line("nuts").attempts[0].overridden.is_some());
    // Nothing stood against it: then nothing was overruled.
    let reason = Some("just so".to_owned());
    bench.must(RecordAttempt { rung: Some(1), override_reason: reason, ..tried(Outcome::NotMoved) });
    assert!(bench.line("nuts").attempts[1].overridden.is_none());
    bench.shop.person = None;
    let reason = Some("so it is".to_owned());
    let refusal = bench.refusal(RecordAttempt { rung: Some(3), override_reason: reason, ..tried(Outcome::NotMoved) });
    assert_eq!(refusal.reason(), "SIGN_IN_FIRST", "a device answers for nothing");
}

#[test]
fn what_broke_is_wanted_for_the_refit_and_holds_up_if_asked() {
    let mut bench = open();
    bench.receive("nut-8", 1);
    let broke = RecordAttempt { pieces: Some(2), blocked: true, ..tried(Outcome::Broken) };
    let answer = bench.must(broke);
    assert!(answer.notices.contains(&Notice::NewPieces { position: "nuts".into(), pieces: 2 }));
    // Nothing gentler than getting it out is left.
    let Made::Attempt { next: Some(next), .. } = answer.made else { panic!() };
    assert_eq!(next.rung, 4);
    let step = bench.shop.state.steps.get(&(JOB, "refit".into(), StepNo(2))).unwrap();
    assert_eq!(step.needs.iter().map(|need| (need.item.as_str(), need.quantity.0)).collect::<Vec<_>>(), [("nut-8", 2)]);
    assert_eq!(step.fits, Some("nuts".into()), "it names its position");
    let demand = bench.shop.state.demands.get(&(JOB, "refit".into(), StepNo(2), "nut-8".into())).unwrap();
    assert_eq!((demand.wanted.0, demand.reserved.0, demand.short.0), (2, 1, 1), "early enough to matter");
    let blocker = bench.shop.state.blockers.iter().next().unwrap();
    assert_eq!((blocker.cause, blocker.stage.as_str()), (Cause::Seized, "strip"));
    // It comes off in the end: what broke is damaged without being said again, and is asked for once.
    let steps = bench.shop.state.steps.iter().count();
    bench.must(off(vec![all_came()], true));
    assert_eq!((bench.row("nuts").found, bench.row("nuts").damaged), (8, 2));
    assert_eq!(bench.shop.state.steps.iter().count(), steps);
    let part = bench.line("nuts").part.unwrap();
    assert_eq!((part.pieces, part.reserved.0, part.short.0, part.listed), (2, 1, 1, true));
}

/// Somebody says that all eight came off in the end.
fn all_came() -> OffLine {
    OffLine { found: Some(8), ..line("nuts") }
}

/// What was tried and has not moved is on the vehicle until somebody says how many came off.
#[test]
fn what_did_not_move_stays_on_until_it_is_said() {
    let mut bench = open();
    bench.must(RecordAttempt { pieces: Some(2), ..tried(Outcome::NotMoved) });
    let noted = OffLine { note: Some("rusty".into()), ..line("nuts") };
    for listed in [off(vec![line("nuts")], false), off(vec![noted], false), off(vec![], true)] {
        let told = bench.refusal(listed);
        assert_eq!(told.reason(), "STILL_STUCK");
        assert!(told.to_string().contains("2 piece(s) of 'nuts' were tried and are still in"), "{told}");
    }
    assert_eq!(bench.refused(finish("strip", true)), "STILL_STUCK", "finishing as listed is no way round");
    let six = OffLine { found: Some(6), note: Some("two stay for the machinist".into()), ..line("nuts") };
    bench.must(off(vec![six], true));
    assert_eq!(bench.row("nuts").found, 6);
    // Once they have moved, as listed says what happened.
    let mut bench = open();
    bench.must(RecordAttempt { pieces: Some(2), ..tried(Outcome::NotMoved) });
    bench.must(RecordAttempt { pieces: Some(2), rung: Some(1), ..tried(Outcome::Moved) });
    bench.must(off(vec![], true));
    assert_eq!(bench.row("nuts").found, 8);
}

/// Nothing behind the last safe try is done before that try, and what it left waits for the lead.
#[test]
fn the_last_safe_try_is_made_and_what_it_leaves_waits_for_the_lead() {
    let mut bench = open();
    bench.receive("nut-8", 8);
    bench.acts(bench.flint, Role::Technician);
    let plan = || Some("weld a nut on".to_owned());
    let try_ = |rung| RecordAttempt { rung: Some(rung), plan: plan(), ..tried(Outcome::NotMoved) };
    let told = bench.refusal(try_(4));
    assert_eq!(told.reason(), "RUNG_STOPPED");
    assert!(told.to_string().contains("rung 3 is the last safe try, and nobody has made it"), "{told}");
    let blocked = |rung| RecordAttempt { blocked: true, ..try_(rung) };
    bench.must(blocked(2));
    let clear = |blocker| ClearBlocker { job: JOB, blocker: BlockerNo(blocker), note: None };
    bench.must(clear(1));
    bench.must(blocked(3));
    assert_eq!(bench.refused(clear(2)), "LEAD_ONLY");
    bench.must(try_(4));
    assert_eq!(bench.refused(clear(2)), "LEAD_ONLY");
    let leave_out = || SkipStage { job: JOB, stage: "strip".into(), reason: "it will not move".into() };
    assert_eq!(bench.refused(leave_out()), "LEAD_ONLY", "leaving the stage out is no way round");
    bench.acts(bench.moss, Role::Lead);
    bench.must(clear(2));
    // What has moved holds nothing up, and whoever moved it says so.
    let mut bench = open();
    bench.receive("nut-8", 8);
    bench.acts(bench.flint, Role::Technician);
    bench.must(blocked(3));
    bench.must(RecordAttempt { rung: Some(3), plan: plan(), ..tried(Outcome::Moved) });
    bench.must(clear(1));
}

#[test]
fn attempts_end_when_all_has_moved() {
    let mut bench = open();
    assert_eq!(bench.refusal(RecordAttempt { pieces: Some(9), ..tried(Outcome::Moved) }).field(), Some("pieces"));
    assert_eq!(bench.refusal(RecordAttempt { rung: Some(5), ..tried(Outcome::Moved) }).reason(), "NOT_FOUND");
    bench.must(RecordAttempt { pieces: Some(3), ..tried(Outcome::Moved) });
    assert_eq!(bench.tries(RecordAttempt { rung: Some(1), ..tried(Outcome::Moved) }), None, "the other five moved");
    assert_eq!(bench.refusal(tried(Outcome::Moved)).reason(), "NOTHING_TO_DO");
    bench.must(off(vec![line("plugs"), line("shield"), line("bolts")], false));
    let bolts = RecordAttempt { position: "bolts".into(), ..tried(Outcome::NotMoved) };
    assert_eq!(bench.refusal(bolts).reason(), "POSITION_SAID", "what is off and whole is out");
    bench.must(finish("strip", true));
    let late = bench.refusal(RecordAttempt { rung: Some(1), ..tried(Outcome::NotMoved) });
    assert!(["POSITION_SAID", "STAGE_STATE"].contains(&late.reason()), "{late}");
}

/// Common practice, no source: gentle first, heat late and with its caution, one last safe try, then extraction.
#[test]
fn the_usual_ladder_warns_before_heat_and_ends_with_extraction() {
    let ladder = usual_ladder();
    assert_eq!(ladder.iter().filter(|rung| rung.last_safe).count(), 1);
    assert!(ladder[0].soak_minutes.is_some() && !ladder[0].last_safe);
    assert!(!ladder.last().unwrap().last_safe && ladder[ladder.len() - 2].last_safe);
    for rung in &ladder {
        assert!(rung.cautions.iter().any(|caution| caution.word == SignalWord::Warning), "{}", rung.measure);
        let heats = rung.tools.iter().any(|tool| tool.contains("heat") || tool.contains("torch"));
        let watched = rung.cautions.iter().any(|caution| caution.text.contains("fire watch"));
        assert!(!heats || watched, "{}", rung.measure);
    }
}

#[test]
fn seen_early_it_soaks_until_its_time() {
    let mut bench = open();
    // The stage has not come to it, and a stage that has not begun would do as well.
    bench.must(SoakPosition { job: JOB, position: "nuts".into(), minutes: 30 });
    let began = bench.shop.now;
    let at = |minutes| soaking(&bench.shop.state, JOB, began.plus_minutes(minutes));
    assert_eq!(at(29).iter().map(|one| one.ready).collect::<Vec<_>>(), [false]);
    assert_eq!(at(30).iter().map(|one| (one.ready, one.until)).collect::<Vec<_>>(), [(true, began.plus_minutes(30))]);
    for minutes in [-1, 7 * 24 * 60 + 1] {
        let wrong = bench.refusal(SoakPosition { job: JOB, position: "nuts".into(), minutes });
        assert_eq!(wrong.field(), Some("minutes"));
    }
    bench.must(SoakPosition { job: JOB, position: "nuts".into(), minutes: 0 });
    assert_eq!(soaking(&bench.shop.state, JOB, began), []);
    let none = bench.refusal(SoakPosition { job: JOB, position: "nuts".into(), minutes: 0 });
    assert_eq!(none.reason(), "NOTHING_TO_DO");
    bench.must(SoakPosition { job: JOB, position: "nuts".into(), minutes: 10 });
    bench.must(off(vec![], true));
    assert_eq!(soaking(&bench.shop.state, JOB, began), [], "what is off soaks no longer");
    let late = bench.refusal(SoakPosition { job: JOB, position: "nuts".into(), minutes: 10 });
    assert_eq!(late.reason(), "POSITION_SAID");
}

#[test]
fn a_plan_is_a_text_like_any_other() {
    let mut bench = open();
    let blank = RecordAttempt { plan: Some("  ".into()), ..tried(Outcome::NotMoved) };
    assert_eq!(bench.refusal(blank).field(), Some("plan"));
    assert!(!bench.line("nuts").attempts.iter().any(|_| true));
    assert!(!strip_view(&bench.shop.state, JOB).open.iter().any(|open| matches!(open, Open::Pieces { .. })));
    assert_ne!(bench.flint, bench.moss);
}

/// Eight nuts, one of which sticks: once it is out nothing is stuck, and the next one begins at the first rung.
#[test]
fn nuts_that_nobody_tried_are_not_stuck() {
    let mut bench = open();
    bench.acts(bench.flint, Role::Technician);
    let one = |outcome| RecordAttempt { pieces: Some(1), ..tried(outcome) };
    assert_eq!(bench.tries(one(Outcome::NotMoved)).unwrap().rung, 2);
    assert_eq!(bench.tries(one(Outcome::Moved)), None);
    assert_eq!(bench.line("nuts").next, None);
    assert_eq!(bench.tries(one(Outcome::NotMoved)).unwrap().rung, 2, "another nut, by the first rung");
    let rungs: Vec<i32> = bench.line("nuts").attempts.iter().map(|one| one.rung).collect();
    assert_eq!(rungs, [1, 2, 1]);
}

#[test]
fn a_piece_is_asked_for_once_however_often_it_is_ruined_or_said() {
    let mut bench = open();
    bench.acts(bench.flint, Role::Lead);
    let one = |outcome| RecordAttempt { pieces: Some(1), override_reason: Some("go on".into()), ..tried(outcome) };
    let asked = |bench: &Bench| -> Vec<i64> {
        let steps = bench.shop.state.steps.iter().filter(|step| step.stage.as_str() == "refit");
        let needs = steps.flat_map(|step| &step.needs).filter(|need| need.item.as_str() == "nut-8");
        needs.map(|need| need.quantity.0).collect()
    };
    bench.must(one(Outcome::Rounded));
    let told = bench.must(one(Outcome::Broken)).notices;
    assert_eq!(told, [], "it is the same nut");
    assert_eq!((asked(&bench), strip::ruined(&bench.shop.state, JOB, &"nuts".into())), (vec![1], 1));
    // It comes out; the next one that breaks is another.
    bench.must(one(Outcome::Moved));
    let told = bench.must(one(Outcome::Broken)).notices;
    assert_eq!(told, [Notice::NewPieces { position: "nuts".into(), pieces: 1 }]);
    assert_eq!((asked(&bench), strip::ruined(&bench.shop.state, JOB, &"nuts".into())), (vec![1, 1], 2));
    // One more was missing, which is said, taken back and said again.
    let missing = OffLine { missing: Some(1), found: Some(7), ..line("nuts") };
    bench.must(off(vec![missing.clone()], true));
    assert_eq!((bench.row("nuts").damaged, asked(&bench)), (2, vec![1, 1, 1]));
    bench.must(ReopenPosition { job: JOB, position: "nuts".into(), reason: "counted wrongly".into() });
    bench.must(off(vec![missing], true));
    assert_eq!(asked(&bench), [1, 1, 1]);
}

/// One new nut is there, and set aside for another place that takes the same: then none is there for this one.
#[test]
fn what_another_position_has_set_aside_is_not_at_hand() {
    let mut bench = open();
    bench.acts(bench.flint, Role::Technician);
    let bracket = AddPosition {
        item: Some("nut-8".into()),
        renew: Some(Renew::Always),
        behind: Some(vec![]),
        tags: false,
        ..hose("nut of the bracket")
    };
    bench.must(bracket);
    bench.receive("nut-8", 1);
    let reserved: Vec<i64> = bench.shop.state.demands.iter().map(|row| row.reserved.0).collect();
    assert_eq!(reserved, [1]);
    let last = RecordAttempt {
        rung: Some(3),
        pieces: Some(1),
        plan: Some("weld a nut on".into()),
        ..tried(Outcome::NotMoved)
    };
    let told = bench.refusal(last.clone()).to_string();
    assert!(told.contains("1 of 'nut-8' would have to be there, and 0 are"), "{told}");
    // Nor is it when the job was given it for the bracket.
    bench.must(IssueStock { job: JOB, stage: None, item: None, quantity: None });
    assert_eq!(bench.refused(last.clone()), "RUNG_STOPPED");
    bench.receive("nut-8", 1);
    bench.must(last);
}

#[test]
fn a_try_while_it_soaks_and_a_soak_before_its_stage_are_told() {
    let mut bench = open();
    bench.must(SoakPosition { job: JOB, position: "nuts".into(), minutes: 30 });
    let told = bench.must(tried(Outcome::NotMoved)).notices;
    assert_eq!(told, [Notice::StillSoaks { position: "nuts".into(), minutes: 29 }], "told, and no stop");
    bench.must(SoakPosition { job: JOB, position: "nuts".into(), minutes: 0 });
    // The first rung lets it soak, and now nobody said that it does.
    let told = bench.must(RecordAttempt { rung: Some(1), ..tried(Outcome::NotMoved) }).notices;
    assert_eq!(told, [Notice::NotSoaked { position: "nuts".into(), minutes: 30 }]);
    assert_eq!(bench.must(RecordAttempt { rung: Some(1), ..tried(Outcome::Moved) }).notices, []);
    // Its stage has not begun, and that is meant so: the wait is over when its turn comes.
    let mut bench = Bench::prepared(TEMPLATE, stock);
    let told = bench.must(SoakPosition { job: JOB, position: "nuts".into(), minutes: 30 }).notices;
    assert_eq!(told, [Notice::SoaksEarly { position: "nuts".into(), stage: "strip".into() }]);
}
