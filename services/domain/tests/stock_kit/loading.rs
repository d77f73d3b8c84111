//! Loading what a command names, from the auditor's books in the database's stead.

use super::json;
use super::texts::{texts_of, texts_of_customer};
use leadhand_auditor::{Books, Kept as Tabled};
use leadhand_domain::command::Command;
use leadhand_domain::context::Context;
use leadhand_domain::decide::needs;
use leadhand_domain::need::Need;
use leadhand_domain::state::{AnyRow, State};
use leadhand_facts::rows::*;
use leadhand_facts::words::{BayKind, JobState, PlaceKind, StepState};
use leadhand_facts::*;
use std::collections::{BTreeMap, BTreeSet};

/// How often a command may ask at most until it has seen everything.
const ROUNDS_MAX: usize = 8;

/// What lies in the database: the rows that the facts add up to, and the facts.
#[derive(Clone, Copy)]
pub struct Kept<'a> {
    pub books: &'a Books,
    pub journal: &'a [Entry],
}

/// Loads what a command names until nothing is missing; how often that was asked.
pub fn load_for(state: &mut State, kept: Kept<'_>, command: &Command, context: &Context) -> usize {
    for round in 0..=ROUNDS_MAX {
        let missing = needs(state, command, context);
        if missing.is_empty() {
            return round;
        }
        for need in missing {
            load(state, kept, &need);
            state.note_loaded(need);
        }
    }
    panic!("{} still asks for more after {ROUNDS_MAX} rounds", command.name());
}

/// Notes as loaded what a command names, for a state that has everything.
pub fn note_needs(state: &mut State, command: &Command, context: &Context) {
    loop {
        let missing = needs(state, command, context);
        if missing.is_empty() {
            return;
        }
        for need in missing {
            state.note_loaded(need);
        }
    }
}

fn put<R: Tabled + Into<AnyRow>>(state: &mut State, books: &Books, which: impl Fn(&R) -> bool) {
    for row in books.tables().rows::<R>().filter(|row| which(row)) {
        state.load(row.clone().into());
    }
}

/// Loads what a need names.
pub fn load(state: &mut State, kept: Kept<'_>, need: &Need) {
    let books = kept.books;
    match need {
        Need::Shop => {
            put::<ShopRow>(state, books, |_| true);
            put::<BayRow>(state, books, |_| true);
            put::<PersonRow>(state, books, |_| true);
            put::<PlaceRow>(state, books, |row| row.kind != PlaceKind::Job);
            put::<CalendarRow>(state, books, |_| true);
            put::<ToolRow>(state, books, |_| true);
            put::<LoanRow>(state, books, |row| row.until_at.is_none());
            put::<SupplierRow>(state, books, |_| true);
        }
        Need::OpenWindows(after) => put::<OpenWindowRow>(state, books, |row| row.until_at > *after),
        Need::ShiftWindows(person, after) => {
            put::<ShiftWindowRow>(state, books, |row| row.person == *person && row.until_at > *after);
        }
        Need::Job(job) => load_job(state, books, *job),
        Need::Items(items) => {
            let items: BTreeSet<&ItemKey> = items.iter().collect();
            put::<ItemRow>(state, books, |row| items.contains(&row.item));
        }
        Need::Stock(item) => load_item(state, books, item),
        Need::WaitsOver(at) => {
            put::<StageRow>(state, books, |row| row.waiting && row.ready_at.is_some_and(|ready| ready <= *at));
        }
        Need::LotsExpired(day) => {
            let held = held_lots(books, None);
            let late = |row: &LotRow| row.expires_on.as_ref().is_some_and(|last| last < day);
            put::<LotRow>(state, books, |row| !row.expired && late(row) && held.contains(&row.lot));
        }
        Need::VehicleJobs(vehicle) => {
            put::<JobRow>(state, books, |row| row.vehicle == *vehicle && row.state == JobState::Open);
        }
        Need::PersonTexts(person) => {
            let theirs = texts_of(books, kept.journal, *person);
            put::<TextRow>(state, books, |row| theirs.contains(&row.text));
        }
        Need::Tokens => load_tokens(state, books),
        Need::SignIn(session) => put::<SignInRow>(state, books, |row| row.session == *session),
        Need::LatestTemplate(key) => {
            let rows = books.tables().rows::<TemplateRow>().filter(|row| row.template == *key);
            let latest = rows.map(|row| row.revision).max();
            put::<TemplateRow>(state, books, |row| row.template == *key && Some(row.revision) == latest);
        }
        Need::Template(key, revision) => {
            put::<TemplateRow>(state, books, |row| row.template == *key && row.revision == *revision);
        }
        Need::BayStays(bay, after) => {
            put::<StayRow>(state, books, |row| row.bay == *bay && row.until_at.is_none_or(|until| until > *after));
        }
        Need::VehicleStays(vehicle, after) => load_stays(state, books, *vehicle, *after),
        Need::PersonClockings(person, after) => {
            put::<ClockingRow>(state, books, |row| {
                row.person == *person && row.until_at.is_none_or(|until| until > *after)
            });
        }
        Need::Clocking(number) => put::<ClockingRow>(state, books, |row| row.on_n == *number),
        other => load_words(state, kept, other),
    }
}

