"""What must hold in every store, read from its rows."""

import hashlib
import zlib
from collections.abc import Callable, Iterator
from typing import Final

from sqlalchemy import Connection, Table, and_, func, select
from sqlalchemy.exc import DBAPIError

from qc.store import identity, tables
from qc.store.refusals import sentence

Check = tuple[str, bool, str]
_SHOWN: Final = 5


def checks(connection: Connection) -> Iterator[Check]:
    """Every check with its outcome, in the order of trust: first the file, then what stands in it."""
    for what, found in _CHECKS:
        try:
            troubles = list(found(connection))
        except DBAPIError as error:
            troubles = [str(sentence(error.orig or error, "the database"))]
        more = f" and {len(troubles) - _SHOWN} more" if len(troubles) > _SHOWN else ""
        yield what, not troubles, "; ".join(troubles[:_SHOWN]) + more


def _integrity(connection: Connection) -> Iterator[str]:
    if connection.dialect.name == "sqlite":
        for (told,) in connection.exec_driver_sql("PRAGMA integrity_check(20)"):
            if told != "ok":
                yield str(told)


def _references(connection: Connection) -> Iterator[str]:
    for table in tables.metadata.sorted_tables:
        for key in table.foreign_key_constraints:
            other = key.referred_table
            pairs = [(table.c[e.parent.name], other.c[e.column.name]) for e in key.elements]
            lost = connection.scalar(
                select(func.count())
                .select_from(table.outerjoin(other, and_(*(mine == theirs for mine, theirs in pairs))))
                .where(and_(*(mine.is_not(None) for mine, _ in pairs), pairs[0][1].is_(None)))
            )
            if lost:
                yield f"{lost} rows of {table.name} name a {other.name} that is not there"


def _numbers(connection: Connection) -> Iterator[str]:
    counted = [
        (tables.revision, "number"), (tables.file, "id"), (tables.series, "id"), (tables.position, "id"),
        (tables.context, "id"), (tables.finding, "id"), (tables.held, "id"), (tables.decision, "seq"),
        *((table, "seq") for table in tables.REGISTERS.values()),
    ]  # fmt: skip
    for table, key in counted:
        rows, last = _rows_and_last(connection, table, key)
        if rows != last:
            yield f"{table.name} has {rows} rows, numbered to {last}"


def _rows_and_last(connection: Connection, table: Table, key: str) -> tuple[int, int]:
    row = connection.execute(select(func.count(), func.max(table.c[key])).select_from(table)).one()
    return int(row[0]), int(row[1] or 0)


def _revisions(connection: Connection) -> Iterator[str]:
    """Times that run backwards."""
    r = tables.revision.c
    last = None
    for number, at in connection.execute(select(r.number, r.at).order_by(r.number)):
        if last is not None and at < last:
            yield f"revision {number} is earlier than the one before it"
        last = at


def _arrivals(connection: Connection) -> Iterator[str]:
    r = tables.reading.c
    rows = connection.execute(
        select(r.series_id, func.count(), func.max(r.arrival)).group_by(r.series_id).order_by(r.series_id)
    )
    for series_id, count, last in rows:
        if count != last:
            yield f"series {series_id} has {count} readings, numbered to {last}"


def _versions(connection: Connection) -> Iterator[str]:
    r, v = tables.reading.c, tables.void.c
    rows = connection.execute(
        select(r.series_id, func.count(), func.max(r.version), func.count() - func.count(v.revision))
        .select_from(tables.reading)
        .outerjoin(tables.void, and_(v.series_id == r.series_id, v.arrival == r.arrival))
        .group_by(r.series_id, r.place)
        .having((func.count() != func.max(r.version)) | (func.count() - func.count(v.revision) > 1))
    )
    for series_id, count, last, counting in rows:
        yield f"a place of series {series_id} has {count} versions, numbered to {last}; {counting} count"


def _identities(connection: Connection) -> Iterator[str]:
    r, c, f = tables.reading.c, tables.context.c, tables.file.c
    rows = connection.execute(
        select(f.sha256, c.sheet, r.row, c.column, r.correction, func.count())
        .join_from(tables.reading, tables.context, c.id == r.context_id)
        .join(tables.file, f.id == c.file_id)
        .group_by(f.sha256, c.sheet, r.row, c.column, r.correction)
        .having(func.count() > 1)
    )
    for sha256, sheet, row, column, correction, count in rows:
        yield f"{count} readings have the id {identity.told(sha256, sheet, row, column, correction)}"
    begins = select(func.substr(f.sha256, 1, identity.FILE_DIGITS).label("start")).subquery().c.start
    starts = connection.execute(select(begins, func.count()).group_by(begins).having(func.count() > 1))
    for start, count in starts:
        yield f"{count} files begin with {start}"


def _kept(connection: Connection) -> Iterator[str]:
    """Rows of a file that went nowhere."""
    f = tables.file.c
    for row in connection.execute(
        select(tables.file).where(f.rows != f.kept + f.held + f.already_kept).order_by(f.id)
    ):
        yield (f"{row.name}: {row.rows} rows, but {row.kept} kept, {row.held} held, {row.already_kept} known")


def _summaries(connection: Connection) -> Iterator[str]:
    r, v, s = tables.reading.c, tables.void.c, tables.series_summary.c
    rows = connection.execute(
        select(
            r.series_id,
            func.count() - func.count(v.revision),
            func.max(r.arrival),
            *(func.max(column) for column in (s.readings, s.last_arrival)),
        )
        .select_from(tables.reading)
        .outerjoin(tables.void, and_(v.series_id == r.series_id, v.arrival == r.arrival))
        .outerjoin(tables.series_summary, s.series_id == r.series_id)
        .group_by(r.series_id)
    )
    for series_id, counting, last, told, told_last in rows:
        if (counting, last) != (told, told_last):
            yield f"series {series_id} has {counting} readings that count, its summary says {told}"


def _contents(connection: Connection) -> Iterator[str]:
    f, c = tables.file.c, tables.content.c
    rows = connection.execution_options(yield_per=20).execute(
        select(f.name, f.sha256, c.packed, c.size)
        .join_from(tables.file, tables.content, c.file_id == f.id, isouter=True)
        .order_by(f.id)
    )
    for name, sha256, packed, size in rows:
        if packed is None:
            yield f"{name}: its content is not there"
            continue
        try:
            content = zlib.decompress(packed)
        except zlib.error:
            yield f"{name}: its content cannot be unpacked"
            continue
        if hashlib.sha256(content).hexdigest() != sha256 or len(content) != size:
            yield f"{name}: its content has another SHA-256 than when it was taken in"


_CHECKS: Final[tuple[tuple[str, Callable[[Connection], Iterator[str]]], ...]] = (
    ("the database is sound", _integrity),
    ("every reference leads somewhere", _references),
    ("rows are numbered without a gap", _numbers),
    ("revisions follow each other in time", _revisions),
    ("readings of a series are numbered without a gap", _arrivals),
    ("versions of a place have no gap and at most one counts", _versions),
    ("every id is unique", _identities),
    ("rows of a file = kept + held + already kept", _kept),
    ("summaries agree with the readings", _summaries),
    ("contents of files are as they came", _contents),
)
