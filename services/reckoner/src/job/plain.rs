//! A fluid that is never mixed with water, such as oil: how much of it is poured in again, and nothing else.

use super::fluid::{in_words, litres};
use crate::answer::{Answer, Rounding, Source, SourceKind, Standing, Sureness};
use crate::check::{Range, plausible, within};
use crate::quantity::{Amount, Kind};
use crate::refusal::Refusal;
use leadhand_facts::rows::FluidRow;
use leadhand_facts::words::SignalWord;

const BOOKS: Source = Source { name: "what came out less what went in again", kind: SourceKind::Definition };
const SYSTEMS: Range = Range { least: 0.05, most: 500.0, covered: "a vehicle's fluids", todo: "check it and its unit" };

/// A fluid that goes in again as it is.
#[derive(Debug, Clone, PartialEq)]
pub struct Plain<'a> {
    /// As the job has it.
    pub row: &'a FluidRow,
    /// What the system holds, where somebody said it; else what should come out by the job.
    pub capacity: Option<Amount>,
    /// What is still in, where somebody said it; else what the books leave.
    pub left: Option<Amount>,
}

impl Plain<'_> {
    /// How much is poured in.
    pub fn reckon(&self) -> Result<Answer, Refusal> {
        let (mut answer, add) = match &self.left {
            Some(left) => self.up_to_capacity(left)?,
            None => self.what_came_out()?,
        };
        answer.add("add", "Pour in", add, "L", Rounding::Places(2));
        let text =
            format!("{} is poured in as it is: no water goes with it, and it has no strength.", in_words(self.row));
        answer.conclude_and_ask(Sureness::Certain, text, "The level, looked at as the manufacturer says.");
        answer.caution(
            SignalWord::Caution,
            "Pour in what the manufacturer names, a little less first, and go by the level: too much does harm as well.",
        );
        answer.caution(
            SignalWord::Notice,
            "What came out goes into its own labelled container, unmixed, and to a licensed carrier.",
        );
        Ok(answer)
    }

    fn up_to_capacity(&self, left: &Amount) -> Result<(Answer, f64), Refusal> {
        let mut answer = Answer::new("Filling again", "pour in = capacity − what is left in", &[BOOKS]);
        let expected = self.row.expected_ml.map(litres);
        let Some(capacity) = self.capacity.clone().or_else(|| expected.clone()) else {
            let problem = format!("the job does not say how much {} there should be", in_words(self.row));
            return Err(Refusal::contradiction("capacity", problem, "say what the system holds"));
        };
        let standing = if self.capacity.is_some() { Standing::Given } else { Standing::Job };
        answer.taken("capacity", &capacity, standing);
        answer.given("left", left);
        let holds = within("capacity", &capacity, Kind::Volume, SYSTEMS)?;
        let todo = "what is left in is less than the system holds";
        let left = within("left", left, Kind::Volume, Range { least: 0.0, most: holds, covered: "this system", todo })?;
        Ok((answer, holds - left))
    }

    fn what_came_out(&self) -> Result<(Answer, f64), Refusal> {
        let row = self.row;
        let mut answer = Answer::new("Filling again", "pour in = what came out − what went in again", &[BOOKS]);
        if row.drained_ml <= 0 {
            let problem = format!("nothing of {} came out yet, as far as the job says", in_words(row));
            let todo =
                format!("say what came out with `leadhand fluid out`, or give what of {} is left", in_words(row));
            return Err(Refusal::contradiction("left", problem, todo));
        }
        answer.taken("came_out", &litres(row.drained_ml), Standing::Job);
        if row.filled_ml > 0 {
            answer.taken("went_in", &litres(row.filled_ml), Standing::Job);
        }
        let add = litres((row.drained_ml - row.filled_ml).max(0)).value();
        if let Some(capacity) = &self.capacity {
            answer.taken("capacity", capacity, Standing::Given);
            let holds = within("capacity", capacity, Kind::Volume, SYSTEMS)?;
            if litres(row.drained_ml).value() > holds {
                let problem = format!(
                    "{} of {} came out by the job, which is more than {capacity}",
                    litres(row.drained_ml),
                    in_words(row)
                );
                let todo = "correct what came out (`leadhand fluid reopen`), or the capacity";
                return Err(Refusal::contradiction("capacity", problem, todo));
            }
        }
        let holds = match &self.capacity {
            Some(capacity) => {
                answer.given("capacity", capacity);
                Some(within("capacity", capacity, Kind::Volume, plausible(0.05, 500.0))?)
            }
            None => row.expected_ml.map(|expected| litres(expected).value()),
        };
        if let Some(holds) = holds.filter(|holds| *holds > litres(row.drained_ml).value()) {
            let stayed = Amount::of(Kind::Volume, holds - litres(row.drained_ml).value());
            let text = format!("{stayed} of {} did not come out, as far as the job says, and stays in.", in_words(row));
            answer.conclude(Sureness::Possible, text);
        }
        Ok((answer, add))
    }
}
