use super::*;
use leadhand_sdk::v1::{Bay, OnStage};

/// A job with one stage under way.
fn job(number: i64, priority: i32) -> BoardJob {
    let active = BoardStage {
        stage: "strip".into(),
        title: "Strip".into(),
        ordinal: 3,
        persons: vec![OnStage { name: "Flint".into(), ..OnStage::default() }],
        steps_done: 2,
        steps_total: 8,
        started_at: Some(at(0)),
        ..BoardStage::default()
    };
    BoardJob {
        job: number,
        title: "Head gasket".into(),
        vehicle_label: format!("van {number}"),
        priority,
        promise: PromiseState::Holds.into(),
        promised_at: Some(at(3600)),
        stages_done: 2,
        stages_total: 9,
        active: vec![active],
        ..BoardJob::default()
    }
}

fn at(second: i64) -> WireTimestamp {
    WireTimestamp { seconds: second, nanos: 0 }
}

fn bay(key: &str, job: Option<BoardJob>) -> BoardBay {
    BoardBay { bay: Some(Bay { bay: key.into(), ..Bay::default() }), job }
}

fn held_since(mut job: BoardJob, second: i64) -> BoardJob {
    job.blockers.push(Blocker { since: Some(at(second)), stage: "strip".into(), ..Blocker::default() });
    job
}

