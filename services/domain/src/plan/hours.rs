//! When somebody works: in the own shift while the shop is open; in the shop's hours before the first own shift begins, and
//! where nobody ever said one.

use crate::decide::{day_begins, zone};
use crate::state::State;
use leadhand_facts::calendar::CalendarChange;
use leadhand_facts::rows::PersonRow;
use leadhand_facts::{Instant, PersonId, Window};

/// Whether somebody works on vehicles: who has a skill or a shift, is clocked on, or was given a stage by the lead.
pub(crate) fn works_on_vehicles(state: &State, row: &PersonRow) -> bool {
    let on = || state.clockings.iter().any(|clocking| clocking.person == row.person && clocking.until_at.is_none());
    let given = || state.stage_pins.iter().any(|pin| pin.people.contains(&row.person));
    !row.forgotten && (!row.skills.is_empty() || first_shift(state, row.person).is_some() || on() || given())
}

/// Whether somebody has hours at a moment, as plans take them; everybody has where nothing is known of the shop's hours.
pub(crate) fn is_there(state: &State, person: PersonId, at: Instant) -> bool {
    let holds = |from: Instant, until: Instant| from <= at && at < until;
    let open: Vec<Window> =
        state.open_windows.iter().map(|row| Window { from: row.from_at, until: row.until_at }).collect();
    let own = own_hours(state, person, &open);
    let there = own.as_ref().unwrap_or(&open).iter().any(|window| holds(window.from, window.until));
    let over = || state.overtime.iter().any(|row| row.person == person && holds(row.from_at, row.until_at));
    open.is_empty() || there || over()
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
