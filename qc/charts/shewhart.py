"""Classical charts: means with ranges or standard deviations, and single values with moving ranges.

They are for subgroups whose mean varies no more than the bores in them; block means do not keep to
that (`block_means`). Every result says what its limits really give when learned from so few.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.stats import norm
from scipy.stats import t as t_distribution

from qc.errors import TooLittleData
from qc.stats.constants import c4, d2, d3
from qc.stats.lag import effective

Floats = NDArray[np.float64]

STATED = float(2 * norm.sf(3.0))
"""Share of values beyond 3 sigma when centre and sigma are known: 0.0027."""


@dataclass(frozen=True, slots=True)
class Limits:
    """Centre line and three-sigma limits of one of the two charts."""

    center: float
    lower: float
    upper: float


@dataclass(frozen=True, slots=True)
class ShewhartChart:
    """Limits of location and spread, the sigma behind them, and the points beyond.

    ``false_alarm_rate`` is what the location limits give on average when learned from so many groups;
    ``stated_rate`` what they give with known parameters.
    """

    location: Limits
    spread: Limits
    sigma: float
    values: Floats
    spreads: Floats
    signals: NDArray[np.bool_]
    spread_signals: NDArray[np.bool_]
    false_alarm_rate: float
    stated_rate: float
    method: str


def _groups(values: ArrayLike) -> Floats:
    x = np.asarray(values, dtype=float)
    if x.ndim != 2 or x.shape[0] < 2 or x.shape[1] < 2:
        raise TooLittleData(
            "a chart of means needs 2 groups or more of 2 values or more, as (groups, values)"
        )
    return x


def _beyond(values: Floats, limits: Limits) -> NDArray[np.bool_]:
    return (values < limits.lower) | (values > limits.upper)


def _rate(variance: float, df: float) -> float:
    """Share beyond 3 sigma when both are estimated; ``variance`` of (value - centre), over sigma^2."""
    return float(2 * t_distribution.sf(3.0 / np.sqrt(variance), df))


def xbar_r(values: ArrayLike) -> ShewhartChart:
    """Three-sigma limits for means and ranges, sigma = mean range / d2.

    Source: ISO 7870-2:2013 (from memory); Montgomery, Introduction to Statistical Quality Control, 6.2.

    Parameters
    ----------
    values : (groups, n)
        Equal groups in order of time.

    Raises
    ------
    TooLittleData
        Fewer than 2 groups or 2 values in a group.
    """
    x = _groups(values)
    return means_and_ranges(x.mean(axis=1), x.max(axis=1) - x.min(axis=1), x.shape[1])


def means_and_ranges(means: ArrayLike, ranges: ArrayLike, n: int, *, unlike: float = 1.0) -> ShewhartChart:
    """Three-sigma limits as `xbar_r`, from the means and ranges of groups of n values each.

    Source: ISO 7870-2:2013 (from memory).

    Parameters
    ----------
    unlike : float
        Variance of a mean over what the spread inside groups would give it; above 1 where groups differ by
        nature. It goes into the real rate of false alarms only.
    """
    means, ranges, k = *_pairs(means, ranges), np.size(means)
    sigma = float(ranges.mean()) / d2(n)
    spread = Limits(
        float(ranges.mean()), max(0.0, float(d2(n) - 3 * d3(n)) * sigma), (d2(n) + 3 * d3(n)) * sigma
    )
    df = k * (d2(n) / d3(n)) ** 2 / 2
    return _of_means(means, ranges, n, spread, sigma, df, "means and ranges", unlike)


def xbar_s(values: ArrayLike) -> ShewhartChart:
    """Three-sigma limits for means and standard deviations, sigma = mean s / c4.

    Source: ISO 7870-2:2013 (from memory); Montgomery, Introduction to Statistical Quality Control, 6.3.

    Parameters
    ----------
    values : (groups, n)
        Equal groups in order of time.

    Raises
    ------
    TooLittleData
        Fewer than 2 groups or 2 values in a group.
    """
    x = _groups(values)
    return means_and_spreads(x.mean(axis=1), x.std(axis=1, ddof=1), x.shape[1])


def means_and_spreads(means: ArrayLike, spreads: ArrayLike, n: int, *, unlike: float = 1.0) -> ShewhartChart:
    """Three-sigma limits as `xbar_s`, from the means and standard deviations of groups of n values each.

    Source: ISO 7870-2:2013 (from memory).

    Parameters
    ----------
    unlike : float
        Variance of a mean over what the spread inside groups would give it; above 1 where groups differ by
        nature. It goes into the real rate of false alarms only.
    """
    means, s, k = *_pairs(means, spreads), np.size(means)
    sigma, width = float(s.mean()) / c4(n), 3 * np.sqrt(1 - c4(n) ** 2)
    spread = Limits(float(s.mean()), max(0.0, (c4(n) - width) * sigma), float((c4(n) + width) * sigma))
    df = k * c4(n) ** 2 / (1 - c4(n) ** 2) / 2
    return _of_means(means, s, n, spread, sigma, df, "means and standard deviations", unlike)


def _pairs(means: ArrayLike, spreads: ArrayLike) -> tuple[Floats, Floats]:
    x, s = np.asarray(means, dtype=float).ravel(), np.asarray(spreads, dtype=float).ravel()
    if x.size < 2 or x.shape != s.shape:
        raise TooLittleData(
            f"a chart of means needs 2 groups or more, each with its spread; there are {x.size}: widen the "
            f"dates"
        )
    return x, s


def _of_means(
    means: Floats,
    spreads: Floats,
    n: int,
    spread: Limits,
    sigma: float,
    df: float,
    method: str,
    unlike: float,
) -> ShewhartChart:
    k = means.size
    half = 3 * sigma / np.sqrt(n)
    location = Limits(float(means.mean()), float(means.mean() - half), float(means.mean() + half))
    return ShewhartChart(
        location, spread, sigma, means, spreads, _beyond(means, location), _beyond(spreads, spread),
        _rate(unlike * (1 + 1 / k), df), STATED, method,
    )  # fmt: skip


def moving_ranges(values: ArrayLike, stretch: ArrayLike | None = None) -> Floats:
    """Absolute differences of neighbours, NaN for the first value and across a change of stretch.

    Source: NIST/SEMATECH e-Handbook 6.3.2.2; none across an event: own rule.

    Parameters
    ----------
    values : (m,)
    stretch : (m,), optional
        A number for each value; neighbours with different numbers make no range.
    """
    x = np.asarray(values, dtype=float).ravel()
    out = np.full(x.shape, np.nan)
    out[1:] = np.abs(np.diff(x))
    if stretch is not None:
        out[1:][np.diff(np.asarray(stretch).ravel()) != 0] = np.nan
    return out


def individuals(values: ArrayLike, stretch: ArrayLike | None = None, *, lag1: float = 0.0) -> ShewhartChart:
    """Three-sigma limits for single values, sigma = mean moving range / 1.1284.

    ``false_alarm_rate`` is their real average: about four times the stated from 20 values, ten to twenty
    times with lag-1 0.5.
    Source: ISO 7870-2:2013 (from memory); NIST/SEMATECH e-Handbook 6.3.2.2 (there with d2 = 1.128).

    Parameters
    ----------
    values : (m,)
        In order of time; NaN is passed over.
    stretch : (m,), optional
        No moving range is taken across a change of this number.
    lag1 : float
        Lag-1 correlation, for the real false-alarm rate only.

    Raises
    ------
    TooLittleData
        No moving range.
    """
    x = np.asarray(values, dtype=float).ravel()
    ranges = moving_ranges(x, stretch)
    taken = ranges[~np.isnan(ranges)]
    if taken.size < 1:
        raise TooLittleData(
            f"a chart of single values needs 2 values in one stretch; there are {x.size}: "
            "widen the dates or wait for another build"
        )
    sigma, center = float(taken.mean()) / d2(2), float(np.nanmean(x))
    location = Limits(center, center - 3 * sigma, center + 3 * sigma)
    spread = Limits(float(taken.mean()), max(0.0, (d2(2) - 3 * d3(2)) * sigma), (d2(2) + 3 * d3(2)) * sigma)
    return ShewhartChart(
        location, spread, sigma, x, ranges, _beyond(x, location), _beyond(ranges, spread),
        _rate_of_moving_ranges(taken.size, lag1), STATED, "single values and moving ranges",
    )  # fmt: skip


def _rate_of_moving_ranges(ranges: int, lag1: float) -> float:
    # Var of a range of two is 2 - 4/pi, the covariance of neighbouring ranges (correlation -1/2 of their
    # differences) (4/pi)(sqrt(3)/2 + pi/12) - 4/pi, all over sigma^2; they shrink by 1 - rho under lag-1.
    own, neighbour = 2 - 4 / np.pi, 4 / np.pi * (np.sqrt(3) / 2 + np.pi / 12 - 1)
    variance = (ranges * own + 2 * (ranges - 1) * neighbour) / ranges**2
    df = d2(2) ** 2 / (2 * variance)
    rho = max(0.0, min(lag1, 0.95))
    return _rate((1 + 1 / effective(ranges + 1, rho).blocks_for_mean) / (1 - rho), df)
