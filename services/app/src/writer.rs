//! The writer: a shop has one line of history, so its commands stand in one queue, and what is
//! waiting is committed together.

mod batch;
mod catch_up;
mod judge;
mod loading;
mod repeat;
mod together;

use crate::chance::Entropy;
use crate::error::AppError;
use crate::hub::Hub;
use crate::{App, Options};
use batch::Line;
use judge::Judge;
use leadhand_domain::answer::Answer;
use leadhand_domain::command::Command;
use leadhand_domain::context::Actor;
use leadhand_domain::refusal::Refusal;
use leadhand_facts::words::Role;
use leadhand_facts::{Instant, PersonId, PrincipalId, RequestId, ShopId, TokenId};
use leadhand_store::Store;
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;
use together::Together;
use tokio::sync::{mpsc, oneshot};
use tokio::task::JoinHandle;
use uuid::Uuid;

/// After this long without a command a shop's line is folded up, and its cache with it.
const IDLE: Duration = Duration::from_mins(2);

/// Whose name it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NameOf {
    /// Somebody who works here.
    Person,
    /// Somebody for whom work is done.
    Customer,
}

/// Somebody whom a request gives by name.
#[derive(Debug, Clone)]
pub struct Named {
    /// Whose name it is.
    pub of: NameOf,
    /// Who it is, or an id that nobody has.
    pub id: Uuid,
    /// All who have the name now.
    pub bearers: Vec<Uuid>,
    /// Why it is nobody. It counts only when the request is new: a repeat may name somebody who was forgotten or is
    /// called otherwise since.
    pub unknown: Option<Refusal>,
}

/// What comes with a command.
#[derive(Debug, Clone)]
pub struct Write {
    /// The client's name for the request.
    pub request: RequestId,
    /// When it happened, if earlier than now.
    pub happened_at: Option<Instant>,
    /// For whom a lead records.
    pub for_person: Option<PersonId>,
    /// The job's version on which the client insists.
    pub etag: Option<i64>,
    /// When the client gives up waiting.
    pub deadline: Option<tokio::time::Instant>,
    /// Whom the request gives by name.
    pub named: Vec<Named>,
    /// What stands against it, when it is new: a repeat of what was accepted gets its first answer.
    pub against: Option<Refusal>,
    /// Why it could not be worked out, when it is new.
    pub unworked: Option<Box<AppError>>,
    /// It is decided, and nothing of it is recorded.
    pub dry_run: bool,
}

impl Write {
    /// A request of which nothing else was said.
    pub fn of(request: RequestId) -> Self {
        Self {
            request,
            happened_at: None,
            for_person: None,
            etag: None,
            deadline: None,
            named: Vec::new(),
            against: None,
            unworked: None,
            dry_run: false,
        }
    }
}

/// An accepted command.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Outcome {
    /// The client's name for the request.
    pub request: RequestId,
    /// The answer.
    pub answer: Answer,
    /// Whether this is the first answer to a request that was repeated.
    pub repeated: bool,
    /// Whether it was only decided, and nothing was recorded.
    pub dry_run: bool,
}

/// Who sends a command.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Sender {
    actor: Actor,
    shown: Option<Shown>,
}

/// What lets a command in, and has to count when its turn comes.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Shown {
    /// The token: a person's, or a device's.
    pub(crate) token: TokenId,
    /// The session of a person at that device.
    pub(crate) session: Option<TokenId>,
}

impl Sender {
    /// The server itself: the timer, and whoever sets a shop up.
    pub(crate) fn server() -> Self {
        Self { actor: Actor { principal: None, person: None, proved: None, role: Role::Lead }, shown: None }
    }

    /// An operator, who stands outside of the shop and acts in it as a lead would.
    pub(crate) fn operator(operator: PrincipalId) -> Self {
        let actor = Actor { principal: Some(operator), person: None, proved: None, role: Role::Lead };
        Self { actor, shown: None }
    }
}

/// A command in the queue.
pub(crate) struct Submission {
    pub(crate) command: Command,
    pub(crate) actor: Actor,
    /// What lets the command in; it has to count when its turn comes.
    pub(crate) shown: Option<Shown>,
    pub(crate) write: Write,
    /// The command's own span: it ends with the answer, and the batch that decides it is below it.
    pub(crate) span: tracing::Span,
    pub(crate) reply: oneshot::Sender<Result<Outcome, AppError>>,
}

/// What a line hears.
pub(crate) enum Message {
    Command(Box<Submission>),
    FoldUp,
}

impl Message {
    fn command(self) -> Option<Submission> {
        match self {
            Self::Command(submission) => Some(*submission),
            Self::FoldUp => None,
        }
    }
}

struct Queue {
    sender: mpsc::Sender<Message>,
    task: JoinHandle<()>,
}

/// The lines of all shops that are written here.
pub(crate) struct Writers {
    store: Store,
    entropy: Arc<dyn Entropy>,
    hub: Arc<Hub>,
    options: Options,
    together: Arc<Together>,
    lines: Mutex<Lines>,
}

#[derive(Default)]
struct Lines {
    open: HashMap<ShopId, Queue>,
    /// No line is opened any more.
    closed: bool,
}

