"""What is in the store, in lists: revisions, files, series, counts."""

from collections.abc import Sequence
from typing import Any

import pandas as pd
from sqlalchemy import Connection, Select, and_, func, select

from qc.store import tables
from qc.store.frames import frame
from qc.store.revisions import newest

REVISIONS = {"number": "int64", "at": "int64", "by": "str", "command": "str", "reason": "str"}
FILES = {
    "file_id": "int64", "sha256": "str", "name": "str", "kind": "str", "status": "str", "rows": "int64",
    "kept": "int64", "held": "int64", "already_kept": "int64", "revision": "int64", "at": "int64",
}  # fmt: skip
SERIES = {
    "series_id": "int64", **dict.fromkeys(tables.SERIES, "str"), "readings": "int64", "first_at": "int64",
    "last_at": "int64", "last_revision": "int64",
}  # fmt: skip


def revisions(connection: Connection) -> pd.DataFrame:
    """Every write; see `Store.revisions`."""
    statement = select(tables.revision).order_by(tables.revision.c.number)
    return frame(_told(connection, statement), REVISIONS)


def files(connection: Connection) -> pd.DataFrame:
    """Files taken in; see `Store.files`."""
    f, r = tables.file.c, tables.revision.c
    statement: Any = (
        select(f.id.label("file_id"), *(f[name] for name in FILES if name in f), r.at)
        .join_from(tables.file, tables.revision, r.number == f.revision)
        .order_by(f.id)
    )
    return frame(_told(connection, statement), FILES)


def series(connection: Connection, as_of: int | None) -> pd.DataFrame:
    """Series with readings that count; see `Store.series`."""
    names = [tables.series.c[name] for name in tables.SERIES]
    statement: Select
    if as_of is None:
        s = tables.series_summary
        statement = (
            select(s, *names)
            .join_from(s, tables.series, tables.series.c.id == s.c.series_id)
            .where(s.c.readings > 0)
            .order_by(*names)
        )
    else:
        statement = _series_then(as_of, names)
    found = frame(_told(connection, statement), SERIES)
    # the database's own order of text depends on its locale
    return found.sort_values(list(tables.SERIES), ignore_index=True)


def _series_then(as_of: int, names: Sequence[Any]) -> Select:
    r, c, v = tables.reading.c, tables.context.c, tables.void.c
    return (
        select(
            r.series_id, *names, func.count().label("readings"), func.min(r.made_at).label("first_at"),
            func.max(r.made_at).label("last_at"), func.max(c.revision).label("last_revision"),
        )
        .join_from(tables.reading, tables.context, c.id == r.context_id)
        .join(tables.series, tables.series.c.id == r.series_id)
        .outerjoin(tables.void, and_(v.series_id == r.series_id, v.arrival == r.arrival, v.revision <= as_of))
        .where(and_(c.revision <= as_of, v.revision.is_(None)))
        .group_by(r.series_id, *names)
    )  # fmt: skip


def _told(connection: Connection, statement: Any) -> list[dict[str, Any]]:
    return [dict(row._mapping) for row in connection.execute(statement)]


def counts(connection: Connection) -> dict[str, int]:
    """How much there is; see `Store.counts`."""

    def number(statement: Select) -> int:
        return int(connection.scalar(statement) or 0)

    c, h, d = tables.context.c, tables.held.c, tables.decided.c
    return {
        "readings": number(select(func.sum(tables.series_summary.c.readings))),
        "voided": number(select(func.count()).select_from(tables.void)),
        "held": number(
            select(func.sum(h.readings))
            .join_from(tables.held, tables.decided, d.held_id == h.id, isouter=True)
            .where(d.held_id.is_(None))
        ),
        "files": number(select(func.count()).select_from(tables.file)),
        "series": number(select(func.count()).select_from(tables.series_summary).where(
            tables.series_summary.c.readings > 0)),
        "builds": number(select(func.count(c.build.distinct()))),
        "revision": newest(connection),
    }  # fmt: skip
