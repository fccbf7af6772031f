"""One month against another: level, spread in block, block to block.

The block is the unit throughout. A test on the readings themselves finds a change where nothing
changed, in 11 to 47 % of months, because the bores of one block are alike.
"""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import digamma
from scipy.stats import f as f_distribution
from scipy.stats import t as t_distribution

from qc.compare.equal_spreads import brown_forsythe, values_of
from qc.errors import QuestionError, TooLittleData
from qc.stats.intervals import Interval

Floats = NDArray[np.float64]
Figure = Literal["spread_in_block", "block_to_block"]

LEAST_BLOCKS_FOR_WORDS = 5
SAME_WITHIN = (0.8, 1.25)


@dataclass(frozen=True, slots=True)
class LevelComparison:
    """Difference of the levels of two sets of blocks, the first less the second [unit of the means].

    Where the means are logarithms, ``ratio`` and ``ratio_interval`` say the same as a factor.
    """

    difference: float
    interval: Interval
    t: float
    df: float
    p: float
    blocks: tuple[int, int]
    ratio: float | None = None
    ratio_interval: Interval | None = None
    method: str = "Welch on block means"


@dataclass(frozen=True, slots=True)
class SpreadComparison:
    """Ratio of two spreads, the first over the second, under 1 when the first is more even.

    ``smallest_ratio`` is the factor (above 1) that so many blocks could have shown: a change by less
    leaves 1 inside the interval. None where the interval has no end; ``ratio`` None where the second
    set has no spread at all.
    """

    figure: Figure
    ratio: float | None
    interval: Interval
    statistic: float
    df: float
    p: float
    blocks: tuple[int, int]
    smallest_ratio: float | None
    method: str


def _welch(
    mean_a: float, var_a: float, df_a: int, mean_b: float, var_b: float, df_b: int
) -> tuple[float, float, float, float]:
    """Difference, its standard error, degrees of freedom, statistic; ``var`` are those of the means."""
    difference, variance = mean_a - mean_b, var_a + var_b
    if variance == 0.0:
        return (
            difference,
            0.0,
            float(df_a + df_b),
            0.0 if difference == 0 else float(np.copysign(np.inf, difference)),
        )
    df = variance**2 / (var_a**2 / df_a + var_b**2 / df_b)
    return difference, float(np.sqrt(variance)), float(df), float(difference / np.sqrt(variance))


def level(
    means_a: ArrayLike, means_b: ArrayLike, *, logarithms: bool = False, confidence: float = 0.95
) -> LevelComparison:
    """Difference of the level of two sets of blocks, the first less the second, with its interval.

    Source: Welch (1947), Biometrika 34, 28-35; NIST/SEMATECH e-Handbook 1.3.5.3.

    Parameters
    ----------
    means_a, means_b : (m,)
        Block means of this month and of the one it is held against; NaN is left out.
    logarithms : bool
        The means are of logarithms of the bore values (texture): the result also has the ratio.
    confidence : float
        Of the two-sided interval.

    Raises
    ------
    TooLittleData
        Fewer than 2 blocks in one of them.
    """
    a, b = values_of(means_a, "a comparison of levels"), values_of(means_b, "a comparison of levels")
    difference, error, df, t = _welch(
        float(a.mean()), float(a.var(ddof=1)) / a.size, a.size - 1,
        float(b.mean()), float(b.var(ddof=1)) / b.size, b.size - 1,
    )  # fmt: skip
    half = float(t_distribution.ppf((1 + confidence) / 2, df)) * error
    interval = Interval(difference - half, difference + half, confidence)
    found = LevelComparison(
        difference, interval, t, df, float(2 * t_distribution.sf(abs(t), df)), (a.size, b.size)
    )
    if not logarithms:
        return found
    factor = Interval(float(np.exp(difference - half)), float(np.exp(difference + half)), confidence)
    return replace(found, ratio=float(np.exp(difference)), ratio_interval=factor)


def _log_spreads(s: ArrayLike, n: ArrayLike, resolution: float) -> tuple[Floats, Floats]:
    spread, v = np.asarray(s, dtype=float).ravel(), np.asarray(n, dtype=float).ravel() - 1.0
    if spread.shape != v.shape:
        raise QuestionError("spread in block needs one number of bores for each block")
    use = (v > 0) & ~np.isnan(spread)
    spread, v = spread[use], v[use]
    if spread.size < 2:
        raise TooLittleData(
            "a comparison of the spread in a block needs 2 blocks of 2 bores or more in each month; "
            f"one has {spread.size}: widen the dates"
        )
    spread = np.maximum(spread, resolution / np.sqrt(12.0))
    if (spread <= 0).any():
        raise QuestionError(
            "a block has no spread at all: give the gauge's resolution, below which a spread cannot be told"
        )
    return np.log(spread) - (digamma(v / 2) - np.log(v / 2)) / 2, v


