"""How often the intervals of capability hold the truth: series of blocks whose true figures are known.

Each cell is one kind of series: number of blocks, share of the variance between them, place of the mean. Here
are Cpk, the tolerance interval, folded normals, and what bores or block means as the sample would give;
`coverage_over_the_grid` has Ppk over more blocks, blocks of unlike size, and blocks that lean on each other.
Run as a script it writes the whole result beside itself; the suite runs a part.
"""

import json
from pathlib import Path

import numpy as np
from scipy import stats

from qc.capability.nested import capability
from qc.stats.pivotal import pivots
from tests.simulations import kept_result

RESULT = Path(__file__).with_suffix(".json")
BORES = 8
TRUE_INDEX = 1.33
CONTENT = 0.95
AT_ONCE = 1000


def drawn_series(rng, series, blocks, share):
    """Bores of series with mean 0 and variance 1, `share` of it between blocks: (series, blocks, BORES)."""
    between = rng.normal(0, np.sqrt(share), (series, blocks, 1))
    return between + rng.normal(0, np.sqrt(1 - share), (series, blocks, BORES))


def cell_of(held, **cell):
    n, coverage = held.size, float(held.mean())
    return {
        **cell,
        "series": n,
        "coverage": coverage,
        "simulation_error": float(np.sqrt(coverage * (1 - coverage) / n)),
    }


def cell_of_ends(low, high, **cell):
    missed = {"lower_end_too_high": float(low.mean()), "upper_end_too_low": float(high.mean())}
    return cell_of(~(low | high), **cell) | missed


def ppk_of_normal_series(blocks, share, off, *, series, draws, seed):
    """Coverage of the interval of Ppk between two limits; the mean lies `off` spreads off centre.

    An end is compared with the truth by counting: the p point of the draws is above the truth when fewer than
    p of them are at or below it. That saves the sorting; the suite holds it against `capability`.
    """
    rng = np.random.default_rng([seed, blocks, round(10 * share), round(10 * off)])
    upper, lower = 3 * TRUE_INDEX, -3 * TRUE_INDEX - 2 * off
    missed = [
        ends_missed(found, lower, upper)
        for start in range(0, series, AT_ONCE)
        for bores in drawn_series(rng, min(AT_ONCE, series - start), blocks, share)
        for found in draws_by_each_sample(bores, draws)
    ]
    low, high = np.array(missed).reshape(-1, 3, 2).transpose(2, 1, 0)
    others = {
        f"coverage_with_{sample}_as_the_sample": float(1 - np.mean(low[i] | high[i]))
        for i, sample in ((1, "bores"), (2, "block_means"))
    }
    return cell_of_ends(low[0], high[0], blocks=blocks, share=share, off=off) | others


def draws_by_each_sample(bores, draws):
    """The draws of the product, and those that take all bores, or the block means, for independent values."""
    m, n = bores.shape
    means = bores.mean(axis=1)
    centre = means.mean()
    ssb = n * ((means - centre) ** 2).sum()
    sse = ((bores - means[:, None]) ** 2).sum()
    yield pivots(centre, ssb, sse, m, m * n, float(n), draws=draws)
    yield pivots(centre, ssb + sse, 0.0, m * n, m * n, 1.0, draws=draws)
    yield pivots(centre, (ssb + sse) * (m - 1) / (m * n - 1), 0.0, m, m, 1.0, draws=draws)


def ends_missed(found, lower, upper):
    reach = 3 * TRUE_INDEX * found.spread
    to_upper, to_lower = np.mean(upper - found.mean <= reach), np.mean(found.mean - lower <= reach)
    return max(to_upper, to_lower) < 0.025, min(1 - to_upper, 1 - to_lower) < 0.025


def answers(values, *, draws, **asked):
    """The answer of the product for each of (series, blocks, BORES)."""
    _, blocks, bores = values.shape
    offsets, joined = np.arange(blocks + 1) * bores, np.ones(blocks, dtype=bool)
    return [capability(x.ravel(), offsets, joined, draws=draws, **asked) for x in values]


def ends_of(intervals, truth):
    low = np.array([interval.lower > truth for interval in intervals])
    high = np.array([interval.upper < truth for interval in intervals])
    return low, high


def cpk_and_tolerance(blocks, share, *, series, draws, seed):
    """Coverage of the interval of Cpk and of the two-sided tolerance interval; the mean is 0.2 spreads off
    centre."""
    rng = np.random.default_rng([seed, blocks, round(10 * share)])
    limits = {"upper": 3 * TRUE_INDEX, "lower": -3 * TRUE_INDEX - 0.4}
    found = answers(
        drawn_series(rng, series, blocks, share),
        draws=draws,
        bounded="both",
        family="normal",
        condition="steady",
        **limits,
    )
    cells = []
    if found[0].cpk_interval is not None:
        ends = ends_of([each.cpk_interval for each in found], TRUE_INDEX)
        cells.append(cell_of_ends(*ends, figure="cpk", family="normal", blocks=blocks, share=share))
    ranges = [each.tolerance_interval for each in found]
    content = stats.norm.cdf([r.upper for r in ranges]) - stats.norm.cdf([r.lower for r in ranges])
    return [
        *cells,
        cell_of(content >= CONTENT, figure="tolerance", family="normal", blocks=blocks, share=share),
    ]


def ppk_of_other_families(family, location, blocks, share, *, series, draws, seed):
    """Coverage of the interval of Ppk against an upper limit, and of the upper end that holds 95 % of the
    bores."""
    rng = np.random.default_rng([seed, blocks, round(10 * share), round(10 * location)])
    latent = drawn_series(rng, series, blocks, share)
    if family == "lognormal":
        values, truth = np.exp(location * latent), stats.lognorm(location)
    else:
        values, truth = np.abs(location + latent), stats.foldnorm(location)
    median, tail, content = truth.ppf([0.5, stats.norm.cdf(3), CONTENT])
    found = answers(
        values,
        draws=draws,
        lower=None,
        upper=median + TRUE_INDEX * (tail - median),
        bounded="above",
        family=family,
    )
    cell = {"family": family, "location": location, "blocks": blocks, "share": share}
    ends = ends_of([each.ppk_interval for each in found], TRUE_INDEX)
    holds = np.array([each.tolerance_interval.upper >= content for each in found])
    return [cell_of_ends(*ends, figure="ppk", **cell), cell_of(holds, figure="tolerance", **cell)]


def main():
    seed, grid = 20261125, [(m, share) for m in (5, 20, 50) for share in (0.0, 0.5, 0.8)]
    few = {"series": 2500, "draws": 2000, "seed": seed}
    normal = [
        ppk_of_normal_series(m, share, off, series=20_000, draws=10_000, seed=seed)
        for m, share in grid
        for off in (0.0, 0.2, 0.6)
    ]
    print(*normal, sep="\n", flush=True)
    others = [cell for m, share in grid for cell in cpk_and_tolerance(m, share, **few)]
    print(*others, sep="\n", flush=True)
    families = [("lognormal", 0.4), *(("folded_normal", ratio) for ratio in (0.0, 0.5, 1.0, 2.0, 4.0))]
    for family, location in families:
        for m, share in grid:
            cells = ppk_of_other_families(family, location, m, share, **few)
            print(*cells, sep="\n", flush=True)
            others += cells
    result = {
        "what": "share of series whose 95 % interval holds the true figure",
        "bores_a_block": BORES,
        "true_index": TRUE_INDEX,
        "seed": seed,
        **kept_result.of_this_run(),
        "ppk_normal": {"draws": 10_000, "cells": normal},
        "others": {"draws": few["draws"], "cells": others},
    }
    RESULT.write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
