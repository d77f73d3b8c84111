//! How much one person should lift: the revised NIOSH equation, in its own inches and pounds, with its limits of use.

use crate::answer::{Answer, Rounding, Source, SourceKind, Sureness};
use crate::check::{Range, plausible, within};
use crate::quantity::{Amount, Kind};
use crate::refusal::Refusal;
use leadhand_facts::words::SignalWord;

/// How the load can be held.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Grip {
    /// Handles, or a box that is held well.
    Good,
    /// Handles that are not the best, or fingers under it.
    Fair,
    /// Bulky, sharp, sagging.
    Poor,
}

impl Grip {
    fn name(self) -> &'static str {
        match self {
            Self::Good => "good",
            Self::Fair => "fair",
            Self::Poor => "poor",
        }
    }
}

/// How long lifting goes on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lasting {
    /// An hour at most, with rest after it.
    Hour,
    /// One to two hours, with rest after it.
    TwoHours,
    /// Two to eight hours.
    EightHours,
}

impl Lasting {
    fn name(self) -> &'static str {
        match self {
            Self::Hour => "an hour at most",
            Self::TwoHours => "one to two hours",
            Self::EightHours => "two to eight hours",
        }
    }
}

/// What the equation is not made for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs, reason = "each is its own word; the sentence is in its name()")]
pub enum Circumstance {
    OneHanded,
    SeatedOrKneeling,
    Cramped,
    Unstable,
    PushedOrPulled,
    FastMovement,
    SlipperyFloor,
    HotOrCold,
    LongerThanEightHours,
}

impl Circumstance {
    fn name(self) -> &'static str {
        match self {
            Self::OneHanded => "lifting with one hand",
            Self::SeatedOrKneeling => "lifting while seated or kneeling",
            Self::Cramped => "lifting in a cramped place",
            Self::Unstable => "a load that shifts, as liquid does",
            Self::PushedOrPulled => "pushing, pulling or carrying",
            Self::FastMovement => "fast movement",
            Self::SlipperyFloor => "a floor that is not firm underfoot",
            Self::HotOrCold => "work that is hot or cold",
            Self::LongerThanEightHours => "lifting for more than eight hours",
        }
    }
}

/// A lift.
#[derive(Debug, Clone, PartialEq)]
pub struct Lift {
    /// What is lifted.
    pub load: Amount,
    /// From between the ankles to the hands, out in front.
    pub reach: Amount,
    /// Height of the hands above the floor where the lift begins.
    pub from: Amount,
    /// And where it ends.
    pub to: Amount,
    /// Out in front where it ends, when it has to be put down with care; else the beginning alone counts.
    pub reach_at_end: Option<Amount>,
    /// How far the body turns, at the worse end; not at all when it is not said.
    pub twist: Option<Amount>,
    /// How it is held.
    pub grip: Grip,
    /// Lifts a minute; once in five minutes when it is not said.
    pub per_minute: Option<Amount>,
    /// How long it goes on.
    pub lasting: Lasting,
    /// What else is so.
    pub circumstances: Vec<Circumstance>,
}

const NIOSH: Source = Source {
    name: "Revised NIOSH lifting equation (Applications Manual, NIOSH 94-110, read in a copy; its frequency table \
           from memory)",
    kind: SourceKind::Published,
};
const TEAM: Source =
    Source { name: "two people together lift about two thirds of what both could", kind: SourceKind::CommonPractice };

const CONSTANT_LB: f64 = 51.0;
const MM_PER_IN: f64 = 25.4;
const KG_PER_LB: f64 = 0.453_592_37;
const SELDOM: f64 = 0.2;
const METHOD: &str = "the NIOSH equation";