/// Loads what a need names of customers, and of words.
fn load_words(state: &mut State, kept: Kept<'_>, need: &Need) {
    let books = kept.books;
    match need {
        Need::PersonName(person) => {
            let name = books.tables().get::<PersonRow>(&(*person,)).map(|row| row.name);
            put::<TextRow>(state, books, |row| Some(row.text) == name);
        }
        Need::Customer(customer) => load_customer(state, books, *customer),
        Need::CustomerBooks(customer) => {
            load_customer(state, books, *customer);
            put::<VehicleRow>(state, books, |row| row.customer == Some(*customer));
            put::<JobRow>(state, books, |row| row.customer == Some(*customer));
        }
        Need::CustomerTexts(customer) => {
            let theirs = texts_of_customer(books, kept.journal, *customer);
            put::<TextRow>(state, books, |row| theirs.contains(&row.text));
        }
        Need::VehicleHistory(vehicle) => load_vehicle(state, books, *vehicle),
        Need::ToolLoans(tool, after) => {
            put::<LoanRow>(state, books, |row| row.tool == *tool && row.until_at.is_none_or(|until| until > *after));
        }
        Need::LastLoan(tool, before) => {
            let ended = |row: &LoanRow, by: Instant| row.until_at.is_some_and(|until| until <= by);
            let meant = |row: &&LoanRow| row.tool == *tool && before.is_none_or(|before| ended(row, before));
            let last = books.tables().rows::<LoanRow>().filter(meant).max_by_key(|row| row.from_at).map(|row| row.loan);
            put::<LoanRow>(state, books, |row| Some(row.loan) == last);
        }
        Need::ToolWanted(tool) => {
            let open =
                |job: JobNo| books.tables().get::<JobRow>(&(job,)).is_some_and(|row| row.state == JobState::Open);
            let wants = |row: &StepRow| row.state == StepState::Pending && row.shared_tools.contains(tool);
            put::<StepRow>(state, books, |row| wants(row) && open(row.job));
        }
        Need::FillsFrom(item) => {
            let open =
                |job: JobNo| books.tables().get::<JobRow>(&(job,)).is_some_and(|row| row.state == JobState::Open);
            let from = |row: &StepRow| row.safety.fill.as_ref().and_then(|fill| fill.reckoned.clone());
            put::<StepRow>(state, books, |row| open(row.job) && from(row).is_some_and(|own| own.from.contains(item)));
        }
        Need::Plan => {
            put::<PlanRow>(state, books, |_| true);
            put::<PlanStageRow>(state, books, |_| true);
            put::<PlanVisitRow>(state, books, |_| true);
            put::<PlanJobRow>(state, books, |_| true);
        }
        Need::Overtime(after) => put::<OvertimeRow>(state, books, |row| row.until_at > *after),
        Need::BayMisfits(bay, kind) => {
            let worked =
                |stay: &StayRow| books.tables().rows::<ClockingRow>().any(|row| worked_in(books, row, stay, *kind));
            put::<StayRow>(state, books, |row| row.bay == *bay && worked(row));
        }
        other => panic!("the kit does not load {other:?}"),
    }
}