fn seen<T>(make: impl FnOnce(Look<'_>) -> T) -> T {
    let (texts, zone) = (Texts::of("en-GB"), TimeZone::UTC);
    make(Look { texts: &texts, zone: &zone, now: Timestamp::UNIX_EPOCH })
}

#[test]
fn held_up_comes_first_then_the_promise_then_the_rest_and_free_bays_apart() {
    let promised = |state: PromiseState, job: BoardJob| BoardJob { promise: state.into(), ..job };
    let nobody = |mut job: BoardJob| {
        job.active[0].persons.clear();
        job
    };
    let bays = [
        bay("a", Some(job(1, 3))),
        bay("b", None),
        bay("c", Some(promised(PromiseState::AtRisk, job(2, 1)))),
        bay("d", Some(held_since(job(3, 3), 500))),
        bay("e", Some(promised(PromiseState::Late, job(4, 5)))),
        bay("f", Some(held_since(job(5, 3), 100))),
        bay("g", Some(held_since(job(6, 2), 900))),
        bay("h", Some(nobody(job(7, 1)))),
        bay("i", Some(job(8, 2))),
        bay("j", Some(job(9, 2))),
    ];
    let (taken, free) = in_order(&bays);
    let keys: Vec<&str> = taken.iter().map(|(_, bay, _)| key(bay)).collect();
    // Held up by urgency, then the one that is held up longest; late, at risk; under way by urgency; nobody on it.
    assert_eq!(keys, ["g", "f", "d", "e", "c", "i", "j", "a", "h"]);
    assert_eq!(free.into_iter().map(key).collect::<Vec<_>>(), ["b"]);
}

#[test]
fn what_a_lead_asks_is_said_in_words() {
    let mut held = held_since(job(12, 2), 60);
    held.blockers[0].cause = Cause::Part.into();
    held.blockers[0].item = "ring".into();
    held.blockers[0].step = 3;
    held.blockers[0].owner = "Wren".into();
    held.blockers[0].expected_at = Some(at(7200));
    let short = Shortage { item: "ring".into(), name: "Sealing ring".into(), holds_up: true, ..Shortage::default() };
    let later = Shortage {
        stage: "fill".into(),
        step: 2,
        item: "oil".into(),
        quantity: 4500,
        unit: "mL".into(),
        ..short.clone()
    };
    held.missing = vec![short, Shortage { name: String::new(), holds_up: false, ..later }];
    let view = seen(|look| JobView::of(&held, look));
    assert_eq!((view.word.as_str(), view.held_since), ("HELD UP", Some(60_000)));
    assert_eq!(view.reasons[0].cause, "part");
    assert_eq!(view.reasons[0].text, "Strip · Sealing ring for step 3 · Wren sees to it · until 02:00");
    assert_eq!(view.missing, ["4.5 L oil short for fill, step 2"], "what holds it up already is not said twice");
    assert_eq!((view.active[0].steps.as_str(), view.active[0].who.as_str()), ("step 3 of 8", "Flint"));
    assert_eq!(view.place, "2 of 9 stages done");
    assert_eq!(view.course.iter().filter(|mark| **mark == "done").count(), 2);
    assert_eq!(view.course.iter().filter(|mark| **mark == "now").count(), 1);
    assert_eq!(view.course.len(), 9);
    assert_eq!((view.promise.class, view.promise.when.as_str()), ("holds", "01:00"));
}

/// What was promised for later is likely late, whatever the plan says; only what has passed is late.
#[test]
fn a_promise_that_is_still_to_come_is_likely_late() {
    let told = |promise_passed: bool| {
        let job = BoardJob { promise: PromiseState::Late.into(), promise_passed, ..job(4, 5) };
        let view = seen(|look| JobView::of(&job, look));
        (view.standing, view.word, view.promise.class, view.promise.word)
    };
    assert_eq!(told(false), ("late", "LIKELY LATE".to_owned(), "late", "LIKELY LATE".to_owned()));
    assert_eq!(told(true), ("late", "LATE".to_owned(), "late", "LATE".to_owned()));
}

#[test]
fn a_promise_that_does_not_hold_for_sure_tells_when_it_is_done_if_it_goes_badly() {
    let told = |promise: PromiseState, if_badly_at: Option<WireTimestamp>| {
        let (expected_at, promise) = (Some(at(3600)), promise.into());
        let told =
            seen(|look| JobView::of(&BoardJob { promise, expected_at, if_badly_at, ..job(4, 3) }, look).promise.likely);
        told.replace(['\u{2068}', '\u{2069}'], "")
    };
    let safe = Some(at(7200));
    assert_eq!(told(PromiseState::AtRisk, safe), "likely 01:00, if it goes badly 02:00");
    assert_eq!(told(PromiseState::Late, safe), "likely 01:00, if it goes badly 02:00");
    assert_eq!(told(PromiseState::Holds, safe), "likely 01:00");
    assert_eq!(told(PromiseState::None, safe), "likely 01:00", "nothing was promised that could be missed");
    assert_eq!(told(PromiseState::AtRisk, None), "likely 01:00", "nobody can say");
}

#[test]
fn what_the_server_may_say_later_or_left_out_breaks_nothing() {
    let odd = BoardJob {
        promise: 77,
        stages_total: i32::MAX,
        stages_done: i32::MAX,
        blockers: vec![Blocker { cause: 99, ..Blocker::default() }],
        next: vec![BoardStage { state: 42, title: "Later".into(), ..BoardStage::default() }],
        ..BoardJob::default()
    };
    let view = seen(|look| JobView::of(&odd, look));
    assert_eq!(view.vehicle, "vehicle of job 0");
    assert_eq!((view.promise.class, view.reasons[0].cause.as_str()), ("unknown", "not said"));
    assert_eq!(view.next, "Later (not yet)");
    assert_eq!(view.course.len(), 40);
    assert!(view.held_since.is_none());
}

#[test]
fn what_holds_up_ends_by_whom_it_takes() {
    let blocker = |cause: Cause| Blocker { cause: cause.into(), stage: "strip".into(), step: 2, ..Blocker::default() };
    let out = Reading { stage: "strip".into(), step: 2, verdict: Verdict::Out.into(), ..Reading::default() };
    let decided = Reading { decision: Decision::Accept.into(), ..out.clone() };
    let elsewhere = Reading { step: 3, ..out.clone() };
    assert_eq!(ends(&blocker(Cause::Safety), &[]), "lead");
    assert_eq!(ends(&blocker(Cause::Information), std::slice::from_ref(&out)), "reading");
    assert_eq!(ends(&blocker(Cause::Information), &[decided, elsewhere]), "hand");
    assert_eq!(ends(&blocker(Cause::Customer), &[out]), "hand");
    let short = Blocker { item: "gasket".into(), ..blocker(Cause::Part) };
    assert_eq!(ends(&short, &[]), "itself");
}

#[test]
fn a_stage_that_is_held_up_is_called_by_its_title_even_where_it_is_neither_under_way_nor_next() {
    let mut held = held_since(job(12, 2), 60);
    held.blockers[0].stage = "prepare".into();
    let told = |held: &BoardJob| seen(|look| JobView::of(held, look)).reasons.remove(0).text;
    assert_eq!(told(&held), "prepare", "an older server does not say what it is called");
    held.blockers[0].stage_title = "Prepare the head".into();
    assert_eq!(told(&held), "Prepare the head");
}

/// A wall may have room for one line of what is under way: it is the one that somebody is on.
#[test]
fn what_somebody_is_on_is_told_before_what_nobody_is_on() {
    let mut both = held_since(job(3, 3), 60);
    let nobody = BoardStage { title: "Order gaskets".into(), persons: Vec::new(), ..both.active[0].clone() };
    both.active.insert(0, nobody);
    both.promise = PromiseState::Late.into();
    let view = seen(|look| JobView::of(&both, look));
    assert_eq!(view.active.last().unwrap().title, "Order gaskets");
    assert_ne!(view.active[0].who, Texts::of("en-GB").say("nobody-on-it"));
    assert!(also(&view), "its promise is told beside what holds it up");
    both.blockers.clear();
    assert!(!also(&seen(|look| JobView::of(&both, look))), "late is said once");
}
