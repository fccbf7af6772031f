"""Limits of many series at once, from sums over segments: what `shewhart` gives each of them alone.

For whoever calls these functions with a whole store at hand. An answer shows one series and asks `shewhart`,
which also says how often such limits alarm; no command or page asks this module.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from qc.errors import TooLittleData
from qc.stats.constants import D2_OF_TWO, d2
from qc.stats.segments import Floats, counts, cuts, extremes, means
from qc.stats.spreads import Spreads


@dataclass(frozen=True, slots=True)
class ManyLimits:
    """Centre and three-sigma limits of R series, (R,) each [unit of the values]; NaN where there is none."""

    center: Floats
    lower: Floats
    upper: Floats
    sigma: Floats


def of_single_values(found: Spreads) -> ManyLimits:
    """Return the limits of block means as single values, sigma = mean moving range / 1.1284.

    Source: ISO 7870-2:2013 (from memory); NIST/SEMATECH e-Handbook 6.3.2.2 (there with d2 = 1.128).

    Parameters
    ----------
    found : Spreads
        Of the series, from `qc.stats.spreads.spreads`.
    """
    sigma = found.mean_moving_range / D2_OF_TWO
    return ManyLimits(found.centre, found.centre - 3 * sigma, found.centre + 3 * sigma, sigma)


def of_means_and_ranges(values: ArrayLike, blocks: ArrayLike, rows: ArrayLike) -> ManyLimits:
    """Return the limits of block means, sigma = mean range / d2, for blocks of equal numbers of bores.

    Source: ISO 7870-2:2013 (from memory); Montgomery, Introduction to Statistical Quality Control, 6.2.

    Parameters
    ----------
    values, blocks, rows
        As `qc.stats.spreads.spreads`.

    Raises
    ------
    TooLittleData
        Blocks that are empty, of one bore, or unlike in number.
    """
    sizes = counts(blocks)
    if not sizes.size or sizes.min() != sizes.max() or sizes[0] < 2:
        raise TooLittleData(
            "limits from ranges need blocks of one and the same number of bores, 2 or more: ask for block "
            "means with prediction limits instead"
        )
    n = int(sizes[0])
    low, high = extremes(values, blocks)
    center = means(means(values, blocks), rows)
    sigma = means(high - low, rows) / d2(n)
    half = 3 * sigma / np.sqrt(n)
    return ManyLimits(center, center - half, center + half, sigma)


def beyond(block_means: ArrayLike, limits: ManyLimits, rows: ArrayLike) -> NDArray[np.bool_]:
    """Return which block means lie beyond the limits of their series, (B,).

    Source: definition of a signal.
    """
    x, blocks = np.asarray(block_means, dtype=float), np.diff(cuts(rows))
    return (x < np.repeat(limits.lower, blocks)) | (x > np.repeat(limits.upper, blocks))
