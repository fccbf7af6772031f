"""Findings, what they hold back, and what was decided about them."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import Any, Final

import pandas as pd
from sqlalchemy import Connection, Row, and_, select

from qc.errors import QuestionError
from qc.records import Finding, HeldRow, Reading
from qc.store import retold, tables
from qc.store.frames import frame
from qc.store.ledger import Ledger
from qc.store.nouns import (
    clean,
    digest,
    fields_digest,
    packed,
    packed_cells,
    packed_fields,
    unpacked,
    unpacked_cells,
    unpacked_fields,
)

DECISIONS: Final = ("accept", "correct", "discard")
FINDINGS: Final = {
    "id": "int64", "file_id": "Int64", "file": "str", "sha256": "str", "severity": "str", "code": "str",
    "count": "int64", "cells": "object", "saw": "str", "doubt": "str", "proposal": "str", "effect": "str",
    "held": "int64", "decided": "object", "history": "object", "again": "object", "revision": "int64",
    "at": "int64",
}  # fmt: skip
HELD: Final = {
    "id": "int64", "finding_id": "int64", "file_id": "Int64", "file": "str", "sha256": "str", "sheet": "str",
    "row": "int64", "fields": "object", "reading": "object", "machine": "str", "operation": "str",
    "characteristic": "str", "method": "str", "state": "str", "build": "str", "readings": "int64",
    "decided": "object", "revision": "int64",
}  # fmt: skip


def add(
    ledger: Ledger, file_id: int | None, findings: Sequence[Finding], held: Sequence[HeldRow]
) -> list[int]:
    """Add findings and the rows they hold; the findings' numbers in the same order."""
    first = ledger.following(tables.finding)
    ledger.add(tables.finding, [
        {
            "id": first + i, "file_id": file_id, "severity": f.severity, "code": f.code, "count": f.size,
            "cells": packed_cells(f.cells), "saw": clean(f.saw), "doubt": clean(f.doubt),
            "proposal": clean(f.proposal), "effect": clean(f.effect),
        }
        for i, f in enumerate(findings)
    ])  # fmt: skip
    following = ledger.following(tables.held)
    ledger.add(
        tables.held,
        [
            {"id": following + i, "finding_id": first + h.finding, "file_id": file_id, **_held(h)}
            for i, h in enumerate(held)
        ],
    )
    return list(range(first, first + len(findings)))


def _held(row: HeldRow) -> dict[str, Any]:
    record = row.reading
    told: dict[str, Any] = {
        "sheet": clean(row.sheet), "row": row.row, "fields": packed_fields(row.fields),
        "record": None if record is None else packed(record),
        "place": fields_digest(row.fields) if record is None else None,
        "readings": 1 if record is None or isinstance(record, Reading) else 0,
    }  # fmt: skip
    if isinstance(record, Reading):
        told["place"] = digest(record)
    as_read = {name.strip().lower(): text for name, text in row.fields}
    for name in (*tables.SERIES, "build"):
        told[name] = clean(getattr(record, name, None) if record is not None else as_read.get(name) or None)
    return told


def decide(
    ledger: Ledger, finding_id: int, decision: str, reason: str | None, rows: Sequence[int] | None
) -> None:
    """Note what was decided about a finding, or about some of the rows it holds.

    Raises
    ------
    QuestionError
        For an unknown finding, row or decision, or one that was taken already.
    """
    if decision not in DECISIONS:
        raise QuestionError(f"{decision!r} is no decision: accept, correct or discard")
    there = ledger.connection.scalar(select(tables.finding.c.id).where(tables.finding.c.id == finding_id))
    if there is None:
        raise QuestionError(f"there is no finding {finding_id}: qc held lists those that wait")
    waiting = _waiting(ledger.connection, finding_id)
    taken = _decisions(ledger.connection, None).get(finding_id, [])
    if taken and not waiting:
        raise QuestionError(
            f"finding {finding_id} was decided already: {taken[-1]['decision']}, in revision "
            f"{taken[-1]['revision']}"
        )
    chosen = waiting if rows is None else sorted(set(rows))
    if set(chosen) - set(waiting):
        other = ", ".join(map(str, sorted(set(chosen) - set(waiting))))
        raise QuestionError(f"finding {finding_id} does not hold row {other}, or it was decided already")
    seq = ledger.following(tables.decision, "seq")
    ledger.add(tables.decision, [
        {"seq": seq, "finding_id": finding_id, "decision": decision, "reason": clean(reason)},
    ])  # fmt: skip
    ledger.add(tables.decided, [{"held_id": number, "decision_id": seq} for number in chosen])


