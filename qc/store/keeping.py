"""Readings into the store: series, contexts, positions, versions, arrival numbers, voids."""

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from operator import attrgetter
from typing import Final

from sqlalchemy import Table, and_, select

from qc.errors import InputError, QuestionError, StoreError
from qc.records import Reading
from qc.store import identity, summaries, tables
from qc.store.known import Key, Known, held_at, readings_at
from qc.store.ledger import Ledger
from qc.store.nouns import clean, digest

_READING: Final = (
    "series_id", "arrival", "context_id", "position_id", "row", "correction", "version", "trial", "pass",
    "order", "value", "target", "lower", "upper", "measured_at", "made_at", "place", "text",
)  # fmt: skip
_CONTEXT: Final = (
    "id", "file_id", "sheet", "column", *tables.CONTEXT_TEXT, "relative", "made_is_date", "part_c", "gauge_c",
    "revision",
)  # fmt: skip


@dataclass(slots=True)
class Numbers:
    """Numbers of the series and positions of one revision, handed from one write to the next.

    Only what a write that ended well has left behind is handed on, and it is dropped when somebody else has
    written since.
    """

    revision: int = -1
    series: dict[tuple, int] | None = None
    positions: dict[tuple, int] | None = None

    def as_of(self, revision: int) -> "Numbers":
        """These numbers, or none when they are another revision's."""
        if self.revision != revision:
            self.series = self.positions = None
        return self


