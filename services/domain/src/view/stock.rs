//! What is in stock: by item and place on hand, expired, set aside and free; and what is short.

use super::parts::{Index, ShortageLine};
use crate::state::State;
use leadhand_facts::rows::{HoldRow, ItemRow};
use leadhand_facts::words::PlaceKind;
use leadhand_facts::{
    Instant, ItemFluid, ItemKey, JobNo, LotId, PlaceKey, Quantity, StageKey, StepNo, SupplierKey, TextId, Unit,
};
use std::collections::BTreeSet;

/// The stock of what is loaded.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StockView {
    /// The journal number at which it is true.
    pub number: i64,
    /// Every item, by key.
    pub items: Vec<ItemLine>,
    /// What is short, the most urgent job first.
    pub shortages: Vec<ShortageLine>,
}

/// An item.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ItemLine {
    /// Its key.
    pub item: ItemKey,
    /// What it is called.
    pub name: String,
    /// Its unit.
    pub unit: Unit,
    /// All bins together.
    pub in_bins: Figures,
    /// What was issued to jobs and is not built in yet.
    pub at_jobs: Quantity,
    /// Place by place, as far as something is or was there.
    pub places: Vec<PlaceLine>,
    /// Lots that a held place has some of, first to expire first.
    pub lots: Vec<LotLine>,
    /// Who has some of it set aside.
    pub reservations: Vec<ReservationLine>,
    /// The supplier that it comes from.
    pub supplier: Option<SupplierKey>,
    /// Which fluid it is, where that is said.
    pub fluid: Option<ItemFluid>,
}

/// On hand = expired + set aside + free.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Figures {
    /// All of it.
    pub on_hand: Quantity,
    /// Past its date.
    pub expired: Quantity,
    /// Set aside.
    pub reserved: Quantity,
    /// The rest.
    pub free: Quantity,
}

impl Figures {
    fn of(hold: &HoldRow) -> Self {
        let free = hold.on_hand.0.saturating_sub(hold.expired.0).saturating_sub(hold.reserved.0);
        Self { on_hand: hold.on_hand, expired: hold.expired, reserved: hold.reserved, free: Quantity(free) }
    }

    /// Figures for show: a sum that does not fit stays at the end of the range.
    fn add(&mut self, other: Self) {
        self.on_hand.0 = self.on_hand.0.saturating_add(other.on_hand.0);
        self.expired.0 = self.expired.0.saturating_add(other.expired.0);
        self.reserved.0 = self.reserved.0.saturating_add(other.reserved.0);
        self.free.0 = self.free.0.saturating_add(other.free.0);
    }
}

/// An item at a place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlaceLine {
    /// The place.
    pub place: PlaceKey,
    /// What it is.
    pub kind: PlaceKind,
    /// How much. What lies at a job is not free.
    pub figures: Figures,
}

/// A lot at a held place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LotLine {
    /// The lot.
    pub lot: LotId,
    /// The place.
    pub place: PlaceKey,
    /// How much.
    pub quantity: Quantity,
    /// Its last good day, `YYYY-MM-DD`.
    pub expires_on: Option<String>,
    /// Whether that has passed.
    pub expired: bool,
    /// When it came.
    pub received_at: Instant,
}

/// A quantity set aside for a step.
#[derive(Debug, Clone, PartialEq, Eq)]
#[allow(missing_docs, reason = "fields are named by their types, as in the row")]
pub struct ReservationLine {
    pub job: JobNo,
    pub stage: StageKey,
    pub step: StepNo,
    pub place: PlaceKey,
    pub quantity: Quantity,
}

/// The stock of what is loaded.
pub fn stock_view(state: &State) -> StockView {
    let index = Index::of(state);
    let items = state.items.iter().map(|item| item_line(state, item)).collect();
    StockView { number: state.head, items, shortages: index.all_shortages() }
}

fn item_line(state: &State, item: &ItemRow) -> ItemLine {
    let mut line = ItemLine {
        item: item.item.clone(),
        name: item.name.clone(),
        unit: item.unit,
        in_bins: Figures::default(),
        at_jobs: Quantity::ZERO,
        places: Vec::new(),
        lots: lots(state, &item.item),
        reservations: Vec::new(),
        supplier: item.supplier.clone(),
        fluid: item.fluid,
    };
    let holds = state.holds.from_key((item.item.clone(), PlaceKey(String::new())));
    for hold in holds.take_while(|hold| hold.item == item.item) {
        let kind = state.places.get(&(hold.place.clone(),)).map_or(PlaceKind::Job, |place| place.kind);
        let mut figures = Figures::of(hold);
        if kind == PlaceKind::Bin {
            line.in_bins.add(figures);
        } else {
            figures.free = Quantity::ZERO;
            line.at_jobs.0 = line.at_jobs.0.saturating_add(hold.on_hand.0);
        }
        line.places.push(PlaceLine { place: hold.place.clone(), kind, figures });
    }
    let reservations = state.reservations.iter().filter(|row| row.item == item.item && row.quantity.is_positive());
    let reservation = |row: &leadhand_facts::rows::ReservationRow| ReservationLine {
        job: row.job,
        stage: row.stage.clone(),
        step: row.step,
        place: row.place.clone(),
        quantity: row.quantity,
    };
    line.reservations = reservations.map(reservation).collect();
    line.reservations.sort_by(|a, b| (a.job, &a.stage, a.step).cmp(&(b.job, &b.stage, b.step)));
    line
}

fn lots(state: &State, item: &ItemKey) -> Vec<LotLine> {
    let balances = state.balances.from_key((item.clone(), LotId(uuid::Uuid::nil()), PlaceKey(String::new())));
    let balances = balances.take_while(|row| row.item == *item).filter(|row| row.held && row.quantity.is_positive());
    let line = |row: &leadhand_facts::rows::BalanceRow| {
        let lot = state.lots.get(&(row.lot,))?;
        Some(LotLine {
            lot: row.lot,
            place: row.place.clone(),
            quantity: row.quantity,
            expires_on: lot.expires_on.clone(),
            expired: lot.expired,
            received_at: lot.received_at,
        })
    };
    let mut lots: Vec<LotLine> = balances.filter_map(line).collect();
    let order = |lot: &LotLine| (lot.expires_on.is_none(), lot.expires_on.clone(), lot.received_at, lot.place.clone());
    lots.sort_by_key(order);
    lots
}

impl StockView {
    /// Every text that it refers to: stock has typed words only in reasons, which are not here.
    pub fn text_ids(&self) -> BTreeSet<TextId> {
        BTreeSet::new()
    }
}
