"""Which index must be read to prove the one that is wanted, and the performance inside one block."""

import numpy as np
from scipy.special import chdtri

from qc.capability.general import indices
from qc.capability.one_sided import lower_index, upper_index
from qc.capability.result import InsideOneBlock, ToProve
from qc.capability.row import Estimate, Row
from qc.stats.intervals import Interval
from qc.stats.pivotal import point

PROOF = 0.95
"""Confidence of the one-sided bound that proves an index."""


def to_prove(row: Row, estimate: Estimate, wanted: float, ppk: float) -> ToProve:
    """Return the Ppk that would have to be read at this number of blocks to prove the wanted one.

    The nearer limit is moved until the one-sided 95 % bound of its index is the wanted one, mean, spreads and
    blocks as they are; `needed` is the index that would then be printed.
    Source: own, by the draws of the intervals; with one bore a block it is the noncentral t bound, t(0.95; n
    - 1, 3 sqrt(n) wanted) / (3 sqrt n) (Krishnamoorthy and Mathew, 2009, ch. 5; from memory).

    Parameters
    ----------
    row : Row
    estimate : Estimate
        Of the long run.
    wanted : float
        Index to be proved [1], above 0.
    ppk : float
        As printed.
    """
    location, scale = row.family.parameters(estimate.mean, estimate.spread)
    median = row.family.at(0.0, location, scale)
    near = indices(row.family, location, scale, row.limits)
    above = near.to_lower is None or (near.to_upper is not None and near.to_upper <= near.to_lower)
    if above:
        limit = max(
            point(row.family.at(0.0, *member) + wanted * row.family.reach(3.0, *member), PROOF)
            for member in estimate.members
        )
        needed = upper_index(limit, median, row.family.reach(3.0, location, scale))
    else:
        limit = min(
            point(row.family.at(0.0, *member) - wanted * row.family.reach(-3.0, *member), 1 - PROOF)
            for member in estimate.members
        )
        needed = lower_index(limit, median, row.family.reach(-3.0, location, scale))
    return ToProve(wanted, float(needed), int(row.plain.blocks[0]), PROOF, bool(ppk >= needed))


def inside_one_block(row: Row) -> tuple[InsideOneBlock | None, str | None]:
    """Return the performance inside one block, or the reason why there is none.

    As the indices, by the spread in block alone, the mean of all bores taken as it is: what the machine would
    do if blocks did not differ. Interval of the spread by chi-square with N - m degrees of freedom.
    Source: ISO 22514-3, machine performance (from memory).
    """
    s = row.seen
    if s is None:
        return None, f"the {row.family.label} family cannot hold these bores"
    spread, freedom = float(s.spread_in_block[0]), int(s.bores[0] - s.blocks[0])
    if freedom < 1:
        return None, "one bore a block: a spread within a block needs two"
    if not spread > 0:
        return (
            None,
            "the bores of each block all read the same: there is no spread inside a block to judge by",
        )
    mean = float(s.mean[0])
    tail = (1 - row.confidence) / 2
    ends = spread * np.sqrt(freedom / chdtri(freedom, np.array([tail, 1 - tail])))
    at_point, worst, best = (row.indices(mean, one) for one in (spread, ends.max(), ends.min()))
    both = None if at_point.both is None else float(at_point.both)
    return InsideOneBlock(
        spread=float(row.plain.spread_in_block[0]),
        index=both,
        index_interval=None
        if both is None
        else Interval(float(worst.both), float(best.both), row.confidence),
        nearer=float(min(at_point.sides)),
        nearer_interval=_between(float(min(worst.sides)), float(min(best.sides)), row.confidence),
        degrees_of_freedom=freedom,
    ), None


def _between(one: float, other: float, confidence: float) -> Interval:
    # a mean beyond its limit has a negative index, which a wider spread makes less bad
    return Interval(min(one, other), max(one, other), confidence)
