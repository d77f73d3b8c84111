//! How long things last. Vectors: `vectors/quantiles.csv` (Hyndman and Fan's types 7 and 8, by numpy), `lognormal.csv` (scipy),
//! `kaplan_meier.csv` (a published set and an invented one, by lifelines and statsmodels; its median exactly in fractions).

mod kit;

use kit::{near, num, read, refused, rows, shown, value, whole};
use leadhand_reckoner::formulas::{Duration, Durations, LogNormal, Quantile, first_at, left_after};
use leadhand_reckoner::{Answer, Kind};
use proptest::prelude::*;

/// Minutes, invented.
const MINUTES: [f64; 7] = [95.0, 110.0, 128.0, 140.0, 155.0, 210.0, 320.0];

#[test]
fn quantiles_are_those_of_the_types() {
    for row in rows(include_str!("vectors/quantiles.csv")) {
        for (kind, cell) in [(Quantile::Seven, row[1]), (Quantile::Eight, row[2])] {
            let got = kind.of(&MINUTES, num(row[0])).expect("there are some");
            near(&format!("{kind:?} at {}", row[0]), got, num(cell), 1e-9);
        }
    }
    assert_eq!(Quantile::Eight.of(&[], 0.5), None);
    assert_eq!(Quantile::Seven.of(&[3.0], 0.9), Some(3.0));
}

#[test]
fn the_log_normal_fit_is_that_of_greatest_likelihood() {
    let fit = LogNormal::fitted(&MINUTES).expect("fits");
    for row in rows(include_str!("vectors/lognormal.csv")) {
        let got = match row[0] {
            "mu" => fit.center,
            "sigma_mle" => fit.spread,
            // The same sum of squares over n - 1.
            "sigma_n_minus_1" => fit.spread * (7.0_f64 / 6.0).sqrt(),
            "median" | "P50_mle" => fit.quantile(0.5),
            "mean_mle" => fit.mean(),
            "P80_mle" => fit.quantile(0.8),
            "P90_mle" => fit.quantile(0.9),
            "P95_mle" => fit.quantile(0.95),
            other => panic!("{other} is not expected"),
        };
        near(row[0], got, num(row[1]), 1e-8);
    }
    assert_eq!(LogNormal::fitted(&[3.0]), None);
    assert_eq!(LogNormal::fitted(&[3.0, 0.0]), None);
}

fn set(name: &str) -> Vec<(f64, bool)> {
    let rows = rows(include_str!("vectors/kaplan_meier_input.csv"));
    rows.iter().filter(|row| row[0] == name).map(|row| (num(row[1]), row[2] == "0")).collect()
}

/// The published set reaches exactly one half: its median is the time of that, and no rounding may step past it.
#[test]
fn what_is_left_while_some_still_run() {
    let mut medians = 0;
    for row in rows(include_str!("vectors/kaplan_meier.csv")) {
        let left = left_after(&set(row[0]));
        match row[1] {
            "median_exact" => {
                assert_eq!(first_at(&left, 0.5), Some(num(row[5])), "{}", row[0]);
                medians += 1;
            }
            "median_lifelines" => {}
            time => {
                let found = left.iter().find(|left| (left.time - num(time)).abs() < 1e-12).expect("its time");
                let counts = [found.at_risk, found.ended, found.running].map(|count| count.to_string());
                assert_eq!(counts, [row[2], row[3], row[4]], "{} at {time}", row[0]);
                near(time, found.share, num(row[5]), 1e-9);
                if !row[6].is_empty() {
                    near(time, found.deviation, num(row[6]), 1e-9);
                }
            }
        }
    }
    assert_eq!(medians, 2);
}

fn asked(times: &[&str], due: Option<&str>) -> Durations {
    let one = |text: &&str| {
        let (time, running) = text.strip_suffix('+').map_or((*text, false), |time| (time, true));
        Duration { time: read(Kind::Time, time), running }
    };
    Durations { all: times.iter().map(one).collect(), due: due.map(|due| read(Kind::Time, due)) }
}

