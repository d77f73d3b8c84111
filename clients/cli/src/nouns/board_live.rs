//! The board kept up to date: redrawn in place on a terminal, a line for each change elsewhere.

use super::board_text::{self, Look};
use crate::app::App;
use crate::failure::{Failure, Outcome};
use crate::json;
use crate::moment;
use crate::out::{self, clean};
use crossterm::event::{Event, KeyCode, KeyEvent, KeyEventKind, KeyModifiers};
use crossterm::{cursor, event, execute, queue, style, terminal};
use futures::StreamExt;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use leadhand_sdk::v1::GetBoardResponse;
use leadhand_sdk::{Board, BoardEvent};
use std::collections::BTreeMap;
use std::io::{Write, stdout};
use std::pin::pin;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;
use tokio::signal::unix::{SignalKind, signal};
use tokio::sync::mpsc;
use tokio::time::Instant;

/// How often lengths of time on the screen move on.
const TICK: Duration = Duration::from_secs(1);
/// How long the keyboard is listened to before looking whether that is still wanted.
const KEY_POLL: Duration = Duration::from_millis(200);

/// Runs it until it is told to stop.
pub async fn run(app: &App) -> Outcome {
    if app.out.width.is_some() && !app.out.is_json() { on_terminal(app).await } else { as_lines(app).await }
}

// A line for each change.

async fn as_lines(app: &App) -> Outcome {
    let mut shown: BTreeMap<String, String> = BTreeMap::new();
    let mut live = true;
    let mut events = pin!(app.client.watch_board());
    while let Some(event) = events.next().await {
        match event? {
            BoardEvent::Live(board) if app.out.is_json() => print_json(*board)?,
            BoardEvent::Live(board) => {
                if !std::mem::replace(&mut live, true) {
                    out::note("leadhand: live again");
                }
                print_changes(app, &board, &mut shown).await?;
            }
            BoardEvent::NotLive { why, .. } => {
                live = false;
                out::note(&format!("leadhand: not live: {}; trying again", clean(&why)));
            }
        }
    }
    Ok(())
}

fn print_json(board: Board) -> Outcome {
    let Board { bays, outside, number, as_of } = board;
    out::put(&format!("{}\n", json::of(&GetBoardResponse { bays, outside, number, as_of })?))
}

/// Prints what differs from what was printed before. Lengths of time are left out of the
/// comparison: they grow by themselves.
async fn print_changes(app: &App, board: &Board, shown: &mut BTreeMap<String, String>) -> Outcome {
    let zone = app.zone().await?;
    let now = board.as_of.as_ref().and_then(moment::from_wire).unwrap_or_else(moment::now);
    let mut current = BTreeMap::new();
    for bay in &board.bays {
        let key = bay.bay.as_ref().map(|bay| bay.bay.as_str()).unwrap_or_default();
        current.insert(format!("bay {key}"), bay.job.as_ref());
    }
    for job in &board.outside {
        current.insert(format!("outside, job {}", job.job), Some(job));
    }
    shown.retain(|place, _| current.contains_key(place));
    let time = moment::show_near(board.as_of.as_ref(), zone, now);
    for (place, job) in current {
        let still = Look { zone, now: Timestamp::UNIX_EPOCH, colour: false, width: None };
        let sight = board_text::one_line(&place, job, still);
        if shown.get(&place) != Some(&sight) {
            let line = board_text::one_line(&place, job, Look { now, ..still });
            out::line(&format!("{time} {line} (fact {})", board.number))?;
            shown.insert(place, sight);
        }
    }
    Ok(())
}

// On a terminal.

/// What is on the screen.
struct Screen<'a> {
    zone: &'a TimeZone,
    colour: bool,
    board: Option<(Board, Instant)>,
    not_live: Option<(Instant, String)>,
    top: usize,
}

enum Wish {
    Quit,
    Draw,
    Nothing,
}

async fn on_terminal(app: &App) -> Outcome {
    let zone = app.zone().await?;
    let mut screen = Screen { zone, colour: app.out.colour, board: None, not_live: None, top: 0 };
    let terminal = Terminal::enter()?;
    let mut keys = terminal.keys();
    let mut events = pin!(app.client.watch_board());
    let mut end = signal(SignalKind::terminate()).map_err(|error| failed(&error))?;
    let mut tick = tokio::time::interval(TICK);
    loop {
        let wish = tokio::select! {
            event = events.next() => match event {
                None => return Ok(()),
                Some(event) => { screen.take(event?); Wish::Draw }
            },
            Some(key) = keys.recv() => screen.wish(&key),
            _ = tick.tick() => Wish::Draw,
            _ = end.recv() => Wish::Quit,
        };
        match wish {
            Wish::Quit => return Ok(()),
            Wish::Draw => screen.draw().map_err(|error| failed(&error))?,
            Wish::Nothing => {}
        }
    }
}

