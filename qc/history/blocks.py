"""The block table: one row a series and build, with stretch, joints and wear count."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from qc.catalogue import characteristic
from qc.history.readings import SERIES
from qc.history.values import codes
from qc.records import Event
from qc.stretches import joints, renewals, stretch_numbers

BLOCK_COLUMNS = (
    *SERIES, "block", "build", "engine", "material", "at", "bores", "mean", "spread", "lowest", "highest",
    "lower_limit", "upper_limit", "stretch", "joint", "repair", "wear", "made", "gauges", "sized_with",
    "operators", "values",
)  # fmt: skip


def that_count(values: pd.DataFrame) -> pd.DataFrame:
    """Values of complete bores as first read: reworked and incomplete ones are no sample of the process."""
    return values[(values["pass_no"] == 1) & values["complete"].astype(bool)]


def block_table(
    values: pd.DataFrame, events: Sequence[Event], uncounted: pd.DataFrame | None = None
) -> pd.DataFrame:
    """One row a series and block of the first pass, in order of time.

    Parameters
    ----------
    values : DataFrame
        Bore values; only complete ones of pass 1 count.
    events : sequence of Event
        In force.
    uncounted : DataFrame, optional
        Readings that are no part of any value and yet tell of bores that the machine made (excluded ones).

    Returns
    -------
    DataFrame
        `BLOCK_COLUMNS`: `mean`, `spread` (sd of the bores, NaN for one) and extremes in the values' unit;
        limits where all bores share them; `stretch` (0, 1, ...), `joint` and `repair` (numbers of such
        events before), `wear` (bores or blocks the machine made since the reset up to the middle of the
        block), `made` (bores of the block), `values` (row numbers in `values`).
    """
    first = that_count(values)
    if first.empty:
        return pd.DataFrame(columns=list(BLOCK_COLUMNS))
    code = codes(first, [*SERIES, "block"])
    order = np.lexsort((first["order"].to_numpy(), first["made_at"].to_numpy(), code))
    first, code = first.iloc[order], code[order]
    starts = np.concatenate(([0], np.flatnonzero(np.diff(code)) + 1))
    ends = np.concatenate((starts[1:], [len(code)]))
    out = first.iloc[starts][[*SERIES, "block", "build", "engine", "material"]].reset_index(drop=True)
    value = first["value"].to_numpy()
    out["bores"] = ends - starts
    parts = [value[a:b] for a, b in zip(starts, ends, strict=True)]
    out["at"] = np.maximum.reduceat(first["made_at"].to_numpy(), starts)
    out["mean"] = [p[0] + (p - p[0]).mean() for p in parts]
    out["spread"] = [np.std(p - p[0], ddof=1) if len(p) > 1 else np.nan for p in parts]
    out["lowest"], out["highest"] = np.minimum.reduceat(value, starts), np.maximum.reduceat(value, starts)
    for name in ("lower_limit", "upper_limit"):
        limits = first[name].to_numpy()
        out[name] = [
            v[0] if (v == v[0]).all() else np.nan
            for v in (limits[a:b] for a, b in zip(starts, ends, strict=True))
        ]
    for name, source in (("gauges", "gauges"), ("sized_with", "sized_with")):
        told = first[source].to_numpy()
        out[name] = [tuple(sorted(set().union(*told[a:b]))) for a, b in zip(starts, ends, strict=True)]
    people = first["operator"].to_numpy()
    out["operators"] = [
        tuple(sorted({p for p in people[a:b] if isinstance(p, str)}))
        for a, b in zip(starts, ends, strict=True)
    ]
    rows = first.index.to_numpy()
    out["values"] = [tuple(rows[a:b]) for a, b in zip(starts, ends, strict=True)]
    out = out.sort_values([*SERIES, "at", "block"], kind="stable").reset_index(drop=True)
    return _placed(out, made_by_machine(values, uncounted), events)[list(BLOCK_COLUMNS)]


@dataclass(frozen=True, slots=True)
class Made:
    """What one machine made in one operation: its blocks in order of time, with the bores of each."""

    at: np.ndarray
    bores: np.ndarray
    place: dict[str, int]


def made_by_machine(
    values: pd.DataFrame, uncounted: pd.DataFrame | None = None
) -> dict[tuple[str, str], Made]:
    """What each machine made, by (machine, operation).

    A block counts from the time at which the first of its series is complete.
    """
    names = ["machine", "operation", "block"]
    rows = [values[[*SERIES, "block", "feature", "made_at", "pass_no"]]]
    if uncounted is not None and len(uncounted):
        rows.append(uncounted[list(rows[0].columns)])
    told = pd.concat(rows, ignore_index=True)
    told["late"] = told["pass_no"] > 1
    ends = told.groupby([*SERIES, "block", "late"], observed=True)["made_at"].max().reset_index()
    ends = ends.sort_values(["late", "made_at"], kind="stable")
    table = ends.groupby(names, observed=True)["made_at"].first().rename("at").to_frame()
    table["bores"] = told.groupby(names, observed=True)["feature"].nunique()
    table = table.reset_index().sort_values(["at", "block"], kind="stable")
    return {
        (str(m), str(o)): Made(
            g["at"].to_numpy(), g["bores"].to_numpy(), {b: i for i, b in enumerate(g["block"])}
        )
        for (m, o), g in table.groupby(["machine", "operation"], observed=True)
    }


def _placed(blocks: pd.DataFrame, made: dict[tuple[str, str], Made], events: Sequence[Event]) -> pd.DataFrame:
    """Add stretch, joint, repair, wear and made."""
    n = len(blocks)
    out = blocks.copy()
    columns = {name: np.zeros(n, dtype=int) for name in ("stretch", "joint", "repair")}
    columns |= {name: np.zeros(n) for name in ("wear", "made")}
    by_machine: dict[str, list[Event]] = {}
    for e in events:
        by_machine.setdefault(e.machine or "", []).append(e)
    of_gauges = [e for e in events if e.gauge is not None]
    code = codes(blocks, list(SERIES))
    for rows in (np.flatnonzero(code == c) for c in range(code.max() + 1)):
        mine = blocks.iloc[rows]
        machine, operation = str(mine["machine"].iloc[0]), str(mine["operation"].iloc[0])
        near = [*(e for e in by_machine.get(machine, []) if e.gauge is None), *of_gauges]
        for name, found in _of_series(mine, near, made[machine, operation]).items():
            columns[name][rows] = found
    for name, found in columns.items():
        out[name] = found
    return out


def _of_series(blocks: pd.DataFrame, near: Sequence[Event], made: Made) -> dict[str, np.ndarray]:
    """Stretch, joint, repair, wear and made of the blocks of one series."""
    head = blocks.iloc[0]
    entry, machine, operation = characteristic(head["characteristic"]), head["machine"], head["operation"]
    at, gauges = blocks["at"].to_numpy(), blocks["gauges"].to_numpy()
    resets = [e.at for e in renewals(near, entry, machine, operation)]
    steps = joints(near, entry, machine, operation, sorted(set().union(*gauges)))
    own = np.array([made.place[b] for b in blocks["block"]])
    wear, bores = _wear(at, own, resets, made, entry.wear_unit)
    return {
        "stretch": stretch_numbers(at, resets),
        "joint": np.array([
            sum(e.at <= t and (e.gauge is None or e.gauge in g) for e in steps)
            for t, g in zip(at, gauges, strict=True)
        ]),
        "repair": stretch_numbers(at, [e.at for e in steps if e.event == "machine_repaired"]),
        "wear": wear, "made": bores,
    }  # fmt: skip


def _wear(
    at: np.ndarray, own: np.ndarray, resets: list[int], made: Made, unit: str
) -> tuple[np.ndarray, np.ndarray]:
    """Wear count up to the middle of each block, and what the machine made in it."""
    bores = made.bores if unit == "bores" else np.ones(len(made.bores), dtype=int)
    total = np.concatenate(([0], np.cumsum(bores)))
    begun = np.sort(np.asarray(resets, dtype=np.int64))
    number = np.searchsorted(begun, at, side="right")
    last_reset = begun[np.maximum(number - 1, 0)] if len(begun) else np.zeros(len(at), dtype=np.int64)
    since = np.where(number > 0, total[np.searchsorted(made.at, last_reset, side="left")], 0)
    return np.maximum(0, total[own] - since) + bores[own] / 2, bores[own]
