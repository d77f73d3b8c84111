//! Exceptions of the strip book: two lengths, a stud with its nut, numbered tags, an earlier repair, its own hole, what
//! still hangs on something, new parts, and what the refit says when more comes off later. Common practice, no source.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod bay_kit;
mod seized_kit;
mod stock_kit;

use bay_kit::*;
use leadhand_domain::answer::Made;
use leadhand_domain::command::*;
use leadhand_domain::strip::{RefitChange, Standing};
use leadhand_domain::view::strip::{refit_changes, strip_view};
use leadhand_facts::words::Keep;
use leadhand_facts::*;
use seized_kit::*;

#[test]
fn two_lengths_become_two_positions_and_what_lies_behind_waits_for_both() {
    let mut bench = open();
    let Made::Position { position, .. } = bench.must(split("bolts", 2)).made else { panic!() };
    assert_eq!(position.as_str(), "bolts-2");
    assert_eq!((bench.row("bolts").detail.count, bench.row("bolts-2").detail.count), (2, 2));
    assert_eq!(bench.row("bolts-2").detail.size.as_deref(), Some("M8 x 45"));
    assert_eq!(bench.row("seal").detail.behind, [PositionKey::from("bolts"), "bolts-2".into()]);
    bench.must(off(vec![line("plugs"), line("shield"), line("bolts")], false));
    let refusal = bench.refusal(off(vec![line("seal")], false));
    assert!(refusal.to_string().contains("'bolts-2'"), "{refusal}");
    // Bad input changes nothing.
    for wrong in [
        split("nuts", 8),
        split("nuts", 0),
        split("manifold", 1),
        SplitPosition { size: None, location: None, ..split("nuts", 1) },
    ] {
        assert_eq!(bench.refusal(wrong).reason(), "INVALID_FIELD");
    }
    assert_eq!(bench.refusal(split("bolts", 1)).reason(), "POSITION_SAID");
    assert_eq!(bench.refusal(split("nothing", 1)).reason(), "NOT_FOUND");
    let taken = SplitPosition { part: Some("seal".into()), ..split("nuts", 1) };
    assert_eq!(bench.refusal(taken).reason(), "ALREADY_EXISTS");
}

#[test]
fn a_stud_that_came_out_with_its_nut_is_a_position_of_its_own() {
    let mut bench = open();
    bench.must(off(vec![line("plugs"), line("shield"), OffLine { studs: 1, ..line("nuts") }], false));
    let stud = bench.row("nuts-stud");
    assert_eq!((stud.found, stud.detail.came_with.as_ref().map(PositionKey::as_str)), (1, Some("nuts")));
    // Two pieces came out of one hole: the nut is one, the stud the other.
    assert_eq!(bench.row("nuts").found + stud.found, 9);
    bench.must(off(vec![], true));
    let order: Vec<String> =
        strip_view(&bench.shop.state, JOB).refit.into_iter().map(|line| line.position.to_string()).collect();
    let place = |key: &str| order.iter().position(|other| other == key).unwrap();
    assert!(place("nuts-stud") < place("manifold") && place("manifold") < place("nuts"), "{order:?}");
    let part = OffLine { studs: 1, ..line("shield") };
    assert_eq!(open().refusal(off(vec![line("plugs"), part], false)).field(), Some("lines.studs"));
    let nine = OffLine { studs: 9, ..line("nuts") };
    assert_eq!(open().refusal(off(vec![nine], false)).field(), Some("lines.studs"));
}

#[test]
fn tags_are_numbered_through_the_job() {
    let mut bench = open();
    assert_eq!(bench.row("plugs").detail.tag, Some(1), "1 to 3, for both ends of each");
    let Made::Position { position, .. } = bench.must(hose("hose with no name")).made else { panic!() };
    assert_eq!(bench.row(position.as_str()).detail.tag, Some(4));
    let one = SplitPosition { size: None, ..split("plugs", 1) };
    bench.must(one);
    assert_eq!(bench.row("plugs-2").detail.tag, Some(3), "the last number goes with the part");
    bench.must(hose("another"));
    assert_eq!(bench.row("found-2").detail.tag, Some(5));
}

#[test]
fn an_earlier_repair_is_kept_with_what_came_off() {
    let mut bench = open();
    bench.must(off(vec![OffLine { repair: Some("thread insert in the third".into()), ..line("plugs") }], false));
    assert!(bench.row("plugs").repair.is_some());
    let empty = OffLine { repair: Some(" ".into()), ..line("shield") };
    assert_eq!(bench.refusal(off(vec![empty], false)).field(), Some("lines[0].repair"));
}

/// Put back in its own hole it looks refitted: the book says that it is not.
#[test]
fn in_its_own_hole_never_looks_refitted() {
    let mut bench = open();
    bench.must(off(vec![OffLine { keep: Some(Keep::OwnHole), ..line("nuts") }], true));
    assert_eq!(bench.line("nuts").standing, Standing::OwnHole);
    let refit = strip_view(&bench.shop.state, JOB).refit;
    assert!(refit.iter().any(|line| line.position.as_str() == "nuts" && !line.done));
    bench.must(finish("strip", true));
    bench.must(start("refit"));
    bench.must(back(vec![put("manifold")]));
    bench.must(back(vec![BackLine { refitted: Some(5), ..put("nuts") }]));
    assert_eq!(bench.line("nuts").standing, Standing::PartlyBack);
    bench.must(back(vec![put("nuts")]));
    assert_eq!(bench.line("nuts").standing, Standing::Settled);
}

