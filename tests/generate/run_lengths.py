"""Expected designs of EWMA and CUSUM charts: integral equations by composite Simpson rules, not Gauss's.

Both sums and averages of standard normal points; where centre and spread were learned, one over the average
rate of false alarms over what m points may give.
"""

import json
from pathlib import Path

import numpy as np
from scipy import optimize, stats

OUT = Path(__file__).parents[1] / "reference"
SCRIPT = "tests/generate/run_lengths.py"
WEIGHTS = (0.05, 0.075, 0.1, 0.125, 0.15, 0.2, 0.25, 0.3, 0.4, 0.5, 0.6, 0.8, 1.0)
WANTED = 370.0


def simpson(low, high, points):
    """Nodes and weights, `points` odd."""
    w = np.ones(points)
    w[1:-1:2], w[2:-1:2] = 4, 2
    return np.linspace(low, high, points), w * (high - low) / (points - 1) / 3


def ewma(weight, width, shift=0.0, points=301):
    half = width * np.sqrt(weight / (2 - weight))
    y, w = simpson(-half, half, points)

    def moves(start):
        return stats.norm.pdf((y - (1 - weight) * np.atleast_1d(start)[:, None]) / weight, shift) * w / weight

    lengths = np.linalg.solve(np.eye(points) - moves(y), np.ones(points))
    return 1 + float((moves(0.0) @ lengths)[0])


def one_sided(k, h, shift, start, points=301):
    y, w = simpson(0.0, h, points)

    def moves(begin):
        begin = np.atleast_1d(begin)[:, None]
        inside = stats.norm.pdf(y - begin + k, shift) * w
        return np.hstack((stats.norm.cdf(k - begin, shift), inside))

    nodes = np.append(0.0, y)
    lengths = np.linalg.solve(np.eye(points + 1) - moves(nodes), np.ones(points + 1))
    return float(lengths[0]), 1 + float((moves(start) @ lengths)[0])


def cusum(k, h, shift=0.0, start=0.0):
    """Both sides: the side that signals first, J. M. Lucas and R. B. Crosier (1982) (from memory)."""
    up, up_started = one_sided(k, h, shift, start)
    down, down_started = one_sided(k, h, -shift, start)
    return (up_started * down + up * down_started - up * down) / (up + down)


def ewma_width(weight, wanted):
    return optimize.brentq(lambda width: ewma(weight, width) - wanted, 0.8, 6, xtol=1e-9)


def learned(length_at, m):
    """One over the average rate when m points gave centre (normal) and spread (chi-square over m - 1)."""
    own, shares = np.polynomial.legendre.leggauss(20)
    chances, shares = (own + 1) / 2, shares / 2
    ratios = np.sqrt(stats.chi2.ppf(chances, m - 1) / (m - 1))
    errors = stats.norm.ppf((1 + chances) / 2) / np.sqrt(m)
    rate = sum(
        a * b / length_at(e, r)
        for e, a in zip(errors, shares, strict=True)
        for r, b in zip(ratios, shares, strict=True)
    )
    return 1 / rate


def own_shape(name, subject, source, cases):
    document = {"subject": subject, "kind": "computed", "source": source, "script": SCRIPT, "cases": cases}
    (OUT / f"{name}_computed.json").write_text(json.dumps(document, indent=1) + "\n", encoding="utf-8")


def case(inputs, outputs, atol):
    return {"inputs": inputs, "outputs": outputs, "atol": atol}


def main():
    source = "integral equation by composite Simpson rule, 301 points"
    widths = {weight: ewma_width(weight, WANTED) for weight in WEIGHTS if weight < 1}
    widths[1.0] = float(stats.norm.isf(1 / WANTED / 2))
    cases = [case({"weight": w, "run_length": WANTED}, {"value": widths[w]}, 1e-5) for w in (0.1, 0.2, 0.5)]
    own_shape("ewma_width", "qc.stats.runlength.ewma_width", source, cases)

    seen = {w: ewma(w, widths[w], 1.0) for w in WEIGHTS if w < 1}
    best = min(seen, key=seen.get)
    outputs = {"weight": best, "width": widths[best], "at_shift": seen[best], "run_length": WANTED}
    asked = {"shift": 1.0, "run_length": WANTED, "growing": False}
    own_shape("ewma_design", "qc.charts.ewma.design", source, [case(asked, outputs, 1e-4)])

    h = optimize.brentq(lambda h: cusum(0.5, h, 0.0, h / 2) - WANTED, 2, 9, xtol=1e-9)
    outputs = {"k": 0.5, "h": h, "at_shift": cusum(0.5, h, 1.0, h / 2), "head_start": 0.5}
    own_shape(
        "cusum_design", "qc.charts.cusum.design", source,
        [case({"shift": 1.0, "run_length": WANTED, "head_start": 0.5}, outputs, 1e-5)],
    )  # fmt: skip

    document = {
        "source": source + "; 20 by 20 Gauss nodes over what m points may give",
        "script": SCRIPT,
        "data": {"m": [20, 60], "weight": best, "width": widths[best], "k": 0.5, "h": h, "head_start": 0.5,
                 "error_of_400_geometric_runs": 1 / 400**0.5},
        "expected": {
            "ewma": [learned(lambda e, r: ewma(best, widths[best] * r, e, 101), m) for m in (20, 60)],
            "cusum": [
                learned(lambda e, r: cusum_learned(h, e, r), m) for m in (20, 60)
            ],
            # P(|x - mean| > 3 s) of a new point: t(m - 1) beyond 3 / sqrt(1 + 1/m)
            "three_sigma": [float(1 / (2 * stats.t.sf(3 / np.sqrt(1 + 1 / m), m - 1))) for m in (20, 60)],
        },
    }  # fmt: skip
    (OUT / "learned_run_lengths.json").write_text(json.dumps(document, indent=1) + "\n", encoding="utf-8")


def cusum_learned(h, error, ratio):
    up, up_started = one_sided(0.5 * ratio, h * ratio, error, h * ratio / 2, 101)
    down, down_started = one_sided(0.5 * ratio, h * ratio, -error, h * ratio / 2, 101)
    return (up_started * down + up * down_started - up * down) / (up + down)


if __name__ == "__main__":
    main()
