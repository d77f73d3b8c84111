//! What a late job is late because of, and what would help: worked by hand from the shop that each test sets up.

mod kit;

use kit::{after, at, bay, empty, job, person, stage, technician, window};
use leadhand_auditor::check_plan;
use leadhand_facts::plan::{Cause, Plan, PlanBlocker, PlanHeld, PlanInput, PlanReport, PlanTool, StageNow, VehicleNow};
use leadhand_facts::words::{BayKind, StageKind};
use leadhand_facts::{ToolKey, Window};
use leadhand_planner::{Budget, propose};

fn plan(input: &PlanInput, schedules: u64) -> (Plan, PlanReport) {
    let mut stop = || false;
    let made = propose(input, 1, &mut Budget { schedules, stop: &mut stop });
    assert_eq!(check_plan(input, &made.0), Vec::new());
    made
}

/// A shop of eight hours a day with one lift and one hand.
fn shop() -> PlanInput {
    let mut input = empty(20, 480, 960);
    input.bays.push(bay(1, BayKind::TwoPostLift));
    let shifts = input.shop.clone();
    input.technicians.push(technician(1, &[], shifts));
    input
}

/// One job with a stage of an hour, promised for the end of the first day.
fn one_job(input: &mut PlanInput) {
    input.jobs.push(job(1, vec![stage("strip", 60)]));
    input.jobs[0].promised = Some(at(480));
}

fn cause(report: &PlanReport) -> Cause {
    report.jobs[0].because[0].cause.clone()
}

#[test]
fn somebody_who_is_away_is_named_and_not_the_order_or_the_lead() {
    let mut input = shop();
    one_job(&mut input);
    // Away on the first day, though the shop is open.
    input.technicians[0].shifts.remove(0);
    let (_, report) = plan(&input, 50);
    assert_eq!(cause(&report), Cause::Away { person: person(1) });
    let until = at(1_440);
    assert_eq!(
        report.jobs[0].sentence,
        format!(
            "job 1 is 17 h 00 min late because strip of job 1 waits until {until} for hand 1, who is away until then."
        )
    );
    // The lead said from nine on; that is over long before.
    input.jobs[0].stages[0].pin.from = Some(at(60));
    assert_eq!(cause(&plan(&input, 50).1), Cause::Away { person: person(1) });
    // Parts that come in the night are the cause of what begins with the shop's hours.
    let shifts = input.shop.clone();
    input.technicians[0].shifts = shifts;
    (input.jobs[0].stages[0].pin.from, input.jobs[0].stages[0].parts_from) = (None, Some(at(600)));
    assert_eq!(cause(&plan(&input, 50).1), Cause::Parts);
}

#[test]
fn a_closed_bay_and_a_tool_that_is_away_are_named() {
    let mut input = shop();
    one_job(&mut input);
    input.bays[0].closed.push(window(0, 1_500));
    let (_, report) = plan(&input, 50);
    assert_eq!(cause(&report), Cause::Closed { bay: input.bays[0].bay.clone() });
    assert!(report.jobs[0].sentence.contains("for bay bay-1, which is closed"), "{}", report.jobs[0].sentence);
    input.bays[0].closed.clear();
    let tool = ToolKey::from("cam-lock");
    input.tools.push(PlanTool { tool: tool.clone(), away: vec![window(0, 500)], with: None });
    input.jobs[0].stages[0].tools.push(tool.clone());
    let (_, report) = plan(&input, 50);
    assert_eq!(cause(&report), Cause::ToolAway { tool });
    assert!(report.jobs[0].sentence.contains("for cam-lock, which is away"), "{}", report.jobs[0].sentence);
    // A wait in a bay that is closed meanwhile.
    input.tools.clear();
    let mut cure = stage("strip", 60);
    (cure.kind, cure.hands) = (StageKind::Wait, 0);
    input.jobs[0].stages = vec![cure];
    input.bays[0].closed.push(window(0, 1_500));
    assert_eq!(cause(&plan(&input, 50).1), Cause::Closed { bay: input.bays[0].bay.clone() });
}

