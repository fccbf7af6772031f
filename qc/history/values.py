"""One bore value a bore and state: readings to positions, positions to bores.

Depths, directions, repeats and traces never raise the number of values.
"""

import numpy as np
import pandas as pd

from qc.catalogue import CATALOGUE
from qc.history.plan import NONE, MeasuringPlan, Position, planned
from qc.history.readings import SERIES, column, inside, text

BORE = (*SERIES, "block", "feature", "pass_no")
VALUE_COLUMNS = (
    *BORE, "build", "engine", "material", "value", "least", "greatest", "lower_limit", "upper_limit",
    "limit_target", "spec", "aim", "conforms", "complete", "reason", "made_at", "order", "gauges",
    "sized_with",
    "operator", "rows",
)  # fmt: skip


def codes(frame: pd.DataFrame, keys: list[str]) -> np.ndarray:
    """Number of the group each row is in, groups numbered by first appearance."""
    number: np.ndarray = frame.groupby(keys, sort=False, dropna=False, observed=True).ngroup().to_numpy()
    return number


def _first(code: np.ndarray) -> np.ndarray:
    """Row number of the first member of each group."""
    _, first = np.unique(code, return_index=True)
    return first


def _mean(values: np.ndarray, code: np.ndarray, n: int) -> np.ndarray:
    """Mean of each group, exact where the members are equal."""
    base = values[_first(code)]
    shift = np.bincount(code, weights=values - base[code], minlength=n)
    mean: np.ndarray = base + shift / np.bincount(code, minlength=n)
    return mean


def _extreme(values: np.ndarray, code: np.ndarray, n: int, pick: np.ufunc) -> np.ndarray:
    start = np.full(n, np.inf if pick is np.minimum else -np.inf)
    with np.errstate(invalid="ignore"):  # NaN stays NaN
        pick.at(start, code, values)
    return start


def positions(readings: pd.DataFrame) -> tuple[pd.DataFrame, np.ndarray]:
    """One row a position: repeats averaged, older readings of the same position passed over.

    Parameters
    ----------
    readings : DataFrame
        As `qc.history.readings.typed` gives it.

    Returns
    -------
    DataFrame
        Keys of the bore and `station`, `clock` [ticks, -1 none], `shown`, `size`, limits, `conforms`,
        `rows` (tuple of row numbers in `readings`).
    (n,) bool array
        Which readings were passed over by a later one at the same position and pass.
    """
    r = readings.copy()
    r["station"], r["clock"] = (np.nan_to_num(column(r, c), nan=NONE) for c in ("station", "clock"))
    code = codes(r, [*BORE, "station", "clock"])
    averaged = r["characteristic"].map(lambda k: CATALOGUE[k].repeats == "mean").to_numpy(dtype=bool)
    kept = averaged | _of_the_last_go(code, r["made_at"].to_numpy(), r["trial"].to_numpy())
    r, code = r[kept], code[kept]
    if r.empty:
        return _no_positions(r), ~kept
    n = int(code.max()) + 1
    out = r.iloc[_first(code)].copy().reset_index(drop=True)
    out["shown"] = _mean(r["shown"].to_numpy(), code, n)
    out["size"] = _mean(r["size"].to_numpy(), code, n)
    out["conforms"] = inside(
        out["shown"].to_numpy(), out["lower_limit"].to_numpy(), out["upper_limit"].to_numpy()
    )
    out["made_at"] = _extreme(r["made_at"].to_numpy(dtype=float), code, n, np.maximum).astype(np.int64)
    order = np.argsort(code, kind="stable")
    numbers = np.flatnonzero(kept)[order]
    cuts = np.cumsum(np.bincount(code, minlength=n))[:-1]
    out["rows"] = [tuple(part) for part in np.split(numbers, cuts)]
    return out, ~kept


def _of_the_last_go(code: np.ndarray, made_at: np.ndarray, trial: np.ndarray) -> np.ndarray:
    """Which readings of each position belong to its last go.

    A later reading begins a new go where its trial does not count on: trials that a gauge's logger stamps
    one by one are repeats, not a bore honed again.
    """
    order = np.lexsort((trial, made_at, code))
    c, m, n = code[order], made_at[order], trial[order]
    anew = np.zeros(len(order), dtype=np.int64)
    anew[1:] = (c[1:] == c[:-1]) & (m[1:] > m[:-1]) & (n[1:] <= n[:-1])
    go = np.empty(len(order), dtype=np.int64)
    go[order] = np.cumsum(anew)
    last: np.ndarray = go == pd.Series(go).groupby(code).transform("max").to_numpy()
    return last


def _no_positions(frame: pd.DataFrame) -> pd.DataFrame:
    out = frame.copy()
    out["conforms"], out["rows"] = np.empty(0, dtype=bool), pd.Series(dtype=object)
    return out


def _distinct(values: np.ndarray) -> tuple[str, ...]:
    found = set(values.tolist()) - {None}
    return tuple(sorted(found))


