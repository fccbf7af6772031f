"""Expected figures of charts, lags and fits from general-purpose libraries and exact arithmetic."""

import json
from fractions import Fraction
from math import comb
from pathlib import Path

import numpy as np
from scipy import integrate, optimize, stats
from statsmodels.regression.linear_model import OLS
from statsmodels.stats import oneway

OUT = Path(__file__).parents[1] / "reference"
RNG = np.random.default_rng(20261126)
LEVEL = 0.00073


class Plain(json.JSONEncoder):
    def default(self, o):
        return o.item()


def write(name, subject, source, cases):
    document = {
        "subject": subject,
        "kind": "computed",
        "source": source,
        "script": "tests/generate/charts_and_capability.py",
        "cases": [{"inputs": i, "outputs": o, "atol": a} for i, o, a in cases],
    }
    text = json.dumps(document, indent=1, cls=Plain)
    (OUT / f"{name}_computed.json").write_text(text + "\n", encoding="utf-8")


def matrices(m, rho):
    i = np.arange(m)
    return np.eye(m) - 1 / m, rho ** np.abs(i[:, None] - i)


def expected_ratio(m, rho):
    centred, correlation = matrices(m, rho)
    both = centred @ correlation @ centred
    return np.trace(both, 1) / np.trace(both)


def lags():
    series = [np.cumsum(RNG.normal(size=m)) * 0.5 + RNG.normal(size=m) for m in (12, 20, 31)]
    series = [x.round(3) for x in series]
    observed = 0.0
    for x in series:
        off = x - x.mean()
        observed += x.size * (off[1:] * off[:-1]).sum() / (off**2).sum()
    rho = optimize.brentq(
        lambda r: sum(x.size * expected_ratio(x.size, r) - 2 * r for x in series) - observed, -0.9, 0.9
    )
    pairs = sum(x.size - 1 for x in series)
    write(
        "lag1", "qc.stats.lag.lag1",
        "expected sums by traces of covariance matrices; bias by Kendall, Biometrika 41 (1954) 403-404 (from "
        "memory)",
        [
            (
                {"series": [x.tolist() for x in series]},
                {"rho": rho, "pairs": pairs, "series": 3, "standard_error": np.sqrt((1 - rho**2) / pairs)},
                1e-8,
            )
        ],
    )  # fmt: skip
    cases = []
    for m, rho in ((5, 0.3), (20, 0.5), (80, 0.8), (30, 0.0)):
        centred, correlation = matrices(m, rho)
        once = centred @ correlation
        outputs = {
            "variance_factor": np.trace(once) / (m - 1),
            "blocks_for_mean": m**2 / correlation.sum(),
            "df": np.trace(once) ** 2 / np.trace(once @ once),
        }
        cases.append(({"blocks": m, "rho": rho}, outputs, 1e-9))
    write(
        "effective", "qc.stats.lag.effective", "traces of matrices, Satterthwaite (1946) (from memory)", cases
    )
    cases = [
        ({"blocks": m, "rho": rho, "level": level}, {"value": blocks_worth(m, rho, level)}, 2e-3)
        for m, rho, level in ((15, 0.5, 0.01), (30, 0.25, 0.00073), (40, 0.5, 0.00073))
    ]
    source = "J. P. Imhof, Biometrika 48 (1961) 419-426, inversion of a quadratic form (from memory), scipy"
    write("effective_blocks", "qc.stats.lag.effective_blocks", source, cases)


def beyond(eigenvalues):
    """P(sum of eigenvalues times squared normals > 0), by Imhof's integral."""

    def under(u):
        angle = 0.5 * np.arctan(eigenvalues * u).sum()
        return np.sin(angle) / (u * np.prod((1 + (eigenvalues * u) ** 2) ** 0.25))

    found = sum(
        integrate.quad(under, a, b, limit=400, epsabs=1e-13)[0]
        for a, b in ((1e-12, 1), (1, 10), (10, 100), (100, 1e3), (1e3, 1e4), (1e4, 1e6))
    )
    return 0.5 + found / np.pi


