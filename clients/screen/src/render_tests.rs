use super::*;
use jiff::Timestamp;
use jiff::tz::TimeZone;
use leadhand_sdk::v1::{Bay, Blocker, BoardBay, BoardStage, OnStage, PromiseState, Shortage};

/// What would run, or break out of where it stands, if it were not escaped.
const EVIL: &str = "<script>alert(1)</script>\"'&<img src=x onerror=alert(2)></article>{{x}}";

fn draw(board: &Board, bring: &[ToBring]) -> Rendered {
    let (texts, zone) = (Texts::of("en-GB"), TimeZone::UTC);
    wall("Yard", board, Some(bring), Look { texts: &texts, zone: &zone, now: Timestamp::UNIX_EPOCH })
}

fn job(number: i64, label: &str) -> BoardJob {
    let stage = BoardStage {
        stage: "strip".into(),
        title: "Strip".into(),
        persons: vec![OnStage { name: "Flint".into(), ..OnStage::default() }],
        ..BoardStage::default()
    };
    BoardJob {
        job: number,
        vehicle_label: label.into(),
        promise: PromiseState::Holds.into(),
        stages_total: 9,
        active: vec![stage],
        ..BoardJob::default()
    }
}

fn bay(key: &str, job: Option<BoardJob>) -> BoardBay {
    BoardBay { bay: Some(Bay { bay: key.into(), ..Bay::default() }), job }
}

fn held(mut job: BoardJob) -> BoardJob {
    job.blockers.push(Blocker { stage: "strip".into(), ..Blocker::default() });
    job
}

#[test]
fn every_text_is_escaped_wherever_it_stands() {
    let mut evil = held(job(1, EVIL));
    evil.title = EVIL.into();
    evil.active[0].title = EVIL.into();
    evil.active[0].persons[0].name = EVIL.into();
    evil.next = vec![BoardStage { title: EVIL.into(), ..BoardStage::default() }];
    let blocker = &mut evil.blockers[0];
    (blocker.note, blocker.owner, blocker.item, blocker.tool) = (EVIL.into(), EVIL.into(), EVIL.into(), EVIL.into());
    evil.missing = vec![Shortage { name: EVIL.into(), stage: EVIL.into(), unit: EVIL.into(), ..Shortage::default() }];
    let bring =
        ToBring { bay: EVIL.into(), what: EVIL.into(), stage: EVIL.into(), step: 1, now: true, ..ToBring::default() };
    let board = Board {
        bays: vec![bay(EVIL, Some(evil.clone())), bay(&EVIL[1..], None)],
        outside: vec![evil],
        ..Board::default()
    };
    let (texts, zone) = (Texts::of("en-GB"), TimeZone::UTC);
    let look = Look { texts: &texts, zone: &zone, now: Timestamp::UNIX_EPOCH };
    let rendered = wall(EVIL, &board, Some(&[bring]), look);
    assert_eq!(rendered.parts.len(), 5);
    let mut told = 0;
    for (name, html) in &rendered.parts {
        for wrong in ["<script", "<img", "onerror=alert(2)>", "\"'&<"] {
            assert!(!html.contains(wrong), "{name} holds {wrong}: {html}");
        }
        assert_eq!(html.matches("</article>").count(), usize::from(name.starts_with("bay-")), "{name}");
        told += html.matches("&#60;script").count();
    }
    assert!(told >= 15, "only {told} of the texts were shown at all");
}

#[test]
fn one_change_makes_one_part_anew() {
    let mut board = Board {
        bays: vec![bay("lift-1", Some(job(1, "van"))), bay("lift-2", Some(job(2, "estate"))), bay("pit", None)],
        ..Board::default()
    };
    let before = draw(&board, &[]);
    board.bays[1].job.as_mut().unwrap().active[0].steps_total = 4;
    let after = draw(&board, &[]);
    let changed: Vec<&str> = after
        .parts
        .iter()
        .filter(|(name, html)| before.parts[*name] != **html)
        .map(|(name, _)| name.as_str())
        .collect();
    assert_eq!(changed, ["bay-lift-2"]);
    assert_eq!((&after.order, &after.layout), (&before.order, &before.layout));
}

