//! How something that nobody had listed is turned, reached and put back, held to what a template is held to.

use crate::check as form;
use crate::command::{AddPosition, Fitting};
use crate::refusal::Refusal;
use crate::state::State;
use crate::template::{
    ANGLE_FIRST, CHECK_AND_RENEW, CURE_MAX, TIGHTEN_FORM, fault_of_size, is_tightening, minutes_wanted,
};
use leadhand_facts::strip::{PositionDetail, Tighten};
use leadhand_facts::words::{PositionKind, Renew};
use leadhand_facts::{JobNo, LadderKey};

/// Refuses what a template's check would refuse.
pub(super) fn check(state: &State, command: &AddPosition) -> Result<(), Refusal> {
    let Fitting { head, tighten, how, check, cure_minutes, ladder, .. } = &command.fitting;
    for (field, words) in [("head", head), ("check", check)] {
        words.iter().try_for_each(|words| form::name(field, words))?;
    }
    for (field, words) in [("head", head), ("size", &command.size)] {
        if let Some(why) = words.as_deref().and_then(fault_of_size) {
            return Err(Refusal::invalid(field, why));
        }
    }
    for (field, count) in [("tighten", tighten.len()), ("how", how.len())] {
        if count > form::LIST_MAX {
            return Err(Refusal::invalid(field, format!("more than {} do not fit", form::LIST_MAX)));
        }
    }
    for (at, words) in how.iter().enumerate() {
        form::name(&format!("how[{at}]"), words)?;
    }
    if let Some(at) = tighten.iter().position(|stage| !is_tightening(*stage)) {
        return Err(Refusal::invalid(format!("tighten[{at}]"), format!("it is out of range; write {TIGHTEN_FORM}")));
    }
    if matches!(tighten.first(), Some(Tighten::AngleDegrees(_))) {
        return Err(Refusal::invalid("tighten[0]", ANGLE_FIRST));
    }
    if cure_minutes.is_some_and(|minutes| !(1..=CURE_MAX).contains(&i64::from(minutes))) {
        return Err(Refusal::invalid("cure_minutes", minutes_wanted(CURE_MAX)));
    }
    if check.is_some() != (renew(command) == Renew::Check) {
        return Err(Refusal::invalid("check", CHECK_AND_RENEW));
    }
    ladder.iter().try_for_each(|ladder| known(state, command.job, ladder))
}

/// Whether it may go back: as it is, where neither that nor a check is said.
fn renew(command: &AddPosition) -> Renew {
    let usual = if command.fitting.check.is_some() { Renew::Check } else { Renew::Reuse };
    command.renew.unwrap_or(usual)
}

fn known(state: &State, job: JobNo, ladder: &LadderKey) -> Result<(), Refusal> {
    let row = state.jobs.get(&(job,));
    let template = row.and_then(|row| state.templates.get(&(row.template.clone()?, row.revision?)));
    let mut listed = template.iter().flat_map(|template| &template.doc.ladders).map(|ladder| &ladder.key);
    if listed.any(|key| key == ladder) {
        return Ok(());
    }
    let why = format!("'{ladder}' is no ladder of this job's template; leave it out, and the usual one holds");
    Err(Refusal::invalid("ladder", why))
}

/// What is known of it by itself: all but what it has to do with others.
pub(super) fn detail(command: &AddPosition) -> PositionDetail {
    let Fitting { head, reach, tighten, how, second_check, check, cure_minutes, ladder } = command.fitting.clone();
    PositionDetail {
        head,
        reach,
        tighten,
        how,
        second_check,
        check,
        cure_minutes,
        ladder,
        renew: renew(command),
        ..PositionDetail::plain(command.kind.unwrap_or(PositionKind::Unknown), command.manner, command.count)
    }
}
