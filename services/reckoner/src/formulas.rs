//! The plain formulas for a quick look: three-point estimates, reorder point, order quantity, earned value. What a job's
//! time and stock really are stands in their books.

mod durations;
mod normal;

use crate::answer::{Answer, Rounding, Source, SourceKind, Standing, Sureness};
use crate::quantity::{Amount, Kind};
use crate::refusal::Refusal;
pub use durations::{Duration, Durations, Left, LogNormal, Quantile, first_at, left_after};
pub use normal::{below, quantile};

const PERT: Source = Source {
    name: "three-point estimate of PERT, with the normal distribution for the sum",
    kind: SourceKind::Published,
};
const STOCK: Source = Source {
    name: "reorder point with safety stock for one cycle, demand and lead time independent and normal",
    kind: SourceKind::Published,
};
const WILSON: Source = Source { name: "economic order quantity", kind: SourceKind::Published };
const EARNED: Source = Source { name: "earned value management, its usual ratios", kind: SourceKind::Published };
const MOST: f64 = 1e9;
const MOST_TASKS: usize = 1000;

/// A number that somebody said, no unit asked.
fn number(field: &str, value: f64, least: f64, todo: &'static str) -> Result<f64, Refusal> {
    if value.is_finite() && (least..=MOST).contains(&value) {
        return Ok(value);
    }
    Err(Refusal::OutOfRange {
        field: field.to_owned(),
        given: value.to_string(),
        least: least.to_string().into(),
        most: MOST.to_string().into(),
        covered: "this formula",
        todo,
    })
}

const CHECK: &str = "check the number";
const ABOVE_NOTHING: f64 = 1e-9;

/// A task's three points: times, or numbers of a unit that is the same for all of them.
#[derive(Debug, Clone, PartialEq)]
pub struct ThreePoints {
    /// When all goes well.
    pub best: Amount,
    /// Most often.
    pub likely: Amount,
    /// When all goes badly.
    pub worst: Amount,
}

/// Tasks one after the other, and when they should be done.
#[derive(Debug, Clone, PartialEq)]
pub struct Pert {
    /// The tasks of one path.
    pub tasks: Vec<ThreePoints>,
    /// After how long all is to be done, where that is asked.
    pub due: Option<Amount>,
}

impl Pert {
    /// The sum, its spread, and the chance of being done in time.
    pub fn reckon(&self) -> Result<Answer, Refusal> {
        let formula = "te = (a + 4m + b)/6; variance = ((b − a)/6)²; z = (due − Σte)/√Σvariance";
        let mut answer = Answer::new("Three-point estimate", formula, &[PERT]);
        let Some(kind) = self.tasks.first().map(|task| task.best.kind()).filter(|_| self.tasks.len() <= MOST_TASKS)
        else {
            let problem = format!("there are {} tasks", self.tasks.len());
            return Err(Refusal::contradiction("tasks", problem, format!("give 1 to {MOST_TASKS}")));
        };
        let (mut expected, mut variance) = (0.0, 0.0);
        for (index, task) in self.tasks.iter().enumerate() {
            let field = format!("tasks[{index}]");
            let (te, var) = task.expected(&field, kind)?;
            let typed = [&task.best, &task.likely, &task.worst].map(Amount::typed).join(", ");
            answer.in_unit_of(&field, typed, &task.best);
            (expected, variance) = (expected + te, variance + var);
        }
        let deviation = libm::sqrt(variance);
        let (unit, squared) = if kind == Kind::Time { (kind.unit(), "min2") } else { ("1", "1") };
        answer.add("expected", "Expected", expected, unit, Rounding::Digits(3));
        answer.add("variance", "Variance", variance, squared, Rounding::Digits(3));
        answer.add("deviation", "Standard deviation", deviation, unit, Rounding::Digits(2));
        if let Some(due) = &self.due {
            let value = time("due", due, kind)?;
            answer.given("due", due);
            let chance = chance(value, expected, deviation) * 100.0;
            // Only where nothing is uncertain it is certain.
            let rounding = if deviation > 0.0 { Rounding::Chance } else { Rounding::Places(0) };
            answer.add("chance", "Chance of being done by then", chance, "%", rounding);
        }
        answer.conclude(
            Sureness::Possible,
            "A path's spread takes its tasks to be independent and forgets paths that are nearly as long: it is optimistic.",
        );
        Ok(answer)
    }
}

