"""Whether a value can be said to lie inside its limits, given the uncertainty of the gauge."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from qc.errors import QuestionError

Verdict = Literal["conforms", "does_not_conform", "undecided"]

GUARD_FACTOR = 1.645
"""One-sided 95 % point of the normal law, three decimals, as ISO 14253-1:2017 gives it (from memory)."""

NEVER = "this gauge can never show conformity here"


@dataclass(frozen=True, slots=True)
class Conformity:
    """A verdict with the guard band behind it [unit of the value].

    ``guarded`` is False where the gauge's uncertainty is not known: the verdict is then the value as
    read. ``can_conform`` is False where the guard bands meet; ``words`` then say so, or why there is
    no verdict.
    """

    verdict: Verdict | None
    guard_band: float
    guarded: bool
    can_conform: bool
    words: str | None = None


def _ends(lower: float | None, upper: float | None) -> tuple[float, float]:
    low = -np.inf if lower is None or np.isnan(lower) else float(lower)
    high = np.inf if upper is None or np.isnan(upper) else float(upper)
    if low > high:
        raise QuestionError(
            f"the lower limit {lower} lies above the upper limit {upper}: correct the specification"
        )
    return low, high


def _leaves_room(low: float, high: float, g: float) -> bool:
    return g == 0 or 2 * g < high - low


def guard_band(u: float) -> float:
    """Width taken off each limit, 1.645 u [unit of u].

    Source: ISO 14253-1:2017, 95 % conformance probability (from memory).

    Parameters
    ----------
    u : float
        Standard uncertainty of the value.

    Raises
    ------
    QuestionError
        A negative uncertainty.
    """
    if not u >= 0:
        raise QuestionError(f"a standard uncertainty cannot be {u}: correct the gauge's entry")
    return GUARD_FACTOR * u


def verdicts(y: ArrayLike, lower: float | None, upper: float | None, u: float | None) -> NDArray[np.object_]:
    """Verdict on each value; None where there is no value or no limit.

    ``conforms`` when lower + g <= y <= upper - g, ``does_not_conform`` when y < lower - g or
    y > upper + g, else ``undecided``; on a limit counts as inside it. Who has to prove what differs
    with the side of the counter, the zones do not.
    Source: ISO 14253-1:2017 (from memory); without an uncertainty g = 0, as read.

    Parameters
    ----------
    y : array
        Values.
    lower, upper : float or None
        Limits in the unit of the values; None or NaN = no limit on that side.
    u : float or None
        Standard uncertainty of a value; None or NaN = unknown.
    """
    values = np.asarray(y, dtype=float)
    low, high = _ends(lower, upper)
    g = 0.0 if u is None or np.isnan(u) else guard_band(u)
    out = np.full(values.shape, "undecided", dtype=object)
    if _leaves_room(low, high, g):
        out[(values >= low + g) & (values <= high - g)] = "conforms"
    out[(values < low - g) | (values > high + g)] = "does_not_conform"
    out[np.isnan(values)] = None
    if np.isinf(low) and np.isinf(high):
        out[...] = None
    return out


def verdict(y: float, lower: float | None, upper: float | None, u: float | None) -> Conformity:
    """Verdict on one value, with its guard band and the words that go with it.

    Source: ISO 14253-1:2017 (from memory), as `verdicts`.

    Parameters
    ----------
    y : float
        The value.
    lower, upper : float or None
        Limits in the unit of the value; None or NaN = no limit on that side.
    u : float or None
        Standard uncertainty of the value; None or NaN = unknown.

    Raises
    ------
    QuestionError
        Limits the wrong way round, or a negative uncertainty.
    """
    low, high = _ends(lower, upper)
    guarded = u is not None and not np.isnan(u)
    g = guard_band(u) if u is not None and guarded else 0.0
    can = _leaves_room(low, high, g)
    found = verdicts(np.array([y]), lower, upper, u)[0]
    return Conformity(found, g, guarded, can, _words(found, guarded, can, np.isinf(low) and np.isinf(high)))


def _words(found: Verdict | None, guarded: bool, can_conform: bool, without_limits: bool) -> str | None:
    if without_limits:
        return "no limits are known here"
    if found is None:
        return "there is no value to judge"
    if not can_conform:
        return NEVER
    return None if guarded else "as read: the gauge's uncertainty is not known"
