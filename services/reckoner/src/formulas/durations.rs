//! How long something lasts, by how long it lasted: what is still running counts as at least as long (Kaplan and Meier), so
//! that a slow one is not forgotten because it is not done. Quantiles and a log-normal fit beside it, where all are done.

use super::{CHECK, MOST_TASKS, number, quantile};
use crate::answer::{Answer, Rounding, Source, SourceKind, Sureness};
use crate::quantity::{Amount, Kind};
use crate::refusal::Refusal;

const SURVIVAL: Source = Source {
    name: "product-limit estimate (Kaplan and Meier 1958); at one time what ends comes before what still runs",
    kind: SourceKind::Published,
};
const QUANTILES: Source =
    Source { name: "sample quantiles of type 8 (Hyndman and Fan 1996)", kind: SourceKind::Published };
const FIT: Source =
    Source { name: "log-normal distribution, fitted by greatest likelihood", kind: SourceKind::Published };

/// The share within which an estimate is called safe, here as for a job's plan.
const SAFE: f64 = 0.8;
/// From fewer than so many that are done the range says more than any figure between: common practice.
const FEW: usize = 10;
/// What a product of fractions loses in the last bits must not step past exactly one half.
const NOISE: f64 = 1e-9;

/// A time in its own unit, and whether it still runs.
type Known = (f64, bool);

/// One of several: how long it lasted, or runs as yet.
#[derive(Debug, Clone, PartialEq)]
pub struct Duration {
    /// A time, or a number of a unit that is the same for all of them.
    pub time: Amount,
    /// Whether it still runs.
    pub running: bool,
}

/// Several of a kind, and after how long one is to be done.
#[derive(Debug, Clone, PartialEq)]
pub struct Durations {
    /// Each of them.
    pub all: Vec<Duration>,
    /// After how long one is to be done, where that is asked.
    pub due: Option<Amount>,
}

/// How many are left after a time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Left {
    /// The time.
    pub time: f64,
    /// How many ran until then.
    pub at_risk: usize,
    /// How many of these ended then.
    pub ended: usize,
    /// How many of these still run as long as that, and nobody knows how long yet.
    pub running: usize,
    /// The share that is left after it.
    pub share: f64,
    /// Greenwood's deviation of that share.
    pub deviation: f64,
}

/// Which definition of a sample's quantile: types 7 and 8 of Hyndman and Fan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quantile {
    /// Between the ranks 1 and n, as spreadsheets have it.
    Seven,
    /// Nearly unbiased in the median, whatever the distribution.
    Eight,
}

/// A log-normal distribution.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LogNormal {
    /// The mean of the logarithms.
    pub center: f64,
    /// Their deviation, divided by n: the fit of greatest likelihood.
    pub spread: f64,
}

impl Quantile {
    /// Below which a share of these lies; they are in order. None of none.
    pub fn of(self, sorted: &[f64], share: f64) -> Option<f64> {
        let (first, last) = (*sorted.first()?, *sorted.last()?);
        let count = many(sorted.len());
        let rank = match self {
            Self::Seven => (count - 1.0) * share + 1.0,
            Self::Eight => (count + 1.0 / 3.0) * share + 1.0 / 3.0,
        };
        let mut before = first;
        for (at, value) in sorted.iter().enumerate() {
            let own = many(at + 1);
            if own >= rank {
                return Some(before + (value - before) * (rank - (own - 1.0)));
            }
            before = *value;
        }
        Some(last)
    }
}

impl LogNormal {
    /// Fitted to times above nothing; none of fewer than two.
    pub fn fitted(times: &[f64]) -> Option<Self> {
        if times.len() < 2 || times.iter().any(|time| *time <= 0.0) {
            return None;
        }
        let logs = || times.iter().map(|time| libm::log(*time));
        let center = logs().sum::<f64>() / many(times.len());
        let squares = logs().map(|log| (log - center) * (log - center)).sum::<f64>();
        Some(Self { center, spread: libm::sqrt(squares / many(times.len())) })
    }

    /// Below which a share lies.
    pub fn quantile(&self, share: f64) -> f64 {
        libm::exp(self.center + self.spread * quantile(share))
    }

    /// The mean.
    pub fn mean(&self) -> f64 {
        libm::exp(self.center + self.spread * self.spread / 2.0)
    }
}

/// What is left after each time, of times with whether each still runs.
pub fn left_after(times: &[(f64, bool)]) -> Vec<Left> {
    let mut sorted = times.to_vec();
    sorted.sort_by(|one, other| one.0.total_cmp(&other.0));
    let (mut share, mut greenwood, mut at_risk) = (1.0, 0.0, sorted.len());
    let mut all = Vec::new();
    for same in sorted.chunk_by(|one, other| one.0.total_cmp(&other.0).is_eq()) {
        let running = same.iter().filter(|(_, running)| *running).count();
        let ended = same.len() - running;
        let (risk, done) = (many(at_risk), many(ended));
        share *= (risk - done) / risk;
        greenwood += if at_risk > ended { done / (risk * (risk - done)) } else { 0.0 };
        let deviation = share * libm::sqrt(greenwood);
        all.push(Left { time: same[0].0, at_risk, ended, running, share, deviation });
        at_risk -= same.len();
    }
    all
}

