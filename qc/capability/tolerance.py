import numpy as np
from scipy.special import ndtri

from qc.capability.allowed import Member, Members
from qc.stats.families import Family
from qc.stats.intervals import ToleranceInterval
from qc.stats.pivotal import Pivots, half_width, point

CONTENT = 0.95
_HALVINGS = 45


def tolerance_interval(
    found: Pivots,
    allowed: Members,
    centre: float,
    family: Family,
    bounded: str,
    content: float = CONTENT,
    confidence: float = 0.95,
) -> ToleranceInterval:
    """Return the range that holds `content` of the bores with that confidence [unit of the values].

    Source: Krishnamoorthy and Mathew, Statistical Tolerance Regions (2009), ch. 5 (from memory). Two-sided:
    centre +- c, c the least with which `confidence` of the draws hold the content (on the logarithms for the
    lognormal); one-sided: the `confidence` point of the draws' own content point.

    Parameters
    ----------
    found : Pivots
        Draws of mean and spread of what the family sees.
    allowed : tuple of (location, scale)
        The members of the family that the draws allow; the interval takes in those of each.
    centre : float
        Unweighted mean of the block means of what the family sees.
    family : Family
    bounded : str
        "both", "above" (the interval has no lower end) or "below" (no upper end).
    content, confidence : float
    """
    if bounded == "above":
        upper = max(point(family.at(float(ndtri(content)), *member), confidence) for member in allowed)
        return ToleranceInterval(None, upper, content, confidence)
    if bounded == "below":
        lower = min(
            point(family.at(float(ndtri(1 - content)), *member), 1 - confidence) for member in allowed
        )
        return ToleranceInterval(lower, None, content, confidence)
    if family.name == "folded_normal":
        c = max(_half_width(family, centre, member, content, confidence) for member in allowed)
        return ToleranceInterval(max(0.0, centre - c), centre + c, content, confidence)
    c = half_width(found, centre, content, confidence)
    lower, upper = (float(family.at(1.0, centre, side)) for side in (-c, c))
    return ToleranceInterval(lower, upper, content, confidence)


def _half_width(family: Family, centre: float, member: Member, content: float, confidence: float) -> float:
    location, scale = member
    low, high = 0.0, abs(centre) + 12 * float(np.max(location + scale))
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        held = family.cdf(centre + middle, location, scale) - family.cdf(centre - middle, location, scale)
        if point(held, 1 - confidence) < content:
            low = middle
        else:
            high = middle
    return high
