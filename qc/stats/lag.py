"""Correlation of neighbouring blocks, and what it does to means, spreads and limits.

The model is a first-order autoregression: correlation rho^j between blocks j apart.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import log, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.linalg import toeplitz
from scipy.optimize import brentq
from scipy.special import stdtrit

from qc.errors import TooLittleData

Floats = NDArray[np.float64]

_LEAST_IN_A_STRETCH = 3
_REACH = 0.95
_EXACT_UP_TO = 120


@dataclass(frozen=True, slots=True)
class Lag:
    """Lag-1 correlation with the bias of short series taken out, its standard error, and what it rests on."""

    rho: float
    standard_error: float
    pairs: int
    series: int


@dataclass(frozen=True, slots=True)
class Effective:
    """What m correlated blocks are worth.

    ``variance_factor`` is E[s^2]/sigma^2, ``blocks_for_mean`` the independent blocks whose mean is as
    sure, ``df`` the degrees of freedom of s.
    """

    variance_factor: float
    blocks_for_mean: float
    df: float


def _sums(values: Floats) -> tuple[float, float]:
    centred = values - values.mean()
    return float((centred[1:] * centred[:-1]).sum()), float((centred**2).sum())


def _expected_sums(size: int, rho: float) -> tuple[float, float]:
    """Return the expectation of `_sums` over sigma^2, the mean of the values being estimated."""
    j = np.arange(size)
    powers = rho**j
    total = size + 2.0 * float(((size - j[1:]) * powers[1:]).sum())
    ends = 2.0 / size * float(powers.sum())
    return (size - 1) * rho - (size + 1) * total / size**2 + ends, size - total / size


def stretches_of(values: ArrayLike, stretch: ArrayLike | None = None) -> list[Floats]:
    """Return the runs of one stretch number in order, without missing values, each of 3 blocks or more."""
    x = np.asarray(values, dtype=float).ravel()
    number = np.zeros(x.size) if stretch is None else np.asarray(stretch).ravel()
    cuts = np.flatnonzero(np.diff(number) != 0) + 1
    runs = (run[~np.isnan(run)] for run in np.split(x, cuts))
    return [run for run in runs if run.size >= _LEAST_IN_A_STRETCH]


def lag1(series: Sequence[ArrayLike], stretches: Sequence[ArrayLike] | None = None) -> Lag:
    """Return the lag-1 correlation of block means, pooled over series, pairs taken inside stretches only.

    Each stretch has its own mean. The ratio r of each series is set against what it would be on average
    at rho, (ratio of the expected sums) - 2 rho/m, which for one stretch is rho - (1 + 4 rho)/m, and rho
    is solved for with weight m.
    Source: Kendall (1954), Biometrika 41, 403-404 (bias of r; from memory), by stretches: own.

    Parameters
    ----------
    series : sequence of (m,)
        Block means of each series in order of time.
    stretches : sequence of (m,), optional
        A number for each block; neighbours with different numbers make no pair.

    Raises
    ------
    TooLittleData
        No stretch of 3 blocks or more.
    """
    numbers: Iterable[ArrayLike | None] = [None] * len(series) if stretches is None else stretches
    kept = [stretches_of(x, n) for x, n in zip(series, numbers, strict=True)]
    runs = [r for r in kept if r and sum(float(np.ptp(run)) for run in r) > 0]
    if not runs:
        raise TooLittleData(
            "a lag-1 correlation needs 3 blocks in a row in one stretch that are not all equal"
        )
    sizes = [tuple(sorted(run.size for run in r)) for r in runs]
    blocks = np.array([sum(s) for s in sizes], dtype=float)
    alike = Counter(sizes)
    sums = np.array([np.sum([_sums(run) for run in r], axis=0) for r in runs])
    observed = float((blocks * sums[:, 0] / sums[:, 1]).sum())

    def excess(rho: float) -> float:
        total = 0.0
        for size, count in alike.items():
            top, bottom = np.sum([_expected_sums(k, rho) for k in size], axis=0)
            total += count * (sum(size) * top / bottom - 2.0 * rho)
        return total - observed

    if excess(_REACH) <= 0:
        rho = _REACH
    elif excess(-_REACH) >= 0:
        rho = -_REACH
    else:
        rho = float(brentq(excess, -_REACH, _REACH, xtol=1e-10))
    pairs = int(sum(sum(s) - len(s) for s in sizes))
    return Lag(rho, sqrt((1 - rho**2) / pairs), pairs, len(runs))


@lru_cache(maxsize=512)
def effective(blocks: int, rho: float) -> Effective:
    """Return what ``blocks`` successive blocks with lag-1 correlation ``rho`` are worth.

    With T = sum of all rho^|i-j|: E[s^2] = sigma^2 (m - T/m)/(m - 1); var(mean) = sigma^2 T/m^2, so the
    mean is that of m^2/T independent blocks; s^2 has the degrees of freedom of a chi-square with its
    mean and variance, tr(CR)^2 / tr(CRCR), C taking the mean off.
    Source: own derivation; moments of quadratic forms in normal variables (Satterthwaite 1946).

    Parameters
    ----------
    blocks : int
        2 or more.
    rho : float
        Above -1, below 1.
    """
    if blocks < 2:
        raise TooLittleData(
            f"a spread of block means needs 2 blocks or more; there is {blocks}: widen the dates"
        )
    i = np.arange(blocks)
    powers = rho**i
    weights = 2.0 * (blocks - i)
    weights[0] = blocks
    total = float((weights * powers).sum())
    row = np.cumsum(powers) + np.cumsum(powers)[::-1] - 1.0
    squares = float((weights * powers**2).sum()) - 2 / blocks * float((row**2).sum()) + total**2 / blocks**2
    centred = blocks - total / blocks
    return Effective(centred / (blocks - 1), blocks**2 / total, centred**2 / squares)


def effective_blocks(blocks: int, rho: float, level: float) -> float:
    """Return the m_eff with which t(1 - level/2, m_eff - 1) s sqrt(1 + 1/m_eff) holds any later block.

    s is corrected for its bias; the deviation of a block long after the ``blocks`` learned from, over
    that s, passes the limit in ``level`` of all cases: the exact law of the two quadratic forms up to
    120 blocks (one integral, Craig 1991), its chi-square approximation above.
    Source: own derivation.

    Parameters
    ----------
    blocks : int
        Blocks learned from.
    rho : float
        Lag-1 correlation, 0 to below 1; below 0 counts as 0.
    level : float
        Two-sided.
    """
    if rho <= 0 or blocks < 3:
        return float(blocks)
    worth = effective(blocks, rho)
    if blocks <= _EXACT_UP_TO:
        factor = _exact_factor(blocks, round(rho, 4), level) * sqrt(worth.variance_factor)
    else:
        factor = float(stdtrit(worth.df, 1 - level / 2)) * sqrt(1 + 1 / worth.blocks_for_mean)

    def excess(m_eff: float) -> float:
        return float(stdtrit(m_eff - 1, 1 - level / 2)) * sqrt(1 + 1 / m_eff) - factor

    least = 1.3
    return float(brentq(excess, least, blocks)) if excess(least) > 0 > excess(blocks) else float(blocks)


@lru_cache(maxsize=512)
def _exact_factor(blocks: int, rho: float, level: float) -> float:
    """Return k with P(|new - mean| > k s) = level, new independent of the blocks behind mean and s."""
    correlation = np.zeros((blocks + 1, blocks + 1))
    correlation[:blocks, :blocks] = toeplitz(rho ** np.arange(blocks))
    correlation[blocks, blocks] = 1.0
    root = np.linalg.cholesky(correlation)
    deviation = root.T @ np.append(np.full(blocks, -1.0 / blocks), 1.0)
    centred = root[:blocks] - root[:blocks].mean(axis=0)
    spread = centred.T @ centred / (blocks - 1)
    nodes, weights = np.polynomial.legendre.leggauss(80)
    sine2 = np.sin((nodes + 1) * np.pi / 4) ** 2

    def probability(k: float) -> float:
        # Q = lambda Z^2 - sum mu_i Z_i^2 has one positive lambda. P(Q > 0) through the normal tail as
        # (2/pi) int_0^(pi/2) exp(-w/(2 sin^2)) d theta, whose expectation over w is a product.
        own = np.linalg.eigvalsh(np.outer(deviation, deviation) - k * k * spread)
        mu = np.maximum(-own[:-1] / own[-1], 0.0)
        return 0.5 * float(weights @ np.exp(-0.5 * np.log1p(mu[:, None] / sine2).sum(axis=0)))

    return float(brentq(lambda k: log(probability(k) / level), 0.5, 200.0, xtol=1e-6))