/// A time where the others are times, a number where they are numbers.
fn time(field: &str, amount: &Amount, kind: Kind) -> Result<f64, Refusal> {
    if amount.kind() != kind && [Kind::Time, Kind::Number].contains(&amount.kind()) {
        let problem = format!("{} stands beside the first task's {}", amount.typed(), kind.name());
        return Err(Refusal::contradiction(field, problem, "give all of them with their unit, or none"));
    }
    number(field, amount.of_kind(field, kind)?, 0.0, CHECK)
}

/// Where nothing is uncertain, it is in time or it is not.
fn chance(due: f64, expected: f64, deviation: f64) -> f64 {
    if deviation > 0.0 { below((due - expected) / deviation) } else { f64::from(u8::from(due >= expected)) }
}

impl ThreePoints {
    fn expected(&self, field: &str, kind: Kind) -> Result<(f64, f64), Refusal> {
        let best = time(&format!("{field}.best"), &self.best, kind)?;
        let likely = time(&format!("{field}.likely"), &self.likely, kind)?;
        let worst = time(&format!("{field}.worst"), &self.worst, kind)?;
        if best > likely || likely > worst {
            let problem = format!("{}, {}, {} do not go from best to worst", self.best, self.likely, self.worst);
            return Err(Refusal::contradiction(field, problem, "give best, most likely and worst in that order"));
        }
        let sigma = (worst - best) / 6.0;
        Ok(((best + 4.0 * likely + worst) / 6.0, sigma * sigma))
    }
}

/// At how much left an item is ordered again. Demand and lead time in the same unit of time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReorderPoint {
    /// Used in a unit of time, on average.
    pub demand: f64,
    /// Its standard deviation; as if nothing varied when it is not said.
    pub demand_deviation: Option<f64>,
    /// How long an order takes, on average.
    pub lead_time: f64,
    /// Its standard deviation; as if nothing varied when it is not said.
    pub lead_time_deviation: Option<f64>,
    /// In how many per cent of the cycles it may not run out.
    pub service: f64,
}

impl ReorderPoint {
    /// The reorder point, and the safety stock in it.
    pub fn reckon(self) -> Result<Answer, Refusal> {
        let formula = "ROP = d·L + z·√(L·σd² + d²·σL²)";
        let mut answer = Answer::new("Reorder point", formula, &[STOCK]);
        let demand = said(&mut answer, "demand", Some(self.demand))?;
        let demand_deviation = said(&mut answer, "demand_deviation", self.demand_deviation)?;
        let lead_time = said(&mut answer, "lead_time", Some(self.lead_time))?;
        let lead_time_deviation = said(&mut answer, "lead_time_deviation", self.lead_time_deviation)?;
        if !(50.0..=99.99).contains(&self.service) {
            return Err(Refusal::OutOfRange {
                field: "service".to_owned(),
                given: format!("{} %", self.service),
                least: "50 %".into(),
                most: "99.99 %".into(),
                covered: "a cycle service",
                todo: "nothing is always in stock; choose a service below 100 %",
            });
        }
        answer.word("service", format!("{} %", self.service));
        let variance = lead_time * demand_deviation * demand_deviation
            + demand * demand * lead_time_deviation * lead_time_deviation;
        let z = quantile(self.service / 100.0);
        let safety = z * libm::sqrt(variance);
        answer.add("reorder_point", "Order again at", demand * lead_time + safety, "1", Rounding::Up(0));
        answer.add("safety_stock", "Safety stock in it", safety, "1", Rounding::Digits(3));
        answer.add("z", "z", z, "1", Rounding::Places(3));
        self.unsaid(&mut answer);
        let text = "It is the share of cycles without a gap, not the share of the demand that is served.";
        answer.conclude(Sureness::Certain, text);
        Ok(answer)
    }
}

impl ReorderPoint {
    /// What the service level is worth where nobody says how much varies.
    fn unsaid(self, answer: &mut Answer) {
        let more = "How much the use of a week varies, from a year of issues, and how late orders came.";
        match (self.demand_deviation, self.lead_time_deviation) {
            (None, None) => {
                let text = "Nobody said how much demand or lead time vary, so nothing is kept for it, and the service level \
                            changes nothing: half of the cycles run out.";
                answer.conclude_and_ask(Sureness::Certain, text, more);
            }
            (None, Some(_)) | (Some(_), None) => {
                let text = "The deviation that was not said counts as 0: the point is too low where it varies.";
                answer.conclude_and_ask(Sureness::Certain, text, more);
            }
            (Some(_), Some(_)) => {}
        }
    }
}

