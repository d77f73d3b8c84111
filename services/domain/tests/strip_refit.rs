//! Any strip book: random templates, taken off, added to, put back and taken back in any sequence. After every
//! command the refit holds each thing that came off exactly once and respects every dependency, read from the
//! auditor's rows; and what stands against handing over is what the auditor counts by itself, asked by closing the job
//! in its own books. No outside source: the law of places and pieces and the order are the project's own.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod stock_kit;

use leadhand_auditor::{Books, check_books};
use leadhand_domain::answer::Made;
use leadhand_domain::command::*;
use leadhand_domain::view::strip::strip_view;
use leadhand_facts::rows::PositionRow;
use leadhand_facts::words::{Manner, Renew, Role, Tightness};
use leadhand_facts::*;
use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::fmt::Write;
use stock_kit::Shop;

const JOB: JobNo = JobNo(1);
const STAGES: [&str; 3] = ["strip", "deeper", "refit"];
/// Laws that only the strip book can break.
const STRIP_LAWS: [&str; 6] =
    ["put-in-is-out", "second-check", "strip-places", "strip-pieces", "strip-fewer", "strip-tight"];
/// Laws of the strip book that a lead's word leaves in force.
const FINAL_LAWS: [&str; 2] = ["put-in-is-out", "second-check"];

/// Random numbers in a row; when they are used up, zeros.
struct Dice<'a>(std::slice::Iter<'a, u16>);

impl Dice<'_> {
    fn below(&mut self, sides: usize) -> usize {
        usize::from(*self.0.next().unwrap_or(&0)) % sides.max(1)
    }

    fn rarely(&mut self, once_in: usize) -> bool {
        self.below(once_in) == once_in - 1
    }

    fn small(&mut self, most: usize) -> i32 {
        i32::try_from(self.below(most + 1)).unwrap()
    }
}

/// A template of two to eight positions in two stages. Who has a lower number comes off before: so nothing rings, and
/// the second stage never has to come before the first.
fn template(dice: &mut Dice<'_>) -> String {
    let count = 2 + dice.below(7);
    let cut = 1 + dice.below(count);
    let mut text = String::from("key = \"any\"\ntitle = \"Any\"\n");
    for (stage, from, until) in [("strip", 0, cut), ("deeper", cut, count)] {
        let after = if stage == "deeper" { "after = [\"strip\"]\n" } else { "" };
        let _ = write!(text, "\n[[stage]]\nkey = \"{stage}\"\ntitle = \"S\"\nminutes = [1, 2, 3]\n{after}");
        text.push_str("[[stage.step]]\ndo = \"Take it off\"\n");
        for at in from..until {
            text.push_str(&position(at, count, dice));
        }
    }
    text.push_str("\n[[stage]]\nkey = \"refit\"\ntitle = \"R\"\nminutes = [1, 2, 3]\nafter = [\"deeper\"]\n");
    text
}

fn position(at: usize, count: usize, dice: &mut Dice<'_>) -> String {
    let list = ["off", "off", "off", "access", "aside", "in"][dice.below(6)];
    let kind = if list == "in" { "aid" } else { ["fastener", "part"][dice.below(2)] };
    let places = 1 + dice.below(4);
    let mut text =
        format!("[[stage.step.{list}]]\nkey = \"p{at}\"\nwhat = \"Thing {at}\"\nkind = \"{kind}\"\ncount = {places}\n");
    let behind: Vec<String> = (0..at).filter(|_| dice.rarely(3)).map(|other| format!("\"p{other}\"")).collect();
    let _ = writeln!(text, "behind = [{}]", behind.join(", "));
    if at + 1 < count && dice.rarely(3) {
        let _ = writeln!(text, "on = \"p{}\"", at + 1 + dice.below(count - at - 1));
    }
    if dice.rarely(4) {
        text.push_str("renew = \"always\"\n");
    }
    if dice.rarely(4) && list != "in" {
        text.push_str("second-check = true\n");
    }
    if dice.rarely(2) {
        text.push_str("back = \"refit\"\n");
    }
    text
}

/// What was reached, so that the property is not proved over nothing.
#[derive(Debug, Default)]
struct Reached {
    dependencies: usize,
    added: usize,
    taken_back: usize,
    let_go: usize,
    let_go_by_a_lead: usize,
    held: usize,
    held_for_good: usize,
}

