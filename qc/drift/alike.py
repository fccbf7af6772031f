"""Lag-1 of block means, pooled over like series, with undeclared changes taken off first.

A step or a drift that nobody declared makes neighbouring blocks alike; taken for correlation it would
hide itself. It is taken off where it explains the series better than any correlation does.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from qc.drift.changepoint import basis
from qc.drift.model import components, runs, starts
from qc.drift.series import SeriesBlocks
from qc.drift.trend import relative_sd, whitened
from qc.errors import TooLittleData
from qc.stats.lag import lag1

Floats = NDArray[np.float64]
Ints = NDArray[np.int_]

PAIRS_BEHIND_THE_PRIOR, USUAL_LAG = 25, 0.15
"""A lag-1 from few pairs is drawn towards what shops show, as if so many pairs had shown it (own choice)."""
LAGS = np.array([0.0, 0.2, 0.4, 0.6, 0.8])
MOST_BLOCKS, MOST_CHANGES, LEAST_SIDE = 150, 3, 3
BEYOND_CORRELATION = 14.0
"""Twice the gain in log-likelihood that a change must bring over the best correlation without it.

The best of some 70 places of a change exceeds 14 in under 1 in 100 series where nothing changed.
"""
WEAR_EXPECTED = 9.0
"""The same for the first change in the only stretch of what wears: a slope is to be expected there."""


def within(rho: float) -> float:
    """Lag-1 as the calculations take it: from 0 to 0.9."""
    return 0.0 if np.isnan(rho) else float(min(max(rho, 0.0), 0.9))


def pooled_lag(series: Sequence[SeriesBlocks]) -> float:
    """Lag-1 correlation of block means pooled over series, wear and changes of level taken off.

    Source: `qc.stats.lag.lag1` on residuals; drawn to the usual one by as many pairs as are behind it.

    Parameters
    ----------
    series : sequence of SeriesBlocks
    """
    rest = [residuals(one) for one in series]
    try:
        found = lag1([r for r, _ in rest], [s for _, s in rest])
    except TooLittleData:
        return USUAL_LAG
    pairs = found.pairs
    return within((pairs * found.rho + PAIRS_BEHIND_THE_PRIOR * USUAL_LAG) / (pairs + PAIRS_BEHIND_THE_PRIOR))


def residuals(series: SeriesBlocks) -> tuple[Floats, Ints]:
    """Block means with levels, wear and undeclared changes taken off, and the segments left.

    Source: own rule: a change is taken off where twice its gain in log-likelihood exceeds 14.

    Parameters
    ----------
    series : SeriesBlocks
    """
    kept = np.flatnonzero(~np.isnan(np.asarray(series.means, dtype=float)))[-MOST_BLOCKS:]
    y = np.asarray(series.means, dtype=float)[kept]
    segment = starts(runs(np.asarray(series.stretch)[kept], np.asarray(series.joint)[kept]))
    if y.size < 2 * LEAST_SIDE + 2:
        return y, segment
    y = y - np.median(y)
    x = np.asarray(series.wear, dtype=float)[kept]
    bores, spreads = (np.asarray(v, dtype=float)[kept] for v in (series.bores, series.spreads))
    sd = relative_sd(bores, *reversed(components(y, x, bores, spreads, segment, series.wears)))
    columns = (segment[:, None] == np.unique(segment)[None, :]).astype(float)
    several = np.unique(np.asarray(series.stretch)[kept]).size > 1
    if series.wears and several:
        columns = np.column_stack([columns, x])
    least = WEAR_EXPECTED if series.wears and not several else BEYOND_CORRELATION
    cuts: list[int] = []
    steps, bends = _candidates(y.size, x, starts(np.asarray(series.stretch)[kept]))
    for _ in range(MOST_CHANGES):
        without, _, _ = _best(y, sd, columns, np.zeros((y.size, 0)))
        gained, k, _ = _best(y, sd, columns, np.hstack([steps, bends]))
        if gained - without < least:
            break
        least = BEYOND_CORRELATION
        if k < steps.shape[1]:
            cuts.append(k + LEAST_SIDE)
        columns = np.column_stack([columns, np.hstack([steps, bends])[:, k]])
    base = basis(columns / sd[:, None])
    rest = (y / sd - base @ (base.T @ (y / sd))) * sd
    boundaries = np.zeros(y.size, dtype=int)
    boundaries[cuts] = 1
    return rest, starts(segment + y.size * np.cumsum(boundaries))


def _candidates(m: int, x: Floats, stretch_start: Ints) -> tuple[Floats, Floats]:
    rows = np.arange(LEAST_SIDE, m - LEAST_SIDE + 1)
    steps = (np.arange(m)[:, None] >= rows[None, :]).astype(float)
    bends = np.maximum(0.0, x[:, None] - x[None, : m - LEAST_SIDE : 3])
    bends[stretch_start[:, None] != stretch_start[None, : m - LEAST_SIDE : 3]] = 0.0
    bends[np.arange(m)[:, None] <= np.arange(0, m - LEAST_SIDE, 3)[None, :]] = 0.0
    return steps, bends[:, bends.max(axis=0) > 0]


def _best(y: Floats, sd: Floats, columns: Floats, candidates: Floats) -> tuple[float, int, float]:
    """Twice the best log-likelihood over correlations and candidates, the candidate, the correlation."""
    best = (-np.inf, 0, 0.0)
    for rho in LAGS:
        base, v = basis(whitened(columns, sd, rho)), whitened(y, sd, rho)
        rest = v - base @ (base.T @ v)
        square, k = float(rest @ rest), 0
        # A change takes two blocks' worth of freedom, its place and its size.
        free = max(y.size - base.shape[1] - 2, 1)
        if candidates.shape[1]:
            own = whitened(candidates, sd, rho)
            own = own - base @ (base.T @ own)
            size = np.einsum("ij,ij->j", own, own)
            gain = np.where(size > 1e-9, (own.T @ rest) ** 2 / np.where(size > 1e-9, size, 1.0), 0.0)
            k = int(np.argmax(gain))
            square -= float(gain[k])
        # Whitened rows have the variance of a block mean: the determinant is that of the correlations.
        told = -free * np.log(max(square, 1e-300)) - (y.size - 1) * np.log(1 - rho**2)
        if told > best[0]:
            best = (told, k, float(rho))
    return best
