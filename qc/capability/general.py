"""Indices of any family by its 0.135 %, 50 % and 99.865 % points."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from qc.capability.one_sided import lower_index, upper_index
from qc.stats.families import Family


@dataclass(frozen=True, slots=True)
class Limits:
    """The limits that an index counts with [unit of the values]; None where that side is open."""

    lower: float | None
    upper: float | None

    @property
    def none(self) -> bool:
        """Whether both sides are open."""
        return self.lower is None and self.upper is None


@dataclass(frozen=True, slots=True)
class Indices:
    """Index of both limits together and of each side [1]; None where a limit is open."""

    both: Any
    to_upper: Any
    to_lower: Any

    @property
    def sides(self) -> tuple[Any, ...]:
        """The indices of the sides that have a limit."""
        return tuple(side for side in (self.to_lower, self.to_upper) if side is not None)


def limits_that_count(lower: float | None, upper: float | None, bounded: str) -> Limits:
    """Return the limits an index counts with: for a characteristic bounded on one side only that side's.

    A physical zero is never a limit, so a lower limit of what is bounded above is passed over.

    Parameters
    ----------
    lower, upper : float or None
        As specified [unit of the values].
    bounded : str
        "both", "above" or "below".
    """
    return Limits(lower if bounded != "above" else None, upper if bounded != "below" else None)


def indices(family: Family, location: Any, scale: Any, limits: Limits) -> Indices:
    """Return the indices of a member of the family [1].

    Source: ISO 22514-2, general method (from memory): Pp = (U - L) / (X99.865 - X0.135), each side's by its
    own tail.

    Parameters
    ----------
    family : Family
    location, scale : float or array
        Parameters of the member, as `family.parameters` gives them.
    limits : Limits
        In the unit of the values.
    """
    low, high = limits.lower, limits.upper
    median = family.at(0.0, location, scale)
    below = None if low is None else family.reach(-3.0, location, scale)
    above = None if high is None else family.reach(3.0, location, scale)
    return Indices(
        both=None if low is None or high is None else _ratio(high - low, below, above),
        to_upper=None if high is None else upper_index(high, median, above),
        to_lower=None if low is None else lower_index(low, median, below),
    )


def _ratio(width: float, below: Any, above: Any) -> Any:
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.divide(width, below + above)
