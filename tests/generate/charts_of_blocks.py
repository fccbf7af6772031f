"""Expected charts of one series of blocks, step by step in plain arithmetic; run rules in whole numbers."""

import json
from fractions import Fraction
from pathlib import Path

import numpy as np
from scipy import stats
from statsmodels.stats.diagnostic import kstest_normal

OUT = Path(__file__).parents[1] / "reference" / "charts_of_blocks.json"
WEIGHT, WIDTH, K, H, HEAD, LAG1 = 0.2, 2.9, 0.5, 5.0, 0.5, 0.3
TICK, PARTS = Fraction(1, 100000), 1441440


def spread_of(means, rho):
    """Standard deviation, the bias that a first-order autoregression gives its square taken out."""
    m = len(means)
    i = np.arange(m)
    correlation = rho ** np.abs(i[:, None] - i)
    return np.std(means, ddof=1) / np.sqrt((m - correlation.sum() / m) / (m - 1))


def averages(off):
    wide = np.sqrt((1 + (1 - WEIGHT) * LAG1) / (1 - (1 - WEIGHT) * LAG1))
    z, out, half = 0.0, [], []
    for t, value in enumerate(off, start=1):
        z += WEIGHT * (value - z)
        out.append(z)
        grown = 1 - (1 - WEIGHT) ** (2 * t)
        half.append(wide * WIDTH * np.sqrt(WEIGHT / (2 - WEIGHT) * grown))
    return np.array(out), np.array(half)


def sums(off):
    high = low = HEAD * H
    out = []
    for value in off:
        high, low = max(0.0, high + value - K), max(0.0, low - value - K)
        out.append((high, low))
    return np.array(out).T


def ends_of_runs(holds, needed):
    count, out = 0, []
    for one in holds:
        count = count + 1 if one else 0
        out.append(count >= needed)
    return out


def either(one, other):
    return [a or b for a, b in zip(one, other, strict=True)]


def rules(whole, center, reach):
    above = ends_of_runs([v > center for v in whole], 8)
    below = ends_of_runs([v < center for v in whole], 8)
    steps = [b - a for a, b in zip(whole, whole[1:], strict=False)]
    up, down = ends_of_runs([s > 0 for s in steps], 5), ends_of_runs([s < 0 for s in steps], 5)
    return {
        "lasting_shift": either(above, below),
        "slow_walk": [False, *either(up, down)],
        "too_quiet": ends_of_runs([abs(v - center) < reach for v in whole], 15),
    }


def main():
    rng = np.random.default_rng(20261127)
    means = np.concatenate(
        [rng.normal(0, 1, 12), rng.normal(0.2, 0.3, 18), np.linspace(-1, 1.4, 7), rng.normal(1.6, 0.5, 10)]
    ).round(2)
    center = float(means.mean())
    s, plain = spread_of(means, LAG1), spread_of(means, 0.0)
    z, half = averages((means - center) / s)
    high, low = sums((means - center) / plain)
    # eight bores a block: every mean is a whole number of parts of a tick
    whole = [round(Fraction(str(v)) / TICK * PARTS) for v in means]
    reach = round(Fraction(1) / TICK * PARTS)
    gap, _ = kstest_normal(means, dist="norm")
    hits = [True, True, False, True, True, True, False, True]
    document = {
        "source": "plain arithmetic of EWMA, CUSUM and run rules; largest gap by statsmodels kstest_normal",
        "script": "tests/generate/charts_of_blocks.py",
        "data": {
            "means": means.tolist(), "weight": WEIGHT, "width": WIDTH, "k": K, "h": H, "head_start": HEAD,
            "lag1": LAG1, "hits": hits, "breaks": [0, 0, 0, 0, 1, 1, 1, 1],
        },
        "expected": {
            "center": center, "s": s,
            "averages": (center + z * s).tolist(), "upper": (center + half * s).tolist(),
            "lower": (center - half * s).tolist(),
            "high": (high * plain).tolist(), "low": (low * plain).tolist(), "reach": H * plain,
            "whole": whole, "runs": [1, 2, 0, 1, 1, 2, 0, 1],
            **rules(whole, 0, reach),
            "largest_gap": gap,
            # 8 on one side of the middle: 2^8 - 1; 15 within one spread: (1 - p^15)/((1 - p) p^15), Feller
            "run_length_lasting_shift": 255.0,
            "run_length_too_quiet": float((1 - P**15) / ((1 - P) * P**15)),
            "t_of_a_mean": float(stats.t.isf(0.025, 194)),
        },
    }  # fmt: skip
    OUT.write_text(json.dumps(document, indent=1) + "\n", encoding="utf-8")


P = float(stats.norm.cdf(1) - stats.norm.cdf(-1))

if __name__ == "__main__":
    main()
