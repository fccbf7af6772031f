"""Readings as a frame that `qc.history.readings.typed` takes, so that a check judges as the answers do."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    import pandas as pd

_COLUMNS: Final = (
    "build", "engine", "machine", "operation", "characteristic", "method", "state", "feature", "station",
    "clock", "trial", "value", "relative", "target", "lower", "upper", "made_at", "gauge", "master",
    "material", "part_c", "gauge_c",
)  # fmt: skip


def as_frame(readings: Sequence[Any]) -> "pd.DataFrame":
    """One row a reading, with the columns of `Store.readings` that a verdict needs.

    Parameters
    ----------
    readings : sequence
        Of `qc.records.Reading`, or of rows of `qc.store.neighbours.of_builds`.
    """
    import pandas as pd  # only files about which it is asked pay for it

    frame = pd.DataFrame(
        {name: pd.Series([getattr(r, name) for r in readings], dtype=object) for name in _COLUMNS}
    )
    frame["pass"] = pd.Series([r.pass_ for r in readings], dtype=object)
    frame["order"] = pd.Series([getattr(r, "order", None) for r in readings], dtype=object)
    return frame
