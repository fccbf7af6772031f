"""Held readings of what was made since a time: in no figure, but of bores that may have to be looked at."""

from collections.abc import Collection
from dataclasses import dataclass, field
from typing import Any

import pandas as pd

from qc.errors import TimeError
from qc.history import History
from qc.history.zone import shop_zone
from qc.ingest import keys
from qc.ingest.kinds import canonical
from qc.ingest.times import parse_at
from qc.reports.alarms import Group


@dataclass(slots=True)
class Waiting:
    """What is held of one block: its time [us, None where no cell tells it], its features, rows held."""

    at: int | None = None
    build: str | None = None
    features: set[str] = field(default_factory=set)
    rows: int = 0


def waiting_since(
    group: Group, since: int, until: float, before: Collection[str], found: History
) -> dict[str, Waiting]:
    """Held readings of a matter's machine or gauge, by block.

    Parameters
    ----------
    since, until : [us]
        Blocks after the one and not after the other; one of which no cell tells the time is let through.
    before : names of blocks that are known to lie outside.
    """
    held = found.held
    if group.what == "gauge":
        mine = held[(held["gauge"] == group.machine) & (held["operation"] != "check")]
    else:
        mine = held[(held["machine"] == group.machine) & (held["operation"] == group.operation)]
    blocks: dict[str, Waiting] = {}
    for row in mine.to_dict("records"):
        at = _at(row, found)
        build = row["build"] if isinstance(row["build"], str) else None
        one = blocks.setdefault(build or f"@{at}", Waiting(build=build))
        one.rows += 1
        one.at = at if one.at is None else max(one.at, at or one.at)
        name = keys.feature(row["feature"]) if isinstance(row["feature"], str) else None
        one.features |= {name} if name else set()
    return {
        name: one
        for name, one in blocks.items()
        if name not in before and (one.at is None or since < one.at <= until)
    }


def _at(row: dict[Any, Any], found: History) -> int | None:
    """Time at which a held row was made; of one that could not be read, what its cells say of it."""
    if not pd.isna(row["made_at"]):
        return int(row["made_at"])
    told = {canonical(header): text for header, text in dict(row["fields"]).items()}
    zone, order = shop_zone(found.settings), found.settings.get("date_order")
    for name in ("made_at", "measured_at"):
        try:
            if (told.get(name) or "").strip():
                return parse_at(told[name], zone, order)[0]
        except TimeError:
            continue
    return None
