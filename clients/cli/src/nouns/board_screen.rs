//! The live board on a terminal: counts and whether it is live above, the board, and below it the keys.

use super::board_text::{self, HEAD, Look, Row};
use crate::app::App;
use crate::failure::{Failure, Outcome};
use crate::moment;
use crate::out::clean;
use futures::StreamExt;
use jiff::SignedDuration;
use jiff::tz::TimeZone;
use leadhand_sdk::{Board, BoardEvent, Standing};
use ratatui::crossterm::event::{self, Event, KeyCode, KeyEvent, KeyEventKind, KeyModifiers};
use ratatui::layout::{Constraint, Layout, Rect};
use ratatui::style::{Color, Modifier, Style};
use ratatui::text::{Line, Span, Text};
use ratatui::widgets::Paragraph;
use ratatui::{DefaultTerminal, Frame};
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
/// The keys. What a narrow terminal cuts off stands last.
const LEAVE: &str = "q quit";
const MOVE: &str = "Up/Down move  PgUp/PgDn page  Home/End";

/// Runs it until it is told to stop.
pub async fn run(app: &App) -> Outcome {
    let zone = app.zone().await?;
    let mut screen = Screen::new(zone, app.out.colour);
    // From here on the terminal is given back also by a panic: ratatui hooks in before it tells of one.
    let mut terminal = Held(ratatui::try_init().map_err(|error| failed(&error))?);
    let (mut keys, _asking) = keys();
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
            Wish::Draw => terminal.0.draw(|frame| screen.draw(frame)).map(|_| ()).map_err(|error| failed(&error))?,
            Wish::Nothing => {}
        }
    }
}

fn failed(error: &std::io::Error) -> Failure {
    Failure::Usage(format!("the terminal can't be used: {error}"))
}

/// The terminal while the board has it. Whatever happens, it is given back as it was.
struct Held(DefaultTerminal);

impl Drop for Held {
    fn drop(&mut self) {
        ratatui::restore();
        // There is nothing left to try when the terminal does not take it.
        let _ = self.0.show_cursor();
    }
}

/// Says to the thread of the keyboard that nobody asks any more.
struct Asking(Arc<AtomicBool>);

impl Drop for Asking {
    fn drop(&mut self) {
        self.0.store(true, Ordering::Relaxed);
    }
}

/// Keys and resizing, read on a thread of their own since reading blocks.
fn keys() -> (mpsc::Receiver<Event>, Asking) {
    let (sender, receiver) = mpsc::channel(16);
    let over = Arc::new(AtomicBool::new(false));
    let asking = Asking(Arc::clone(&over));
    std::thread::spawn(move || {
        while !over.load(Ordering::Relaxed) {
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
    (receiver, asking)
}

/// What is on the screen.
struct Screen<'a> {
    zone: &'a TimeZone,
    colour: bool,
    board: Option<(Board, Instant)>,
    not_live: Option<(Instant, String)>,
    /// The first line that is shown, and how many there were room for.
    top: usize,
    room: usize,
}

#[derive(Debug, PartialEq, Eq)]
enum Wish {
    Quit,
    Draw,
    Nothing,
}

impl<'a> Screen<'a> {
    fn new(zone: &'a TimeZone, colour: bool) -> Self {
        Self { zone, colour, board: None, not_live: None, top: 0, room: 1 }
    }

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
                    KeyCode::Down => self.top = self.top.saturating_add(1),
                    KeyCode::PageUp => self.top = self.top.saturating_sub(self.room),
                    KeyCode::PageDown => self.top = self.top.saturating_add(self.room),
                    KeyCode::Home => self.top = 0,
                    // Drawing goes back to the last page.
                    KeyCode::End => self.top = usize::MAX,
                    _ => return Wish::Nothing,
                }
            }
            _ => return Wish::Nothing,
        }
        Wish::Draw
    }

    fn draw(&mut self, frame: &mut Frame<'_>) {
        let parts = Layout::vertical([Constraint::Length(1), Constraint::Min(1), Constraint::Length(1)]);
        let [head, body, foot]: [Rect; 3] = parts.areas(frame.area());
        let rows = self.rows(usize::from(body.width.max(1)));
        self.room = usize::from(body.height.max(1));
        self.top = self.top.min(rows.len().saturating_sub(self.room));
        let (above, below) = (self.top, rows.len().saturating_sub(self.top + self.room));
        let shown = rows.into_iter().skip(self.top).take(self.room).map(|row| self.line(row));
        frame.render_widget(self.head(), head);
        frame.render_widget(Text::from(shown.collect::<Vec<_>>()), body);
        let more = match (above, below) {
            (0, 0) => String::new(),
            (above, below) => format!("  {above} lines above, {below} below"),
        };
        frame.render_widget(
            Paragraph::new(format!("{LEAVE}{more}  {MOVE}")).style(self.style(Modifier::REVERSED)),
            foot,
        );
    }

    /// How many stand how, and whether it is live. What matters most stands first.
    fn head(&self) -> Line<'static> {
        let live = match &self.not_live {
            None if self.board.is_some() => "live".to_owned(),
            None => "waiting for the board".to_owned(),
            Some((since, why)) => format!("NOT LIVE, no word for {} s: {}", since.elapsed().as_secs(), clean(why)),
        };
        let mut words = vec![Span::styled(live, self.style(Modifier::BOLD))];
        let board = self.board.as_ref().map(|(board, _)| board);
        for standing in Standing::ALL {
            let count = board.map_or(0, |board| board_text::count(board, standing));
            if count > 0 {
                words.push(Span::raw("  "));
                words.push(Span::styled(board_text::counted(standing, count), self.paint(standing)));
            }
        }
        Line::from(words)
    }

    fn rows(&self, width: usize) -> Vec<Row> {
        let Some((board, received)) = &self.board else { return Vec::new() };
        let as_of = board.as_of.as_ref().and_then(moment::from_wire).unwrap_or_else(moment::now);
        // The server's moment, moved on by this machine's count of seconds, whatever its clock says.
        let passed = SignedDuration::try_from(received.elapsed()).unwrap_or_default();
        let now = as_of.checked_add(passed).unwrap_or(as_of);
        board_text::rows(board, Look { zone: self.zone, now, colour: false, width: Some(width) })
    }

    fn line(&self, row: Row) -> Line<'static> {
        let Some(standing) = row.standing else { return Line::from(row.text) };
        let (word, rest) = row.text.split_at(HEAD.min(row.text.len()));
        let (word, rest) = (word.to_owned(), rest.to_owned());
        Line::from(vec![Span::styled(word, self.paint(standing)), Span::styled(rest, self.style(Modifier::BOLD))])
    }

    /// Colour repeats what the word says, where there may be colour.
    fn paint(&self, standing: Standing) -> Style {
        let colour = match standing {
            Standing::HeldUp | Standing::Late => Color::Red,
            Standing::AtRisk => Color::Yellow,
            Standing::UnderWay => Color::Green,
            Standing::Unattended | Standing::Free => return self.style(Modifier::BOLD),
        };
        if self.colour { Style::new().fg(colour).add_modifier(Modifier::BOLD) } else { Style::new() }
    }

    fn style(&self, modifier: Modifier) -> Style {
        if self.colour || modifier == Modifier::REVERSED { Style::new().add_modifier(modifier) } else { Style::new() }
    }
}

#[cfg(test)]
#[path = "board_screen_tests.rs"]
mod tests;
