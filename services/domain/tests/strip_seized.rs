//! What will not move, told as a story: it soaks before its turn, is tried by the rungs of a ladder, and from the last
//! safe try on a new one is at hand and somebody has a plan. The usual ladder is common practice, no source; the rules
//! are the project's own.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod seized_kit;
mod stock_kit;

use leadhand_domain::answer::{Made, Notice};
use leadhand_domain::command::*;
use leadhand_domain::strip::{Open, usual_ladder};
use leadhand_domain::view::strip::{soaking, strip_view};
use leadhand_facts::words::{Cause, Outcome, Role, SignalWord};
use leadhand_facts::*;
use seized_kit::*;

#[test]
fn the_answer_offers_the_next_rung_or_names_who_may() {
    let mut bench = Bench::open();
    let next = bench.tries(tried(Outcome::NotMoved)).unwrap();
    assert_eq!((next.rung, next.measure.as_str(), next.may), (2, "Warm it", false));
    assert_eq!(next.who, [bench.flint]);
    // Moss may not, and a reason of a technician's own does not help.
    let refusal = bench.refused(tried(Outcome::NotMoved));
    assert_eq!(refusal.reason(), "RUNG_STOPPED");
    assert!(refusal.to_string().contains("asks for heating"), "{refusal}");
    let reason = Some("he showed me".to_owned());
    let refusal = bench.refused(RecordAttempt { override_reason: reason, ..tried(Outcome::NotMoved) });
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
    let mut bench = Bench::open();
    bench.acts(bench.flint, Role::Technician);
    let last = |plan: Option<&str>| RecordAttempt {
        rung: Some(3),
        pieces: Some(2),
        plan: plan.map(str::to_owned),
        ..tried(Outcome::NotMoved)
    };
    let told = bench.refused(last(None)).to_string();
    assert!(told.contains("2 of 'nut-8' would have to be there, and 0 are"), "{told}");
    assert!(told.contains("how to get out what breaks"), "{told}");
    bench.receive("nut-8", 1);
    assert_eq!(bench.refused(last(Some("weld a nut on"))).reason(), "RUNG_STOPPED", "one is not two");
    bench.receive("nut-8", 1);
    let told = bench.refused(last(None)).to_string();
    assert!(!told.contains("nut-8") && told.contains("plan"), "{told}");
    bench.must(last(Some("weld a nut on")));
    // What lies behind the last safe try asks as well; a position that names no item, for one.
    let extract = RecordAttempt { rung: Some(4), ..last(None) };
    assert_eq!(bench.refused(extract).reason(), "RUNG_STOPPED");
    let usual = RecordAttempt { position: "bolts".into(), rung: Some(5), ..last(Some("drill it")) };
    let told = bench.refused(usual.clone()).to_string();
    assert!(told.contains("no new one is named"), "{told}");
    let oil = bench.refused(RecordAttempt { item: Some("oil".into()), ..usual.clone() });
    assert_eq!(oil.field(), Some("item"), "{oil}");
    bench.receive("bolt-45", 2);
    bench.must(RecordAttempt { item: Some("bolt-45".into()), ..usual });
}

#[test]
fn a_named_lead_overrules_and_the_reason_stays() {
    let mut bench = Bench::open();
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
    let refusal = bench.refused(RecordAttempt { rung: Some(3), override_reason: reason, ..tried(Outcome::NotMoved) });
    assert_eq!(refusal.reason(), "SIGN_IN_FIRST", "a device answers for nothing");
}