def spread_in_block(
    s_a: ArrayLike,
    n_a: ArrayLike,
    s_b: ArrayLike,
    n_b: ArrayLike,
    resolution: float,
    *,
    confidence: float = 0.95,
) -> SpreadComparison:
    """Ratio of the spread in a block of two sets of blocks, the first over the second, with its interval.

    y_i = ln s_i - (psi(v/2) - ln(v/2))/2 with v = n_i - 1, weighted by v, compared by Welch's t: the
    blocks' own scatter of ln s counts, not what normal bores would have.
    Source: Bartlett and Kendall (1946), Suppl. J. R. Statist. Soc. 8, 128-138 (ln s, its bias and
    weight; from memory); Welch (1947), Biometrika 34, 28-35.

    Parameters
    ----------
    s_a, s_b : (m,)
        Standard deviation of the bores of each block; NaN is left out.
    n_a, n_b : (m,)
        Bores of each block; blocks with one bore are left out.
    resolution : float
        Of the gauge, in the unit of s: no s counts as less than resolution/sqrt(12).
    confidence : float
        Of the two-sided interval.

    Raises
    ------
    TooLittleData, QuestionError
    """
    parts = []
    for s, n in ((s_a, n_a), (s_b, n_b)):
        y, v = _log_spreads(s, n, resolution)
        mean = float((v * y).sum() / v.sum())
        parts.append((mean, float((v * (y - mean) ** 2).sum() / ((y.size - 1) * v.sum())), y.size - 1))
    difference, error, df, t = _welch(*parts[0], *parts[1])
    half = float(t_distribution.ppf((1 + confidence) / 2, df)) * error
    ends = np.exp([difference - half, difference + half])
    return SpreadComparison(
        figure="spread_in_block",
        ratio=float(np.exp(difference)),
        interval=Interval(float(ends[0]), float(ends[1]), confidence),
        statistic=t,
        df=df,
        p=float(2 * t_distribution.sf(abs(t), df)),
        blocks=(parts[0][2] + 1, parts[1][2] + 1),
        smallest_ratio=float(np.exp(half)),
        method="Welch on bias-free logarithms of the spread in a block",
    )


def block_to_block(means_a: ArrayLike, means_b: ArrayLike, *, confidence: float = 0.95) -> SpreadComparison:
    """Ratio of the spread of the block means of two sets of blocks, first over second, with its interval.

    The ratio is that of the mean absolute deviations from the median; the interval holds every ratio
    that the Brown-Forsythe test does not reject, so the two never disagree.
    Source: Brown and Forsythe (1974), JASA 69, 364-367; inversion as Fieller (1954).

    Parameters
    ----------
    means_a, means_b : (m,)
        Block means; NaN is left out.
    confidence : float
        Of the two-sided interval.

    Raises
    ------
    TooLittleData
        Fewer than 2 blocks in one of them.
    """
    a, b = (
        values_of(means_a, "a comparison of block means"),
        values_of(means_b, ("a comparison of block means")),
    )
    test = brown_forsythe(a, b)
    za, zb = np.abs(a - np.median(a)), np.abs(b - np.median(b))
    # The test of a against r b does not reject while (A - r B)^2 <= c (SSa + r^2 SSb): a quadratic in r.
    limit = float(f_distribution.ppf(confidence, *test.df))
    c = limit * (1 / a.size + 1 / b.size) / test.df[1]
    square = zb.mean() ** 2 - c * float(((zb - zb.mean()) ** 2).sum())
    constant = za.mean() ** 2 - c * float(((za - za.mean()) ** 2).sum())
    root = float(np.sqrt(max(0.0, (za.mean() * zb.mean()) ** 2 - square * constant)))
    total = za.mean() * zb.mean() + root
    lower = constant / total if constant > 0 and total > 0 else 0.0
    upper = float((za.mean() * zb.mean() + root) / square) if square > 0 else None
    return SpreadComparison(
        figure="block_to_block",
        ratio=float(za.mean() / zb.mean()) if zb.mean() > 0 else None,
        interval=Interval(float(lower), upper, confidence),
        statistic=test.statistic,
        df=test.df[1],
        p=test.p,
        blocks=(a.size, b.size),
        smallest_ratio=float(np.sqrt(upper / lower)) if upper is not None and lower > 0 else None,
        method="Brown-Forsythe on block means",
    )


def holm(p: ArrayLike) -> Floats:
    """Values of p corrected for being several, in the order given.

    Source: Holm (1979), Scand. J. Statist. 6, 65-70.

    Parameters
    ----------
    p : (k,)
        p values of the whole report; NaN stays NaN and does not count.
    """
    values = np.asarray(p, dtype=float)
    out = np.full(values.shape, np.nan)
    known = np.flatnonzero(~np.isnan(values))
    order = known[np.argsort(values[known], kind="stable")]
    factors = np.arange(order.size, 0, -1)
    out[order] = np.minimum(1.0, np.maximum.accumulate(values[order] * factors))
    return out


def _inside(interval: Interval, least: float, most: float) -> bool:
    if interval.lower is None or interval.upper is None:
        return False
    return least <= interval.lower and interval.upper <= most


def words(comparison: SpreadComparison, p_corrected: float | None = None) -> str | None:
    """What a comparison of spreads says in words, of the first set against the second.

    "more even" or "less even" when the interval excludes 1 after Holm's correction over the report,
    "the same" only when it lies inside 0.8 to 1.25, else "cannot tell from n blocks".
    Source: own rule.

    Parameters
    ----------
    comparison : SpreadComparison
    p_corrected : float, optional
        Its p value after `holm` over the whole report; without it the comparison stands alone.

    Returns
    -------
    str or None
        None with fewer than 5 blocks in one of the sets: dots, no comparison in words.
    """
    if min(comparison.blocks) < LEAST_BLOCKS_FOR_WORDS:
        return None
    p = comparison.p if p_corrected is None else p_corrected
    if p < 1 - comparison.interval.confidence:
        return "more even" if comparison.ratio is not None and comparison.ratio < 1 else "less even"
    if _inside(comparison.interval, *SAME_WITHIN):
        return "the same"
    sentence = f"cannot tell from {min(comparison.blocks)} blocks"
    if comparison.p < 1 - comparison.interval.confidence:
        return f"{sentence}: among so many comparisons chance shows as much"
    if comparison.smallest_ratio is None:
        return sentence
    return f"{sentence}: they cannot show a change by less than a factor of {comparison.smallest_ratio:.2g}"