struct Bench {
    shop: Shop,
    persons: [PersonId; 2],
}

impl Bench {
    fn open(template: &str) -> Self {
        let mut shop = Shop::open("UTC", "2026-05-04T06:00:00Z");
        let persons = ["Flint", "Moss"].map(|name| {
            let Made::Person(person) = shop.must(AddPerson { name: name.into(), skills: vec![] }).made else {
                panic!()
            };
            person
        });
        shop.must(PublishTemplate { source: template.to_owned() });
        shop.must(OpenJob {
            template: Some("any".into()),
            revision: None,
            title: None,
            vehicle: WhichVehicle::New { label: "van".into(), weight_kg: None, plate: None, customer: None },
            priority: 3,
            promised_at: None,
            with: vec![],
            without: vec![],
        });
        let mut bench = Self { shop, persons };
        bench.acts(0);
        for stage in STAGES {
            // All under way at once, so that any sequence of off and back can be tried.
            let override_reason = Some("all at once".to_owned());
            bench.shop.must(StartStage { job: JOB, stage: stage.into(), override_reason });
        }
        bench
    }

    fn acts(&mut self, which: usize) {
        (self.shop.person, self.shop.role) = (Some(self.persons[which]), Role::Lead);
    }

    /// The auditor's rows.
    fn rows(&self) -> Vec<PositionRow> {
        self.shop.books.rows::<PositionRow>().cloned().collect()
    }

    fn some(&self, dice: &mut Dice<'_>, which: impl Fn(&PositionRow) -> bool) -> Option<PositionRow> {
        let all: Vec<PositionRow> = self.rows().into_iter().filter(|row| which(row)).collect();
        let at = dice.below(all.len());
        all.get(at).cloned()
    }

