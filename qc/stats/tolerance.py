"""Factors k of normal tolerance intervals mean +- k s (two-sided) and mean + k s (one-sided) of independent
values.
"""

from functools import lru_cache
from math import sqrt

import numpy as np
from scipy.optimize import brentq
from scipy.special import chdtrc, chdtri, nctdtrit, ndtri

from qc.errors import TooLittleData
from qc.stats.families import folded_quantile


def _at_least_two(n: int) -> None:
    if n < 2:
        raise TooLittleData(
            f"a tolerance interval needs at least 2 values; there is {n}: wait for another block"
        )


@lru_cache(maxsize=512)
def one_sided_factor(n: int, content: float = 0.95, confidence: float = 0.95) -> float:
    """Return k of the one-sided interval, exact [standard deviations].

    Source: NIST/SEMATECH e-Handbook 7.2.6.3 (noncentral t): k = t(confidence; n - 1, z_content sqrt n) / sqrt
    n.

    Parameters
    ----------
    n : int
        Independent values, 2 or more.
    content, confidence : float
        Share of values held, and with which confidence.
    """
    _at_least_two(n)
    return float(nctdtrit(n - 1, ndtri(content) * sqrt(n), confidence)) / sqrt(n)


@lru_cache(maxsize=512)
def howe_factor(n: int, content: float = 0.95, confidence: float = 0.95) -> float:
    """Return k of the two-sided interval by Howe's approximation [standard deviations].

    Source: W. G. Howe, J. Am. Statist. Assoc. 64 (1969) 610-620, as in NIST/SEMATECH e-Handbook 7.2.6.3.
    """
    _at_least_two(n)
    return float(ndtri((1 + content) / 2)) * sqrt((n - 1) * (1 + 1 / n) / float(chdtri(n - 1, confidence)))


@lru_cache(maxsize=512)
def two_sided_factor(n: int, content: float = 0.95, confidence: float = 0.95) -> float:
    """Return k of the two-sided interval, exact [standard deviations].

    Source: ISO 16269-6:2014, annex on exact factors, mean and sigma unknown (from memory): the k at which
    P{mean +- k s holds `content`} = `confidence`, integrated over the place of the sample mean.
    """
    _at_least_two(n)
    nodes, weights = np.polynomial.legendre.leggauss(200)
    off = (nodes + 1) / 2 * 8.5
    density = weights * 8.5 / 2 * 2 * np.exp(-off * off / 2) / sqrt(2 * np.pi)
    half_width = folded_quantile(content, off / sqrt(n))

    def shortfall(k: float) -> float:
        return float(density @ chdtrc(n - 1, (n - 1) * (half_width / k) ** 2)) - confidence

    start = howe_factor(n, content, confidence)
    return float(brentq(shortfall, start / 3, start * 3, xtol=1e-13, rtol=1e-13))
