"""How often the interval of Ppk holds the truth, over numbers of blocks, shares, sizes of blocks, places of
the mean, families, and with block means that lean on the one before.

Bores have mean 0 and variance 1 as the family sees them, `share` of it between blocks; the upper limit puts
the index of its side at TRUE_INDEX, the lower one lies `2 off` spreads further away. Run as a script it
writes the whole result beside itself (ten minutes of one processor); the suite runs a part.
"""

from itertools import product
from pathlib import Path

import numpy as np
from scipy.signal import lfilter

from qc.stats.pivotal import pivots
from qc.stats.spreads import spreads
from tests.simulations import kept_result

RESULT = Path(__file__).with_suffix(".json")
TRUE_INDEX = 1.33
OFF = (0.0, 0.2, 0.6)
FAMILIES = ("normal", "lognormal")
LOG_SPREAD = 0.2
"""Standard deviation of the logarithms; a texture figure of a tenth to four tenths is common practice, no
source."""
SIZES = {"8": (8,), "4/6/8": (4, 6, 8)}
BLOCKS, SHARES, LAG1 = (5, 10, 20, 50, 100), (0.0, 0.2, 0.5, 0.8), (0.0, 0.5)
SEED, SERIES, DRAWS = 20261125, 8000, 20_000
TAIL = 0.025


def bores_of_blocks(bores, blocks):
    """Numbers of bores of the blocks, the given ones in turn."""
    return np.resize(SIZES[bores], blocks)


def effect_lag1(share, n, lag1):
    """Lag-1 of the block effects at which the block means, noise within included, have `lag1`."""
    return lag1 * (share + (1 - share) * np.mean(1 / n)) / share if lag1 else 0.0


def drawn_series(rng, series, n, share, lag1):
    """Bores of the series as the family sees them, (series, N)."""
    fresh = rng.normal(size=(series, n.size))
    rho = effect_lag1(share, n, lag1)
    fresh[:, 1:] *= np.sqrt(1 - rho * rho)
    effects = np.sqrt(share) * lfilter([1.0], [1.0, -rho], fresh, axis=1)
    return np.repeat(effects, n, axis=1) + np.sqrt(1 - share) * rng.normal(size=(series, int(n.sum())))


def figures_of(values, n):
    """Centre, SSB and SSE of every series, by the function that the product asks; and h."""
    series, bores = values.shape
    blocks = np.append(0, np.cumsum(np.tile(n, series)))
    rows, joined = np.arange(series + 1) * n.size, np.ones(blocks.size - 1, dtype=bool)
    found = spreads(values.ravel(), blocks, rows, joined)
    assert found.bores[0] == bores
    return found.centre, found.ssb, found.sse, float(found.harmonic_bores[0])


def limits_of(family, off):
    """Lower and upper limit [unit of the values]."""
    if family == "normal":
        return -3 * TRUE_INDEX - 2 * off, 3 * TRUE_INDEX
    above, below = np.expm1(3 * LOG_SPREAD), -np.expm1(-3 * LOG_SPREAD)
    return 1 - TRUE_INDEX * below - 2 * off * LOG_SPREAD, 1 + TRUE_INDEX * above


def shares_at_or_below(found, family):
    """Share of the draws whose index is at or below the truth: of the upper side, of the lower for each OFF.

    A point of the draws is above the truth when fewer than its share of them are at or below it: that saves
    the sorting. The suite holds it against `capability`.
    """
    if family == "normal":
        reach = 3 * TRUE_INDEX * found.spread
        least_upper, most_lower = found.mean + reach, found.mean - reach
    else:
        middle, factor = np.exp(LOG_SPREAD * found.mean), np.exp(3 * LOG_SPREAD * found.spread)
        least_upper = middle * (1 + TRUE_INDEX * (factor - 1))
        most_lower = middle * (1 - TRUE_INDEX * (1 - 1 / factor))
    upper = np.count_nonzero(limits_of(family, 0.0)[1] <= least_upper)
    lower = [np.count_nonzero(limits_of(family, off)[0] >= most_lower) for off in OFF]
    return np.array([upper, *lower]) / found.mean.size


def missed(below):
    """Whether the lower end lies above the truth, and the upper end below it: (2, series, OFF)."""
    upper, lower = below[:, :1], below[:, 1:]
    return np.stack((np.maximum(upper, lower) < TAIL, np.minimum(1 - upper, 1 - lower) < TAIL))


def cells_of(blocks, share, bores, lag1, *, series, draws, seed=SEED):
    """Coverage of each family and place of the mean for one kind of series."""
    rng = np.random.default_rng([seed, blocks, round(10 * share), len(bores), round(10 * lag1)])
    n = bores_of_blocks(bores, blocks)
    centre, ssb, sse, h = figures_of(drawn_series(rng, series, n, share, lag1), n)
    below = np.empty((len(FAMILIES), series, 1 + len(OFF)))
    for i in range(series):
        found = pivots(centre[i], ssb[i], sse[i], blocks, int(n.sum()), h, draws=draws)
        for j, family in enumerate(FAMILIES):
            below[j, i] = shares_at_or_below(found, family)
    kind = {"blocks": blocks, "share": share, "bores": bores, "lag1": lag1}
    return [
        cell(*missed(below[j])[:, :, k], family=family, off=off, **kind)
        for j, family in enumerate(FAMILIES)
        for k, off in enumerate(OFF)
    ]


def cell(low, high, **kind):
    """One cell of the result."""
    coverage = float(1 - np.mean(low | high))
    return {
        **kind,
        "coverage": coverage,
        "simulation_error": float(np.sqrt(coverage * (1 - coverage) / low.size)),
        "lower_end_too_high": float(low.mean()),
        "upper_end_too_low": float(high.mean()),
    }


def kinds():
    """Every kind of series; without a share between blocks nothing can lean on the block before."""
    return [kind for kind in product(BLOCKS, SHARES, SIZES, LAG1) if kind[1] > 0 or kind[3] == 0]


def main():
    cells = []
    for kind in kinds():
        found = cells_of(*kind, series=SERIES, draws=DRAWS)
        print(*kind, *(c["coverage"] for c in found), flush=True)
        cells += found
    result = {
        "what": "share of series whose 95 % interval of Ppk holds the true index",
        "true_index": TRUE_INDEX,
        "log_spread": LOG_SPREAD,
        "series": SERIES,
        "draws": DRAWS,
        "seed": SEED,
    }
    kept_result.write_cells(RESULT, result, cells)


if __name__ == "__main__":
    main()
