//! Hours and shifts: new windows take the place of what was resolved for the same stretch.

use super::{Folded, add, change, strayed};
use crate::state::{State, Table};
use leadhand_facts::calendar::Resolved;
use leadhand_facts::rows::{CalendarRow, OpenWindowRow, Row, ShiftWindowRow};
use leadhand_facts::{Entry, Fact, Instant, PersonId, Window};

pub(super) fn apply(state: &mut State, entry: &Entry) -> Folded {
    let Fact::CalendarSet { revision, change: said, person, resolved } = &entry.fact else { return strayed(entry) };
    let row = CalendarRow {
        revision: *revision,
        change: said.clone(),
        person: *person,
        from_at: resolved.from,
        until_at: resolved.until,
        set_n: entry.number,
    };
    add(entry, &mut state.calendar, row)?;
    change(entry, &mut state.shop, &(), |shop| shop.calendar_revision = *revision)?;
    match person {
        None => replace(entry, &mut state.open_windows, resolved, |_| true, open_window),
        Some(person) => {
            let theirs = |row: &ShiftWindowRow| row.person == *person;
            replace(entry, &mut state.shift_windows, resolved, theirs, |window, n| shift_window(*person, window, n))
        }
    }
}

/// A row that is a window.
trait Span: Row {
    /// Its window.
    fn window(&self) -> Window;
    /// The fact that set it.
    fn set_n(&self) -> i64;
}

impl Span for OpenWindowRow {
    fn window(&self) -> Window {
        Window { from: self.from_at, until: self.until_at }
    }

    fn set_n(&self) -> i64 {
        self.set_n
    }
}

impl Span for ShiftWindowRow {
    fn window(&self) -> Window {
        Window { from: self.from_at, until: self.until_at }
    }

    fn set_n(&self) -> i64 {
        self.set_n
    }
}

fn open_window(window: Window, set_n: i64) -> OpenWindowRow {
    OpenWindowRow { from_at: window.from, until_at: window.until, set_n }
}

fn shift_window(person: PersonId, window: Window, set_n: i64) -> ShiftWindowRow {
    ShiftWindowRow { person, from_at: window.from, until_at: window.until, set_n }
}

/// Cuts the windows of one scope out of the stretch, then puts the new ones in. What is left of
/// a window on either side keeps the fact that set it.
fn replace<R: Span>(
    entry: &Entry,
    table: &mut Table<R>,
    resolved: &Resolved,
    in_scope: impl Fn(&R) -> bool,
    make: impl Fn(Window, i64) -> R,
) -> Folded {
    let stretch = Window { from: resolved.from, until: resolved.until };
    let met: Vec<R> = table.iter().filter(|row| in_scope(row) && row.window().meets(stretch)).cloned().collect();
    for row in met {
        let window = row.window();
        table.remove(&row.key());
        for left in [until(window, stretch.from), from(window, stretch.until)] {
            if left.length_us() > 0 {
                table.put(make(left, row.set_n()));
            }
        }
    }
    for window in &resolved.windows {
        add(entry, table, make(*window, entry.number))?;
    }
    Ok(())
}

fn until(window: Window, end: Instant) -> Window {
    Window { until: window.until.min(end), ..window }
}

fn from(window: Window, start: Instant) -> Window {
    Window { from: window.from.max(start), ..window }
}
