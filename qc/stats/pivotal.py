"""Intervals for series of blocks that count blocks, not readings: generalised pivotal quantities.

Source: S. Weerahandi, J. Am. Statist. Assoc. 88 (1993) 899-905; K. Krishnamoorthy, T. Mathew, Statistical
Tolerance Regions (2009), ch. 5, one-way random model (both from memory). A draw is a mean and a spread that
the data allow: with SSB = h x sum of squares of the block means about their centre, SSE = sum of squares
within,

    Vb = SSB / chi2(m - 1),  Ve = SSE / chi2(N - m),  mean = centre - Z sqrt(Vb / (m h)),
    spread = sqrt(max(0, (Vb - Ve) / h) + Ve),

and an interval of any figure of mean and spread is had from the quantiles of that figure over the draws.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.special import chdtri, ndtr, ndtri

from qc.stats.constants import D2_OF_TWO, c4
from qc.stats.families import folded_quantile
from qc.stats.intervals import Interval
from qc.stats.segments import Floats, at_fractions

DRAWS = 100_000
SEED = 20_260_101


@dataclass(frozen=True, slots=True)
class Pivots:
    """What the data allow, (draws,) each: mean and spread of all bores [unit of values].

    `share` is the share of the variance that lies between blocks [1], `z` the normal draw behind the mean.
    """

    mean: Floats
    spread: Floats
    share: Floats
    z: Floats


_KNOTS = 3001


@lru_cache(maxsize=4)
def _uniforms(seed: int, draws: int) -> Floats:
    # The raw words of PCG64 are fixed for good; numpy may change how it makes other distributions of them.
    raw = np.random.PCG64(seed).random_raw(3 * draws) >> np.uint64(11)
    halfway = (raw.astype(np.float64) + 0.5) * 2.0**-53
    return np.minimum(halfway, 1 - 2.0**-53).reshape(3, draws)


@lru_cache(maxsize=96)
def _chi_squares(place: int, freedom: float, seed: int, draws: int) -> Floats:
    """Chi-squares of the draws, `chdtri` read off a curve through 3,001 of its points.

    ln chi-square against the normal score is so smooth that the cubic spline agrees with `chdtri` itself to a
    relative 1e-11 (tested), in a tenth of the time.
    """
    scores = _scores(place, seed, draws)
    knots = np.linspace(scores.min(), scores.max(), _KNOTS)
    curve = CubicSpline(knots, np.log(chdtri(freedom, ndtr(knots))))
    out = np.exp(curve(scores))
    out.setflags(write=False)
    return np.asarray(out)


@lru_cache(maxsize=8)
def _scores(place: int, seed: int, draws: int) -> Floats:
    return np.asarray(ndtri(_uniforms(seed, draws)[place]))


@lru_cache(maxsize=4)
def _normals(seed: int, draws: int) -> Floats:
    out = ndtri(_uniforms(seed, draws)[2])
    out.setflags(write=False)
    return np.asarray(out)


def drawn(
    blocks: int, within: int, seed: int = SEED, draws: int = DRAWS
) -> tuple[Floats, Floats | None, Floats]:
    """Return the draws of chi2(m - 1), of chi2(N - m) and of Z, (draws,) each; None for no freedom within.

    They are the top 53 bits of PCG64(seed), halfway points, through inverse distribution functions, in this
    order: the first `draws` words for the blocks, the next for the bores within, the last for Z. Kept, since
    series with equal numbers share them.

    Parameters
    ----------
    blocks : int
        m, 2 or more.
    within : int
        N - m, 0 or more.
    seed, draws : int
        Of the generator, and how many.
    """
    inside = _chi_squares(1, float(within), seed, draws) if within > 0 else None
    return _chi_squares(0, float(blocks - 1), seed, draws), inside, _normals(seed, draws)


def pivots(
    centre: float,
    ssb: float,
    sse: float,
    blocks: int,
    bores: int,
    harmonic_bores: float,
    seed: int = SEED,
    draws: int = DRAWS,
) -> Pivots:
    """Return draws of mean and spread of all bores [unit of values]; Ve is 0 where each block gave one bore.

    Source: see the head of this module.

    Parameters
    ----------
    centre : float
        Unweighted mean of the block means.
    ssb, sse : float
        Sums of squares between (times h) and within blocks [unit squared].
    blocks, bores : int
        m and N.
    harmonic_bores : float
        h, harmonic mean of the numbers of bores.
    """
    chi_between, chi_within, z = drawn(blocks, bores - blocks, seed, draws)
    between = ssb / chi_between
    within = sse / chi_within if chi_within is not None else 0.0
    return _pivots(centre, between, within, blocks, harmonic_bores, z)


def short_pivots(
    centre: float,
    moving_range: float,
    ranges: int,
    pairs: int,
    sse: float,
    blocks: int,
    bores: int,
    harmonic_bores: float,
    seed: int = SEED,
    draws: int = DRAWS,
) -> Pivots:
    """Return draws of mean and short-term spread [unit of values]: as `pivots`, Vb from the moving ranges.

    MRbar / d2 is taken as s / c4 of `moving_range_freedom` degrees of freedom.

    Parameters
    ----------
    centre, sse, blocks, bores, harmonic_bores
        As in `pivots`.
    moving_range : float
        Mean moving range of the block means.
    ranges, pairs : int
        Number of moving ranges, and of those that share a block with the one before.
    """
    freedom = moving_range_freedom(ranges, pairs)
    _, chi_within, z = drawn(blocks, bores - blocks, seed, draws)
    level = (moving_range / D2_OF_TWO * c4(freedom + 1)) ** 2 * freedom
    between = harmonic_bores * level / _chi_squares(0, freedom, seed, draws)
    within = sse / chi_within if chi_within is not None else 0.0
    return _pivots(centre, between, within, blocks, harmonic_bores, z)


def moving_range_freedom(ranges: int, pairs: int) -> float:
    """Return the equivalent degrees of freedom of a mean moving range of two [1].

    Source: P. B. Patnaik, Biometrika 37 (1950) 78-87, matching of the coefficient of variation (from memory);
    the covariance of two ranges that share a value from the moments of the folded bivariate normal.

    Parameters
    ----------
    ranges, pairs : int
        Number of moving ranges, and of those that share a value with the one before.
    """
    alone = np.pi / 2 - 1
    # E|XY| of normals with correlation -1/2 is (2/pi)(sqrt(3)/2 + pi/12) variances.
    shared = np.sqrt(3) / 2 + np.pi / 12 - 1
    relative_variance = (alone * ranges + 2 * shared * pairs) / ranges**2
    return float(1 / (2 * relative_variance) + 0.25)


def _pivots(
    centre: float, between: Floats, within: Floats | float, blocks: int, h: float, z: Floats
) -> Pivots:
    among = np.maximum((between - within) / h, 0.0)
    variance = np.maximum(among + within, np.finfo(float).tiny)
    mean = centre - z * np.sqrt(between / (blocks * h))
    return Pivots(mean=mean, spread=np.sqrt(variance), share=among / variance, z=z)


def point(figures: Floats, p: float) -> float:
    """Return the p(N + 1) quantile of draws of a figure."""
    return float(at_fractions(np.sort(figures), np.array([p]))[0])


def interval(figures: Floats, confidence: float = 0.95) -> Interval:
    """Return the two-sided interval of a figure from its draws."""
    tail = (1 - confidence) / 2
    lower, upper = at_fractions(np.sort(figures), np.array([tail, 1 - tail]))
    return Interval(float(lower), float(upper), confidence)


def half_width(found: Pivots, centre: float, content: float = 0.95, confidence: float = 0.95) -> float:
    """Return the least c with which centre +- c holds `content` of the bores in `confidence` of the draws.

    Source: two-sided tolerance interval by Krishnamoorthy and Mathew (2009), ch. 5 (from memory); with one
    bore a block it is k s of ISO 16269-6.
    """
    return point(found.spread * folded_quantile(content, (found.mean - centre) / found.spread), confidence)
