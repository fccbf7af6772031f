from typing import Any

import numpy as np

from qc.capability.allowed import over
from qc.capability.general import Limits
from qc.capability.result import Counted, Outside, Predicted
from qc.capability.row import Estimate, Row
from qc.stats.families import Family
from qc.stats.proportions import clopper_pearson


def share_beyond(family: Family, location: Any, scale: Any, limits: Limits) -> Any:
    """Return the share of bores beyond the limits that a member of the family predicts [1].

    Parameters
    ----------
    family : Family
    location, scale : float or array
    limits : Limits
        Only the sides that count.
    """
    share: Any = 0.0
    if limits.upper is not None:
        share = share + family.above(limits.upper, location, scale)
    if limits.lower is not None:
        share = share + family.cdf(limits.lower, location, scale)
    return share


def counted(row: Row, outside: int | None) -> Counted:
    """Return the bores beyond the limits, with an interval that counts blocks; on the limit is inside.

    Parameters
    ----------
    row : Row
        With at least one bore.
    outside : int or None
        Their number where it was counted elsewhere.
    """
    if outside is None:
        low = -np.inf if row.limits.lower is None else row.limits.lower
        high = np.inf if row.limits.upper is None else row.limits.upper
        outside = int(np.count_nonzero((row.values < low) | (row.values > high)))
    fraction = outside / row.values.size
    worth = row.worth
    return Counted(
        outside, row.values.size, fraction, clopper_pearson(worth * fraction, worth, row.confidence)
    )


def outside_of(
    row: Row, outside: int | None, estimate: Estimate | None, why_none: str | None
) -> tuple[Outside, dict[str, str]]:
    """Return the share of bores beyond the limits, counted and predicted, and the reasons for what is
    missing.
    """
    if row.limits.none or row.values.size == 0:
        reason = why_none or ""
        return Outside(None, None), {"outside.counted": reason, "outside.predicted": reason}
    as_counted = counted(row, outside)
    if estimate is None or why_none is not None:
        return Outside(as_counted, None), {"outside.predicted": why_none or ""}
    location, scale = row.family.parameters(estimate.mean, estimate.spread)
    predicted = Predicted(
        fraction=float(share_beyond(row.family, location, scale, row.limits)),
        interval=over(
            estimate.members,
            lambda location, scale: share_beyond(row.family, location, scale, row.limits),
            row.confidence,
        ),
    )
    return Outside(as_counted, predicted), {}