    /// The laws of the strip book that the auditor would find broken if the job were closed now.
    fn broken_if_closed(&self, on_a_leads_word: bool) -> Vec<&'static str> {
        let mut books: Books = self.shop.books.clone();
        let mut entry = self.shop.journal.last().unwrap().clone();
        entry.number += 1;
        entry.fact_id = FactId(uuid::Uuid::from_u128(u128::MAX));
        let word = TextRef { id: TextId(uuid::Uuid::from_u128(u128::MAX - 1)), hash: "hash".into() };
        entry.fact = Fact::JobCompleted { job: JOB, overridden: on_a_leads_word.then_some(word), lines: Vec::new() };
        books.take(&entry).unwrap();
        check_books(&books).into_iter().map(|found| found.law).filter(|law| STRIP_LAWS.contains(law)).collect()
    }

    fn try_something(&mut self, dice: &mut Dice<'_>, reached: &mut Reached) {
        self.acts(dice.below(2));
        let accepted = match dice.below(10) {
            0..=2 => self.take_off(dice),
            3 => {
                let added = self.add(dice);
                reached.added += usize::from(added);
                added
            }
            4..=6 => self.put_back(dice),
            7 => self.tighten(dice),
            8 => self.check(dice),
            _ => {
                let reopened = self.reopen(dice);
                reached.taken_back += usize::from(reopened);
                reopened
            }
        };
        if accepted {
            self.holds(reached);
        }
    }

    fn run(&mut self, command: impl Into<Command>) -> bool {
        match self.shop.run(&command.into()) {
            Ok(_) => true,
            Err(refusal) => {
                assert_ne!(refusal.reason(), "DEFECT", "{refusal}");
                false
            }
        }
    }

    fn take_off(&mut self, dice: &mut Dice<'_>) -> bool {
        let Some(row) = self.some(dice, |row| row.off_n.is_none()) else { return false };
        let line = OffLine {
            missing: dice.rarely(3).then(|| dice.small(2)),
            damaged: i32::from(dice.rarely(5)),
            note: Some("as it was".into()),
            ..OffLine::listed(row.position)
        };
        let override_reason = dice.rarely(8).then(|| "no other way".to_owned());
        self.run(TakeOff {
            job: JOB,
            stage: row.stage,
            step: None,
            lines: vec![line],
            as_listed: false,
            override_reason,
        })
    }

    fn add(&mut self, dice: &mut Dice<'_>) -> bool {
        let known = self.rows();
        let other = |dice: &mut Dice<'_>| known[dice.below(known.len())].position.clone();
        let behind = (dice.below(2) == 0).then(|| vec![other(dice)]);
        let attached_to = dice.rarely(4).then(|| other(dice));
        self.run(AddPosition {
            job: JOB,
            stage: STAGES[dice.below(2)].into(),
            position: None,
            what: "hidden hose".into(),
            kind: None,
            manner: if dice.rarely(5) { Manner::In } else { Manner::Off },
            count: 1 + dice.small(2),
            size: None,
            location: None,
            behind,
            attached_to,
            keep: None,
            renew: dice.rarely(4).then_some(Renew::Always),
            back: (dice.below(2) == 0).then(|| "refit".into()),
            note: None,
            later: dice.rarely(4),
            tags: dice.rarely(4),
            item: None,
            fitting: Fitting::default(),
        })
    }

    fn put_back(&mut self, dice: &mut Dice<'_>) -> bool {
        let Some(row) = self.some(dice, |row| row.off_n.is_some()) else { return false };
        let some = |dice: &mut Dice<'_>| dice.rarely(3).then(|| dice.small(3));
        let line = BackLine {
            refitted: some(dice),
            renewed: some(dice),
            left_out: i32::from(dice.rarely(8)),
            scrapped: some(dice),
            kept: i32::from(dice.rarely(8)),
            tightness: [None, Some(Tightness::Loose), Some(Tightness::Finger)][dice.below(3)],
            reason: Some("so it is".into()),
            ..BackLine::listed(row.position)
        };
        let override_reason = dice.rarely(8).then(|| "a mock-up".to_owned());
        self.run(PutBack { job: JOB, stage: "refit".into(), lines: vec![line], as_listed: false, override_reason })
    }

    fn tighten(&mut self, dice: &mut Dice<'_>) -> bool {
        let Some(row) = self.some(dice, |row| row.tightness.is_some()) else { return false };
        self.run(TightenPositions { job: JOB, positions: vec![row.position], tightness: Tightness::Final })
    }

    fn check(&mut self, dice: &mut Dice<'_>) -> bool {
        let Some(row) = self.some(dice, |row| row.back_n.is_some()) else { return false };
        self.run(ConfirmPositions { job: JOB, positions: vec![row.position] })
    }

    fn reopen(&mut self, dice: &mut Dice<'_>) -> bool {
        let Some(row) = self.some(dice, |row| row.off_n.is_some()) else { return false };
        self.run(ReopenPosition { job: JOB, position: row.position, reason: "it was another one".into() })
    }

    /// Everything goes back in the order of the refit and is looked at; something is forgotten now and then.
    fn settle(&mut self, dice: &mut Dice<'_>) {
        let forgetful = dice.rarely(3);
        for line in strip_view(&self.shop.state, JOB).refit {
            if forgetful && dice.rarely(4) {
                continue;
            }
            self.acts(0);
            let back = |line| PutBack {
                job: JOB,
                stage: "refit".into(),
                lines: vec![line],
                as_listed: false,
                override_reason: Some("to the end".into()),
            };
            let listed = BackLine::listed(line.position.clone());
            self.run(back(listed.clone()));
            // Pieces that a renewal left over.
            for kept in [1, 1, 1, 1] {
                self.run(back(BackLine { refitted: Some(0), renewed: Some(0), kept, ..listed.clone() }));
            }
            let position = line.position;
            self.run(TightenPositions { job: JOB, positions: vec![position.clone()], tightness: Tightness::Final });
            self.acts(1);
            self.run(ConfirmPositions { job: JOB, positions: vec![position.clone()] });
            self.acts(0);
            self.run(ConfirmPositions { job: JOB, positions: vec![position] });
        }
    }

    fn holds(&self, reached: &mut Reached) {
        let view = strip_view(&self.shop.state, JOB);
        // None was there of what was added by hand and taken back.
        let none =
            |row: &PositionRow| row.unplanned && row.detail.manner != Manner::In && (row.found, row.missing) == (0, 0);
        let off = self.rows().into_iter().filter(|row| row.off_n.is_some() && !none(row));
        let touched: BTreeMap<PositionKey, PositionRow> = off.map(|row| (row.position.clone(), row)).collect();
        let order: Vec<&PositionKey> = view.refit.iter().map(|line| &line.position).collect();
        let mut once = order.clone();
        once.sort();
        assert_eq!(once, touched.keys().collect::<Vec<_>>(), "each that came off exactly once");
        let place = |key: &PositionKey| order.iter().position(|other| *other == key).unwrap();
        for row in touched.values() {
            let earlier = row.detail.behind.iter().filter(|other| touched.contains_key(*other));
            for other in earlier {
                assert!(place(&row.position) < place(other), "{} is behind {other}: {order:?}", row.position);
                reached.dependencies += 1;
            }
            if let Some(holder) = row.detail.attached_to.as_ref().filter(|other| touched.contains_key(*other)) {
                assert!(place(holder) < place(&row.position), "{} hangs on {holder}: {order:?}", row.position);
                reached.dependencies += 1;
            }
        }
        let open = (view.open.is_empty(), view.open.iter().any(leadhand_domain::strip::Open::is_final));
        let (alone, on_a_word) = (self.broken_if_closed(false), self.broken_if_closed(true));
        assert_eq!(open.0, alone.is_empty(), "{:?} but the auditor says {alone:?}", view.open);
        let for_good = on_a_word.iter().any(|law| FINAL_LAWS.contains(law));
        assert_eq!(open.1, for_good, "{:?} but the auditor says {on_a_word:?}", view.open);
    }

    /// The vehicle goes exactly when the auditor has nothing against it.
    fn hand_over(&mut self, reached: &mut Reached) {
        self.acts(0);
        // What was taken back is said anew, before its stage is left out.
        for row in self.rows().into_iter().filter(|row| row.taken_back && row.off_n.is_none()) {
            let line = OffLine { found: Some(0), note: Some("none".into()), ..OffLine::listed(row.position) };
            let (step, as_listed) = (None, false);
            let override_reason = Some("it was never off".to_owned());
            self.run(TakeOff { job: JOB, stage: row.stage, step, lines: vec![line], as_listed, override_reason });
        }
        for stage in STAGES {
            self.shop.must(SkipStage { job: JOB, stage: stage.into(), reason: "enough".into() });
        }
        let (alone, on_a_word) = (self.broken_if_closed(false), self.broken_if_closed(true));
        let went = self.run(CompleteJob { job: JOB, override_reason: None, overrides: Vec::new() });
        let left = leadhand_domain::hand_over::lines(&self.shop.state, JOB, self.shop.now);
        assert_eq!(went, alone.is_empty(), "without a word, {left:?}, and the auditor says {alone:?}");
        if went {
            reached.let_go += 1;
            return;
        }
        let unnamed = CompleteJob { job: JOB, override_reason: Some("he waits".into()), overrides: Vec::new() };
        assert!(!self.run(unnamed), "a reason that names no line lets nothing go");
        let went = self.run(stock_kit::named(&self.shop.state, JOB, self.shop.now, "the customer knows"));
        assert_eq!(went, on_a_word.is_empty(), "on a lead's word, and the auditor says {on_a_word:?}");
        reached.held += 1;
        if went { reached.let_go_by_a_lead += 1 } else { reached.held_for_good += 1 }
    }
}

