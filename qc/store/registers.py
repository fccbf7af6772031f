"""The registers: specifications, events, gauges, builds, machines, plan, settings, set limits, exclusions."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import fields
from typing import Any, Final

import pandas as pd
from sqlalchemy import Connection, and_, select

from qc.errors import QuestionError
from qc.records import Source
from qc.store import tables
from qc.store.frames import frame
from qc.store.ledger import Ledger
from qc.store.nouns import clean

# the latest row of each name is the one in force; of the others all that are not withdrawn
_NAMED_BY: Final[dict[str, tuple[str, ...]]] = {
    "build": ("build",), "machine": ("machine",), "setting": ("name",), "set_limit": tables.SERIES,
    "choice": (*tables.SERIES, "name"), "reaction": ("characteristic", "machine", "operation"),
}  # fmt: skip
_ORIGIN: Final = {
    "seq": "int64", "revision": "int64", "withdrawn_in": "Int64", "file": "str", "sha256": "str",
    "sheet": "str", "row": "Int64", "column": "str", "text": "str", "by": "str", "at_written": "int64",
}  # fmt: skip


def add(ledger: Ledger, kind: str, file_id: int | None, records: Sequence[Any]) -> int:
    """Add records of a kind that are not in force as they stand; their number.

    Parameters
    ----------
    kind : str
        A key of `tables.NOUNS`.
    """
    names = _names(kind)
    there = {tuple(row[n] for n in names) for row in rows(ledger.connection, kind, None)}
    new: list[dict[str, Any]] = []
    for record in records:
        told = {n: stored(getattr(record, n)) for n in names}
        if tuple(told.values()) in there:
            continue
        there.add(tuple(told.values()))
        source = record.source
        new.append({
            **told, "file_id": file_id, "sheet": clean(source and source.sheet), "row": source and source.row,
            "column": clean(source and source.column), "text": clean(source and source.text),
        })  # fmt: skip
    add_rows(ledger, kind, new)
    return len(new)


def add_rows(ledger: Ledger, kind: str, new: Sequence[Mapping[str, Any]]) -> None:
    """Add rows of a register as they are."""
    table = tables.REGISTERS[kind]
    if new:
        first = ledger.following(table, "seq")
        ledger.add(table, [{"seq": first + i, **row} for i, row in enumerate(new)])


def withdraw(ledger: Ledger, kind: str, seq: int, reason: str | None) -> None:
    """Put a row out of force from this revision on.

    Raises
    ------
    QuestionError
        When there is no such row, or it is out of force already.
    """
    table = _table(kind)
    there = ledger.connection.scalar(select(table.c.seq).where(table.c.seq == seq))
    if there is None:
        raise QuestionError(f"there is no {kind} number {seq}: take the number from the list of them")
    w = tables.withdrawal
    gone = ledger.connection.scalar(select(w.c.revision).where(and_(w.c.kind == kind, w.c.seq == seq)))
    if gone is not None:
        raise QuestionError(f"the {kind} number {seq} was withdrawn in revision {gone} already")
    ledger.add(w, [{"kind": kind, "seq": seq, "reason": clean(reason)}])


def rows(
    connection: Connection, kind: str, as_of: int | None, *, all_rows: bool = False
) -> list[dict[str, Any]]:
    """Rows of a register in force, in order of arrival; with `all_rows` those superseded or withdrawn too."""
    table = _table(kind)
    w, f, r = tables.withdrawal.c, tables.file.c, tables.revision.c
    gone = and_(w.kind == kind, w.seq == table.c.seq, *([] if as_of is None else [w.revision <= as_of]))
    statement = (
        select(
            table, w.revision.label("withdrawn_in"), f.name.label("file"), f.sha256, r.by,
            r.at.label("at_written"),
        )
        .join_from(table, tables.revision, r.number == table.c.revision)
        .outerjoin(tables.withdrawal, gone)
        .outerjoin(tables.file, f.id == table.c.file_id)
        .order_by(table.c.seq)
    )  # fmt: skip
    if as_of is not None:
        statement = statement.where(table.c.revision <= as_of)
    found = [dict(row) for row in connection.execute(statement).mappings()]
    if all_rows:
        return found
    found = [row for row in found if row["withdrawn_in"] is None]
    if kind in _NAMED_BY:
        found = list({tuple(row[n] for n in _NAMED_BY[kind]): row for row in found}.values())
        found.sort(key=lambda row: row["seq"])
    return found


def records(connection: Connection, kind: str, as_of: int | None, *, all_rows: bool) -> pd.DataFrame:
    """The rows as a frame: the record's fields, then where they come from."""
    table = _table(kind)
    found = rows(connection, kind, as_of, all_rows=all_rows)
    columns: dict[str, str] = {}
    for name in _names(kind):
        one = table.c[name]
        columns[name] = _kind(one.type, blank=bool(one.nullable))
    if kind == "exclusion":
        columns["scope"] = "object"
        found = [{**row, "scope": json.loads(row["scope"])} for row in found]
    for name in ("relative", "at_is_date"):
        if name in columns:
            columns[name] = "bool"
    return frame(found, {**columns, **_ORIGIN})


def typed(connection: Connection, kind: str, as_of: int | None) -> list[Any]:
    """The rows in force as records, with their sources."""
    noun = tables.NOUNS[kind]
    names = _names(kind)
    flags = {item.name for item in fields(noun) if item.type is bool}
    found = []
    for row in rows(connection, kind, as_of):
        told = {n: bool(row[n]) if n in flags else row[n] for n in names}
        source = None
        if row["sha256"] is not None and row["row"] is not None:
            source = Source(row["sha256"], row["row"], row["column"] or "", row["text"] or "", row["sheet"])
        found.append(noun(**told, source=source))
    return found


def _table(kind: str) -> Any:
    if kind not in tables.REGISTERS:
        raise QuestionError(f"there is no register of {kind!r}: ask for one of {', '.join(tables.REGISTERS)}")
    return tables.REGISTERS[kind]


def _names(kind: str) -> list[str]:
    if kind in tables.NOUNS:
        return [item.name for item in fields(tables.NOUNS[kind]) if item.name != "source"]
    origin = {"seq", "file_id", "sheet", "row", "column", "text", "revision"}
    return [column.name for column in tables.REGISTERS[kind].columns if column.name not in origin]


def _kind(column: Any, *, blank: bool) -> str:
    if column.python_type is int:
        return "Int64" if blank else "int64"
    return "float64" if column.python_type is float else "str"


def stored(value: Any) -> Any:
    """A field as the tables hold it."""
    if isinstance(value, bool):
        return int(value)
    return clean(value) if isinstance(value, str) else value
