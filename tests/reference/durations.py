"""How long things lasted: quantiles, a log-normal fit, and what is left by Kaplan and Meier while some still run."""

import csv
import math
from fractions import Fraction
from pathlib import Path

import numpy as np
from lifelines import KaplanMeierFitter
from scipy import stats
from statsmodels.duration.survfunc import SurvfuncRight

VECTORS = Path(__file__).resolve().parents[2] / "services" / "reckoner" / "tests" / "vectors"
# Minutes, invented.
MINUTES = [95, 110, 128, 140, 155, 210, 320]


def quantiles(rows):
    """Types 7 and 8 of Hyndman and Fan, by numpy."""
    made = []
    for row in rows:
        share = float(row["p"])
        made.append({
            "type7": float(np.quantile(MINUTES, share, method="linear")),
            "type8": float(np.quantile(MINUTES, share, method="median_unbiased")),
        })
    return made


def lognormal(rows):
    """The fit of greatest likelihood, by scipy."""
    logs = np.log(MINUTES)
    center, spread = float(logs.mean()), float(logs.std())
    figures = {
        "mu": center,
        "sigma_mle": spread,
        "sigma_n_minus_1": float(logs.std(ddof=1)),
        "median": math.exp(center),
        "mean_mle": math.exp(center + spread**2 / 2),
    }
    for percent in (50, 80, 90, 95):
        figures[f"P{percent}_mle"] = float(stats.lognorm.ppf(percent / 100, spread, scale=math.exp(center)))
    return [{"value": figures[row["quantity"]]} for row in rows]


def inputs(name):
    with open(VECTORS / "kaplan_meier_input.csv", encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["set"] == name]
    return [float(row["t"]) for row in rows], [int(row["event"]) for row in rows]


def left(rows):
    """By lifelines, with Greenwood's deviation by statsmodels; the median apart, exactly in fractions."""
    tables = {name: survival(*inputs(name)) for name in {row["set"] for row in rows}}
    return [tables[row["set"]][row["t"]] for row in rows]


def survival(times, events):
    fitted = KaplanMeierFitter().fit(times, events)
    other = SurvfuncRight(np.array(times), np.array(events))
    deviation = dict(zip(other.surv_times, other.surv_prob_se))
    made, exact, median = {}, Fraction(1), None
    for time in sorted(set(times)):
        risk, observed, censored = (int(fitted.event_table.loc[time, name]) for name in ("at_risk", "observed", "censored"))
        share = float(fitted.survival_function_at_times(time).iloc[0])
        known = time in deviation and share > 0
        made[f"{time:g}"] = {
            "at_risk": float(risk),
            "events": float(observed),
            "censored": float(censored),
            "S": share,
            "greenwood_se": float(deviation[time]) if known else None,
        }
        exact *= Fraction(risk - observed, risk)
        if exact <= Fraction(1, 2) and median is None:
            median = time
    made["median_exact"] = {"S": median}
    made["median_lifelines"] = {"S": float(fitted.median_survival_time_)}
    return made


TABLES = {"quantiles": quantiles, "lognormal": lognormal, "kaplan_meier": left}
