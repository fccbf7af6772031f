"""What a new file is compared with: readings of its builds, its series' past, names, rows once unreadable."""

from collections.abc import Sequence
from dataclasses import fields
from typing import Any, Final

from sqlalchemy import Row, Select, and_, bindparam, func, select

from qc.store import registers, tables
from qc.store.nouns import fields_digest
from qc.store.write import Write

_CHUNK: Final = 400


def _of_builds() -> Select:
    r, c, p, s, v = (
        t.c for t in (tables.reading, tables.context, tables.position, tables.series, tables.void)
    )
    told = (
        c.build, s.machine, s.operation, s.characteristic, s.method, s.state, p.feature, p.station, p.clock,
        r.trial, r["pass"].label("pass_"), r.value, r.made_at, c.gauge, c.relative, c.file_id,
        r.target, r.lower, r.upper, r.text, r.row, c.sheet, c.column, c.unit, c.operator, c.sized_with,
        c.master, c.made_is_date, c.engine, c.material, c.part_c, c.gauge_c,
    )  # fmt: skip
    return (
        select(*told)
        .join_from(tables.context, tables.reading, r.context_id == c.id)
        .join(tables.position, p.id == r.position_id)
        .join(tables.series, s.id == r.series_id)
        .outerjoin(tables.void, and_(v.series_id == r.series_id, v.arrival == r.arrival))
        .where(v.revision.is_(None), c.build.in_(bindparam("some", expanding=True)))
    )


OF_BUILDS: Final = _of_builds()


def of_builds(write: Write, builds: Sequence[str]) -> list[Row[Any]]:
    """Counting readings of these builds, each with what tells it from another, named as in a Reading."""
    found: list[Row[Any]] = []
    for start in range(0, len(builds), _CHUNK):
        found += write.connection.execute(OF_BUILDS, {"some": list(builds[start : start + _CHUNK])})
    return found


def _past() -> Select:
    r, c, p, v, t = (
        x.c
        for x in (tables.reading, tables.context, tables.position, tables.void, tables.series_summary)
    )
    told = (
        r.series_id, r.arrival, c.build, p.feature, p.station, p.clock, r.trial, r["pass"].label("pass_"),
        r.value, r.target, c.relative, c.unit, r.text, c.gauge, r.made_at, c.engine,
    )  # fmt: skip
    return (
        select(*told)
        .join_from(
            tables.series_summary,
            tables.reading,
            and_(r.series_id == t.series_id, r.arrival > t.last_arrival - bindparam("most")),
        )
        .join(tables.context, c.id == r.context_id)
        .join(tables.position, p.id == r.position_id)
        .outerjoin(tables.void, and_(v.series_id == r.series_id, v.arrival == r.arrival))
        .where(v.revision.is_(None), t.series_id.in_(bindparam("some", expanding=True)))
        .order_by(r.series_id, r.arrival)
    )


PAST: Final = _past()


def past(write: Write, series: Sequence[tuple[str, ...]], most: int) -> dict[tuple[str, ...], list[Row[Any]]]:
    """The last `most` readings of each of these series that the store knows, those that count, by arrival."""
    numbers = {write.series_number(one): one for one in series}
    known = sorted(n for n in numbers if n is not None)
    found: dict[tuple[str, ...], list[Row[Any]]] = {numbers[n]: [] for n in known}
    for start in range(0, len(known), _CHUNK):
        some = {"some": known[start : start + _CHUNK], "most": most}
        for row in write.connection.execute(PAST, some):
            found[numbers[row.series_id]].append(row)
    return found


def brought_by(write: Write, operation: str) -> dict[str, int]:
    """Number of readings of each characteristic that an operation has brought so far."""
    s, t = tables.series.c, tables.series_summary.c
    rows = write.connection.execute(
        select(s.characteristic, func.sum(t.readings))
        .join_from(tables.series, tables.series_summary, t.series_id == s.id)
        .where(s.operation == operation)
        .group_by(s.characteristic)
    )
    return {characteristic: int(n) for characteristic, n in rows}


def names(write: Write) -> dict[str, set[str]]:
    """Names of machines, operations, engines and gauges in use, in readings and registers."""
    s, c = tables.series.c, tables.context.c
    rows = tables.REGISTERS
    columns: dict[str, tuple[Any, ...]] = {
        "machine": (s.machine, rows["machine"].c.machine, rows["event"].c.machine),
        "operation": (s.operation, rows["spec"].c.operation),
        "engine": (c.engine, rows["build"].c.engine, rows["spec"].c.engine),
        "gauge": (c.gauge, rows["gauge"].c.gauge, rows["event"].c.gauge),
    }
    return {
        name: {
            text
            for column in places
            for text in write.connection.scalars(select(column).distinct().where(column.is_not(None)))
        }
        for name, places in columns.items()
    }


def once_unreadable(write: Write, rows: Sequence[Sequence[tuple[str, str]]]) -> list[bool]:
    """For each row as read, whether the same cells were held before as unreadable."""
    digests = [fields_digest(row) for row in rows]
    there: set[bytes] = set()
    h = tables.held.c
    for start in range(0, len(digests), _CHUNK):
        some = digests[start : start + _CHUNK]
        there |= {bytes(p) for p in write.connection.scalars(select(h.place).where(h.place.in_(some)))}
    return [digest in there for digest in digests]


def in_force(write: Write, kind: str, records: Sequence[Any]) -> list[bool]:
    """For each record of a register, whether it is in force as it stands or stands further up in the list."""
    names = [item.name for item in fields(tables.NOUNS[kind]) if item.name != "source"]
    there = {tuple(row[n] for n in names) for row in registers.rows(write.connection, kind, None)}
    found = []
    for record in records:
        told = tuple(registers.stored(getattr(record, n)) for n in names)
        found.append(told in there)
        there.add(told)
    return found
