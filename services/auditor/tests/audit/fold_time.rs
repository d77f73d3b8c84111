//! Facts about the calendar and about persons' time.

use crate::kit::{JOB, Journal, OTHER, PERSON, all, id, minute, one, refused, strip, text};
use leadhand_facts::calendar::{CalendarChange, Resolved, Week};
use leadhand_facts::rows::{CalendarRow, ClockingRow, JobRow, OpenWindowRow, ShiftWindowRow, ShopRow};
use leadhand_facts::{ClockingId, Fact, PersonId, Window};

fn resolved(from: i64, until: i64, windows: &[(i64, i64)]) -> Resolved {
    let windows = windows.iter().map(|(from, until)| Window { from: minute(*from), until: minute(*until) });
    Resolved { from: minute(from), until: minute(until), windows: windows.collect() }
}

fn hours(revision: i32, resolved: Resolved) -> Fact {
    let change = CalendarChange::Hours { from_day: "2026-03-02".to_owned(), week: Week::default() };
    Fact::CalendarSet { revision, change, person: None, resolved }
}

fn shift(revision: i32, person: PersonId, resolved: Resolved) -> Fact {
    let change = CalendarChange::Shift { person, from_day: "2026-03-02".to_owned(), week: Week::default() };
    Fact::CalendarSet { revision, change, person: Some(person), resolved }
}

fn open(from: i64, until: i64, set_n: i64) -> OpenWindowRow {
    OpenWindowRow { from_at: minute(from), until_at: minute(until), set_n }
}

#[test]
fn hours_replace_what_was_resolved_and_keep_what_reaches_out() {
    let mut journal = Journal::opened();
    let first = hours(1, resolved(0, 1_000, &[(0, 100), (200, 300), (400, 500), (600, 700)]));
    assert_eq!(journal.at(0, first.clone()), 2);
    let books = journal.books();
    assert_eq!(
        all::<OpenWindowRow>(&books),
        [open(0, 100, 2), open(200, 300, 2), open(400, 500, 2), open(600, 700, 2)]
    );
    let Fact::CalendarSet { revision, change, person, resolved: stretch } = first else { unreachable!() };
    let (from_at, until_at) = (stretch.from, stretch.until);
    assert_eq!(all::<CalendarRow>(&books), [CalendarRow { revision, change, person, from_at, until_at, set_n: 2 }]);

    // From inside the second window to inside the fourth; the third goes.
    journal.at(1, hours(2, resolved(250, 650, &[(250, 260), (640, 650)])));
    let books = journal.books();
    let after = [open(0, 100, 2), open(200, 250, 2), open(250, 260, 3), open(640, 650, 3), open(650, 700, 2)];
    assert_eq!(all::<OpenWindowRow>(&books), after);
    assert_eq!(one::<ShopRow>(&books, &()).calendar_revision, 2);

    // A holiday inside one window leaves both of its ends.
    journal.at(2, hours(3, resolved(20, 30, &[])));
    assert_eq!(all::<OpenWindowRow>(&journal.books())[..2], [open(0, 20, 2), open(30, 100, 2)]);
}

#[test]
fn shifts_are_cut_for_their_person_only() {
    let mut journal = Journal::working();
    journal.at(0, shift(1, PERSON, resolved(0, 100, &[(0, 50)])));
    journal.at(0, shift(2, OTHER, resolved(0, 100, &[(0, 60)])));
    journal.at(1, shift(3, PERSON, resolved(10, 100, &[(20, 30)])));
    let row =
        |person, from, until, set_n| ShiftWindowRow { person, from_at: minute(from), until_at: minute(until), set_n };
    let rows = [row(PERSON, 0, 10, 9), row(PERSON, 20, 30, 11), row(OTHER, 0, 60, 10)];
    assert_eq!(all::<ShiftWindowRow>(&journal.books()), rows);
    assert_eq!(all::<OpenWindowRow>(&journal.books()), []);
}

