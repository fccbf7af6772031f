"""One write to the store: one transaction, one revision."""

import zlib
from collections.abc import Mapping, Sequence
from typing import Any, Final, Literal

from sqlalchemy import Connection, bindparam, select

from qc.errors import QuestionError, StoreError
from qc.records import (
    Batch,
    Build,
    Event,
    FileStatus,
    Finding,
    Gauge,
    HeldRow,
    Machine,
    PlanRow,
    Reading,
    Spec,
)
from qc.store import doubts, exclusions, identity, registers, summaries, tables
from qc.store.keeping import Keeper, Numbers
from qc.store.known import Known
from qc.store.ledger import Ledger
from qc.store.nouns import clean, packed_scope

_FILE: Final = select(tables.file).where(tables.file.c.sha256 == bindparam("sha256"))
_CLASH: Final = select(tables.file.c.name).where(
    tables.file.c.sha256 >= bindparam("first"), tables.file.c.sha256 < bindparam("last")
)


class Write:
    """What one revision adds; made by `Store.write`.

    Nothing is seen by others before the block ends, and nothing stays when it ends with an exception. A write
    that adds nothing leaves no revision.
    """

    def __init__(self, ledger: Ledger, numbers: Numbers) -> None:
        self._ledger = ledger
        self._keeper = Keeper(ledger, numbers)

    @property
    def revision(self) -> int:
        """Number this write has when it adds something."""
        return self._ledger.revision

    @property
    def at(self) -> int:
        """Time of the write [us since 1970 UTC]."""
        return self._ledger.at

    @property
    def connection(self) -> Connection:
        """The transaction, for the rest of this package."""
        return self._ledger.connection

    def file(self, sha256: str) -> dict[str, Any] | None:
        """Summary of the file with this very content, None where it was never taken in."""
        row = self._ledger.connection.execute(_FILE, {"sha256": sha256}).one_or_none()
        if row is None:
            return None
        told = dict(row._mapping)
        told["file_id"] = told.pop("id")
        return told

    def add_file(self, batch: Batch, *, status: FileStatus, kept: int, held: int, already_kept: int) -> int:
        """Number of the file, whose content is kept as it came.

        Raises
        ------
        StoreError
            When its content is in the store already.
        """
        start = batch.sha256[: identity.FILE_DIGITS]
        clash = self._ledger.connection.scalar(_CLASH, {"first": start, "last": start + "g"})
        if clash is not None:
            raise StoreError(f"the content of {batch.name} is in the store already, as {clash}")
        number = self._ledger.following(tables.file)
        self._ledger.add(tables.file, [{
            "id": number, "sha256": batch.sha256, "name": clean(batch.name), "kind": clean(batch.kind),
            "status": status, "rows": batch.rows, "kept": kept, "held": held, "already_kept": already_kept,
        }])  # fmt: skip
        self._ledger.add(tables.content, [
            {"file_id": number, "size": len(batch.content), "packed": zlib.compress(batch.content)},
        ])  # fmt: skip
        self._keeper.is_new(number)
        return number

    def series_number(self, series: tuple[str, ...]) -> int | None:
        """Number of a series (machine, operation, characteristic, method, state), None for an unknown one."""
        return self._keeper.series.get(series)

    def known(self, readings: Sequence[Reading]) -> list[list[Known]]:
        """For each reading, in order, all that the store knows at its place.

        Versions kept or voided first, then what is held there or was decided against; empty where nothing is
        known.
        """
        return self._keeper.known(readings)

    def add_readings(
        self,
        file_id: int,
        readings: Sequence[Reading],
        *,
        replaces: Mapping[int, str] | None = None,
        suffix: int | None = None,
    ) -> list[str]:
        """Ids of the readings of one file, now kept.

        Parameters
        ----------
        replaces : mapping of int to str, optional
            Place in `readings` -> id of the reading that it voids.
        suffix : int, optional
            Least number after the slash: 2 for what a person corrected. Without it a cell's first reading has
            none, and a further one the next that is free.

        Raises
        ------
        StoreError
            When two readings would count at one place.
        """
        return self._keeper.add(file_id, readings, replaces=replaces or {}, suffix=suffix)

    def add_specs(self, file_id: int | None, rows: Sequence[Spec]) -> int:
        """Number of specifications added; those in force as they stand are left out."""
        return registers.add(self._ledger, "spec", file_id, rows)

    def add_events(self, file_id: int | None, rows: Sequence[Event]) -> int:
        """Number of events added; those known already are left out."""
        return registers.add(self._ledger, "event", file_id, rows)

    def add_gauges(self, file_id: int | None, rows: Sequence[Gauge]) -> int:
        """Number of gauge rows added; those known already are left out."""
        return registers.add(self._ledger, "gauge", file_id, rows)

    def add_builds(self, file_id: int | None, rows: Sequence[Build]) -> int:
        """Number of build rows added; the latest row of a build is the one in force."""
        return registers.add(self._ledger, "build", file_id, rows)

    def add_machines(self, file_id: int | None, rows: Sequence[Machine]) -> int:
        """Number of machine rows added; the latest row of a machine is the one in force."""
        return registers.add(self._ledger, "machine", file_id, rows)

    def add_plan(self, file_id: int | None, rows: Sequence[PlanRow]) -> int:
        """Number of measuring plan rows added; those in force as they stand are left out."""
        return registers.add(self._ledger, "plan", file_id, rows)

    def withdraw(self, kind: str, seq: int, reason: str | None) -> None:
        """Put a record out of force: a superseded specification, a moved event, an exclusion lifted."""
        registers.withdraw(self._ledger, kind, seq, reason)
        if kind == "exclusion":
            self._touch(next(r for r in registers.rows(
                self._ledger.connection, kind, None, all_rows=True) if r["seq"] == seq)["scope"])  # fmt: skip

    def void(self, reading_id: str, reason: str, replaced_by: str | None = None) -> None:
        """Take a wrong reading out of all figures, for ever.

        Raises
        ------
        QuestionError
            When there is no such reading, or it is void already.
        """
        self._keeper.void([(reading_id, replaced_by, reason)])

    def exclude(self, scope: Mapping[str, object], reason: str) -> None:
        """Keep true readings out of answers.

        Parameters
        ----------
        scope : mapping
            `{"reading": id}`, or words of `Asked` (build, machine, feature, since, ...) with one value or
            several.
        reason : str
            Why; shown beside every figure it touches.
        """
        if not (reason or "").strip():
            raise QuestionError("an exclusion needs a reason: say why these readings are not to count")
        told = exclusions.checked(scope)
        text = packed_scope(told)
        if any(row["scope"] == text for row in registers.rows(self._ledger.connection, "exclusion", None)):
            raise QuestionError("this is excluded already: lift the exclusion to change its reason")
        registers.add_rows(self._ledger, "exclusion", [{"scope": text, "reason": clean(reason)}])
        self._touch(text)

    def _touch(self, scope: str) -> None:
        summaries.touch(self._ledger, exclusions.series(self._ledger.connection, scope))

    def add_findings(
        self, file_id: int | None, findings: Sequence[Finding], held: Sequence[HeldRow] = ()
    ) -> list[int]:
        """Numbers of the findings, in order; `held` are the rows they keep out of the figures."""
        return doubts.add(self._ledger, file_id, findings, held)

    def decide(
        self,
        finding_id: int,
        decision: Literal["accept", "correct", "discard"],
        reason: str | None,
        rows: Sequence[int] | None = None,
    ) -> None:
        """Note what a person decided; the readings that follow from it are added apart.

        Parameters
        ----------
        rows : sequence of int, optional
            Numbers of the held rows it is about; without it all that still wait. A finding is decided when
            none waits.
        """
        doubts.decide(self._ledger, finding_id, decision, reason, rows)

    def set(self, name: str, value: str | None) -> None:
        """Set a setting, None unsets it; one that stands so already is left alone."""
        there = {r["name"]: r["value"] for r in registers.rows(self._ledger.connection, "setting", None)}
        if there.get(name) != value:
            registers.add_rows(self._ledger, "setting", [{"name": clean(name), "value": clean(value)}])

    def set_limits(
        self,
        series_key: Sequence[str],
        center: float | None,
        lower: float | None,
        upper: float | None,
        reason: str,
    ) -> None:
        """Freeze the chart limits of a series [um, deg, % or min, as charted].

        Parameters
        ----------
        series_key : sequence of str
            Machine, operation, characteristic, method, state.
        """
        told = dict(zip(tables.SERIES, map(clean, series_key), strict=True))
        numbers = {"center": center, "lower": lower, "upper": upper}
        registers.add_rows(self._ledger, "set_limit", [{**told, **numbers, "reason": clean(reason)}])
        key = tuple(told.values())
        summaries.touch(self._ledger, [self._keeper.series[key]] if key in self._keeper.series else [])

    def choose(self, series_key: Sequence[str], name: str, value: str | None, reason: str) -> None:
        """Note what a person chose for a series, None goes back to the usual; the latest of a name counts.

        Parameters
        ----------
        series_key : sequence of str
            Machine, operation, characteristic, method, state.
        name, value : str
            What is chosen (`chart`, `family`, ...) and how.
        """
        if not (reason or "").strip():
            raise QuestionError("a choice needs a reason: say why this series is to be read otherwise")
        told = dict(zip(tables.SERIES, map(clean, series_key), strict=True))
        row = {**told, "name": clean(name), "value": clean(value), "reason": clean(reason)}
        registers.add_rows(self._ledger, "choice", [row])
        key = tuple(told.values())
        summaries.touch(self._ledger, [self._keeper.series[key]] if key in self._keeper.series else [])

    def put_back(self, kind: str, rows: Sequence[Mapping[str, Any]]) -> None:
        """Add rows of a register as they stood before they were withdrawn."""
        registers.add_rows(self._ledger, kind, rows)

    def note(self, kind: Literal["matter", "reaction", "notice"], row: Mapping[str, Any]) -> None:
        """Add a row to the life of a matter, to the reactions, or to the notices sent."""
        registers.add_rows(self._ledger, kind, [{n: registers.stored(v) for n, v in row.items()}])