def blocks_worth(m, rho, level):
    centred, correlation = matrices(m, rho)
    whole = np.zeros((m + 1, m + 1))
    whole[:m, :m], whole[m, m] = correlation, 1.0
    root = np.linalg.cholesky(whole)
    off = np.append(np.full(m, -1 / m), 1.0)
    spread = np.zeros((m + 1, m + 1))
    spread[:m, :m] = centred / (m - 1)

    def passed(k):
        form = root.T @ (np.outer(off, off) - k * k * spread) @ root
        own = np.linalg.eigvalsh(form)
        return beyond(own / np.abs(own).max())

    k = optimize.brentq(lambda k: passed(k) - level, 1.5, 40, xtol=1e-7)
    k *= np.sqrt(np.trace(centred @ correlation) / (m - 1))
    return optimize.brentq(
        lambda n: stats.t.ppf(1 - level / 2, n - 1) * np.sqrt(1 + 1 / n) - k, 1.5, m, xtol=1e-9
    )


def shares_of_blocks():
    cases = [
        ({"bores": n, "blocks": m, "between": b, "within": w}, {"value": value}, 1e-12)
        for n, m, b, w, value in ((80, 10, 3.0, 4.0, 80 / (1 + 7 * 9 / 25)), (40, 5, 0.0, 2.0, 40.0),
                                  (40, 5, 2.0, 0.0, 5.0))
    ]  # fmt: skip
    source = "design effect, L. Kish, Survey Sampling (1965), 5.4 (from memory), by hand"
    write("equivalent_bores", "qc.stats.proportions.equivalent_bores", source, cases)
    cases = [
        ({"false_alarms_a_month": 0.5, "blocks_a_month": 400.0}, {"value": 0.00125}, 1e-15),
        ({"false_alarms_a_month": 3.0, "blocks_a_month": 40.0}, {"value": 0.05}, 1e-15),
    ]
    write("alarm_level", "qc.stats.levels.alarm_level", "the budget over the blocks, by hand", cases)


def acceptance():
    lower, upper, spread, good, bad, risk = -10.0, 12.0, 2.5, 0.00135, 0.025, 0.05
    means, bores = [0.5, 7.0, -6.5, 5.9], [8, 8, 4, 4]
    z = stats.norm.isf
    back = [spread * (z(good) - z(risk) / np.sqrt(n)) for n in bores]
    # a block at the rejectable level, by the law of its mean
    level = upper - z(bad) * spread
    missed = [
        stats.norm.cdf(upper - b, level, spread / np.sqrt(n)) for b, n in zip(back, bores, strict=True)
    ]

    def accepted(n):
        return stats.norm.cdf(upper - spread * (z(good) - z(risk) / np.sqrt(n)), level, spread / np.sqrt(n))

    needed = next(n for n in range(1, 500) if accepted(n) <= risk)
    outputs = {
        "lower": [lower + b for b in back], "upper": [upper - b for b in back], "missed": missed,
        "bores_needed": needed, "signals": [False, True, True, False],
        "acceptable": [lower + z(good) * spread, upper - z(good) * spread],
    }  # fmt: skip
    inputs = {"means": means, "bores": bores, "lower": lower, "upper": upper, "spread_in_block": spread}
    source = "normal law of block means, scipy"
    write("acceptance", "qc.charts.acceptance.acceptance", source, [(inputs, outputs, 1e-9)])


def ends_of(chance, most):
    """Least and greatest count whose tails are both above half the level, in exact fractions."""
    fine = [c for c in range(most + 1) if min(chance(c)) > Fraction(73, 100000) / 2]
    return fine[0], fine[-1]


