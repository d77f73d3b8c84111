//! What finished jobs teach, worked out by hand over four invented jobs, and the revision that they suggest. The rules are
//! the project's own.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod stock_kit;

use leadhand_domain::answer::Made;
use leadhand_domain::command::*;
use leadhand_domain::lessons::{JobLessons, Kind, Lessons, StageLessons, gather, lessons, propose};
use leadhand_domain::template::{draft, parse, write};
use leadhand_facts::safety::StepSafety;
use leadhand_facts::template::Template;
use leadhand_facts::words::{Cause, Manner, Outcome, PositionKind};
use leadhand_facts::*;
use stock_kit::Shop;

const TEMPLATE: &str = r#"
key = "belt"
title = "Camshaft belt"

[[stage]]
key = "strip"
title = "Strip"
minutes = [20, 30, 60]

[[stage.step]]
do = "Take the cover off"

[[stage]]
key = "fit"
title = "Fit"
minutes = [20, 30, 60]
after = ["strip"]

[[stage.step]]
do = "Fit the belt"
"#;

struct Yard {
    shop: Shop,
    jobs: Vec<JobNo>,
}

impl Yard {
    fn open() -> Self {
        let mut shop = Shop::open("UTC", "2026-05-04T06:00:00Z");
        let Made::Person(flint) = shop.must(AddPerson { name: "Flint".into(), skills: vec![] }).made else { panic!() };
        shop.must(AddTool { tool: "cam-lock-20".into(), name: "Lock".into(), what: None, calibration_due: None });
        shop.must(PublishTemplate { source: TEMPLATE.into() });
        shop.person = Some(flint);
        Self { shop, jobs: vec![] }
    }

    fn template(&self) -> Template {
        let latest = self.shop.state.templates.iter().max_by_key(|row| row.revision).unwrap();
        latest.doc.clone()
    }

    /// A job whose strip takes so many minutes; what else happens in it is said by `meets`.
    fn job(&mut self, minutes: i64, meets: impl Fn(&mut Shop, JobNo)) {
        let vehicle = WhichVehicle::New { label: "van".into(), weight_kg: None, plate: None, customer: None };
        let (template, revision, title, priority) = (Some("belt".into()), None, None, 3);
        let (promised_at, with, without) = (None, vec![], vec![]);
        let open = OpenJob { template, revision, title, vehicle, priority, promised_at, with, without };
        let Made::Job { job, .. } = self.shop.must(open).made else { panic!() };
        self.shop.must(StartStage { job, stage: "strip".into(), override_reason: None });
        let end = self.shop.now.plus_minutes(minutes);
        meets(&mut self.shop, job);
        assert!(self.shop.now < end, "too much for {minutes} minutes");
        // The kit's clock goes on by one with each command.
        self.shop.now = end.plus_minutes(-1);
        self.shop.must(FinishStage { job, stage: "strip".into(), as_listed: true });
        if self.shop.state.stages.get(&(job, "fit".into())).unwrap().ended_at.is_none() {
            self.shop.must(StartStage { job, stage: "fit".into(), override_reason: None });
            self.shop.must(FinishStage { job, stage: "fit".into(), as_listed: true });
        }
        let goes = stock_kit::named(&self.shop.state, job, self.shop.now, "it has to go");
        self.shop.must(goes);
        self.jobs.push(job);
    }

    fn gathered(&self) -> Vec<JobLessons> {
        // The kit's hashes tell the words.
        self.gathered_with(&|text| self.shop.state.texts.get(&(text,)).unwrap().hash.replace("hash of ", ""))
    }

    fn gathered_with(&self, word: &dyn Fn(TextId) -> String) -> Vec<JobLessons> {
        let facts: Vec<Fact> = self.shop.journal.iter().map(|entry| entry.fact.clone()).collect();
        let of_job = |job: &JobNo| {
            let starts: Vec<Fact> = facts
                .iter()
                .filter(|fact| matches!(fact, Fact::StageStarted { job: own, .. } if own == job))
                .cloned()
                .collect();
            gather(&self.shop.state, *job, &starts, word).unwrap()
        };
        self.jobs.iter().map(of_job).collect()
    }

    fn lessons(&self) -> Lessons {
        lessons(&self.template(), &self.gathered())
    }
}

fn step(shop: &mut Shop, job: JobNo, words: &str) {
    shop.must(extra(job, words));
}

