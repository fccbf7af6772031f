"""What is known of the gauges behind figures on the day of use: uncertainty, common part, resolution."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from qc.catalogue import Characteristic
from qc.history import History
from qc.records import Gauge
from qc.units import TICKS_PER_UM


@dataclass(frozen=True, slots=True)
class Known:
    """One gauge on one day [um]: standard uncertainty of a reading, its common part, resolution, master."""

    gauge: str
    u: float | None
    common: float | None
    resolution: float | None
    master: str | None
    due_on: int | None


def _um(ticks: int | None) -> float | None:
    return None if ticks is None else ticks / TICKS_PER_UM


class GaugeBook:
    """The gauges' history, asked by name and day."""

    def __init__(self, history: History) -> None:
        self._rows: dict[str, list[Gauge]] = {}
        self._known: dict[tuple[str, int], Known] = {}
        for row in history.gauges:
            self._rows.setdefault(row.gauge, []).append(row)
        for rows in self._rows.values():
            rows.sort(key=lambda g: g.calibrated_on or 0)

    def on(self, gauge: str, at: float) -> Known | None:
        """The gauge as known on that day: each figure from the latest row not after it that gives it."""
        rows = self._rows.get(gauge)
        if not rows:
            return None
        before = [g for g in rows if (g.calibrated_on or 0) <= at] or rows[:1]
        key = (gauge, len(before))
        if key not in self._known:
            self._known[key] = self._as_of(gauge, before)
        return self._known[key]

    def _as_of(self, gauge: str, before: list[Gauge]) -> Known:

        def latest(name: str) -> int | str | None:
            return next((v for v in (getattr(g, name) for g in reversed(before)) if v is not None), None)

        def um(name: str) -> float | None:
            found = latest(name)
            return _um(found) if isinstance(found, int) else None

        master, due = latest("master"), latest("due_on")
        return Known(
            gauge, um("standard_uncertainty"), um("common_part"), um("resolution"),
            master if isinstance(master, str) else None, due if isinstance(due, int) else None,
        )  # fmt: skip

    def resolution(self, gauges: tuple[str, ...], at: float) -> float:
        """Coarsest resolution of some gauges [um], 0 where none is known."""
        found = [k.resolution for k in (self.on(g, at) for g in gauges) if k and k.resolution]
        return max(found, default=0.0)

    def of_readings(self, entry: Characteristic, values: pd.DataFrame) -> np.ndarray:
        """Standard uncertainty of one reading behind each bore value [um], NaN where it is not known.

        What a verdict on local sizes is taken with; the largest where a bore was read with several gauges.
        """
        if entry.value != "mean":
            return np.full(len(values), np.nan)
        return np.array([
            max((k.u if k and k.u is not None else np.nan for k in (self.on(g, at) for g in gauges)),
                default=np.nan)
            for gauges, at in zip(values["gauges"], values["made_at"], strict=True)
        ], dtype=float)  # fmt: skip

    def of_values(self, entry: Characteristic, values: pd.DataFrame) -> float | None:
        """Standard uncertainty of one bore value of measured readings [um], None where it is not known.

        The common part of the gauge stays, the random part is averaged over the readings of a bore; over
        several gauges the root mean square counts. Derived figures have none here: their parts differ in
        sign.
        """
        if entry.value != "mean" or not len(values):
            return None
        squares = []
        for gauges, rows, at in zip(values["gauges"], values["rows"], values["made_at"], strict=True):
            known = [self.on(g, at) for g in gauges]
            if not known or any(k is None or k.u is None for k in known):
                return None
            squares.append(np.mean([
                (k.common or 0.0) ** 2 + (k.u**2 - (k.common or 0.0) ** 2) / len(rows)
                for k in known if k and k.u is not None
            ]))  # fmt: skip
        return float(np.sqrt(np.mean(squares)))
