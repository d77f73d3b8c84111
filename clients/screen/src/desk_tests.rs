use super::*;
use jiff::tz::TimeZone;
use leadhand_sdk::v1::{Bay as BayOf, Blocker, BoardBay, PromiseState, Stage, Step, Window};

fn with<T>(now: &str, what: impl FnOnce(Look<'_>) -> T) -> T {
    let (texts, zone) = (Texts::of("en-GB"), TimeZone::UTC);
    what(Look { texts: &texts, zone: &zone, now: now.parse().unwrap() })
}

fn one(job: i64, bay: &str, priority: i32) -> OneJob {
    OneJob {
        on_board: BoardJob { job, priority, vehicle_label: format!("car {job}"), ..BoardJob::default() },
        bay: bay.to_owned(),
        whole: GetJobResponse::default(),
        strip: GetStripResponse::default(),
        readings: Vec::new(),
    }
}

const NOW: &str = "2031-06-10T09:00:00Z";

fn drawn(jobs: Vec<OneJob>) -> Page {
    let bay = |key: &str, job: Option<i64>| BoardBay {
        bay: Some(BayOf { bay: key.into(), ..BayOf::default() }),
        job: job.map(|job| BoardJob { job, ..BoardJob::default() }),
    };
    let board =
        GetBoardResponse { bays: vec![bay("lift-1", Some(1)), bay("pit", None)], ..GetBoardResponse::default() };
    let loaded = Loaded {
        board,
        jobs,
        calendar: GetCalendarResponse::default(),
        persons: vec!["Flint".into(), "Larch".into()],
        corrections: Vec::new(),
    };
    let sheet = Sheet {
        leaves: true,
        t: Texts::of("en-GB"),
        edition: String::new(),
        title: String::new(),
        own: String::new(),
        home: String::new(),
        proof: String::new(),
        who: String::new(),
        notes: Vec::new(),
        as_of: String::new(),
        typed: String::new(),
        overrule: false,
    };
    with(NOW, |look| compose(sheet, &loaded, look))
}

#[test]
fn jobs_in_the_bays_stand_by_what_presses_and_those_outside_by_urgency() {
    let held = |mut job: OneJob| {
        job.on_board.blockers = vec![Blocker { blocker: 1, ..Blocker::default() }];
        job
    };
    let inside = vec![one(1, "lift-1", 1), held(one(5, "pit", 5))];
    let outside = vec![one(2, "", 3), one(3, "", 1), held(one(4, "", 5))];
    let page = drawn(inside.into_iter().chain(outside).collect());
    let groups: Vec<(&str, &str, Vec<i64>)> = page
        .groups
        .iter()
        .map(|group| (group.id, group.words.as_str(), group.jobs.iter().map(|row| row.view.job).collect()))
        .collect();
    assert_eq!(groups, [("in-bays", "2 in the bays", vec![5, 1]), ("outside", "3 outside", vec![3, 2, 4])]);
    let row = |group: usize, at: usize| &page.groups[group].jobs[at];
    assert_eq!((row(0, 1).sooner, row(0, 1).later, row(0, 0).sooner, row(0, 0).later), (0, 2, 4, 0));
    let texts = Texts::of("en-GB");
    assert_eq!(
        (row(1, 0).urgency.clone(), row(1, 1).urgency.as_str()),
        (texts.say("urgency-1"), ""),
        "as usual is not told"
    );
    let counts: Vec<&str> = page.counts.iter().map(|count| count.words.as_str()).collect();
    assert_eq!(counts, ["nobody on 3"], "what is held up is counted by its hold-ups");
    assert_eq!((page.held.len(), page.waiting()), (2, 0));
    let mut late = held(one(6, "ramp", 3));
    late.on_board.promise = PromiseState::Late.into();
    let counts: Vec<String> = drawn(vec![late]).counts.into_iter().map(|count| count.words).collect();
    assert_eq!(counts, ["1 late or likely late"], "also while something holds it up");
    let bays: Vec<&str> = page.bays.iter().map(|bay| bay.bay.as_str()).collect();
    assert_eq!(bays, ["pit", "lift-1"], "free ones first");
}

#[test]
fn what_has_held_up_longest_is_told_first() {
    let held = |mut job: OneJob, second: i64| {
        let since = Some(moment::to_wire(Timestamp::from_second(second).unwrap()));
        job.on_board.blockers = vec![Blocker { blocker: 1, since, ..Blocker::default() }];
        job
    };
    let page = drawn(vec![held(one(1, "lift-1", 3), 500), held(one(2, "", 3), 100)]);
    assert_eq!(page.held.iter().map(|one| one.job).collect::<Vec<_>>(), [2, 1]);
}

#[test]
fn a_hold_point_waits_for_a_second_person_only_when_it_is_next() {
    let step = |number, state: StepState, second| Step {
        step: number,
        state: state.into(),
        hold_second: second,
        ..Step::default()
    };
    let mut job = one(1, "lift-1", 3);
    job.whole.stages = vec![Stage {
        stage: "strip".into(),
        state: StageState::Active.into(),
        steps: vec![step(1, StepState::Pending, false), step(2, StepState::Pending, true)],
        ..Stage::default()
    }];
    assert!(with(NOW, |look| job.looks(look)).is_empty(), "work is left before it");
    job.whole.stages[0].steps[0].state = StepState::Done.into();
    let looks = with(NOW, |look| job.looks(look));
    assert_eq!(looks[0].to, "/bay/lift-1/job/1/look/strip:2");
    job.bay.clear();
    assert!(with(NOW, |look| job.looks(look)).is_empty(), "outside nobody looks");
}

#[test]
fn what_is_reckoned_is_offered_before_the_ends_of_open_hours() {
    let at = |text: &str| Some(moment::to_wire(text.parse().unwrap()));
    let mut job = one(1, "lift-1", 3).on_board;
    let ends = [Choice { value: "end".into(), words: "17:00".into(), chosen: false }];
    let words = |job: &BoardJob| -> Vec<String> {
        let all = with(NOW, |look| reckoned_first(job, &ends, look));
        all.into_iter().map(|one| one.words.replace(['\u{2068}', '\u{2069}'], "")).collect()
    };
    assert_eq!(words(&job), ["17:00"]);
    (job.if_badly_at, job.expected_at) = (at("2031-06-10T12:30:00Z"), at("2031-06-10T11:00:00Z"));
    assert_eq!(words(&job), ["if it goes badly 12:30", "likely 11:00", "17:00"]);
    job.expected_at = at("2031-06-10T08:00:00Z");
    assert_eq!(words(&job), ["if it goes badly 12:30", "17:00"], "what has passed is no promise");
}

#[test]
fn a_vehicle_is_promised_at_the_ends_of_open_hours_to_come() {
    let window = |until: &str| Window { until_at: Some(moment::to_wire(until.parse().unwrap())), ..Window::default() };
    let windows = ["2031-06-10T08:00:00Z", "2031-06-10T17:00:00Z", "2031-06-11T12:00:00Z"].map(window).into();
    let calendar = GetCalendarResponse { windows, ..GetCalendarResponse::default() };
    let words: Vec<String> =
        with(NOW, |look| promises(&calendar, look)).into_iter().map(|choice| choice.words).collect();
    assert_eq!(words, ["17:00", "Wed 11 Jun 12:00"]);
}
