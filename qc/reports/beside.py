"""What stands beside the blocks of a series: who made them, which family, how warm, at what hour."""

from functools import cached_property
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from qc.drift.causes import Factor
from qc.history import History
from qc.history.zone import moment
from qc.reports.heads import Key

MICRO = 1e-5
"""Temperatures are kept in whole 1e-5 of a degree, as every figure is."""
LEAST_OF_FAMILY, LEAST_RANGE = 6, 1.0
"""Blocks a family needs to be a covariate, and degrees that temperatures must span to be one (own choice)."""


class Beside:
    """Operators, families, temperatures and hours of the blocks of a shop.

    Parameters
    ----------
    whole : History
    zone : ZoneInfo
        The shop's.
    """

    def __init__(self, whole: History, zone: ZoneInfo) -> None:
        self.whole, self.zone = whole, zone

    @cached_property
    def _engines(self) -> dict[Any, Any]:
        values = self.whole.values
        if "engine" not in values.columns or not len(values):
            return {}
        known = values[values["engine"].notna()]
        return dict(known.groupby(["machine", "operation", "block"], observed=True)["engine"].first())

    @cached_property
    def _warmth(self) -> dict[str, dict[Any, float]]:
        """Mean temperature of the readings of each machine, operation and build [degC], by column."""
        rows, out = self.whole.readings, {}
        for column in ("part_c", "gauge_c"):
            known = rows[rows[column].notna()] if column in rows.columns else rows.iloc[:0]
            if len(known):
                known = known.assign(degrees=known[column].astype(float) * MICRO)
                out[column] = dict(
                    known.groupby(["machine", "operation", "build"], observed=True)["degrees"].mean()
                )
        return out

    def engines(self, key: Key, blocks: pd.DataFrame) -> tuple[str | None, ...]:
        """Engine family of each block, None where it is not known."""
        found = (self._engines.get((*key[:2], block)) for block in blocks["block"])
        return tuple(name if isinstance(name, str) else None for name in found)

    def warmth(self, key: Key, blocks: pd.DataFrame) -> list[np.ndarray]:
        """Temperatures of part and gauge of each block [degC], where all blocks have one."""
        out = []
        for table in self._warmth.values():
            found = np.array([table.get((*key[:2], build), np.nan) for build in blocks["build"]])
            if found.size and not np.isnan(found).any():
                out.append(found)
        return out

    def factors(self, key: Key, blocks: pd.DataFrame) -> list[Factor]:
        """What a change of a series may follow."""
        times = [moment(int(at)).astimezone(self.zone) for at in blocks["at"]]
        people = tuple(p[0] if len(p) == 1 else None for p in blocks["operators"])
        return [
            Factor("operator", people), Factor("engine", self.engines(key, blocks)),
            *(Factor("temperature", figures=t, unit="degree") for t in self.warmth(key, blocks)),
            Factor("time", figures=np.array([t.hour + t.minute / 60 for t in times]), unit="hour"),
        ]  # fmt: skip

    def covariates(self, key: Key, blocks: pd.DataFrame) -> np.ndarray | None:
        """Columns that slopes and forecasts take account of: families, and a temperature that varies."""
        names = self.engines(key, blocks)
        counts = {n: names.count(n) for n in dict.fromkeys(names)}
        columns = []
        if None not in counts and len(counts) > 1:
            usual = max(counts, key=lambda n: counts[n])
            columns = [
                np.array([float(n == name) for n in names])
                for name, c in counts.items() if name != usual and c >= LEAST_OF_FAMILY
            ]  # fmt: skip
        columns += [t for t in self.warmth(key, blocks)[:1] if np.ptp(t) >= LEAST_RANGE]
        return np.column_stack(columns) if columns else None
