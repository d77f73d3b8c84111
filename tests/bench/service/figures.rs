//! Rates, percentiles and medians.

use std::time::Duration;

/// What one round came to.
#[derive(Debug, Clone, Copy, Default)]
pub struct Round {
    /// A second.
    pub rate: f64,
    /// Milliseconds in half of all cases.
    pub p50: f64,
    /// Milliseconds in 99 of 100 cases.
    pub p99: f64,
}

impl Round {
    /// From the length of each, all together within `took`.
    pub fn of(mut millis: Vec<f64>, took: Duration) -> Self {
        if millis.is_empty() {
            return Self::default();
        }
        millis.sort_by(f64::total_cmp);
        let at = |percent: usize| millis[(millis.len() * percent).div_ceil(100).saturating_sub(1)];
        Self { rate: millis.len() as f64 / took.as_secs_f64(), p50: at(50), p99: at(99) }
    }
}

/// The median of rounds, figure by figure.
pub fn median(rounds: &[Round]) -> Round {
    let middle = |figure: fn(&Round) -> f64| {
        let mut all: Vec<f64> = rounds.iter().map(figure).collect();
        all.sort_by(f64::total_cmp);
        all.get(all.len() / 2).copied().unwrap_or_default()
    };
    Round { rate: middle(|one| one.rate), p50: middle(|one| one.p50), p99: middle(|one| one.p99) }
}

/// A line of the table.
pub fn line(what: &str, round: Round) {
    println!("{what:<44} {:>9.0}/s   p50 {:>8.2} ms   p99 {:>8.2} ms", round.rate, round.p50, round.p99);
}

/// A ratio beside what must be and what is aimed at.
pub fn ratio(what: &str, ratio: f64, must: &str, aim: &str) {
    println!("{what:<44} {ratio:>9.2}     must {must}, aim {aim}");
}