fn extra(job: JobNo, words: &str) -> AddStep {
    let (tools, shared_tools, cautions, needs) = (vec!["socket 10 mm".to_owned()], vec![], vec![], vec![]);
    let (stage, instruction) = (StageKey::from("strip"), words.to_owned());
    let safety = StepSafety::default();
    AddStep { job, stage, instruction, tools, shared_tools, cautions, needs, follow_up: None, safety }
}

fn hose(shop: &mut Shop, job: JobNo) {
    shop.must(hidden(job, false));
}

/// A hose that nobody had listed, off already or still on.
fn hidden(job: JobNo, later: bool) -> AddPosition {
    AddPosition {
        job,
        stage: "strip".into(),
        position: None,
        what: "Hidden hose".into(),
        kind: Some(PositionKind::Hose),
        manner: Manner::Off,
        count: 1,
        size: Some("16 mm".into()),
        location: None,
        behind: None,
        attached_to: None,
        keep: None,
        renew: None,
        back: Some("fit".into()),
        note: None,
        later,
        item: None,
        tags: false,
        fitting: Fitting::default(),
    }
}

fn lend(shop: &mut Shop, job: JobNo) {
    let (tool, stage) = ("cam-lock-20".into(), Some("strip".into()));
    shop.must(LendTool { tool, job: Some(job), stage, bay: None, person: None, hand_on: false });
    shop.must(ReturnTool { tool: "cam-lock-20".into() });
}

fn held_up(shop: &mut Shop, job: JobNo, cause: Cause, note: &str, minutes: i64) {
    let (stage, owner, expected_at, note) = ("strip".into(), None, None, Some(note.to_owned()));
    let made = shop.must(RaiseBlocker { job, stage, cause, owner, expected_at, note }).made;
    let Made::Blocker { blocker, .. } = made else { panic!() };
    shop.now = shop.now.plus_minutes(minutes - 1);
    shop.must(ClearBlocker { job, blocker, note: None });
}

/// Four jobs of 30, 40, 45 and 55 minutes. Three met the cable tie, two the hose, two fetched the lock, one waited 10
/// minutes for a puller and 5 for a gasket, one met a seized pin.
fn four() -> Yard {
    let mut yard = Yard::open();
    yard.job(30, |shop, job| {
        step(shop, job, "Cut the cable tie");
        hose(shop, job);
    });
    yard.job(40, |shop, job| {
        step(shop, job, "cut the cable tie");
        held_up(shop, job, Cause::Tool, "the puller was at the other bay", 10);
        held_up(shop, job, Cause::Part, "gasket", 5);
    });
    yard.job(45, |shop, job| {
        step(shop, job, "Cut the cable tie");
        hose(shop, job);
        lend(shop, job);
    });
    yard.job(55, |shop, job| {
        lend(shop, job);
        held_up(shop, job, Cause::Seized, "lower pin", 20);
    });
    yard
}

fn strip(all: &Lessons) -> &StageLessons {
    all.stages.iter().find(|stage| stage.stage.as_str() == "strip").unwrap()
}

fn told(stage: &StageLessons) -> Vec<(Kind, &str, usize, usize, i64)> {
    stage.lessons.iter().map(|one| (one.kind, one.what.as_str(), one.met, one.of, one.minutes)).collect()
}

#[test]
fn each_lesson_says_in_how_many_of_the_jobs_it_was_met() {
    let yard = four();
    let all = yard.lessons();
    assert_eq!((all.jobs, all.revisions.get(&1)), (4, Some(&4)));
    let stage = strip(&all);
    assert_eq!(stage.worked, [30, 40, 45, 55]);
    assert_eq!(stage.told(), "30 to 55 min in 4 jobs, too few for a middle; estimated 30, from 20 to 60");
    assert_eq!(
        told(stage),
        [
            (Kind::Step, "Cut the cable tie", 3, 4, 0),
            (Kind::Position, "Hidden hose", 2, 4, 0),
            (Kind::Tool, "shared tool 'cam-lock-20' fetched after the start", 2, 4, 0),
            (Kind::Tool, "the puller was at the other bay", 1, 4, 10),
            (Kind::Shortage, "gasket", 1, 4, 5),
            (Kind::Finding, "seized or damaged: lower pin", 1, 4, 20),
        ]
    );
}

