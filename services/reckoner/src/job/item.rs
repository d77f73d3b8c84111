//! Whether an item of the stock is the fluid that is to be poured in, and how strong it is: as the item says. Of one that says
//! nothing its name is looked at and what the job's own steps ask for, and the answer says so.

use super::fluid::{in_words, is_coolant};
use crate::answer::{Answer, Sureness};
use crate::quantity::{Amount, Kind};
use crate::refusal::Refusal;
use leadhand_facts::rows::{FluidRow, ItemRow, StepRow};
use leadhand_facts::template::Need;
use leadhand_facts::words::{FluidKind, SignalWord, StepState};
use leadhand_facts::{ItemFluid, ItemKey, Measure, Unit};

/// Words of names that say which fluid something is.
const FAMILIES: &[(FluidKind, &[&str])] = &[
    (FluidKind::Coolant, &["coolant", "antifreeze"]),
    (FluidKind::Oil, &["oil", "oils"]),
    (FluidKind::BrakeFluid, &["brake", "clutch"]),
    (FluidKind::Fuel, &["fuel", "petrol", "diesel"]),
    (FluidKind::ScreenWash, &["washer", "screenwash"]),
    (FluidKind::Water, &["water"]),
    (FluidKind::Refrigerant, &["refrigerant"]),
];

/// An item, and what the job has to do with it.
#[derive(Debug, Clone, Copy)]
pub struct Poured<'a> {
    /// The fluid.
    pub fluid: &'a FluidRow,
    /// The item that is to be it.
    pub item: &'a ItemRow,
    /// The steps of the job.
    pub steps: &'a [StepRow],
    /// The step that fills the fluid, where one does.
    pub filling: Option<&'a StepRow>,
    /// The items that steps ask for.
    pub listed: &'a [ItemRow],
}

