//! Commands of every kind, drawn at random from how things stand in the shop: mostly sensible
//! ones, some wrong, some impossible. What is drawn depends on the rolls and the state alone, so
//! a case that fails can be made smaller by leaving rolls out.

mod condition;
mod customers;
mod doors;
mod floor;
mod mistakes;
mod opening;
mod plan;
mod progress;
mod readings;
mod seized;
mod shop;
mod stock;
mod strip;
mod suppliers;
mod tools;

use leadhand_auditor::Books;
use leadhand_domain::command::Command;
use leadhand_domain::context::{Actor, Chance, Context};
use leadhand_domain::look;
use leadhand_domain::state::State;
use leadhand_facts::words::Role;
use leadhand_facts::*;
use uuid::Uuid;

pub use crate::stock_kit::Counter;
pub use opening::opening;

/// How many numbers one command is drawn from.
pub const ROLLS: usize = 24;

/// The numbers that one command is drawn from. Each choice takes the next one; 0 is the usual.
pub type Rolls = [u16; ROLLS];

/// A command with its circumstances.
pub struct Asked {
    pub command: Command,
    pub context: Context,
}

/// Where commands come in: the clock on its wall, and where ids come from.
pub struct Desk {
    pub now: Instant,
    pub chance: Counter,
}

impl Desk {
    pub fn new() -> Self {
        Self { now: Instant::parse("2026-05-04T07:00:00Z").expect("it is RFC 3339"), chance: Counter(0) }
    }

    /// The circumstances of the lead at work.
    pub fn context(&mut self) -> Context {
        let actor = Actor { principal: None, person: None, proved: None, role: Role::Lead };
        let request = RequestId(self.chance.id());
        Context { now: self.now, happened_at: self.now, actor, request, etag: None }
    }
}

/// What a command is drawn from.
pub struct Draw<'a> {
    pub state: &'a State,
    pub books: &'a Books,
    pub journal: &'a [Entry],
    pub now: Instant,
    pub chance: &'a mut Counter,
    rolls: &'a [u16],
}

type Act = fn(&mut Draw<'_>) -> Command;

impl Draw<'_> {
    /// One of `0..n`.
    pub fn below(&mut self, n: usize) -> usize {
        let (roll, rest) = self.rolls.split_first().map_or((0, &[][..]), |(roll, rest)| (*roll, rest));
        self.rolls = rest;
        usize::from(roll) % n.max(1)
    }

    /// Once in `n` times.
    pub fn rarely(&mut self, n: usize) -> bool {
        self.below(n) + 1 == n
    }

    pub fn between(&mut self, low: i64, high: i64) -> i64 {
        let wide = usize::try_from(high - low + 1).expect("a range in order");
        low + i64::try_from(self.below(wide)).expect("a small number")
    }

    pub fn one_of<T: Clone>(&mut self, all: &[T]) -> Option<T> {
        let at = self.below(all.len());
        all.get(at).cloned()
    }

    /// A job, mostly an open one; one in a while that is not there.
    pub fn job(&mut self) -> JobNo {
        let open: Vec<JobNo> = progress::open_jobs(self.state);
        let all: Vec<JobNo> = self.state.jobs.iter().map(|row| row.job).collect();
        let which = if self.rarely(10) || open.is_empty() { all } else { open };
        if self.rarely(40) { JobNo(99) } else { self.one_of(&which).unwrap_or(JobNo(1)) }
    }

    pub fn stage(&mut self, job: JobNo) -> StageKey {
        let all: Vec<StageKey> = look::stages(self.state, job).map(|row| row.stage.clone()).collect();
        if self.rarely(40) { "nowhere".into() } else { self.one_of(&all).unwrap_or_else(|| "strip".into()) }
    }

    pub fn person(&mut self) -> PersonId {
        let forgotten = self.rarely(8);
        let all = self.state.persons.iter().filter(|row| forgotten || !row.forgotten);
        let all: Vec<PersonId> = all.map(|row| row.person).collect();
        let nobody = PersonId(Uuid::from_u128(7));
        if self.rarely(30) { nobody } else { self.one_of(&all).unwrap_or(nobody) }
    }

    pub fn bay(&mut self) -> BayKey {
        let all: Vec<BayKey> = self.state.bays.iter().map(|row| row.bay.clone()).collect();
        if self.rarely(30) { "nowhere".into() } else { self.one_of(&all).unwrap_or_else(|| "lift-1".into()) }
    }

    /// Some words, or now and then what can't be kept.
    pub fn words(&mut self, words: &str) -> String {
        if self.rarely(40) { " ".to_owned() } else { words.to_owned() }
    }

    pub fn sometimes(&mut self, words: &str) -> Option<String> {
        (self.below(2) == 1).then(|| self.words(words))
    }

    /// A local day so many days from today.
    pub fn day(&mut self, low: i64, high: i64) -> String {
        if self.rarely(40) {
            return "2026-02-30".to_owned();
        }
        let days = self.between(low, high);
        let at = self.now.plus_minutes(days * 24 * 60).timestamp().expect("a near day");
        jiff::tz::TimeZone::UTC.to_datetime(at).date().to_string()
    }
}

