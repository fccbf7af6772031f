"""The main line of each block from the centres of its housings: overall misalignment and offsets per plane.

Signed offsets average nought by construction, so charts and indices use one value a block and plane; the
offsets per main are for the picture and the build sheet.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from qc.derived import tunnel
from qc.history.form import judged
from qc.history.values import VALUE_COLUMNS
from qc.records import Spec
from qc.units import TICKS_PER_UM

CENTRE, OFFSET = "tunnel_centre", "tunnel_offset"
Key = tuple[Any, ...]
_GROUP = ["machine", "operation", "state", "method", "block", "pass_no"]


def line_offsets(places: pd.DataFrame) -> pd.DataFrame:
    """Offset of every main whose block has 3 centres or more in that plane, from both lines.

    Parameters
    ----------
    places : DataFrame
        As `qc.history.values.positions` gives it; the station of a centre is its place along the line.

    Returns
    -------
    DataFrame
        The rows of the centres with `best_fit`, `end_line` [um] and `overall` (largest minus smallest from
        the best-fit line, the same for all mains of the block and plane).
    """
    mine = places[(places["characteristic"] == CENTRE).to_numpy() & (places["station"] >= 0).to_numpy()]
    frames = []
    for _, group in mine.groupby(_GROUP, sort=True, observed=True):
        along = group["station"].to_numpy(dtype=float) / TICKS_PER_UM / 1000
        if len(group) < 3 or len(set(along)) < len(along):
            continue
        centre = group["size"].to_numpy(dtype=float)[np.newaxis, :] / TICKS_PER_UM
        best = tunnel.offsets(centre, along)
        out = group.copy()
        out["best_fit"] = best[0]
        out["end_line"] = tunnel.offsets(centre, along, line="end_line")[0]
        out["overall"] = float(tunnel.overall(best)[0])
        frames.append(out)
    return (
        pd.concat(frames, ignore_index=True)
        if frames
        else mine.iloc[:0].assign(best_fit=[], end_line=[], overall=[])
    )


def line_values(places: pd.DataFrame, specs: Sequence[Spec]) -> pd.DataFrame:
    """Overall misalignment of each block and plane, as bore values of `tunnel_offset`."""
    offsets = line_offsets(places)
    if not len(offsets):
        return pd.DataFrame(columns=list(VALUE_COLUMNS))
    read = {key: set(group["feature"]) for key, group in offsets.groupby(_GROUP, sort=True, observed=True)}
    engines = {key: g["known_engine"].iloc[0] for key, g in offsets.groupby(_GROUP, observed=True)}
    rows = []
    for key, group in offsets.groupby(_GROUP, sort=True, observed=True):
        row = _row(group)
        wanted = _wanted(key, read, engines)
        missing = len(wanted - read[key])
        if missing:  # the line through the others may well be straight: that says nothing of this one
            row |= dict.fromkeys(("value", "least", "greatest"), np.nan)
            row |= {"complete": False, "reason": f"{missing} of {len(wanted)} mains not read in this plane"}
        rows.append(row)
    return judged(pd.DataFrame(rows), specs)[list(VALUE_COLUMNS)]


def _wanted(key: Key, read: Mapping[Key, set[str]], engines: Mapping[Key, str | None]) -> set[str]:
    """Mains of a line: read in any plane of its block, or in most blocks of its engine."""
    planes = [mains for k, mains in read.items() if (*k[:3], *k[4:]) == (*key[:3], *key[4:])]
    alike = [mains for k, mains in read.items() if k[:4] == key[:4] and engines[k] == engines[key]]
    usual = Counter(main for mains in alike for main in mains)
    return set().union(*planes) | {main for main, n in usual.items() if 2 * n > len(alike)}


def _row(group: pd.DataFrame) -> dict[str, object]:
    first = group.iloc[0]
    value = float(first["overall"])
    gauges = tuple(sorted({g for g in group["gauge"] if isinstance(g, str)}))
    return {
        **{n: first[n] for n in ("machine", "operation", "state", "block", "pass_no", "build", "material")},
        "characteristic": OFFSET, "method": f"overall-{first['method']}", "feature": "whole",
        "engine": first["known_engine"], "operator": first["operator"],
        "value": value, "least": value, "greatest": value, "lower_limit": np.nan, "upper_limit": np.nan,
        "limit_target": np.nan, "spec": -1, "aim": np.nan, "conforms": None, "complete": True, "reason": None,
        "made_at": int(group["made_at"].max()), "order": np.nan, "gauges": gauges, "sized_with": (),
        "rows": sum(group["rows"], ()),
    }  # fmt: skip
