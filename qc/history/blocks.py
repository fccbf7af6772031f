"""The block table: one row a series and build, with stretch, joints and wear count."""

from collections.abc import Sequence

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


def block_table(values: pd.DataFrame, events: Sequence[Event]) -> pd.DataFrame:
    """One row a series and block of the first pass, in order of time.

    Parameters
    ----------
    values : DataFrame
        Bore values; only complete ones of pass 1 count.
    events : sequence of Event
        In force.

    Returns
    -------
    DataFrame
        `BLOCK_COLUMNS`: `mean`, `spread` (sd of the bores, NaN for one) and extremes in the values' unit;
        limits where all bores share them; `stretch` (0, 1, ...), `joint` and `repair` (numbers of such
        events before), `wear` (bores or blocks the machine made since the reset up to the middle of the
        block), `made` (bores of the block), `values` (row numbers in `values`).
    """
    first = values[(values["pass_no"] == 1) & values["complete"].astype(bool)]
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
    return _placed(out, values, events)[list(BLOCK_COLUMNS)]


def made_by_machine(values: pd.DataFrame) -> dict[tuple[str, str], tuple[np.ndarray, np.ndarray]]:
    """Times of a machine's blocks and bores it made in each, by (machine, operation), in order of time."""
    grouped = values.groupby(["machine", "operation", "block"], observed=True)
    table = grouped.agg(at=("made_at", "max"), bores=("feature", "nunique")).reset_index()
    table = table.sort_values("at", kind="stable")
    return {
        (str(m), str(o)): (g["at"].to_numpy(), g["bores"].to_numpy())
        for (m, o), g in table.groupby(["machine", "operation"], observed=True)
    }


def _placed(blocks: pd.DataFrame, values: pd.DataFrame, events: Sequence[Event]) -> pd.DataFrame:
    """Add stretch, joint, repair, wear and made."""
    n = len(blocks)
    stretch, joint, repair = (np.zeros(n, dtype=int) for _ in range(3))
    wear, made = np.zeros(n), blocks["bores"].to_numpy().copy()
    timeline = made_by_machine(values)
    by_machine: dict[str, list[Event]] = {}
    for e in events:
        by_machine.setdefault(e.machine or "", []).append(e)
    code = codes(blocks, list(SERIES))
    for rows in (np.flatnonzero(code == c) for c in range(code.max() + 1)):
        head = blocks.iloc[rows[0]]
        entry = characteristic(head["characteristic"])
        near = [*by_machine.get(head["machine"], []), *by_machine.get("", [])]
        at = blocks["at"].to_numpy()[rows]
        resets = [e.at for e in renewals(near, entry, head["machine"], head["operation"])]
        stretch[rows] = stretch_numbers(at, resets)
        gauges = blocks["gauges"].to_numpy()[rows]
        steps = joints(near, entry, head["machine"], head["operation"], sorted(set().union(*gauges)))
        joint[rows] = [sum(e.at <= t and (e.gauge is None or e.gauge in g) for e in steps)
                       for t, g in zip(at, gauges, strict=True)]  # fmt: skip
        repair[rows] = stretch_numbers(at, [e.at for e in steps if e.event == "machine_repaired"])
        times, counts = timeline[head["machine"], head["operation"]]
        wear[rows], made[rows] = _wear(at, resets, times, counts, entry.wear_unit)
    out = blocks.copy()
    out["stretch"], out["joint"], out["repair"], out["wear"], out["made"] = stretch, joint, repair, wear, made
    return out


def _wear(
    at: np.ndarray, resets: list[int], times: np.ndarray, counts: np.ndarray, unit: str
) -> tuple[np.ndarray, np.ndarray]:
    """Wear count up to the middle of each block, and what the machine made in it."""
    made = counts if unit == "bores" else np.ones(len(counts), dtype=int)
    total = np.concatenate(([0], np.cumsum(made)))
    begun = np.sort(np.asarray(resets, dtype=np.int64))
    number = np.searchsorted(begun, at, side="right")
    last_reset = np.where(number > 0, begun[np.maximum(number - 1, 0)] if len(begun) else 0, times[0])
    before = total[np.searchsorted(times, at, side="left")]
    inside = made[np.clip(np.searchsorted(times, at, side="left"), 0, len(made) - 1)]
    since = total[np.searchsorted(times, last_reset, side="left")]
    return before - since + inside / 2, inside