class Bores:
    """The bores of a table of positions: where each starts, what was read and what is planned."""

    def __init__(self, places: pd.DataFrame, plan: MeasuringPlan) -> None:
        code = codes(places, list(BORE))
        order = np.lexsort((places["clock"].to_numpy(), places["station"].to_numpy(), code))
        self.places = places.iloc[order].reset_index(drop=True)
        self._columns: dict[str, np.ndarray] = {}
        code = code[order]
        self.offsets = np.concatenate(([0], np.flatnonzero(np.diff(code)) + 1, [len(code)])).astype(int)
        if not len(code):
            self.offsets = np.zeros(1, dtype=int)
        self.heads = self.places.iloc[self.offsets[:-1]].copy().reset_index(drop=True)
        self.heads["engine"] = self.heads["known_engine"]
        pairs = list(zip(self.places["station"], self.places["clock"], strict=True))
        self.measured: list[tuple[Position, ...]] = [
            tuple(pairs[a:b]) for a, b in zip(self.offsets[:-1], self.offsets[1:], strict=True)
        ]
        self.planned, self.by_plan = planned(self.heads, self.measured, plan)

    def __len__(self) -> int:
        return len(self.offsets) - 1

    def at_planned(self, name: str, bore: int) -> np.ndarray:
        """Values of a column of the positions at the bore's planned positions, NaN where one is missing."""
        a, b = self.offsets[bore], self.offsets[bore + 1]
        if name not in self._columns:
            self._columns[name] = self.places[name].to_numpy()
        values = self._columns[name][a:b]
        if self.measured[bore] == self.planned[bore]:
            return values
        read = dict(zip(self.measured[bore], values, strict=True))
        return np.array([read.get(p, np.nan) for p in self.planned[bore]], dtype=float)


def bore_values(bores: Bores) -> pd.DataFrame:
    """One row a bore, series and pass: value, extremes, verdict of its local sizes, limits, what lies behind.

    Returns
    -------
    DataFrame
        `VALUE_COLUMNS`. `value` [um or own unit] is the mean over the planned positions, NaN with its
        `reason` when one is missing or no target is known; `conforms` is None without any limit, and where
        what was read is inside but not all was read.
    """
    heads = bores.heads
    n = len(bores)
    if n == 0:
        return pd.DataFrame(columns=list(VALUE_COLUMNS))
    out = heads[[*BORE, "build", "engine", "material", "spec", "limit_target", "operator"]].copy()
    code = np.repeat(np.arange(n), np.diff(bores.offsets))
    places = bores.places
    shown = places["shown"].to_numpy()
    out["value"] = _mean(shown, code, n)
    out["least"], out["greatest"] = (_extreme(shown, code, n, f) for f in (np.minimum, np.maximum))
    out["aim"] = heads["aim"].to_numpy()
    _complete(out, bores)
    for name in ("lower_limit", "upper_limit"):
        values = places[name].to_numpy()
        low, high = (_extreme(values, code, n, f) for f in (np.minimum, np.maximum))
        out[name] = np.where(low == high, low, np.nan)
    judged = places["lower_limit"].notna().to_numpy() | places["upper_limit"].notna().to_numpy()
    limited = np.bincount(code, weights=judged, minlength=n) > 0
    bad = np.bincount(code, weights=~places["conforms"].to_numpy(dtype=bool), minlength=n) > 0
    # a place outside is enough to fail; to conform, every planned one must have been read
    out["conforms"] = np.array([
        None if not has or not (b or c) else not b
        for has, b, c in zip(limited, bad.tolist(), out["complete"], strict=True)
    ], dtype=object)  # fmt: skip
    out["made_at"] = _extreme(places["made_at"].to_numpy(dtype=float), code, n, np.maximum).astype(np.int64)
    order = _extreme(np.nan_to_num(column(places, "order"), nan=np.inf), code, n, np.minimum)
    out["order"] = np.where(np.isinf(order), np.nan, order)
    for name, source in (("gauges", "gauge"), ("sized_with", "sized_with")):
        values = text(places, source)
        out[name] = [
            _distinct(values[a:b]) for a, b in zip(bores.offsets[:-1], bores.offsets[1:], strict=True)
        ]
    rows = places["rows"].to_numpy()
    out["rows"] = [sum(rows[a:b], ()) for a, b in zip(bores.offsets[:-1], bores.offsets[1:], strict=True)]
    return out[list(VALUE_COLUMNS)]


def _complete(out: pd.DataFrame, bores: Bores) -> None:
    """Fill value, complete and reason of the bores that were not read at just their planned positions."""
    value = out["value"].to_numpy().copy()
    reason: list[str | None] = [None] * len(out)
    for i, (read, wanted) in enumerate(zip(bores.measured, bores.planned, strict=True)):
        if read != wanted:
            at = bores.at_planned("shown", i)
            missing = len(set(wanted) - set(read))
            value[i] = at.mean() if missing == 0 else np.nan
            which = "planned positions" if bores.by_plan[i] else "positions usually read on this engine"
            reason[i] = f"{missing} of {len(wanted)} {which} not read" if missing else None
    for i in np.flatnonzero(np.isnan(value)).tolist():
        reason[i] = reason[i] or "no target is known"
    out["value"], out["reason"] = value, np.array(reason, dtype=object)
    out["complete"] = [r is None for r in reason]
