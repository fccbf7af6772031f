"""Chart of block means about the wear line: the trend is allowed, a block off the line is not."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import stdtrit

from qc.errors import QuestionError, TooLittleData
from qc.stats.levels import DEFAULT_LEVEL

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class RegressionChart:
    """The line and its limits at each block, (m,) each [unit of the means]; slope [unit a wear count].

    A block that is alone in its stretch has the line through itself and no limits (NaN). ``s`` is the spread
    about the lines with ``df`` degrees of freedom.
    """

    statistic: Floats
    line: Floats
    lower: Floats
    upper: Floats
    signals: NDArray[np.bool_]
    slope: float
    slope_error: float
    s: float
    df: int
    m: int
    level: float
    blocks_to_a_false_alarm: float
    run_length: str
    method: str = "block means about parallel wear lines, one a stretch"


def regression(
    means: ArrayLike, wear: ArrayLike, stretch: ArrayLike, *, level: float = DEFAULT_LEVEL
) -> RegressionChart:
    """Return limits for block means about parallel lines that start anew at each stretch [unit of means].

    Each block is held against the lines of all the others: t(1 - level/2, df - 1) with the residual's own
    spread (externally studentised), exact for independent blocks.
    Source: B. J. Mandel (1969), Journal of Quality Technology 1, 1-9, regression control chart; R. D. Cook,
    S. Weisberg, Residuals and Influence in Regression (1982), 2.2.1 (both from memory).

    Parameters
    ----------
    means, wear : (m,)
        Block means in order of time, NaN is passed over, and wear counts since the stretch began.
    stretch : (m,)
        Number of the stretch; the line's height is each stretch's own, the slope is shared.
    level : float
        Share of quiet blocks that may signal.

    Raises
    ------
    TooLittleData
        Under 3 blocks more than stretches and slope, no wear between blocks, or all on the line.
    """
    x, w, number = (np.asarray(a, dtype=float).ravel() for a in (means, wear, stretch))
    if not x.shape == w.shape == number.shape:
        raise QuestionError("a chart about the wear line needs a wear count and a stretch for each block")
    known = ~np.isnan(x)
    m = int(known.sum())
    starts, which = np.unique(number[known], return_inverse=True)
    count = np.bincount(which)
    df = m - len(starts) - 1
    if df < 3:
        raise TooLittleData(
            f"a wear line with its limits needs {len(starts) + 4} blocks over {len(starts)} stretches; there "
            f"are {m}: widen the dates or wait for another build"
        )
    off_w = w[known] - (np.bincount(which, w[known]) / count)[which]
    heights = (np.bincount(which, x[known]) / count)[which]
    squares = float(off_w @ off_w)
    if not squares > 0:
        raise TooLittleData(
            "all blocks stand at one wear count, so no wear line can be drawn: widen the dates"
        )
    slope = float(off_w @ (x[known] - heights)) / squares
    line = heights + slope * off_w
    left = x[known] - line
    s = float(np.sqrt(left @ left / df))
    if not s > 1e-9 * max(1e-300, float(np.abs(x[known]).max())):
        raise TooLittleData(
            "all blocks lie on the line exactly, so nothing tells how far one may stray: check the numbers"
        )
    free = 1 - 1 / count[which] - off_w**2 / squares
    half = _half_width(free, s, df, level)
    out = {name: np.full(x.shape, np.nan) for name in ("line", "lower", "upper")}
    out["line"][known], out["lower"][known], out["upper"][known] = line, line - half, line + half
    return RegressionChart(
        x, out["line"], out["lower"], out["upper"], (x < out["lower"]) | (x > out["upper"]),
        slope, s / float(np.sqrt(squares)), s, df, m, level, 1 / level,
        f"a quiet series gives one false alarm in about {1 / level:,.0f} blocks with lines from {m} blocks "
        f"({1 / level:,.0f} if line and spread were known): learned from few, the limits are wider",
    )  # fmt: skip


def _half_width(free: Floats, s: float, df: int, level: float) -> Floats:
    """Largest residual that is no signal: r/(s sqrt(free)) = t sqrt(df/(df - 1 + t^2)), t with df - 1."""
    t = float(stdtrit(df - 1, 1 - level / 2))
    out = np.full(free.shape, np.nan)
    alone = free < 1e-9
    out[~alone] = s * np.sqrt(free[~alone]) * t * np.sqrt(df / (df - 1 + t * t))
    return out
