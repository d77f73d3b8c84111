//! What is spoilt goes back only as a new one, what lies behind something that is back on is out of reach, and what cures
//! is left alone. Common practice, no source; how it is kept is the project's own rule.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod bay_kit;
mod stock_kit;

use bay_kit::*;
use leadhand_auditor::check_books;
use leadhand_domain::answer::Notice;
use leadhand_domain::command::*;
use leadhand_domain::hand_over::lines;
use leadhand_domain::strip::{Standing, cures_until};
use leadhand_domain::view::hand_over::{loose_ends, sheet};
use leadhand_facts::words::{Outcome, Role, VehicleState};
use leadhand_facts::{Entry, Fact, FactId, FluidKey, Instant, PositionKey, RequestId};

const TEMPLATE: &str = r#"
key = "cover"
title = "Cover"

[[stage]]
key = "strip"
title = "Strip"
minutes = [20, 30, 60]

[[stage.step]]
do = "Cover off"

[[stage.step.off]]
key = "bolts"
what = "Cover bolts"
kind = "fastener"
count = 7
keep = "own-hole"
back = "refit"

[[stage.step.off]]
key = "cover"
what = "Cover"
behind = ["bolts"]
back = "refit"
cure = 30

[[stage.step]]
do = "Gear off"

[[stage.step.off]]
key = "gear"
what = "Gear"
behind = ["cover"]
back = "refit"

[[stage]]
key = "refit"
title = "Refit"
minutes = [20, 30, 60]
after = ["strip"]

[[stage.step]]
do = "Run it"
state = { sets = ["temperature hot"] }
"#;

fn begun() -> Bench {
    let mut bench = Bench::begun(TEMPLATE, "strip");
    bench.acts(bench.flint, Role::Technician);
    bench
}

/// Everything came off and is back, a moment ago: the cover cures.
fn back_on() -> Bench {
    let mut bench = begun();
    bench.must(off(vec![], true));
    bench.must(finish("strip", true));
    bench.must(start("refit"));
    bench.must(back(vec![put("gear")]));
    bench.must(back(vec![put("cover")]));
    bench.must(back(vec![put("bolts")]));
    bench
}

fn with(position: &str, change: impl FnOnce(&mut OffLine)) -> TakeOff {
    let mut said = line(position);
    change(&mut said);
    off(vec![said], false)
}

fn refitted(position: &str, pieces: i32) -> BackLine {
    BackLine { refitted: Some(pieces), ..put(position) }
}

fn in_strip(lines: Vec<BackLine>) -> PutBack {
    PutBack { stage: "strip".into(), ..back(lines) }
}

fn let_go<C>(bench: &mut Bench, command: C, set: impl FnOnce(&mut C)) -> C {
    let mut command = command;
    bench.acts(bench.moss, Role::Lead);
    set(&mut command);
    command
}

#[test]
fn a_damaged_piece_goes_back_on_a_lead_s_word_alone() {
    let mut bench = begun();
    bench.must(with("bolts", |line| {
        line.damaged = 2;
        line.note = Some("two heads cracked".into());
    }));
    let refused = bench.refusal(in_strip(vec![refitted("bolts", 7)]));
    assert_eq!(refused.reason(), "SPOILT_BACK");
    assert!(refused.to_string().starts_with("2 of 'bolts' came off damaged or broken"), "{refused}");
    bench.must(in_strip(vec![refitted("bolts", 5)]));
    assert_eq!(bench.refused(in_strip(vec![refitted("bolts", 1)])), "SPOILT_BACK", "nor one by one");
    let asked = in_strip(vec![refitted("bolts", 1)]);
    let asked = let_go(&mut bench, asked, |asked| asked.override_reason = Some("it is only a scratch".into()));
    bench.must(asked);
    let row = bench.row("bolts");
    assert_eq!((row.refitted, row.back_overruled[0].line.as_str()), (6, "spoilt-part:bolts"));
}