/// Whether somebody worked during a stay on a stage that can't be done in a bay of that kind.
fn worked_in(books: &Books, row: &ClockingRow, stay: &StayRow, kind: BayKind) -> bool {
    let stage = books.tables().get::<StageRow>(&(row.job, row.stage.clone()));
    let misfits = stage.is_some_and(|stage| !stage.bays.is_empty() && !stage.bays.contains(&kind));
    let meets =
        stay.until_at.is_none_or(|until| row.from_at < until) && row.until_at.is_none_or(|end| end > stay.from_at);
    row.job == stay.job && misfits && meets
}

fn load_customer(state: &mut State, books: &Books, customer: CustomerId) {
    put::<CustomerRow>(state, books, |row| row.customer == customer);
    let row = books.tables().get::<CustomerRow>(&(customer,));
    let texts: BTreeSet<TextId> =
        row.into_iter().flat_map(|row| [Some(row.name), row.contact, row.about]).flatten().collect();
    put::<TextRow>(state, books, |row| texts.contains(&row.text));
}

fn load_vehicle(state: &mut State, books: &Books, vehicle: VehicleId) {
    put::<VehicleRow>(state, books, |row| row.vehicle == vehicle);
    put::<JobRow>(state, books, |row| row.vehicle == vehicle);
    let Some(own) = books.tables().get::<VehicleRow>(&(vehicle,)) else { return };
    put::<CustomerRow>(state, books, |row| Some(row.customer) == own.customer);
    let texts = [Some(own.label), own.plate];
    put::<TextRow>(state, books, |row| texts.contains(&Some(row.text)));
}

fn load_tokens(state: &mut State, books: &Books) {
    put::<TokenRow>(state, books, |_| true);
    put::<ProofRow>(state, books, |_| true);
    let labels = books.tables().rows::<TokenRow>().filter_map(|row| row.label);
    let pins = books.tables().rows::<ProofRow>().filter_map(|row| row.secret);
    let texts: BTreeSet<TextId> = labels.chain(pins).collect();
    put::<TextRow>(state, books, |row| texts.contains(&row.text));
}

fn load_stays(state: &mut State, books: &Books, vehicle: VehicleId, after: Instant) {
    put::<VehicleRow>(state, books, |row| row.vehicle == vehicle);
    put::<StayRow>(state, books, |row| row.vehicle == vehicle && row.until_at.is_none_or(|until| until > after));
}

fn held_lots(books: &Books, item: Option<&ItemKey>) -> BTreeSet<LotId> {
    let rows = books.tables().rows::<BalanceRow>();
    let held = rows.filter(|row| row.held && row.quantity.is_positive() && item.is_none_or(|item| row.item == *item));
    held.map(|row| row.lot).collect()
}

fn load_item(state: &mut State, books: &Books, item: &ItemKey) {
    let held = held_lots(books, Some(item));
    put::<ItemRow>(state, books, |row| row.item == *item);
    put::<LotRow>(state, books, |row| held.contains(&row.lot));
    // Rows that are 0 stay where they are, but for those of bins.
    let bin = |place: &PlaceKey| books.tables().get::<PlaceRow>(&(place.clone(),)).is_some_and(|row| row.job.is_none());
    put::<BalanceRow>(state, books, |row| held.contains(&row.lot) && (!row.held || row.quantity.is_positive()));
    put::<HoldRow>(state, books, |row| row.item == *item && (row.on_hand != Quantity::ZERO || bin(&row.place)));
    put::<ReservationRow>(state, books, |row| row.item == *item && row.quantity.is_positive());
    put::<ShortageRow>(state, books, |row| row.item == *item && row.closed_n.is_none());
    let open = |row: &DemandRow| row.item == *item && (row.reserved.is_positive() || row.short.is_positive());
    put::<DemandRow>(state, books, open);
}

