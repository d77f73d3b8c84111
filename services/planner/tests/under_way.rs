//! What has started goes on now, and waits begin when they can: worked by hand from the shop that each test sets up. The rules
//! are the project's own.

mod kit;

use kit::{after, at, bay, empty, job, person, stage, technician, window};
use leadhand_auditor::check_plan;
use leadhand_facts::plan::{
    Cause, Plan, PlanBlocker, PlanInput, PlanReport, PlanTool, PlannedStage, StageNow, VehicleNow,
};
use leadhand_facts::words::{BayKind, StageKind};
use leadhand_facts::{BayKey, Instant, ToolKey};
use leadhand_planner::{Budget, propose};

fn plan(input: &PlanInput, schedules: u64) -> (Plan, PlanReport) {
    let mut stop = || false;
    let made = propose(input, 1, &mut Budget { schedules, stop: &mut stop });
    assert_eq!(check_plan(input, &made.0), Vec::new());
    made
}

fn row<'p>(plan: &'p Plan, stage: &str) -> &'p PlannedStage {
    plan.stages.iter().find(|row| row.stage.as_str() == stage).expect("planned")
}

fn rules(input: &PlanInput, plan: &Plan) -> Vec<&'static str> {
    check_plan(input, plan).iter().map(|fault| fault.rule).collect()
}

fn accepted(
    number: usize,
    stage: &str,
    bay: Option<&BayKey>,
    people: usize,
    (from, until): (i64, i64),
) -> PlannedStage {
    PlannedStage {
        job: job(number, Vec::new()).job,
        stage: stage.into(),
        bay: bay.cloned(),
        people: (0..people).map(|_| person(1)).collect(),
        tools: Vec::new(),
        from: at(from),
        until: at(until),
    }
}

/// Eight hours a day, one lift, one hand, who is clocked on to the first of two jobs; the second is urgent.
fn shop() -> PlanInput {
    let mut input = empty(20, 480, 960);
    input.bays.push(bay(1, BayKind::TwoPostLift));
    let shifts = input.shop.clone();
    input.technicians.push(technician(1, &[], shifts));
    let mut begun = stage("begun", 120);
    (begun.now, begun.on) = (StageNow::Started { people: vec![person(1)] }, true);
    input.jobs.push(job(1, vec![begun]));
    input.jobs[0].vehicle = VehicleNow::Bay(input.bays[0].bay.clone());
    let mut other = stage("other", 60);
    other.in_bay = false;
    input.jobs.push(job(2, vec![other]));
    input.jobs[1].promised = Some(at(30));
    input.jobs[1].weight = 9;
    input
}

/// It was to begin at 240, by the lead's word and by the accepted plan, and was started at once.
#[test]
fn started_work_goes_on_now_whenever_it_was_to_begin() {
    let mut input = shop();
    input.jobs[0].stages[0].pin.from = Some(at(240));
    input.accepted =
        vec![accepted(1, "begun", Some(&input.bays[0].bay), 1, (240, 360)), accepted(2, "other", None, 1, (0, 60))];
    let (made, _) = plan(&input, 400);
    assert_eq!((row(&made, "begun").from, row(&made, "other").from), (at(0), at(120)));
    assert_eq!(row(&made, "begun").bay, Some(input.bays[0].bay.clone()));
    let mut late = made;
    for stage in &mut late.stages {
        let (from, until) = if stage.stage.as_str() == "begun" { (60, 180) } else { (0, 60) };
        (stage.from, stage.until) = (at(from), at(until));
    }
    late.visits[0].until = at(180);
    assert!(rules(&input, &late).contains(&"runs-on"), "{:?}", rules(&input, &late));
}

/// What was begun and is held up until 100 goes on then, and not when it was to begin.
#[test]
fn begun_work_that_is_held_up_goes_on_when_that_is_over() {
    let mut input = shop();
    input.jobs.truncate(1);
    let begun = &mut input.jobs[0].stages[0];
    (begun.now, begun.begun, begun.on) = (StageNow::Open, true, false);
    (begun.pin.people, begun.pin.from) = (vec![person(1)], Some(at(240)));
    begun.blocker = Some(PlanBlocker { cause: "a seized bolt".to_owned(), until: Some(at(100)), beside: None });
    input.accepted = vec![accepted(1, "begun", Some(&input.bays[0].bay), 1, (240, 360))];
    for schedules in [1, 200] {
        assert_eq!(row(&plan(&input, schedules).0, "begun").from, at(100));
    }
}

