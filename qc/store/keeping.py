"""Readings into the store: series, contexts, positions, versions, voids, and the summary of each series."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

from sqlalchemy import Row, and_, func, select

from qc.errors import InputError, QuestionError, StoreError
from qc.records import Reading
from qc.store import identity, tables
from qc.store.ledger import Ledger
from qc.store.nouns import clean, digest, unpacked

_CHUNK: Final = 400
_READING: Final = (
    "series_id", "arrival", "context_id", "position_id", "row", "correction", "version", "trial", "pass", "order",
    "value", "target", "lower", "upper", "measured_at", "made_at", "place", "text",
)  # fmt: skip
_CONTEXT: Final = (
    "id", "file_id", "sheet", "column", *tables.CONTEXT_TEXT, "relative", "made_is_date", "part_c", "gauge_c",
    "revision",
)  # fmt: skip

Key = tuple[int, bytes]


@dataclass(frozen=True, slots=True)
class Known:
    """What the store knows at one place; lengths in ticks.

    `status`: counts, voided, held (waits for a decision), discarded (decided against; a corrected cell's first
    text too). Held and discarded ones have no reading's id and version 0.
    """

    value: int
    relative: bool
    target: int | None
    lower: int | None
    upper: int | None
    status: Literal["counts", "voided", "held", "discarded"]
    reading_id: str | None
    version: int


class Keeper:
    """Adds readings to one revision."""

    def __init__(self, ledger: Ledger) -> None:
        self.ledger = ledger
        self._series: dict[tuple, int] | None = None
        self._positions: dict[tuple, int] | None = None
        self._new_files: set[int] = set()

    def is_new(self, file_id: int) -> None:
        """Note that none of this file's cells can be in the store yet."""
        self._new_files.add(file_id)

    @property
    def series(self) -> dict[tuple, int]:
        """Number of each series the store knows."""
        if self._series is None:
            rows = self.ledger.connection.execute(select(tables.series))
            self._series = {tuple(getattr(r, n) for n in tables.SERIES): r.id for r in rows}
        return self._series

    @property
    def positions(self) -> dict[tuple, int]:
        """Number of each position the store knows."""
        if self._positions is None:
            rows = self.ledger.connection.execute(select(tables.position))
            self._positions = {(r.feature, r.station, r.clock): r.id for r in rows}
        return self._positions

    def known(self, readings: Sequence[Reading]) -> list[list[Known]]:
        """For each reading, everything the store knows at its place, by version; held and discarded ones last."""
        places = [digest(r) for r in readings]
        keys = [(self.series.get(_series(r), 0), place) for r, place in zip(readings, places, strict=True)]
        there: dict[Key, list[Known]] = defaultdict(list)
        for row in self._at(keys):
            there[row.series_id, bytes(row.place)].append(_known(row))
        waiting = self._held_at(set(places))
        return [there.get(key, []) + waiting.get(key[1], []) for key in keys]

    def add(
        self, file_id: int, readings: Sequence[Reading], *, replaces: Mapping[int, str], suffix: int | None
    ) -> list[str]:
        """Add readings of one file; see `Write.add_readings`."""
        if not readings:
            return []
        self.ledger.touch()
        series = self._numbers(self.series, tables.series, tables.SERIES, [_series(r) for r in readings])
        positions = self._numbers(
            self.positions, tables.position, ("feature", "station", "clock"),
            [(clean(r.feature), r.station, r.clock) for r in readings],
        )  # fmt: skip
        keys = [(number, digest(r)) for number, r in zip(series, readings, strict=True)]
        versions = self._versions(keys, set(replaces.values()))
        contexts = self._contexts(file_id, readings)
        arrivals = self._arrivals(series)
        corrections = self._corrections(file_id, readings, suffix or 0)
        rows = [
            (
                series[i], arrivals[i], contexts[i], positions[i], r.source.row, corrections[i], versions[i], r.trial,
                r.pass_, r.order, r.value, r.target, r.lower, r.upper, r.measured_at, r.made_at, keys[i][1],
                clean(r.source.text),
            )
            for i, r in enumerate(readings)
        ]  # fmt: skip
        rows.sort(key=lambda row: row[:2])
        try:
            self.ledger.add_many(tables.reading, _READING, rows)
        except OverflowError as error:
            raise InputError(
                "a value is far outside anything a gauge shows: correct it in the file"
            ) from error
        self._extend_summary(series, readings)
        ids = [
            identity.told(
                r.source.sha256, clean(r.source.sheet), r.source.row, clean(r.source.column) or "", n
            )
            for r, n in zip(readings, corrections, strict=True)
        ]
        self.void_all((old, ids[i], self.ledger.reason or "replaced") for i, old in replaces.items())
        return ids

    def void_all(self, voids: Iterable[tuple[str, str | None, str]]) -> None:
        """Void readings, given as id, id of the replacement, reason."""
        touched = set()
        for reading_id, replaced_by, reason in voids:
            series_id, arrival = identity.found(self.ledger.connection, reading_id)
            there = self.ledger.connection.execute(
                select(tables.void).where(
                    and_(tables.void.c.series_id == series_id, tables.void.c.arrival == arrival)
                )
            ).one_or_none()
            if there is not None:
                raise QuestionError(
                    f"the reading {reading_id} was voided in revision {there.revision} already"
                )
            self.ledger.add(tables.void, [{
                "series_id": series_id, "arrival": arrival, "reason": clean(reason), "replaced_by": replaced_by,
            }])  # fmt: skip
            touched.add(series_id)
        self.renew_summary(touched)

    def touch_series(self, numbers: Iterable[int]) -> None:
        """Note that this revision changes what answers about these series say."""
        for number in sorted(set(numbers)):
            self.ledger.connection.execute(
                tables.series_summary.update()
                .where(tables.series_summary.c.series_id == number)
                .values(last_revision=self.ledger.revision)
            )

    def renew_summary(self, numbers: Iterable[int]) -> None:
        """Work out the summary of these series again."""
        for number in sorted(set(numbers)):
            self.ledger.connection.execute(
                tables.series_summary.update()
                .where(tables.series_summary.c.series_id == number)
                .values(**summary(self.ledger, number), last_revision=self.ledger.revision)
            )

    def _numbers(
        self, there: dict[tuple, int], table: Any, names: Sequence[str], wanted: Sequence[tuple]
    ) -> list[int]:
        new = [told for told in dict.fromkeys(wanted) if told not in there]
        if new:
            first = self.ledger.following(table)
            self.ledger.add(
                table,
                [{"id": first + i, **dict(zip(names, told, strict=True))} for i, told in enumerate(new)],
            )
            there.update({told: first + i for i, told in enumerate(new)})
        return [there[told] for told in wanted]

    def _contexts(self, file_id: int, readings: Sequence[Reading]) -> list[int]:
        first = self.ledger.following(tables.context)
        numbers: dict[tuple, int] = {}
        told = [_context(file_id, r) for r in readings]
        for context in told:
            numbers.setdefault(context, first + len(numbers))
        self.ledger.add_many(
            tables.context, _CONTEXT, [(n, *context, self.ledger.revision) for context, n in numbers.items()]
        )
        return [numbers[context] for context in told]

    def _versions(self, keys: Sequence[Key], replaced: set[str]) -> list[int]:
        highest: Counter[Key] = Counter()
        counting: Counter[Key] = Counter(keys)
        for row in self._at(keys):
            key = (row.series_id, bytes(row.place))
            highest[key] = max(highest[key], row.version)
            if row.voided is None and _id(row) not in replaced:
                counting[key] += 1
        if any(n > 1 for n in counting.values()):
            raise StoreError("two readings would count at one place: say which one the new reading replaces")
        return [highest[key] + 1 for key in keys]

    def _arrivals(self, series: Sequence[int]) -> list[int]:
        following = {}
        for number in dict.fromkeys(series):
            last = self.ledger.connection.scalar(
                select(func.max(tables.reading.c.arrival)).where(tables.reading.c.series_id == number)
            )
            following[number] = (last or 0) + 1
        arrivals = []
        for number in series:
            arrivals.append(following[number])
            following[number] += 1
        return arrivals

    def _corrections(self, file_id: int, readings: Sequence[Reading], least: int) -> list[int]:
        """Number after the slash of each id: 0 for a cell's first reading, then 2, 3, ..."""
        taken: dict[tuple, int] = {}
        if file_id not in self._new_files:
            taken = identity.taken(self.ledger.connection, file_id)
        numbers = []
        for r in readings:
            cell = (r.source.sheet, r.source.row, r.source.column)
            last = taken.get(cell, -1)
            number = max(least, 0 if last < 0 else max(last + 1, 2))
            taken[cell] = number
            numbers.append(number)
        return numbers

    def _extend_summary(self, series: Sequence[int], readings: Sequence[Reading]) -> None:
        made = defaultdict(list)
        for number, r in zip(series, readings, strict=True):
            made[number].append(r.made_at)
        table = tables.series_summary
        for number, at in made.items():
            old = self.ledger.connection.execute(
                select(table).where(table.c.series_id == number)
            ).one_or_none()
            told = {"readings": len(at), "first_at": min(at), "last_at": max(at)}
            if old is None:
                change: Any = table.insert()
                told["series_id"] = number
            else:
                change = table.update().where(table.c.series_id == number)
                told["readings"] += old.readings
                if old.first_at is not None:
                    told |= {"first_at": min(*at, old.first_at), "last_at": max(*at, old.last_at)}
            self.ledger.connection.execute(change.values(**told, last_revision=self.ledger.revision))

    def _at(self, keys: Iterable[Key]) -> Iterable[Row]:
        wanted = defaultdict(set)
        for number, place in keys:
            wanted[number].add(place)
        wanted.pop(0, None)
        r, c, v = tables.reading.c, tables.context.c, tables.void.c
        statement = (
            select(
                r.series_id, r.place, r.version, r.value, r.target, r.lower, r.upper, r.row, r.correction, c.relative,
                c.sheet, c.column, tables.file.c.sha256, v.revision.label("voided"),
            )
            .join_from(tables.reading, tables.context, r.context_id == c.id)
            .join(tables.file, tables.file.c.id == c.file_id)
            .outerjoin(tables.void, and_(v.series_id == r.series_id, v.arrival == r.arrival))
            .order_by(r.version)
        )  # fmt: skip
        for number, places in wanted.items():
            for some in _chunks(sorted(places)):
                yield from self.ledger.connection.execute(
                    statement.where(and_(r.series_id == number, r.place.in_(some)))
                )

    def _held_at(self, places: set[bytes]) -> dict[bytes, list[Known]]:
        h, d = tables.held.c, tables.decision.c
        statement = (
            select(h.place, h.record, d.decision)
            .join_from(tables.held, tables.decided, tables.decided.c.held_id == h.id, isouter=True)
            .outerjoin(tables.decision, d.seq == tables.decided.c.decision_id)
            .order_by(h.id)
        )
        found: dict[bytes, list[Known]] = defaultdict(list)
        for some in _chunks(sorted(places)):
            for row in self.ledger.connection.execute(statement.where(h.place.in_(some))):
                record = unpacked(row.record)
                if isinstance(record, Reading) and row.decision != "accept":
                    status: Literal["held", "discarded"] = "held" if row.decision is None else "discarded"
                    found[bytes(row.place)].append(
                        Known(
                            record.value,
                            record.relative,
                            record.target,
                            record.lower,
                            record.upper,
                            status,
                            None,
                            0,
                        )
                    )
        return found


def summary(ledger: Ledger, series_id: int) -> dict[str, Any]:
    """Counting readings of a series and the span of their times."""
    r, v = tables.reading.c, tables.void.c
    row = ledger.connection.execute(
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


def _series(r: Reading) -> tuple:
    return (clean(r.machine), clean(r.operation), clean(r.characteristic), clean(r.method), clean(r.state))


def _context(file_id: int, r: Reading) -> tuple:
    return (
        file_id, clean(r.source.sheet), clean(r.source.column), *(clean(getattr(r, n)) for n in tables.CONTEXT_TEXT),
        int(r.relative), int(r.made_is_date), r.part_c, r.gauge_c,
    )  # fmt: skip


def _id(row: Row) -> str:
    return identity.told(row.sha256, row.sheet, row.row, row.column, row.correction)


def _known(row: Row) -> Known:
    status: Literal["counts", "voided"] = "counts" if row.voided is None else "voided"
    return Known(
        row.value, bool(row.relative), row.target, row.lower, row.upper, status, _id(row), row.version
    )


def _chunks(items: Sequence[bytes]) -> Iterable[Sequence[bytes]]:
    return (items[i : i + _CHUNK] for i in range(0, len(items), _CHUNK))
