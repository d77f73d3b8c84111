//! What will not move, told as a story: it soaks before its turn, is tried by the rungs of a ladder, and from the last
//! safe try on a new one is at hand and somebody has a plan. Exceptions beside it: two lengths, a stud with its nut,
//! numbered tags, what is always renewed. The usual ladder is common practice, no source; the rules are the project's.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod stock_kit;

use leadhand_domain::answer::{Answer, Made, Next, Notice};
use leadhand_domain::command::*;
use leadhand_domain::refusal::Refusal;
use leadhand_domain::strip::{Open, RefitChange, Standing, usual_ladder};
use leadhand_domain::view::strip::{PositionLine, refit_changes, soaking, strip_view};
use leadhand_facts::rows::PositionRow;
use leadhand_facts::words::{Cause, Keep, Manner, Outcome, PositionKind, Role, SignalWord};
use leadhand_facts::*;
use stock_kit::Shop;

const JOB: JobNo = JobNo(1);

const TEMPLATE: &str = r#"
key = "exhaust"
title = "The exhaust side"

[[ladder]]
key = "studs"

[[ladder.rung]]
do = "Let it soak"
soak = 30

[[ladder.rung]]
do = "Warm it"
skills = ["heating"]
caution = [{ word = "WARNING", text = "Fire watch." }]

[[ladder.rung]]
do = "Heat it through and use the impact wrench"
skills = ["heating"]
last-safe = true

[[ladder.rung]]
do = "Extract it"

[[stage]]
key = "strip"
title = "Strip"
minutes = [20, 30, 60]

[[stage.step]]
do = "Take the manifold off"

[[stage.step.off]]
key = "shield"
what = "Heat shield"
behind = ["plugs"]
back = "refit"

[[stage.step.off]]
key = "plugs"
what = "Sensor plugs, all alike"
kind = "connector"
count = 3
tags = true
back = "refit"

[[stage.step.off]]
key = "manifold"
what = "Manifold"
behind = ["shield"]
back = "refit"

[[stage.step.off]]
key = "nuts"
what = "Nuts of the manifold"
kind = "fastener"
count = 8
on = "manifold"
back = "refit"
item = "nut-8"
ladder = "studs"
keep = "tray"

[[stage.step.off]]
key = "bolts"
what = "Bolts of the bracket"
kind = "fastener"
count = 4
behind = ["shield"]
back = "refit"

[[stage.step.off]]
key = "seal"
what = "Seal behind the bolts"
behind = ["bolts"]
renew = "always"
item = "seal-1"
back = "refit"
cure = 60

[[stage]]
key = "refit"
title = "Refit"
minutes = [20, 30, 60]
after = ["strip"]

[[stage.step]]
do = "Put it back"
"#;

struct Bench {
    shop: Shop,
    flint: PersonId,
    moss: PersonId,
}

impl Bench {
    /// The strip is under way; Moss acts, who can't heat.
    fn open() -> Self {
        let mut shop = Shop::open("UTC", "2026-05-04T06:00:00Z");
        let mut add = |name: &str, skills: &[&str]| {
            let skills = skills.iter().map(|&skill| skill.to_owned()).collect();
            let Made::Person(person) = shop.must(AddPerson { name: name.into(), skills }).made else { panic!() };
            person
        };
        let (flint, moss) = (add("Flint", &["heating"]), add("Moss", &[]));
        shop.must(AddPlace { place: "bin-1".into(), name: "Bin 1".into() });
        for item in ["nut-8", "seal-1", "bolt-45"] {
            shop.must(AddItem { item: item.into(), name: item.into(), unit: Unit::Piece });
        }
        shop.must(AddItem { item: "oil".into(), name: "Oil".into(), unit: Unit::Millilitre });
        shop.must(PublishTemplate { source: TEMPLATE.into() });
        shop.must(OpenJob {
            template: Some("exhaust".into()),
            revision: None,
            title: None,
            vehicle: WhichVehicle::New { label: "van".into(), weight_kg: None, plate: None, customer: None },
            priority: 3,
            promised_at: None,
            with: vec![],
            without: vec![],
        });
        let mut bench = Self { shop, flint, moss };
        bench.acts(moss, Role::Technician);
        bench.must(StartStage { job: JOB, stage: "strip".into(), override_reason: None });
        bench
    }

    fn acts(&mut self, person: PersonId, role: Role) {
        (self.shop.person, self.shop.role) = (Some(person), role);
    }

