//! Wheels: in which order nuts are tightened, when they are checked again, and run-out.

use crate::answer::{Answer, Rounding, Source, SourceKind, Sureness};
use crate::check::{Range, plausible, within};
use crate::quantity::{Amount, Kind};
use crate::refusal::Refusal;
use leadhand_facts::words::SignalWord;

const STAR: Source = Source { name: "tightening across, in a star", kind: SourceKind::CommonPractice };
const RECHECK: Source =
    Source { name: "wheel nuts are checked again after 40 to 80 km", kind: SourceKind::CommonPractice };
const RUN_OUT: Source =
    Source { name: "disc run-out on its hub, limits of 0.05 to 0.10 mm", kind: SourceKind::CommonPractice };

/// The order for a wheel with so many studs, counted around.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Star {
    /// How many studs.
    pub studs: u32,
}

impl Star {
    /// The order, each a stud's number as one counts them clockwise, facing the wheel from outside, from any of them.
    pub fn reckon(self) -> Result<Answer, Refusal> {
        if !(3..=12).contains(&self.studs) {
            return Err(Refusal::OutOfRange {
                field: "studs".to_owned(),
                given: self.studs.to_string(),
                least: "3".into(),
                most: "12".into(),
                covered: "a wheel",
                todo: "count the studs of one wheel",
            });
        }
        let formula =
            "an even count in opposite pairs, the pairs across from each other; an odd count by steps of almost half";
        let mut answer = Answer::new("Order of wheel nuts", formula, &[STAR]);
        answer.word("studs", self.studs.to_string());
        answer.conclude(
            Sureness::Certain,
            "Count the studs clockwise from any of them, as you face the wheel from outside; counted the other way it is the \
             same star.",
        );
        answer.list_of("tighten", star(self.studs).iter().map(|stud| (stud + 1).to_string()).collect());
        answer.caution(
            SignalWord::Warning,
            "Clean the faces, seat the wheel by hand with all nuts, tighten in the star in two rounds, and finish with a torque \
             wrench on the ground; never with an impact tool alone.",
        );
        Ok(answer)
    }
}

fn star(studs: u32) -> Vec<u32> {
    if studs % 2 == 1 {
        let step = studs / 2;
        return (0..studs).map(|turn| turn * step % studs).collect();
    }
    let half = studs / 2;
    // The pairs themselves lie around half of the circle; an order that jumps there, too.
    let firsts: Vec<u32> =
        if half % 2 == 1 { star(half) } else { (0..half).step_by(2).chain((1..half).step_by(2)).collect() };
    firsts.into_iter().flat_map(|first| [first, first + half]).collect()
}

/// When wheel nuts are checked again.
#[derive(Debug, Clone, PartialEq)]
pub struct Recheck {
    /// The distance that stood on the vehicle when the wheel was fitted.
    pub fitted_at: Amount,
    /// After how far; 50 km when it is not said.
    pub after: Option<Amount>,
}

const USUAL_AFTER_MM: f64 = 50e6;
const MM_PER_KM: f64 = 1e6;

impl Recheck {
    /// At which distance.
    pub fn reckon(&self) -> Result<Answer, Refusal> {
        let mut answer = Answer::new("Wheel nuts again", "due = fitted at + after", &[RECHECK]);
        answer.given("fitted_at", &self.fitted_at);
        self.refuse_thousands()?;
        let fitted = within("fitted_at", &self.fitted_at, Kind::Length, plausible(0.0, 5e6 * MM_PER_KM))?;
        let why = "common practice is 40 to 80 km";
        let after = answer.or_usual("after", self.after.as_ref(), (Kind::Length, USUAL_AFTER_MM), why);
        let todo = "check the distance and its unit";
        let distances =
            Range { least: 10.0 * MM_PER_KM, most: 1000.0 * MM_PER_KM, covered: "a check of wheel nuts", todo };
        let after = within("after", &after, Kind::Length, distances)?;
        answer.add("due", "Check again at", (fitted + after) / MM_PER_KM, "km", Rounding::Down(0));
        answer.add("after", "After", after / MM_PER_KM, "km", Rounding::Down(0));
        answer.caution(
            SignalWord::Warning,
            "Nuts settle on new faces: tell whoever drives it that they are to be checked, at what distance, and to stop when \
             a wheel makes a noise.",
        );
        Ok(answer)
    }
}

