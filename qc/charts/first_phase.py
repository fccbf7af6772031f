"""Blocks that do not belong, while limits are still being learned: several at once, none hiding another."""

from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import stdtrit

Floats = NDArray[np.float64]

A_FEW = 10
"""At most one block in so many is looked for, and so many at most."""


@dataclass(frozen=True, slots=True)
class Apart:
    """Places of the values that stand apart, worst first, and the statistic and limit of each step."""

    places: tuple[int, ...]
    statistic: Floats
    limit: Floats


def standing_apart(values: ArrayLike, *, level: float, most: int, shrunk: float = 1.0) -> Apart:
    """Return the values that stand apart from all others, when up to `most` may (generalised ESD test).

    Several bad blocks widen the spread and hide each other; here the worst is taken out, then the next, and
    as many are named as the last step that passes its limit.
    Source: B. Rosner, Technometrics 25 (1983) 165-172, as in NIST/SEMATECH e-Handbook 1.3.5.17.3.

    Parameters
    ----------
    values : (m,)
        NaN is passed over.
    level : float
        Chance that any is named of values none of which stands apart.
    most : int
        How many may.
    shrunk : float
        E[s^2] over the variance where neighbours lean on each other (`qc.stats.lag.effective`).
    """
    x = np.asarray(values, dtype=float).ravel()
    left = np.flatnonzero(~np.isnan(x))
    found: list[int] = []
    statistic, limit = [], []
    for step in range(max(0, min(most, left.size - 3))):
        rest = x[left]
        s = float(rest.std(ddof=1)) / sqrt(shrunk)
        if not s > 0:
            break
        off = np.abs(rest - rest.mean())
        worst = int(np.argmax(off))
        statistic.append(float(off[worst]) / s)
        limit.append(_limit(left.size + step, step + 1, level))
        found.append(int(left[worst]))
        left = np.delete(left, worst)
    beyond = [i for i, (r, most_) in enumerate(zip(statistic, limit, strict=True)) if r > most_]
    return Apart(tuple(found[: beyond[-1] + 1] if beyond else ()), np.array(statistic), np.array(limit))


def level_of_all(level: float, m: int) -> float:
    """Return the level of `standing_apart` over m blocks beside a chart that judges each at a level [1].

    Half of what m blocks have together: the chart names the worst ones already, and both must not name more
    than a fifth more of quiet blocks than the chart states (simulated in the tests).

    Parameters
    ----------
    level : float
        Of each block.
    m : int
    """
    return float(1 - (1 - level / 2) ** m)


def _limit(n: int, step: int, level: float) -> float:
    p = 1 - level / (2 * (n - step + 1))
    t = float(stdtrit(n - step - 1, p))
    return (n - step) * t / sqrt((n - step - 1 + t * t) * (n - step + 1))
