use super::*;
use crate::sessions::{Sessions, Signed};
use jiff::Timestamp;
use leadhand_sdk::Endpoint;
use leadhand_sdk::v1::{
    Bay, BoardStage, FluidLine, OnStage, PlannedWork, Position, PositionStanding, Step, StepState, Tightness,
};

fn visitor(signed: bool) -> Visitor {
    let sessions = Sessions::new("k".repeat(64), false);
    let nobody = sessions.visitor(&HeaderMap::new(), Timestamp::UNIX_EPOCH);
    if !signed {
        return nobody;
    }
    let client = Client::connect(Endpoint::new("http://127.0.0.1:1")).unwrap();
    let until = Timestamp::from_second(60).unwrap();
    sessions.begin(&nobody, Signed { client, name: "Flint".into(), role: Role::Technician, until })
}

/// A bay whose job has one step, which was done at 22:30 of the day before in UTC.
fn loaded(zone: &str) -> Loaded {
    let step = Step {
        step: 1,
        instruction: "Drain it".into(),
        state: StepState::Done.into(),
        done_by: "Wren".into(),
        done_at: Some(moment::to_wire("2024-07-01T22:30:00Z".parse().unwrap())),
        ..Step::default()
    };
    let stage =
        Stage { stage: "drain".into(), state: StageState::Active.into(), steps: vec![step], ..Stage::default() };
    let whole = GetJobResponse { stages: vec![stage], ..GetJobResponse::default() };
    Loaded {
        name: "Lift 1".into(),
        job: Some((BoardJob { job: 1, ..BoardJob::default() }, whole)),
        books: JobBooks::default(),
        decided: Vec::new(),
        closings: Vec::new(),
        others: Vec::new(),
        number: 7,
        now: "2024-07-01T22:45:10Z".parse().unwrap(),
        zone: TimeZone::get(zone).unwrap(),
    }
}

fn draw(loaded: &Loaded, visitor: &Visitor) -> String {
    draw_after(None, loaded, visitor)
}

/// The page after something was touched.
fn draw_after(undo: Option<&str>, loaded: &Loaded, visitor: &Visitor) -> String {
    let texts = Texts::of("en-GB");
    let asked = Asked { undo: undo.map(str::to_owned), anew: false };
    compose(&texts, "e1", visitor, "lift-1", &asked, loaded).render().unwrap()
}

#[tokio::test]
async fn the_next_stage_says_when_by_whom_and_where_it_is_planned() {
    let mut loaded = loaded("Europe/Berlin");
    let planned = PlannedWork {
        bay: "lift-2".into(),
        people: vec!["Larch".into(), "Flint".into()],
        from_at: Some(moment::to_wire("2024-07-01T23:00:00Z".parse().unwrap())),
        ..PlannedWork::default()
    };
    let (title, state, planned) = ("Fill it".to_owned(), StageState::Ready.into(), Some(planned));
    let next = Stage { stage: "fill".into(), title, state, planned, ..Stage::default() };
    loaded.job.as_mut().unwrap().1.stages.push(next);
    let page = draw(&loaded, &visitor(false));
    assert!(page.contains("may start · planned 01:00 · Larch, Flint · lift-2</small> Fill it"), "{page}");
}

#[tokio::test]
async fn a_page_says_as_of_when_it_is_true_and_is_loaded_anew_where_no_script_does_it() {
    let page = draw(&loaded("Europe/Berlin"), &visitor(false));
    // In summer two hours before UTC's (IANA time zone database).
    assert!(page.contains("<noscript>as of 2024-07-02 00:45:10</noscript>"), "{page}");
    assert!(page.contains("<noscript><meta http-equiv=\"refresh\" content=\"60\"></noscript>"), "{page}");
    assert!(page.contains("data-number=\"7\"") && page.contains("data-now=\"1719873910000\""), "{page}");
    assert!(page.contains("/assets/watch.js?e1"), "{page}");
}

#[tokio::test]
async fn who_is_on_the_clock_since_long_ago_may_have_left_when_the_shop_closed() {
    let mut loaded = loaded("UTC");
    loaded.closings = vec![moment::to_wire("2024-07-01T17:30:00Z".parse().unwrap())];
    let tile = "value=\"2024-07-01T17:30:00Z\">17:30</button>";
    assert!(!draw(&loaded, &visitor(true)).contains(tile), "somebody else is on it");
    let flint = OnStage { name: "Flint".into(), ..OnStage::default() };
    loaded.job.as_mut().unwrap().1.stages[0].persons = vec![flint];
    let page = draw(&loaded, &visitor(true));
    assert!(page.contains("Forgot to clock off? The shop closed at:") && page.contains(tile), "{page}");
}