/// Every kind of command with its weight; the first is the usual one.
const ACTS: [(usize, Act); 101] = [
    (46, progress::go_on),
    (5, floor::open_job),
    (2, floor::promise_job),
    (4, floor::assign),
    (5, floor::roll_out),
    (1, floor::complete),
    (1, floor::cancel),
    (3, floor::add_stage),
    (4, floor::add_step),
    (5, floor::start),
    (4, floor::finish),
    (2, floor::skip_stage),
    (3, floor::tick_steps),
    (2, floor::skip_step),
    (3, floor::raise),
    (3, floor::clear),
    (2, floor::own),
    (4, floor::clock_on),
    (3, floor::clock_off),
    (10, floor::record_work),
    (7, mistakes::correct_clocking),
    (2, mistakes::withdraw_clocking),
    (4, mistakes::correct_stay),
    (5, mistakes::reopen_step),
    (2, mistakes::reopen_stage),
    (3, mistakes::reopen_job),
    (2, mistakes::set_bay),
    (4, strip::take_off),
    (4, strip::add_position),
    (12, strip::put_back),
    (10, strip::tighten),
    (60, strip::check),
    (3, strip::reopen_position),
    (4, readings::add),
    (7, readings::record),
    (14, readings::decide),
    (2, readings::remark),
    (2, readings::withdraw),
    (24, seized::attempt),
    (3, seized::soak),
    (3, seized::split),
    (2, tools::add),
    (2, tools::describe),
    (2, tools::retire),
    (7, tools::lend),
    (4, tools::bring_back),
    (3, tools::reopen),
    (3, suppliers::set),
    (4, suppliers::set_item),
    (3, suppliers::set_fluid),
    (2, suppliers::tell),
    (3, suppliers::withdraw),
    (10, suppliers::ask),
    (20, suppliers::answer),
    (6, plan::accept),
    (4, plan::pin),
    (3, plan::unpin),
    (3, plan::open_overtime),
    (6, plan::close_overtime),
    (4, condition::set_states),
    (4, condition::record_fluid),
    (4, condition::reopen_fluid),
    (2, condition::set_fill),
    (4, condition::propose_way),
    (6, condition::decide_way),
    (4, condition::call_lead),
    (5, floor::tick),
    (5, stock::receive),
    (7, stock::reserve),
    (8, stock::issue),
    (10, stock::take_back),
    (4, stock::release),
    (3, stock::count),
    (2, stock::scrap),
    (2, stock::add_item),
    (2, stock::add_place),
    (1, stock::import),
    (2, customers::add),
    (2, customers::edit),
    (3, customers::forget),
    (4, customers::edit_vehicle),
    (1, shop::open_shop),
    (1, shop::set_hours),
    (1, shop::set_day),
    (1, shop::set_shift),
    (1, shop::add_bay),
    (1, shop::add_person),
    (1, shop::rename),
    (1, shop::set_skills),
    (1, shop::set_yard),
    (1, shop::forget),
    (2, shop::issue_token),
    (2, shop::revoke_token),
    (2, doors::rotate_token),
    (8, doors::replace_lead),
    (2, doors::set_badge),
    (2, doors::set_pin),
    (3, doors::withdraw),
    (7, doors::sign_in),
    (9, doors::sign_out),
    (2, shop::publish),
];

