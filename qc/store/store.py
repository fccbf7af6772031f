"""The store: what the rest of the house asks of it."""

import zlib
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any, Literal, Self

import pandas as pd
from sqlalchemy import select

from qc.errors import QuestionError
from qc.records import Asked, Build, Event, Gauge, Machine, PlanRow, Spec
from qc.store import became, dated, doubts, kept, lists, migrations, readings, registers, revisions, tables
from qc.store.database import Database
from qc.store.keeping import Numbers
from qc.store.ledger import Ledger
from qc.store.write import Write

Kind = Literal[
    "spec", "event", "gauge", "build", "machine", "plan", "setting", "set_limit", "exclusion", "choice",
    "matter", "reaction", "notice",
]  # fmt: skip

_ALL = Asked()


class Store:
    """Readings and records of a shop, for several threads at once; `place` names it, without a password."""

    def __init__(self, database: Database) -> None:
        self.database = database
        self._numbers = Numbers()
        self.place = database.place
        # called before each write; the command line and the pages let it make the day's backup
        self.before_write: Callable[[Store], None] | None = None

    @classmethod
    def open(cls, place: str | Path, *, create: bool = False) -> Self:
        """Store at a path or `postgresql://` URL.

        Raises
        ------
        StoreMissing
            When there is none and `create` is false.
        StoreError
            When it cannot be opened, belongs to another program, or a newer version wrote it.
        """
        database = Database(place, create=create)
        try:
            _ready(database, create=create)
        except BaseException:
            database.close()
            raise
        return cls(database)

    def close(self) -> None:
        """Close all connections."""
        self.database.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    @contextmanager
    def write(self, *, by: str, command: str, reason: str | None = None) -> Iterator[Write]:
        """One transaction and one revision; other writers wait until the block has ended.

        Raises
        ------
        StoreBusy
            When another writer does not end within 30 s.
        """
        if self.before_write is not None:
            self.before_write(self)
        with self.database.writing() as connection:
            # taken away while it is in use: a write that fails leaves nothing behind
            numbers, self._numbers = self._numbers, Numbers()
            ledger = Ledger(connection, by=by, command=command, reason=reason)
            yield Write(ledger, numbers)
        numbers.revision = ledger.revision - (not ledger.touched)
        self._numbers = numbers

    def revision(self, as_of: str | int | None = None) -> int:
        """Newest revision's number (0: empty), or the one that an `--as-of` text means.

        Parameters
        ----------
        as_of : str, int, optional
            A number, or an ISO time (without a zone the shop's; a date alone is the end of that day): the
            last revision at or before it.

        Raises
        ------
        QuestionError
            When it is neither, or no such revision exists.
        """
        with self.database.reading() as connection:
            return revisions.meant(connection, as_of)

    def data_version(self) -> int:
        """Newest revision's number; cheap."""
        return self.revision()

    def revisions(self) -> pd.DataFrame:
        """Every write: number, at [us], by, command, reason."""
        with self.database.reading() as connection:
            return lists.revisions(connection)

    def readings(self, asked: Asked = _ALL, *, status: Literal["counts", "all"] = "counts") -> pd.DataFrame:
        """Readings, sorted by series, made_at, order (blank last), trial, arrival; see `readings.COLUMNS`.

        Lengths in ticks, times in microseconds. `text` columns are `str`, blank NaN; whole numbers that may
        be blank are `Int64`. Excluded readings are among them, marked.

        Parameters
        ----------
        asked : Asked
            Filters; `as_of` shows the store as that revision left it.
        status : {"counts", "all"}
            Without or with the voided ones.
        """
        with self.database.reading() as connection:
            return readings.readings(connection, asked, status)

    def records(self, kind: Kind, as_of: int | None = None, *, all_rows: bool = False) -> pd.DataFrame:
        """Rows of a register in force, in the order they came; with `all_rows` also those that no longer are.

        Columns are the record's fields, then seq, revision, withdrawn_in, file, sha256, sheet, row, column,
        text, by, at_written.
        """
        with self.database.reading() as connection:
            return registers.records(connection, kind, as_of, all_rows=all_rows)

    def specs(self, as_of: int | None = None) -> list[Spec]:
        """Specifications in force, in the order they were added."""
        return self._typed("spec", as_of)

    def events(self, as_of: int | None = None) -> list[Event]:
        """Events, in order of time."""
        return sorted(self._typed("event", as_of), key=lambda e: e.at)

    def gauges(self, as_of: int | None = None) -> list[Gauge]:
        """Rows of the gauges' history, in the order they were added."""
        return self._typed("gauge", as_of)

    def builds(self, as_of: int | None = None) -> dict[str, Build]:
        """Builds by name."""
        return {b.build: b for b in self._typed("build", as_of)}

    def machines(self, as_of: int | None = None) -> dict[str, Machine]:
        """Machines by name."""
        return {m.machine: m for m in self._typed("machine", as_of)}

    def plan(self, as_of: int | None = None) -> list[PlanRow]:
        """Measuring plan in force, in the order it was added."""
        return self._typed("plan", as_of)

    def _typed(self, kind: str, as_of: int | None) -> list[Any]:
        with self.database.reading() as connection:
            return registers.typed(connection, kind, as_of)

    def settings(self, as_of: int | None = None) -> dict[str, str]:
        """Settings that are set."""
        with self.database.reading() as connection:
            return revisions.settings(connection, as_of)

    def series(self, as_of: int | None = None) -> pd.DataFrame:
        """Series with readings that count: number, names, readings, first_at, last_at [us], last_revision."""
        with self.database.reading() as connection:
            return lists.series(connection, as_of)

    def files(self) -> pd.DataFrame:
        """Files taken in, with their counts at that time."""
        with self.database.reading() as connection:
            return lists.files(connection)

    def file_content(self, sha256: str) -> bytes:
        """Content of a file as it came.

        Raises
        ------
        QuestionError
            When no such file was taken in.
        """
        with self.database.reading() as connection:
            packed = connection.scalar(
                select(tables.content.c.packed)
                .join_from(tables.content, tables.file, tables.file.c.id == tables.content.c.file_id)
                .where(tables.file.c.sha256 == sha256)
            )
        if packed is None:
            raise QuestionError(
                f"no file {sha256[:12]} was taken into this store: take its number from the audit pack"
            )
        return zlib.decompress(packed)

    def findings(self, *, open_only: bool = True, as_of: int | None = None) -> pd.DataFrame:
        """Findings, with `held` rows that still wait and what was `decided` (dict or None).

        `history` is what was decided before and taken back; `again`, for a finding of which no decision
        stands any more, the numbers under which it waits since then, else None. A finding is open while a
        row it holds waits, or, holding none, while nobody has decided about it.
        """
        with self.database.reading() as connection:
            return doubts.findings(connection, as_of, open_only=open_only)

    def decision(self, finding_id: int) -> int | None:
        """Revision of the last standing decision about a finding, else of one taken back; None for none."""
        with self.database.reading() as connection:
            return became.decision(connection, finding_id)

    def held(self, *, open_only: bool = True, as_of: int | None = None) -> pd.DataFrame:
        """Rows kept out of the figures: as read (`fields`), as they would count (`reading`), finding."""
        with self.database.reading() as connection:
            return doubts.held(connection, as_of, open_only=open_only)

    def recalled(self, question: str, digests: Mapping[str, str]) -> dict[str, str]:
        """Answers kept for speed whose input is still the same, by subject."""
        return kept.recalled(self.database, question, digests)

    def keep(self, question: str, digests: Mapping[str, str], values: Mapping[str, str]) -> bool:
        """Keep answers for speed; False where the store cannot be written just now."""
        return kept.keep(self.database, question, digests, values)

    def counts(self) -> dict[str, int]:
        """How much there is: readings that count, voided, held, files, series, builds, and the revision."""
        with self.database.reading() as connection:
            return lists.counts(connection)


def _ready(database: Database, *, create: bool) -> None:
    with database.reading() as connection:
        number = migrations.schema(connection)
    if number is None and create:
        with database.writing() as connection:
            # another program may have made it while we waited
            if migrations.schema(connection) is None:
                migrations.create(connection)
            return
    if migrations.must_be_opened(number, database.place):
        dated.before_migration(database, number or 0)
        with database.writing() as connection:
            migrations.bring_up(connection, migrations.schema(connection) or 0)
