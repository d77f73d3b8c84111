//! When somebody works: in the own shift while the shop is open; in the shop's hours before the first own shift begins, and
//! where nobody ever said one.

use crate::decide::{day_begins, zone};
use crate::state::State;
use leadhand_facts::calendar::CalendarChange;
use leadhand_facts::{Instant, PersonId, Window};

/// Whether a shift of somebody was ever said.
pub(super) fn has_shift(state: &State, person: PersonId) -> bool {
    first_shift(state, person).is_some()
}

/// When somebody's first shift that was said begins.
fn first_shift(state: &State, person: PersonId) -> Option<Instant> {
    let zone = zone(state).ok()?;
    let day = |change: &CalendarChange| match change {
        CalendarChange::Shift { person: whose, from_day, .. } if *whose == person => day_begins(&zone, from_day),
        _ => None,
    };
    state.calendar.iter().filter_map(|row| day(&row.change)).min()
}

/// Somebody's hours, of these of the shop; nothing where nobody ever said a shift, and the shop's hours are theirs.
pub fn own_hours(state: &State, person: PersonId, shop: &[Window]) -> Option<Vec<Window>> {
    let first = first_shift(state, person)?;
    let before = Window { from: Instant(i64::MIN), until: first };
    let usual = shop.iter().filter_map(|window| window.common(before));
    let own = state.shift_windows.iter().filter(|window| window.person == person);
    let own = own.map(|window| Window { from: window.from_at, until: window.until_at });
    let open = |window: Window| shop.iter().filter_map(move |shop| shop.common(window));
    let mut hours: Vec<Window> = usual.chain(own.flat_map(open)).collect();
    hours.sort();
    Some(hours)
}
