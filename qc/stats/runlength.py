"""Average run lengths: how many points a chart of running totals or weighted averages goes before it signals.

Points are independent and standard normal about `shift`, centre and spread known. The integral equations
are solved at Gauss-Legendre nodes (Nystrom), which is exact to six digits and more; where centre and spread
were learned, or neighbours are correlated, `simulated` counts and says its error.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from math import ceil, log, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import ndtr, ndtri

from qc.errors import QuestionError
from qc.stats.lag import effective

Floats = NDArray[np.float64]
Advance = Callable[[Floats | None, Floats], tuple[Floats, NDArray[np.bool_]]]

LEAST_NODES = 24
_STEADY = 1e-10


@dataclass(frozen=True, slots=True)
class RunLength:
    """Average run length by simulation, its standard error, the median, and the share cut off.

    A cut run counts with the points it had gone, so that ``average`` is a lower bound when ``cut`` > 0.
    """

    average: float
    standard_error: float
    median: float
    cut: float


def _density(x: Floats) -> Floats:
    return np.asarray(np.exp(-x * x / 2) / sqrt(2 * np.pi))


@lru_cache(maxsize=64)
def _legendre(count: int) -> tuple[Floats, Floats]:
    return np.polynomial.legendre.leggauss(count)


def _weight(weight: float) -> float:
    if not 0 < weight <= 1:
        raise QuestionError(f"the weight of the newest point must be above 0 and at most 1; it is {weight:g}")
    return weight


def ewma_run_length(weight: float, width: float, shift: float = 0.0, *, growing: bool = False) -> float:
    """Return the average run length of an exponentially weighted moving average, both sides [points].

    Source: S. V. Crowder (1987), Technometrics 29, 401-407, integral equation (from memory); checked against
    J. M. Lucas and M. S. Saccucci (1990), Technometrics 32, 1-12, Table 3.

    Parameters
    ----------
    weight : float
        Of the newest point, 0 to 1.
    width : float
        Half width of the limits, in standard deviations of the average once it has run in.
    shift : float
        Of the level [standard deviations of a point], there from the first point on.
    growing : bool
        Limits that grow with the average's own spread from the first point on (exact limits: a fast initial
        response); else those of later points hold from the start.
    """
    stay, half = 1 - _weight(weight), width * sqrt(weight / (2 - weight))
    count = LEAST_NODES + ceil(4 * half / weight)
    own, shares = _legendre(count)
    y = half * own

    def kernel(start: Floats, end: Floats, reach: float) -> Floats:
        steps = (end[None, :] - stay * start[:, None]) / weight - shift
        return _density(steps) * (shares * reach / weight)[None, :]

    lengths = np.linalg.solve(np.eye(count) - kernel(y, y, half), np.ones(count))
    last = ceil(log(_STEADY) / (2 * log(stay))) if growing and stay > 0 else 0
    for t in range(last, 0, -1):
        reach_next = half * sqrt(1 - stay ** (2 * (t + 1)))
        start = half * sqrt(1 - stay ** (2 * t)) * own
        lengths = 1 + kernel(start, reach_next * own, reach_next) @ lengths
    reach = half * sqrt(1 - stay**2) if growing else half
    return float(1 + (kernel(np.zeros(1), reach * own, reach) @ lengths)[0])


def cusum_run_length(
    k: float, h: float, shift: float = 0.0, *, head_start: float = 0.0, sides: int = 2
) -> float:
    """Return the average run length of a cumulative sum that signals above h [points].

    Source: E. S. Page (1954), Biometrika 41, 100-115, integral equation; both sides together and with a head
    start: J. M. Lucas and R. B. Crosier (1982), Technometrics 24, 199-205 (both from memory).

    Parameters
    ----------
    k, h : float
        Allowance taken off each point, and the sum that signals [standard deviations of a point].
    shift : float
        Of the level [standard deviations of a point]; one-sided sums look upward.
    head_start : float
        Sum at the start, 0 to h (half of h: fast initial response).
    sides : int
        1 or 2.
    """
    if not (h > 0 and 0 <= head_start < h):
        raise QuestionError("a cumulative sum needs h above 0 and a head start from 0 to below h")
    up, up_started = _one_sided(k, h, shift, head_start)
    if sides == 1:
        return up_started
    down, down_started = _one_sided(k, h, -shift, head_start)
    return (up_started * down + up * down_started - up * down) / (up + down)


def _one_sided(k: float, h: float, shift: float, head_start: float) -> tuple[float, float]:
    """Average run length from nought and from the head start."""
    own, shares = _legendre(LEAST_NODES + ceil(4 * h))
    # the sum rests at nought with a probability of its own: nought is one more node, the first
    y, w = np.append(0.0, h * (own + 1) / 2), shares * h / 2

    def kernel(start: Floats) -> Floats:
        at_nought = ndtr(k - shift - start)[:, None]
        return np.hstack((at_nought, _density(y[None, 1:] - start[:, None] + k - shift) * w))

    lengths = np.linalg.solve(np.eye(y.size) - kernel(y), np.ones(y.size))
    started = float(1 + (kernel(np.array([head_start])) @ lengths)[0]) if head_start else float(lengths[0])
    return float(lengths[0]), started


def _solved(length_at: Callable[[float], float], wanted: float, low: float) -> float:
    if not 2 <= wanted <= 1e7:
        raise QuestionError(f"a run length between 2 and 10 million points can be asked for, not {wanted:g}")
    high = 2 * low
    while length_at(high) < wanted:
        low, high = high, 1.5 * high
    return float(brentq(lambda at: log(length_at(at) / wanted), low, high, xtol=1e-10, rtol=1e-12))


@lru_cache(maxsize=256)
def ewma_width(weight: float, run_length: float, *, growing: bool = False) -> float:
    """Return the half width of limits with this run length on target [standard deviations of the average].

    Source: as `ewma_run_length`.
    """
    return _solved(lambda width: ewma_run_length(weight, width, growing=growing), run_length, 0.05)


@lru_cache(maxsize=256)
def cusum_limit(k: float, run_length: float, *, head_start: float = 0.0, sides: int = 2) -> float:
    """Return the h with this run length on target [standard deviations of a point].

    Source: as `cusum_run_length`. ``head_start`` is here a share of h.
    """

    def length_at(h: float) -> float:
        return cusum_run_length(k, h, 0.0, head_start=head_start * h, sides=sides)

    return _solved(length_at, run_length, 0.02)


def simulated(
    advance: Advance, *, learned_from: int | None = None, lag1: float = 0.0, shift: float = 0.0,
    charts: int = 2000, cut: int = 20_000, seed: int = 1,
) -> RunLength:  # fmt: skip
    """Return the average run length of a chart by simulation, with its error [points].

    Each chart learns centre and spread from its own first points (sample mean and standard deviation, the
    bias of lag-1 taken out of the spread) and runs on from there until it signals.
    Source: own simulation; normal first-order autoregression.

    Parameters
    ----------
    advance : callable
        From the state of all charts (None at the start) and their next standardised points to the next state
        and who signals.
    learned_from : int or None
        Points behind centre and spread; None = both known.
    lag1, shift : float
        Correlation of neighbours; step of the level after learning [standard deviations].
    charts, cut, seed : int
        Charts run, points after which a run is cut off, start of the random numbers.
    """
    bits = np.random.PCG64(seed)

    def drawn(count: int) -> Floats:
        # the raw stream is fixed for good, a generator's own normal numbers are not
        return np.asarray(ndtri(((bits.random_raw(count) >> np.uint64(11)) + 0.5) / 2.0**53))

    keep, x = sqrt(1 - lag1**2), drawn(charts)
    center, spread = np.zeros(charts), np.ones(charts)
    if learned_from is not None:
        seen = np.empty((learned_from, charts))
        for t in range(learned_from):
            seen[t] = x
            x = lag1 * x + keep * drawn(charts)
        center = seen.mean(axis=0)
        spread = seen.std(axis=0, ddof=1) / sqrt(effective(learned_from, lag1).variance_factor)
    lengths, running = np.full(charts, float(cut)), np.arange(charts)
    state: Floats | None = None
    for t in range(1, cut + 1):
        state, off = advance(state, (x + shift - center[running]) / spread[running])
        if off.any():
            lengths[running[off]] = t
            state, x, running = state[..., ~off], x[~off], running[~off]
            if not running.size:
                break
        x = lag1 * x + keep * drawn(x.size)
    error = float(lengths.std(ddof=1)) / sqrt(charts)
    return RunLength(float(lengths.mean()), error, float(np.median(lengths)), running.size / charts)