/// Draws the next command. The clock goes on by itself.
pub fn next(state: &State, books: &Books, journal: &[Entry], desk: &mut Desk, rolls: &Rolls) -> Asked {
    let mut draw = Draw { state, books, journal, now: desk.now, chance: &mut desk.chance, rolls };
    let act = draw_act(&mut draw);
    draw.now = later(&mut draw);
    let context = context(&mut draw);
    let insists = draw.below(40);
    let command = act(&mut draw);
    let etag = match insists {
        30..36 => job_of(&command).and_then(|job| state.jobs.get(&(job,))).map(|row| row.version),
        39 => Some(1),
        _ => None,
    };
    desk.now = draw.now;
    let actor = actor(state, &command, context.actor, insists);
    Asked { command, context: Context { etag, actor, ..context } }
}

/// Corrections are mostly asked for by whose time it is, and decided by a lead.
fn actor(state: &State, command: &Command, drawn: Actor, insists: usize) -> Actor {
    match command {
        Command::AskCorrection(asked) if !insists.is_multiple_of(4) => {
            let entry = state.clockings.iter().find(|row| row.on_n == asked.entry);
            let person = entry.map(|row| row.person);
            Actor { person, proved: person, role: Role::Technician, ..drawn }
        }
        Command::DecideCorrection(_) if !insists.is_multiple_of(4) => Actor { role: Role::Lead, ..drawn },
        _ => drawn,
    }
}

fn draw_act(draw: &mut Draw<'_>) -> Act {
    let mut at = draw.below(ACTS.iter().map(|(weight, _)| weight).sum());
    for (weight, act) in ACTS {
        if at < weight {
            return act;
        }
        at -= weight;
    }
    progress::go_on
}

/// Mostly minutes later, now and then at the same moment, days later or most of a year.
fn later(draw: &mut Draw<'_>) -> Instant {
    let minutes = match draw.below(200) {
        0..160 => draw.between(1, 30),
        160..180 => draw.between(30, 300),
        180..190 => 0,
        199 => 230 * 24 * 60,
        _ => draw.between(1, 4) * 24 * 60,
    };
    draw.now.plus_minutes(minutes)
}

fn context(draw: &mut Draw<'_>) -> Context {
    let happened_at = match draw.below(40) {
        0..32 => draw.now,
        32..36 => draw.now.plus_minutes(-draw.between(0, 20)),
        36..39 => draw.now.plus_minutes(-draw.between(20, 500)),
        _ => draw.now.plus_minutes(1),
    };
    let at_work = draw.state.clockings.iter().filter(|row| row.until_at.is_none());
    let at_work: Vec<PersonId> = at_work.map(|row| row.person).collect();
    let person = match draw.below(6) {
        5 => None,
        3 | 4 if !at_work.is_empty() => draw.one_of(&at_work),
        _ => Some(draw.person()),
    };
    let role = if draw.below(2) == 0 { Role::Lead } else { Role::Technician };
    let principal = Some(PrincipalId(Uuid::from_u128(1 << 90)));
    let request = RequestId(draw.chance.id());
    Context {
        now: draw.now,
        happened_at,
        actor: Actor { principal, person, proved: person, role },
        request,
        etag: None,
    }
}

/// The job that a command names.
fn job_of(command: &Command) -> Option<JobNo> {
    let value = serde_json::to_value(command).ok()?;
    let fields = value.as_object()?.values().next()?;
    fields.get("job")?.as_i64().map(JobNo)
}
