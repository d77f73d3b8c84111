//! What a report says of blockers without an end, of what lies behind the plan, of tools that somebody has and of hands that are
//! missing: worked by hand from the shop that each test sets up. The rules are the project's own.

mod kit;

use kit::{after, at, bay, empty, job, person, stage, technician, window};
use leadhand_auditor::check_plan;
use leadhand_facts::plan::{JobOutlook, PlanBlocker, PlanInput, PlanReport, PlanTool, StageNow, VehicleNow};
use leadhand_facts::words::BayKind;
use leadhand_facts::{Instant, ToolKey};
use leadhand_planner::{Budget, propose};

fn report(input: &PlanInput) -> PlanReport {
    let mut stop = || false;
    let (made, report) = propose(input, 1, &mut Budget { schedules: 200, stop: &mut stop });
    assert_eq!(check_plan(input, &made), Vec::new());
    report
}

/// Eight hours a day, one lift and two hands.
fn shop() -> PlanInput {
    let mut input = empty(20, 480, 960);
    input.bays.push(bay(1, BayKind::TwoPostLift));
    for n in 1..=2 {
        let shifts = input.shop.clone();
        input.technicians.push(technician(n, &[], shifts));
    }
    input
}

fn blocker(cause: &str, until: Option<Instant>) -> PlanBlocker {
    PlanBlocker { cause: cause.to_owned(), until, beside: None }
}

fn words(job: JobOutlook) -> Vec<String> {
    job.hangs_on.into_iter().map(|one| one.words).collect()
}

/// The first job's vehicle is on the lift and nobody knows until when; the second waits for the lift, its stage behind that as
/// well, and the third for nothing.
#[test]
fn who_waits_behind_a_blocker_without_an_end_hangs_on_it_too() {
    let mut input = shop();
    input.jobs.push(job(1, vec![stage("strip", 60)]));
    input.jobs[0].vehicle = VehicleNow::Bay(input.bays[0].bay.clone());
    input.jobs[0].stages[0].blocker = Some(blocker("the customer", None));
    let mut paint = stage("paint", 30);
    (paint.in_bay, paint.after) = (false, vec![after("brakes", 0)]);
    input.jobs.push(job(2, vec![stage("brakes", 60), paint]));
    let mut wash = stage("wash", 30);
    wash.in_bay = false;
    input.jobs.push(job(3, vec![wash]));
    let hangs: Vec<Vec<String>> = report(&input).jobs.into_iter().map(words).collect();
    assert_eq!(hangs, [vec!["strip: the customer"], vec!["strip of job 1: the customer"], vec![]]);
    // Nor does the second where there is a lift for it.
    input.bays.push(bay(2, BayKind::TwoPostLift));
    assert!(report(&input).jobs[1].hangs_on.is_empty());
}

/// There is time enough for an hour of work, and none behind the end of the plan.
#[test]
fn what_lies_behind_the_plan_is_told_as_such() {
    let mut input = shop();
    input.jobs.push(job(1, vec![stage("strip", 60)]));
    let (until, late) = (input.until, at(40 * 1_440));
    let told = |input: &PlanInput| report(input).unplaced[0].reason.clone();
    let says = |what: &str| {
        format!(
            "strip of job 1 has no place: the plan reaches until {until}, and {what} {late} lies behind that; it is planned \
             once the plan reaches so far."
        )
    };
    input.jobs[0].stages[0].pin.from = Some(late);
    assert_eq!(told(&input), says("the start that the lead said,"));
    input.jobs[0].stages[0].pin.from = None;
    input.jobs[0].stages[0].parts_from = Some(late);
    assert_eq!(told(&input), says("the coming of its parts,"));
    input.jobs[0].stages[0].parts_from = None;
    input.jobs[0].stages[0].blocker = Some(blocker("a seized bolt", Some(late)));
    assert_eq!(told(&input), says("the end of a seized bolt,"));
    input.jobs[0].stages[0].blocker = None;
    input.jobs[0].stages[0].minutes = kit::three(480 * 30);
    assert!(told(&input).contains("nobody who can do it has so much time"), "{}", told(&input));
}

/// The first hand has the seal gun until the end of the day and is at something else; the second could do the stage, but for the
/// gun. Where the lead gave it to the second, it waits for the gun itself.
#[test]
fn a_tool_that_somebody_has_is_named_with_who_has_it() {
    let mut input = shop();
    let tool = ToolKey::from("seal-gun");
    input.tools.push(PlanTool { tool: tool.clone(), away: vec![window(0, 480)], with: Some(person(1)) });
    let mut begun = stage("brakes", 240);
    (begun.in_bay, begun.now, begun.on) = (false, StageNow::Started { people: vec![person(1)] }, true);
    input.jobs.push(job(1, vec![begun]));
    let mut seal = stage("seal", 60);
    (seal.in_bay, seal.tools) = (false, vec![tool]);
    input.jobs.push(job(2, vec![seal]));
    input.jobs[1].promised = Some(at(60));
    let first = report(&input);
    let until = at(240);
    let told = format!("seal of job 2 waits until {until} for hand 1, who has seal-gun and is at brakes of job 1");
    assert!(first.jobs[1].sentence.contains(&told), "{}", first.jobs[1].sentence);
    let helps = |report: &PlanReport| report.helps.iter().map(|help| help.sentence.clone()).collect::<Vec<_>>();
    let back = "seal-gun handed back by hand 1 (4 h 00 min less late)".to_owned();
    assert!(helps(&first).contains(&back), "{:?}", helps(&first));
    input.jobs[1].stages[0].pin.people = vec![person(2)];
    let given = report(&input);
    let until = at(1_440);
    let told = format!("seal of job 2 waits until {until} for seal-gun, which hand 1 has");
    assert!(given.jobs[1].sentence.contains(&told), "{}", given.jobs[1].sentence);
    let back = "seal-gun handed back by hand 1 (24 h 00 min less late)".to_owned();
    assert!(helps(&given).contains(&back), "{:?}", helps(&given));
}

/// It takes two and has one, who is clocked on; with both nothing is said.
#[test]
fn work_under_way_with_too_few_hands_is_told() {
    let mut input = shop();
    let mut begun = stage("brakes", 240);
    (begun.in_bay, begun.hands, begun.on) = (false, 2, true);
    begun.now = StageNow::Started { people: vec![person(1)] };
    input.jobs.push(job(1, vec![begun]));
    assert_eq!(report(&input).jobs[0].sentence, "brakes of job 1 has one hand of two, and is planned as it is.");
    input.jobs[0].stages[0].now = StageNow::Started { people: vec![person(1), person(2)] };
    assert_eq!(report(&input).jobs[0].sentence, "");
}
