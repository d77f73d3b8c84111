//! Whether a vehicle may be handed over, and what a lead overrules.

use crate::answer::Notice;
use crate::command::{CompleteJob, Override};
use crate::condition;
use crate::decide::proof;
use crate::hand_over::{Line, Remedy, lines};
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use crate::strip::{self, Open};
use leadhand_facts::reading::Overruled;
use leadhand_facts::words::{Cause, Manner};
use leadhand_facts::{Instant, JobNo};
use std::collections::BTreeSet;

/// What only a lead may do about what is open.
const OPEN: &str = "hand a vehicle over while something is open";

/// Every line that was overruled with the reason that it went with: its own, or the one that the lead gave for all that
/// were named without.
pub(super) fn overruled(session: &mut Session, job: JobNo, command: &CompleteJob) -> Result<Vec<Overruled>, Refusal> {
    let open = lines(session.state, job, session.at());
    refuse_unlisted(&open, &command.overrides)?;
    for (at, one) in command.overrides.iter().enumerate() {
        if one.reason.is_none() && command.override_reason.is_none() {
            let why = format!("'{}' has no reason; give one with it, or one for all that are named", one.line);
            return Err(Refusal::invalid(format!("overrides[{at}].reason"), why));
        }
    }
    let own = |line: &Line| command.overrides.iter().find(|one| one.line == line.key());
    // What was named has its reason: what is left is what stands against it. A reason alone overrules nothing.
    let is_left = |line: &&Line| own(line).is_none() || line.remedy() != Remedy::Lead;
    let left: Vec<Line> = open.iter().filter(is_left).cloned().collect();
    let named = open.len() - left.len();
    match left.iter().map(Line::remedy).min() {
        None if open.is_empty() => return Ok(Vec::new()),
        Some(Remedy::Nobody) => return Err(Refusal::HandOverForGood { job, lines: left, named: credit(named) }),
        Some(Remedy::End) => return Err(Refusal::HandOverUnfinished { job, lines: left, named: credit(named) }),
        Some(Remedy::Lead) => return Err(Refusal::HandOverOpen { job, lines: left, named: credit(named) }),
        None => {}
    }
    proof::lead_by_name(session, OPEN)?;
    let shared = command.overrides.iter().any(|one| one.reason.is_none());
    let shared = session.seal_some(command.override_reason.as_deref().filter(|_| shared));
    let mut gone = Vec::with_capacity(open.len());
    for line in &open {
        let reason = match (own(line).and_then(|one| one.reason.as_deref()), &shared) {
            (Some(reason), _) => session.seal(reason),
            (None, Some(shared)) => shared.clone(),
            (None, None) => {
                return Err(Refusal::Defect { why: format!("line '{}' went without a reason", line.key()) });
            }
        };
        gone.push(Overruled { line: line.key(), reason });
    }
    Ok(gone)
}

/// What is open of a vehicle whose job is called off: it is apart, has something of the work still in, is not as it has to be
/// to leave, is out of its limits, or somebody called the lead to it.
pub(super) fn apart(state: &State, job: JobNo, at: Instant) -> Vec<Line> {
    let apart = |line: &Line| goes_as_it_is(line) || matches!(line, Line::Strip(_));
    let mut all: Vec<Line> = lines(state, job, at).into_iter().filter(apart).collect();
    // Its stage is left out with the job, and would ask for it then.
    let unsaid = strip::positions(state, job).filter(|row| strip::is_unsaid(state, row) && strip::may_hide(row));
    for row in unsaid {
        let put_in = row.detail.manner == Manner::In;
        let line = Line::Strip(Open::Unsaid { position: row.position.clone(), put_in });
        if !all.contains(&line) {
            all.insert(0, line);
        }
    }
    all
}

/// What is put in, out or not as it has to be.
fn goes_as_it_is(line: &Line) -> bool {
    match line {
        Line::Strip(Open::StillIn { .. } | Open::Unsaid { put_in: true, .. })
        | Line::Blocker { cause: Cause::Safety, .. }
        | Line::FillOtherwise { .. }
        | Line::ReadingOut { .. } => true,
        Line::Condition(open) => !matches!(open, condition::Open::Hold { .. }),
        _ => false,
    }
}

/// Tells in what condition a vehicle goes whose job is called off.
pub(super) fn tell_as_it_is(session: &mut Session, open: Vec<Line>) {
    let lines = open.into_iter().filter(goes_as_it_is);
    let notices: Vec<Notice> = lines.map(|line| Notice::GoesAsItIs { what: line.to_string() }).collect();
    session.notices.extend(notices);
}

/// What is said of lines that were named with their reason, when others are left.
fn credit(named: usize) -> String {
    match named {
        0 => String::new(),
        1 => " (the line that you named has its reason; give it again with the rest)".to_owned(),
        many => format!(" (the {many} lines that you named have their reasons; give them again with the rest)"),
    }
}

/// Whoever overrules a line that is not open, or one twice, looked at another list.
fn refuse_unlisted(open: &[Line], overrides: &[Override]) -> Result<(), Refusal> {
    let mut known: BTreeSet<String> = open.iter().map(Line::key).collect();
    for (at, one) in overrides.iter().enumerate() {
        if !known.remove(&one.line) {
            let twice = overrides[..at].iter().any(|other| other.line == one.line);
            let why = if twice { "is named twice; one reason is enough" } else { "is no line that is open" };
            let why =
                format!("'{}' {why}; `leadhand job complete --dry-run` lists them", crate::check::shorten(&one.line));
            return Err(Refusal::invalid(format!("overrides[{at}].line"), why));
        }
    }
    Ok(())
}