#[test]
fn the_refit_respects_every_dependency_and_the_auditor_agrees_about_handing_over() {
    let reached = RefCell::new(Reached::default());
    let config = Config { cases: 90, failure_persistence: None, ..Config::default() };
    let rng = TestRng::deterministic_rng(RngAlgorithm::ChaCha);
    let rolls = (
        proptest::collection::vec(any::<u16>(), 120),
        proptest::collection::vec(proptest::array::uniform::<_, 16>(any::<u16>()), 10..35),
    );
    let ran = TestRunner::new_with_rng(config, rng).run(&rolls, |(shape, rolls)| {
        let mut reached = reached.borrow_mut();
        let mut dice = Dice(shape.iter());
        let mut bench = Bench::open(&template(&mut dice));
        for rolls in &rolls {
            bench.try_something(&mut Dice(rolls.iter()), &mut reached);
        }
        if !dice.rarely(3) {
            bench.settle(&mut dice);
            bench.holds(&mut reached);
        }
        bench.hand_over(&mut reached);
        Ok(())
    });
    if let Err(failed) = ran {
        panic!("{failed}");
    }
    let reached = reached.into_inner();
    println!("{reached:?}");
    let Reached { dependencies, added, taken_back, let_go, let_go_by_a_lead, held, held_for_good } = reached;
    assert!(dependencies > 500 && added > 40 && taken_back > 20, "too little came about");
    assert!(let_go > 5 && let_go_by_a_lead > 5 && held > 10 && held_for_good > 5, "one way was never gone");
}