/// It is evening, the hand's shift is over, and they are clocked on: it goes on in the morning. Where an evening of overtime is
/// open, it goes on in that, and in neither case is the hand at anything else before.
#[test]
fn who_is_clocked_on_outside_the_shift_is_at_nothing_else_before() {
    let mut input = shop();
    input.at = at(600);
    input.jobs.iter_mut().for_each(|job| job.here_from = at(600));
    let (made, _) = plan(&input, 400);
    assert_eq!((row(&made, "begun").from, row(&made, "other").from), (at(1_440), at(1_560)));
    input.technicians[0].overtime.push(window(600, 780));
    let (made, _) = plan(&input, 400);
    assert_eq!((row(&made, "begun").from, row(&made, "other").from), (at(600), at(720)));
    let mut late = made;
    for stage in &mut late.stages {
        let (from, until) = if stage.stage.as_str() == "begun" { (1_440, 1_560) } else { (600, 660) };
        (stage.from, stage.until) = (at(from), at(until));
    }
    late.visits[0].until = at(1_560);
    assert!(rules(&input, &late).contains(&"runs-on"), "{:?}", rules(&input, &late));
}

/// Two are clocked on to one stage, and the second's shift begins at 120: until then the first is at it, and at nothing else.
#[test]
fn who_is_clocked_on_does_not_go_elsewhere_until_the_other_is_there() {
    let mut input = shop();
    let shifts = input.shop.iter().map(|day| window(kit::minute(day.from) + 120, kit::minute(day.until)));
    input.technicians.push(technician(2, &["engine"], shifts.collect()));
    input.jobs[0].stages[0].now = StageNow::Started { people: vec![person(1), person(2)] };
    input.jobs[0].stages[0].hands = 2;
    input.jobs[1].stages[0].pin.people = vec![person(1)];
    let (made, _) = plan(&input, 400);
    assert_eq!((row(&made, "begun").from, row(&made, "other").from), (at(120), at(240)));
    let mut early = made;
    for stage in early.stages.iter_mut().filter(|stage| stage.stage.as_str() == "other") {
        (stage.from, stage.until) = (at(0), at(60));
    }
    assert_eq!(rules(&input, &early), ["clocked-on"]);
}

/// Of two stages that have started, the one that somebody is clocked on to goes on first.
#[test]
fn what_somebody_is_clocked_on_to_goes_before_what_they_left() {
    let mut input = shop();
    input.jobs[1].stages[0].now = StageNow::Started { people: vec![person(1)] };
    let (made, _) = plan(&input, 400);
    assert_eq!((row(&made, "begun").from, row(&made, "other").from), (at(0), at(120)));
    let (on, left) = (&mut input.jobs[0].stages[0].on, made);
    *on = false;
    let (made, _) = plan(&input, 400);
    assert_eq!(row(&made, "other").from, at(0), "where nobody is, urgency counts");
    input.jobs[0].stages[0].on = true;
    assert!(rules(&input, &made).contains(&"runs-on"));
    assert_eq!(rules(&input, &left), Vec::<&str>::new());
}

