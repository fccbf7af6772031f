"""The members of a family that the data of a series allow, one for each draw, and intervals over them."""

from collections.abc import Callable
from math import pi, sqrt
from typing import Any

import numpy as np

from qc.stats.families import Family
from qc.stats.intervals import Interval
from qc.stats.pivotal import Pivots, interval, point

Member = tuple[Any, Any]
"""Location and scale, (draws,) each."""

Members = tuple[Member, ...]

HALF_NORMAL_RATIO = sqrt(2 / pi) / sqrt(1 - 2 / pi)
"""Mean over standard deviation of a half normal: the least that a folded normal can have, 1.3236."""

_NEVER_ABOVE = 0.005
_LEAST_FACTOR = 0.02


def allowed(family: Family, found: Pivots, mean: float, spread: float, bores: int, blocks: int) -> Members:
    """Return the members that the draws allow: one set of them, for a folded normal near the half normal two.

    Mean and spread of each draw are turned into a member by moments. Near the half normal, where a folded
    normal ends, that errs: most draws fall where the tail is shorter. So where the draws don't rule the half
    normal out (0.5 % of them at least lie at or below its ratio of mean to spread), its own draws are allowed
    too: mean square over chi2(v) / v by E. B. Wilson, M. M. Hilferty, Proc. Nat. Acad. Sci. 17 (1931)
    684-688, v the equivalent number of bores at the draw's own share between blocks. `tests/simulations` has
    the coverage of both together.

    Parameters
    ----------
    family : Family
    found : Pivots
    mean, spread : float
        Of the series, as printed [unit of the values].
    bores, blocks : int
        N and m.
    """
    members: Members = (family.parameters(found.mean, found.spread),)
    if family.name == "folded_normal" and point(found.mean / found.spread, _NEVER_ABOVE) <= HALF_NORMAL_RATIO:
        worth = np.maximum(bores / (1 + (bores / blocks - 1) * found.share), blocks)
        step = 2 / (9 * worth)
        factor = np.maximum(1 - step + found.z * np.sqrt(step), _LEAST_FACTOR) ** 3
        scale = sqrt(mean * mean + spread * spread) / np.sqrt(factor)
        members += ((np.zeros_like(scale), scale),)
    return members


def over(members: Members, figure: Callable[[Any, Any], Any], confidence: float) -> Interval:
    """Return the interval of a figure of location and scale that takes in the interval of each set of
    members.
    """
    return hull([interval(figure(*member), confidence) for member in members])


def hull(ends: list[Interval]) -> Interval:
    """Return the least interval that takes in all of them."""
    return Interval(
        min(end.lower for end in ends if end.lower is not None),
        max(end.upper for end in ends if end.upper is not None),
        ends[0].confidence,
    )
