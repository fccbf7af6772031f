"""Which positions a complete bore has: the measuring plan in force, else what was measured most often."""

from collections import Counter
from collections.abc import Sequence

import numpy as np
import pandas as pd

from qc.catalogue import CATALOGUE
from qc.history.readings import text
from qc.records import PlanRow

Position = tuple[float, float]  # station and clock in ticks; -1 where none is said
Places = tuple[Position, ...]
NONE = -1.0
_ASKED = ("characteristic", "engine", "feature", "state", "made_at")
_GROUP = ("machine", "operation", "characteristic", "method", "state", "engine")


def _position(row: PlanRow) -> Position:
    return (
        NONE if row.station is None else float(row.station),
        NONE if row.clock is None else float(row.clock),
    )


class MeasuringPlan:
    """Planned positions of a bore, looked up by what it is and when it was made."""

    def __init__(self, rows: Sequence[PlanRow]) -> None:
        self._rows: dict[str, list[PlanRow]] = {}
        for row in rows:
            self._rows.setdefault(row.characteristic, []).append(row)
        self._known: dict[tuple[object, ...], tuple[tuple[int, tuple[Position, ...]], ...]] = {}

    def positions(
        self, characteristic: str, engine: str | None, feature: str, state: str, at: int
    ) -> tuple[Position, ...]:
        """Positions in force at that time, in order of depth and direction; empty without a plan.

        Of the rows not after `at` those that name the feature, the state or the engine win over those that
        leave it blank; of several dates the latest holds.
        """
        if characteristic not in self._rows:
            return ()
        key = (characteristic, engine, feature, state)
        if key not in self._known:
            self._known[key] = self._dated(*key)
        found: tuple[Position, ...] = ()
        for since, positions in self._known[key]:
            if since <= at:
                found = positions
        return found

    def _dated(
        self, characteristic: str, engine: str | None, feature: str, state: str
    ) -> tuple[tuple[int, tuple[Position, ...]], ...]:
        fits = [
            r for r in self._rows[characteristic]
            if r.engine in (None, engine) and r.feature in (None, feature) and r.state in (None, state)
        ]  # fmt: skip
        if not fits:
            return ()

        def named(row: PlanRow) -> tuple[bool, bool, bool]:
            return row.feature is not None, row.state is not None, row.engine is not None

        out = []
        for date in sorted({r.since or 0 for r in fits}):
            known = [r for r in fits if (r.since or 0) <= date]
            best = max((named(r), r.since or 0) for r in known)
            chosen = {_position(r) for r in known if (named(r), r.since or 0) == best}
            out.append((date, tuple(sorted(chosen))))
        return tuple(out)


def planned(
    bores: pd.DataFrame, measured: list[Places], plan: MeasuringPlan
) -> tuple[list[Places], list[bool]]:
    """Planned positions of each bore of a characteristic that is read at positions.

    Parameters
    ----------
    bores : DataFrame
        One row a bore: machine, operation, characteristic, method, state, engine, feature, made_at.
    measured : list of tuples
        Positions read on each, sorted.

    Returns
    -------
    list of tuples
        The plan's, else the set read most often on that engine (of equally frequent ones the larger); for
        what is read per feature the positions read, whatever they are.
    list of bool
        Whether a plan says so.
    """
    at_positions = (
        bores["characteristic"].map(lambda k: CATALOGUE[k].level == "position").to_numpy(dtype=bool)
    )
    told = {n: text(bores, n).tolist() for n in {*_ASKED, *_GROUP}}
    asked = zip(*(told[n] for n in _ASKED), strict=True)
    given = [plan.positions(*one) if at else () for at, one in zip(at_positions, asked, strict=True)]
    groups = list(zip(*(told[n] for n in _GROUP), strict=True))
    counts: dict[tuple[object, ...], Counter[Places]] = {}
    for group, places in zip(groups, measured, strict=True):
        counts.setdefault(group, Counter())[places] += 1
    usual = {
        g: max(c.items(), key=lambda item: (item[1], len(item[0]), item[0]))[0] for g, c in counts.items()
    }
    wanted = [
        places if not at else (rule or usual[group])
        for places, at, rule, group in zip(measured, at_positions, given, groups, strict=True)
    ]
    return wanted, [bool(at and rule) for at, rule in zip(at_positions, given, strict=True)]


def grid(places: tuple[Position, ...]) -> tuple[np.ndarray, np.ndarray] | None:
    """Stations and directions of a planned set that is a full grid of both, else None."""
    stations = np.array(sorted({s for s, _ in places}))
    clocks = np.array(sorted({c for _, c in places}))
    if len(stations) * len(clocks) != len(places):
        return None
    return stations, clocks