/// The stage is let go at 200 while its hand is at another job until 240. Without the blocker it would have been first: that is
/// told, and what it would help.
#[test]
fn a_blocker_with_a_known_end_is_told_though_somebody_is_waited_for_last() {
    let mut input = shop();
    input.jobs.push(job(1, vec![stage("fit", 120)]));
    input.jobs[0].promised = Some(at(120));
    input.jobs[0].stages[0].blocker =
        Some(PlanBlocker { cause: "a seized bolt".to_owned(), until: Some(at(200)), beside: None });
    let mut other = stage("brakes", 240);
    (other.in_bay, other.now) = (false, StageNow::Open);
    input.jobs.push(job(2, vec![other]));
    (input.jobs[1].promised, input.jobs[1].weight) = (Some(at(240)), 9);
    let (_, report) = plan(&input, 200);
    let causes: Vec<&Cause> = report.jobs[0].because.iter().map(|link| &link.cause).collect();
    assert!(matches!(causes[..2], [Cause::Person { .. }, Cause::Blocker(_)]), "{causes:?}");
    let until = at(200);
    let told = format!("fit of job 1 is held up until {until} by a seized bolt");
    assert!(report.jobs[0].sentence.contains(&told), "{}", report.jobs[0].sentence);
    input.jobs[1].weight = 1;
    input.jobs[1].promised = Some(at(360));
    input.jobs[0].weight = 2;
    let (_, report) = plan(&input, 200);
    let help = report.helps.iter().find(|help| help.sentence.starts_with("a seized bolt at fit of job 1 over a day"));
    assert!(help.is_some_and(|help| help.sentence.ends_with("less late)")), "{:?}", report.helps);
}

/// One end is known and one is not: the stage waits for what is known and hangs on the other, and neither is called parts.
#[test]
fn a_blocker_that_is_known_binds_beside_one_that_is_not() {
    let mut input = shop();
    one_job(&mut input);
    let beside = Some(PlanHeld { cause: "the machine shop".to_owned(), until: at(1_500) });
    input.jobs[0].stages[0].blocker = Some(PlanBlocker { cause: "the customer".to_owned(), until: None, beside });
    let (made, report) = plan(&input, 50);
    assert_eq!(made.stages[0].from, at(1_500));
    assert_eq!(report.jobs[0].hangs_on[0].words, "strip: the customer");
    assert_eq!(cause(&report), Cause::Blocker("the machine shop".to_owned()));
    let mut early = made;
    (early.stages[0].from, early.stages[0].until) = (at(1_440), at(1_500));
    (early.visits[0].from, early.visits[0].until) = (at(1_440), at(1_500));
    assert!(check_plan(&input, &early).iter().any(|fault| fault.rule == "too-early"));
}

/// Rolling out helps where there is room outside, and is not proposed where there is none.
#[test]
fn rolling_out_helps_only_where_there_is_room() {
    let mut input = shop();
    let mut cure = stage("cure", 240);
    (cure.kind, cure.hands, cure.in_bay, cure.after) = (StageKind::Wait, 0, false, vec![after("strip", 0)]);
    let mut refit = stage("refit", 60);
    refit.after = vec![after("cure", 0)];
    input.jobs.push(job(1, vec![stage("strip", 60), cure, refit]));
    input.jobs.push(job(2, vec![stage("brakes", 120)]));
    (input.jobs[0].promised, input.jobs[0].weight) = (Some(at(360)), 9);
    input.jobs[1].promised = Some(at(180));
    let rolls = |input: &PlanInput| plan(input, 200).1.helps.iter().any(|help| help.sentence.contains("out of bay"));
    assert!(rolls(&input));
    input.places_outside = 0;
    assert!(!rolls(&input));
    // One place, and another vehicle is on it all day.
    input.places_outside = 1;
    let mut stands = job(3, vec![stage("wash", 30)]);
    (stands.vehicle, stands.here_from) = (VehicleNow::Outside, at(0));
    stands.stages[0].parts_from = Some(at(5 * 1_440));
    input.jobs.push(stands);
    assert!(!rolls(&input));
}

/// What begins within a quarter of an hour of when it was to begin, where and by whom it was to, is no change to the accepted
/// plan; later it is one.
#[test]
fn a_few_minutes_are_no_change_to_the_accepted_plan() {
    let mut input = shop();
    one_job(&mut input);
    input.shift_end = at(480);
    let (made, _) = plan(&input, 20);
    input.accepted = made.stages;
    for (late, changes) in [(2, 0), (15, 0), (16, 1)] {
        input.jobs[0].here_from = at(late);
        assert_eq!(plan(&input, 20).1.objective.changes, changes, "{late} minutes later");
    }
    let other: Vec<Window> = input.shop.clone();
    input.technicians.push(technician(2, &[], other));
    input.jobs[0].here_from = at(0);
    input.accepted[0].people = vec![person(2)];
    input.jobs[0].stages[0].pin.people = vec![person(1)];
    assert_eq!(plan(&input, 20).1.objective.changes, 1, "somebody else does it");
}

