//! An item says another fluid or strength than before: fills of open jobs that were reckoned with the earlier word keep it as a
//! caution of their step, until they are reckoned anew or the item says again what they go by.

use crate::answer::Notice;
use crate::fill;
use crate::refusal::Refusal;
use crate::session::Session;
use leadhand_facts::rows::StepRow;
use leadhand_facts::safety::{Fill, Gainsaid, ReckonedFill};
use leadhand_facts::template::Caution;
use leadhand_facts::words::{FluidKind, SignalWord, StepState};
use leadhand_facts::{Fact, ItemFluid, ItemKey};

/// Lets the fills that are poured from an item follow its word, and names each that does not go by it.
pub(super) fn follow(session: &mut Session, item: &ItemKey, now: Option<ItemFluid>) -> Result<(), Refusal> {
    let steps: Vec<StepRow> = fill::poured_from(session.state, item).cloned().collect();
    for step in steps {
        let Some(own) = fill::reckoned(&step) else { continue };
        let otherwise = own.goes_otherwise(now);
        if otherwise != Some(false) {
            let done = step.state == StepState::Done;
            session.notice(goes_by(&step, item, otherwise.is_some(), done));
        }
        if otherwise == Some(true) || own.gainsaid.iter().any(|one| one.item == *item) {
            let caution = otherwise.filter(|otherwise| *otherwise).map(|_| caution(own, item, now));
            say_anew(session, &step, own, item, caution)?;
        }
    }
    Ok(())
}

/// Tells whoever ticks a fill what it was reckoned with and is not so any more.
pub(in crate::decide) fn tell_gainsaid(session: &mut Session, step: &StepRow) {
    let gainsaid = fill::reckoned(step).map(|own| own.gainsaid.as_slice()).unwrap_or_default();
    let notices = gainsaid.iter().map(|one| goes_by(step, &one.item, true, true));
    session.notices.extend(notices);
}

fn goes_by(step: &StepRow, item: &ItemKey, otherwise: bool, done: bool) -> Notice {
    let (stage, item) = (step.stage.clone(), item.clone());
    Notice::FillGoesBy { job: step.job, stage, step: step.step, item, otherwise, done }
}

/// Keeps with a step, in the place of what it kept of this item, what the item says.
fn say_anew(
    session: &mut Session,
    step: &StepRow,
    own: &ReckonedFill,
    item: &ItemKey,
    caution: Option<Caution>,
) -> Result<(), Refusal> {
    let Some(fill) = &step.safety.fill else { return Ok(()) };
    let (mut own, mut cautions) = (own.clone(), step.cautions.clone());
    let before: Vec<Caution> =
        own.gainsaid.iter().filter(|one| one.item == *item).map(|one| one.caution.clone()).collect();
    own.gainsaid.retain(|one| one.item != *item);
    own.cautions.retain(|caution| !before.contains(caution));
    cautions.retain(|caution| !before.contains(caution));
    if let Some(caution) = caution {
        own.gainsaid.push(Gainsaid { item: item.clone(), caution: caution.clone() });
        own.cautions.push(caution.clone());
        cautions.push(caution);
        cautions.sort_by_key(|caution| caution.word);
    }
    let fill = Fill { fluid: fill.fluid.clone(), reckoned: Some(own) };
    let (job, stage, number, needs) = (step.job, step.stage.clone(), step.step, step.needs.clone());
    session.emit(Fact::FillReckoned { job, stage, step: number, fill, needs, cautions })?;
    Ok(())
}

fn caution(own: &ReckonedFill, item: &ItemKey, now: Option<ItemFluid>) -> Caution {
    let kind = own.says.map_or(FluidKind::Coolant, |says| says.kind);
    let same = now.is_some_and(|now| now.kind == kind);
    let went_by = match own.mixture.filter(|_| same) {
        Some(mixture) => format!("with {} %", mixture.poured),
        None => format!("as {}", kind.told()),
    };
    let says = match now {
        Some(now) if same && now.strength.is_none() => "nobody says any more how strong it is".to_owned(),
        Some(now) => format!("it is {now}"),
        None => "it is no fluid, or nobody says which".to_owned(),
    };
    let text = format!(
        "This was reckoned {went_by} from {item}, and by what was said of that since {says}: reckon it anew before anything goes \
         in; where it is in, find out what it came to before the vehicle goes."
    );
    Caution { word: SignalWord::Warning, text }
}
