"""Expected comparisons, corrections and lines of fixed values from general-purpose libraries."""

import json
from pathlib import Path

import numpy as np
from scipy import stats
from scipy.special import digamma
from statsmodels.regression.linear_model import GLS
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.weightstats import CompareMeans, DescrStatsW

OUT = Path(__file__).parents[1] / "reference"
RNG = np.random.default_rng(20261125)


def write(name, subject, source, cases):
    document = {
        "subject": subject,
        "kind": "computed",
        "source": source,
        "script": "tests/generate/month_and_charts.py",
        "cases": [{"inputs": i, "outputs": o, "atol": a} for i, o, a in cases],
    }
    (OUT / f"{name}_computed.json").write_text(json.dumps(document, indent=1) + "\n", encoding="utf-8")


def months():
    a, b = RNG.normal(1.0, 1.0, 9).round(3), RNG.normal(0.0, 1.8, 12).round(3)
    test = stats.levene(a, b, center="median")
    ratio = np.abs(a - np.median(a)).mean() / np.abs(b - np.median(b)).mean()
    write(
        "block_to_block",
        "qc.compare.spread.block_to_block",
        "scipy.stats.levene, centre median",
        [
            (
                {"means_a": a.tolist(), "means_b": b.tolist()},
                {"statistic": test.statistic, "p": test.pvalue, "ratio": ratio},
                1e-10,
            )
        ],
    )
    # Equal numbers of bores make equal weights: then it is the Welch test of the library on logarithms.
    s_a, s_b = (1.2 * RNG.chisquare(7, 8) / 7).round(3), (RNG.chisquare(5, 10) / 5).round(3)
    y_a, y_b = (np.log(s) - (digamma(v / 2) - np.log(v / 2)) / 2 for s, v in ((s_a, 7), (s_b, 5)))
    t, p, df = CompareMeans(DescrStatsW(y_a), DescrStatsW(y_b)).ttest_ind(usevar="unequal")
    inputs = {"s_a": s_a.tolist(), "n_a": [8] * 8, "s_b": s_b.tolist(), "n_b": [6] * 10, "resolution": 0.0}
    write(
        "spread_in_block",
        "qc.compare.spread.spread_in_block",
        "statsmodels CompareMeans.ttest_ind (Welch) on logarithms less E ln s of normal samples",
        [(inputs, {"statistic": t, "p": p, "df": df, "ratio": float(np.exp(y_a.mean() - y_b.mean()))}, 1e-9)],
    )
    p = [0.012, 0.3, 0.004, 0.04, 0.9, 0.011]
    write(
        "holm",
        "qc.compare.spread.holm",
        "statsmodels multipletests, Holm (1979)",
        [({"p": p}, {"value": multipletests(p, method="holm")[1].tolist()}, 1e-12)],
    )


def charts():
    x = RNG.normal(0.0, 1.3, 24).round(3)
    half = stats.t.ppf(1 - 0.005, 23) * x.std(ddof=1) * np.sqrt(1 + 1 / 24)
    inputs = {
        "means": x.tolist(),
        "bores": [8] * 24,
        "spread_in_block": 2.0,
        "spread_between_blocks": 1.1,
        "level": 0.01,
    }
    write(
        "prediction_limits",
        "qc.charts.block_means.prediction_limits",
        "Hahn and Meeker, Statistical Intervals (1991) 4.8 (from memory), t from scipy",
        [
            (
                inputs,
                {"center": x.mean(), "lower_limit": x.mean() - half, "upper_limit": x.mean() + half},
                1e-9,
            )
        ],
    )


def lines():
    x, n = np.cumsum(RNG.integers(4, 9, 20)).astype(float), RNG.integers(4, 9, 20).astype(float)
    y = (0.05 * x + RNG.normal(size=20)).round(3)
    sd = np.sqrt(0.8**2 + 2.0**2 / n)
    matrix = np.outer(sd, sd) * 0.3 ** np.abs(np.subtract.outer(np.arange(20), np.arange(20)))
    fit = GLS(y, np.column_stack([np.ones(20), x]), sigma=matrix).fit()
    inputs = {
        "x": x.tolist(),
        "y": y.tolist(),
        "bores": n.tolist(),
        "spread_in_block": 2.0,
        "spread_between_blocks": 0.8,
        "lag1": 0.3,
    }
    outputs = {"slope": fit.params[1], "intercept": fit.params[0], "standard_error": fit.bse[1]}
    write(
        "wear_slope",
        "qc.drift.trend.slope",
        "statsmodels GLS with the whole covariance matrix",
        [(inputs, outputs, 1e-9)],
    )
    a, b = RNG.normal(size=20).round(3), RNG.normal(0.6, 1, 10).round(3)
    p = stats.ttest_ind(b, a, alternative="greater").pvalue
    write(
        "grown_spread",
        "qc.drift.scatter.grown",
        "scipy.stats.ttest_ind, one-sided",
        [({"reference": a.tolist(), "latest": b.tolist()}, {"value": p}, 1e-11)],
    )


if __name__ == "__main__":
    months()
    charts()
    lines()