def counts():
    x, n = [3, 1, 9, 0, 2, 4], [40, 25, 50, 30, 20, 35]
    ends = []
    for i, of in enumerate(n):
        others, left = sum(x) - x[i], sum(n) - of

        def chance(c, others=others, left=left, of=of):
            total, good = comb(left + of, of), others + c
            law = [Fraction(comb(good, k) * comb(left + of - good, of - k), total) for k in range(of + 1)]
            return sum(law[: c + 1]), sum(law[c:])

        ends.append(ends_of(chance, of))
    low, high = (list(side) for side in zip(*ends, strict=True))
    outputs = {"center": sum(x) / sum(n), "lower": low, "upper": high}
    source = "hypergeometric law in exact fractions"
    write("shares", "qc.charts.attributes.shares", source, [({"counts": x, "of": n}, outputs, 1e-12)])
    x, a = [4, 2, 15, 3, 6], [8, 8, 10, 4, 8]
    ends = []
    for i, area in enumerate(a):
        others, p = sum(x) - x[i], Fraction(area, sum(a))

        def chance(c, others=others, p=p):
            law = [comb(others + c, k) * p**k * (1 - p) ** (others + c - k) for k in range(others + c + 1)]
            return sum(law[: c + 1]), sum(law[c:])

        ends.append(ends_of(chance, 120))
    low, high = (list(side) for side in zip(*ends, strict=True))
    outputs = {"center": sum(x) / sum(a), "lower": low, "upper": high}
    source = "binomial law in exact fractions"
    write("faults", "qc.charts.attributes.faults", source, [({"counts": x, "looked_at": a}, outputs, 1e-12)])


def one_chart():
    cases = []
    for m in (20, 50, 200):
        half = stats.t.isf(LEVEL / 2, m - 1) * np.sqrt(1 + 1 / m)
        ratios = np.sqrt(stats.chi2.ppf([0.95, 0.05], m - 1) / (m - 1))
        lengths = [1 / (2 * stats.norm.sf(half * r)) for r in sorted(ratios)]
        cases.append(({"level": LEVEL, "m": m}, {"value": lengths}, 1e-9 * max(lengths)))
    write("one_chart", "qc.charts.block_means.one_chart", "chi-square and normal laws, scipy", cases)


def t2():
    later, among = [], []
    for m, p, a in ((20, 2, 0.00073), (40, 4, 0.01)):
        asked = {"m": m, "p": p, "level": a}
        next_one = p * (m + 1) * (m - 1) / (m * (m - p)) * stats.f.isf(a, p, m - p)
        later.append((asked, {"value": next_one}, 1e-8))
        one_of_them = (m - 1) ** 2 / m * stats.beta.isf(a, p / 2, (m - p - 1) / 2)
        among.append((asked, {"value": one_of_them}, 1e-8))
    write("t2_limit", "qc.charts.multivariate.limit", "F law, scipy", later)
    write("t2_limit_among_learned", "qc.charts.multivariate.limit_among_learned", "beta law, scipy", among)
    x = RNG.multivariate_normal([1.0, 2.0], [[1.0, 0.6], [0.6, 2.0]], 24).round(3)
    x[7] += [3.0, -3.0]
    spread = np.cov(x.T)
    whole = np.einsum("ij,jk,ik->i", x - x.mean(0), np.linalg.inv(spread), x - x.mean(0))
    alone = (x - x.mean(0)) ** 2 / np.diag(spread)
    outputs = {
        "statistic": whole.tolist(), "contributions": (whole[:, None] - alone[:, ::-1]).tolist(),
        "upper": [(23**2) / 24 * stats.beta.isf(LEVEL, 1, 21 / 2)] * 24,
    }  # fmt: skip
    inputs = {"values": x.tolist(), "names": ["size", "taper"]}
    source = "numpy covariance and inverse, beta law of scipy"
    write("t2_of_blocks", "qc.charts.multivariate.multivariate", source, [(inputs, outputs, 1e-8)])


def wear_lines():
    stretch = np.repeat([1, 2, 3], [9, 7, 10])
    wear = np.concatenate([np.arange(k) * 8.0 for k in (9, 7, 10)])
    means = (0.02 * wear + np.array([0.0, 0.5, -0.3])[stretch - 1] + RNG.normal(0, 0.4, 26)).round(3)
    means[12] += 3.0
    design = np.column_stack([wear, *(stretch == s for s in (1, 2, 3))]).astype(float)
    fit = OLS(means, design).fit()
    influence = fit.get_influence()
    t, df = stats.t.isf(LEVEL / 2, fit.df_resid - 1), fit.df_resid
    half = np.sqrt(fit.mse_resid * (1 - influence.hat_matrix_diag)) * t * np.sqrt(df / (df - 1 + t * t))
    outputs = {
        "slope": fit.params[0], "slope_error": fit.bse[0], "s": np.sqrt(fit.mse_resid), "df": df,
        "line": fit.fittedvalues.tolist(), "lower": (fit.fittedvalues - half).tolist(),
        "upper": (fit.fittedvalues + half).tolist(),
        "signals": (np.abs(influence.resid_studentized_external) > t).tolist(),
    }  # fmt: skip
    inputs = {"means": means.tolist(), "wear": wear.tolist(), "stretch": stretch.tolist()}
    source = "statsmodels OLS with a height for each stretch, externally studentised residuals"
    write("wear_lines", "qc.charts.regression.regression", source, [(inputs, outputs, 1e-8)])


