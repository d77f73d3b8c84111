//! The rows that are loaded, with what was changed since they were.

use crate::need::Need;
use leadhand_facts::rows::{
    AfterRow, AskedRow, AttemptRow, BalanceRow, BayRow, BlockerRow, CalendarRow, ClockingRow, CustomerRow, DemandRow,
    FluidRow, HoldRow, ItemRow, JobRow, LoanRow, LotRow, MoveRow, OpenWindowRow, OvertimeRow, PersonRow, PlaceRow,
    PlanJobRow, PlanRow, PlanStageRow, PlanVisitRow, PositionRow, ProofRow, ReadingRow, RemarkRow, ReservationRow, Row,
    ShiftWindowRow, ShopRow, ShortageRow, SignInRow, StagePinRow, StageRow, StayRow, StepRow, SupplierRow, TemplateRow,
    TextRow, TokenRow, ToldRow, ToolRow, VehicleRow, VehicleStateRow, WayRow,
};
use std::collections::{BTreeMap, BTreeSet};

/// One table: rows by key, the keys touched since the last [`State::take_changes`], and what
/// lies behind the last [`State::mark`].
#[derive(Debug, Clone)]
pub struct Table<R: Row> {
    rows: BTreeMap<R::Key, R>,
    touched: BTreeSet<R::Key>,
    undo: Vec<Undo<R>>,
}

#[derive(Debug, Clone)]
struct Undo<R: Row> {
    key: R::Key,
    before: Option<R>,
    was_touched: bool,
}

impl<R: Row> Default for Table<R> {
    fn default() -> Self {
        Self { rows: BTreeMap::new(), touched: BTreeSet::new(), undo: Vec::new() }
    }
}

impl<R: Row> Table<R> {
    /// The row with this key.
    pub fn get(&self, key: &R::Key) -> Option<&R> {
        self.rows.get(key)
    }

    /// Every row, by key.
    pub fn iter(&self) -> impl DoubleEndedIterator<Item = &R> {
        self.rows.values()
    }

    /// Rows from this key on, by key.
    pub fn from_key(&self, key: R::Key) -> impl Iterator<Item = &R> {
        self.rows.range(key..).map(|(_, row)| row)
    }

    /// How many rows are loaded.
    pub fn len(&self) -> usize {
        self.rows.len()
    }

    /// Whether no row is loaded.
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// Writes a row, new or changed.
    pub fn put(&mut self, row: R) {
        let key = row.key();
        let before = self.rows.insert(key.clone(), row);
        let was_touched = !self.touched.insert(key.clone());
        self.undo.push(Undo { key, before, was_touched });
    }

    /// Takes a row away.
    pub fn remove(&mut self, key: &R::Key) {
        let before = self.rows.remove(key);
        let was_touched = !self.touched.insert(key.clone());
        self.undo.push(Undo { key: key.clone(), before, was_touched });
    }

    /// Changes the row with this key; `false` when there is none.
    pub fn change(&mut self, key: &R::Key, with: impl FnOnce(&mut R)) -> bool {
        let Some(mut row) = self.rows.get(key).cloned() else { return false };
        with(&mut row);
        self.put(row);
        true
    }

    /// Takes in a row as it lies in the database; what is loaded or was changed already stays as
    /// it is.
    fn load(&mut self, row: R) {
        let key = row.key();
        if !self.touched.contains(&key) {
            self.rows.entry(key).or_insert(row);
        }
    }

    fn mark(&mut self) {
        self.undo.clear();
    }

    fn roll_back(&mut self) {
        while let Some(Undo { key, before, was_touched }) = self.undo.pop() {
            if !was_touched {
                self.touched.remove(&key);
            }
            match before {
                Some(row) => self.rows.insert(key, row),
                None => self.rows.remove(&key),
            };
        }
    }
}

/// A changed row on its way into the database.
#[derive(Debug, Clone, PartialEq)]
#[allow(clippy::large_enum_variant, reason = "nearly every change is a row; a box would cost an allocation for each")]
pub enum RowChange {
    /// The row as it is to be.
    Put(AnyRow),
    /// The row with this key is gone.
    Removed {
        /// Its table.
        table: &'static str,
        /// Its key within the shop, as a JSON array in the order of the key's columns.
        key: serde_json::Value,
    },
}

macro_rules! any_row {
    ($($row:ident),+) => {
        /// A row of any table.
        #[derive(Debug, Clone, PartialEq)]
        #[allow(missing_docs, reason = "one variant a row type, named like it")]
        #[allow(clippy::large_enum_variant, reason = "rows pass through here once; a box would cost an allocation for each")]
        pub enum AnyRow { $($row($row),)+ }

        impl AnyRow {
            /// The table's name.
            pub fn table(&self) -> &'static str {
                match self { $(Self::$row(_) => $row::TABLE,)+ }
            }

            /// The row with its columns by name.
            pub fn to_value(&self) -> Result<serde_json::Value, serde_json::Error> {
                match self { $(Self::$row(row) => serde_json::to_value(row),)+ }
            }

            /// A row of a table from its columns; `None` when there is no such table.
            pub fn from_value(table: &str, value: serde_json::Value) -> Option<Result<Self, serde_json::Error>> {
                match table {
                    $($row::TABLE => Some(serde_json::from_value(value).map(Self::$row)),)+
                    _ => None,
                }
            }
        }

        $(impl From<$row> for AnyRow {
            fn from(row: $row) -> Self { Self::$row(row) }
        })+
    };
}
leadhand_facts::each_row!(any_row);

