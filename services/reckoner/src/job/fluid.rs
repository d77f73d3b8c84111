//! What a drain left behind, out of what was recorded of a fluid, and which fluids are mixed with water.

use crate::answer::{Answer, Standing, Sureness};
use crate::quantity::{Amount, Kind};
use crate::refusal::Refusal;
use leadhand_facts::rows::FluidRow;

/// A fluid as it stands between its drain and its fill.
#[derive(Debug, Clone, PartialEq)]
pub struct Remaining {
    /// The fluid in words.
    fluid: String,
    /// What the system holds: as it was said, else what should come out of it.
    pub capacity: Amount,
    /// What did not come out.
    pub left: Amount,
    /// Whether the capacity is the job's.
    guessed: bool,
    /// Whether what is left is the job's.
    left_of_job: bool,
}

const ML_PER_L: f64 = 1e3;
/// Such a share of a capacity is lost when it is written to the third digit: arithmetic.
const ROUNDED: f64 = 0.005;
/// The word by which the fluid is known where a job has several.
const COOLANT: &str = "coolant";
/// What says that a fluid is mixed with water.
const COOLANTS: [&str; 2] = [COOLANT, "antifreeze"];

/// What is left of a fluid of a job: of the one that is named, else of the one whose key says that it is coolant.
pub fn remaining(fluids: &[FluidRow], named: Option<&str>, capacity: Option<&Amount>) -> Result<Remaining, Refusal> {
    let row = fluid_of(fluids, named)?;
    let (fluid, drained) = (in_words(row), litres(row.drained_ml));
    if row.drained_ml <= 0 {
        let todo = format!("say what came out with `leadhand fluid out`, or give what of {fluid} is left");
        return Err(Refusal::contradiction(
            "left",
            format!("nothing of {fluid} came out yet, as far as the job says"),
            todo,
        ));
    }
    if row.filled_ml > 0 {
        let problem = format!("{fluid} was filled in already, so what is in is no longer what the drain left");
        return Err(Refusal::contradiction("left", problem, "give what is left and how strong it is"));
    }
    let Some(holds) = capacity.cloned().or_else(|| row.expected_ml.map(litres)) else {
        let problem = format!("the job does not say how much {fluid} there should be");
        return Err(Refusal::contradiction("capacity", problem, "say what the system holds"));
    };
    let left = holds.of_kind("capacity", Kind::Volume)? - drained.value();
    if left < 0.0 {
        let problem = format!("{drained} of {fluid} came out, which is more than {holds}");
        return Err(Refusal::contradiction("capacity", problem, "check what the system holds"));
    }
    // A book's millilitres: what a subtraction of doubles adds to them is nothing, and so is what a capacity in gallons or
    // quarts leaves, which was rounded when it was typed.
    let noise = if holds.typed_unit() == Kind::Volume.unit() { 0.0 } else { holds.value() * ROUNDED };
    let left = if left <= noise { 0.0 } else { libm::round(left * ML_PER_L) / ML_PER_L };
    let left = Amount::of(Kind::Volume, left);
    Ok(Remaining { fluid, capacity: holds, left, guessed: capacity.is_none(), left_of_job: true })
}

/// What the system of a fluid holds, as far as the job says, where somebody said what is left in it.
pub fn held(fluids: &[FluidRow], named: Option<&str>, left: Amount) -> Result<Remaining, Refusal> {
    let row = fluid_of(fluids, named)?;
    let Some(capacity) = row.expected_ml.map(litres) else {
        let problem = format!("the job does not say how much {} there should be", in_words(row));
        return Err(Refusal::contradiction("capacity", problem, "say what the system holds"));
    };
    Ok(Remaining { fluid: in_words(row), capacity, left, guessed: true, left_of_job: false })
}

