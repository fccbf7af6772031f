"""The 16 % rule: how many of a surface's measured values may lie beyond a limit."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from qc.errors import TooLittleData

# values measured, how many of them may exceed
_STEPS: Final = ((3, 0), (6, 1), (12, 2))
_CLEAR: Final = 0.7  # of the limit: a first value up to here settles it


@dataclass(frozen=True, slots=True)
class Acceptance:
    """Verdict of the 16 % rule, at how many values it stood, and how many of them lay beyond the limit."""

    verdict: Literal["conforms", "does_not_conform", "measure_more"]
    measured: int
    beyond: int
    method: str = "16 % rule by its steps"
    source: str = "ISO 4288:1996, annex A (from memory)"


def sixteen_percent(
    values: Sequence[float], limit: float, *, side: Literal["upper", "lower"] = "upper"
) -> Acceptance:
    """Verdict of the 16 % rule for values in the order of measuring.

    Source: ISO 4288:1996, 5.2 and annex A (from memory): a surface conforms when the first value is at most
    70 % of an upper limit; else when none of the first three exceeds it, not more than one of the first six,
    not more than two of the first twelve; else it does not. ISO 21920-3:2021 has other defaults: the
    specification must say which rule is meant.

    Parameters
    ----------
    values : sequence of float
        Of one surface, where it looks worst, in the unit of the limit.
    limit : float
    side : upper or lower
        A lower limit has no 70 % step.

    Returns
    -------
    Acceptance
        `measure_more` where the steps so far do not settle it.

    Raises
    ------
    TooLittleData
        No value.
    """
    if not values:
        raise TooLittleData("the 16 % rule needs at least one value: measure the surface")
    if side == "upper" and values[0] <= _CLEAR * limit:
        return Acceptance("conforms", 1, 0)
    beyond = 0
    for number, value in enumerate(values[: _STEPS[-1][0]], start=1):
        beyond += value > limit if side == "upper" else value < limit
        if any(number == step and beyond <= most for step, most in _STEPS):
            return Acceptance("conforms", number, beyond)
        if beyond > _STEPS[-1][1]:
            return Acceptance("does_not_conform", number, beyond)
    return Acceptance("measure_more", len(values), beyond)