impl Poured<'_> {
    /// How strong it is what is poured in of a coolant, as the item says; refuses what was given otherwise, and to guess where
    /// nobody says it. What may not be poured in at all is told first, as [`Poured::check`] does.
    pub fn strength(&self, given: Option<&Amount>) -> Result<Option<Measure>, Refusal> {
        let Some(says) = self.item.fluid.and_then(|fluid| fluid.strength) else {
            if given.is_some() {
                return Ok(None);
            }
            self.check(&mut Answer::new("", "", &[]))?;
            let item = &self.item.item;
            let problem = format!("nobody says how strong {item} is");
            let todo = format!(
                "say how strong it is: `leadhand item fluid {item} coolant --strength 100%`, or whatever its label says; or \
                 give it for this fill alone (poured_strength, `--poured`)"
            );
            return Err(Refusal::contradiction("poured_strength", problem, todo));
        };
        if let Some(given) = given
            && millionths(given) != says
        {
            let problem = format!("{} is {says} % by volume, as it says itself, and {given} was given", self.item.item);
            let todo = "leave it out, or say anew what the item is with `leadhand item fluid`";
            return Err(Refusal::contradiction("poured_strength", problem, todo));
        }
        Ok(Some(says))
    }

    /// Refuses what is kept by no volume, what is another fluid, and what the job's own step has another item for that may
    /// not be the same; says in the answer what no book says.
    pub fn check(&self, answer: &mut Answer) -> Result<(), Refusal> {
        let item = &self.item.item;
        if !is_volume(self.item.unit) {
            let problem = format!("{item} is kept in {} and not by volume", kept_in(self.item.unit));
            return Err(Refusal::contradiction(
                "item",
                problem,
                "name the item of the fluid, or reserve it by a step of its own",
            ));
        }
        let own = self.kinds_of_fluid();
        match self.item.fluid {
            Some(says) => self.refuse_kind(says, &own)?,
            None => self.refuse_name(&own)?,
        }
        self.look_at_listed(&own, answer)?;
        self.tell(&own, answer);
        Ok(())
    }

    /// What the item says counts, whatever it is called.
    fn refuse_kind(&self, says: ItemFluid, own: &[FluidKind]) -> Result<(), Refusal> {
        if own.is_empty() || own.contains(&says.kind) {
            return Ok(());
        }
        let (item, fluid) = (&self.item.item, in_words(self.fluid));
        let problem = format!("{item} is {}, as it says itself, and no {fluid}", says.kind.told());
        let todo =
            format!("name the item that is {fluid}; what is said wrongly is said anew with `leadhand item fluid`");
        Err(Refusal::contradiction("item", problem, todo))
    }

    fn refuse_name(&self, own: &[FluidKind]) -> Result<(), Refusal> {
        let (item, fluid) = (&self.item.item, in_words(self.fluid));
        let is = kinds(&[item.as_str(), &self.item.name]);
        let additive = is_additive(&[item.as_str(), &self.item.name]) && !own.contains(&FluidKind::Additive);
        let other = !own.is_empty() && !is.is_empty() && !own.iter().any(|kind| is.contains(kind));
        if additive || other {
            let problem = format!("{item} ({}) is no {fluid} by its name", self.item.name);
            let todo = format!("name the item that is {fluid}; where it is, say so with `leadhand item fluid`");
            return Err(Refusal::contradiction("item", problem, todo));
        }
        Ok(())
    }

    /// Another item for the fluid in a step of the template: where both say that they are that fluid, the one takes the place
    /// of the other, and somebody has to know that it may; else the other is named.
    fn look_at_listed(&self, own: &[FluidKind], answer: &mut Answer) -> Result<(), Refusal> {
        let Some((step, listed)) = self.listed_elsewhere(own) else { return Ok(()) };
        let (item, fluid) = (&self.item.item, in_words(self.fluid));
        let place = format!("step {} of {}", step.step.0, step.stage);
        if self.item.fluid.is_some() && self.says(listed).is_some() {
            let text = format!(
                "The job's {place} asks for {listed}, and {item} goes in in its place: make sure that it is of a kind that the \
                 manufacturer allows."
            );
            answer.caution(SignalWord::Warning, text);
            return Ok(());
        }
        let problem = format!("{place} of the job asks for {listed} where {fluid} goes in, and not for {item}");
        let unsaid = [listed, item].into_iter().filter(|key| self.says(key).is_none()).map(ItemKey::as_str);
        let todo = format!(
            "name {listed}; where {item} may go in as well, say which fluid {} is (`leadhand item fluid`) and ask again",
            unsaid.collect::<Vec<_>>().join(" and ")
        );
        Err(Refusal::contradiction("item", problem, todo))
    }

    /// What nobody said, and what was gone by instead.
    fn tell(&self, own: &[FluidKind], answer: &mut Answer) {
        let (item, fluid) = (&self.item.item, in_words(self.fluid));
        let say = |key: &ItemKey| format!("Say which fluid it is: `leadhand item fluid {key}`.");
        if self.item.fluid.is_none() {
            let by = if self.is_listed() { "the job's own step" } else { "its name" };
            if self.is_listed() || kinds(&[item.as_str(), &self.item.name]).iter().any(|kind| own.contains(kind)) {
                let text = format!("{item} does not say which fluid it is: that it is {fluid} goes by {by} alone.");
                answer.conclude_and_ask(Sureness::Possible, text, say(item));
            }
        }
        if own.is_empty() || self.item.fluid.is_none() && !self.is_listed() {
            let text =
                format!("Make sure that {item} is {fluid}, and the kind that the manufacturer names: no book says so.");
            answer.caution(SignalWord::Warning, text);
        }
        for need in self.filling.into_iter().flat_map(still_asked).filter(|need| self.is_unsaid(need)) {
            let text = format!(
                "The step that fills it takes {} as well, which does not say which fluid it is: where that is {fluid}, it is set \
                 aside twice.",
                need.item
            );
            answer.conclude_and_ask(Sureness::Possible, text, format!("{} Then ask again.", say(&need.item)));
        }
    }

    /// Whether a need may be of what is poured in, and nothing says so or otherwise.
    fn is_unsaid(&self, need: &Need) -> bool {
        let key = need.item.as_str();
        need.item != self.item.item
            && is_volume(need.unit)
            && self.says(&need.item).is_none()
            && kinds(&[key]).is_empty()
            && !is_additive(&[key])
    }

    fn kinds_of_fluid(&self) -> Vec<FluidKind> {
        if is_coolant(self.fluid) {
            return vec![FluidKind::Coolant];
        }
        let names = [self.fluid.fluid.as_str(), self.fluid.what.as_deref().unwrap_or_default()];
        kinds(&names).into_iter().chain(is_additive(&names).then_some(FluidKind::Additive)).collect()
    }

    /// Which fluid an item of a step says it is.
    fn says(&self, item: &ItemKey) -> Option<ItemFluid> {
        let rows = self.listed.iter().chain([self.item]);
        rows.into_iter().find(|row| row.item == *item)?.fluid
    }

    /// Steps that are still to be done where the fluid goes in again, as the template or somebody says.
    fn ahead(&self) -> impl Iterator<Item = &StepRow> {
        let here = |step: &&StepRow| {
            let back = self.fluid.back.as_ref() == Some(&step.stage) && !step.unplanned;
            let fills = step.safety.fill.as_ref().map(|fill| fill.fluid == self.fluid.fluid);
            fills.unwrap_or(back) && step.state == StepState::Pending
        };
        self.steps.iter().filter(here)
    }

    /// Whether the template itself asks for the item there.
    fn is_listed(&self) -> bool {
        let before = |step: &StepRow| step.safety.fill.as_ref().and_then(|fill| fill.reckoned.clone());
        self.ahead().any(|step| {
            let instead = before(step).map(|reckoned| reckoned.instead).unwrap_or_default();
            still_asked(step).chain(&instead).any(|need| need.item == self.item.item)
        })
    }

    /// The first other item that is this fluid, in a step that pours it in, where none asks for this one.
    fn listed_elsewhere(&self, own: &[FluidKind]) -> Option<(&StepRow, &ItemKey)> {
        if self.is_listed() {
            return None;
        }
        let is_own = |key: &ItemKey| match self.says(key) {
            Some(says) => own.contains(&says.kind),
            None => kinds(&[key.as_str()]).iter().any(|kind| own.contains(kind)),
        };
        let listed = self.ahead().flat_map(|step| still_asked(step).map(move |need| (step, need)));
        let mut fluids = listed.filter(|(_, need)| is_volume(need.unit) && is_own(&need.item));
        fluids.next().map(|(step, need)| (step, &need.item))
    }
}

