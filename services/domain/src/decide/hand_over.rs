//! Whether a vehicle may be handed over, and what a lead overrules.

use crate::command::{CompleteJob, Override};
use crate::decide::proof;
use crate::hand_over::{Line, Remedy, lines};
use crate::refusal::Refusal;
use crate::session::Session;
use leadhand_facts::reading::Overruled;
use leadhand_facts::{JobNo, TextRef};
use std::collections::BTreeSet;

/// What only a lead may do about what is open.
const OPEN: &str = "hand a vehicle over while something is open";

/// The lead's one reason where it was needed, and every line that was overruled with the reason that it went with.
pub(super) fn overruled(
    session: &mut Session,
    job: JobNo,
    command: &CompleteJob,
) -> Result<(Option<TextRef>, Vec<Overruled>), Refusal> {
    let open = lines(session.state, job);
    refuse_unlisted(&open, &command.overrides)?;
    match open.first().map(Line::remedy) {
        None => return Ok((None, Vec::new())),
        Some(Remedy::Nobody) => return Err(Refusal::HandOverForGood { job, lines: open }),
        Some(Remedy::End) => return Err(Refusal::HandOverUnfinished { job, lines: open }),
        Some(Remedy::Lead) => {}
    }
    let own = |line: &Line| command.overrides.iter().find(|one| one.line == line.key());
    if command.override_reason.is_none() {
        let left: Vec<Line> = open.iter().filter(|line| own(line).is_none()).cloned().collect();
        if !left.is_empty() {
            return Err(Refusal::HandOverOpen { job, lines: left });
        }
    }
    proof::lead_by_name(session, OPEN)?;
    let needed = open.iter().any(|line| own(line).is_none());
    let general = session.seal_some(command.override_reason.as_deref().filter(|_| needed));
    let mut gone = Vec::with_capacity(open.len());
    for line in &open {
        let reason = match (own(line), &general) {
            (Some(one), _) => session.seal(&one.reason),
            (None, Some(general)) => general.clone(),
            (None, None) => {
                return Err(Refusal::Defect { why: format!("line '{}' went without a reason", line.key()) });
            }
        };
        gone.push(Overruled { line: line.key(), reason });
    }
    Ok((general, gone))
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
