"""Which decisions were taken back, and what became of the doubts they had raised."""

import re
from collections.abc import Mapping
from typing import Final

from sqlalchemy import Connection, select

from qc.errors import QuestionError
from qc.store import tables

COMMAND: Final = "held undo of revision {}"  # what a revision that takes another back is called
_COMMAND: Final = re.compile(r"held undo of revision (\d+)")


def taken_back(connection: Connection) -> dict[int, int]:
    """Revisions of decisions that were taken back, each with the revision that did it."""
    r = tables.revision.c
    statement = select(r.number, r.command).where(r.command.like(COMMAND.format("%")))
    told = ((_COMMAND.fullmatch(row.command), row.number) for row in connection.execute(statement))
    return {int(found[1]): number for found, number in told if found is not None}


def refuse(revision: int, back: Mapping[int, int]) -> None:
    """Refuse to take back what was taken back, or what itself took a decision back.

    Raises
    ------
    QuestionError
    """
    if revision in back:
        raise QuestionError(
            f"this decision was taken back in revision {back[revision]} already: decide about what waits "
            "since then (qc held)"
        )
    if revision in back.values():
        raise QuestionError(
            "it was settled by taking another decision back: decide about what waits since then (qc held)"
        )


def decision(connection: Connection, finding_id: int) -> int | None:
    """Revision of the last decision about a finding that stands, else of its last one; None for none."""
    d = tables.decision.c
    statement = select(d.revision).where(d.finding_id == finding_id).order_by(d.revision.desc())
    every, back = list(connection.scalars(statement)), taken_back(connection)
    standing = [number for number in every if number not in back]
    return next(iter(standing or every), None)


def since(revision: int, back: Mapping[int, int]) -> int:
    """Revision in which what a later one changed came back.

    Raises
    ------
    QuestionError
        When it did not.
    """
    if revision not in back:
        raise QuestionError(
            f"what this decision took in was changed in revision {revision}: take that back first"
        )
    return back[revision]


def still_open(connection: Connection, revision: int, back: Mapping[int, int]) -> list[int]:
    """Findings that wait because of a revision: those it raised, or their copies where one was taken back.

    Raises
    ------
    QuestionError
        When one of them was decided about since.
    """
    f, d, h, s = (t.c for t in (tables.finding, tables.decision, tables.held, tables.decided))
    raised = select(tables.finding).where(f.revision == revision, f.severity != "note").order_by(f.id)
    left, found = list(connection.execute(raised)), []
    while left:
        one = left.pop()
        decided = set(connection.scalars(select(d.revision).where(d.finding_id == one.id)))
        if decided - set(back):
            raise QuestionError(
                f"finding {one.id} came of this decision and was decided since: take that back first"
            )
        rows = select(h.id).join_from(tables.held, tables.decided, s.held_id == h.id, isouter=True)
        waits = connection.scalar(rows.where(h.finding_id == one.id, s.held_id.is_(None)).limit(1))
        if waits is not None or not decided:
            found.append(int(one.id))
        for number in decided:
            copies = select(tables.finding).where(
                f.revision == back[number], f.code == one.code, f.cells == one.cells,
                f.file_id.is_not_distinct_from(one.file_id),
            )  # fmt: skip
            left += connection.execute(copies)
    return sorted(found)