/// Lifts a minute, and the multiplier for an hour, two and eight; a second one from 30 inches up where it differs.
const FREQUENCIES: [(f64, [f64; 3], [f64; 3]); 18] = [
    (0.2, [1.00, 0.95, 0.85], [1.00, 0.95, 0.85]),
    (0.5, [0.97, 0.92, 0.81], [0.97, 0.92, 0.81]),
    (1.0, [0.94, 0.88, 0.75], [0.94, 0.88, 0.75]),
    (2.0, [0.91, 0.84, 0.65], [0.91, 0.84, 0.65]),
    (3.0, [0.88, 0.79, 0.55], [0.88, 0.79, 0.55]),
    (4.0, [0.84, 0.72, 0.45], [0.84, 0.72, 0.45]),
    (5.0, [0.80, 0.60, 0.35], [0.80, 0.60, 0.35]),
    (6.0, [0.75, 0.50, 0.27], [0.75, 0.50, 0.27]),
    (7.0, [0.70, 0.42, 0.22], [0.70, 0.42, 0.22]),
    (8.0, [0.60, 0.35, 0.18], [0.60, 0.35, 0.18]),
    (9.0, [0.52, 0.30, 0.00], [0.52, 0.30, 0.15]),
    (10.0, [0.45, 0.26, 0.00], [0.45, 0.26, 0.13]),
    (11.0, [0.41, 0.00, 0.00], [0.41, 0.23, 0.00]),
    (12.0, [0.37, 0.00, 0.00], [0.37, 0.21, 0.00]),
    (13.0, [0.00, 0.00, 0.00], [0.34, 0.00, 0.00]),
    (14.0, [0.00, 0.00, 0.00], [0.31, 0.00, 0.00]),
    (15.0, [0.00, 0.00, 0.00], [0.28, 0.00, 0.00]),
    (f64::INFINITY, [0.00, 0.00, 0.00], [0.00, 0.00, 0.00]),
];

/// One end of a lift, in inches and degrees.
struct End {
    reach_in: f64,
    height_in: f64,
}

impl Lift {
    /// The recommended limit at both ends, and whether one person, two or a hoist.
    pub fn reckon(&self) -> Result<Answer, Refusal> {
        let formula = "RWL = 51 lb·(10/H)·(1 − 0.0075·|V − 30|)·(0.82 + 1.8/D)·(1 − 0.0032·A)·FM·CM, in inches; LI = \
                       load/RWL";
        let mut answer = Answer::new("Lifting", formula, &[NIOSH, TEAM]);
        if let Some(circumstance) = self.circumstances.first() {
            return Err(Refusal::NotCovered {
                field: "circumstances".to_owned(),
                method: METHOD,
                case: circumstance.name().to_owned(),
                todo: "use a hoist, or ask somebody who judges it on the spot",
            });
        }
        answer.given("load", &self.load);
        let load_lb = within("load", &self.load, Kind::Mass, plausible(0.1, 5000.0))? / KG_PER_LB;
        let (begin, end) = self.ends(&mut answer)?;
        let travel_in = (begin.height_in - end.height_in).abs();
        let common = self.common(&mut answer, travel_in)?;
        let at = |end: &End| self.limit_lb(end, common);
        let begin_lb = at(&begin)?;
        answer.add("limit_begin", "Limit where it begins", begin_lb * KG_PER_LB, "kg", Rounding::Down(1));
        let mut limit_lb = begin_lb;
        if self.reach_at_end.is_some() {
            let end_lb = at(&end)?;
            answer.add("limit_end", "Limit where it ends", end_lb * KG_PER_LB, "kg", Rounding::Down(1));
            limit_lb = limit_lb.min(end_lb);
        }
        verdict(&mut answer, load_lb, limit_lb);
        Ok(answer)
    }