fn says(answer: &Answer, part: &str) -> bool {
    answer.conclusions.iter().any(|one| one.text.contains(part))
}

/// The invented set of the vectors: S is 0.45 after 4 h, and 0.225 after 6 h, which is more than one in five.
#[test]
fn what_still_runs_is_not_forgotten() {
    let answer = asked(&["2 h", "3.5 h", "3.5 h+", "4 h", "4 h", "5.5 h+", "6 h", "8 h+"], Some("5 h")).reckon();
    let answer = answer.expect("reckons");
    whole(&answer);
    near("median", value(&answer, "median"), 240.0, 1e-12);
    assert!(answer.figure("safe").is_none() && says(&answer, "nobody can say yet"), "{answer:#?}");
    assert!(says(&answer, "3 of 8 still run: each counts as at least as long"), "{answer:#?}");
    assert_eq!(shown(&answer, "chance"), "55 %");
    assert!(answer.figure("safe_fitted").is_none(), "no fit is told that forgets those that run");
    assert!(says(&answer, "the range says more"), "five are few");
    refused(asked(&["2 h+", "3 h+"], None).reckon(), "CONTRADICTION", "all of them still run");
    refused(asked(&["2 h"], None).reckon(), "CONTRADICTION", "there are 1 times");
}

/// All done: the figures of `quantiles.csv` and `lognormal.csv` at 0.8.
#[test]
fn where_all_are_done_the_curves_stand_beside_the_steps() {
    let times = MINUTES.map(|minutes| format!("{minutes} min"));
    let times: Vec<&str> = times.iter().map(String::as_str).collect();
    let answer = asked(&times, None).reckon().expect("reckons");
    whole(&answer);
    near("P80, type 8", value(&answer, "safe_between"), 232.0, 1e-9);
    near("P80, log-normal", value(&answer, "safe_fitted"), 210.801_968_3, 1e-8);
    near("median", value(&answer, "median"), 140.0, 1e-12);
    // Six of seven are done within 210 min, five within 155.
    near("four in five", value(&answer, "safe"), 210.0, 1e-12);
    assert_eq!((shown(&answer, "least"), shown(&answer, "most")), ("95.0 min".to_owned(), "320 min".to_owned()));
}

proptest! {
    /// Running on makes nothing shorter, and what is left only shrinks.
    #[test]
    fn what_is_left_shrinks_and_running_on_shortens_nothing(
        times in proptest::collection::vec((1..50_u32, any::<bool>()), 2..40),
        at in 0..40_usize,
    ) {
        let times: Vec<(f64, bool)> = times.into_iter().map(|(time, running)| (f64::from(time), running)).collect();
        let left = left_after(&times);
        prop_assert!(left.windows(2).all(|two| two[1].share <= two[0].share + 1e-12));
        prop_assert_eq!(left.iter().map(|left| left.ended + left.running).sum::<usize>(), times.len());
        let mut longer = times.clone();
        let at = at % times.len();
        longer[at].1 = true;
        let of = |times: &[(f64, bool)]| first_at(&left_after(times), 0.5).unwrap_or(f64::INFINITY);
        prop_assert!(of(&longer) >= of(&times));
    }

    /// A quantile lies among what it is of, and grows with its share.
    #[test]
    fn a_quantile_lies_among_its_own(
        mut values in proptest::collection::vec(0.0..1e4_f64, 1..30),
        low in 0.0..1.0_f64,
        more in 0.0..1.0_f64,
    ) {
        values.sort_by(f64::total_cmp);
        let high = low + (1.0 - low) * more;
        for kind in [Quantile::Seven, Quantile::Eight] {
            let (one, other) = (kind.of(&values, low).expect("some"), kind.of(&values, high).expect("some"));
            prop_assert!(one <= other + 1e-9 && one >= values[0] - 1e-9 && other <= values[values.len() - 1] + 1e-9);
        }
    }
}
