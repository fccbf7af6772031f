"""What one series that a gauge reads tells by itself: its levels, and whether its own machine moved it."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from qc.drift.changepoint import added, basis
from qc.drift.model import Model, model_of
from qc.drift.series import SeriesBlocks
from qc.drift.trend import whitened

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

LEAST_SIDE = 3
BETTER = 6.0
"""By how much, in twice the log-likelihood and beyond the price of its place, a change of the machine's own
must explain a series better than the gauge's shift does (own choice)."""


@dataclass(frozen=True, slots=True)
class Member:
    """One series that a gauge reads: blocks read by it, and whether the work was sized with it.

    ``form`` marks a series of form (taper, out-of-round), which a gauge's zero cannot touch.
    """

    series: SeriesBlocks
    machine: str
    read: Bools
    sized_with_it: bool = False
    form: bool = False


def inside(member: Member, span: tuple[float, float]) -> Floats:
    """Column that is 1 where a member was read with the gauge in a span of time.

    Parameters
    ----------
    member : Member
    span : (float, float)
    """
    at = np.asarray(member.series.at, dtype=float)
    return (member.read & (at >= span[0]) & (at <= span[1])).astype(float)


def known(member: Member, model: Model, taken: Sequence[tuple[float, float]]) -> Floats:
    """Orthonormal basis of a member's levels, wear and shifts that are known.

    Parameters
    ----------
    member : Member
    model : Model
        Of its series.
    taken : sequence of (float, float)
        Spans of shifts.
    """
    columns = [model.steps[:, np.unique(model.segment_start)]]
    if model.wears:
        columns.append(model.wear[:, None])
    for span in taken:
        columns.append(whitened(inside(member, span)[model.kept], model.sd, model.lag1)[:, None])
    return basis(np.hstack(columns))


def moved_by_itself(member: Member, taken: Sequence[tuple[float, float]], lag1: float) -> bool:
    """Whether one step or bend of its own explains a member better than the last of ``taken`` does.

    Such a machine is no witness for its gauge.
    Source: own rule, comparison of fits with the price of the places searched.

    Parameters
    ----------
    member : Member
    taken : sequence of (float, float)
    lag1 : float
    """
    model = model_of(member.series, lag1)
    base, y = known(member, model, taken[:-1]), model.whitened_y
    rows = np.arange(LEAST_SIDE, y.size - LEAST_SIDE + 1)
    if rows.size == 0:
        return False
    shift = whitened(inside(member, taken[-1])[model.kept], model.sd, lag1)[:, None]
    of_gauge = added(base, y, shift)
    own = added(base, y, np.hstack([model.steps[:, rows], model.ramps[:, : rows[-1] : 3]]))
    if of_gauge.df < 1:
        return False
    gained = of_gauge.df * float(np.log(of_gauge.rss[0] / own.rss.min()))
    return bool(gained > 2 * np.log(own.rss.size) + BETTER)