/// A wait that was to begin late by the accepted plan begins when its work is over, in the evening too.
#[test]
fn waits_begin_when_they_can() {
    let mut input = shop();
    input.jobs.truncate(1);
    let mut strip = stage("strip", 60);
    strip.blocker = Some(PlanBlocker { cause: "a seized bolt".to_owned(), until: Some(at(400)), beside: None });
    let mut cure = stage("cure", 240);
    (cure.kind, cure.hands, cure.in_bay, cure.after) = (StageKind::Wait, 0, false, vec![after("strip", 10)]);
    let mut refit = stage("refit", 60);
    refit.after = vec![after("cure", 0)];
    input.jobs[0].stages = vec![strip, cure, refit];
    input.jobs[0].promised = Some(at(60));
    input.accepted = vec![accepted(1, "cure", None, 0, (1_190, 1_430))];
    for (in_bay, schedules) in [(false, 1), (false, 400), (true, 1), (true, 400)] {
        input.jobs[0].stages[1].in_bay = in_bay;
        input.accepted[0].bay = in_bay.then(|| input.bays[0].bay.clone());
        let (made, report) = plan(&input, schedules);
        assert_eq!((row(&made, "strip").from, row(&made, "cure").from), (at(400), at(470)), "in a bay: {in_bay}");
        assert!(!report.jobs[0].because.iter().any(|link| link.cause == Cause::Order));
    }
    input.jobs[0].stages[1].in_bay = false;
    let (mut late, _) = plan(&input, 400);
    for stage in late.stages.iter_mut().filter(|stage| stage.stage.as_str() == "cure") {
        (stage.from, stage.until) = (at(475), at(715));
    }
    assert_eq!(rules(&input, &late), ["waits"]);
}

/// In crowded shops no wait stands later than what it comes after, and none is told to let others go first.
#[test]
fn no_wait_lets_others_go_first() {
    let (mut waits, mut told) = (0, 0);
    for seed in 600..640 {
        let mut input = kit::random(kit::Size { jobs: 8, stages: 6, bays: 3, people: 4, days: 40, grain: 30 }, seed);
        input.shift_end = input.until;
        for job in &mut input.jobs {
            job.promised = Some(at(0));
            // Some hold a shared tool, and some a bay.
            let count = job.job.0;
            for stage in job.stages.iter_mut().filter(|stage| stage.kind == StageKind::Wait) {
                stage.in_bay = count % 3 == 0;
                if count % 3 == 1 {
                    stage.tools.push(ToolKey::from("cam-lock"));
                }
                waits += 1;
            }
        }
        let (before, _) = plan(&input, 60);
        input.accepted = before.stages;
        input.accepted.iter_mut().for_each(|row| {
            (row.from, row.until) = (row.from.plus_minutes(90), row.until.plus_minutes(90));
        });
        let (_, report) = plan(&input, 60);
        for link in report.jobs.iter().flat_map(|job| &job.because) {
            let own = input.jobs.iter().find(|job| job.job == link.job).expect("a job");
            let said = own.stages.iter().find(|stage| stage.stage == link.stage).expect("a stage");
            if said.kind == StageKind::Wait {
                assert_ne!(link.cause, Cause::Order, "shop {seed}: {} of job {}", link.stage, link.job);
                told += 1;
            }
        }
    }
    assert!(waits > 100 && told > 40, "{waits} waits, {told} told");
}

/// However long is searched, and whatever else would be put off: the auditor looks for each.
#[test]
fn a_long_search_puts_off_neither_started_work_nor_waits() {
    for seed in 700..712 {
        let mut input = kit::random(kit::Size { jobs: 8, stages: 6, bays: 3, people: 4, days: 40, grain: 30 }, seed);
        for (n, job) in input.jobs.iter_mut().enumerate() {
            job.promised = Some(at(60 * i64::from(job.weight)));
            if n < 4 && job.vehicle == VehicleNow::Away {
                let first = &mut job.stages[0];
                (first.in_bay, first.hands, first.on) = (false, 1, n % 2 == 0);
                first.tools.clear();
                first.now = StageNow::Started { people: vec![person(n)] };
            }
        }
        plan(&input, 1_500);
    }
}

/// The wait itself is under way in the bay: its vehicle is not rolled out, though it may leave and another wants the bay.
#[test]
fn a_wait_that_is_under_way_in_a_bay_goes_on_there() {
    let mut input = shop();
    let mut cure = stage("cure", 240);
    (cure.kind, cure.hands, cure.now) = (StageKind::Wait, 0, StageNow::Started { people: Vec::new() });
    let mut done = stage("done", 60);
    (done.now, done.may_leave) = (StageNow::Ended { at: input.at }, true);
    let mut refit = stage("refit", 60);
    refit.after = vec![after("cure", 0)];
    input.jobs[0].stages = vec![done, cure, refit];
    input.jobs[1].stages[0].in_bay = true;
    input.jobs[0].moving_minutes = 10;
    for schedules in [1, 400] {
        assert_eq!(row(&plan(&input, schedules).0, "cure").from, at(0));
    }
}

