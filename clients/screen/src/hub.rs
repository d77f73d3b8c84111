//! One subscription of the board, and what it shows for all browsers.

use crate::bring::{self, ToBring};
use crate::frame::{Frame, Hearing};
use crate::render;
use crate::texts::Texts;
use crate::view::Look;
use futures::StreamExt;
use jiff::tz::TimeZone;
use leadhand_sdk::v1::{GetShopRequest, GetShopResponse};
use leadhand_sdk::{Board, BoardEvent, Client, SdkError, moment};
use std::pin::pin;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::watch;
use tokio::time::{Instant, MissedTickBehavior, interval, sleep};

/// What the shop is called and what is to be brought are asked for again this often.
const LOOK_EVERY: Duration = Duration::from_secs(5);
/// At most so often, however much changes.
const PACE: Duration = Duration::from_secs(1);
/// The wall is put together anew this often: "today" is another day after midnight.
const ANEW_EVERY: Duration = Duration::from_secs(30);
/// After a subscription that can't go on, at least and at most this long is waited before the next.
const PAUSE: (Duration, Duration) = (Duration::from_secs(2), Duration::from_mins(1));

/// The wall as it is, for as many browsers as there are.
#[derive(Clone)]
pub struct Hub {
    frames: watch::Receiver<Arc<Frame>>,
}

impl Hub {
    /// Begins to watch; it ends when nobody holds the hub any more.
    pub fn begin(client: Client, texts: Texts, run: &str) -> Self {
        let (sender, frames) = watch::channel(Arc::new(Frame::empty(run, moment::now(), Instant::now())));
        let (boards, heard) = watch::channel(None);
        let (to_bring, brought) = watch::channel(None);
        let (shops, shop) = watch::channel(None);
        let gone = sender.clone();
        let looked = client.clone();
        tokio::spawn(async move {
            let composer = Composer { texts, sender, heard: heard.clone(), brought, shop };
            tokio::select! {
                () = gone.closed() => {}
                () = listen(&client, &boards) => {}
                () = look(&looked, heard, &to_bring, &shops) => {}
                () = composer.run() => {}
            }
        });
        Self { frames }
    }

    /// The wall now.
    pub fn frame(&self) -> Arc<Frame> {
        self.frames.borrow().clone()
    }

    /// The wall as it changes.
    pub fn watch(&self) -> watch::Receiver<Arc<Frame>> {
        self.frames.clone()
    }
}

/// The last word of the board, and whether it is still heard.
#[derive(Clone)]
struct Heard {
    board: Option<(Arc<Board>, Instant)>,
    lost: Option<Instant>,
}

/// Keeps one subscription going for ever.
async fn listen(client: &Client, boards: &watch::Sender<Option<Heard>>) {
    let mut pause = PAUSE.0;
    loop {
        let mut events = pin!(client.watch_board());
        while let Some(event) = events.next().await {
            match event {
                Ok(BoardEvent::Live(board)) => {
                    pause = PAUSE.0;
                    let heard = Heard { board: Some((Arc::new(*board), Instant::now())), lost: None };
                    boards.send_replace(Some(heard));
                }
                Ok(BoardEvent::NotLive { since, why }) => {
                    tracing::warn!("the server is not heard: {why}");
                    lose(boards, since);
                }
                Err(error) => {
                    pause = after(&error, pause);
                    tracing::error!("the board can't be watched: {error}; trying again in {pause:?}");
                    lose(boards, Instant::now());
                }
            }
        }
        sleep(pause).await;
    }
}

/// How long is waited after a subscription that ended. A server that is not there may be there in a moment; one that
/// refuses (a token that counts no longer) is asked more and more seldom.
fn after(error: &SdkError, before: Duration) -> Duration {
    if error.reason.is_empty() { PAUSE.0 } else { (before * 2).min(PAUSE.1) }
}