/// A number that may be missing, and then counts as 0.
fn said(answer: &mut Answer, field: &'static str, value: Option<f64>) -> Result<f64, Refusal> {
    let Some(value) = value else {
        answer.taken(field, &Amount::of(Kind::Number, 0.0), Standing::Usual("nobody said it, as if nothing varied"));
        return Ok(0.0);
    };
    answer.word(field, value.to_string());
    number(field, value, 0.0, CHECK)
}

/// How much is ordered at once.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OrderQuantity {
    /// Used in a year.
    pub demand: f64,
    /// What an order costs.
    pub order_cost: f64,
    /// What one costs to keep for a year.
    pub holding_cost: f64,
}

impl OrderQuantity {
    /// The quantity at which ordering costs as much as keeping.
    pub fn reckon(self) -> Result<Answer, Refusal> {
        let mut answer = Answer::new("Order quantity", "Q = √(2·D·S/H)", &[WILSON]);
        let said = [("demand", self.demand), ("order_cost", self.order_cost), ("holding_cost", self.holding_cost)];
        for (field, value) in said {
            number(field, value, ABOVE_NOTHING, "give a number above 0")?;
            answer.word(field, value.to_string());
        }
        let quantity = libm::sqrt(2.0 * self.demand * self.order_cost / self.holding_cost);
        answer.add("quantity", "Order at once", quantity, "1", Rounding::Digits(3));
        answer.add("orders", "Orders a year", self.demand / quantity, "1", Rounding::Digits(2));
        let cost = self.demand / quantity * self.order_cost + quantity / 2.0 * self.holding_cost;
        answer.add("cost", "Ordering and keeping, a year", cost, "1", Rounding::Digits(3));
        answer.conclude(Sureness::Likely, "The cost hardly changes near it: round it to a pack, and mind the expiry.");
        Ok(answer)
    }
}

/// A job's work in one measure, hours or money.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EarnedValue {
    /// Of the work that should be done by now, its planned cost.
    pub planned: f64,
    /// Of the work that is done, its planned cost.
    pub earned: f64,
    /// What was spent.
    pub actual: f64,
    /// The planned cost of all.
    pub budget: f64,
}

impl EarnedValue {
    /// Indices, and three ways of saying what it will cost.
    pub fn reckon(self) -> Result<Answer, Refusal> {
        let formula = "SPI = EV/PV; CPI = EV/AC; EAC = BAC/CPI, AC + BAC − EV, or AC + (BAC − EV)/(SPI·CPI); TCPI = (BAC − \
                       EV)/(BAC − AC)";
        let mut answer = Answer::new("Earned value", formula, &[EARNED]);
        let todo = "give a number above 0: before anything is planned, done and spent there is no ratio";
        let said =
            [("planned", self.planned), ("earned", self.earned), ("actual", self.actual), ("budget", self.budget)];
        for (field, value) in said {
            number(field, value, ABOVE_NOTHING, todo)?;
            answer.word(field, value.to_string());
        }
        if self.earned > self.budget || self.planned > self.budget {
            let problem = format!("more than all of it, {}, can't be planned or earned", self.budget);
            return Err(Refusal::contradiction("budget", problem, "check budget, planned and earned"));
        }
        self.tell(&mut answer);
        Ok(answer)
    }

    fn tell(self, answer: &mut Answer) {
        let (spi, cpi) = (self.earned / self.planned, self.earned / self.actual);
        let open = self.budget - self.earned;
        let expected = self.budget / cpi;
        let (two, three) = (Rounding::Places(2), Rounding::Digits(3));
        answer.add("spi", "Schedule index SPI", spi, "1", two);
        answer.add("cpi", "Cost index CPI", cpi, "1", two);
        answer.add("sv", "Schedule variance", self.earned - self.planned, "1", three);
        answer.add("cv", "Cost variance", self.earned - self.actual, "1", three);
        answer.add("eac", "Cost in the end, as until now", expected, "1", three);
        answer.add("eac_budget", "Cost in the end, the rest as planned", self.actual + open, "1", three);
        answer.add(
            "eac_both",
            "Cost in the end, late and dear as until now",
            self.actual + open / (spi * cpi),
            "1",
            three,
        );
        answer.add("etc", "Still to be spent, as until now", expected - self.actual, "1", three);
        answer.add("vac", "Under budget in the end, as until now", self.budget - expected, "1", three);
        if self.budget > self.actual {
            let needed = open / (self.budget - self.actual);
            answer.add("tcpi", "Cost index that the rest would need", needed, "1", two);
        } else if open > 0.0 {
            answer.conclude(Sureness::Certain, "The budget is spent and work is open: it can't be met any more.");
        }
    }
}
