//! Shared tools: what each fact makes of the rows, which facts can't be, and the laws with rows that break them.

use crate::kit::{JOB, Journal, OTHER, PERSON, all, id, minute, refused, strip, text};
use crate::laws::{any, broken, broken_by, edit};
use leadhand_auditor::Books;
use leadhand_facts::rows::{BlockerRow, LoanRow, ToolRow};
use leadhand_facts::{Fact, JobNo, LoanId, PersonId, ToolKey};

fn lock() -> ToolKey {
    "lock".into()
}

fn loan(n: u128) -> LoanId {
    LoanId(id(0x9000 + n))
}

fn added(tool: &str) -> Fact {
    Fact::ToolAdded { tool: tool.into(), name: "Lock".into(), what: None, calibration_due: None }
}

fn to_job(n: u128) -> Fact {
    let (job, stage, bay, person) = (Some(JOB), Some(strip()), Some("b1".into()), None);
    Fact::ToolLent { loan: loan(n), tool: lock(), job, stage, bay, person }
}

fn to_person(n: u128, person: PersonId) -> Fact {
    let (job, stage, bay, person) = (None, None, None, Some(person));
    Fact::ToolLent { loan: loan(n), tool: lock(), job, stage, bay, person }
}

fn returned(n: u128) -> Fact {
    Fact::ToolReturned { loan: loan(n), tool: lock() }
}

fn reopened(n: u128) -> Fact {
    Fact::LoanReopened { loan: loan(n), tool: lock(), reason: text(90) }
}

/// A journal with a tool, 9 facts, and then these, a minute apart.
fn after(facts: Vec<Fact>) -> Journal {
    let mut journal = Journal::working();
    journal.at(0, added("lock"));
    for (minutes, fact) in (1..).zip(facts) {
        journal.at(minutes, fact);
    }
    journal
}

#[test]
fn a_tool_is_lent_and_comes_back() {
    let books = after(vec![to_job(1), returned(1), to_person(2, OTHER)]).books();
    let first = LoanRow {
        loan: loan(1),
        tool: lock(),
        job: Some(JOB),
        stage: Some(strip()),
        bay: Some("b1".into()),
        person: None,
        from_at: minute(1),
        until_at: Some(minute(2)),
        from_n: 10,
        until_n: Some(11),
    };
    let second = LoanRow {
        loan: loan(2),
        job: None,
        stage: None,
        bay: None,
        person: Some(OTHER),
        from_at: minute(3),
        until_at: None,
        from_n: 12,
        until_n: None,
        ..first.clone()
    };
    assert_eq!(all::<LoanRow>(&books), [first.clone(), second]);
    let undone = after(vec![to_job(1), returned(1), to_person(2, OTHER), reopened(2), reopened(1)]).books();
    assert_eq!(all::<LoanRow>(&undone), [LoanRow { until_at: None, until_n: None, ..first }]);
}

#[test]
fn a_tool_is_retired_and_in_use_again() {
    let retired = || after(vec![Fact::ToolRetired { tool: lock(), reason: text(91) }]);
    let row = all::<ToolRow>(&retired().books()).remove(0);
    assert_eq!((row.retired_n, row.reason), (Some(10), Some(text(91).id)));
    refused(retired, 2, to_job(1), "shared_tool", "is retired");
    refused(retired, 2, Fact::ToolRetired { tool: lock(), reason: text(91) }, "shared_tool", "is retired");
    let described = || Fact::ToolDescribed {
        tool: lock(),
        name: "Camshaft lock".into(),
        what: Some("20 mm".into()),
        calibration_due: Some("2027-01-31".into()),
    };
    let mut journal = retired();
    journal.at(2, described());
    let row = all::<ToolRow>(&journal.books()).remove(0);
    assert_eq!(
        (row.name.as_str(), row.what.as_deref(), row.retired_n, row.reason),
        ("Camshaft lock", Some("20 mm"), None, None)
    );
    assert_eq!(row.calibration_due.as_deref(), Some("2027-01-31"));
}

#[test]
fn loans_that_can_t_be_are_refused() {
    let lent = || after(vec![to_job(1)]);
    refused(lent, 2, to_person(2, OTHER), "tool_loan", "was lent to somebody else then");
    refused(lent, 2, Fact::ToolRetired { tool: lock(), reason: text(91) }, "shared_tool", "is lent");
    refused(lent, 2, returned(2), "tool_loan", "unknown");
    refused(lent, 2, added("lock"), "shared_tool", "there already");
    let back = || after(vec![to_job(1), returned(1)]);
    refused(back, 3, returned(1), "tool_loan", "ended before");
    let twice = || after(vec![to_job(1), returned(1), to_job(2)]);
    refused(twice, 4, reopened(1), "tool_loan", "is not the last one");
    let free = || after(vec![]);
    let (loan, tool, stage, bay) = (loan(1), lock(), None, None);
    let nobody = Fact::ToolLent { loan, tool: tool.clone(), job: None, stage: None, bay: None, person: None };
    refused(free, 1, nobody, "tool_loan", "not to a job or a person");
    let both = Fact::ToolLent { loan, tool: tool.clone(), job: Some(JOB), stage, bay, person: Some(PERSON) };
    refused(free, 1, both, "tool_loan", "not to a job or a person");
    let job = Some(JobNo(9));
    let nowhere = Fact::ToolLent { loan, tool, job, stage: None, bay: None, person: None };
    refused(free, 1, nowhere, "job", "unknown");
}

#[test]
fn a_tool_is_in_one_place() {
    let again = |from: i64, until: Option<i64>| {
        broken(|books: &mut Books| {
            let row = books.rows::<LoanRow>().next().unwrap().clone();
            let (from_at, until_at) = (row.from_at.plus_us(from), until.map(|until| row.from_at.plus_us(until)));
            let (loan, job, stage, bay) = (loan(9), None, None, None);
            let until_n = until.map(|_| 99);
            let person = Some(PERSON);
            books.tables_mut().put(LoanRow { loan, job, stage, bay, person, from_at, until_at, until_n, ..row });
        })
    };
    assert_eq!(again(1, None), ["tool"], "while a job has it");
    assert_eq!(again(-10, Some(1)), ["tool"], "a moment too long");
    assert_eq!(again(-10, Some(0)), Vec::<&str>::new(), "right before");
    assert_eq!(broken_by(any::<LoanRow>, |row| row.person = Some(PERSON)), ["tool"], "to two");
    assert_eq!(broken_by(any::<LoanRow>, |row| row.until_n = Some(99)), ["tool"], "ended without a time");
    assert_eq!(broken_by(|row: &ToolRow| row.retired_n.is_some(), |row| row.reason = None), ["tool"]);
    assert_eq!(broken_by(any::<LoanRow>, |row| row.tool = "old-lock".into()), ["tool"], "a retired one");
}

#[test]
fn who_waits_for_a_tool_waits_for_another_job() {
    let waiting = |job: JobNo, tool: &'static str| {
        broken(move |books: &mut Books| {
            edit::<BlockerRow>(books, any, |row| {
                (row.cleared_at, row.cleared_n, row.cleared_note) = (None, None, None);
                (row.item, row.tool) = (None, Some(tool.into()));
            });
            edit::<LoanRow>(books, any, |row| row.job = Some(job));
        })
    };
    let waits = |laws: Vec<&str>| laws.contains(&"tool-blocker");
    assert!(!waits(waiting(JobNo(2), "lock")));
    assert!(waits(waiting(JOB, "lock")), "for a tool that it has itself");
    assert!(waits(waiting(JobNo(2), "old-lock")), "for a tool that is free");
}