/// From the first loss on, however often it is told.
fn lose(boards: &watch::Sender<Option<Heard>>, since: Instant) {
    boards.send_modify(|heard| {
        let heard = heard.get_or_insert(Heard { board: None, lost: None });
        heard.lost.get_or_insert(since);
    });
}

/// Asks for what the board does not say: the shop's name and zone, and what is to be brought.
async fn look(
    client: &Client,
    mut heard: watch::Receiver<Option<Heard>>,
    to_bring: &watch::Sender<Option<Vec<ToBring>>>,
    shops: &watch::Sender<Option<GetShopResponse>>,
) {
    let mut ticks = interval(LOOK_EVERY);
    ticks.set_missed_tick_behavior(MissedTickBehavior::Delay);
    let (mut asked, mut told) = (None, false);
    loop {
        tokio::select! {
            _ = ticks.tick() => {}
            changed = heard.changed() => if changed.is_err() { return },
        }
        let board = heard.borrow_and_update().as_ref().and_then(|heard| heard.board.clone());
        let board = board.as_ref().map(|(board, _)| &**board);
        match look_once(client, board, &mut asked, to_bring, shops).await {
            Ok(()) => told = false,
            Err(error) if !std::mem::replace(&mut told, true) => {
                tracing::warn!("what is to be brought is not known anew, and is asked for again: {error}");
            }
            Err(_) => {}
        }
        sleep(PACE).await;
    }
}

/// What was asked with: the shop's number, and that of the board whose stages were asked for.
type Asked = (i64, i64);

/// Whether what is to be brought can be another than when it was asked for. The journal may be ahead of the board: then
/// the stages were old ones, and are asked for again with the board that comes.
fn is_due(asked: Option<Asked>, now: Asked) -> bool {
    asked != Some(now)
}

/// Whatever fails leaves what was known, and counts as not asked.
async fn look_once(
    client: &Client,
    board: Option<&Board>,
    asked: &mut Option<Asked>,
    to_bring: &watch::Sender<Option<Vec<ToBring>>>,
    shops: &watch::Sender<Option<GetShopResponse>>,
) -> Result<(), SdkError> {
    let shop = client.get_shop(GetShopRequest {}).await?;
    let number = shop.number;
    shops.send_if_modified(|known| {
        let same = known.as_ref().is_some_and(|known| known.name == shop.name && known.zone == shop.zone);
        *known = Some(shop);
        !same
    });
    let Some(board) = board else { return Ok(()) };
    let now = (number, board.number);
    if is_due(*asked, now) {
        let lines = Some(bring::ask(client, board).await?);
        *asked = Some(now);
        to_bring.send_if_modified(|known| {
            let changed = *known != lines;
            *known = lines;
            changed
        });
    }
    Ok(())
}

/// The shop's zone. A name that this program does not know is a defect of its zone database, and is reported.
pub fn zone_of(shop: &GetShopResponse) -> TimeZone {
    TimeZone::get(&shop.zone).unwrap_or_else(|error| {
        tracing::error!("times are told in UTC, for the shop's zone is not known here: {error}");
        TimeZone::UTC
    })
}

/// Puts the wall together whenever something of it was heard.
struct Composer {
    texts: Texts,
    sender: watch::Sender<Arc<Frame>>,
    heard: watch::Receiver<Option<Heard>>,
    brought: watch::Receiver<Option<Vec<ToBring>>>,
    shop: watch::Receiver<Option<GetShopResponse>>,
}

impl Composer {
    async fn run(mut self) {
        let mut anew = interval(ANEW_EVERY);
        loop {
            tokio::select! {
                changed = self.heard.changed() => if changed.is_err() { return },
                changed = self.brought.changed() => if changed.is_err() { return },
                changed = self.shop.changed() => if changed.is_err() { return },
                _ = anew.tick() => {}
            }
            self.compose();
        }
    }

