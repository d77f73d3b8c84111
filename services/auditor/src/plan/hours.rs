//! Whether a stage gets its minutes, in time that its people have.

use super::{Faults, Row};
use leadhand_facts::instant::MINUTE_US;
use leadhand_facts::plan::{PlanInput, PlanTechnician};
use leadhand_facts::words::StageKind;
use leadhand_facts::{Instant, Window};

/// Planned minutes are the mean of the three points, rounded up; common practice (PERT).
pub(super) fn planned_us(row: &Row<'_>) -> i64 {
    let m = row.said.minutes;
    let sixths = i64::from(m.low) + 4 * i64::from(m.likely) + i64::from(m.high);
    let minutes = (sixths + 5).div_euclid(6);
    let least = i64::from(row.said.kind == StageKind::Work);
    minutes.max(least) * MINUTE_US
}

pub(super) fn minutes(input: &PlanInput, row: &Row<'_>, faults: &mut Faults) {
    let planned = row.planned;
    let span = Window { from: planned.from, until: planned.until };
    let wanted = planned_us(row);
    if row.said.kind == StageKind::Wait {
        faults.demand(span.until.since_us(span.from) == wanted, "minutes", row, || {
            format!("a wait of {} min is planned to take {}", wanted / MINUTE_US, span.length_us() / MINUTE_US)
        });
        return;
    }
    let with = |overtime: bool| {
        let people = planned.people.iter().filter_map(|p| input.technicians.iter().find(|t| t.person == *p));
        let hours: Vec<Vec<Window>> = people.map(|t| hours(input, t, overtime)).collect();
        shared(&hours, span)
    };
    let (normal, all) = (with(false), with(true));
    let length = |windows: &[Window]| windows.iter().copied().map(whole_us).sum::<i64>();
    let fits = |windows: &[Window]| {
        let ends =
            windows.first().map(|w| w.from) == Some(span.from) && windows.last().map(|w| w.until) == Some(span.until);
        length(windows) == wanted && ends && (row.said.may_pause || windows.len() == 1)
    };
    faults.demand(fits(&normal) || fits(&all), "hours", row, || {
        format!(
            "it needs {} min, and its people have {} min, {} with overtime, between {} and {}",
            wanted / MINUTE_US,
            length(&normal) / MINUTE_US,
            length(&all) / MINUTE_US,
            span.from,
            span.until
        )
    });
}

/// Microseconds of the whole minutes in a window: plans are made in minutes, and hours may begin at any second.
fn whole_us(window: Window) -> i64 {
    let (first, last) = (-(-window.from.0).div_euclid(MINUTE_US), window.until.0.div_euclid(MINUTE_US));
    (last - first).max(0) * MINUTE_US
}

/// When somebody works: in their shifts while the shop is open, and in overtime that was opened.
pub(super) fn hours(input: &PlanInput, technician: &PlanTechnician, overtime: bool) -> Vec<Window> {
    let open = |shift: &Window| input.shop.iter().filter_map(|shop| shop.common(*shift)).collect::<Vec<_>>();
    let mut hours: Vec<Window> = technician.shifts.iter().flat_map(open).collect();
    if overtime {
        hours.extend(&technician.overtime);
    }
    united(hours)
}

/// When vehicles are moved: while the shop is open, and in everybody's overtime.
pub(super) fn moves(input: &PlanInput) -> Vec<Window> {
    united(input.shop.iter().chain(input.technicians.iter().flat_map(|t| &t.overtime)).copied().collect())
}

fn united(mut windows: Vec<Window>) -> Vec<Window> {
    windows.retain(|w| w.from < w.until);
    windows.sort();
    let mut united: Vec<Window> = Vec::new();
    for window in windows {
        if let Some(last) = united.last_mut().filter(|last| window.from <= last.until) {
            last.until = last.until.max(window.until);
        } else {
            united.push(window);
        }
    }
    united
}

/// What all of them share of a stretch.
pub(super) fn shared(hours: &[Vec<Window>], span: Window) -> Vec<Window> {
    let mut edges: Vec<Instant> = hours.iter().flatten().flat_map(|w| [w.from, w.until]).collect();
    edges.extend([span.from, span.until]);
    edges.retain(|at| span.from <= *at && *at <= span.until);
    edges.sort();
    edges.dedup();
    let pieces = edges.windows(2).map(|pair| Window { from: pair[0], until: pair[1] });
    let held = |piece: &Window| hours.iter().all(|own| own.iter().any(|w| w.holds(piece.from)));
    united(pieces.filter(held).collect())
}
