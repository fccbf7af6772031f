"""Lines through block means: generalised least squares, and a slope that outliers leave alone."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import stdtrit

from qc.errors import QuestionError, TooLittleData
from qc.stats.intervals import Interval

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Fit:
    """Coefficients of a generalised least-squares fit, their covariance, residual sd, degrees of freedom."""

    coefficients: Floats
    covariance: Floats
    sigma: float
    df: int


@dataclass(frozen=True, slots=True)
class Slope:
    """Slope and level of block means against wear, with the standard error and interval of the slope."""

    slope: float
    intercept: float
    standard_error: float
    interval: Interval
    sigma: float
    df: int


def relative_sd(
    bores: ArrayLike, spread_in_block: float | None, spread_between_blocks: float | None
) -> Floats:
    """Standard deviation of each block mean over their root mean square, sqrt(between^2 + in_block^2/n).

    Source: own rule, slope of a series: weights of the generalised least squares.

    Parameters
    ----------
    bores : (m,)
        Bores of each block.
    spread_in_block, spread_between_blocks : float or None
        Without them every block counts alike.
    """
    n = np.asarray(bores, dtype=float)
    if spread_in_block is None or spread_between_blocks is None:
        return np.ones(n.shape)
    sd = np.sqrt(spread_between_blocks**2 + spread_in_block**2 / n)
    scale = float(np.sqrt((sd**2).mean())) if sd.size else 0.0
    return sd / scale if scale > 0 else np.ones(n.shape)


def whitened(columns: ArrayLike, sd: Floats, lag1: float) -> Floats:
    """Columns with the blocks' sd and lag-1 correlation taken out, so that least squares holds.

    Source: Prais and Winsten (1954); Cochrane and Orcutt (1949), JASA 44, 32-61 (from memory).

    Parameters
    ----------
    columns : (m,) or (m, k)
        In order of time.
    sd : (m,)
        Relative standard deviation of each block.
    lag1 : float
        Correlation of neighbouring blocks.
    """
    u = np.asarray(columns, dtype=float)
    u = u / (sd if u.ndim == 1 else sd[:, None])
    if lag1 == 0.0:
        return u
    out = u.copy()
    out[1:] = (u[1:] - lag1 * u[:-1]) / np.sqrt(1 - lag1**2)
    return out


def fit(design: ArrayLike, y: ArrayLike, sd: Floats, lag1: float = 0.0) -> Fit:
    """Generalised least squares with known relative sd and lag-1 correlation.

    Source: Aitken (1936); residual variance on m - p degrees of freedom.

    Parameters
    ----------
    design : (m, p)
    y : (m,)
    sd : (m,)
        Relative standard deviations.
    lag1 : float

    Raises
    ------
    TooLittleData
        No degree of freedom left, or columns that depend on each other.
    """
    x, v = whitened(design, sd, lag1), whitened(y, sd, lag1)
    m, p = x.shape
    if m <= p or np.linalg.matrix_rank(x) < p:
        raise TooLittleData(
            "a line needs more blocks than it has unknowns, at different wear: wait for another block"
        )
    q, r = np.linalg.qr(x)
    coefficients = np.linalg.solve(r, q.T @ v)
    residual = v - x @ coefficients
    variance = float(residual @ residual) / (m - p)
    inverse = np.linalg.solve(r, np.eye(p))
    return Fit(coefficients, variance * (inverse @ inverse.T), float(np.sqrt(variance)), m - p)


def slope(
    x: ArrayLike,
    y: ArrayLike,
    *,
    bores: ArrayLike | None = None,
    spread_in_block: float | None = None,
    spread_between_blocks: float | None = None,
    lag1: float = 0.0,
    segments: ArrayLike | None = None,
    confidence: float = 0.95,
) -> Slope:
    """Slope of block means against wear [unit of y per unit of x], with its t interval.

    Source: generalised least squares (Aitken 1936) with variance spread_between^2 + spread_in^2/n and
    lag-1 correlation; with neither, ordinary least squares.

    Parameters
    ----------
    x, y : (m,)
        Wear and block means in order of time.
    bores : (m,), optional
        Bores of each block.
    spread_in_block, spread_between_blocks : float, optional
    lag1 : float
    segments : (m,), optional
        Numbers between which the level is free; the slope is common. ``intercept`` is the last one's.
    confidence : float

    Raises
    ------
    TooLittleData, QuestionError
    """
    at, means = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    if at.shape != means.shape or at.ndim != 1:
        raise QuestionError("a slope needs one wear count for each block mean")
    n = np.ones(at.shape) if bores is None else np.asarray(bores, dtype=float)
    sd = relative_sd(n, spread_in_block, spread_between_blocks)
    number = np.zeros(at.shape) if segments is None else np.asarray(segments)
    levels = (number[:, None] == np.unique(number)[None, :]).astype(float)
    origin = float(at.mean())
    found = fit(np.column_stack([at - origin, levels]), means, sd, lag1)
    b, error = float(found.coefficients[0]), float(np.sqrt(found.covariance[0, 0]))
    last = int(np.flatnonzero(np.unique(number) == number[-1])[0])
    half = float(stdtrit(found.df, (1 + confidence) / 2)) * error
    level = float(found.coefficients[1 + last]) - b * origin
    return Slope(b, level, error, Interval(b - half, b + half, confidence), found.sigma, found.df)


def theil_sen(x: ArrayLike, y: ArrayLike) -> float:
    """Median of the slopes of all pairs of blocks [unit of y per unit of x].

    Source: Theil (1950), Sen (1968); Hollander and Wolfe, Nonparametric Statistical Methods (1999), 9.3.

    Parameters
    ----------
    x, y : (m,)

    Raises
    ------
    TooLittleData
        No two blocks at different x.
    """
    at, means = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    i, j = np.triu_indices(at.size, 1)
    run = at[j] - at[i]
    if not (run != 0).any():
        raise TooLittleData("a slope needs two blocks at different wear: wait for another block")
    use = run != 0
    return float(np.median((means[j] - means[i])[use] / run[use]))
