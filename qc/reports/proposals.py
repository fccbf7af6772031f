"""Tool changes that nobody logged: proposed as events, for a person to confirm by one command."""

from collections.abc import Mapping
from typing import Any
from zoneinfo import ZoneInfo

import pandas as pd

from qc.catalogue import characteristic, said
from qc.history.zone import iso, moment
from qc.reports.conditions import Condition
from qc.reports.heads import Key
from qc.reports.words import day, listed, number


def proposed_events(
    key: Key, known: Mapping[Key, Condition], events: list[Any], zone: ZoneInfo
) -> list[dict[str, Any]]:
    """Events proposed for one series, oldest first: wear fell back before a block and nothing says why.

    Other series of the same machine and operation that fell back before the same block are named.

    Parameters
    ----------
    key : tuple
        Identity of the series.
    known : mapping of key to Condition
    events : list of Event
        Events in force.
    zone : ZoneInfo
        The shop's.
    """
    one = known[key]
    return [_proposed(key, block, amount, share, known, events, zone) for block, amount, share in _falls(one)]


def _falls(one: Condition) -> list[tuple[int, float, float]]:
    return [(int(b), float(a), float(s)) for b, a, s in one.judgement.resets]


def _proposed(
    key: Key, block: int, amount: float, share: float, known: Mapping[Key, Condition], events: list[Any],
    zone: ZoneInfo,
) -> dict[str, Any]:  # fmt: skip
    blocks, entry = known[key].blocks, characteristic(key[2])
    row = blocks.iloc[block]
    name, at = row["block"], _when(blocks, block, zone)
    kind = _kind(key, events)
    also = [
        said(other[2]) for other, one in known.items()
        if other != key and other[:2] == key[:2]
        and any(one.blocks["block"].iloc[b] == name for b, _, _ in _falls(one))
    ]  # fmt: skip
    command = ["qc event add", f"--machine {_quoted(key[0])}", f"--event {kind}", f"--at {at}"]
    text = f"{said(key[2])} fell back by {number(abs(amount))} {entry.unit} with "
    text += (
        f"build {row['build']}" if isinstance(row["build"], str) else f"the block of {day(row['at'], zone)}"
    )
    text += f", {round(100 * share)} % of what it had worn, and no event says why"
    if also:
        text += f"; so did {listed(sorted(set(also)))}"
    return {
        "event": kind, "machine": key[0], "operation": key[1], "at": at, "seen_at": iso(row["at"]),
        "build": row["build"] if isinstance(row["build"], str) else None, "amount": amount,
        "share_of_wear": share,
        "also": sorted(set(also)), "words": f"{text}: log it if it was {said(kind)}",
        "command": " ".join(command),
    }  # fmt: skip


def _when(blocks: pd.DataFrame, block: int, zone: ZoneInfo) -> str:
    """The day of the block where the one before is of an earlier day, else the middle between the two."""
    before, at = (moment(int(blocks["at"].iloc[k])).astimezone(zone) for k in (block - 1, block))
    if before.date() < at.date():
        return at.date().isoformat()
    return (before + (at - before) / 2).replace(microsecond=0, tzinfo=None).isoformat(timespec="minutes")


def _kind(key: Key, events: list[Any]) -> str:
    """What was last logged of what renews this wear on this machine, else the first that does."""
    renew = characteristic(key[2]).restarts_wear
    mine = [e for e in events if e.machine == key[0] and e.event in renew]
    return str(max(mine, key=lambda e: e.at).event) if mine else str(renew[0])


def _quoted(name: str) -> str:
    return f'"{name}"' if any(c in name for c in " ;&'()") else name