#[tokio::test]
async fn whoever_kept_away_from_a_danger_reads_that_it_is_over() {
    let mut loaded = loaded("UTC");
    let over = leadhand_sdk::v1::Blocker {
        cause: Cause::Safety.into(),
        note: "the jack sinks; Mended and tried".into(),
        cleared_at: Some(moment::to_wire("2024-07-01T22:40:00Z".parse().unwrap())),
        ..Default::default()
    };
    loaded.job.as_mut().unwrap().1.blockers = vec![over];
    let told = |loaded: &Loaded| draw(loaded, &visitor(true)).replace(['\u{2068}', '\u{2069}'], "");
    assert!(told(&loaded).contains("Safe again since 22:40: the jack sinks; Mended and tried"));
    loaded.now = "2024-07-02T10:00:00Z".parse().unwrap();
    assert!(!told(&loaded).contains("Safe again"), "the next day nobody is told any more");
}

#[tokio::test]
async fn times_are_told_in_the_shops_zone() {
    assert!(draw(&loaded("Europe/Berlin"), &visitor(false)).contains("00:30"));
    assert!(draw(&loaded("UTC"), &visitor(false)).contains("22:30"));
}

/// What is poured in follows from it, so nobody has to look it up elsewhere.
#[tokio::test]
async fn a_fill_says_what_came_out_and_what_is_still_in() {
    let coolant = |back: &str| FluidLine {
        fluid: "coolant".into(),
        what: "Coolant".into(),
        back: back.into(),
        expected_ml: 8_200,
        drained_ml: 6_100,
        ..FluidLine::default()
    };
    for (back, state, shown) in [
        ("drain", StageState::Active, true),
        ("drain", StageState::Ready, true),
        ("elsewhere", StageState::Active, false),
    ] {
        let mut one = loaded("UTC");
        let whole = &mut one.job.as_mut().unwrap().1;
        whole.fluids.push(coolant(back));
        whole.stages[0].state = state.into();
        // A number that a translation takes in stands between marks of its own.
        let page = draw(&one, &visitor(false)).replace(['\u{2068}', '\u{2069}'], "");
        assert_eq!(
            page.contains("Coolant: 6.1 L came out of 8.2 L, and 2.1 L is still in"),
            shown,
            "{state:?}: {page}"
        );
    }
}

#[tokio::test]
async fn a_page_is_another_one_only_when_it_shows_anything_else() {
    let first = loaded("UTC");
    let mut later = Loaded { number: 8, now: "2024-07-01T22:46:00Z".parse().unwrap(), ..loaded("UTC") };
    later.job.as_mut().unwrap().1.number = 8;
    assert_eq!(first.mark(None), later.mark(None), "another bay's fact");
    assert_ne!(first.mark(None), first.mark(Some("Flint")), "somebody signed in");
    later.job.as_mut().unwrap().1.stages[0].steps[0].state = StepState::Pending.into();
    assert_ne!(first.mark(None), later.mark(None));
    assert_ne!(first.mark(None), Loaded { job: None, ..loaded("UTC") }.mark(None));
}

#[tokio::test]
async fn only_a_session_that_the_server_knows_no_more_is_over() {
    let mut error = Client::connect(Endpoint::new("nowhere")).err().unwrap();
    for code in (0..=16).map(Code::from_i32) {
        error.code = code;
        assert_eq!(is_over(&error, &visitor(true)), code == Code::Unauthenticated, "{code:?}");
        assert!(!is_over(&error, &visitor(false)), "the screen's own token: nobody's session");
    }
}

#[tokio::test]
async fn a_page_is_another_one_when_its_books_or_a_ready_list_say_something_else() {
    let first = loaded("UTC");
    let mut later = loaded("UTC");
    later.books.strip.positions = vec![Position::default()];
    assert_ne!(first.mark(None), later.mark(None));
    let mut later = loaded("UTC");
    later.books.readings = vec![Reading::default()];
    assert_ne!(first.mark(None), later.mark(None));
    let list = |number| GetReadyListResponse { number, ..GetReadyListResponse::default() };
    let (mut one, mut same) = (loaded("UTC"), loaded("UTC"));
    one.books.ready = vec![("fill".into(), list(7))];
    same.books.ready = vec![("fill".into(), list(8))];
    assert_eq!(one.mark(None), same.mark(None), "when a list was made shows nothing");
    assert_ne!(one.mark(None), first.mark(None));
}