/// What a step asks for, but for what it takes since its fill was reckoned: that is no word of the template's.
fn still_asked(step: &StepRow) -> impl Iterator<Item = &Need> {
    let from = step.safety.fill.as_ref().and_then(|fill| fill.reckoned.as_ref()).map(|reckoned| &reckoned.from);
    step.needs.iter().filter(move |need| from.is_none_or(|from| !from.contains(&need.item)))
}

/// A strength as the books keep it.
#[allow(clippy::cast_possible_truncation, reason = "a share of at most some hundred is far below 2^53 millionths")]
pub fn millionths(amount: &Amount) -> Measure {
    Measure(libm::round(amount.value() * 1e6).clamp(-1e15, 1e15) as i64)
}

/// A strength of the books as it is reckoned with.
pub fn share(strength: Measure) -> Result<Amount, Refusal> {
    Amount::read(Kind::Share, "poured_strength", &format!("{strength} %"))
}

/// A unit of the stock as people say it.
fn kept_in(unit: Unit) -> &'static str {
    if unit == Unit::Piece { "pieces" } else { unit.code() }
}

fn is_volume(unit: Unit) -> bool {
    matches!(unit, Unit::Millilitre | Unit::Litre)
}

/// Words of what is poured into a system for a while, or to mend it, and is none of its fluids.
const ADDITIVES: [&str; 11] = [
    "flush",
    "cleaner",
    "remover",
    "sealer",
    "sealant",
    "treatment",
    "dye",
    "stop",
    "additive",
    "penetrant",
    "penetrating",
];

fn is_additive(names: &[&str]) -> bool {
    words(names).iter().any(|word| ADDITIVES.contains(&word.as_str()))
}

fn words(names: &[&str]) -> Vec<String> {
    let words = names.iter().flat_map(|name| name.split(|letter: char| !letter.is_alphanumeric()));
    words.map(str::to_lowercase).collect()
}

/// The fluids of which these names have a word.
fn kinds(names: &[&str]) -> Vec<FluidKind> {
    let words = words(names);
    let has = |(_, family): &&(FluidKind, &[&str])| family.iter().any(|known| words.iter().any(|word| word == known));
    FAMILIES.iter().filter(has).map(|(kind, _)| *kind).collect()
}
