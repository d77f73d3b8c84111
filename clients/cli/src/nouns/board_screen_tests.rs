use super::*;
use leadhand_sdk::v1::{Bay, BayKind, Blocker, BoardBay, BoardJob, BoardStage, Cause, OnStage, PromiseState};
use ratatui::Terminal;
use ratatui::backend::TestBackend;

static UTC: TimeZone = TimeZone::UTC;

fn at(text: &str) -> prost_types::Timestamp {
    moment::to_wire(text.parse().unwrap())
}

fn bay(key: &str, job: Option<BoardJob>) -> BoardBay {
    let bay = Bay { bay: key.into(), name: key.into(), kind: BayKind::Pit.into(), rated_kg: 3000 };
    BoardBay { bay: Some(bay), job }
}

fn job(number: i64, vehicle: &str) -> BoardJob {
    BoardJob {
        job: number,
        title: "Front brakes".into(),
        vehicle_label: vehicle.into(),
        priority: 3,
        promised_at: Some(at("2031-03-03T16:00:00Z")),
        promise: PromiseState::Holds.into(),
        stages_total: 4,
        active: vec![BoardStage {
            stage: "pads".into(),
            title: "Pads out".into(),
            ordinal: 2,
            started_at: Some(at("2031-03-03T09:00:00Z")),
            persons: vec![OnStage { name: "Robin".into(), ..Default::default() }],
            steps_done: 1,
            steps_total: 3,
            ..Default::default()
        }],
        ..Default::default()
    }
}

fn board() -> Board {
    let mut held = job(4, "blue estate");
    held.blockers.push(Blocker {
        blocker: 1,
        stage: "pads".into(),
        cause: Cause::Tool.into(),
        since: Some(at("2031-03-03T09:50:00Z")),
        ..Default::default()
    });
    Board {
        bays: vec![bay("a", None), bay("b", Some(job(2, "red van"))), bay("c", Some(held))],
        outside: Vec::new(),
        number: 77,
        as_of: Some(at("2031-03-03T10:05:00Z")),
    }
}

/// What a terminal of this size shows, line by line.
fn shown(screen: &mut Screen<'_>, width: u16, height: u16) -> Vec<String> {
    let mut terminal = Terminal::new(TestBackend::new(width, height)).unwrap();
    terminal.draw(|frame| screen.draw(frame)).unwrap();
    let buffer = terminal.backend().buffer();
    let line = |y| (0..width).map(|x| buffer[(x, y)].symbol()).collect::<String>().trim_end().to_owned();
    (0..height).map(line).collect()
}

fn key(code: KeyCode) -> Event {
    Event::Key(KeyEvent::new(code, KeyModifiers::NONE))
}

#[tokio::test(start_paused = true)]
async fn the_board_stands_between_its_counts_and_its_keys() {
    let mut screen = Screen::new(&UTC, false);
    assert_eq!(shown(&mut screen, 40, 3)[0], "waiting for the board");
    screen.take(BoardEvent::Live(Box::new(board())));
    assert_eq!(
        shown(&mut screen, 80, 16),
        [
            "live  1 held up  1 under way  1 free",
            "HELD UP      bay c (pit): blue estate, job 4, Front brakes",
            "  held up    pads by tool, for 15 min (blocker 1)",
            "  now        2/4 Pads out, step 2 of 3, Robin, for 1 h 05 min",
            "  promise    16:00, holds",
            "",
            "under way    bay b (pit): red van, job 2, Front brakes",
            "  now        2/4 Pads out, step 2 of 3, Robin, for 1 h 05 min",
            "  promise    16:00, holds",
            "",
            "free         bay a (pit)",
            "as of 10:05, fact 77",
            "",
            "",
            "",
            "q quit  Up/Down move  PgUp/PgDn page  Home/End",
        ]
    );
}

#[tokio::test(start_paused = true)]
async fn lengths_of_time_move_on_and_silence_is_told() {
    let mut screen = Screen::new(&UTC, false);
    screen.take(BoardEvent::Live(Box::new(board())));
    tokio::time::advance(Duration::from_mins(5)).await;
    assert!(shown(&mut screen, 80, 16)[2].contains("for 20 min"));
    screen.take(BoardEvent::NotLive { since: Instant::now(), why: "connection\u{7} lost".into() });
    tokio::time::advance(Duration::from_secs(12)).await;
    let head = shown(&mut screen, 80, 16).remove(0);
    assert!(head.starts_with("NOT LIVE, no word for 12 s: connection") && !head.contains('\u{7}'), "{head}");
    screen.take(BoardEvent::Live(Box::new(board())));
    assert!(shown(&mut screen, 80, 16)[0].starts_with("live  "));
}

#[tokio::test(start_paused = true)]
async fn a_small_terminal_shows_a_part_and_keys_move_it() {
    let mut screen = Screen::new(&UTC, false);
    screen.take(BoardEvent::Live(Box::new(board())));
    let first = shown(&mut screen, 80, 6);
    assert!(first[1].starts_with("HELD UP") && first[5].starts_with("q quit  0 lines above, 7 below"), "{first:?}");
    assert_eq!(screen.wish(&key(KeyCode::PageDown)), Wish::Draw);
    let second = shown(&mut screen, 80, 6);
    assert!(
        second[2].starts_with("under way") && second[5].starts_with("q quit  4 lines above, 3 below"),
        "{second:?}"
    );
    screen.wish(&key(KeyCode::End));
    assert_eq!(shown(&mut screen, 80, 6)[4], "as of 10:05, fact 77");
    // Larger again: nothing is left empty that may be shown, and narrower: lines break between words.
    assert!(shown(&mut screen, 80, 16)[1].starts_with("HELD UP"));
    assert_eq!(screen.wish(&Event::Resize(40, 12)), Wish::Draw);
    let narrow = shown(&mut screen, 40, 12);
    assert_eq!(narrow[1..3], ["HELD UP      bay c (pit): blue estate,", "             job 4, Front brakes"]);
    for quit in [KeyCode::Char('q'), KeyCode::Esc] {
        assert_eq!(screen.wish(&key(quit)), Wish::Quit);
    }
    assert_eq!(screen.wish(&Event::Key(KeyEvent::new(KeyCode::Char('c'), KeyModifiers::CONTROL))), Wish::Quit);
    assert_eq!(screen.wish(&key(KeyCode::Char('x'))), Wish::Nothing);
    // A terminal without room for anything is no reason to fall over.
    shown(&mut screen, 1, 1);
}

#[tokio::test(start_paused = true)]
async fn colour_repeats_the_word_where_there_may_be_colour() {
    let paint = |colour: bool| {
        let mut screen = Screen::new(&UTC, colour);
        screen.take(BoardEvent::Live(Box::new(board())));
        let mut terminal = Terminal::new(TestBackend::new(80, 16)).unwrap();
        terminal.draw(|frame| screen.draw(frame)).unwrap();
        terminal.backend().buffer()[(0, 1)].fg
    };
    assert_eq!((paint(true), paint(false)), (Color::Red, Color::Reset));
}
