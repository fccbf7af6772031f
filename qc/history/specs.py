"""Which specification is in force for a reading, and what target and limits it gives.

A row matches when all its filled columns agree and its `since` is not after the reading. Of the matching
rows the most specific wins, compared in the order build, feature, station, clock, state, operation, engine;
then the latest `since`, then the last added. Rows that give no limit at all give their target but are no
candidate for the limits: a build's plan of sizes does not switch off the family's window.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from qc.catalogue import CATALOGUE
from qc.records import Spec

_ORDER = ("build", "feature", "station", "clock", "state", "operation", "engine")
ROW_COLUMNS = (
    "build", "engine", "operation", "characteristic", "feature", "station", "clock", "state", "made_at",
    "target",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class InForce:
    """What the specifications say of n rows.

    target : (n,) float ticks, NaN where none
    lower, upper : (n,) float ticks, distances from the target where coded, plain values for the others
    offset : (n,) float, the window's own target as such a distance
    spec : (n,) int, index of the row that gives the limits, -1 none
    target_spec : likewise for the target, -2 = the reading's own
    passed_over : (n,) bool, a size window that did not contain the target
    sized : (n,) int, index of the size window in force where no target is known to count its limits from
    """

    target: np.ndarray
    lower: np.ndarray
    upper: np.ndarray
    offset: np.ndarray
    spec: np.ndarray
    target_spec: np.ndarray
    passed_over: np.ndarray
    sized: np.ndarray


def precedence(spec: Spec) -> tuple[object, ...]:
    """Sort key: later in this order wins."""
    filled = tuple(getattr(spec, name) is not None for name in _ORDER)
    return (*filled, spec.since is not None, spec.since or 0)


def _codes(column: pd.Series) -> np.ndarray:
    values: np.ndarray = column.astype(object).to_numpy()
    return values


class _Rows:
    """Columns of the rows to be judged, and the row numbers of each characteristic and build."""

    def __init__(self, rows: pd.DataFrame) -> None:
        self.columns = {name: _codes(rows[name]) for name in (*_ORDER, "characteristic")}
        for name in ("station", "clock"):
            self.columns[name] = pd.to_numeric(rows[name]).to_numpy(dtype=float, na_value=np.nan)
        self.made_at = rows["made_at"].to_numpy(dtype=np.int64)
        number = pd.Series(np.arange(len(rows)))
        self.of = {
            k: g.to_numpy() for k, g in number.groupby(rows["characteristic"].astype(object).to_numpy())
        }
        builds = rows["build"].astype(object).to_numpy()
        here = pd.notna(builds)
        pairs = pd.MultiIndex.from_arrays([self.columns["characteristic"][here], builds[here]])
        self.of_build = {k: g.to_numpy() for k, g in number[here].groupby(pairs)} if here.any() else {}

    def matching(self, spec: Spec) -> np.ndarray:
        """Numbers of the rows all of whose columns agree with the filled ones of `spec`."""
        if spec.build is not None:
            found: np.ndarray | None = self.of_build.get((spec.characteristic, spec.build))
        else:
            found = self.of.get(spec.characteristic)
        if found is None:
            return np.empty(0, dtype=int)
        for name in _ORDER[1:]:
            wanted = getattr(spec, name)
            if wanted is not None:
                found = found[self.columns[name][found] == wanted]
        if spec.since is not None:
            found = found[self.made_at[found] >= spec.since]
        return found


def in_order(specs: Sequence[Spec]) -> list[int]:
    """Indices of the specifications, the one that wins over all others last (ties: the last added)."""
    return sorted(range(len(specs)), key=lambda i: (*precedence(specs[i]), i))


def resolve(specs: Sequence[Spec], rows: pd.DataFrame) -> InForce:
    """Target and limits in force for each row [ticks].

    Parameters
    ----------
    specs : sequence of Spec
        In the order in which they were added.
    rows : DataFrame
        Columns `ROW_COLUMNS`: station, clock and target in ticks (missing: NA), made_at in microseconds;
        `target` is the reading's own.
    """
    n = len(rows)
    own = pd.to_numeric(rows["target"]).to_numpy(dtype=float, na_value=np.nan)
    target = own.copy()
    target_spec = np.where(np.isnan(own), -1, -2)
    spec_of, sized = np.full(n, -1), np.full(n, -1)
    passed = np.zeros(n, dtype=bool)
    lower, upper, offset = np.full(n, np.nan), np.full(n, np.nan), np.full(n, np.nan)
    table, order = _Rows(rows), in_order(specs)
    matches = {i: table.matching(specs[i]) for i in order}
    for i in order:
        if specs[i].reading == "size" and specs[i].target is not None:
            found = matches[i][target_spec[matches[i]] != -2]
            target[found], target_spec[found] = specs[i].target, i
    for i in order:
        spec = specs[i]
        if spec.lower is None and spec.upper is None:
            continue
        low, high, middle, holds = _window(spec, target[matches[i]])
        found = matches[i][holds]
        aimless = ~holds & np.isnan(target[matches[i]])
        passed[matches[i][~holds & ~aimless]] = True
        passed[found] = False
        sized[found], sized[matches[i][aimless]] = -1, i
        lower[found], upper[found], offset[found] = low[holds], high[holds], middle[holds]
        spec_of[found] = i
    return InForce(target, lower, upper, offset, spec_of, target_spec, passed, sized)


def _number(value: int | None) -> float:
    return np.nan if value is None else float(value)


def _window(spec: Spec, target: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Limits of one row as distances from each target, its own middle, and whether it holds the target."""
    entry = CATALOGUE.get(spec.characteristic)
    ones = np.ones(len(target))
    low, high, middle = _number(spec.lower) * ones, _number(spec.upper) * ones, _number(spec.target) * ones
    if spec.reading == "deviation" or entry is None or not entry.coded:
        if spec.reading == "deviation" and spec.target is None:
            middle = 0.0 * ones
        return low, high, middle, np.ones(len(target), dtype=bool)
    with np.errstate(invalid="ignore"):
        holds = ~np.isnan(target) & ~(low > target) & ~(high < target)
    return low - target, high - target, middle - target, holds
