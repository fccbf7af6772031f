"""What was decided about a doubt and taken back: who, when, why, and under which number it waits since."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import Connection, select

from qc.store import became, tables


@dataclass
class Told:
    """The past of one finding.

    history : its decisions that were taken back, and their taking back, under this number or an earlier
        one, the first first: decision ("undo" for taking back), by, at, reason, revision, finding
    again : the numbers under which it waits since the last one was taken back, None while a decision stands
        or nobody has decided; empty where it came of a decision that was taken back, and went with it
    """

    history: list[dict[str, Any]] = field(default_factory=list)
    again: tuple[int, ...] | None = None


def told(
    connection: Connection, decisions: Mapping[int, Sequence[Mapping[str, Any]]], as_of: int | None
) -> dict[int, Told]:
    """The past of every finding of which a decision was taken back.

    Parameters
    ----------
    decisions : mapping of a finding's number to what was decided about it, by seq
    as_of : int or None
        Revision after which nothing is known.
    """
    back = became.taken_back(connection)
    back = {r: u for r, u in back.items() if as_of is None or u <= as_of}
    found: dict[int, Told] = defaultdict(Told)
    undos = sorted(back.values())
    acts, waiting = _acts(connection, undos), _copies(connection, undos)
    of_revision: dict[int, list[int]] = defaultdict(list)
    for number, some in decisions.items():
        for revision in {int(d["revision"]) for d in some}:
            of_revision[revision].append(number)
    copies: dict[int, set[int]] = defaultdict(set)
    for revision, undo in sorted(back.items(), key=lambda pair: pair[1]):
        # a finding waits again as one copy each, added in the order of their numbers
        pairs = zip(sorted(of_revision[revision]), waiting[undo], strict=True)
        for number, copy in pairs:
            mine = [d for d in decisions[number] if d["revision"] == revision]
            steps = [{**mine[-1], "finding": number}, {**acts[undo], "finding": number}]
            found[number].history += steps
            found[copy].history += found[number].history
            copies[number].add(copy)
    gone = set(back.values())
    for number, some in decisions.items():
        if all(d["revision"] in back or d["revision"] in gone for d in some):
            found[number].again = tuple(sorted(copies[number]))
    return dict(found)


def _acts(connection: Connection, undos: Sequence[int]) -> dict[int, dict[str, Any]]:
    """Who took a decision back in each of these revisions, when and why."""
    r = tables.revision.c
    found = connection.execute(select(r.number, r.by, r.at, r.reason).where(r.number.in_(undos)))
    return {
        row.number: {"decision": "undo", "by": row.by, "at": row.at, "reason": row.reason,
                     "revision": row.number}
        for row in found
    }  # fmt: skip


def _copies(connection: Connection, undos: Sequence[int]) -> dict[int, list[int]]:
    """Numbers of the findings that wait since each of these revisions, in order."""
    f = tables.finding.c
    found: dict[int, list[int]] = {number: [] for number in undos}
    for row in connection.execute(select(f.id, f.revision).where(f.revision.in_(undos)).order_by(f.id)):
        found[row.revision].append(int(row.id))
    return found