    fn run(&mut self, command: impl Into<Command>) -> Result<Answer, Refusal> {
        self.shop.now = self.shop.now.plus_minutes(1);
        self.shop.run_at(&command.into(), self.shop.now)
    }

    fn must(&mut self, command: impl Into<Command>) -> Answer {
        self.run(command).unwrap()
    }

    fn refused(&mut self, command: impl Into<Command>) -> Refusal {
        self.run(command).unwrap_err()
    }

    fn tries(&mut self, attempt: RecordAttempt) -> Option<Next> {
        let Made::Attempt { next, .. } = self.must(attempt).made else { panic!() };
        next
    }

    fn row(&self, position: &str) -> &PositionRow {
        self.shop.state.positions.get(&(JOB, position.into())).unwrap()
    }

    fn line(&self, position: &str) -> PositionLine {
        let view = strip_view(&self.shop.state, JOB);
        view.positions.into_iter().find(|line| line.row.position.as_str() == position).unwrap()
    }

    fn receive(&mut self, item: &str, quantity: i64) {
        let (place, quantity) = ("bin-1".into(), Quantity(quantity));
        self.must(ReceiveStock { item: item.into(), place, quantity, expires_on: None });
    }
}

fn tried(outcome: Outcome) -> RecordAttempt {
    RecordAttempt {
        job: JOB,
        position: "nuts".into(),
        rung: None,
        outcome,
        pieces: None,
        item: None,
        plan: None,
        note: None,
        blocked: false,
        override_reason: None,
    }
}

fn off(lines: Vec<OffLine>, as_listed: bool) -> TakeOff {
    TakeOff { job: JOB, stage: "strip".into(), step: None, lines, as_listed, override_reason: None }
}

fn line(position: &str) -> OffLine {
    OffLine::listed(position.into())
}

fn split(position: &str, count: i32) -> SplitPosition {
    SplitPosition {
        job: JOB,
        position: position.into(),
        part: None,
        what: None,
        count,
        size: Some("M8 x 45".into()),
        head: None,
        location: Some("the two lowest holes".into()),
    }
}

fn met(what: &str) -> AddPosition {
    AddPosition {
        job: JOB,
        stage: "strip".into(),
        position: None,
        what: what.into(),
        kind: Some(PositionKind::Hose),
        manner: Manner::Off,
        count: 1,
        size: None,
        location: None,
        behind: None,
        attached_to: None,
        keep: None,
        renew: None,
        back: Some("refit".into()),
        note: None,
        later: false,
        tags: true,
        item: None,
    }
}

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
    let kept: Vec<(i32, i32, Outcome, i32)> = bench
        .line("nuts")
        .attempts
        .iter()
        .map(|row| (row.attempt.0, row.rung, row.outcome, row.pieces))
        .collect();
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
fn two_lengths_become_two_positions_and_what_lies_behind_waits_for_both() {
    let mut bench = Bench::open();
    let Made::Position { position, .. } = bench.must(split("bolts", 2)).made else { panic!() };
    assert_eq!(position.as_str(), "bolts-2");
    assert_eq!((bench.row("bolts").detail.count, bench.row("bolts-2").detail.count), (2, 2));
    assert_eq!(bench.row("bolts-2").detail.size.as_deref(), Some("M8 x 45"));
    assert_eq!(bench.row("seal").detail.behind, [PositionKey::from("bolts"), "bolts-2".into()]);
    bench.must(off(vec![line("plugs"), line("shield"), line("bolts")], false));
    let refusal = bench.refused(off(vec![line("seal")], false));
    assert!(refusal.to_string().contains("'bolts-2'"), "{refusal}");
    // Bad input changes nothing.
    for wrong in [
        split("nuts", 8),
        split("nuts", 0),
        split("manifold", 1),
        SplitPosition { size: None, location: None, ..split("nuts", 1) },
    ] {
        assert_eq!(bench.refused(wrong).reason(), "INVALID_FIELD");
    }
    assert_eq!(bench.refused(split("bolts", 1)).reason(), "POSITION_SAID");
    assert_eq!(bench.refused(split("nothing", 1)).reason(), "NOT_FOUND");
    let taken = SplitPosition { part: Some("seal".into()), ..split("nuts", 1) };
    assert_eq!(bench.refused(taken).reason(), "ALREADY_EXISTS");
}

