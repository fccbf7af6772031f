"""Charts of what is counted: blocks right first time, parts scrapped, faults found."""

from collections.abc import Callable
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.stats import binom, hypergeom

from qc.errors import QuestionError, TooLittleData
from qc.stats.levels import DEFAULT_LEVEL

Floats = NDArray[np.float64]
Chances = Callable[[NDArray[np.int64]], tuple[Floats, Floats]]


@dataclass(frozen=True, slots=True)
class CountChart:
    """Centre and limits of counts or shares, (m,) each.

    ``lower, upper`` are the least and the greatest value that is no signal; on the limit is inside.
    ``center`` is a share of the whole, or a count for each unit looked at.
    """

    center: float
    lower: Floats
    upper: Floats
    statistic: Floats
    signals: NDArray[np.bool_]
    level: float
    method: str
    run_length: str


def shares_three_sigma(counts: ArrayLike, of: ArrayLike) -> CountChart:
    """Return the shares counted, with the usual three-sigma limits.

    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.3.2 Proportions Control Charts.

    Parameters
    ----------
    counts, of : (m,)
        Counted, and looked at.
    """
    x, n = _checked(counts, of, "looked at", whole=True)
    share = float(x.sum() / n.sum())
    half = 3 * np.sqrt(share * (1 - share) / n)
    return _three_sigma(x / n, share, half, "share counted, three-sigma limits")


def faults_three_sigma(counts: ArrayLike) -> CountChart:
    """Return the faults counted in equal units, with the usual three-sigma limits.

    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.3.1 Counts Control Charts.

    Parameters
    ----------
    counts : (m,)
    """
    x, _ = _checked(counts, np.ones(np.size(counts)), "units", whole=False)
    return _three_sigma(
        x, float(x.mean()), np.full(x.shape, 3 * sqrt(x.mean())), "faults, three-sigma limits"
    )


def _three_sigma(values: Floats, center: float, half: Floats, method: str) -> CountChart:
    lower, upper = np.maximum(0.0, center - half), center + half
    return CountChart(
        center, lower, upper, values, (values < lower) | (values > upper), 0.0027, method,
        "the stated 370 points to a false alarm do not hold for few or rare counts: exact limits keep theirs",
    )  # fmt: skip


def shares(counts: ArrayLike, of: ArrayLike, *, level: float = DEFAULT_LEVEL) -> CountChart:
    """Return counts with exact limits: each held against all the others, whatever the true share is.

    Given the sum of both, a count among n and the count of the others are hypergeometric: first-pass yield
    (right first time of built) and scrap.
    Source: R. A. Fisher's exact test, Statistical Methods for Research Workers, sec. 21.02 (from memory).

    Parameters
    ----------
    counts, of : (m,)
        Counted (right first time, or scrapped), and looked at (built), in order of time.
    level : float
        Share of quiet periods that may signal at most, half on each side.

    Raises
    ------
    TooLittleData
        Under 2 periods.
    """
    x, n = _checked(counts, of, "looked at", whole=True)
    others, left = x.sum() - x, n.sum() - n

    def chances(i: int) -> Chances:
        def both(c: NDArray[np.int64]) -> tuple[Floats, Floats]:
            law = hypergeom(int(left[i] + n[i]), others[i].astype(int) + c, int(n[i]))
            return law.cdf(c), law.sf(c - 1)

        return both

    ends = [_inside(chances(i), int(n[i]), level) for i in range(x.size)]
    return _exact(x, float(x.sum() / n.sum()), ends, level, "count against all the others (hypergeometric)")


def faults(counts: ArrayLike, looked_at: ArrayLike, *, level: float = DEFAULT_LEVEL) -> CountChart:
    """Return faults with exact limits: each held against all the others by how much was looked at.

    Given the sum of both, a Poisson count and that of the others are binomial.
    Source: J. Przyborowski and H. Wilenski (1940), Biometrika 31, 313-323 (from memory).

    Parameters
    ----------
    counts, looked_at : (m,)
        Faults, and how much was looked at (bores, blocks, area), in order of time.
    level : float
        Share of quiet periods that may signal at most, half on each side.
    """
    x, a = _checked(counts, looked_at, "looked at", whole=False)
    others, part = x.sum() - x, a / a.sum()

    def chances(i: int) -> Chances:
        def both(c: NDArray[np.int64]) -> tuple[Floats, Floats]:
            law = binom(others[i].astype(int) + c, part[i])
            return law.cdf(c), law.sf(c - 1)

        return both

    most = int(20 + 10 * x.max() + 10 * (a.max() / a.min()) * (x.max() + 1))
    ends = [_inside(chances(i), most, level) for i in range(x.size)]
    return _exact(x, float(x.sum() / a.sum()), ends, level, "faults against all the others (binomial)")


def _inside(chances: Chances, most: int, level: float) -> tuple[float, float]:
    """Least and greatest count that is no signal."""
    c = np.arange(most + 1)
    below, above = chances(c)
    fine = c[(below > level / 2) & (above > level / 2)]
    return float(fine[0]), float(fine[-1])


def _exact(
    x: Floats, center: float, ends: list[tuple[float, float]], level: float, method: str
) -> CountChart:
    lower, upper = np.array(ends).T
    words = (
        f"a quiet series gives one false alarm in {1 / level:,.0f} periods or more, with limits from "
        f"{x.size} periods ({1 / level:,.0f} or more if the true share were known): counts are whole, so "
        "the limits err to the quiet side"
    )
    return CountChart(center, lower, upper, x, (x < lower) | (x > upper), level, method, words)


def _checked(counts: ArrayLike, of: ArrayLike, what: str, *, whole: bool) -> tuple[Floats, Floats]:
    x, n = np.asarray(counts, dtype=float).ravel(), np.asarray(of, dtype=float).ravel()
    if x.shape != n.shape:
        raise QuestionError(f"each count needs its own number {what}")
    if x.size < 2:
        raise TooLittleData(f"a chart of counts needs 2 periods or more; there is {x.size}: widen the dates")
    if not ((x >= 0).all() and (n > 0).all() and (x == np.rint(x)).all()):
        raise QuestionError(f"counts are whole numbers from 0 up, and what was {what} is above 0")
    if whole and (x > n).any():
        raise QuestionError(f"no more can be counted than was {what}")
    return x, n