impl Recheck {
    /// A point and three digits behind it are thousands on many an odometer, and a check that is due at 98 km would be none.
    fn refuse_thousands(&self) -> Result<(), Refusal> {
        let typed = self.fitted_at.typed();
        let digits = |text: &str| text.chars().take_while(char::is_ascii_digit).count();
        let behind = typed.split_once(['.', ',']).map(|(_, behind)| behind);
        if behind.is_none_or(|behind| digits(behind) != 3) {
            return Ok(());
        }
        Err(Refusal::Unreadable {
            field: "fitted_at".to_owned(),
            typed: typed.to_owned(),
            why: "three digits behind a point may be thousands or thousandths".to_owned(),
            example: "48210 km",
        })
    }
}

/// A disc's or wheel's run-out.
#[derive(Debug, Clone, PartialEq)]
pub struct RunOut {
    /// What the gauge showed in one turn, highest less lowest.
    pub measured: Amount,
    /// What the maker allows; the range of common limits when it is not said.
    pub limit: Option<Amount>,
    /// The hub's own, where it was measured.
    pub hub: Option<Amount>,
}

const USUAL_MM: [f64; 2] = [0.05, 0.10];

impl RunOut {
    /// Whether it is within limits, and what to measure next.
    pub fn reckon(&self) -> Result<Answer, Refusal> {
        let formula = "highest less lowest in one turn, against the limit";
        let mut answer = Answer::new("Run-out", formula, &[RUN_OUT]);
        answer.given("measured", &self.measured);
        let measured = within("measured", &self.measured, Kind::Length, plausible(0.0, 10.0))?;
        answer.add("run_out", "Run-out", measured, "mm", Rounding::Places(2));
        let within_limits = match &self.limit {
            Some(limit) => {
                answer.given("limit", limit);
                let limit = within("limit", limit, Kind::Length, plausible(0.005, 5.0))?;
                let fine = measured <= limit + 1e-9;
                let word = if fine { "within" } else { "beyond" };
                answer.conclude(Sureness::Certain, format!("{measured} mm is {word} the limit of {limit} mm."));
                fine
            }
            None => usual(&mut answer, measured),
        };
        if let Some(hub) = &self.hub {
            answer.given("hub", hub);
            let hub = within("hub", hub, Kind::Length, plausible(0.0, 10.0))?;
            if !within_limits && hub * 2.0 >= measured && hub > 0.0 {
                let text = "Half of it or more is the hub's: the disc may be true.";
                answer.conclude_and_ask(Sureness::Likely, text, "The disc again, turned by one stud on a clean hub.");
            }
        } else if !within_limits {
            let text = "It may be dirt under the disc, or the hub.";
            let more = "Clean both faces, measure the hub alone, then the disc turned by one stud.";
            answer.conclude_and_ask(Sureness::Possible, text, more);
        }
        answer.caution(
            SignalWord::Warning,
            "The vehicle stands on stands, and the wheel is turned by hand. Pump the pedal firm before it moves.",
        );
        Ok(answer)
    }
}

/// Judged against what is common; whether it is within the wider limit.
fn usual(answer: &mut Answer, measured: f64) -> bool {
    let [strict, wide] = USUAL_MM;
    let text = if measured <= strict + 1e-9 {
        format!("{measured} mm is within every usual limit.")
    } else if measured <= wide + 1e-9 {
        format!("{measured} mm is between the usual limits of 0.05 and 0.10 mm: the maker's figure decides.")
    } else {
        format!("{measured} mm is beyond every usual limit.")
    };
    answer.conclude_and_ask(Sureness::Likely, text, "The maker's limit for this disc.");
    measured <= wide + 1e-9
}
