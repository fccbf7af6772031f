"""How often the prediction limits of block means give a false alarm in the next block, over what they state.

Bores have mean 0 and variance 1, `share` of it between blocks; block effects are a first-order
autoregression. Spreads come from `qc.stats.spreads`, the lag-1 correlation as the answers take it: pooled
over like series under 50 blocks (here over 8), else a series' own. The chance that the next block passes its
limits is taken exactly given the blocks behind them, so each chart gives its own rate. Run as a script it
writes the whole result beside itself (ten minutes of one processor); the suite runs a part.
"""

from itertools import product
from pathlib import Path

import numpy as np
from scipy.signal import lfilter
from scipy.special import ndtr

from qc.charts.block_means import one_chart, prediction_limits
from qc.reports.lags import OWN_FROM
from qc.stats.lag import _expected_sums
from qc.stats.levels import DEFAULT_LEVEL
from qc.stats.spreads import spreads
from tests.simulations import kept_result

RESULT = Path(__file__).with_suffix(".json")
SIZES = {"8": (8,), "4/6/8": (4, 6, 8)}
BLOCKS, SHARES, LAG1 = (20, 50, 200), (0.0, 0.2, 0.5, 0.8), (0.0, 0.25, 0.5)
SEED, CHARTS, POOLED = 20261125, 10_000, 8


def drawn(rng, charts, n, share, rho):
    """Bores of each series, (charts, N), and the effect of its last block."""
    fresh = rng.normal(size=(charts, n.size))
    fresh[:, 1:] *= np.sqrt(1 - rho * rho)
    effects = lfilter([1.0], [1.0, -rho], fresh, axis=1) * np.sqrt(share)
    inside = np.sqrt(1 - share) * rng.normal(size=(charts, n.sum()))
    return np.repeat(effects, n, axis=1) + inside, effects[:, -1]


def lags(means, together):
    """Lag-1 correlation of each series, pooled over so many neighbours, 0 at least, (charts,).

    As `qc.stats.lag.lag1`, which the suite holds it against: for series of one length the pooled estimate
    depends on the average ratio of their sums alone, so its curve is drawn once and read.
    """
    charts, blocks = means.shape
    off = means - means.mean(axis=1, keepdims=True)
    ratios = (off[:, 1:] * off[:, :-1]).sum(axis=1) / (off**2).sum(axis=1)
    rho = np.linspace(-0.95, 0.95, 1901)
    curve = [top / bottom - 2 * r / blocks for r in rho for top, bottom in [_expected_sums(blocks, r)]]
    pooled = ratios.reshape(-1, together).mean(axis=1)
    return np.repeat(np.maximum(0.0, np.interp(pooled, curve, rho)), together)


def rates(blocks, share, bores, rho, *, charts, seed=SEED):
    """False-alarm rate of each chart in its next block, over the stated one, (charts,)."""
    rng = np.random.default_rng([seed, blocks, round(10 * share), len(bores), round(100 * rho)])
    n, ahead = np.resize(SIZES[bores], blocks), np.resize(SIZES[bores], charts)
    values, last = drawn(rng, charts, n, share, rho)
    cuts, rows = np.append(0, np.cumsum(np.tile(n, charts))), np.arange(charts + 1) * blocks
    found = spreads(values.ravel(), cuts, rows, np.ones(cuts.size - 1, dtype=bool))
    means = found.block_mean.reshape(charts, blocks)
    together = POOLED if blocks < OWN_FROM else 1
    known = lags(means, together)
    limits = np.empty((2, charts))
    for i in range(charts):
        chart = prediction_limits(
            np.append(means[i], np.nan), np.append(n, ahead[i]),
            spread_in_block=float(found.spread_in_block[i]),
            spread_between_blocks=float(found.spread_between_blocks[i]), lag1=float(known[i]),
        )  # fmt: skip
        limits[:, i] = chart.lower[-1], chart.upper[-1]
    spread = np.sqrt(share * (1 - rho * rho) + (1 - share) / ahead)
    below, above = (limits[0] - rho * last) / spread, (rho * last - limits[1]) / spread
    return (ndtr(below) + ndtr(above)) / DEFAULT_LEVEL


def cell_of(blocks, share, bores, rho, *, charts, seed=SEED):
    """One cell of the result: average and error over groups that share a lag-1, and what single charts do."""
    found = rates(blocks, share, bores, rho, charts=charts, seed=seed)
    groups = found.reshape(-1, POOLED).mean(axis=1)
    few, many = one_chart(DEFAULT_LEVEL, blocks, rho)
    return {
        "blocks": blocks, "share": share, "bores": bores, "lag1": rho,
        "times_stated": float(found.mean()),
        "simulation_error": float(groups.std(ddof=1) / np.sqrt(groups.size)),
        "single_charts_95th": float(np.quantile(found, 0.95)), "said_95th": 1 / few / DEFAULT_LEVEL,
        "single_charts_5th": float(np.quantile(found, 0.05)), "said_5th": 1 / many / DEFAULT_LEVEL,
    }  # fmt: skip


def kinds():
    """Every kind of series; without a share between blocks nothing can lean on the block before."""
    return [kind for kind in product(BLOCKS, SHARES, SIZES, LAG1) if kind[1] > 0 or kind[3] == 0]


def main():
    cells = []
    for kind in kinds():
        cells.append(cell_of(*kind, charts=CHARTS))
        print(cells[-1], flush=True)
    result = {
        "what": "false-alarm rate in the next block over the stated one",
        "level": DEFAULT_LEVEL,
        "charts": CHARTS,
        "lag1_pooled_over_series": POOLED,
        "seed": SEED,
    }
    kept_result.write_cells(RESULT, result, cells)


if __name__ == "__main__":
    main()