/// The fluid that is meant: the one that is named, else the only coolant, else the one of that key.
pub fn fluid_of<'a>(fluids: &'a [FluidRow], named: Option<&str>) -> Result<&'a FluidRow, Refusal> {
    if fluids.is_empty() {
        let key = named.unwrap_or(COOLANT);
        let problem =
            format!("the job has no fluid in its books: no step drains one, and nobody said that any {key} came out");
        let todo = format!(
            "say it with `leadhand fluid out JOB {key} AMOUNT` (0 L with a note where nothing did) and ask again, or \
             give capacity and what is left without the job"
        );
        return Err(Refusal::contradiction("fluid", problem, todo));
    }
    // Oil and brake fluid are no coolant, also where a job has nothing else.
    let own: Vec<&FluidRow> = fluids.iter().filter(|row| is_coolant(row)).collect();
    let row = match (named, own.as_slice()) {
        (Some(name), _) => fluids.iter().find(|row| row.fluid.as_str() == name),
        (None, [only]) => Some(*only),
        (None, _) => own.into_iter().find(|row| row.fluid.as_str() == COOLANT),
    };
    row.ok_or_else(|| Refusal::Unknown {
        field: "fluid".to_owned(),
        given: format!("fluid {}", named.unwrap_or(COOLANT)),
        list: "the fluids of this job; give capacity and what is left",
        known: fluids.iter().map(keyed).collect::<Vec<_>>().join(", "),
    })
}

/// A fluid's key, which is what is typed, and what it is called where that says something else.
fn keyed(row: &FluidRow) -> String {
    let (key, words) = (row.fluid.to_string(), in_words(row));
    if key == words { key } else { format!("{key} ({words})") }
}

/// A fluid as it is said in a sentence: by what it is called, else by its key.
pub fn in_words(row: &FluidRow) -> String {
    let what = row.what.as_deref().map(str::trim).filter(|what| !what.is_empty());
    let Some(what) = what else { return row.fluid.to_string() };
    // A name that begins with several capitals is one: DOT 4, and not dOT 4.
    let mut letters = what.chars();
    let (first, second) = (letters.next(), letters.next());
    match first.filter(|_| !second.is_some_and(char::is_uppercase)) {
        Some(first) => first.to_lowercase().chain(what.chars().skip(1)).collect(),
        None => what.to_owned(),
    }
}

/// Whether a fluid is one that is mixed with water, by its key or by what it is called.
pub fn is_coolant(row: &FluidRow) -> bool {
    let says = |text: &str| COOLANTS.iter().any(|word| text.to_lowercase().contains(word));
    says(row.fluid.as_str()) || row.what.as_deref().is_some_and(says)
}

/// Refuses to take what is left in for water: nobody flushed it, as far as the job says.
pub fn refuse_unknown_strength(left: &Amount, fluid: &str) -> Result<(), Refusal> {
    if left.value() <= 0.0 {
        return Ok(());
    }
    let problem = format!("{left} of {fluid} are left in, and nobody says how strong they are");
    let todo = "measure it with a refractometer and give it; 0 % after flushing";
    Err(Refusal::contradiction("left_strength", problem, todo))
}

impl Remaining {
    /// As [`refuse_unknown_strength`], of what is left in.
    pub fn refuse_unknown_strength(&self) -> Result<(), Refusal> {
        refuse_unknown_strength(&self.left, &self.fluid)
    }

    /// Says in an answer what of it is the job's, and what that rests on.
    pub fn tell(&self, answer: &mut Answer) {
        if self.left_of_job {
            answer.said_by(&["left"], Standing::Job);
            answer.conclude(
                Sureness::Certain,
                format!("What is left in is the job's {}, as the drain left it.", self.fluid),
            );
        }
        if self.guessed {
            answer.said_by(&["capacity"], Standing::Job);
            let text =
                "The job says what should come out at its drain, and that is taken for all that the system holds.";
            answer.conclude_and_ask(
                Sureness::Possible,
                text,
                "The manufacturer's capacity, where the drain leaves more in.",
            );
        }
    }
}

/// A book's millilitres; no system holds so many that a double would lose any.
#[allow(clippy::cast_precision_loss, reason = "far below 2^53")]
pub(super) fn litres(millilitres: i64) -> Amount {
    Amount::of(Kind::Volume, millilitres as f64 / ML_PER_L)
}
