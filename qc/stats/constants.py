"""Bias constants of ranges and standard deviations of normal values, and the chart factors made of them.

They are integrated, not tabled, so that any n works and no digit is lost.
"""

from functools import lru_cache
from math import exp, lgamma, pi, sqrt

import numpy as np
from scipy.special import ndtr

from qc.errors import TooLittleData

D2_OF_TWO = 2 / sqrt(pi)
"""d2(2), which turns a mean moving range into a standard deviation: 1.1284."""

_REACH = 9.0
_STEP = 0.03
_RANGE_NODES = 400


def _at_least_two(n: int) -> None:
    if n < 2:
        raise TooLittleData(
            f"a range or a standard deviation needs at least 2 values; there is {n}: use larger groups"
        )


@lru_cache(maxsize=512)
def _range_moments(n: int) -> tuple[float, float]:
    # E R = int (1 - F) dr and E R^2 = int 2 r (1 - F) dr, F(r) = n int phi(x) [Phi(x + r) - Phi(x)]^(n - 1)
    # dx. The trapezoid rule over x converges exponentially, because the integrand and all its slopes die at
    # both ends.
    x = np.arange(-_REACH, _REACH + _STEP / 2, _STEP)
    density = np.exp(-x * x / 2) / sqrt(2 * pi)
    nodes, weights = np.polynomial.legendre.leggauss(_RANGE_NODES)
    r = (nodes + 1) * _REACH
    weights = weights * _REACH
    inside = ndtr(x[:, None] + r) - ndtr(x)[:, None]
    beyond = 1 - n * _STEP * (density @ inside ** (n - 1))
    return float(weights @ beyond), float(weights @ (2 * r * beyond))


@lru_cache(maxsize=512)
def d2(n: int) -> float:
    """Return the mean range of n standard normal values [standard deviations].

    Source: ISO 7870-2:2013 Table 2; L. H. C. Tippett, Biometrika 17 (1925) 364-387 (both from memory).

    Parameters
    ----------
    n : int
        Values in a group, 2 or more.
    """
    _at_least_two(n)
    return D2_OF_TWO if n == 2 else _range_moments(n)[0]


@lru_cache(maxsize=512)
def d3(n: int) -> float:
    """Return the standard deviation of the range of n standard normal values.

    Source: ISO 7870-2:2013 Table 2 (from memory).
    """
    _at_least_two(n)
    first, second = _range_moments(n)
    return sqrt(second - first * first)


@lru_cache(maxsize=512)
def c4(n: float) -> float:
    """Return the mean of the standard deviation (divisor n - 1) of n standard normal values.

    Source: ISO 7870-2:2013 Table 2 (from memory): c4 = sqrt(2/(n-1)) Gamma(n/2) / Gamma((n-1)/2). A broken n
    stands for n - 1 equivalent degrees of freedom.
    """
    if n <= 1:
        raise TooLittleData(
            f"a standard deviation needs at least 2 values; there is {n:g}: use larger groups"
        )
    return sqrt(2 / (n - 1)) * exp(lgamma(n / 2) - lgamma((n - 1) / 2))


def A2(n: int) -> float:
    """Return the factor of the mean range for limits of means: 3 / (d2 sqrt n). Source: ISO 7870-2:2013 Table
    2.
    """
    return 3 / (d2(n) * sqrt(n))


def A3(n: int) -> float:
    """Return the factor of the mean s for limits of means: 3 / (c4 sqrt n). Source: ISO 7870-2:2013 Table
    2.
    """
    return 3 / (c4(n) * sqrt(n))


def _s_width(n: int) -> float:
    return 3 * sqrt(1 - c4(n) ** 2)


def B3(n: int) -> float:
    """Return the factor of the mean s for the lower limit of s. Source: ISO 7870-2:2013 Table 2."""
    return max(0.0, 1 - _s_width(n) / c4(n))


def B4(n: int) -> float:
    """Return the factor of the mean s for the upper limit of s. Source: ISO 7870-2:2013 Table 2."""
    return 1 + _s_width(n) / c4(n)


def B5(n: int) -> float:
    """Return the factor of a known sigma for the lower limit of s. Source: ISO 7870-2:2013 Table 2."""
    return max(0.0, c4(n) - _s_width(n))


def B6(n: int) -> float:
    """Return the factor of a known sigma for the upper limit of s. Source: ISO 7870-2:2013 Table 2."""
    return c4(n) + _s_width(n)


def D1(n: int) -> float:
    """Return the factor of a known sigma for the lower limit of ranges. Source: ISO 7870-2:2013 Table 2."""
    return max(0.0, d2(n) - 3 * d3(n))


def D2(n: int) -> float:
    """Return the factor of a known sigma for the upper limit of ranges. Source: ISO 7870-2:2013 Table 2."""
    return d2(n) + 3 * d3(n)


def D3(n: int) -> float:
    """Return the factor of the mean range for the lower limit of ranges. Source: ISO 7870-2:2013 Table 2."""
    return D1(n) / d2(n)


def D4(n: int) -> float:
    """Return the factor of the mean range for the upper limit of ranges. Source: ISO 7870-2:2013 Table 2."""
    return D2(n) / d2(n)


def E2(n: int) -> float:
    """Return the factor of the mean range of n for limits of single values: 3 / d2. Source: ASTM E2587 (from
    memory).
    """
    return 3 / d2(n)
