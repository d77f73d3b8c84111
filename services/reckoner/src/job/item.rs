//! Whether an item of the stock is the fluid that is to be poured in. Items do not say so, which leaves their names and
//! what the job's own steps ask for.

use super::fluid::{in_words, is_coolant};
use crate::answer::Answer;
use crate::refusal::Refusal;
use leadhand_facts::Unit;
use leadhand_facts::rows::{FluidRow, ItemRow, StepRow};
use leadhand_facts::words::{SignalWord, StepState};

/// Words of names that say which fluid something is: what stands in one line is the same.
const FAMILIES: &[&[&str]] = &[
    &["coolant", "antifreeze"],
    &["oil", "oils"],
    &["brake", "clutch"],
    &["fuel", "petrol", "diesel"],
    &["washer", "screenwash"],
    &["water"],
    &["refrigerant"],
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
}

impl Poured<'_> {
    /// Refuses what is kept by no volume, what is another fluid by its name, and what the job's own step has another item
    /// for; says in the answer that somebody has to look, where the books know nothing.
    pub fn check(&self, answer: &mut Answer) -> Result<(), Refusal> {
        let (item, fluid) = (&self.item.item, in_words(self.fluid));
        if !is_volume(self.item.unit) {
            let problem = format!("{item} is kept in '{}' and not by volume", self.item.unit.code());
            return Err(Refusal::contradiction(
                "item",
                problem,
                "name the item of the fluid, or reserve it by a step of its own",
            ));
        }
        if is_agent(&[item.as_str(), &self.item.name])
            && !is_agent(&[self.fluid.fluid.as_str(), self.fluid.what.as_deref().unwrap_or_default()])
        {
            let problem = format!("{item} ({}) is no {fluid} by its name", self.item.name);
            return Err(Refusal::contradiction("item", problem, format!("name the item that is {fluid}")));
        }
        let (own, others) = (self.families_of_fluid(), families(&[item.as_str(), &self.item.name]));
        if !own.is_empty() && !others.is_empty() && !own.iter().any(|family| others.contains(family)) {
            let problem = format!("{item} ({}) is no {fluid} by its name", self.item.name);
            return Err(Refusal::contradiction("item", problem, format!("name the item that is {fluid}")));
        }
        if let Some((step, listed)) = self.listed_elsewhere() {
            let problem = format!(
                "step {} of {} of the job asks for {listed} where {fluid} goes in, and not for {item}",
                step.step.0, step.stage
            );
            let todo = format!(
                "name {listed}; where {item} is the same, take what step {} asks for back with `leadhand step skip` first",
                step.step.0
            );
            return Err(Refusal::contradiction("item", problem, todo));
        }
        if !self.is_listed() {
            let text =
                format!("Make sure that {item} is {fluid}, and the kind that the manufacturer names: no book says so.");
            answer.caution(SignalWord::Warning, text);
        }
        Ok(())
    }

    fn families_of_fluid(&self) -> Vec<usize> {
        if is_coolant(self.fluid) {
            return vec![0];
        }
        families(&[self.fluid.fluid.as_str(), self.fluid.what.as_deref().unwrap_or_default()])
    }

    /// Steps of the template that are still to be done where the fluid goes in again.
    fn ahead(&self) -> impl Iterator<Item = &StepRow> {
        let here = |step: &&StepRow| {
            let back = self.fluid.back.as_ref() == Some(&step.stage);
            back && !step.unplanned && step.state == StepState::Pending
        };
        self.steps.iter().filter(here)
    }

    fn is_listed(&self) -> bool {
        self.ahead().any(|step| step.needs.iter().any(|need| need.item == self.item.item))
    }

    /// The first other item that is this fluid by its key, in a step that pours it in, where none asks for this one.
    fn listed_elsewhere(&self) -> Option<(&StepRow, &leadhand_facts::ItemKey)> {
        if self.is_listed() {
            return None;
        }
        let own = self.families_of_fluid();
        let named = |key: &str| families(&[key]).iter().any(|family| own.contains(family));
        let listed = self.ahead().flat_map(|step| step.needs.iter().map(move |need| (step, need)));
        let mut fluids = listed.filter(|(_, need)| is_volume(need.unit) && named(need.item.as_str()));
        fluids.next().map(|(step, need)| (step, &need.item))
    }
}

fn is_volume(unit: Unit) -> bool {
    matches!(unit, Unit::Millilitre | Unit::Litre)
}

/// What is poured into a system for a while, or to mend it, and is none of its fluids.
const AGENTS: [&str; 11] = [
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

fn is_agent(names: &[&str]) -> bool {
    words(names).iter().any(|word| AGENTS.contains(&word.as_str()))
}

fn words(names: &[&str]) -> Vec<String> {
    let words = names.iter().flat_map(|name| name.split(|letter: char| !letter.is_alphanumeric()));
    words.map(str::to_lowercase).collect()
}

/// The lines of [`FAMILIES`] that have a word of these names.
fn families(names: &[&str]) -> Vec<usize> {
    let words = words(names);
    let has = |family: &&[&str]| family.iter().any(|known| words.iter().any(|word| word == known));
    FAMILIES.iter().enumerate().filter(|(_, family)| has(family)).map(|(at, _)| at).collect()
}