#[tokio::test]
async fn what_was_touched_is_offered_back_only_while_it_still_is_so() {
    let hand = visitor(true);
    let mut loaded = loaded("UTC");
    loaded.job.as_mut().unwrap().1.stages[0].steps[0].done_by = "Flint".into();
    let offered = |loaded: &Loaded, undo: &str| draw_after(Some(undo), loaded, &hand).contains("data-undo");
    assert!(offered(&loaded, "ticks.drain.1"));
    assert!(!offered(&loaded, "ticks.drain.2") && !offered(&loaded, "ticks.fill.1"));
    assert!(!offered(&loaded, "finish.drain"), "it is under way");
    loaded.job.as_mut().unwrap().1.stages[0].state = StageState::Finished.into();
    assert!(offered(&loaded, "finish.drain") && !offered(&loaded, "ticks.drain.1"));
    assert!(!offered(&loaded, "held.3"));
    loaded.job.as_mut().unwrap().1.blockers = vec![leadhand_sdk::v1::Blocker { blocker: 3, ..Default::default() }];
    assert!(offered(&loaded, "held.3"));
    let standing = |standing: PositionStanding| Position {
        position: "nuts".into(),
        what: "Nuts".into(),
        standing: standing.into(),
        ..Position::default()
    };
    loaded.books.strip.positions = vec![standing(PositionStanding::NotYet)];
    assert!(!offered(&loaded, "off.nuts"));
    loaded.books.strip.positions = vec![standing(PositionStanding::Off)];
    assert!(offered(&loaded, "off.nuts") && !offered(&loaded, "off.rail") && !offered(&loaded, "nuts"));
    assert!(!draw_after(Some("off.nuts"), &loaded, &visitor(false)).contains("data-undo"), "nobody is signed in");
    let tight = |tightness: Tightness| Position { tightness: tightness.into(), ..standing(PositionStanding::Settled) };
    loaded.books.strip.positions = vec![tight(Tightness::Final)];
    assert!(offered(&loaded, "tight.nuts.2") && !offered(&loaded, "tight.rail.2"));
    loaded.books.strip.positions = vec![tight(Tightness::Finger)];
    assert!(!offered(&loaded, "tight.nuts.2"), "it is loose again");
    let coolant = FluidLine { fluid: "coolant".into(), drained_ml: 2_000, ..FluidLine::default() };
    loaded.job.as_mut().unwrap().1.fluids = vec![coolant];
    assert!(offered(&loaded, "fluid.coolant.2000.0"));
    assert!(!offered(&loaded, "fluid.coolant.500.0"), "more was said of it meanwhile");
}

#[tokio::test]
async fn a_hand_lent_elsewhere_is_told_at_the_own_bay_and_finds_the_way_back() {
    let mut loaded = loaded("UTC");
    let on = |name: &str| BoardStage {
        stage: "fit".into(),
        title: "Fit it".into(),
        persons: vec![OnStage { name: name.into(), ..OnStage::default() }],
        ..BoardStage::default()
    };
    let other = |name: &str| BoardBay {
        bay: Some(Bay { bay: "pit".into(), ..Bay::default() }),
        job: Some(BoardJob { job: 2, active: vec![on(name)], ..BoardJob::default() }),
    };
    loaded.others = vec![other("Wren")];
    let page = draw(&loaded, &visitor(true));
    assert!(
        page.contains("Lend a hand") && page.contains("value=\"fit\"") && !page.contains("You are on at"),
        "{page}"
    );
    loaded.others = vec![other("Flint")];
    let page = draw(&loaded, &visitor(true));
    assert!(page.contains("You are on at pit:") && page.contains("value=\"on\""), "{page}");
    assert!(!draw(&loaded, &visitor(false)).contains("value=\"fit\""), "nobody is signed in");
    let mut cures = other("Wren");
    for stage in cures.job.iter_mut().flat_map(|job| &mut job.active) {
        stage.set_kind(StageKind::Wait);
    }
    loaded.others = vec![cures];
    assert!(!draw(&loaded, &visitor(true)).contains("Lend a hand"), "what cures wants no hands");
}

#[tokio::test]
async fn what_ends_by_itself_is_not_said_to_be_over() {
    let mut loaded = loaded("UTC");
    let short = |item: &str| leadhand_sdk::v1::Blocker { blocker: 3, item: item.into(), ..Default::default() };
    loaded.job.as_mut().unwrap().0.blockers = vec![short("ring")];
    assert!(!draw(&loaded, &visitor(true)).contains("value=\"clear\""), "a delivery ends it");
    loaded.job.as_mut().unwrap().0.blockers = vec![short("")];
    assert!(draw(&loaded, &visitor(true)).contains("value=\"clear\""));
}
