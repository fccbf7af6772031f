"""What the store knows at a place: kept and voided versions, and what is held or was decided against."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from sqlalchemy import (
    ARRAY,
    Column,
    ColumnElement,
    Connection,
    Executable,
    LargeBinary,
    Row,
    Select,
    and_,
    any_,
    bindparam,
    cast,
    select,
    text,
)

from qc.records import Reading
from qc.store import identity, tables
from qc.store.nouns import unpacked

_CHUNK: Final = 400

# number of a series, digest of a place in it
Key = tuple[int, bytes]


@dataclass(frozen=True, slots=True)
class Known:
    """What the store knows at one place; lengths in ticks.

    `status`: counts, voided, held (waits for a decision), discarded (decided against; the first text of a
    corrected cell too). Held and discarded ones have no reading's id and version 0.
    """

    value: int
    relative: bool
    target: int | None
    lower: int | None
    upper: int | None
    status: Literal["counts", "voided", "held", "discarded"]
    reading_id: str | None
    version: int


def _one_of(place: Column, dialect: str) -> ColumnElement[bool]:
    if dialect == "sqlite":
        return place.in_(bindparam("places", expanding=True))
    # one parameter however many places: the server prepares the statement once
    return place == any_(cast(bindparam("places", type_=ARRAY(LargeBinary)), ARRAY(LargeBinary)))


def _readings(dialect: str) -> Select:
    r, c, v = tables.reading.c, tables.context.c, tables.void.c
    return (
        select(
            *(r.place, r.version, r.value, r.target, r.lower, r.upper, r.row, r.correction),
            *(c.relative, c.sheet, c.column, tables.file.c.sha256, v.revision.label("voided")),
        )
        .join_from(tables.reading, tables.context, r.context_id == c.id)
        .join(tables.file, tables.file.c.id == c.file_id)
        .outerjoin(tables.void, and_(v.series_id == r.series_id, v.arrival == r.arrival))
        .where(r.series_id == bindparam("series"), _one_of(r.place, dialect))
        .order_by(r.version)
    )


def _held_rows(dialect: str) -> Select:
    h, d = tables.held.c, tables.decision.c
    return (
        select(h.place, h.record, d.decision)
        .join_from(tables.held, tables.decided, tables.decided.c.held_id == h.id, isouter=True)
        .outerjoin(tables.decision, d.seq == tables.decided.c.decision_id)
        .where(h.record.is_not(None), _one_of(h.place, dialect))
        .order_by(h.id)
    )


# SQLite guesses that a series is no longer than a few places and reads all of it, unless it is told the index
# (that of the unique constraint reading_place)
_SQLITE_READINGS: Final = text(
    "SELECT r.place, r.version, r.value, r.target, r.lower, r.upper, r.row, r.correction, c.relative, "
    'c.sheet, c."column", f.sha256, v.revision AS voided '
    "FROM reading AS r INDEXED BY sqlite_autoindex_reading_2 "
    "JOIN context AS c ON c.id = r.context_id JOIN file AS f ON f.id = c.file_id "
    "LEFT JOIN void AS v ON v.series_id = r.series_id AND v.arrival = r.arrival "
    "WHERE r.series_id = :series AND r.place IN :places ORDER BY r.version"
).bindparams(bindparam("places", expanding=True))
# put together once: taking a file in asks them for every series of it
_DIALECTS: Final = ("sqlite", "postgresql")
READINGS: Final[dict[str, Executable]] = {"sqlite": _SQLITE_READINGS, "postgresql": _readings("postgresql")}
_HELD: Final = {dialect: _held_rows(dialect) for dialect in _DIALECTS}


def readings_at(connection: Connection, keys: Iterable[Key]) -> Iterator[tuple[Key, Known]]:
    """Readings kept at these places, voided ones too, by version."""
    wanted: dict[int, set[bytes]] = defaultdict(set)
    for number, place in keys:
        wanted[number].add(place)
    statement = READINGS[connection.dialect.name]
    for number, places in wanted.items():
        for some in _chunks(sorted(places)):
            for row in connection.execute(statement, {"series": number, "places": some}):
                yield (number, bytes(row.place)), _kept(row)


def held_at(connection: Connection, places: Iterable[bytes]) -> Iterator[tuple[bytes, Known]]:
    """Readings held back at these places and not accepted since."""
    statement = _HELD[connection.dialect.name]
    for some in _chunks(sorted(places)):
        for row in connection.execute(statement, {"places": some}):
            record = unpacked(row.record)
            if isinstance(record, Reading) and row.decision != "accept":
                yield bytes(row.place), _held(record, row.decision)


def _kept(row: Row) -> Known:
    return Known(
        value=row.value,
        relative=bool(row.relative),
        target=row.target,
        lower=row.lower,
        upper=row.upper,
        status="counts" if row.voided is None else "voided",
        reading_id=identity.told(row.sha256, row.sheet, row.row, row.column, row.correction),
        version=row.version,
    )


def _held(record: Reading, decision: str | None) -> Known:
    return Known(
        value=record.value,
        relative=record.relative,
        target=record.target,
        lower=record.lower,
        upper=record.upper,
        status="held" if decision is None else "discarded",
        reading_id=None,
        version=0,
    )


def _chunks(items: Sequence[bytes]) -> Iterator[Sequence[bytes]]:
    return (items[i : i + _CHUNK] for i in range(0, len(items), _CHUNK))
