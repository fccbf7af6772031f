"""The bores made since the last good block: what a reaction measures again."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from qc.history import History
from qc.history.zone import iso
from qc.reports.alarms import URGENT, rows_of
from qc.reports.conditions import Condition, Conditions
from qc.reports.held_since import Waiting, waiting_since
from qc.reports.matters import Matter, Member


@dataclass(frozen=True, slots=True)
class Good:
    """The last good block: its time [us], its name in the block table, its build."""

    at: int
    block: str
    build: str | None


def onset(one: Condition, member: Member) -> int:
    """Number of the block with which a series' part in a matter began, as best known."""
    j, rows = one.judgement, rows_of(one)
    if j.condition in URGENT and j.since is not None and len(rows) and member.last == rows[-1]:
        return int(j.since)
    kinds = ("spread_grown", "block_to_block_grown") if member.condition == "scattered" else ("step", "slope")
    seen = [s for s in j.signals if s.kind in kinds and s.block <= member.last and s.seen >= member.first]
    first = [s.block for s in seen] or [member.first]
    return int(min(first))


def last_good(matter: Matter, known: Conditions) -> Good | None:
    """The last block before any series of a matter left, None where there is none.

    For a gauge: the last one that it read right.
    """
    found = []
    for key, member in matter.members.items():
        one = known.by_series[key]
        if matter.group.what == "gauge" and key[1] != "check":
            begun = matter.opened_at
            before = np.flatnonzero(one.blocks["at"].to_numpy() < begun)
        else:
            before = np.arange(onset(one, member))
        if not before.size:
            return None
        block = one.blocks.iloc[int(before[-1])]
        build = block["build"] if isinstance(block["build"], str) else None
        found.append(Good(int(block["at"]), str(block["block"]), build))
    return min(found, default=None, key=lambda f: f.at)


def bores_since(matter: Matter, good: Good, until: float, found: History) -> list[dict[str, Any]]:
    """Builds with the features made after the last good block, in order of time.

    Of a machine what it made in that operation; of a gauge what was read with it. Those of which a reading is
    held are listed like the others, `waiting` beside them: out of the figures, but made all the same.
    """
    values = found.values
    group = matter.group
    if group.what == "gauge":
        mine = np.array([group.machine in gauges for gauges in values["gauges"]], dtype=bool)
        mine &= (values["operation"] != "check").to_numpy()
    else:
        mine = ((values["machine"] == group.machine) & (values["operation"] == group.operation)).to_numpy()
    at = values["block_at"].to_numpy()
    # other characteristics of the last good block may be read later than the one that told
    other = (values["block"] != good.block).to_numpy()
    made = values[mine & other & (at > good.at) & (at <= until)]
    before = {good.block, *values["block"][mine]} - set(made["block"])
    return _by_build(made, waiting_since(matter.group, good.at, until, before, found))


def _by_build(rows: pd.DataFrame, waiting: Mapping[str, Waiting]) -> list[dict[str, Any]]:
    blocks = {str(name): mine for name, mine in rows.groupby("block", sort=False, observed=True)}
    out = []
    for name in dict.fromkeys((*blocks, *waiting)):
        mine, held = blocks.get(name), waiting.get(name, Waiting())
        read = set() if mine is None else set(mine["feature"])
        at = held.at if mine is None else int(mine["block_at"].max())
        build = held.build if mine is None else mine["build"].iloc[0]
        out.append({
            "build": build if isinstance(build, str) else None, "at": iso(at),
            "features": sorted(read | held.features, key=_in_order),
            "waiting": sorted(held.features, key=_in_order), "waiting_rows": held.rows, "_block": name,
        })  # fmt: skip
    out.sort(key=lambda b: (b["at"] is None, b["at"] or "", b.pop("_block")))
    return out


def _in_order(feature: str) -> tuple[Any, ...]:
    return tuple(int(part) if part.isdigit() else part for part in re.split(r"(\d+)", feature))


def count(builds: Iterable[dict[str, Any]]) -> int:
    """Number of bores of some builds."""
    return sum(len(b["features"]) for b in builds)
