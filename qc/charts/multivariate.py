"""Several characteristics of a block together (Hotelling's T2): size, taper, out-of-round, Ra."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import betaincinv, fdtri

from qc.charts.block_means import learned_from
from qc.errors import QuestionError, TooLittleData
from qc.stats.levels import DEFAULT_LEVEL

Floats = NDArray[np.float64]
Estimator = Literal["sample", "successive"]

BLOCKS_A_VARIABLE = 8


@dataclass(frozen=True, slots=True)
class MultivariateChart:
    """T2 of each block (m,) with its limit (m,), and what each variable adds to it (m, p).

    ``upper_limit`` is that of the next block. ``contributions`` is T2 less the T2 of the other variables
    alone; a block with a missing variable has NaN throughout. ``center`` (p,) and ``covariance`` (p, p)
    are in the units of the variables.
    """

    statistic: Floats
    upper: Floats
    upper_limit: float
    signals: NDArray[np.bool_]
    contributions: Floats
    center: Floats
    covariance: Floats
    learned: NDArray[np.bool_]
    m: int
    p: int
    level: float
    blocks_to_a_false_alarm: float
    run_length: str
    method: str


def covariance(values: ArrayLike, *, estimator: Estimator = "sample") -> Floats:
    """Return the covariance matrix of the rows [products of the variables' units], (p, p).

    Source: NIST/SEMATECH e-Handbook 6.5.4.1 (`sample`, divisor m - 1); D. S. Holmes and A. E. Mergen (1993),
    Quality Engineering 5, 619-625 (`successive`: V'V/(2(m - 1)), V differences of neighbours; from memory).

    Parameters
    ----------
    values : (m, p)
        Rows in order of time, none missing.
    estimator : {"sample", "successive"}
        The second is not widened by a shift among the rows.
    """
    x = np.asarray(values, dtype=float)
    if estimator == "sample":
        off = x - x.mean(axis=0)
        return np.asarray(off.T @ off / (len(x) - 1))
    steps = np.diff(x, axis=0)
    return np.asarray(steps.T @ steps / (2 * (len(x) - 1)))


def t2(values: ArrayLike, center: ArrayLike, spread: ArrayLike) -> Floats:
    """Return Hotelling's T2 of each row, (m,): (x - centre)' S^-1 (x - centre).

    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.5.4.3 Hotelling's T squared (from memory).

    Parameters
    ----------
    values : (m, p)
    center : (p,)
    spread : (p, p)
        Covariance matrix.
    """
    off = np.asarray(values, dtype=float) - np.asarray(center, dtype=float)
    return np.asarray((off * np.linalg.solve(np.asarray(spread, dtype=float), off.T).T).sum(axis=1))


def limit(m: int, p: int, level: float) -> float:
    """Return the limit of T2 of the next block: p(m + 1)(m - 1)/(m(m - p)) F(1 - level; p, m - p).

    Source: NIST/SEMATECH e-Handbook 6.5.4.3; F. B. Alt, Encyclopedia of Statistical Sciences 6 (1985) (both
    from memory).
    """
    return float(p * (m + 1) * (m - 1) / (m * (m - p)) * fdtri(p, m - p, 1 - level))


def limit_among_learned(m: int, p: int, level: float) -> float:
    """Return the limit of T2 of one of the m blocks behind centre and covariance: (m - 1)^2/m Beta.

    Source: R. Gnanadesikan and J. R. Kettenring (1972), Biometrics 28, 81-124 (from memory).
    """
    return float((m - 1) ** 2 / m * betaincinv(p / 2, (m - p - 1) / 2, 1 - level))


def multivariate(
    values: ArrayLike, names: Sequence[str], *, level: float = DEFAULT_LEVEL,
    learn: int | ArrayLike | None = None, lag1: float = 0.0,
) -> MultivariateChart:  # fmt: skip
    """Return T2 of blocks with its limits and what each variable adds.

    Source: as `limit`, `limit_among_learned`; what each adds: R. L. Mason, N. D. Tracy, J. C. Young (1995),
    Journal of Quality Technology 27, 99-108, T2 less that of the other variables (from memory).

    Parameters
    ----------
    values : (m, p)
        Block means of p variables, in order of time; variables bounded by nought as logarithms.
    names : (p,)
        Of the variables, for the refusals.
    level : float
        Share of quiet blocks that may signal.
    learn : int or (m,) of bool, optional
        Blocks centre and covariance are learned from; None = all complete ones.
    lag1 : float
        Largest lag-1 correlation among the variables, for the words only.

    Raises
    ------
    TooLittleData
        More variables than a block in eight, or one that never varies.
    QuestionError
        A variable that the others give exactly.
    """
    x = np.asarray(values, dtype=float)
    if x.ndim != 2 or x.shape[1] != len(names) or x.shape[1] < 2:
        raise QuestionError("a chart of several characteristics needs 2 of them or more, one column each")
    complete = ~np.isnan(x).any(axis=1)
    mask = learned_from(np.where(complete, 0.0, np.nan), learn)
    m, p = int(mask.sum()), x.shape[1]
    _enough(x[mask], names)
    center, spread = x[mask].mean(axis=0), covariance(x[mask])
    _independent(spread, names)
    found = np.full(len(x), np.nan)
    adds = np.full(x.shape, np.nan)
    found[complete] = t2(x[complete], center, spread)
    for j in range(p):
        rest = np.delete(np.arange(p), j)
        adds[complete, j] = found[complete] - t2(
            x[np.ix_(complete, rest)], center[rest], spread[np.ix_(rest, rest)]
        )
    later = limit(m, p, level)
    upper = np.where(complete, np.where(mask, limit_among_learned(m, p, level), later), np.nan)
    words = (
        f"a quiet series gives one false alarm in about {1 / level:,.0f} blocks with limits from {m} "
        f"blocks ({1 / level:,.0f} if centre and covariance were known): learned from few, the limit is wider"
    )
    if lag1 > 0.1:
        words += (
            f"; blocks lean on the one before by up to {lag1:.1f}, so alarms come in groups and more often"
        )
    return MultivariateChart(
        found, upper, later, found > upper, adds, center, spread, mask, m, p, level, 1 / level, words,
        "T2 of block means, sample covariance",
    )  # fmt: skip


def _enough(x: Floats, names: Sequence[str]) -> None:
    m, p = x.shape
    if p > m / BLOCKS_A_VARIABLE:
        raise TooLittleData(
            f"{p} characteristics together need {BLOCKS_A_VARIABLE * p} blocks that have them all; there are "
            f"{m}: ask about fewer characteristics or wait for other builds"
        )
    still = [name for name, width in zip(names, np.ptp(x, axis=0), strict=True) if not width > 0]
    if still:
        raise TooLittleData(
            f"{' and '.join(still)} never varies in these blocks, so it cannot be judged beside the others: "
            "leave it out or check the gauge's resolution"
        )


def _independent(spread: Floats, names: Sequence[str]) -> None:
    scale = np.sqrt(np.diag(spread))
    if np.linalg.cond(spread / np.outer(scale, scale)) > 1e8:
        raise QuestionError(
            f"of {', '.join(names)} one follows from the others exactly: leave one of them out"
        )
