"""How well the bores fit their family: a warning and a price, never a choice."""

from math import sqrt

import numpy as np

from qc.capability.general import Limits, indices
from qc.stats.families import FAMILIES, HEAVIER, Family
from qc.stats.segments import Floats


def largest_gap(values: Floats, family: Family) -> float:
    """Return the largest distance between the bores' own distribution and the fitted family [1].

    Source: M. A. Stephens, J. Am. Statist. Assoc. 69 (1974) 730-737, statistic D with mean and sd from the
    data (from memory).
    """
    ordered = np.sort(values)
    seen = family.seen(ordered)
    location, scale = family.parameters(seen.mean(), seen.std(ddof=1))
    expected = family.cdf(ordered, location, scale)
    steps = np.arange(ordered.size + 1) / ordered.size
    return float(max((steps[1:] - expected).max(), (expected - steps[:-1]).max()))


def gap_by_chance(n: float) -> float:
    """Return the gap that n independent values of the family exceed in 5 % of cases [1].

    Source: Stephens (1974), Table 1A, 0.895 / (sqrt n - 0.01 + 0.85 / sqrt n) for the normal with mean and sd
    from the data (from memory). For the folded normal it is an approximation.
    """
    return 0.895 / (sqrt(n) - 0.01 + 0.85 / sqrt(n))


def fit_warning(values: Floats, family: Family, equivalent: float) -> str | None:
    """Return a sentence when the bores do not look like their family, else None.

    Parameters
    ----------
    values : (N,) array
        Bores.
    family : Family
    equivalent : float
        Number of independent bores they are worth; below 8 nothing can be told.
    """
    if equivalent < 8 or np.ptp(values) == 0:
        return None
    gap, chance = largest_gap(values, family), gap_by_chance(equivalent)
    if gap <= chance:
        return None
    return (
        f"the bores do not look {family.label}: their distribution is off by {gap:.2f}, by chance it would "
        f"be under {chance:.2f}; look at the dots before trusting an index"
    )


def nearest_other(values: Floats, limits: Limits, family: Family) -> Family:
    """Return the best fitting of the other families that can hold the bores and the limits.

    A family that begins at 0 is none for a deviation from a target: its limits lie on both sides of 0. Where
    no other is left the price is that of heavier tails.
    """
    ends = [end for end in (limits.lower, limits.upper) if end is not None]
    asked = np.append(values, ends)
    others = [other for other in FAMILIES.values() if other.name != family.name and other.holds(asked)]
    return min(others, key=lambda other: largest_gap(values, other), default=HEAVIER)


def index_under(values: Floats, limits: Limits, family: Family) -> float | None:
    """Return the Ppk of the bores under a family [1], None where it cannot hold them.

    Source: ISO 22514-2, general method (from memory).
    """
    if not family.holds(values) or np.ptp(values) == 0:
        return None
    seen = family.seen(values)
    found = indices(family, *family.parameters(seen.mean(), seen.std(ddof=1)), limits)
    return float(min(found.sides))