#[test]
fn the_proposal_is_fit_to_be_published_and_marks_what_is_new() {
    let yard = four();
    let text = propose(&yard.template(), &yard.gathered());
    let proposed = parse(&text).unwrap().template;
    let stage = &proposed.stages[0];
    let steps: Vec<&str> = stage.steps.iter().map(|step| step.instruction.as_str()).collect();
    let of_hose = "See to what earlier jobs met here and nobody had listed.";
    assert_eq!(steps, ["Take the cover off", "Cut the cable tie", of_hose]);
    assert_eq!(stage.steps[0].shared_tools, ["cam-lock-20".into()]);
    assert_eq!(stage.steps[1].tools, ["socket 10 mm"]);
    let hose = &stage.steps[2].positions[0];
    assert_eq!((hose.what.as_str(), hose.detail.back.as_ref().map(StageKey::as_str)), ("Hidden hose", Some("fit")));
    for mark in
        ["# proposed: met in 3 of 4 jobs", "# proposed: met in 2 of 4 jobs", "'cam-lock-20' proposed: met in 2 of 4"]
    {
        assert!(text.contains(mark), "{mark}\n{text}");
    }
    assert!(!text.contains("puller"), "one in four is no reason to change how all are done\n{text}");
    // What is not new is as it was.
    assert_eq!(proposed.stages[1], yard.template().stages[1]);
    let untouched = propose(&yard.template(), &[]);
    let (head, rest) = untouched.split_once("\n\n").unwrap();
    assert!(head.starts_with("# Proposed from finished jobs") && head.contains("keep no comments"), "{head}");
    assert_eq!(rest, write(&yard.template()));
}

#[test]
fn what_is_published_since_is_met_no_more_and_the_jobs_keep_their_revision() {
    let mut yard = four();
    let text = propose(&yard.template(), &yard.gathered());
    yard.shop.must(PublishTemplate { source: text });
    yard.job(50, |_, _| ());
    let all = yard.lessons();
    assert_eq!(all.revisions.into_iter().collect::<Vec<_>>(), [(1, 4), (2, 1)]);
    let again = propose(&yard.template(), &yard.gathered());
    let names = parse(&again).unwrap().template.stages[0].steps[0].shared_tools.len();
    assert_eq!(names, 1, "a tool that is listed is not proposed again");
}

#[test]
fn erased_words_teach_how_often_and_no_more() {
    let yard = four();
    let erased = yard.gathered_with(&|_| String::new());
    let all = lessons(&yard.template(), &erased);
    let steps: Vec<_> = told(strip(&all)).into_iter().filter(|(kind, ..)| *kind == Kind::Step).collect();
    assert_eq!(steps, [(Kind::Step, "words that were erased", 3, 4, 0)]);
    assert!(!propose(&yard.template(), &erased).contains("words that were erased"));
}

/// Two jobs: a pin that moved at the second rung, a way that is not the book's, brake fluid that nobody had listed, and a
/// hose that was left open on the lead's word.
#[test]
fn tries_other_ways_fluids_and_what_was_overruled_are_told() {
    let mut yard = Yard::open();
    for minutes in [40, 50] {
        yard.job(minutes, |shop, job| {
            shop.must(hidden(job, true));
            for (rung, outcome) in [(1, Outcome::NotMoved), (2, Outcome::Moved)] {
                let (rung, pieces, item, plan, note) = (Some(rung), None, None, None, None);
                let (position, blocked, override_reason) = (PositionKey::from("found-1"), false, None);
                let tried =
                    RecordAttempt { job, position, rung, outcome, pieces, item, plan, note, blocked, override_reason };
                shop.must(tried);
            }
            let (stage, step) = (StageKey::from("strip"), StepNo(1));
            let (way, reason) = ("from below".into(), "no room".into());
            shop.must(ProposeWay { job, stage: stage.clone(), step, way, reason });
            shop.must(DecideWay { job, stage, step, approved: true, note: None });
            shop.must(RecordFluid {
                job,
                fluid: "brake-fluid".into(),
                drained_ml: 50,
                filled_ml: 20,
                note: None,
                unlisted: false,
            });
        });
    }
    let all = yard.lessons();
    let told = told(strip(&all));
    let kinds = |kind| told.iter().filter(|one| one.0 == kind).map(|one| (one.1, one.2, one.3)).collect::<Vec<_>>();
    let tries = kinds(Kind::Seized);
    assert_eq!((tries.len(), tries[0].1), (1, 2), "{told:?}");
    assert!(tries[0].0.starts_with("Hidden hose: moved at rung 2 ("), "{told:?}");
    assert_eq!(kinds(Kind::Way), [("step 1: done in another way: from below", 2, 2)]);
    let fluids = [("brake-fluid: less went in than came out", 2, 2), ("brake-fluid: nobody had listed it", 2, 2)];
    assert_eq!(kinds(Kind::Fluid), fluids);
    let gone = all.stages.iter().flat_map(|stage| &stage.lessons).filter(|one| one.kind == Kind::Override);
    let gone: Vec<&str> = gone.map(|one| one.what.as_str()).collect();
    assert!(gone.contains(&"at the hand-over, fluid:brake-fluid: it has to go"), "{gone:?}");
}