/// Somebody is clocked on, and the tool that it takes is away until 100: nobody stands idle meanwhile.
#[test]
fn who_waits_for_a_tool_may_be_at_something_else() {
    let mut input = shop();
    let tool = ToolKey::from("cam-lock");
    input.tools.push(PlanTool { tool: tool.clone(), away: vec![window(0, 100)], with: None });
    input.jobs[0].stages[0].tools.push(tool);
    let (made, _) = plan(&input, 400);
    let from: Vec<Instant> = ["begun", "other"].map(|stage| row(&made, stage).from).into();
    assert_eq!(from, [at(100), at(0)]);
}

/// Two waits want the same tool for an hour each, and the accepted plan has both late: one begins at once and the other as soon
/// as the tool is free, in the evening too.
#[test]
fn waits_that_hold_a_shared_tool_begin_when_they_can() {
    let mut input = shop();
    input.jobs.truncate(1);
    let tool = ToolKey::from("cam-lock");
    input.tools.push(PlanTool { tool: tool.clone(), away: vec![window(0, 500)], with: None });
    let mut strip = stage("strip", 60);
    strip.in_bay = false;
    let cures = ["one", "two"].map(|key| {
        let mut cure = stage(key, 60);
        (cure.kind, cure.hands, cure.in_bay, cure.after) = (StageKind::Wait, 0, false, vec![after("strip", 0)]);
        cure.tools = vec![tool.clone()];
        cure
    });
    input.jobs[0].stages = [strip].into_iter().chain(cures).collect();
    (input.jobs[0].vehicle, input.jobs[0].promised) = (VehicleNow::Away, Some(at(60)));
    input.accepted = vec![accepted(1, "one", None, 0, (700, 760)), accepted(1, "two", None, 0, (800, 860))];
    for schedules in [1, 400] {
        let (made, report) = plan(&input, schedules);
        let mut begins = [row(&made, "one").from, row(&made, "two").from];
        begins.sort();
        assert_eq!(begins, [at(500), at(560)], "after {schedules}");
        assert_eq!(report.jobs[0].ready, Some(at(620)));
    }
    let (mut late, _) = plan(&input, 400);
    let last = late.stages.iter_mut().max_by_key(|stage| stage.from).expect("planned");
    (last.from, last.until) = (at(570), at(630));
    assert_eq!(rules(&input, &late), ["waits"]);
}

/// The tool is with the hand: a stage of that hand uses it, another's waits until it is back.
#[test]
fn who_has_a_tool_may_use_it() {
    let mut input = shop();
    let tool = ToolKey::from("cam-lock");
    input.tools.push(PlanTool { tool: tool.clone(), away: vec![window(0, 480)], with: Some(person(1)) });
    input.technicians.push(technician(2, &[], input.shop.clone()));
    input.jobs[0].stages[0].on = false;
    input.jobs[0].stages[0].now = StageNow::Open;
    for job in &mut input.jobs {
        job.stages[0].tools.push(tool.clone());
    }
    let (made, report) = plan(&input, 400);
    assert_eq!((row(&made, "other").from, &row(&made, "other").people[..]), (at(0), &[person(1)][..]));
    assert_eq!((row(&made, "begun").from, &row(&made, "begun").people[..]), (at(60), &[person(1)][..]));
    assert_eq!(report.jobs[1].safe, Some(at(60)), "the forecast knows where it is");
    input.jobs[1].stages[0].pin.people = vec![person(2)];
    let (made, report) = plan(&input, 400);
    assert_eq!(row(&made, "other").from, at(1_440), "it is back by the end of the shift");
    assert_eq!(report.jobs[1].because[0].cause, Cause::ToolAway { tool });
    let mut early = made;
    let other = early.stages.iter_mut().find(|row| row.stage.as_str() == "other").expect("planned");
    (other.from, other.until) = (at(240), at(300));
    assert_eq!(rules(&input, &early), ["tool"]);
}
