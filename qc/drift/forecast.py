"""When the expected block mean reaches a limit."""

from collections.abc import Callable
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq
from scipy.special import stdtr

from qc.drift.series import BoresToLimit
from qc.errors import QuestionError

Floats = NDArray[np.float64]

FARTHEST = 1000.0
"""How many times the present count the search for a crossing goes ahead; beyond it there is none."""


def bores_to_limit(
    level: ArrayLike,
    slope: ArrayLike,
    covariance: ArrayLike,
    df: float,
    limit: float,
    *,
    toward: Literal["upper", "lower"],
    scale: float,
    weights: ArrayLike | None = None,
    confidence: float = 0.90,
    of: Literal["bores", "blocks"] = "bores",
) -> BoresToLimit:
    """Count until the expected line reaches a limit, with its interval [bores or blocks from now].

    F(d), the confidence that level + slope d is beyond the limit, is Student's t of the line's distance
    from it over its error at d; the interval runs from F = (1 - confidence)/2 to (1 + confidence)/2, and
    from 1 - confidence where it has no end: all that may be missed then lies before it.
    For one line with an end this is Fieller's interval; for several (a change whose place is not known) F
    is their weighted mean.
    Source: Fieller (1954), J. R. Statist. Soc. B 16, 175-185; the mixture is our own.

    Parameters
    ----------
    level, slope : (k,)
        Of k possible lines, the level as of now.
    covariance : (k, 2, 2)
        Of level and slope.
    df : float
    limit : float
    toward : {"upper", "lower"}
        Which limit it is.
    scale : float
        A count that is natural here, such as the present one: how far ahead the search goes.
    weights : (k,), optional
    confidence : float
    of : {"bores", "blocks"}
    """
    a, b, v = (
        np.atleast_1d(level),
        np.atleast_1d(slope),
        np.asarray(covariance, dtype=float).reshape(-1, 2, 2),
    )
    w = np.full(a.size, 1 / a.size) if weights is None else np.asarray(weights, dtype=float)
    if not (scale > 0 and abs(float(w.sum()) - 1) < 1e-6):
        raise QuestionError(
            "a forecast needs a count above nought to look ahead by, and weights that add up to 1"
        )

    def beyond(d: float) -> float:
        return float(chance_beyond(a, b, v, w, df, limit, toward, np.array([d]))[0])

    ahead = np.concatenate([[0.0], scale * np.geomspace(0.002, FARTHEST, 160)])
    chance = chance_beyond(a, b, v, w, df, limit, toward, ahead)
    missed = 1 - confidence
    upper = _first(beyond, ahead, chance, 1 - missed / 2)
    lower = _first(beyond, ahead, chance, missed if upper is None else missed / 2)
    median = _first(beyond, ahead, chance, 0.5)
    return BoresToLimit(median, lower, upper, confidence, of)


def chance_beyond(
    level: Floats,
    slope: Floats,
    covariance: Floats,
    weights: Floats,
    df: float,
    limit: float,
    toward: Literal["upper", "lower"],
    ahead: Floats,
) -> Floats:
    """Confidence that the line is beyond the limit at each count ahead.

    Source: as `bores_to_limit`, whose F this is.

    Parameters
    ----------
    level, slope, weights : (k,)
    covariance : (k, 2, 2)
    df, limit : float
    toward : {"upper", "lower"}
    ahead : (n,)

    Returns
    -------
    (n,)
    """
    d = ahead[:, None]
    variance = covariance[:, 0, 0] + 2 * d * covariance[:, 0, 1] + d * d * covariance[:, 1, 1]
    sign = 1.0 if toward == "upper" else -1.0
    distance = sign * (level + slope * d - limit)
    return np.asarray(stdtr(df, distance / np.sqrt(np.maximum(variance, 1e-300))) @ weights)


def _first(beyond: Callable[[float], float], ahead: Floats, chance: Floats, p: float) -> float | None:
    """Least distance at which the chance reaches p, None when it does not."""
    reached = np.flatnonzero(chance >= p)
    if reached.size == 0:
        return None
    k = int(reached[0])
    if k == 0:
        return 0.0
    return float(brentq(lambda d: beyond(d) - p, ahead[k - 1], ahead[k], xtol=1e-9))