#[test]
fn a_lead_s_override_is_told_with_its_reason() {
    let mut yard = Yard::open();
    yard.job(30, |shop, job| {
        let lead = shop.person;
        let why = Some("the cover can wait".into());
        shop.must(StartStage { job, stage: "fit".into(), override_reason: why });
        shop.must(FinishStage { job, stage: "fit".into(), as_listed: true });
        shop.person = lead;
    });
    let fit = yard.lessons().stages.into_iter().find(|stage| stage.stage.as_str() == "fit").unwrap();
    assert_eq!(told(&fit), [(Kind::Override, "the cover can wait", 1, 1, 0)]);
}

/// A bolt that was missing is found, with its rate, and what the server asked for then is no work of every job.
#[test]
fn what_is_about_one_job_alone_is_no_lesson_and_in_no_draft() {
    let mut yard = Yard::open();
    let left = "LEFT HALF DONE by Flint: two bolts are in by hand";
    for _ in 0..2 {
        yard.job(60, |shop, job| {
            step(shop, job, "Cut the cable tie");
            let here = StepSafety { only_here: true, ..StepSafety::default() };
            shop.must(AddStep { safety: here, ..extra(job, left) });
        });
    }
    let told = yard.lessons();
    let words: Vec<&str> = told.stages.iter().flat_map(|one| &one.lessons).map(|one| one.what.as_str()).collect();
    assert_eq!(words, ["Cut the cable tie"]);
    let state = &yard.shop.state;
    let word = |text: TextId| state.texts.get(&(text,)).unwrap().hash.replace("hash of ", "");
    let drafted = draft::draft(state, yard.jobs[0], &"drafted".into(), &word).unwrap();
    let steps: Vec<&str> =
        drafted.stages.iter().flat_map(|stage| &stage.steps).map(|one| one.instruction.as_str()).collect();
    assert!(steps.contains(&"Cut the cable tie") && !steps.contains(&left), "{steps:?}");
}

#[test]
fn a_repair_is_no_standing_step() {
    let mut yard = Yard::open();
    yard.shop.must(AddPlace { place: "bin-1".into(), name: "Bin 1".into() });
    yard.shop.must(AddItem { item: "bolt-6".into(), name: "Bolt".into(), unit: Unit::Piece, fluid: None });
    let (place, quantity) = ("bin-1".into(), Quantity(9));
    yard.shop.must(ReceiveStock { item: "bolt-6".into(), place, quantity, expires_on: None });
    for missing in [true, true, false] {
        yard.job(30, |shop, job| {
            let (position, item) = (Some("bolts".into()), Some("bolt-6".into()));
            let bolts = AddPosition { position, item, what: "Bolts".into(), count: 4, ..hidden(job, true) };
            shop.must(bolts);
            let note = Some("counted".into());
            let line = OffLine { missing: Some(i32::from(missing)), note, ..OffLine::listed("bolts".into()) };
            let (stage, lines, override_reason) = ("strip".into(), vec![line], None);
            shop.must(TakeOff { job, stage, step: None, lines, as_listed: false, override_reason });
        });
    }
    let fitted = yard.shop.state.steps.iter().filter(|row| row.fits.is_some()).count();
    assert_eq!(fitted, 2, "the server asked for it twice");
    let all = yard.lessons();
    let told: Vec<(Kind, &str, usize)> = all
        .stages
        .iter()
        .flat_map(|stage| &stage.lessons)
        .map(|lesson| (lesson.kind, lesson.what.as_str(), lesson.met))
        .collect();
    assert!(told.contains(&(Kind::Finding, "Bolts: missing before we began", 2)), "{told:?}");
    assert!(!told.iter().any(|(_, what, _)| what.contains("Fit new")), "{told:?}");
    let proposed = propose(&yard.template(), &yard.gathered());
    assert!(!proposed.contains("Fit new"), "{proposed}");
}