class Keeper:
    """Adds readings to one revision."""

    def __init__(self, ledger: Ledger, numbers: Numbers) -> None:
        self.ledger = ledger
        self._remembered = numbers.as_of(ledger.revision - 1)
        self._new_files: set[int] = set()
        self._there: dict[Key, list[Known]] = {}
        self._digests: dict[int, tuple[Reading, bytes]] = {}

    def is_new(self, file_id: int) -> None:
        """Note that none of this file's cells can be in the store yet."""
        self._new_files.add(file_id)

    @property
    def series(self) -> dict[tuple, int]:
        """Number of each series the store knows."""
        if self._remembered.series is None:
            rows = self.ledger.connection.execute(select(tables.series))
            self._remembered.series = {tuple(getattr(r, n) for n in tables.SERIES): r.id for r in rows}
        return self._remembered.series

    @property
    def positions(self) -> dict[tuple, int]:
        """Number of each position the store knows."""
        if self._remembered.positions is None:
            rows = self.ledger.connection.execute(select(tables.position))
            self._remembered.positions = {(r.feature, r.station, r.clock): r.id for r in rows}
        return self._remembered.positions

    def known(self, readings: Sequence[Reading]) -> list[list[Known]]:
        """For each reading all that the store knows at its place; see `Write.known`."""
        keys = [(self.series.get(_series(r), 0), self._digest(r)) for r in readings]
        there = self._at(keys)
        waiting: dict[bytes, list[Known]] = defaultdict(list)
        for place, one in held_at(self.ledger.connection, {place for _, place in keys}):
            waiting[place].append(one)
        return [there[key] + waiting.get(key[1], []) for key in keys]

    def _at(self, keys: Iterable[Key]) -> Mapping[Key, list[Known]]:
        """Readings at these places, asked for once in a write."""
        new: dict[Key, list[Known]] = {key: [] for key in keys if key not in self._there}
        self._there.update(new)
        for key, one in readings_at(self.ledger.connection, [key for key in new if key[0]]):
            self._there[key].append(one)
        return self._there

    def _digest(self, r: Reading) -> bytes:
        # the reading is kept beside its digest so that no other can take its number
        there = self._digests.get(id(r))
        if there is None:
            there = self._digests[id(r)] = (r, digest(r))
        return there[1]

    def add(
        self, file_id: int, readings: Sequence[Reading], *, replaces: Mapping[int, str], suffix: int | None
    ) -> list[str]:
        """Add readings of one file; see `Write.add_readings`."""
        if not readings:
            return []
        self.ledger.touch()
        series = self._numbers(self.series, tables.series, tables.SERIES, [_series(r) for r in readings])
        positions = self._numbers(
            self.positions, tables.position, ("feature", "station", "clock"), [_position(r) for r in readings]
        )
        keys = [(number, self._digest(r)) for number, r in zip(series, readings, strict=True)]
        versions = self._versions(keys, set(replaces.values()))
        contexts = self._contexts(file_id, readings)
        arrivals = summaries.arrivals(self.ledger, series, readings)
        corrections = self._corrections(file_id, readings, suffix or 0)
        rows = [
            (
                *(
                    series[i],
                    arrivals[i],
                    contexts[i],
                    positions[i],
                    r.source.row,
                    corrections[i],
                    versions[i],
                ),
                *(r.trial, r.pass_, r.order, r.value, r.target, r.lower, r.upper, r.measured_at, r.made_at),
                *(keys[i][1], clean(r.source.text)),
            )
            for i, r in enumerate(readings)
        ]
        self._add_rows(rows)
        self._there.clear()
        ids = [_id(r, n) for r, n in zip(readings, corrections, strict=True)]
        self.void((old, ids[i], self.ledger.reason or "replaced") for i, old in replaces.items())
        return ids

    def _add_rows(self, rows: list[tuple]) -> None:
        rows.sort(key=lambda row: row[:2])
        try:
            self.ledger.add_many(tables.reading, _READING, rows)
        except OverflowError as error:
            raise InputError(
                "a value is far outside anything a gauge shows: correct it in the file"
            ) from error

    def void(self, voids: Iterable[tuple[str, str | None, str]]) -> None:
        """Void readings, given as id, id of the replacement, reason; see `Write.void`."""
        touched = set()
        self._there.clear()
        for reading_id, replaced_by, reason in voids:
            series_id, arrival = identity.found(self.ledger.connection, reading_id)
            v = tables.void.c
            there = self.ledger.connection.scalar(
                select(v.revision).where(and_(v.series_id == series_id, v.arrival == arrival))
            )
            if there is not None:
                raise QuestionError(f"the reading {reading_id} was voided in revision {there} already")
            told = {"series_id": series_id, "arrival": arrival, "reason": clean(reason)}
            self.ledger.add(tables.void, [{**told, "replaced_by": replaced_by}])
            touched.add(series_id)
        summaries.renew(self.ledger, touched)

    def _numbers(
        self, there: dict[tuple, int], table: Table, names: Sequence[str], wanted: Sequence[tuple]
    ) -> list[int]:
        new = [told for told in dict.fromkeys(wanted) if told not in there]
        if new:
            first = self.ledger.following(table)
            rows = [{"id": first + i, **dict(zip(names, told, strict=True))} for i, told in enumerate(new)]
            self.ledger.add(table, rows)
            there.update({told: first + i for i, told in enumerate(new)})
        return [there[told] for told in wanted]

    def _contexts(self, file_id: int, readings: Sequence[Reading]) -> list[int]:
        first = self.ledger.following(tables.context)
        told = [_context(r) for r in readings]
        numbers = {context: first + i for i, context in enumerate(dict.fromkeys(told))}
        rows = [
            (number, file_id, *(clean(part) if isinstance(part, str) else part for part in context))
            for context, number in numbers.items()
        ]
        self.ledger.add_many(tables.context, _CONTEXT, [(*row, self.ledger.revision) for row in rows])
        return [numbers[context] for context in told]

    def _versions(self, keys: Sequence[Key], replaced: set[str]) -> list[int]:
        highest: Counter[Key] = Counter()
        counting: Counter[Key] = Counter(keys)
        there = self._at(keys)
        for key in set(keys):
            highest[key] = max((known.version for known in there[key]), default=0)
            counting[key] += sum(
                known.status == "counts" and known.reading_id not in replaced for known in there[key]
            )
        if any(n > 1 for n in counting.values()):
            raise StoreError("two readings would count at one place: say which one the new reading replaces")
        return [highest[key] + 1 for key in keys]

    def _corrections(self, file_id: int, readings: Sequence[Reading], least: int) -> list[int]:
        """Number after the slash of each id: 0 for a cell's first reading, then 2, 3, ..."""
        taken: dict[tuple, int] = {}
        if file_id not in self._new_files:
            taken = identity.taken(self.ledger.connection, file_id)
        numbers = []
        for r in readings:
            cell = (clean(r.source.sheet), r.source.row, clean(r.source.column))
            last = taken.get(cell, -1)
            number = max(least, 0 if last < 0 else max(last + 1, 2))
            taken[cell] = number
            numbers.append(number)
        return numbers


_context: Final[Callable[[Reading], tuple]] = attrgetter(
    "source.sheet", "source.column", *tables.CONTEXT_TEXT, "relative", "made_is_date", "part_c", "gauge_c"
)
_names: Final[Callable[[Reading], tuple]] = attrgetter(*tables.SERIES)


@lru_cache(maxsize=4096)
def _cleaned(names: tuple) -> tuple:
    return tuple(map(clean, names))


def _series(r: Reading) -> tuple:
    return _cleaned(_names(r))


def _position(r: Reading) -> tuple:
    return (clean(r.feature), r.station, r.clock)


def _id(r: Reading, correction: int) -> str:
    source = r.source
    column = clean(source.column) or ""
    return identity.told(source.sha256, clean(source.sheet), source.row, column, correction)
