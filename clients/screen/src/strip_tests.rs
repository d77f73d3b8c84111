use super::*;
use jiff::Timestamp;
use jiff::tz::TimeZone;

fn position(key: &str, behind: &[&str], attached_to: &str) -> Position {
    Position {
        position: key.into(),
        stage: "strip".into(),
        step: 1,
        what: key.to_uppercase(),
        count: 1,
        behind: behind.iter().map(|one| (*one).to_owned()).collect(),
        attached_to: attached_to.into(),
        standing: PositionStanding::NotYet.into(),
        ..Position::default()
    }
}

fn off(key: &str) -> Position {
    Position { standing: PositionStanding::Off.into(), ..position(key, &[], "") }
}

/// A manifold behind a rail, which is behind an airbox; plugs hang on the rail, nuts on the manifold.
fn book() -> GetStripResponse {
    let positions = vec![
        position("manifold", &["rail"], ""),
        position("nuts", &["rail"], "manifold"),
        position("plugs", &["airbox"], "rail"),
        position("rail", &["airbox"], ""),
        position("airbox", &[], ""),
    ];
    GetStripResponse { positions, ..GetStripResponse::default() }
}

fn keys(found: &[&Position]) -> Vec<String> {
    found.iter().map(|one| one.position.clone()).collect()
}

fn with<T>(what: impl FnOnce(Look<'_>) -> T) -> T {
    let (texts, zone) = (Texts::of("en-GB"), TimeZone::UTC);
    what(Look { texts: &texts, zone: &zone, now: Timestamp::UNIX_EPOCH })
}

#[test]
fn what_lies_in_front_is_found_all_the_way_and_in_an_order_in_which_it_comes_off() {
    let book = book();
    assert_eq!(keys(&in_front(&book, &book.positions[0])), ["airbox", "plugs", "rail", "nuts"]);
    assert_eq!(keys(&in_front(&book, &book.positions[1])), ["airbox", "plugs", "rail"]);
    assert!(in_front(&book, &book.positions[4]).is_empty());
    let mut later = book.clone();
    later.positions[4] = off("airbox");
    assert_eq!(keys(&in_front(&later, &later.positions[1])), ["plugs", "rail"], "what is off is not in front");
    later.positions[3].stage = "before".into();
    assert!(keys(&in_front(&later, &later.positions[1])).is_empty(), "another stage says its own");
}

#[test]
fn from_where_it_is_reached_stands_with_it() {
    let bolts = Position { reach: Reach::WheelArch.into(), size: "M6 x 20".into(), ..position("bolts", &[], "") };
    assert_eq!(details(&bolts, &Texts::of("en-GB")), ["M6 x 20", "through the wheel arch"]);
    assert!(details(&position("rail", &[], ""), &Texts::of("en-GB")).is_empty());
}

#[test]
fn what_is_put_in_is_not_in_the_way() {
    let mut book = book();
    book.positions[4].manner = Manner::In.into();
    assert_eq!(keys(&in_front(&book, &book.positions[1])), ["plugs", "rail"]);
}

#[test]
fn a_step_lists_its_positions_in_the_order_in_which_they_come_off() {
    let lines = with(|look| of_step(&book(), "strip", 1, look));
    let order: Vec<&str> = lines.iter().map(|line| line.position.as_str()).collect();
    assert_eq!(order, ["airbox", "plugs", "rail", "nuts", "manifold"]);
    assert!(with(|look| of_step(&book(), "strip", 2, look)).is_empty());
}

#[test]
fn what_still_hangs_on_something_is_told_before_it_is_lifted_away_and_not_after() {
    let mut book = book();
    book.positions[0].still_attached = vec!["nuts".into()];
    let told = with(|look| line(&book.positions[0], &book, look));
    assert!(told.attached.contains("NUTS"), "{}", told.attached);
    book.positions[0].standing = PositionStanding::Off.into();
    assert!(with(|look| line(&book.positions[0], &book, look)).attached.is_empty());
}

#[test]
fn a_line_says_what_was_not_as_listed_and_where_it_is_kept() {
    let kept = Position {
        count: 7,
        missing: 1,
        damaged: 2,
        keep: leadhand_sdk::v1::Keep::Tray.into(),
        off_by: "Flint".into(),
        repair: "welded".into(),
        ..off("nuts")
    };
    let told = with(|look| line(&kept, &book(), look));
    assert_eq!((told.class, told.what.as_str()), ("off", "7 × NUTS"));
    for words in ["tray", "1 missing", "2 damaged", "earlier repair", "Flint"] {
        assert!(told.state.contains(words), "{words}: {}", told.state);
    }
}

#[test]
fn only_what_is_back_and_tight_waits_for_another_s_look() {
    let back = |tightness: Tightness, checked_by: &str| Position {
        standing: PositionStanding::Settled.into(),
        back: "refit".into(),
        refitted: 1,
        tightness: tightness.into(),
        second_check: true,
        checked_by: checked_by.into(),
        ..position("nuts", &[], "")
    };
    let of = |one: Position| GetStripResponse { positions: vec![one], ..GetStripResponse::default() };
    let both = |one: Position| (to_tighten(&of(one.clone()), "refit").len(), to_check(&of(one)).len());
    assert_eq!(both(back(Tightness::Finger, "")), (1, 0));
    assert_eq!(both(back(Tightness::Final, "")), (0, 1));
    assert_eq!(both(back(Tightness::Final, "Wren")), (0, 0));
    assert_eq!(both(off("nuts")), (0, 0));
    assert_eq!(both(Position { refitted: 0, left_out: 1, ..back(Tightness::Unspecified, "") }), (0, 0), "left out");
    assert!(to_tighten(&of(back(Tightness::Finger, "")), "other").is_empty());
}

/// 25/1.355 818 = 18.4: NIST SP 811, Appendix B; the server says it.
#[test]
fn a_torque_is_shown_in_both_units_and_an_angle_as_it_is() {
    let texts = |all: [&str; 2]| all.map(str::to_owned).into();
    let (tighten, tighten_beside) = (texts(["25 N.m", "90 deg"]), texts(["18.4 lbf.ft", ""]));
    let one = Position { tighten, tighten_beside, ..position("nuts", &[], "") };
    assert_eq!(tightening(&one), ["25 N.m (18.4 lbf.ft)", "90 deg"]);
    let older = Position { tighten_beside: Vec::new(), ..one };
    assert_eq!(tightening(&older), ["25 N.m", "90 deg"]);
}

#[test]
fn the_refit_says_what_goes_back_first() {
    let mut book = book();
    book.positions = vec![off("rail"), off("airbox")];
    let refit = |key: &str, after: &[&str], done| RefitLine {
        position: key.into(),
        stage: "refit".into(),
        after: after.iter().map(|one| (*one).to_owned()).collect(),
        done,
        ..RefitLine::default()
    };
    book.refit = vec![refit("rail", &[], false), refit("airbox", &["rail"], false)];
    let lines = with(|look| going_back(&book, "refit", look));
    assert!(lines[0].after.is_empty() && lines[1].after.contains("RAIL"), "{}", lines[1].after);
    book.refit[0].done = true;
    let lines = with(|look| going_back(&book, "refit", look));
    assert_eq!((lines.len(), lines[0].line.position.as_str(), lines[0].after.as_str()), (1, "airbox", ""));
    assert!(with(|look| going_back(&book, "strip", look)).is_empty());
}
