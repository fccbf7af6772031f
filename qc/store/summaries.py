"""The summary of each series, kept in the transaction that changes it: lists never scan the readings."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import Any

from sqlalchemy import Connection, and_, func, select

from qc.records import Reading
from qc.store import tables
from qc.store.ledger import Ledger


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


def extend(ledger: Ledger, series: Sequence[int], readings: Sequence[Reading]) -> None:
    """Take new readings, each with its series' number, into the summaries."""
    made = defaultdict(list)
    for number, r in zip(series, readings, strict=True):
        made[number].append(r.made_at)
    table = tables.series_summary
    for number, at in made.items():
        old = ledger.connection.execute(select(table).where(table.c.series_id == number)).one_or_none()
        told: dict[str, Any] = {"readings": len(at), "first_at": min(at), "last_at": max(at)}
        if old is None:
            ledger.connection.execute(
                table.insert(), {"series_id": number, **told, "last_revision": ledger.revision}
            )
            continue
        told["readings"] += old.readings
        if old.first_at is not None:
            told |= {"first_at": min(*at, old.first_at), "last_at": max(*at, old.last_at)}
        _change(ledger, number, told)


def _change(ledger: Ledger, number: int, told: dict[str, Any]) -> None:
    table = tables.series_summary
    ledger.connection.execute(
        table.update().where(table.c.series_id == number).values(**told, last_revision=ledger.revision)
    )