#[test]
fn a_stud_that_came_out_with_its_nut_is_a_position_of_its_own() {
    let mut bench = Bench::open();
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
    assert_eq!(Bench::open().refused(off(vec![line("plugs"), part], false)).field(), Some("lines.studs"));
    let nine = OffLine { studs: 9, ..line("nuts") };
    assert_eq!(Bench::open().refused(off(vec![nine], false)).field(), Some("lines.studs"));
}

#[test]
fn tags_are_numbered_through_the_job() {
    let mut bench = Bench::open();
    assert_eq!(bench.row("plugs").detail.tag, Some(1), "1 to 3, for both ends of each");
    let Made::Position { position, .. } = bench.must(met("hose with no name")).made else { panic!() };
    assert_eq!(bench.row(position.as_str()).detail.tag, Some(4));
    let one = SplitPosition { size: None, ..split("plugs", 1) };
    bench.must(one);
    assert_eq!(bench.row("plugs-2").detail.tag, Some(3), "the last number goes with the part");
    bench.must(met("another"));
    assert_eq!(bench.row("found-9").detail.tag, Some(5));
}

#[test]
fn an_earlier_repair_is_kept_with_what_came_off() {
    let mut bench = Bench::open();
    bench.must(off(vec![OffLine { repair: Some("thread insert in the third".into()), ..line("plugs") }], false));
    assert!(bench.row("plugs").repair.is_some());
    let empty = OffLine { repair: Some(" ".into()), ..line("shield") };
    assert_eq!(bench.refused(off(vec![empty], false)).field(), Some("lines[0].repair"));
}

/// Put back in its own hole it looks refitted: the book says that it is not.
#[test]
fn in_its_own_hole_never_looks_refitted() {
    let mut bench = Bench::open();
    bench.must(off(vec![OffLine { keep: Some(Keep::OwnHole), ..line("nuts") }], true));
    assert_eq!(bench.line("nuts").standing, Standing::OwnHole);
    let refit = strip_view(&bench.shop.state, JOB).refit;
    assert!(refit.iter().any(|line| line.position.as_str() == "nuts" && !line.done));
    bench.must(FinishStage { job: JOB, stage: "strip".into(), as_listed: true });
    bench.must(StartStage { job: JOB, stage: "refit".into(), override_reason: None });
    let back = |line: BackLine| PutBack {
        job: JOB,
        stage: "refit".into(),
        lines: vec![line],
        as_listed: false,
        override_reason: None,
    };
    bench.must(back(BackLine::listed("manifold".into())));
    bench.must(back(BackLine { refitted: Some(5), ..BackLine::listed("nuts".into()) }));
    assert_eq!(bench.line("nuts").standing, Standing::PartlyBack);
    bench.must(back(BackLine::listed("nuts".into())));
    assert_eq!(bench.line("nuts").standing, Standing::Settled);
}

#[test]
fn before_lifting_away_what_still_hangs_on_it_is_listed() {
    let mut bench = Bench::open();
    assert_eq!(bench.line("manifold").attached, [PositionKey::from("nuts")]);
    bench.must(off(vec![line("plugs"), line("shield"), line("nuts")], false));
    assert_eq!(bench.line("manifold").attached, []);
}

#[test]
fn what_is_always_renewed_is_wanted_from_the_beginning() {
    let mut bench = Bench::open();
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
    let mut bench = Bench::open();
    bench.must(off(vec![OffLine { missing: Some(1), ..line("nuts") }], true));
    let demand = bench.shop.state.demands.get(&(JOB, "refit".into(), StepNo(2), "nut-8".into())).unwrap();
    assert_eq!((demand.wanted.0, demand.short.0), (1, 1));
}

#[test]
fn the_refit_says_what_changed_when_more_comes_off_later() {
    let mut bench = Bench::open();
    let number = bench.must(off(vec![line("plugs"), line("shield"), line("bolts")], false)).number;
    assert_eq!(refit_changes(&bench.shop.state, JOB, number), []);
    let hose = AddPosition { behind: Some(vec!["bolts".into()]), ..met("hose behind the bolts") };
    let Made::Position { position, .. } = bench.must(hose).made else { panic!() };
    let added = RefitChange::Added { position: position.clone(), before: Some("bolts".into()) };
    let waits = RefitChange::WaitsFor { position: "bolts".into(), others: vec![position] };
    assert_eq!(refit_changes(&bench.shop.state, JOB, number), [added, waits]);
    let now = bench.shop.state.head;
    assert_eq!(refit_changes(&bench.shop.state, JOB, now), []);
    assert_eq!(refit_changes(&bench.shop.state, JOB, 1).len(), 4, "all of it is new");
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