#[test]
fn before_lifting_away_what_still_hangs_on_it_is_listed() {
    let mut bench = open();
    assert_eq!(bench.line("manifold").attached, [PositionKey::from("nuts")]);
    bench.must(off(vec![line("plugs"), line("shield"), line("nuts")], false));
    assert_eq!(bench.line("manifold").attached, []);
}

#[test]
fn what_is_always_renewed_is_wanted_from_the_beginning() {
    let mut bench = open();
    let step = bench.shop.state.steps.get(&(JOB, "refit".into(), StepNo(1))).unwrap();
    assert_eq!(step.needs.iter().map(|need| need.item.as_str()).collect::<Vec<_>>(), ["seal-1"]);
    assert!(!bench.line("seal").part.unwrap().listed);
    bench.must(ReserveStock { job: JOB, stage: None });
    let part = bench.line("seal").part.unwrap();
    assert_eq!((part.pieces, part.short.0, part.listed), (1, 1, true), "short long before the refit begins");
    bench.receive("seal-1", 3);
    assert_eq!(bench.line("seal").part.unwrap().reserved.0, 1);
}

#[test]
fn a_missing_piece_is_wanted_when_it_is_found_missing() {
    let mut bench = open();
    bench.must(off(vec![OffLine { missing: Some(1), ..line("nuts") }], true));
    let demand = bench.shop.state.demands.get(&(JOB, "refit".into(), StepNo(2), "nut-8".into())).unwrap();
    assert_eq!((demand.wanted.0, demand.short.0), (1, 1));
}

#[test]
fn the_refit_says_what_changed_when_more_comes_off_later() {
    let mut bench = open();
    let number = bench.must(off(vec![line("plugs"), line("shield"), line("bolts")], false)).number;
    assert_eq!(refit_changes(&bench.shop.state, JOB, number), []);
    let hose = AddPosition { behind: Some(vec!["bolts".into()]), ..hose("hose behind the bolts") };
    let Made::Position { position, .. } = bench.must(hose).made else { panic!() };
    let added = RefitChange::Added { position: position.clone(), before: Some("bolts".into()) };
    let waits = RefitChange::WaitsFor { position: "bolts".into(), others: vec![position] };
    assert_eq!(refit_changes(&bench.shop.state, JOB, number), [added, waits]);
    let now = bench.shop.state.head;
    assert_eq!(refit_changes(&bench.shop.state, JOB, now), []);
    assert_eq!(refit_changes(&bench.shop.state, JOB, 1).len(), 4, "all of it is new");
}

/// What is said of where the nuts are kept holds for their studs: they lie in one tray.
#[test]
fn a_stud_is_kept_where_its_nut_is() {
    let mut bench = open();
    let nuts = OffLine { studs: 2, keep: Some(Keep::Bag), kept_at: Some("bag 7".into()), ..line("nuts") };
    bench.must(off(vec![line("plugs"), line("shield"), nuts], false));
    let stud = bench.row("nuts-stud");
    assert_eq!(stud.keep, Some(Keep::Bag));
    assert!(stud.kept_at.is_some() && stud.kept_at != bench.row("nuts").kept_at, "its own words, to be erased alone");
}

/// Unanswered, what is met hangs behind all that came off; a stud that came out early is not in its way.
#[test]
fn what_hangs_on_the_manifold_may_be_met_after_a_stud_came_out() {
    let mut bench = open();
    bench.must(off(vec![line("plugs"), line("shield"), OffLine { studs: 1, ..line("nuts") }], false));
    let clip = AddPosition { attached_to: Some("manifold".into()), ..hose("clip on the manifold") };
    let Made::Position { position, .. } = bench.must(clip).made else { panic!() };
    let behind: Vec<&str> = bench.row(position.as_str()).detail.behind.iter().map(PositionKey::as_str).collect();
    assert_eq!(behind, ["nuts", "plugs", "shield"]);
    bench.must(off(vec![], true));
    // Behind the manifold and hanging on it: said so, it is a ring, and is refused.
    let ring = AddPosition {
        attached_to: Some("manifold".into()),
        behind: Some(vec!["nuts-stud".into()]),
        ..hose("another clip")
    };
    assert_eq!(bench.refused(ring), "POSITION_RING");
    // What hangs on something that is off already lies behind all that did not come off after that.
    let late = AddPosition { attached_to: Some("shield".into()), ..hose("late clip") };
    let Made::Position { position, .. } = bench.must(late).made else { panic!() };
    let behind: Vec<&str> = bench.row(position.as_str()).detail.behind.iter().map(PositionKey::as_str).collect();
    assert_eq!(behind, ["nuts", "plugs"]);
}