#[test]
fn a_held_up_bay_moves_to_the_front_and_is_counted() {
    let calm = || Board {
        bays: (1..=12).map(|n| bay(&format!("lift-{n:02}"), Some(job(n, "van")))).collect(),
        ..Board::default()
    };
    let mut board = calm();
    board.bays[6].job = Some(held(job(7, "van")));
    let drawn = draw(&board, &[]);
    assert_eq!(drawn.order[0], "bay-lift-07");
    let tile = &drawn.parts["bay-lift-07"];
    assert!(tile.contains("tile roomy held-up") && tile.contains("HELD UP"), "{tile}");
    assert!(drawn.parts["bay-lift-01"].contains("tile line under-way"));
    assert!(drawn.parts["head"].contains("1 held up") && drawn.parts["head"].contains("11 under way"));
    assert!(draw(&calm(), &[]).parts["head"].contains("12 under way"));
}

#[test]
fn an_empty_shop_and_a_full_one_say_what_they_are() {
    let empty = draw(&Board::default(), &[]);
    assert!(empty.order.is_empty() && empty.parts["free"].contains("This shop has no bays yet"));
    let free = draw(&Board { bays: vec![bay("lift-1", None)], ..Board::default() }, &[]);
    assert!(free.parts["free"].contains("lift-1") && free.parts["head"].contains("no vehicle in a bay"));
    let full =
        Board { bays: (0..24).map(|n| bay(&format!("b{n}"), Some(job(n, "van")))).collect(), ..Board::default() };
    assert!(draw(&full, &[]).parts["free"].contains("No bay is free"));
    assert_eq!(draw(&full, &[]).order.len(), 24);
}

#[test]
fn goods_that_are_not_known_are_not_called_none() {
    let (texts, zone) = (Texts::of("en-GB"), TimeZone::UTC);
    let look = Look { texts: &texts, zone: &zone, now: Timestamp::UNIX_EPOCH };
    let unknown = wall("Yard", &Board::default(), None, look).parts.remove("bring").unwrap();
    let none = draw(&Board::default(), &[]).parts.remove("bring").unwrap();
    let (is_none, not_known) = (texts.say("nothing-to-bring"), texts.say("bring-not-known"));
    assert!(unknown.contains(&not_known) && !unknown.contains(&is_none), "{unknown}");
    assert!(none.contains(&is_none) && !none.contains(&not_known), "{none}");
}

#[test]
fn lists_share_the_room_beside_the_bays_and_say_how_much_more_there_is() {
    assert_eq!(share(0, 20), (0, 10));
    assert_eq!(share(20, 0), (10, 0));
    assert_eq!(share(20, 20), (5, 5));
    assert_eq!(share(7, 3), (7, 3));
    let board = Board { outside: (1..=20).map(|n| job(n, "van")).collect(), ..Board::default() };
    let line = ToBring { bay: "b".into(), what: "1 ring".into(), stage: "Fit".into(), ..ToBring::default() };
    let drawn = draw(&board, &vec![line; 20]);
    assert!(drawn.parts["outside"].contains("and 15 more"), "{}", drawn.parts["outside"]);
    assert!(drawn.parts["bring"].contains("and 15 more"), "{}", drawn.parts["bring"]);
}

/// The aim is 60 kB to the first paint, without compression: page, both sheets and the script.
#[test]
fn a_full_wall_is_light() {
    let label = "estate with a long name, silver";
    let board = Board {
        bays: (0..24).map(|n| bay(&format!("lift-{n}"), Some(held(job(n, label))))).collect(),
        outside: (0..20).map(|n| job(n, label)).collect(),
        ..Board::default()
    };
    let parts: usize = draw(&board, &[]).parts.values().map(String::len).sum();
    let files = [
        include_str!("../assets/base.css"),
        include_str!("../assets/shop.css"),
        include_str!("../assets/shop.js"),
        include_str!("../templates/wall.html"),
    ];
    let all = parts + files.iter().map(|file| file.len()).sum::<usize>();
    assert!(all < 60_000, "{all} bytes");
}
