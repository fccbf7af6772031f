"""The one way in: files and folders into the store, one transaction a file, all of a file or nothing."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from qc.errors import FileError
from qc.ingest import checks, doubted, sorting, sources, times
from qc.ingest.line import Shop
from qc.ingest.parsed import Parsed, parsed
from qc.ingest.rows import Row
from qc.ingest.sorting import Sorted
from qc.records import Batch, Build, FileStatus, Finding, HeldRow, Reading, Spec
from qc.store import Store, Write, neighbours

_ALONG: Final = 25  # files parsed ahead, so that the specifications are looked through once for all of them
_ALONG_BYTES: Final = 20_000_000
# register and method of Write for each kind of file
REGISTERS: Final = {
    "builds": ("build", "add_builds"), "machines": ("machine", "add_machines"), "gauges": ("gauge",
    "add_gauges"),
    "specifications": ("spec", "add_specs"), "measuring_plan": ("plan", "add_plan"), "events": ("event",
    "add_events"),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class FileResult:
    """What became of one file; rows = kept + held + already_kept."""

    file: str
    sha256: str | None
    kind: str | None
    status: FileStatus
    rows: int = 0
    kept: int = 0
    held: int = 0
    already_kept: int = 0
    findings: list[dict[str, Any]] = field(default_factory=list)

    def document(self) -> dict[str, Any]:
        """The result as the JSON contract has it."""
        return {
            "file": self.file, "sha256": self.sha256, "kind": self.kind, "status": self.status,
            "rows": self.rows,
            "kept": self.kept, "held": self.held, "already_kept": self.already_kept,
            "findings": self.findings,
        }  # fmt: skip


@dataclass(frozen=True, slots=True)
class Ingested:
    """What became of every file, in the order in which they were taken in."""

    files: list[FileResult]

    @property
    def waits(self) -> bool:
        """Whether something is held, so that the command ends with 1."""
        return any(one.status in ("held", "part_held") for one in self.files)


def ingest(
    store: Store,
    paths: Sequence[str | Path],
    *,
    by: str,
    progress: Callable[..., None] | None = None,
    command: str = "ingest",
) -> Ingested:
    """Take files and folders in.

    Parameters
    ----------
    store : Store
    paths : sequence of path
        Folders with all that is in them, in order of name; builds, specifications, events and other
        records before
        readings, which are judged by them.
    by, command : str
        Who takes them in, and by which command: kept with each revision.
    progress : callable, optional
        Called after each file with its number ("3 of 12") and its name.

    Raises
    ------
    FileError
        When there is no file at all.
    StoreError
        When the store refuses; files told of before are kept.
    """
    files = sources.found([Path(p) for p in paths])
    if len(files) > 1:
        files.sort(key=lambda one: sources.precedence(one.path, one.name))
    desk = Desk(store, by=by, command=command)
    results: list[FileResult] = []
    for result in desk.take(files):
        results.append(result)
        if progress is not None:
            progress(f"{len(results)} of {len(files)}", result.file)
    return Ingested(results)


def finding_document(number: int | None, finding: Finding) -> dict[str, Any]:
    """A finding as the JSON contract has it, nothing decided yet."""
    return {
        "id": number, "severity": finding.severity, "code": finding.code, "count": finding.size,
        "cells": [
            {"sheet": c.sheet, "row": c.row, "column": c.column, "text": c.text} for c in finding.cells[:200]
        ],
        "saw": finding.saw, "doubt": finding.doubt, "proposal": finding.proposal, "effect": finding.effect,
        "decided": None,
    }  # fmt: skip


def whole_file_held(sentence: str) -> Finding:
    """The finding about a file of which nothing can be read."""
    said = sentence[:1].upper() + sentence[1:]
    return Finding(
        "stop", "file_not_read", (), f"{said}.", "So nothing in it can be trusted.",
        "Put the file right and take it in again; discard to forget about this one.",
        "Nothing of it is in the figures.",
    )  # fmt: skip


class Desk:
    """Takes files in one after another; what the shop knows is looked up once, and again when it changed."""

    def __init__(self, store: Store, *, by: str, command: str) -> None:
        self.store, self.by, self.command = store, by, command
        settings = store.settings()
        self.shop = Shop(times.shop_zone(settings.get("zone")), settings.get("date_order"))
        self._names: dict[str, set[str]] | None = None
        self._judged_by: tuple[list[Spec], dict[str, Build]] | None = None

    def take(self, files: Sequence[sources.Found]) -> Iterator[FileResult]:
        """Take files in, yielding each result after its transaction has ended."""
        ahead: list[Parsed | FileResult] = []
        size = 0
        for one in files:
            read = self._read(one)
            ahead.append(read)
            size += len(read.content) if isinstance(read, Parsed) else 0
            records = isinstance(read, Parsed) and read.kind != "readings"
            if records or len(ahead) >= _ALONG or size > _ALONG_BYTES:
                yield from self._put(ahead)
                ahead, size = [], 0
        yield from self._put(ahead)

    def _put(self, ahead: Sequence[Parsed | FileResult]) -> Iterator[FileResult]:
        targets = self.targets([r for one in ahead if isinstance(one, Parsed) for r in one.rows])
        for one in ahead:
            yield self._keep(one, targets) if isinstance(one, Parsed) else one

    def _read(self, one: sources.Found) -> Parsed | FileResult:
        """A file's rows, or the result of one that is taken already or cannot be read."""
        try:
            data = sources.content(one.path)
        except FileError as fault:
            finding = whole_file_held(f"{one.name}: {fault}")
            return FileResult(one.name, None, None, "held", findings=[finding_document(None, finding)])
        sha256 = sources.sha256(data)
        before = self._before(one.name, sha256)
        if before is not None:
            return before
        try:
            return self._filled(parsed(one.name, data, self.shop))
        except FileError as fault:
            return self._hold_whole(one.name, sha256, data, whole_file_held(str(fault)))

    @staticmethod
    def _filled(read: Parsed) -> Parsed:
        if not read.rows:
            raise FileError("below its header the file has no rows: nothing to read")
        return read

    def _before(self, name: str, sha256: str) -> FileResult | None:
        with self.store.write(by=self.by, command=self.command) as write:
            known = write.file(sha256)
        return None if known is None else self._again(name, known)

    def _again(self, name: str, known: Mapping[str, Any]) -> FileResult:
        """Result for a file whose very content was taken in before."""
        kind, rows = known["kind"] or None, known["rows"]
        if known["status"] != "held" or rows:
            return FileResult(name, known["sha256"], kind, "already_kept", rows, already_kept=rows)
        waiting = self.store.findings()
        mine = waiting[waiting["sha256"] == known["sha256"]]
        if mine.empty:
            return FileResult(name, known["sha256"], kind, "already_kept")
        said = [
            finding_document(
                int(f.id), Finding(f.severity, f.code, tuple(f.cells), f.saw, f.doubt, f.proposal, f.effect)
            )
            for f in mine.itertuples()
        ]
        return FileResult(name, known["sha256"], kind, "held", findings=said)

    def _hold_whole(self, name: str, sha256: str, data: bytes, finding: Finding) -> FileResult:
        with self.store.write(by=self.by, command=self.command) as write:
            batch = Batch(name, sha256, "", data, 0, findings=(finding,))
            number = write.add_file(batch, status="held", kept=0, held=0, already_kept=0)
            ids = write.add_findings(number, [finding])
        return FileResult(name, sha256, None, "held", findings=[finding_document(ids[0], finding)])

    def targets(self, rows: Sequence[Row]) -> dict[int, int | None]:
        """Target of each reading among the rows' records [ticks], by the reading's id()."""
        readings = sorting.readings_of(rows)
        if all(r.target is not None for r in readings):
            return {id(r): r.target for r in readings}
        if self._judged_by is None:
            self._judged_by = (self.store.specs(), self.store.builds())
        return dict(zip(map(id, readings), checks.targets(readings, *self._judged_by), strict=True))

    def _keep(self, read: Parsed, targets: Mapping[int, int | None]) -> FileResult:
        with self.store.write(by=self.by, command=self.command) as write:
            before = write.file(read.sha256)
            if before is not None:
                return self._again(read.name, before)
            done = self._sorted(write, read, targets)
            findings, held = done.findings()
            names = self._known_names(write)
            kept_records = [r.record for r in done.kept if r.record is not None]
            findings += doubted.of_new_names(done.kept, checks.new_names(kept_records, names), read.headers)
            findings += read.notes
            result = self._written(write, read, done, findings, held)
        self._names = names
        if read.kind != "readings":
            self._judged_by = None
        return result

    def _known_names(self, write: Write) -> dict[str, set[str]]:
        known = self._names if self._names is not None else neighbours.names(write)
        return {column: set(known[column]) | checks.KNOWN_FROM_THE_START[column] for column in checks.NAMES}

    def _sorted(self, write: Write, read: Parsed, targets: Mapping[int, int | None]) -> Sorted:
        done = Sorted()
        rows = self._met_before(write, read.rows, done)
        rows = sorting.unread(rows, done)
        records = [r for r in rows if not isinstance(r.record, Reading)]
        for kind, (register, _) in REGISTERS.items():
            mine = sorting.hidden([r for r in records if r.kind == kind], done)
            known = neighbours.in_force(write, register, [r.record for r in mine]) if mine else []
            for row, there in zip(mine, known, strict=True):
                (done.already if there else done.kept).append(row)
        measured = [r for r in rows if isinstance(r.record, Reading)]
        left = sorting.already_known(measured, write.known(sorting.readings_of(measured)), done)
        seen = {id(r) for r in sorting.hidden([row for row, _ in left], done)}
        left = [(row, doubt) for row, doubt in left if id(row) in seen]
        builds = list(
            dict.fromkeys(r.record.build for r, _ in left if isinstance(r.record, Reading) and r.record.build)
        )
        beside: Any = neighbours.of_builds(write, builds)
        left = sorting.doubt_sizes(left, targets, beside, done)
        done.kept += sorting.doubt_identity(left, beside, done)
        return done

    @staticmethod
    def _met_before(write: Write, rows: Sequence[Row], done: Sorted) -> list[Row]:
        """Leave out rows that could not be read when another file brought them; the others."""
        unread = [r for r in rows if r.record is None]
        if not unread:
            return list(rows)
        known = neighbours.once_unreadable(write, [sorting.told_fields(r) for r in unread])
        met = {id(r) for r, there in zip(unread, known, strict=True) if there}
        done.already += [r for r in unread if id(r) in met]
        return [r for r in rows if id(r) not in met]

    def _written(
        self, write: Write, read: Parsed, done: Sorted, findings: Sequence[Finding], held: Sequence[HeldRow]
    ) -> FileResult:
        counts = {"kept": len(done.kept), "held": len(done.holding), "already_kept": len(done.already)}
        status = status_of(**counts)
        batch = Batch(read.name, read.sha256, read.kind, read.content, len(read.rows))
        number = write.add_file(batch, status=status, **counts)
        for kind, (_, method) in REGISTERS.items():
            records = [r.record for r in done.kept if r.kind == kind]
            if records:
                getattr(write, method)(number, records)
        write.add_readings(number, sorting.readings_of(done.kept))
        ids = write.add_findings(number, findings, held)
        said = [finding_document(i, f) for i, f in zip(ids, findings, strict=True)]
        return FileResult(read.name, read.sha256, read.kind, status, len(read.rows), **counts, findings=said)


def status_of(*, kept: int, held: int, already_kept: int) -> FileStatus:
    """A file's status from the numbers of its rows."""
    if held:
        return "part_held" if kept or already_kept else "held"
    return "kept" if kept else "already_kept"