    fn compose(&mut self) {
        let Some(heard) = self.heard.borrow_and_update().clone() else { return };
        let shop = self.shop.borrow_and_update().clone();
        let brought = self.brought.borrow_and_update().clone();
        let before = self.sender.borrow().clone();
        let mut frame = (*before).clone();
        if let Some((board, at)) = &heard.board {
            let as_of = board.as_of.as_ref().and_then(moment::from_wire).unwrap_or_else(moment::now);
            (frame.as_of, frame.number, frame.board) = ((as_of, *at), board.number, board.clone());
        }
        // Before its zone is known no time can be said, so nothing is shown.
        if let (Some(shop), Some((board, _))) = (shop, &heard.board) {
            let zone = zone_of(&shop);
            frame.shop = shop.name.into();
            let look = Look { texts: &self.texts, zone: &zone, now: frame.now(Instant::now()) };
            let rendered = render::wall(&frame.shop, board, brought.as_deref(), look);
            frame = Frame { zone: Some(zone), ..frame.next(rendered) };
        }
        let shown = frame.turn > 0;
        frame.hearing = match heard.lost {
            Some(since) => Hearing::Lost(since),
            None if shown => Hearing::Live,
            None => before.hearing.clone(),
        };
        let news = frame.hearing != before.hearing
            || frame.number != before.number
            || frame.layout != before.layout
            || frame.order != before.order
            || frame.parts.keys().ne(before.parts.keys())
            || frame.turn != before.turn && frame.parts.values().any(|part| part.changed == frame.turn);
        if news {
            self.sender.send_replace(Arc::new(frame));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use leadhand_sdk::Endpoint;

    #[tokio::test]
    async fn a_server_that_is_away_is_asked_soon_and_one_that_refuses_more_and_more_seldom() {
        let mut error = Client::connect(Endpoint::new("nowhere")).err().unwrap();
        assert_eq!(after(&error, PAUSE.1), PAUSE.0);
        error.reason = "UNAUTHENTICATED".to_owned();
        assert_eq!(after(&error, PAUSE.0), PAUSE.0 * 2);
        assert_eq!(after(&error, PAUSE.1), PAUSE.1);
    }

    #[test]
    fn stages_of_an_older_board_are_asked_for_again_when_the_board_is_there() {
        assert!(is_due(None, (7, 7)), "never asked");
        let asked = Some((8, 7));
        assert!(!is_due(asked, (8, 7)));
        assert!(is_due(asked, (8, 8)), "the journal was ahead of the board, which came now");
        assert!(is_due(asked, (9, 7)), "a fact that the board does not show, as goods that came");
    }

    #[tokio::test(start_paused = true)]
    async fn goods_that_could_not_be_asked_for_stay_as_they_were_known_and_are_asked_for_again() {
        let away = Client::connect(Endpoint::new("http://127.0.0.1:1")).unwrap();
        let known = vec![ToBring { bay: "b".into(), what: "1 ring".into(), now: true, ..ToBring::default() }];
        let (to_bring, brought) = watch::channel(Some(known.clone()));
        let (shops, _) = watch::channel(None);
        let mut asked = Some((1, 1));
        let board = Board { number: 2, ..Board::default() };
        assert!(look_once(&away, Some(&board), &mut asked, &to_bring, &shops).await.is_err());
        assert_eq!((brought.borrow().as_ref(), asked), (Some(&known), Some((1, 1))));
    }

    #[tokio::test]
    async fn the_silence_is_counted_from_its_beginning_and_what_was_shown_stays() {
        let (boards, heard) = watch::channel(None);
        let first = Instant::now();
        lose(&boards, first);
        lose(&boards, first + LOOK_EVERY);
        assert_eq!(heard.borrow().as_ref().unwrap().lost, Some(first));
        boards.send_replace(Some(Heard { board: Some((Arc::default(), first)), lost: None }));
        lose(&boards, first + ANEW_EVERY);
        let kept = heard.borrow().clone().unwrap();
        assert!(kept.board.is_some() && kept.lost == Some(first + ANEW_EVERY));
    }
}