fn failed(error: &std::io::Error) -> Failure {
    Failure::Usage(format!("the terminal can't be used: {error}"))
}

impl Screen<'_> {
    fn take(&mut self, event: BoardEvent) {
        match event {
            BoardEvent::Live(board) => {
                self.board = Some((*board, Instant::now()));
                self.not_live = None;
            }
            BoardEvent::NotLive { since, why } => self.not_live = Some((since, why)),
        }
    }

    fn wish(&mut self, event: &Event) -> Wish {
        match event {
            Event::Resize(..) => return Wish::Draw,
            Event::Key(KeyEvent { code, modifiers, kind: KeyEventKind::Press | KeyEventKind::Repeat, .. }) => {
                match code {
                    KeyCode::Char('q') | KeyCode::Esc => return Wish::Quit,
                    KeyCode::Char('c') if modifiers.contains(KeyModifiers::CONTROL) => return Wish::Quit,
                    KeyCode::Up => self.top = self.top.saturating_sub(1),
                    KeyCode::Down => self.top += 1,
                    KeyCode::PageUp => self.top = self.top.saturating_sub(10),
                    KeyCode::PageDown => self.top += 10,
                    KeyCode::Home => self.top = 0,
                    _ => return Wish::Nothing,
                }
            }
            _ => return Wish::Nothing,
        }
        Wish::Draw
    }

    fn draw(&mut self) -> std::io::Result<()> {
        let (columns, rows) = terminal::size()?;
        let (width, height) = (usize::from(columns.max(1)), usize::from(rows));
        let text = self.text(width);
        let lines: Vec<&str> = text.lines().collect();
        let room = height.saturating_sub(1);
        self.top = self.top.min(lines.len().saturating_sub(room));
        let below = lines.len().saturating_sub(self.top + room);
        let mut out = stdout().lock();
        queue!(out, terminal::BeginSynchronizedUpdate, cursor::MoveTo(0, 0))?;
        for line in lines.iter().skip(self.top).take(room) {
            queue!(out, style::Print(line), terminal::Clear(terminal::ClearType::UntilNewLine), style::Print("\r\n"))?;
        }
        queue!(out, terminal::Clear(terminal::ClearType::FromCursorDown))?;
        let status: String = self.status(below).chars().take(width.saturating_sub(1)).collect();
        queue!(out, cursor::MoveTo(0, rows.saturating_sub(1)), style::Print(status), terminal::EndSynchronizedUpdate)?;
        out.flush()
    }

    fn text(&self, width: usize) -> String {
        let Some((board, received)) = &self.board else { return "waiting for the board\n".to_owned() };
        let as_of = board.as_of.as_ref().and_then(moment::from_wire).unwrap_or_else(moment::now);
        // The server's moment, moved on by this machine's count of seconds, whatever its clock says.
        let passed = SignedDuration::try_from(received.elapsed()).unwrap_or_default();
        let now = as_of.checked_add(passed).unwrap_or(as_of);
        board_text::whole(board, Look { zone: self.zone, now, colour: self.colour, width: Some(width) })
    }

    fn status(&self, below: usize) -> String {
        let more = if below > 0 { format!("; {below} more lines below, arrow keys move") } else { String::new() };
        match &self.not_live {
            None => format!("live; q quits{more}"),
            // What matters most stands first: a narrow terminal cuts the rest off.
            Some((since, why)) => {
                format!("NOT LIVE, no word for {} s; q quits{more}; {}", since.elapsed().as_secs(), clean(why))
            }
        }
    }
}

/// The terminal while the board has it. Whatever happens, it is given back as it was.
struct Terminal {
    given_back: Arc<AtomicBool>,
}

impl Terminal {
    fn enter() -> Outcome<Self> {
        terminal::enable_raw_mode().map_err(|error| failed(&error))?;
        let entered = Self { given_back: Arc::new(AtomicBool::new(false)) };
        execute!(stdout(), terminal::EnterAlternateScreen, cursor::Hide).map_err(|error| failed(&error))?;
        Ok(entered)
    }

    /// Keys and resizing, read on a thread of their own since reading blocks.
    fn keys(&self) -> mpsc::Receiver<Event> {
        let (sender, receiver) = mpsc::channel(16);
        let given_back = Arc::clone(&self.given_back);
        std::thread::spawn(move || {
            while !given_back.load(Ordering::Relaxed) {
                match event::poll(KEY_POLL) {
                    Ok(false) => {}
                    Ok(true) => {
                        let Ok(event) = event::read() else { return };
                        if sender.blocking_send(event).is_err() {
                            return;
                        }
                    }
                    Err(_) => return,
                }
            }
        });
        receiver
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        self.given_back.store(true, Ordering::Relaxed);
        // There is nothing left to try when the terminal does not take it.
        let _ = execute!(stdout(), cursor::Show, terminal::LeaveAlternateScreen);
        let _ = terminal::disable_raw_mode();
    }
}