fn load_job(state: &mut State, books: &Books, job: JobNo) {
    put::<JobRow>(state, books, |row| row.job == job);
    let vehicle = books.tables().get::<JobRow>(&(job,)).map(|row| row.vehicle);
    put::<VehicleRow>(state, books, |row| Some(row.vehicle) == vehicle);
    put::<PlaceRow>(state, books, |row| row.job == Some(job));
    put::<StayRow>(state, books, |row| row.job == job);
    put::<StageRow>(state, books, |row| row.job == job);
    put::<AfterRow>(state, books, |row| row.job == job);
    put::<StepRow>(state, books, |row| row.job == job);
    put::<PositionRow>(state, books, |row| row.job == job);
    put::<ReadingRow>(state, books, |row| row.job == job);
    put::<RemarkRow>(state, books, |row| row.job == job);
    put::<ToldRow>(state, books, |row| row.job == job);
    put::<AskedRow>(state, books, |row| row.job == job);
    put::<PlanStageRow>(state, books, |row| row.job == job);
    put::<PlanVisitRow>(state, books, |row| row.job == job);
    put::<PlanJobRow>(state, books, |row| row.job == job);
    put::<StagePinRow>(state, books, |row| row.job == job);
    put::<AttemptRow>(state, books, |row| row.job == job);
    put::<VehicleStateRow>(state, books, |row| row.job == job);
    put::<FluidRow>(state, books, |row| row.job == job);
    put::<WayRow>(state, books, |row| row.job == job);
    put::<BlockerRow>(state, books, |row| row.job == job);
    put::<ClockingRow>(state, books, |row| row.job == job);
    put::<LoanRow>(state, books, |row| row.job == Some(job));
    put::<DemandRow>(state, books, |row| row.job == job);
    put::<ReservationRow>(state, books, |row| row.job == job);
    put::<ShortageRow>(state, books, |row| row.job == job);
}

macro_rules! rows_of {
    ($($table:ident: $row:ident),+ $(,)?) => {
        /// A state with every row.
        pub fn all_rows(books: &Books) -> State {
            let mut state = State::default();
            $(put::<$row>(&mut state, books, |_| true);)+
            state
        }

        /// Every row of a state, by table.
        pub fn rows_of(state: &State) -> BTreeMap<String, Vec<serde_json::Value>> {
            let mut rows = BTreeMap::new();
            $(rows.insert($row::TABLE.to_owned(), state.$table.iter().map(json).collect());)+
            rows
        }
    };
}

rows_of! {
    shop: ShopRow, texts: TextRow, calendar: CalendarRow, open_windows: OpenWindowRow,
    shift_windows: ShiftWindowRow, bays: BayRow, persons: PersonRow, tokens: TokenRow,
    proofs: ProofRow, sign_ins: SignInRow, templates: TemplateRow,
    vehicles: VehicleRow, customers: CustomerRow, jobs: JobRow, stays: StayRow, stages: StageRow, afters: AfterRow, steps: StepRow,
positions: PositionRow, readings: ReadingRow, remarks: RemarkRow, attempts: AttemptRow, vehicle_states: VehicleStateRow, fluids: FluidRow, ways: WayRow, blockers: BlockerRow, clockings: ClockingRow, tools: ToolRow, loans: LoanRow, items: ItemRow, places: PlaceRow, lots: LotRow,
    balances: BalanceRow, holds: HoldRow, moves: MoveRow, demands: DemandRow, reservations: ReservationRow,
    shortages: ShortageRow, suppliers: SupplierRow, told: ToldRow, asked: AskedRow,
    plan: PlanRow, plan_stages: PlanStageRow, plan_visits: PlanVisitRow, plan_jobs: PlanJobRow, stage_pins: StagePinRow,
    overtime: OvertimeRow,
}