/// The first time after which no more than this share is left; none where more is left for as long as anything ran.
pub fn first_at(left: &[Left], share: f64) -> Option<f64> {
    left.iter().find(|left| left.share <= share + NOISE).map(|left| left.time)
}

impl Durations {
    /// Within which time half of them are done, and four in five.
    pub fn reckon(&self) -> Result<Answer, Refusal> {
        let formula =
            "S(t) = Π (1 − ended/at risk); half are done at the first t with S ≤ 1/2, four in five with S ≤ 1/5";
        let mut answer = Answer::new("How long it lasts", formula, &[SURVIVAL]);
        let (times, unit) = self.times(&mut answer)?;
        let done: Vec<f64> = times.iter().filter(|(_, running)| !running).map(|(time, _)| *time).collect();
        if done.is_empty() {
            let todo = "wait for the first that is done; until then only the least is known";
            return Err(Refusal::contradiction("times", "all of them still run", todo));
        }
        let left = left_after(&times);
        let three = Rounding::Digits(3);
        for (name, label, share) in
            [("median", "Half are done within", 0.5), ("safe", "Four in five are done within", 1.0 - SAFE)]
        {
            if let Some(time) = first_at(&left, share) {
                answer.add(name, label, time, unit, three);
            }
        }
        let range =
            done.iter().fold((f64::INFINITY, 0.0_f64), |(least, most), time| (least.min(*time), most.max(*time)));
        answer.add("least", "The shortest that is done", range.0, unit, three);
        answer.add("most", "The longest that is done", range.1, unit, three);
        if done.len() == times.len() {
            smooth(&mut answer, done, unit);
        }
        self.chance(&mut answer, &left)?;
        tell(&mut answer, &times, &left);
        Ok(answer)
    }

    fn times(&self, answer: &mut Answer) -> Result<(Vec<Known>, &'static str), Refusal> {
        let Some(first) = self.all.first().filter(|_| (2..=MOST_TASKS).contains(&self.all.len())) else {
            let problem = format!("there are {} times", self.all.len());
            return Err(Refusal::contradiction("times", problem, format!("give 2 to {MOST_TASKS}")));
        };
        let kind = first.time.kind();
        let mut times = Vec::new();
        for (index, one) in self.all.iter().enumerate() {
            let field = format!("times[{index}].time");
            let time = super::time(&field, &one.time, kind)?;
            times.push((number(&field, time, 0.0, CHECK)?, one.running));
        }
        let typed = self.all.iter().map(|one| format!("{}{}", one.time.typed(), if one.running { "+" } else { "" }));
        answer.in_unit_of("times", typed.collect::<Vec<_>>().join(", "), &first.time);
        Ok((times, if kind == Kind::Time { kind.unit() } else { "1" }))
    }

    fn chance(&self, answer: &mut Answer, left: &[Left]) -> Result<(), Refusal> {
        let Some(due) = &self.due else { return Ok(()) };
        let value = super::time("due", due, self.all[0].time.kind())?;
        answer.given("due", due);
        let after = left.iter().take_while(|left| left.time <= value).last().map_or(1.0, |left| left.share);
        answer.add("chance", "Done by then", (1.0 - after) * 100.0, "%", Rounding::Places(0));
        Ok(())
    }
}

/// Where all are done, the same from a curve that does not step.
fn smooth(answer: &mut Answer, mut done: Vec<f64>, unit: &'static str) {
    done.sort_by(f64::total_cmp);
    let three = Rounding::Digits(3);
    if let Some(safe) = Quantile::Eight.of(&done, SAFE) {
        answer.sources.push(QUANTILES);
        answer.add("safe_between", "Four in five, between those that were measured", safe, unit, three);
    }
    if let Some(fit) = LogNormal::fitted(&done) {
        answer.sources.push(FIT);
        answer.add("safe_fitted", "Four in five, by a log-normal fit", fit.quantile(SAFE), unit, three);
    }
}

fn tell(answer: &mut Answer, times: &[(f64, bool)], left: &[Left]) {
    let running = times.iter().filter(|(_, running)| *running).count();
    if running > 0 {
        let (verb, each) = if running == 1 { ("runs", "it counts") } else { ("run", "each counts") };
        answer.conclude(
            Sureness::Certain,
            format!("{running} of {} still {verb}: {each} as at least as long.", times.len()),
        );
    }
    if first_at(left, 1.0 - SAFE).is_none() {
        answer.conclude_and_ask(
            Sureness::Certain,
            "More than one in five still ran when the longest known time was over, so how long four in five take nobody can \
             say yet.",
            "Those that still run, once they are done.",
        );
    }
    if times.len() - running < FEW {
        answer.conclude_and_ask(
            Sureness::Possible,
            "From so few the range says more than any figure between.",
            "More of the same kind that are done.",
        );
    }
}

/// So many; far fewer than a double loses.
#[allow(clippy::cast_precision_loss, reason = "a thousand at most")]
fn many(count: usize) -> f64 {
    count as f64
}