impl Writers {
    pub(crate) fn new(store: Store, entropy: Arc<dyn Entropy>, hub: Arc<Hub>, options: Options) -> Self {
        let together = Arc::new(Together::start(&store, &hub));
        Self { store, entropy, hub, options, together, lines: Mutex::default() }
    }

    /// Queues a command; answers when it is decided and committed, or refused.
    pub(crate) async fn submit(
        self: &Arc<Self>,
        shop: ShopId,
        command: Command,
        sender: Sender,
        write: Write,
    ) -> Result<Outcome, AppError> {
        let (reply, answer) = oneshot::channel();
        let Sender { actor, shown } = sender;
        let span = tracing::info_span!("command", %shop, command = command.name(), outcome = tracing::field::Empty);
        let mut message = Message::Command(Box::new(Submission { command, actor, shown, write, span, reply }));
        // A line that folds up just now is replaced by a new one.
        for _ in 0..3 {
            message = match self.line(shop)?.try_send(message) {
                Ok(()) => {
                    metrics::gauge!("leadhand_queued_commands").increment(1);
                    return answer.await.unwrap_or(Err(AppError::Unknown));
                }
                Err(mpsc::error::TrySendError::Full(_)) => return Err(AppError::Busy),
                Err(mpsc::error::TrySendError::Closed(back)) => back,
            };
        }
        Err(AppError::Busy)
    }

    fn line(self: &Arc<Self>, shop: ShopId) -> Result<mpsc::Sender<Message>, AppError> {
        let mut lines = self.lines.lock().unwrap_or_else(PoisonError::into_inner);
        if lines.closed {
            return Err(AppError::Stopping);
        }
        if let Some(line) = lines.open.get(&shop).filter(|line| !line.sender.is_closed()) {
            return Ok(line.sender.clone());
        }
        let (sender, receiver) = mpsc::channel(self.options.queue);
        // Its own task: no client that goes away can cancel a commit.
        let task = tokio::spawn(serve(self.clone(), shop, receiver));
        lines.open.insert(shop, Queue { sender: sender.clone(), task });
        Ok(sender)
    }

    /// Takes nothing more, and waits until every line is empty and answered.
    pub(crate) async fn drain(&self) {
        let lines: Vec<Queue> = {
            let mut lines = self.lines.lock().unwrap_or_else(PoisonError::into_inner);
            lines.closed = true;
            lines.open.drain().map(|(_, line)| line).collect()
        };
        for line in lines {
            // A line that has folded up already takes nothing more, and has answered everything.
            line.sender.send(Message::FoldUp).await.ok();
            if let Err(error) = line.task.await {
                tracing::error!(%error, "a shop's writer broke off");
            }
        }
    }
}

async fn serve(writers: Arc<Writers>, shop: ShopId, mut queue: mpsc::Receiver<Message>) {
    let judge = Judge { entropy: writers.entropy.clone(), shop };
    let mut line = Line::new(writers.store.clone(), writers.hub.clone(), writers.together.clone(), judge);
    let most = writers.options.batch;
    let mut received = Vec::new();
    loop {
        let count = tokio::time::timeout(IDLE, queue.recv_many(&mut received, most)).await.unwrap_or(0);
        let mut fold_up = count == 0;
        let mut commands = sorted(&mut received, &mut fold_up);
        while !commands.is_empty() || fold_up && !queue.is_closed() {
            if fold_up && !queue.is_closed() {
                // Whoever sent before the door closed is still served.
                queue.close();
                while queue.recv_many(&mut received, most).await > 0 {}
                commands.extend(sorted(&mut received, &mut fold_up));
            }
            let rest = commands.split_off(commands.len().min(most));
            if !line.run(std::mem::replace(&mut commands, rest)).await {
                received.extend(std::iter::from_fn(|| queue.try_recv().ok()));
                commands.extend(sorted(&mut received, &mut fold_up));
                batch::come_again(std::mem::take(&mut commands));
            }
        }
        if fold_up {
            return;
        }
    }
}

/// The commands among what was received; what is no command says that the line is to end.
fn sorted(received: &mut Vec<Message>, fold_up: &mut bool) -> Vec<Submission> {
    let all = received.len();
    let commands: Vec<Submission> = received.drain(..).filter_map(Message::command).collect();
    metrics::gauge!("leadhand_queued_commands").decrement(u32::try_from(commands.len()).unwrap_or(u32::MAX));
    *fold_up |= commands.len() < all;
    commands
}

impl App {
    /// Sends a command through the shop's writer.
    pub async fn execute(
        &self,
        who: &crate::access::Principal,
        write: Write,
        command: impl Into<Command>,
    ) -> Result<Outcome, AppError> {
        let sender = Sender { actor: who.actor(write.for_person)?, shown: Some(who.shown()) };
        match self.writers.submit(who.shop, command.into(), sender, write).await {
            Err(AppError::Refused { refusal, told }) if refusal.names_persons() => {
                let told = self.names_in(who, &told).await?;
                Err(AppError::Refused { refusal, told })
            }
            verdict => verdict,
        }
    }
}
