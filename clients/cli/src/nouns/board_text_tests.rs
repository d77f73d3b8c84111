use super::*;
use leadhand_sdk::v1::{Bay, OnStage};

fn at(text: &str) -> prost_types::Timestamp {
    crate::moment::to_wire(text.parse().unwrap())
}

fn bay(key: &str, job: Option<BoardJob>) -> BoardBay {
    let bay = Bay { bay: key.into(), name: key.into(), kind: BayKind::Pit.into(), rated_kg: 3000 };
    BoardBay { bay: Some(bay), job }
}

fn job(number: i64, promise: PromiseState) -> BoardJob {
    BoardJob {
        job: number,
        title: "Front brakes".into(),
        vehicle_label: "Blue estate".into(),
        priority: 3,
        promised_at: Some(at("2031-03-03T16:00:00Z")),
        expected_at: Some(at("2031-03-03T15:30:00Z")),
        promise: promise.into(),
        stages_total: 4,
        stages_done: 1,
        active: vec![BoardStage {
            stage: "pads".into(),
            title: "Pads out".into(),
            ordinal: 2,
            state: StageState::Active.into(),
            started_at: Some(at("2031-03-03T09:00:00Z")),
            persons: vec![OnStage { name: "Robin".into(), ..Default::default() }],
            steps_done: 1,
            steps_total: 3,
            ..Default::default()
        }],
        ..Default::default()
    }
}

fn look(zone: &TimeZone) -> Look<'_> {
    Look { zone, now: "2031-03-03T10:05:00Z".parse().unwrap(), colour: false, width: None }
}

#[test]
fn what_is_held_up_comes_first_and_free_bays_last() {
    let mut held = job(4, PromiseState::Holds);
    held.blockers.push(Blocker {
        blocker: 1,
        stage: "pads".into(),
        stage_title: "Pads out".into(),
        cause: Cause::SeizedOrDamaged.into(),
        note: "slide pin".into(),
        since: Some(at("2031-03-03T09:50:00Z")),
        owner: "Sam".into(),
        expected_at: Some(at("2031-03-03T11:00:00Z")),
        ..Default::default()
    });
    let later = Some(at("2031-03-03T17:10:00Z"));
    let board = Board {
        bays: vec![
            bay("a", None),
            bay("b", Some(BoardJob { if_badly_at: later, ..job(2, PromiseState::Holds) })),
            bay("c", Some(BoardJob { if_badly_at: later, ..job(3, PromiseState::AtRisk) })),
            bay("d", Some(held)),
        ],
        outside: vec![
            job(9, PromiseState::Late),
            BoardJob { promise_passed: true, priority: 9, ..job(10, PromiseState::Late) },
        ],
        number: 77,
        as_of: Some(at("2031-03-03T10:05:00Z")),
    };
    let text = whole(&board, look(&TimeZone::UTC));
    let starts: Vec<&str> = text.lines().filter(|line| !line.starts_with(' ') && !line.is_empty()).collect();
    assert_eq!(
        starts,
        [
            "HELD UP      bay d (pit): Blue estate, job 4, Front brakes",
            "AT RISK      bay c (pit): Blue estate, job 3, Front brakes",
            "under way    bay b (pit): Blue estate, job 2, Front brakes",
            "free         bay a (pit)",
            "OUTSIDE",
            "LIKELY LATE  outside: Blue estate, job 9, Front brakes",
            "LATE         outside: Blue estate, job 10, Front brakes",
            "as of 10:05, fact 77",
        ]
    );
    assert!(
        text.contains(
            "  held up    Pads out by seized or damaged, slide pin, for 15 min, Sam sees to it, until 11:00 (blocker 1)\n"
        ),
        "{text}"
    );
    assert!(text.contains("  now        2/4 Pads out, step 2 of 3, Robin, for 1 h 05 min\n"), "{text}");
    assert!(text.contains("  promise    16:00, holds, likely 15:30\n"), "{text}");
    assert!(text.contains("  promise    16:00, AT RISK, likely 15:30, if it goes badly 17:10\n"), "{text}");
    assert!(text.contains("  promise    16:00, LIKELY LATE, likely 15:30\n"), "it is still to come: {text}");
    assert!(text.contains("  promise    16:00, LATE, likely 15:30\n"), "{text}");
    assert_eq!(counted(Standing::Late, count(&board, Standing::Late)), "2 late or likely late");
}

#[test]
fn lines_break_between_words_and_never_pass_the_edge() {
    let board = Board { bays: vec![bay("b", Some(job(2, PromiseState::Holds)))], ..Default::default() };
    for width in [21, 30, 44] {
        let text = whole(&board, Look { width: Some(width), ..look(&TimeZone::UTC) });
        assert!(text.lines().all(|line| line.chars().count() <= width), "at {width}:\n{text}");
    }
    assert_eq!(wrap("now  one two three", Some(13), 5), ["now  one two", "     three"]);
    assert_eq!(wrap("now  abcdefghijklmnop", Some(13), 5), ["now  abcdefgh", "     ijklmnop"]);
}

#[test]
fn without_colour_there_is_no_escape_sequence_even_from_a_vehicle() {
    let mut odd = job(2, PromiseState::Holds);
    odd.vehicle_label = "Red\u{1b}[2J van\nwith rack".into();
    let board = Board { bays: vec![bay("b", Some(odd))], ..Default::default() };
    let text = whole(&board, look(&TimeZone::UTC));
    assert!(!text.contains('\u{1b}'), "{text}");
    assert!(text.contains("van with rack"), "{text}");
}
