"""The head of a series: what it is, how much of it counts, what was left out and why."""

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from qc.catalogue import characteristic
from qc.history import SERIES, History, series_id, that_count
from qc.history.compose import chosen
from qc.history.zone import iso

Key = tuple[str, ...]
NOTHING_COUNTS = "no complete bore of the first pass counts"


def groups(frame: pd.DataFrame) -> dict[Key, pd.DataFrame]:
    """Rows of each series, in the order of their names."""
    if not len(frame):
        return {}
    return {tuple(map(str, k)): g for k, g in frame.groupby(list(SERIES), sort=True, observed=True)}


def row_counts(frame: pd.DataFrame) -> int:
    """Number of readings behind bore values."""
    return int(sum(map(len, frame["rows"]))) if len(frame) else 0


def _by_series(frame: pd.DataFrame, weights: np.ndarray | None = None) -> dict[Key, int]:
    if not len(frame):
        return {}
    work = frame[list(SERIES)].copy()
    work["n"] = 1 if weights is None else weights
    counted = work.groupby(list(SERIES), observed=True)["n"].sum()
    return {tuple(map(str, k)): int(n) for k, n in counted.items()}


class Heads:
    """Heads of every series of a history; `conditions` gives condition and why by series."""

    def __init__(self, history: History, conditions: Mapping[Key, Any]) -> None:
        self.history, self.conditions = history, conditions
        self.values = groups(history.values)
        self.blocks = groups(history.blocks)
        readings = history.readings
        mine = chosen(readings.assign(engine=readings["known_engine"]), history.asked, "made_at")
        self._excluded = _by_series(readings[readings["excluded"].to_numpy(dtype=bool) & mine])
        self._over = _by_series(readings[history.passed_over & mine])
        self._held = _by_series(history.held.dropna(subset=list(SERIES)))
        self._voided = _by_series(history.voided)

    def series_keys(self) -> list[Key]:
        """Series with at least one value, or a reading that was held, excluded or voided."""
        return sorted({*self.values, *self._held, *self._excluded, *self._voided})

    def left_out(self, key: Key) -> dict[str, int]:
        """Numbers of readings that do not count, by reason."""
        mine = self.values.get(key, self.history.values.iloc[:0])
        first = mine[mine["pass_no"] == 1]
        bare = first["lower_limit"].isna() & first["upper_limit"].isna() & first["complete"].astype(bool)
        aimless = first["reason"] == "no target is known"
        lacking = ~first["complete"].astype(bool) & ~aimless
        return {
            "held": self._held.get(key, 0),
            "voided": self._voided.get(key, 0),
            "excluded": self._excluded.get(key, 0),
            "superseded": self._over.get(key, 0) + row_counts(mine[mine["pass_no"] != 1]),
            "without_target": row_counts(first[aimless]),
            "without_limits": row_counts(first[bare]),
            "incomplete": row_counts(first[lacking]),
        }

    def head(self, key: Key) -> dict[str, Any]:
        """The head as every answer's row begins."""
        entry = characteristic(key[2])
        mine = self.values.get(key, self.history.values.iloc[:0])
        counted = that_count(mine)
        blocks = self.blocks.get(key, self.history.blocks.iloc[:0])
        judged = self.conditions.get(key)
        return {
            "id": series_id(key),
            **dict(zip(SERIES, key, strict=True)),
            "unit": entry.unit,
            "coded": entry.coded,
            **counts(counted, len(blocks)),
            "left_out": self.left_out(key),
            "condition": judged.condition if judged else "thin",
            "why": judged.why if judged else "no complete block yet",
            "not_given": {} if len(counted) else dict.fromkeys(("first_at", "last_at"), NOTHING_COUNTS),
        }


def counts(values: pd.DataFrame, blocks: int) -> dict[str, Any]:
    """Readings, bores, blocks, span and gauges behind some bore values."""
    return {
        "readings": row_counts(values),
        "features": int(len(values)),
        "blocks": int(blocks),
        "first_at": iso(values["made_at"].min()) if len(values) else None,
        "last_at": iso(values["made_at"].max()) if len(values) else None,
        "gauges": sorted({g for gs in values["gauges"] for g in gs}),
    }
