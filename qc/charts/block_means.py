"""The default chart: prediction limits for block means.

Limits come from the variation between blocks. Limits from the spread in a block alarm constantly, and
moving-range limits from 20 blocks give several times the false alarms they state (`shewhart`).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import chdtri, ndtr, stdtrit

from qc.errors import QuestionError, TooLittleData
from qc.stats.lag import Effective, effective, effective_blocks
from qc.stats.levels import DEFAULT_LEVEL

Floats = NDArray[np.float64]

_NEVER = 1e-12  # chances below it are none

_USUAL_RATIO, _USUAL_WEIGHT = 2.5, 10.0
"""Variance of block means over W/h in a usual series, and how many blocks that counts as (own, simulated)."""


@dataclass(frozen=True, slots=True)
class BlockMeansChart:
    """Centre and limits of a chart of block means [unit of the means].

    ``lower, upper`` (m,) belong to each block and differ with its number of bores: for a block the
    limits were learned from, the value it may not pass given all of them; for a later one, the
    prediction limits. ``lower_limit, upper_limit`` are those of the next block with the typical number
    of bores. ``s`` is the standard deviation of such a block mean with the bias of lag-1 taken out.
    ``blocks_to_a_false_alarm`` is the average, and ``run_length`` says it in words.
    """

    center: float
    lower: Floats
    upper: Floats
    lower_limit: float
    upper_limit: float
    signals: NDArray[np.bool_]
    learned: NDArray[np.bool_]
    s: float
    typical_bores: float
    m: int
    m_eff: float
    lag1: float
    level: float
    blocks_to_a_false_alarm: float
    run_length: str
    method: str = "prediction limits from the block means"


def prediction_limits(
    means: ArrayLike,
    bores: ArrayLike,
    *,
    spread_in_block: float | None,
    spread_between_blocks: float | None,
    lag1: float = 0.0,
    level: float = DEFAULT_LEVEL,
    learn: int | ArrayLike | None = None,
) -> BlockMeansChart:
    """Prediction limits for block means [unit of the means].

    Centre +- t(1 - level/2, m_eff - 1) s sqrt(1 + 1/m_eff).

    s = spread_of_block_means over the square root of E[s^2]/sigma^2 under lag-1; for a block of n bores
    where blocks differ, as `spread_for` says. Limits for the very next block (``learn`` None) need no other
    correction, as the next block leans the same way as the last ones: m_eff = m. Limits set once and used
    on (``learn`` given) take the m_eff of `qc.stats.lag.effective_blocks`. Blocks learned from are held
    against what each may deviate given the rest (externally studentised).
    Source: Hahn and Meeker, Statistical Intervals (1991), 4.8, prediction interval (from memory);
    correction for lag-1: own derivation, false alarms simulated in tests/simulations.

    Parameters
    ----------
    means, bores : (m,)
        Block means in order of time and the bores behind each; a NaN mean is passed over.
    spread_in_block, spread_between_blocks : float or None, of the blocks learned from
        Needed where blocks differ in number of bores.
    lag1 : float
        Lag-1 correlation of block means, pooled over like series under 50 blocks; below 0 counts as 0.
    level : float
        Share of quiet blocks that may signal.
    learn : int or (m,) of bool, optional
        Blocks the limits are set from, the first so many or a mask; None = all, limits being learned.
    """
    x, n = np.asarray(means, dtype=float).ravel(), np.asarray(bores, dtype=float).ravel()
    if x.shape != n.shape:
        raise QuestionError("a chart of block means needs one number of bores for each block")
    learned = learned_from(x, learn)
    rho, m = max(0.0, min(lag1, 0.9)), int(learned.sum())
    worth = effective(m, rho)
    m_eff = float(m) if learn is None else effective_blocks(m, rho, level)
    center = float(x[learned].mean())
    typical = float(np.median(n[learned]))
    s = spread_for(n, x[learned], n[learned], spread_in_block, spread_between_blocks, worth)
    s_typical = float(
        spread_for(
            np.array([typical]), x[learned], n[learned], spread_in_block, spread_between_blocks, worth
        )[0]
    )
    factor = float(stdtrit(m_eff - 1, 1 - level / 2)) * np.sqrt(1 + 1 / m_eff)
    half = np.where(learned, _inside_factor(m, level), factor) * s
    lower, upper = center - half, center + half
    return BlockMeansChart(
        center=center,
        lower=lower,
        upper=upper,
        lower_limit=center - factor * s_typical,
        upper_limit=center + factor * s_typical,
        signals=(x < lower) | (x > upper),
        learned=learned,
        s=s_typical,
        typical_bores=typical,
        m=m,
        m_eff=m_eff,
        lag1=rho,
        level=level,
        blocks_to_a_false_alarm=1 / level,
        run_length=_in_words(level, m),
    )


def learned_from(x: Floats, learn: int | ArrayLike | None) -> NDArray[np.bool_]:
    """Which blocks limits are learned from: the first so many, a mask, or all that have a mean."""
    known = ~np.isnan(x)
    if learn is None:
        mask = known
    elif isinstance(learn, int | np.integer):
        mask = known & (np.cumsum(known) <= learn)
    else:
        mask = known & np.asarray(learn, dtype=bool).ravel()
    if mask.sum() < 3:
        raise TooLittleData(
            f"a chart of block means needs 3 blocks to learn from; there are {int(mask.sum())}: "
            "widen the dates or wait for another build"
        )
    return mask


def spread_for(
    n: Floats, x: Floats, learned_n: Floats, inside: float | None, between: float | None, worth: Effective
) -> Floats:
    """Standard deviation of the mean of a block of each ``n`` bores, its bias under lag-1 taken out.

    Where blocks differ: that of the block means times the square root of (B + W/n)/(B + W/h), W the variance
    in a block, B the one between, from the means' variance after adding 10 blocks with 2.5 W/h.
    """
    if (
        inside is None
        or between is None
        or np.unique(learned_n).size == 1 == np.unique(np.append(n, learned_n)).size
    ):
        return np.full(n.shape, float(x.std(ddof=1)) / np.sqrt(worth.variance_factor))
    harmonic = learned_n.size / (1 / learned_n).sum()
    whole = float(x.var(ddof=1)) / worth.variance_factor
    within = inside**2 / harmonic
    # what tells a block of n bores from a typical one is only a ratio of variances; from few blocks it is so
    # unsure that it is drawn towards a usual one, or low spreads would give far too many false alarms
    blocks = learned_n.size - 1
    drawn = (blocks * whole + _USUAL_WEIGHT * _USUAL_RATIO * within) / (blocks + _USUAL_WEIGHT)
    among = max(0.0, drawn - within)
    if among + within <= 0:
        return np.full(n.shape, np.sqrt(whole))
    return np.asarray(np.sqrt(whole * (among + inside**2 / n) / (among + within)))


def one_chart(level: float, m: int, lag1: float = 0.0) -> tuple[float, float]:
    """Blocks to a false alarm that nine single charts in ten lie between, fewest first.

    The average holds over many charts; one chart keeps the spread that its own m blocks happened to show.
    Source: own, by the 5 and 95 % points of chi-square of the spread, the centre taken as right; met by
    simulation in the tests.

    Parameters
    ----------
    level : float
        As stated.
    m : int
        Blocks learned from, 3 or more.
    lag1 : float
        Below 0 counts as 0.
    """
    df = effective(m, max(0.0, min(lag1, 0.9))).df
    reach = float(stdtrit(m - 1, 1 - level / 2)) * np.sqrt(1 + 1 / m)
    ratios = np.sqrt(chdtri(df, np.array([0.95, 0.05])) / df)
    few, many = 1 / np.maximum(2 * ndtr(-reach * ratios), _NEVER)
    return float(few), float(many)


def _inside_factor(m: int, level: float) -> float:
    """Largest deviation from the mean, over s, of one of the m values behind both, at a level."""
    t = float(stdtrit(m - 2, 1 - level / 2))
    return float((m - 1) / np.sqrt(m) * t / np.sqrt(t**2 + m - 2))


def _in_words(level: float, m: int) -> str:
    return (
        f"a quiet series gives one false alarm in about {1 / level:,.0f} blocks with limits from {m} blocks "
        f"({1 / level:,.0f} if its centre and spread were known): learned from few, the limits are wider"
    )