/// The bolt is out on Friday evening, and the shop opens on Monday: the blocker, its end and the closed days are told, and so
/// are who is away and what is closed behind it.
#[test]
fn a_closed_day_behind_a_blocker_is_told() {
    let mut input = shop();
    one_job(&mut input);
    // Closed on the second and the third day.
    input.shop.drain(1..3);
    input.technicians[0].shifts = input.shop.clone();
    let bolt = |until| Some(PlanBlocker { cause: "a seized bolt".to_owned(), until: Some(at(until)), beside: None });
    input.jobs[0].stages[0].blocker = bolt(600);
    let (_, report) = plan(&input, 50);
    let causes: Vec<&Cause> = report.jobs[0].because.iter().map(|link| &link.cause).collect();
    assert!(matches!(causes[..], [Cause::Hours, Cause::Blocker(_)]), "{causes:?}");
    let (until, since, opens) = (at(600), at(480), at(3 * 1_440));
    let told = format!(
        "strip of job 1 is held up until {until} by a seized bolt; strip of job 1 waits until {opens}, since the shop is closed \
         from {since} on."
    );
    assert!(report.jobs[0].sentence.ends_with(&told), "{}", report.jobs[0].sentence);
    // Behind it somebody is away, or the bay is closed.
    input.technicians[0].shifts.remove(1);
    let causes = |input: &PlanInput| -> Vec<Cause> {
        plan(input, 50).1.jobs[0].because.iter().map(|link| link.cause.clone()).collect()
    };
    assert!(matches!(causes(&input)[..], [Cause::Away { .. }, Cause::Blocker(_)]), "{:?}", causes(&input));
    input.technicians[0].shifts = input.shop.clone();
    input.bays[0].closed.push(window(0, 3 * 1_440 + 60));
    assert!(matches!(causes(&input)[..], [Cause::Closed { .. }, Cause::Blocker(_)]), "{:?}", causes(&input));
    // A usual night is nothing to tell of.
    input.bays[0].closed.clear();
    input.jobs[0].stages[0].blocker = bolt(3 * 1_440 + 600);
    assert!(matches!(causes(&input)[..], [Cause::Blocker(_)]), "{:?}", causes(&input));
}

/// Who is missing is missing from now on where the shift has begun, and from its begin where it has not.
#[test]
fn a_hand_more_is_told_from_now_on_in_a_shift_that_has_begun() {
    let mut input = shop();
    for n in 1..=2 {
        input.jobs.push(job(n, vec![stage("strip", 120)]));
        (input.jobs[n - 1].stages[0].in_bay, input.jobs[n - 1].promised) = (false, Some(at(120)));
    }
    let told = |input: &PlanInput| {
        let helps = plan(input, 100).1.helps;
        helps.into_iter().map(|help| help.sentence).find(|one| one.starts_with("One more hand")).expect("a help")
    };
    assert_eq!(told(&input), "One more hand with what hand 1 can do, from now on (2 h 00 min less late)");
    input.at = at(-60);
    let sentence = told(&input);
    assert!(sentence.contains(&format!("from the shift that begins {} (", at(0))), "{sentence}");
}

/// Five hours pass between strip and refit, and the shop is open for eight. Where the first job's hour in the bay costs nothing,
/// since refit comes on the next day in any case, it is not blamed; where refit would begin on the same day, it is.
#[test]
fn a_wait_that_ends_while_the_shop_is_closed_blames_nobody_who_went_before() {
    let mut input = shop();
    let shifts = input.shop.clone();
    input.technicians.push(technician(2, &[], shifts));
    let mut refit = stage("refit", 60);
    refit.after = vec![after("strip", 300)];
    input.jobs.push(job(1, vec![stage("strip", 240), refit]));
    input.jobs[0].promised = Some(at(480));
    input.jobs.push(job(2, vec![stage("brakes", 60)]));
    (input.jobs[1].promised, input.jobs[1].weight) = (Some(at(60)), 30);
    let (_, report) = plan(&input, 200);
    let causes: Vec<&Cause> = report.jobs[0].because.iter().map(|link| &link.cause).collect();
    assert!(matches!(causes[..], [Cause::Hours, Cause::Stage { wait_minutes: 300, .. }]), "{causes:?}");
    let (ends, opens) = (at(600), at(1_440));
    assert_eq!(
        report.jobs[0].sentence,
        format!(
            "job 1 is 17 h 00 min late because refit of job 1 waits until {ends}, 5 h 00 min behind strip of job 1; refit of \
             job 1 waits until {opens} for working hours."
        )
    );
    let mut alone = input.clone();
    alone.jobs.pop();
    assert_eq!(plan(&alone, 200).1.jobs[0].late_minutes, report.jobs[0].late_minutes, "it takes as long without job 2");
    // An hour and a half of strip would be over in time, were it not for two hours of brakes.
    input.jobs[0].stages[0].minutes = kit::three(90);
    input.jobs[1].stages[0].minutes = kit::three(120);
    let (_, report) = plan(&input, 200);
    let bay = Cause::Bay { bay: input.bays[0].bay.clone(), job: input.jobs[1].job };
    assert!(report.jobs[0].because.iter().any(|link| link.cause == bay), "{:?}", report.jobs[0].because);
    // Closed for days: they are told.
    input.shop.drain(1..3);
    input.technicians.iter_mut().for_each(|one| one.shifts = input.shop.clone());
    let sentence = plan(&input, 200).1.jobs[0].sentence.clone();
    let since = at(480);
    assert!(sentence.contains(&format!("since the shop is closed from {since} on")), "{sentence}");
}

