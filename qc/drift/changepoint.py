"""Where a level or a slope changed: the best split of a series, and what one more column explains.

The critical values that hold a steady series quiet over many looks were simulated; the script that
gave them is kept with its result in tests/simulations/drift.py.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import stdtr

from qc.errors import TooLittleData

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Split:
    """One change of the mean: ``index`` is the first value after it."""

    index: int
    mean_before: float
    mean_after: float
    sum_of_squares: float


@dataclass(frozen=True, slots=True)
class Added:
    """What each of several columns explains beyond a base, each on its own: effect, its error, p, rss."""

    effect: Floats
    error: Floats
    p: Floats
    rss: Floats
    df: float


def best_split(values: ArrayLike, least: int = 1) -> Split:
    """Single change of the mean with the least sum of squares [unit of the values].

    Source: least-squares change point, Hinkley (1970), Biometrika 57, 1-17; the known case is the flow of
    the Nile, Cobb (1978), Biometrika 65, 243-251.

    Parameters
    ----------
    values : (m,)
        In order of time.
    least : int
        Least number of values on each side.

    Raises
    ------
    TooLittleData
        Fewer than 2 x ``least`` values.
    """
    x = np.asarray(values, dtype=float).ravel()
    if x.size < 2 * least:
        raise TooLittleData(f"a change needs {2 * least} values or more; there are {x.size}: widen the dates")
    centred = x - x.mean()
    before = np.arange(least, x.size - least + 1)
    sums = np.cumsum(centred)[before - 1]
    # The centred sums of both sides cancel, so one of them tells the gain of each split.
    gain = sums**2 * (1 / before + 1 / (x.size - before))
    k = int(before[np.argmax(gain)])
    return Split(k, float(x[:k].mean()), float(x[k:].mean()), float((centred**2).sum() - gain.max()))


def basis(columns: Floats) -> Floats:
    """Orthonormal basis of the span of whitened columns, those that depend on others left out."""
    q, r = np.linalg.qr(columns)
    size = np.abs(np.diag(r))
    return q[:, size > 1e-8 * max(1.0, float(size.max(initial=0.0)))]


def added(base: Floats, y: Floats, columns: Floats, extra_variance: Floats | float = 0.0) -> Added:
    """Effect of each column beyond a base, with its error and two-sided p; a dependent column has p 1.

    Source: t test of one coefficient in a linear model (Frisch-Waugh-Lovell theorem for the projection).

    Parameters
    ----------
    base : (m, r)
        Orthonormal, from `basis`.
    y : (m,)
        Whitened values.
    columns : (m, k)
        Whitened.
    extra_variance : (k,) or float
        Variance that an effect has by nature, added to the square of its error.
    """
    residual = y - base @ (base.T @ y)
    rest = columns - base @ (base.T @ columns)
    size = np.einsum("ij,ij->j", rest, rest)
    usable = size > 1e-9 * np.maximum(1e-300, np.einsum("ij,ij->j", columns, columns))
    size = np.where(usable, size, 1.0)
    effect = np.where(usable, rest.T @ residual / size, 0.0)
    df = y.size - base.shape[1] - 1
    if df < 1:
        ones = np.ones(columns.shape[1])
        return Added(effect, np.inf * ones, ones, float(residual @ residual) * ones, max(df, 0))
    rss = np.maximum(float(residual @ residual) - effect**2 * size, 1e-12 * float(y @ y) + 1e-300)
    error = np.sqrt(rss / df / size + extra_variance)
    p = np.where(usable, 2 * stdtr(df, -np.abs(effect) / error), 1.0)
    return Added(effect, error, p, rss, df)