def short_runs():
    family = ["a"] * 7 + ["b"] * 5 + ["c"] * 9
    x = np.concatenate([RNG.normal(0, 1, 7), RNG.normal(0.5, 2, 5), RNG.normal(0, 1.2, 9)]).round(3)
    groups = [x[:7], x[7:12], x[12:]]
    outputs = {
        "p_spread": oneway.test_scale_oneway(groups, method="equal", center="median", transform="abs").pvalue,
        "p_level": oneway.anova_oneway(groups, use_var="equal").pvalue,
    }
    inputs = {"deviations": x.tolist(), "family": family}
    source = "statsmodels test_scale_oneway (deviations from medians) and anova_oneway"
    write("short_run_pooling", "qc.charts.short_run.pooling", source, [(inputs, outputs, 1e-9)])
    scores = []
    for g in groups:
        for i, v in enumerate(g):
            rest = np.delete(g, i)
            t = (v - rest.mean()) / (rest.std(ddof=1) * np.sqrt(1 + 1 / rest.size))
            scores.append(stats.norm.ppf(stats.t.cdf(t, rest.size - 1)))
    outputs = {"statistic": scores, "upper_limit": stats.norm.isf(LEVEL / 2)}
    source = "each block left out of its family, t and normal laws, scipy"
    write("short_run", "qc.charts.short_run.short_run", source, [(inputs, outputs, 1e-8)])


def spreads_in_blocks():
    n = np.resize([8, 6, 4], 15)
    s = np.sqrt(stats.chi2.rvs(n - 1, random_state=RNG) / (n - 1) * 4).round(3)
    s[4] = 6.0
    low, high = [], []
    for i in range(15):
        rest = np.arange(15) != i
        df = (n[rest] - 1).sum()
        pooled = ((n[rest] - 1) * s[rest] ** 2).sum() / df
        low.append(np.sqrt(pooled * stats.f.ppf(LEVEL / 2, n[i] - 1, df)))
        high.append(np.sqrt(pooled * stats.f.isf(LEVEL / 2, n[i] - 1, df)))
    outputs = {"center": np.sqrt(((n - 1) * s**2).sum() / (n - 1).sum()), "lower": low, "upper": high}
    inputs = {"spreads": s.tolist(), "bores": n.tolist()}
    write("spread_chart", "qc.charts.spread.spread_chart", "F law, scipy", [(inputs, outputs, 1e-8)])


def gaps():
    sizes, rounds, cases = (20, 50, 200), 40_000, []
    for n in sizes:
        x = np.sort(RNG.normal(size=(rounds, n)), axis=1)
        law = stats.norm.cdf((x - x.mean(1, keepdims=True)) / x.std(1, ddof=1, keepdims=True))
        steps = np.arange(n + 1) / n
        gap = np.maximum((steps[1:] - law).max(1), (law - steps[:-1]).max(1))
        # Stephens' formula is good to about a hundredth of itself
        passed = float(np.quantile(gap, 0.95))
        cases.append(({"n": n}, {"value": passed}, 0.015 * passed))
    source = "40,000 simulated normal samples of each size, seed 20261126"
    write("gap_by_chance", "qc.capability.fit.gap_by_chance", source, cases)


def main():
    lags()
    shares_of_blocks()
    acceptance()
    counts()
    one_chart()
    t2()
    wear_lines()
    short_runs()
    spreads_in_blocks()
    gaps()


if __name__ == "__main__":
    main()