    fn ends(&self, answer: &mut Answer) -> Result<(End, End), Refusal> {
        let todo = "use a hoist, or bring the load nearer";
        let reaches = Range { least: 0.0, most: 25.0 * MM_PER_IN, covered: METHOD, todo };
        let todo = "use a hoist, or change the height";
        let heights = Range { least: 0.0, most: 70.0 * MM_PER_IN, covered: METHOD, todo };
        answer.given("reach", &self.reach);
        answer.given("from", &self.from);
        answer.given("to", &self.to);
        let reach = within("reach", &self.reach, Kind::Length, reaches)?;
        let from = within("from", &self.from, Kind::Length, heights)?;
        let to = within("to", &self.to, Kind::Length, heights)?;
        let reach_at_end = match &self.reach_at_end {
            Some(amount) => {
                answer.given("reach_at_end", amount);
                within("reach_at_end", amount, Kind::Length, reaches)?
            }
            None => reach,
        };
        let end = |reach: f64, height: f64| End { reach_in: reach / MM_PER_IN, height_in: height / MM_PER_IN };
        Ok((end(reach, from), end(reach_at_end, to)))
    }

    /// Distance and twist, which both ends share, and lifts a minute.
    fn common(&self, answer: &mut Answer, travel_in: f64) -> Result<(f64, f64), Refusal> {
        let twist = answer.or_usual("twist", self.twist.as_ref(), (Kind::Angle, 0.0), "no twist");
        let todo = "turn the feet and not the back";
        let twists = Range { least: 0.0, most: 135.0, covered: METHOD, todo };
        let twist = within("twist", &twist, Kind::Angle, twists)?;
        let why = "once in five minutes or less";
        let often = answer.or_usual("per_minute", self.per_minute.as_ref(), (Kind::Number, SELDOM), why);
        let often = within("per_minute", &often, Kind::Number, plausible(0.0, 60.0))?;
        answer.word("grip", self.grip.name());
        answer.word("lasting", self.lasting.name());
        // A lift of less than ten inches counts as ten.
        let distance = 0.82 + 1.8 / travel_in.max(10.0);
        Ok((distance.min(1.0) * (1.0 - 0.0032 * twist), often))
    }

    fn limit_lb(&self, end: &End, (common, often): (f64, f64)) -> Result<f64, Refusal> {
        let horizontal = 10.0 / end.reach_in.max(10.0);
        let vertical = 1.0 - 0.0075 * (end.height_in - 30.0).abs();
        let high = end.height_in >= 30.0;
        let grip = match (self.grip, high) {
            (Grip::Good, _) | (Grip::Fair, true) => 1.0,
            (Grip::Fair, false) => 0.95,
            (Grip::Poor, _) => 0.9,
        };
        let column = match self.lasting {
            Lasting::Hour => 0,
            Lasting::TwoHours => 1,
            Lasting::EightHours => 2,
        };
        // Between two lines of the table the more frequent one counts.
        let row = FREQUENCIES.iter().find(|row| often <= row.0 + 1e-9);
        let frequency = row.map_or(0.0, |row| if high { row.2[column] } else { row.1[column] });
        if frequency == 0.0 {
            return Err(Refusal::NotCovered {
                field: "per_minute".to_owned(),
                method: METHOD,
                case: format!("{often} lifts a minute for so long"),
                todo: "lift less often, or use a hoist",
            });
        }
        Ok(CONSTANT_LB * horizontal * vertical * common * frequency * grip)
    }
}

/// Two people together, as a share of what both could alone.
const TOGETHER: f64 = 2.0 * 2.0 / 3.0;

fn verdict(answer: &mut Answer, load_lb: f64, limit_lb: f64) {
    let index = load_lb / limit_lb;
    answer.add("limit", "Recommended limit for one person", limit_lb * KG_PER_LB, "kg", Rounding::Down(1));
    answer.add("index", "Load over limit", index, "1", Rounding::Digits(2));
    let text = if index <= 1.0 {
        "Within the limit for one person."
    } else if index <= TOGETHER {
        "Too much for one person: two people, or a hoist."
    } else {
        "Too much for two people as well: a hoist."
    };
    let more = "Weigh it, try the grip, and walk the way first.";
    answer.conclude_and_ask(Sureness::Likely, text, more);
    answer.caution(
        SignalWord::Warning,
        "The limit is for a healthy adult on a firm floor with a load that stays still. Whoever is hurt, pregnant or young \
         lifts less; nobody stands under a hoist.",
    );
}