#[test]
fn what_broke_while_it_was_tried_does_not_go_back_either() {
    let mut bench = begun();
    let tried = RecordAttempt {
        job: JOB,
        position: "bolts".into(),
        rung: None,
        outcome: Outcome::Rounded,
        pieces: Some(1),
        plan: None,
        note: None,
        blocked: false,
        item: None,
        override_reason: None,
    };
    bench.must(RecordAttempt { outcome: Outcome::Moved, ..tried.clone() });
    bench.must(tried);
    bench.must(with("bolts", |line| line.found = Some(7)));
    assert_eq!(bench.refused(in_strip(vec![refitted("bolts", 7)])), "SPOILT_BACK");
    let new = BackLine { renewed: Some(1), ..refitted("bolts", 6) };
    bench.must(in_strip(vec![new]));
    assert_eq!((bench.row("bolts").refitted, bench.row("bolts").renewed), (6, 1));
}

/// At the last safe try it moved: there is nothing left to plan for.
#[test]
fn what_moves_at_the_last_safe_try_needs_no_plan() {
    let mut bench = begun();
    let rungs = leadhand_domain::strip::usual_ladder();
    let last = i32::try_from(rungs.iter().position(|rung| rung.last_safe).unwrap() + 1).unwrap();
    let tried = |rung: i32, outcome: Outcome| RecordAttempt {
        job: JOB,
        position: "bolts".into(),
        rung: Some(rung),
        outcome,
        pieces: Some(1),
        plan: None,
        note: None,
        blocked: false,
        item: None,
        override_reason: None,
    };
    for rung in 1..last {
        bench.must(tried(rung, Outcome::NotMoved));
    }
    bench.must(tried(last, Outcome::Moved));
    let books = leadhand_auditor::Books::of(&bench.shop.journal).unwrap();
    assert_eq!(check_books(&books).len(), 0, "the auditor takes it too");
}

#[test]
fn what_lies_behind_something_that_is_back_on_is_out_of_reach() {
    let mut bench = begun();
    bench.must(off(vec![line("bolts"), line("cover")], false));
    bench.must(in_strip(vec![put("cover"), put("bolts")]));
    let refused = bench.refusal(off(vec![line("gear")], false));
    assert_eq!(refused.reason(), "BACK_ON");
    assert!(refused.to_string().contains("`leadhand strip reopen`"), "{refused}");
    let behind = AddPosition { behind: Some(vec!["cover".into()]), ..met("A rag") };
    assert_eq!(bench.refused(behind), "BACK_ON", "nor is anything met there");
    // Unanswered it lies behind what is off, and not behind what is back on.
    bench.must(met("A clip"));
    assert_eq!(bench.row("found-1").detail.behind, Vec::<PositionKey>::new());
    for position in ["bolts", "cover"] {
        let reason = "the gear is to come off".to_owned();
        bench.must(ReopenPosition { job: JOB, position: position.into(), reason });
    }
    bench.must(off(vec![line("gear")], false));
}

#[test]
fn what_cures_is_told_and_nothing_runs_on_it() {
    let mut bench = back_on();
    let until = cures_until(bench.row("cover"), bench.shop.now).unwrap();
    assert_eq!(until, bench.row("cover").back_at.unwrap().plus_minutes(30));
    let fill = RecordFluid {
        job: JOB,
        fluid: FluidKey::from("oil"),
        drained_ml: 0,
        filled_ml: 4_000,
        note: None,
        unlisted: true,
    };
    let cures = |notices: &[Notice]| {
        let is = |one: &&Notice| matches!(one, Notice::StillCures { position, .. } if position.as_str() == "cover");
        notices.iter().filter(is).count()
    };
    assert_eq!(cures(&bench.must(fill).notices), 1);
    let refused = bench.refusal(tick("refit", &[1]));
    assert!(refused.to_string().contains("still curing: 'cover'"), "{refused}");
    let loose = loose_ends(&bench.shop.state, None, bench.shop.now);
    assert_eq!(
        loose[0].curing.iter().map(|(row, at)| (row.position.as_str(), *at)).collect::<Vec<_>>(),
        [("cover", until)]
    );
    bench.shop.now = until;
    bench.must(tick("refit", &[1]));
    assert_eq!(loose_ends(&bench.shop.state, None, bench.shop.now).iter().flat_map(|job| &job.curing).count(), 0);
    let hot = bench.shop.state.vehicle_states.iter().any(|row| row.state == VehicleState::TemperatureHot);
    assert!(hot, "it ran once it had cured");
}

