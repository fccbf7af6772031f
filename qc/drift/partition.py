"""All changes of level of a series at once: the exact best division into levels, single wild blocks aside."""

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import chdtri

from qc.errors import QuestionError

Floats = NDArray[np.float64]

LEAST_BLOCKS = 3
NEAR, WILD = 3, 4.0
"""Blocks to each side that say whether one is wild, and by how many spreads it then lies off them."""
NORMAL_MAD = 1.4826


def price_of_change(blocks: int, rate: float, lag1: float = 0.0) -> float:
    """Gain a change must bring so that a level series shows any in about ``rate`` of all cases [variances].

    The chance of one place to gain so much, chi-square with one degree of freedom, is rate/blocks
    (Bonferroni over the places); with lag-1 a sum of blocks varies (1 + r)/(1 - r) times as much.
    Source: chi-square law of a likelihood ratio; AR(1) long-run variance.

    Parameters
    ----------
    blocks : int
    rate : float
        Between 0 and 1.
    lag1 : float
    """
    if not 0 < rate < 1 or blocks < 1:
        raise QuestionError("a price of change needs a rate between 0 and 1 and a block or more")
    return float(chdtri(1, rate / blocks)) * (1 + lag1) / (1 - lag1)


def partition(values: ArrayLike, price: float, least: int = LEAST_BLOCKS) -> list[int]:
    """First value of each level after the first, for the division with the least squares plus prices.

    Source: optimal partitioning, Jackson et al. (2005), IEEE Signal Processing Letters 12, 105-108 (from
    memory): exact dynamic programming over the last change.

    Parameters
    ----------
    values : (m,)
        In order of time.
    price : float
        Of each change, in the square of the unit of the values.
    least : int
        Least number of values of a level.
    """
    x = np.asarray(values, dtype=float).ravel()
    m = x.size
    x = x - (x.mean() if m else 0.0)
    sums, squares = np.concatenate([[0.0], np.cumsum(x)]), np.concatenate([[0.0], np.cumsum(x**2)])
    best, last = np.full(m + 1, np.inf), np.zeros(m + 1, dtype=int)
    best[0] = -price
    for end in range(least, m + 1):
        begin = np.arange(0, end - least + 1)
        own = squares[end] - squares[begin] - (sums[end] - sums[begin]) ** 2 / (end - begin)
        cost = best[begin] + own + price
        last[end] = int(np.argmin(cost))
        best[end] = float(cost[last[end]])
    cuts, end = [], m
    while end > 0 and last[end] > 0:
        end = int(last[end])
        cuts.append(end)
    return cuts[::-1]


def without_wild(values: ArrayLike) -> Floats:
    """Values with single wild ones put at the median of their neighbours.

    Source: Hampel's identifier: 4 robust spreads off the median of 3 neighbours to each side.

    Parameters
    ----------
    values : (m,)
    """
    x = np.asarray(values, dtype=float).copy()
    if x.size < 2 * NEAR + 1:
        return x
    spread = noise(x)
    padded = np.pad(x, NEAR, mode="reflect")
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * NEAR + 1)
    middle = np.median(np.delete(windows, NEAR, axis=1), axis=1)
    return np.where(np.abs(x - middle) > WILD * spread, middle, x) if spread > 0 else x


def noise(values: ArrayLike) -> float:
    """Spread of the values about levels that change now and then, from neighbours' differences.

    Source: median of absolute differences over sqrt(2), made that of a normal law (1.4826).

    Parameters
    ----------
    values : (m,)
    """
    steps = np.abs(np.diff(np.asarray(values, dtype=float)))
    return float(NORMAL_MAD * np.median(steps) / np.sqrt(2)) if steps.size else 0.0


def level_changes(values: ArrayLike, lag1: float, rate: float = 0.05) -> list[tuple[int, float]]:
    """Changes of level of a series: first block of each and by how much; rate is that of a level series.

    Source: `partition` on the values without single wild ones.

    Parameters
    ----------
    values : (m,)
    lag1 : float
        Neighbours' differences then vary 1 - lag1 times as much as the values.
    rate : float
    """
    x = without_wild(values)
    spread = noise(x) / np.sqrt(1 - lag1)
    if x.size < 2 * LEAST_BLOCKS or spread <= 0:
        return []
    cuts = partition(x, price_of_change(x.size, rate, lag1) * spread**2)
    edges = [0, *cuts, x.size]
    means = [float(x[a:b].mean()) for a, b in zip(edges[:-1], edges[1:], strict=True)]
    return [(cut, means[i + 1] - means[i]) for i, cut in enumerate(cuts)]