/// A cure runs into the night, so that strip might begin hours later and cost nothing. It begins at once all the same, whatever
/// the search happened to put off; and nobody lets others go first where there are none.
#[test]
fn nothing_is_put_off_for_no_reason() {
    let mut input = shop();
    let shifts = input.shop.clone();
    input.bays.push(bay(2, BayKind::TwoPostLift));
    input.technicians.push(technician(2, &[], shifts.clone()));
    input.technicians.push(technician(3, &["engine"], shifts));
    let mut refit = stage("refit", 60);
    refit.after = vec![after("strip", 600)];
    input.jobs.push(job(1, vec![stage("strip", 60), refit]));
    input.jobs[0].promised = Some(at(480));
    for stage in &mut input.jobs[0].stages {
        stage.skills.push("engine".to_owned());
        stage.in_bay = false;
    }
    for n in 2..=7 {
        let mut first = stage("brakes", 30 * i64::try_from(n).expect("small"));
        first.may_leave = n % 2 == 0;
        let mut second = stage("wheels", 45);
        second.after = vec![after("brakes", 60)];
        let mut made = job(n, vec![first, second]);
        (made.promised, made.weight) = (Some(at(60 * i64::try_from(n).expect("small"))), 3);
        for stage in &mut made.stages {
            stage.pin.people = vec![person(1 + n % 2)];
        }
        input.jobs.push(made);
    }
    for seed in 0..40 {
        let mut stop = || false;
        let (made, report) = propose(&input, seed, &mut Budget { schedules: 600, stop: &mut stop });
        assert_eq!(check_plan(&input, &made), Vec::new());
        let strip = made.stages.iter().find(|row| row.stage.as_str() == "strip").expect("planned");
        assert_eq!(strip.from, at(0), "seed {seed}: {}", report.jobs[0].sentence);
    }
}

/// A day sooner the bolt is out while the shop is closed, and nothing is gained; now, all of the lateness is. The same of parts.
/// Where a day sooner is as good, only that is told.
#[test]
fn what_is_over_now_helps_where_a_day_sooner_is_a_closed_one() {
    let mut input = shop();
    one_job(&mut input);
    // Closed on the second and the third day.
    input.shop.drain(1..3);
    input.technicians[0].shifts = input.shop.clone();
    let bolt = |until| Some(PlanBlocker { cause: "a seized bolt".to_owned(), until: Some(at(until)), beside: None });
    let told = |input: &PlanInput| -> Vec<String> {
        plan(input, 50).1.helps.into_iter().map(|help| help.sentence).filter(|one| !one.contains("overtime")).collect()
    };
    input.jobs[0].stages[0].blocker = bolt(3 * 1_440);
    assert_eq!(told(&input), ["a seized bolt at strip of job 1 over now (65 h 00 min less late)"]);
    (input.jobs[0].stages[0].blocker, input.jobs[0].stages[0].parts_from) = (None, Some(at(3 * 1_440)));
    assert_eq!(told(&input), ["The parts for strip of job 1 now (65 h 00 min less late)"]);
    (input.jobs[0].stages[0].blocker, input.jobs[0].stages[0].parts_from) = (bolt(1_000), None);
    assert_eq!(told(&input), ["a seized bolt at strip of job 1 over a day sooner (65 h 00 min less late)"]);
}

/// The blocker stands before thirty stages in a row, each of whose people might work longer: it is told all the same.
#[test]
fn what_is_waited_for_far_back_is_told_before_all_who_might_work_longer() {
    let mut input = shop();
    one_job(&mut input);
    let mut first = stage("strip", 30);
    first.blocker = Some(PlanBlocker { cause: "a seized bolt".to_owned(), until: Some(at(3 * 1_440)), beside: None });
    let mut stages = vec![first];
    for n in 1..=30 {
        let mut next = stage(&format!("s{n}"), 10);
        let before = stages.last().map(|stage| stage.stage.as_str().to_owned()).expect("one stands before");
        next.after = vec![after(&before, 0)];
        stages.push(next);
    }
    let mut late = job(1, stages);
    (late.promised, late.weight) = (Some(at(60)), 3);
    input.jobs = vec![late];
    let (_, report) = plan(&input, 50);
    let first = report.helps.first().map(|help| help.sentence.as_str()).unwrap_or_default();
    assert!(first.starts_with("a seized bolt at strip of job 1 over"), "{:?}", report.helps);
}