#[test]
fn no_vehicle_goes_on_a_sealant_that_cures_but_on_a_word() {
    let mut bench = back_on();
    bench.acts(bench.moss, Role::Lead);
    // What would have run on it is left out, so nothing else asks.
    bench.must(SkipStage { job: JOB, stage: "refit".into(), reason: "it is run at the yard".into() });
    let until = cures_until(bench.row("cover"), bench.shop.now).unwrap();
    let goes = |overrides| CompleteJob { job: JOB, override_reason: Some("it is towed".into()), overrides };
    let open = |bench: &Bench| -> Vec<String> {
        lines(&bench.shop.state, JOB, bench.shop.now).iter().map(ToString::to_string).collect()
    };
    let minutes = until.minutes_since_up(bench.shop.now);
    assert_eq!(open(&bench), [format!("cover: its sealant cures for another {minutes} min")]);
    let refused = bench.refusal(goes(vec![]));
    assert_eq!(refused.reason(), "HAND_OVER_OPEN");
    assert!(refused.to_string().contains("cover: its sealant cures"), "{refused}");
    let draft = sheet(&bench.shop.state, JOB, bench.shop.now).unwrap();
    assert_eq!(draft.open.iter().map(|(line, _)| line.key()).collect::<Vec<_>>(), ["cures:cover"]);

    assert!(lines(&bench.shop.state, JOB, until).is_empty(), "once it has cured nothing stands against it");
    // The auditor counts for itself: it finds the same hand-over with nothing said of the sealant.
    let laws = |at: Instant| -> Vec<&'static str> {
        let mut books = bench.shop.books.clone();
        let last = bench.shop.journal.last().unwrap().clone();
        let (number, fact_id) = (last.number + 1, FactId(uuid::Uuid::from_u128(u128::MAX)));
        let fact = Fact::JobCompleted { job: JOB, overridden: None, lines: Vec::new() };
        let request = RequestId(uuid::Uuid::from_u128(u128::MAX));
        books.take(&Entry { number, fact_id, happened_at: at, recorded_at: at, request, fact, ..last }).unwrap();
        check_books(&books).into_iter().map(|found| found.law).collect()
    };
    assert_eq!((laws(bench.shop.now), laws(until)), (vec!["strip-cured"], vec![]));
    bench.must(goes(vec![Override { line: "cures:cover".into(), reason: None }]));
    let sheet = sheet(&bench.shop.state, JOB, until.plus_minutes(600)).unwrap();
    let told: Vec<_> = sheet.overruled.iter().filter_map(|gone| Some(gone.open.as_ref()?.0.key())).collect();
    assert_eq!(told, ["cures:cover"], "hours later it says what was so when it went");
}

#[test]
fn where_nothing_was_nothing_lies_in_its_own_hole() {
    let mut bench = begun();
    bench.must(with("bolts", |line| {
        line.found = Some(0);
        line.missing = Some(7);
    }));
    let row = bench.row("bolts");
    assert_eq!((row.keep, Standing::of(row)), (None, Standing::Off));
    // None of them is damaged: there is none.
    assert_eq!(bench.refused(in_strip(vec![refitted("bolts", 7)])), "TOO_MANY_BACK");
}
