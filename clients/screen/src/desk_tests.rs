use super::*;
use jiff::tz::TimeZone;
use leadhand_sdk::v1::{Bay as BayOf, Blocker, BoardBay, Stage, Step, Window};

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
fn jobs_stand_in_bands_of_urgency_and_move_one_band_at_a_time() {
    let page = drawn(vec![one(1, "lift-1", 3), one(2, "", 1), one(3, "", 5), one(4, "", 3)]);
    let bands: Vec<(String, Vec<i64>)> = page
        .bands
        .iter()
        .map(|band| (band.words.clone(), band.jobs.iter().map(|row| row.view.job).collect()))
        .collect();
    let texts = Texts::of("en-GB");
    let expected = [(1, vec![2]), (3, vec![1, 4]), (5, vec![3])];
    assert_eq!(bands, expected.map(|(urgency, jobs)| (texts.say(&format!("urgency-{urgency}")), jobs)));
    let moves = |band: usize| (page.bands[band].jobs[0].sooner, page.bands[band].jobs[0].later);
    assert_eq!((moves(0), moves(1), moves(2)), ((0, 2), (2, 4), (4, 0)));
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
fn a_vehicle_is_promised_at_the_ends_of_open_hours_to_come() {
    let window = |until: &str| Window { until_at: Some(moment::to_wire(until.parse().unwrap())), ..Window::default() };
    let windows = ["2031-06-10T08:00:00Z", "2031-06-10T17:00:00Z", "2031-06-11T12:00:00Z"].map(window).into();
    let calendar = GetCalendarResponse { windows, ..GetCalendarResponse::default() };
    let words: Vec<String> =
        with(NOW, |look| promises(&calendar, look)).into_iter().map(|choice| choice.words).collect();
    assert_eq!(words, ["17:00", "Wed 11 Jun 12:00"]);
}
