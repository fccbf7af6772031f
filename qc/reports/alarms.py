"""Alarms block by block, sorted into what belongs together: machine, operation and what moves there."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from qc.catalogue import CATALOGUE, EVENTS
from qc.records import Event
from qc.reports.conditions import NOT_WORN, Condition, Conditions
from qc.reports.heads import Key
from qc.reports.shifts import Shift
from qc.stretches import joints, renewals

URGENT = ("drifting", "stepped", "scattered")
EVENT, BLOCK, ACT = 0, 1, 2  # what counts first at one time: an event stands before that day's work


@dataclass(frozen=True, slots=True, order=True)
class Group:
    """What alarms have in common.

    ``what`` is wear (form and texture of one machine's tool), size, level, spread or gauge; ``subject`` names
    the characteristic where that alone tells them apart. What a change follows (an operator, a temperature)
    is told with a matter and is no part of its group: it is known later than the alarm.
    """

    machine: str
    operation: str
    what: str
    subject: str = ""


@dataclass(frozen=True, slots=True)
class Point:
    """Something that happens to a group at a time [us]: a block with or without alarm, or an end."""

    at: int
    rank: int
    state: Literal["urgent", "quiet", "ends"]
    words: str
    key: Key = ()
    block: int = -1
    build: str | None = None
    how: Literal["alarm", "event", "person"] = "alarm"


Points = dict[Group, list[Point]]


def points(known: Conditions, events: Sequence[Event]) -> Points:
    """Points of every group that ever had an alarm, in no order."""
    found: Points = {}
    for key, one in known.by_series.items():
        for group, point in _of_series(key, one, known.shifts):
            found.setdefault(group, []).append(point)
    for shift in known.shifts:
        group = Group(shift.gauge, "", "gauge")
        found.setdefault(group, []).extend(_of_shift(shift, known))
    for group, mine in found.items():
        mine.extend(_ends(group, {p.key for p in mine}, events, known))
    return found


def rows_of(one: Condition) -> np.ndarray:
    """Numbers of the blocks behind the conditions of a judgement."""
    means = one.blocks["mean"].to_numpy(dtype=float)
    kept: np.ndarray = np.flatnonzero(~np.isnan(means))
    return kept[len(kept) - len(one.judgement.conditions) :]


def build_of(one: Condition, block: int) -> str | None:
    """Build of a block, None where it has none."""
    name = one.blocks["build"].iloc[block]
    return name if isinstance(name, str) else None


def _of_series(key: Key, one: Condition, shifts: Sequence[Shift]) -> Iterator[tuple[Group, Point]]:
    """Points of one series; a block under another alarm, or before there are blocks enough, tells nothing.

    Quiet blocks before the first alarm open nothing; they are counted when an alarm has moved.
    """
    conditions = one.judgement.conditions
    if not any(word in URGENT for word in conditions):
        return
    at, rows = one.blocks["at"].to_numpy(), rows_of(one)
    groups = [
        _group(key, word, int(at[row]), shifts) if word in URGENT else None
        for word, row in zip(conditions, rows, strict=True)
    ]
    for group in dict.fromkeys(g for g in groups if g is not None):
        for i in range(len(rows)):
            if groups[i] == group or conditions[i] == "steady":
                state: Any = "urgent" if groups[i] == group else "quiet"
                row = int(rows[i])
                yield group, Point(int(at[row]), BLOCK, state, conditions[i], key, row, build_of(one, row))


def _group(key: Key, word: str, at: int, shifts: Sequence[Shift]) -> Group:
    if key[1] == "check":
        return Group(key[0], "", "gauge")
    if word != "scattered":
        for shift in shifts:  # a shift that cannot be told from the machine's stays in its series
            if not shift.decided and key in shift.touched and shift.within(np.array([at])).any():
                return Group(shift.gauge, "", "gauge")
    return _machines(key, word)


def _machines(key: Key, word: str) -> Group:
    """Group of an alarm that is the machine's own."""
    machine, operation, entry = key[0], key[1], CATALOGUE[key[2]]
    fitted = operation in NOT_WORN  # parts that came from elsewhere have nothing in common but the bench
    if word == "scattered":
        return Group(machine, operation, "spread", key[2] if fitted else "")
    if entry.coded and not fitted:
        return Group(machine, operation, "size", key[2])
    if entry.wears and not fitted:
        return Group(machine, operation, "wear")
    return Group(machine, operation, "level", key[2])


def _of_shift(shift: Shift, known: Conditions) -> Iterator[Point]:
    """Blocks read with a gauge while it reads off, and after it."""
    words = "reads off"
    for key in sorted(shift.touched):
        one = known.by_series[key]
        at = one.blocks["at"].to_numpy()
        inside = shift.within(at.astype(float))
        for row in np.flatnonzero(at >= shift.from_at):
            if shift.gauge in one.blocks["gauges"].iloc[row]:
                state: Any = "urgent" if inside[row] else "quiet"
                yield Point(int(at[row]), BLOCK, state, words, key, int(row), build_of(one, int(row)))


def _ends(group: Group, keys: set[Key], events: Sequence[Event], known: Conditions) -> Iterator[Point]:
    """Events that put right what the group is about."""
    if group.what == "gauge":
        near = [e for e in events if e.gauge == group.machine]
        # what cannot be told from a machine's shift may end with the machine's repair
        open_ = {k for s in known.shifts if s.gauge == group.machine and not s.decided for k in s.touched}
        near += [e for key in sorted(keys & open_) for e in _of_machine(key, "size", events, known)]
    else:
        near = [e for key in sorted(keys) for e in _of_machine(key, group.what, events, known)]
    for event in dict.fromkeys(near):
        yield Point(event.at, EVENT, "ends", EVENTS[event.event].label, how="event")


def _of_machine(key: Key, what: str, events: Sequence[Event], known: Conditions) -> list[Event]:
    entry, gauges = CATALOGUE[key[2]], known.by_series[key].blocks["gauges"]
    near = renewals(events, entry, key[0], key[1])
    stepping = joints(events, entry, key[0], key[1], sorted({g for gs in gauges for g in gs}))
    if what == "wear":  # what wears goes on wearing through all other joints
        stepping = [e for e in stepping if e.event == "machine_repaired"]
    return [*near, *stepping]