#[test]
fn a_calendar_that_can_t_be_is_refused() {
    let good = || resolved(0, 100, &[]);
    refused(Journal::opened, 1, hours(2, good()), "calendar", "should be 1");
    refused(Journal::opened, 1, hours(1, resolved(5, 5, &[])), "calendar", "no stretch");
    for windows in [[(0, 10), (10, 20)], [(20, 30), (0, 10)], [(0, 0), (5, 6)], [(0, 10), (90, 101)], [(-1, 5), (6, 7)]]
    {
        refused(Journal::opened, 1, hours(1, resolved(0, 100, &windows)), "calendar", "out of order, touching");
    }
    refused(Journal::opened, 1, shift(1, PERSON, good()), "person", "unknown");
    let change = CalendarChange::Extended { person: Some(PERSON) };
    let other = Fact::CalendarSet { revision: 1, change, person: None, resolved: good() };
    refused(Journal::working, 1, other, "calendar", "somebody else");
}

fn clocking(number: u128) -> ClockingId {
    ClockingId(id(0x5000 + number))
}

fn on(number: u128) -> Fact {
    Fact::ClockedOn { clocking: clocking(number), person: PERSON, job: JOB, stage: strip(), overridden: None }
}

fn off(number: u128, person: PersonId) -> Fact {
    Fact::ClockedOff { clocking: clocking(number), person, job: JOB, stage: strip() }
}

fn worked(from: i64, until: i64) -> Fact {
    Fact::WorkRecorded {
        clocking: clocking(3),
        person: OTHER,
        job: JOB,
        stage: strip(),
        from_at: minute(from),
        until_at: minute(until),
        overridden: Some(text(60)),
    }
}

#[test]
fn clockings_begin_and_end_when_it_happened() {
    let mut journal = Journal::working();
    let on_n = journal.late(1, 2, on(1));
    let mut row = ClockingRow {
        clocking: clocking(1),
        person: PERSON,
        job: JOB,
        stage: strip(),
        from_at: minute(1),
        until_at: None,
        on_n,
        off_n: None,
        overridden: None,
    };
    assert_eq!(all::<ClockingRow>(&journal.books()), [row.clone()]);
    let off_n = journal.late(5, 6, off(1, PERSON));
    row.until_at = Some(minute(5));
    row.off_n = Some(off_n);
    assert_eq!(all::<ClockingRow>(&journal.books()), [row.clone()]);
    assert_eq!(one::<JobRow>(&journal.books(), &(JOB,)).version, off_n);

    let n = journal.late(7, 9, worked(2, 8));
    let recorded = ClockingRow {
        clocking: clocking(3),
        person: OTHER,
        from_at: minute(2),
        until_at: Some(minute(8)),
        on_n: n,
        off_n: Some(n),
        overridden: Some(text(60).id),
        ..row.clone()
    };
    assert_eq!(all::<ClockingRow>(&journal.books()), [row, recorded]);
}

#[test]
fn clockings_that_can_t_be_are_refused() {
    let begun = || {
        let mut journal = Journal::working();
        journal.at(1, on(1));
        journal
    };
    let ended = || {
        let mut journal = begun();
        journal.at(2, off(1, PERSON));
        journal
    };
    refused(begun, 2, on(1), "clocking", "there already");
    refused(begun, 2, off(2, PERSON), "clocking", "unknown");
    refused(begun, 1, off(1, PERSON), "clocking", "does not end after it begins");
    refused(begun, 2, off(1, OTHER), "clocking", "is of person");
    refused(ended, 3, off(1, PERSON), "clocking", "ended before");
    refused(Journal::working, 9, worked(3, 3), "clocking", "does not end after it begins");
    refused(Journal::working, 9, worked(3, 10), "clocking", "after it was recorded");
    refused(Journal::opened, 1, on(1), "person", "unknown");
}
