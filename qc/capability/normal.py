"""Indices of independent, normally distributed values, and their classical intervals.

They hold where the values stand for themselves, as in a study of one machine on parts made in one run. Bores
of several blocks do not: `nested` counts blocks.
"""

from math import sqrt

import numpy as np
from scipy.special import chdtri, ndtri

from qc.errors import TooLittleData
from qc.stats.intervals import Interval


def index(lower: float, upper: float, spread: float) -> float:
    """Return Pp or Cp, as the spread is of all values or short-term [1]: (U - L) / 6 spread.

    Source: NIST/SEMATECH e-Handbook 6.1.6.
    """
    return (upper - lower) / (6 * spread)


def nearer_index(lower: float, upper: float, mean: float, spread: float) -> float:
    """Return Ppk or Cpk [1]: distance of the mean to the nearer limit over 3 spreads.

    Source: NIST/SEMATECH e-Handbook 6.1.6.
    """
    return min(upper - mean, mean - lower) / (3 * spread)


def index_interval(index: float, n: int, confidence: float = 0.95) -> Interval:
    """Return the exact interval of Pp of n independent values [1].

    Source: V. E. Kane, J. Quality Technology 18 (1986) 41-52; Montgomery, Introduction to Statistical Quality
    Control, eq. 8.19 (from memory): Pp sqrt(chi2 / (n - 1)).
    """
    if n < 2:
        raise TooLittleData(f"an index needs at least 2 values; there is {n}: wait for more")
    tail = (1 - confidence) / 2
    ends = index * np.sqrt(chdtri(n - 1, np.array([1 - tail, tail])) / (n - 1))
    return Interval(float(ends[0]), float(ends[1]), confidence)


def nearer_index_interval(index: float, n: int, confidence: float = 0.95) -> Interval:
    """Return the approximate interval of Ppk of n independent values [1].

    Source: A. F. Bissell, Applied Statistics 39 (1990) 331-340, as in NIST/SEMATECH e-Handbook 6.1.6 (from
    memory): Ppk +- z sqrt(1 / 9n + Ppk^2 / 2(n - 1)).
    """
    if n < 2:
        raise TooLittleData(f"an index needs at least 2 values; there is {n}: wait for more")
    z = float(ndtri((1 + confidence) / 2))
    half = z * sqrt(1 / (9 * n) + index**2 / (2 * (n - 1)))
    return Interval(index - half, index + half, confidence)
