"""Whether the spread grew: the last blocks of a stretch against those it was learned from."""

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import digamma, stdtr

Floats = NDArray[np.float64]

LEARNED, LATEST, LEAST_LATEST, LEAST_WORN = 20, 10, 5, 8
"""Blocks learned from, the latest, and the least of these; of worn means, whose few lie wide by chance."""


def grown(reference: ArrayLike, latest: ArrayLike) -> float:
    """One-sided p that the latest values lie above the reference, by Student's t with a common spread.

    Source: Student's two-sample t; on the logarithms of spreads (Bartlett and Kendall 1946) and on
    absolute deviations (Brown and Forsythe 1974).

    Parameters
    ----------
    reference, latest : (k,)
    """
    a, b = np.asarray(reference, dtype=float), np.asarray(latest, dtype=float)
    df = a.size + b.size - 2
    if a.size < 2 or b.size < 2 or df < 6:
        return 1.0
    variance = (((a - a.mean()) ** 2).sum() + ((b - b.mean()) ** 2).sum()) / df
    error = np.sqrt(variance * (1 / a.size + 1 / b.size))
    if error == 0:
        return 1.0
    return float(stdtr(df, -(b.mean() - a.mean()) / error))


def log_spreads(spreads: ArrayLike, bores: ArrayLike) -> Floats:
    """Logarithm of the spread in each block with the bias of few bores taken out; NaN for one bore.

    A spread of nought counts as a thousandth of the usual one: only the gauge's step made it so.
    Source: E ln s = ln sigma + (psi(v/2) - ln(v/2))/2, v = n - 1 (from memory).

    Parameters
    ----------
    spreads, bores : (m,)
    """
    s, v = np.asarray(spreads, dtype=float), np.asarray(bores, dtype=float) - 1.0
    usable = (v > 0) & ~np.isnan(s)
    if not (usable & (s > 0)).any():
        return np.full(s.shape, np.nan)
    least = 1e-3 * float(np.median(s[usable & (s > 0)]))
    v = np.where(usable, v, 1.0)
    logs = np.log(np.maximum(np.where(usable, s, 1.0), least)) - (digamma(v / 2) - np.log(v / 2)) / 2
    return np.where(usable, logs, np.nan)


def windows(first: int, stretch_start: int, now: int) -> tuple[slice, slice] | None:
    """Blocks a series was learned from and the latest of its stretch; None when too few are known.

    Parameters
    ----------
    first : int
        First block of the series, since its last repair.
    stretch_start : int
        First block of the present stretch.
    now : int
        Number of blocks known.
    """
    learned = slice(first, min(first + LEARNED, now))
    begin = max(now - LATEST, stretch_start, learned.stop)
    if now - begin < LEAST_LATEST:
        return None
    return learned, slice(begin, now)
