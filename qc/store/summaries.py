"""The summary of each series, kept in the transaction that changes it: lists never scan the readings."""

from collections.abc import Iterable, Sequence
from typing import Any, Final

from sqlalchemy import Connection, and_, bindparam, func, select

from qc.records import Reading
from qc.store import tables
from qc.store.ledger import Ledger

_NAMES: Final = ("readings", "last_arrival", "first_at", "last_at")
_THERE: Final = select(
    tables.series_summary.c.series_id, *(tables.series_summary.c[name] for name in _NAMES)
).where(tables.series_summary.c.series_id.in_(bindparam("numbers", expanding=True)))
_EXTENDED: Final = (
    tables.series_summary.update()
    .where(tables.series_summary.c.series_id == bindparam("of"))
    .values(last_revision=bindparam("now"), **{name: bindparam(name) for name in _NAMES})
)


def worked_out(connection: Connection, series_id: int) -> dict[str, Any]:
    """Number and span of time [us] of a series' readings that count, from the readings themselves."""
    r, v = tables.reading.c, tables.void.c
    row = connection.execute(
        select(
            func.count().label("readings"),
            func.min(r.made_at).label("first"),
            func.max(r.made_at).label("last"),
        )
        .select_from(tables.reading)
        .outerjoin(tables.void, and_(v.series_id == r.series_id, v.arrival == r.arrival))
        .where(and_(r.series_id == series_id, v.revision.is_(None)))
    ).one()
    return {"readings": row.readings, "first_at": row.first, "last_at": row.last}


def touch(ledger: Ledger, numbers: Iterable[int]) -> None:
    """Note that this revision changes what answers about these series say."""
    for number in set(numbers):
        _change(ledger, number, {})


def renew(ledger: Ledger, numbers: Iterable[int]) -> None:
    """Work the summaries of these series out again."""
    for number in set(numbers):
        _change(ledger, number, worked_out(ledger.connection, number))


def arrivals(ledger: Ledger, series: Sequence[int], readings: Sequence[Reading]) -> list[int]:
    """Running number in its series of each new reading, which the summaries then include."""
    summaries = _summaries(ledger.connection, set(series))
    old = set(summaries)
    numbers = []
    for number, r in zip(series, readings, strict=True):
        told = summaries.setdefault(
            number, {"readings": 0, "last_arrival": 0, "first_at": None, "last_at": None}
        )
        told["readings"] += 1
        told["last_arrival"] += 1
        told["first_at"] = r.made_at if told["first_at"] is None else min(told["first_at"], r.made_at)
        told["last_at"] = r.made_at if told["last_at"] is None else max(told["last_at"], r.made_at)
        numbers.append(told["last_arrival"])
    changed = [{"of": n, **told, "now": ledger.revision} for n, told in summaries.items() if n in old]
    if changed:
        ledger.connection.execute(_EXTENDED, changed)
    new = [
        {"series_id": n, **told, "last_revision": ledger.revision}
        for n, told in summaries.items()
        if n not in old
    ]
    if new:
        ledger.connection.execute(tables.series_summary.insert(), new)
    return numbers


def _summaries(connection: Connection, numbers: Iterable[int]) -> dict[int, dict[str, Any]]:
    rows = connection.execute(_THERE, {"numbers": sorted(numbers)})
    return {number: dict(zip(_NAMES, told, strict=True)) for number, *told in rows}


def _change(ledger: Ledger, number: int, told: dict[str, Any]) -> None:
    table = tables.series_summary
    ledger.connection.execute(
        table.update().where(table.c.series_id == number).values(**told, last_revision=ledger.revision)
    )
