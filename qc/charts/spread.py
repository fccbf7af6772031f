"""Chart of the spread in a block: has the spread from bore to bore grown, or shrunk?"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import fdtri

from qc.charts.block_means import learned_from
from qc.errors import QuestionError, TooLittleData
from qc.stats.levels import DEFAULT_LEVEL

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class SpreadChart:
    """Pooled spread in a block, limits of each block's own and those spreads, (m,) [unit of the spreads].

    Limits are NaN for a block of one bore. ``lower_limit, upper_limit`` are those of the next block with the
    typical number of bores. ``degrees`` are those behind the pooled spread.
    """

    center: float
    lower: Floats
    upper: Floats
    lower_limit: float
    upper_limit: float
    statistic: Floats
    signals: NDArray[np.bool_]
    learned: NDArray[np.bool_]
    m: int
    degrees: float
    level: float
    blocks_to_a_false_alarm: float
    run_length: str
    method: str = "spread in block against the pooled spread (F)"


def spread_chart(
    spreads: ArrayLike,
    bores: ArrayLike,
    *,
    level: float = DEFAULT_LEVEL,
    learn: int | ArrayLike | None = None,
) -> SpreadChart:
    """Return exact limits for the spread in each block, bores a block alike or not [unit of spreads].

    s_i^2 over the pooled variance follows F(n_i - 1, degrees behind it); a block learned from is held against
    the pooled variance of the others. Bores of a block are taken as normal and independent.
    Source: ISO 7870-2:2013 has three-sigma limits for s (from memory); exact ones by the definition of F.

    Parameters
    ----------
    spreads, bores : (m,)
        Standard deviation (divisor n - 1) of each block in order of time, NaN is passed over, and its bores.
    level : float
        Share of quiet blocks that may signal, half on each side.
    learn : int or (m,) of bool, optional
        Blocks the pooled spread comes from; None = all.

    Raises
    ------
    TooLittleData
        Under 3 blocks of 2 bores or more, or no spread in any.
    """
    s, n = np.asarray(spreads, dtype=float).ravel(), np.asarray(bores, dtype=float).ravel()
    if s.shape != n.shape:
        raise QuestionError("a chart of spreads needs one number of bores for each block")
    s = np.where(n > 1, s, np.nan)
    if (~np.isnan(s)).sum() < 3:
        raise TooLittleData(
            "a chart of the spread in a block needs 3 blocks of 2 bores or more; there are "
            f"{int((~np.isnan(s)).sum())}: widen the dates or wait for another build"
        )
    mask = learned_from(s, learn)
    v, squares = n - 1, np.nan_to_num(s) ** 2 * np.maximum(n - 1, 0)
    total, degrees = float(squares[mask].sum()), float(v[mask].sum())
    if not total > 0:
        raise TooLittleData(
            f"the bores in each of the {int(mask.sum())} blocks are all equal, so their spread cannot be "
            "charted: check the gauge's resolution"
        )
    others, left = total - np.where(mask, squares, 0.0), degrees - np.where(mask, v, 0.0)
    lower, upper = np.full(s.shape, np.nan), np.full(s.shape, np.nan)
    use = ~np.isnan(s)
    lower[use], upper[use] = _limits(v[use], np.maximum(others[use], 0.0), left[use], level)
    typical = np.array([np.median(v[mask])])
    ends = _limits(typical, np.array([total]), np.array([degrees]), level)
    m = int(mask.sum())
    return SpreadChart(
        (total / degrees) ** 0.5, lower, upper, float(ends[0][0]), float(ends[1][0]), s,
        (s < lower) | (s > upper), mask, m, degrees, level, 1 / level,
        f"a quiet series gives one false alarm in about {1 / level:,.0f} blocks with limits from {m} blocks "
        f"({1 / level:,.0f} if the spread were known): learned from few, the limits are wider",
    )  # fmt: skip


def _limits(own: Floats, squares: Floats, degrees: Floats, level: float) -> tuple[Floats, Floats]:
    pooled = np.sqrt(squares / degrees)
    return (
        pooled * np.sqrt(fdtri(own, degrees, level / 2)),
        pooled * np.sqrt(fdtri(own, degrees, 1 - level / 2)),
    )