macro_rules! state {
    ($($(#[$doc:meta])* $table:ident: $row:ident,)+) => {
        /// What is loaded of one shop.
        #[derive(Debug, Clone, Default)]
        pub struct State {
            /// The number of the last fact applied.
            pub head: i64,
            loaded: BTreeSet<Need>,
            $($(#[$doc])* pub $table: Table<$row>,)+
        }

        impl State {
            /// Takes in a row as it lies in the database.
            pub fn load(&mut self, row: AnyRow) {
                match row { $(AnyRow::$row(row) => self.$table.load(row),)+ }
            }

            /// Remembers this point for [`State::roll_back`].
            pub fn mark(&mut self) {
                $(self.$table.mark();)+
            }

            /// Goes back to the last [`State::mark`].
            pub fn roll_back(&mut self, head: i64) {
                self.head = head;
                $(self.$table.roll_back();)+
            }

            /// Every row changed since the last call, and forgets that it was.
            pub fn take_changes(&mut self) -> Vec<RowChange> {
                let mut changes = Vec::new();
                $(
                    for key in std::mem::take(&mut self.$table.touched) {
                        changes.push(match self.$table.rows.get(&key) {
                            Some(row) => RowChange::Put(row.clone().into()),
                            None => RowChange::Removed {
                                table: $row::TABLE,
                                key: serde_json::to_value(&key).unwrap_or_default(),
                            },
                        });
                    }
                )+
                // Movements are written once and never read back by a rule.
                self.moves = Table::default();
                self.mark();
                changes
            }

            /// How many rows are loaded, and needs noted.
            pub fn size(&self) -> usize {
                self.loaded.len() $(+ self.$table.len())+
            }
        }
    };
}

state! {
    /// The shop.
    shop: ShopRow,
    /// Texts that facts refer to.
    texts: TextRow,
    /// What was said about the calendar.
    calendar: CalendarRow,
    /// When the shop is open.
    open_windows: OpenWindowRow,
    /// When persons are on shift.
    shift_windows: ShiftWindowRow,
    /// Bays.
    bays: BayRow,
    /// Persons.
    persons: PersonRow,
    /// Tokens.
    tokens: TokenRow,
    /// What shows who persons are.
    proofs: ProofRow,
    /// Sessions of persons at devices.
    sign_ins: SignInRow,
    /// Published templates.
    templates: TemplateRow,
    /// Vehicles.
    vehicles: VehicleRow,
    /// Customers.
    customers: CustomerRow,
    /// Jobs.
    jobs: JobRow,
    /// Stays in bays.
    stays: StayRow,
    /// Stages.
    stages: StageRow,
    /// Predecessors.
    afters: AfterRow,
    /// Steps.
    steps: StepRow,
    /// What comes off or is put in.
    positions: PositionRow,
    /// What is measured.
    readings: ReadingRow,
    /// What was said for hand-over sheets.
    remarks: RemarkRow,
    /// Attempts at what would not move.
    attempts: AttemptRow,
    /// States of vehicles.
    vehicle_states: VehicleStateRow,
    /// Fluids of vehicles.
    fluids: FluidRow,
    /// Ways that are not the book's.
    ways: WayRow,
    /// Blockers.
    blockers: BlockerRow,
    /// Time of persons.
    clockings: ClockingRow,
    /// Shared tools.
    tools: ToolRow,
    /// When they were lent, and to whom.
    loans: LoanRow,
    /// Items.
    items: ItemRow,
    /// Places.
    places: PlaceRow,
    /// Lots.
    lots: LotRow,
    /// Balances.
    balances: BalanceRow,
    /// Sums of an item at a held place.
    holds: HoldRow,
    /// Movements since the last write.
    moves: MoveRow,
    /// Needs put on the list.
    demands: DemandRow,
    /// Reservations.
    reservations: ReservationRow,
    /// Shortages.
    shortages: ShortageRow,
    /// Suppliers.
    suppliers: SupplierRow,
    /// What was told to whom.
    told: ToldRow,
    /// Corrections of time that were asked for.
    asked: AskedRow,
    /// The plan that was accepted last.
    plan: PlanRow,
    /// Its stages.
    plan_stages: PlanStageRow,
    /// Its stays in bays.
    plan_visits: PlanVisitRow,
    /// When it has jobs ready.
    plan_jobs: PlanJobRow,
    /// What a lead pinned.
    stage_pins: StagePinRow,
    /// Overtime that a lead opened.
    overtime: OvertimeRow,
}

impl State {
    /// A state with nothing loaded, at a journal number.
    pub fn at(head: i64) -> Self {
        Self { head, ..Self::default() }
    }

    /// Whether a need is loaded.
    pub fn has(&self, need: &Need) -> bool {
        self.loaded.contains(need)
    }

    /// Notes that a need is loaded now.
    pub fn note_loaded(&mut self, need: Need) {
        self.loaded.insert(need);
    }

    /// The needs that are loaded.
    pub fn needs(&self) -> impl Iterator<Item = &Need> {
        self.loaded.iter()
    }

    /// The first need that is loaded, from this one on.
    pub(crate) fn next_need(&self, from: &Need) -> Option<&Need> {
        self.loaded.range(from..).next()
    }

    /// No longer counts some needs as loaded. Their rows stay: they are right, and may be too few.
    pub(crate) fn forget_needs(&mut self, which: impl Fn(&Need) -> bool) {
        self.loaded.retain(|need| !which(need));
    }
}