#[test]
fn what_broke_is_wanted_for_the_refit_and_holds_up_if_asked() {
    let mut bench = Bench::open();
    bench.receive("nut-8", 1);
    let broke = RecordAttempt { pieces: Some(2), blocked: true, ..tried(Outcome::Broken) };
    let answer = bench.must(broke);
    assert!(answer.notices.contains(&Notice::NewPieces { position: "nuts".into(), pieces: 2 }));
    // Nothing gentler than getting it out is left.
    let Made::Attempt { next: Some(next), .. } = answer.made else { panic!() };
    assert_eq!(next.rung, 4);
    let step = bench.shop.state.steps.get(&(JOB, "refit".into(), StepNo(2))).unwrap();
    assert_eq!(step.needs.iter().map(|need| (need.item.as_str(), need.quantity.0)).collect::<Vec<_>>(), [("nut-8", 2)]);
    let demand = bench.shop.state.demands.get(&(JOB, "refit".into(), StepNo(2), "nut-8".into())).unwrap();
    assert_eq!((demand.wanted.0, demand.reserved.0, demand.short.0), (2, 1, 1), "early enough to matter");
    let blocker = bench.shop.state.blockers.iter().next().unwrap();
    assert_eq!((blocker.cause, blocker.stage.as_str()), (Cause::Seized, "strip"));
    // It comes off in the end: what broke is damaged without being said again, and is asked for once.
    let steps = bench.shop.state.steps.iter().count();
    bench.must(off(vec![], true));
    assert_eq!((bench.row("nuts").found, bench.row("nuts").damaged), (8, 2));
    assert_eq!(bench.shop.state.steps.iter().count(), steps);
    let part = bench.line("nuts").part.unwrap();
    assert_eq!((part.pieces, part.reserved.0, part.short.0, part.listed), (2, 1, 1, true));
}

#[test]
fn attempts_end_when_all_has_moved() {
    let mut bench = Bench::open();
    assert_eq!(bench.refused(RecordAttempt { pieces: Some(9), ..tried(Outcome::Moved) }).field(), Some("pieces"));
    assert_eq!(bench.refused(RecordAttempt { rung: Some(5), ..tried(Outcome::Moved) }).reason(), "NOT_FOUND");
    bench.must(RecordAttempt { pieces: Some(3), ..tried(Outcome::Moved) });
    assert_eq!(bench.tries(RecordAttempt { rung: Some(1), ..tried(Outcome::Moved) }), None, "the other five moved");
    assert_eq!(bench.refused(tried(Outcome::Moved)).reason(), "NOTHING_TO_DO");
    bench.must(off(vec![line("plugs"), line("shield"), line("bolts")], false));
    let bolts = RecordAttempt { position: "bolts".into(), ..tried(Outcome::NotMoved) };
    assert_eq!(bench.refused(bolts).reason(), "POSITION_SAID", "what is off and whole is out");
    bench.must(FinishStage { job: JOB, stage: "strip".into(), as_listed: true });
    let late = bench.refused(RecordAttempt { rung: Some(1), ..tried(Outcome::NotMoved) });
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
    let mut bench = Bench::open();
    // The stage has not come to it, and a stage that has not begun would do as well.
    bench.must(SoakPosition { job: JOB, position: "nuts".into(), minutes: 30 });
    let began = bench.shop.now;
    let at = |minutes| soaking(&bench.shop.state, JOB, began.plus_minutes(minutes));
    assert_eq!(at(29).iter().map(|one| one.ready).collect::<Vec<_>>(), [false]);
    assert_eq!(at(30).iter().map(|one| (one.ready, one.until)).collect::<Vec<_>>(), [(true, began.plus_minutes(30))]);
    for minutes in [-1, 7 * 24 * 60 + 1] {
        let wrong = bench.refused(SoakPosition { job: JOB, position: "nuts".into(), minutes });
        assert_eq!(wrong.field(), Some("minutes"));
    }
    bench.must(SoakPosition { job: JOB, position: "nuts".into(), minutes: 0 });
    assert_eq!(soaking(&bench.shop.state, JOB, began), []);
    let none = bench.refused(SoakPosition { job: JOB, position: "nuts".into(), minutes: 0 });
    assert_eq!(none.reason(), "NOTHING_TO_DO");
    bench.must(SoakPosition { job: JOB, position: "nuts".into(), minutes: 10 });
    bench.must(off(vec![], true));
    assert_eq!(soaking(&bench.shop.state, JOB, began), [], "what is off soaks no longer");
    let late = bench.refused(SoakPosition { job: JOB, position: "nuts".into(), minutes: 10 });
    assert_eq!(late.reason(), "POSITION_SAID");
}

#[test]
fn a_plan_is_a_text_like_any_other() {
    let mut bench = Bench::open();
    let blank = RecordAttempt { plan: Some("  ".into()), ..tried(Outcome::NotMoved) };
    assert_eq!(bench.refused(blank).field(), Some("plan"));
    assert!(!bench.line("nuts").attempts.iter().any(|_| true));
    assert!(!strip_view(&bench.shop.state, JOB).open.iter().any(|open| matches!(open, Open::Pieces { .. })));
    assert_ne!(bench.flint, bench.moss);
}