def findings(connection: Connection, as_of: int | None, *, open_only: bool) -> pd.DataFrame:
    """Findings with what was decided; see `Store.findings`."""
    f, t, r = tables.finding.c, tables.file.c, tables.revision.c
    statement = (
        select(tables.finding, t.name.label("file"), t.sha256, r.at)
        .join_from(tables.finding, tables.revision, r.number == f.revision)
        .outerjoin(tables.file, t.id == f.file_id)
        .order_by(f.id)
    )
    if as_of is not None:
        statement = statement.where(f.revision <= as_of)
    decisions = _decisions(connection, as_of)
    waiting: dict[int, int] = defaultdict(int)
    for one in _held_rows(connection, as_of):
        waiting[one.finding_id] += one.decision is None
    told = []
    past = retold.told(connection, decisions, as_of)
    for found in connection.execute(statement):
        row = dict(found._mapping)
        before = past.get(row["id"], retold.Told())
        still = waiting[row["id"]]
        taken = decisions.get(row["id"], [])
        decided = taken[-1] if taken and not still else None
        if not (open_only and decided):
            told.append({
                **row, "cells": unpacked_cells(row["cells"]), "held": still, "decided": decided,
                "history": before.history, "again": before.again if decided else None,
            })  # fmt: skip
    return frame(told, FINDINGS)


def held(connection: Connection, as_of: int | None, *, open_only: bool) -> pd.DataFrame:
    """Rows kept out of the figures; see `Store.held`."""
    decisions = {d["seq"]: d for each in _decisions(connection, as_of).values() for d in each}
    told = [
        {
            **row._mapping, "fields": unpacked_fields(row.fields),
            "reading": None if row.record is None else unpacked(row.record),
            "decided": decisions.get(row.decision),
        }
        for row in _held_rows(connection, as_of)
        if not (open_only and row.decision is not None)
    ]  # fmt: skip
    return frame(told, HELD)


def _held_rows(connection: Connection, as_of: int | None) -> Sequence[Row]:
    h, d, f = tables.held.c, tables.decided.c, tables.file.c
    on = and_(d.held_id == h.id, *([] if as_of is None else [d.revision <= as_of]))
    statement = (
        select(tables.held, d.decision_id.label("decision"), f.name.label("file"), f.sha256)
        .join_from(tables.held, tables.decided, on, isouter=True)
        .outerjoin(tables.file, f.id == h.file_id)
        .order_by(h.id)
    )
    if as_of is not None:
        statement = statement.where(h.revision <= as_of)
    return connection.execute(statement).all()


def _waiting(connection: Connection, finding_id: int) -> list[int]:
    h, d = tables.held.c, tables.decided.c
    statement = (
        select(h.id)
        .join_from(tables.held, tables.decided, d.held_id == h.id, isouter=True)
        .where(and_(h.finding_id == finding_id, d.held_id.is_(None)))
        .order_by(h.id)
    )
    return list(connection.scalars(statement))


def _decisions(connection: Connection, as_of: int | None) -> Mapping[int, list[dict[str, Any]]]:
    d, r = tables.decision.c, tables.revision.c
    statement = (
        select(d.seq, d.finding_id, d.decision, d.reason, d.revision, r.by, r.at)
        .join_from(tables.decision, tables.revision, r.number == d.revision)
        .order_by(d.seq)
    )
    if as_of is not None:
        statement = statement.where(d.revision <= as_of)
    found: dict[int, list[dict[str, Any]]] = defaultdict(list)
    for row in connection.execute(statement).mappings():
        found[row["finding_id"]].append({k: v for k, v in row.items() if k != "finding_id"})
    return found
