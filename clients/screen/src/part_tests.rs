use super::*;
use leadhand_sdk::v1::{Attempt, NextRung, RefitLine};

fn t() -> Texts {
    Texts::of("en-GB")
}

fn nuts() -> Position {
    Position {
        position: "nuts".into(),
        count: 7,
        kind: PositionKind::Fastener.into(),
        manner: Manner::Off.into(),
        keep: Keep::Tray.into(),
        standing: PositionStanding::NotYet.into(),
        ..Position::default()
    }
}

fn ladder() -> Vec<Rung> {
    let rung = |rung, last_safe| Rung { rung, last_safe, measure: format!("do {rung}"), ..Rung::default() };
    vec![rung(1, false), rung(2, false), rung(3, true), rung(4, false)]
}

fn next(rung: i32, yours: bool) -> NextRung {
    NextRung { rung, yours, who: vec!["Larch".into()], ..NextRung::default() }
}

#[test]
fn counts_are_touched_up_to_a_dozen_and_typed_beyond() {
    let few = off(&nuts(), &t());
    let names: Vec<&str> = few.rows.iter().map(|row| row.name).collect();
    assert_eq!(names, ["missing", "damaged", "studs"]);
    assert_eq!(few.rows[0].tiles.len(), 8, "none up to all seven");
    let many = off(&Position { count: 24, ..nuts() }, &t());
    assert!(many.rows[0].tiles.is_empty());
    let hose = off(&Position { kind: PositionKind::Hose.into(), ..nuts() }, &t());
    assert!(hose.rows.iter().all(|row| row.name != "studs"), "a hose has no studs");
    let kept: Vec<&str> = few.keeps.iter().filter(|keep| keep.chosen).map(|keep| keep.value.as_str()).collect();
    assert_eq!(kept, ["KEEP_TRAY"], "as listed until somebody says otherwise");
}

#[test]
fn what_is_put_in_is_neither_missing_nor_kept() {
    let cover = off(&Position { manner: Manner::In.into(), ..nuts() }, &t());
    assert!(cover.put_in && cover.rows.is_empty() && cover.keeps.is_empty());
}

#[test]
fn the_first_rung_is_offered_before_anything_was_tried_and_then_the_next_one() {
    let first = seized(&nuts(), &ladder(), 0, &t()).unwrap();
    assert_eq!((first.rung, first.measure.as_str(), first.plans.len(), first.outcomes.len()), (1, "do 1", 0, 5));
    let tried = Position { attempts: vec![Attempt::default()], next: Some(next(3, false)), ..nuts() };
    let third = seized(&tried, &ladder(), 0, &t()).unwrap();
    assert!(third.last_safe && third.plans.len() == 4, "it may break: somebody thinks first how to get it out");
    assert!(third.who.contains("Larch"), "{}", third.who);
    let first = seized(&tried, &ladder(), 1, &t()).unwrap();
    assert_eq!(first.rung, 1, "another piece is only stuck");
    let others: Vec<&str> = first.rungs.iter().filter(|rung| !rung.chosen).map(|rung| rung.value.as_str()).collect();
    assert!(!others.is_empty() && !others.contains(&"1"), "{others:?}");
    assert_eq!(seized(&tried, &ladder(), 99, &t()).unwrap().rung, 3, "a rung that is not there is none");
    let end = Position { next: None, ..tried };
    assert!(seized(&end, &ladder(), 0, &t()).is_none(), "no rung is left");
    assert!(seized(&Position { standing: PositionStanding::Off.into(), ..nuts() }, &ladder(), 0, &t()).is_none());
    assert!(seized(&Position { manner: Manner::In.into(), ..nuts() }, &ladder(), 0, &t()).is_none());
}

#[test]
fn what_nobody_let_soak_may_soak_after_a_try_that_did_not_move_it() {
    let mut ladder = ladder();
    ladder[1].soak_minutes = 20;
    let soaks = |found: &Position, rung| seized(found, &ladder, rung, &t()).unwrap().soak;
    let tried = Position { attempts: vec![Attempt::default()], next: Some(next(3, true)), ..nuts() };
    assert_eq!((soaks(&tried, 0), soaks(&tried, 1), soaks(&nuts(), 2)), (20, 0, 20));
    let wet =
        Position { soak_until: Some(leadhand_sdk::moment::to_wire(jiff::Timestamp::UNIX_EPOCH)), ..tried.clone() };
    assert_eq!(soaks(&wet, 0), 0, "it soaks already");
    assert_eq!(soaks(&Position { soaked: true, ..tried }, 0), 0, "it has soaked");
}

#[test]
fn what_goes_back_begins_with_what_is_there_and_new_ones_for_what_is_not() {
    let refit = |position: &str| RefitLine { position: position.into(), stage: "refit".into(), ..RefitLine::default() };
    let book = GetStripResponse { refit: vec![refit("nuts")], ..GetStripResponse::default() };
    let usual = |found: &Position| {
        let rows = back(found, &book, &t()).unwrap().rows;
        rows.iter().map(|row| (row.name, row.usual)).collect::<Vec<_>>()
    };
    let off = Position { found: 6, missing: 1, standing: PositionStanding::Off.into(), ..nuts() };
    assert_eq!(usual(&off), [("refitted", 6), ("renewed", 1), ("left-out", 0)]);
    assert_eq!(
        usual(&Position { damaged: 2, ..off.clone() }),
        [("refitted", 4), ("renewed", 3), ("left-out", 0), ("scrapped", 2)]
    );
    let always = Position { renew: Renew::Always.into(), ..off.clone() };
    assert_eq!(usual(&always), [("refitted", 0), ("renewed", 7), ("left-out", 0)]);
    let some = Position { refitted: 4, ..off.clone() };
    assert_eq!(usual(&some), [("refitted", 2), ("renewed", 1), ("left-out", 0)]);
    let cover = Position { manner: Manner::In.into(), found: 4, missing: 0, count: 4, ..off };
    assert_eq!(usual(&cover), [("came-out", 4)]);
    assert!(back(&Position { position: "other".into(), ..cover }, &book, &t()).is_none());
}
