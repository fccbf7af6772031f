"""The desk where files are taken in one after another: looked up, judged, written in one transaction each."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from qc.errors import FileError
from qc.ingest import checks, doubted, sorting, sources, specified, times
from qc.ingest.beside import NEEDS_LAYOUT
from qc.ingest.layout import Layout
from qc.ingest.line import Doubt, Shop
from qc.ingest.parsed import Parsed, parsed
from qc.ingest.plausible import registry
from qc.ingest.plausible.past import Memory
from qc.ingest.results import FileResult, finding_document, status_of, whole_file_held
from qc.ingest.rows import Row
from qc.ingest.sorting import Sorted
from qc.ingest.specified import Said, said
from qc.records import Batch, Build, Finding, HeldRow, Reading, Spec
from qc.store import Store, Write, neighbours

_ORDERS: Final = ("day_first", "month_first")
_ALONG: Final = 25  # files parsed ahead, so that the specifications are looked through once for all of them
_ALONG_BYTES: Final = 20_000_000
_UNREAD: Final = ("file_not_read", NEEDS_LAYOUT)
# register and method of Write for each kind of file
REGISTERS: Final = {
    "builds": ("build", "add_builds"), "machines": ("machine", "add_machines"), "gauges": ("gauge",
    "add_gauges"),
    "specifications": ("spec", "add_specs"), "measuring_plan": ("plan", "add_plan"), "events": ("event",
    "add_events"),
}  # fmt: skip


class Desk:
    """Takes files in one after another; what the shop knows is looked up once, and again when it changed."""

    def __init__(self, store: Store, *, by: str, command: str, layouts: Sequence[Layout] = ()) -> None:
        self.store, self.by, self.command, self.layouts = store, by, command, layouts
        self._anew: set[str] = set()
        settings = store.settings()
        order = settings.get("date_order")
        self.shop = Shop(times.shop_zone(settings.get("zone")), order if order in _ORDERS else None)
        self._next = -1
        self._taken: set[str] = set()
        self._names: dict[str, set[str]] | None = None
        self._judged_by: tuple[list[Spec], dict[str, Build]] | None = None
        self._memory = Memory()
        self._registers: dict[str, Any] = {}

    def take(self, files: Sequence[sources.Found]) -> Iterator[FileResult]:
        """Take files in, yielding each result after its transaction has ended."""
        for some in sources.batches(files, _ALONG, _ALONG_BYTES):
            yield from self._some(some)

    def _some(self, files: Sequence[sources.Found]) -> Iterator[FileResult]:
        ahead: list[Parsed | FileResult] = []
        for read in self._contents(files):
            one = read if isinstance(read, FileResult) else self._read(*read)
            ahead.append(one)
            if isinstance(one, Parsed) and one.kind != "readings":
                # what comes after it is judged by it
                yield from self._put(ahead)
                ahead = []
        yield from self._put(ahead)

    def _contents(self, files: Sequence[sources.Found]) -> Iterator[FileResult | tuple[str, str, bytes]]:
        """Name, hash and content of each file, or the result of one that is there or not to be had."""
        read: list[FileResult | tuple[str, str, bytes]] = []
        for one in files:
            try:
                data = sources.content(one.path)
            except FileError as fault:
                finding = whole_file_held(f"{one.name}: {fault}")
                read.append(
                    FileResult(one.name, None, None, "held", findings=[finding_document(None, finding)])
                )
            else:
                read.append((one.name, sources.sha256(data), data))
        with self.store.write(by=self.by, command=self.command) as write:
            known = {r[1]: write.file(r[1]) for r in read if not isinstance(r, FileResult)}
            self._next = write.revision
        for r in read:
            before = None if isinstance(r, FileResult) else known[r[1]]
            if isinstance(r, FileResult) or before is None or self._waits_for_layout(r[0], before):
                yield r
            else:
                yield self._again(r[0], before)

    def _waits_for_layout(self, name: str, before: Mapping[str, Any]) -> bool:
        """Whether a file that is there could not be read, and a layout now says what it means."""
        if not any(one.for_file(name) for one in self.layouts) or not self._unread(before):
            return False
        self._anew.add(before["sha256"])
        return True

    def _unread(self, before: Mapping[str, Any]) -> list[int]:
        """Open findings of a file about what could not be read without a layout."""
        open_ = self.store.findings()
        mine = open_[(open_["sha256"] == before["sha256"]) & open_["code"].isin(_UNREAD)]
        return [int(i) for i in mine["id"]]

    def _put(self, ahead: Sequence[Parsed | FileResult]) -> Iterator[FileResult]:
        answers = self.specified([r for one in ahead if isinstance(one, Parsed) for r in one.rows])
        for one in ahead:
            yield self._keep(one, answers) if isinstance(one, Parsed) else one

    def _read(self, name: str, sha256: str, data: bytes) -> Parsed | FileResult:
        """A file's rows, or the result of one that cannot be read."""
        try:
            return self._filled(parsed(name, data, self.shop, sha256, self.layouts))
        except FileError as fault:
            return self._hold_whole(name, sha256, data, whole_file_held(str(fault)))

    @staticmethod
    def _filled(read: Parsed) -> Parsed:
        if not read.rows and not any(n.severity == "stop" for n in read.notes):
            raise FileError("below its header the file has no rows: nothing to read")
        return read

    def _again(self, name: str, known: Mapping[str, Any]) -> FileResult:
        """Result for a file whose very content was taken in before."""
        kind, rows = known["kind"] or None, known["rows"]
        if known["status"] != "held" or rows:
            return FileResult(name, known["sha256"], kind, "already_kept", rows, already_kept=rows)
        waiting = self.store.findings()
        mine = waiting[waiting["sha256"] == known["sha256"]]
        unread = mine[(mine["severity"] == "stop") & (mine["held"] == 0)]
        if unread.empty:
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
            before = write.file(sha256)
            if before is not None:
                return self._again(name, before)
            batch = Batch(name, sha256, "", data, 0, findings=(finding,))
            number = write.add_file(batch, status="held", kept=0, held=0, already_kept=0)
            ids = write.add_findings(number, [finding])
        return FileResult(name, sha256, None, "held", findings=[finding_document(ids[0], finding)])

    def specified(self, rows: Sequence[Row]) -> dict[int, Said]:
        """What the specifications say of each reading among the rows' records, by the reading's id()."""
        readings = sorting.readings_of(rows)
        if not readings:
            return {}
        return dict(zip(map(id, readings), said(readings, *self._judging()), strict=True))

    def _judging(self) -> tuple[list[Spec], dict[str, Build]]:
        if self._judged_by is None:
            self._judged_by = (self.store.specs(), self.store.builds())
        return self._judged_by

    def around(self, write: Write) -> registry.Around:
        """What the plausibility checks may ask for in this write."""
        return registry.Around(write, self._memory, self._judging, self._register)

    def _register(self, name: str) -> Any:
        if name == "builds":
            return self._judging()[1]
        if name not in self._registers:
            self._registers[name] = getattr(self.store, name)()
        return self._registers[name]

    def _keep(self, read: Parsed, answers: Mapping[int, Said]) -> FileResult:
        with self.store.write(by=self.by, command=self.command) as write:
            # nobody else has written since this file was looked for: it is still new, unless it came twice
            alone = write.revision == self._next and read.sha256 not in self._taken
            if write.revision != self._next:
                self._memory.forget()
                self._registers.clear()
            before = None if alone and read.sha256 not in self._anew else write.file(read.sha256)
            if before is not None and (read.sha256 not in self._anew or not read.rows):
                return self._again(read.name, before)
            done = self._sorted(write, read, answers)
            findings, held = done.findings()
            names = self._known_names(write)
            kept_records = [r.record for r in done.kept if r.record is not None]
            findings += doubted.of_new_names(done.kept, checks.new_names(kept_records, names), read.headers)
            findings += specified.findings(done.kept, answers)
            findings += read.notes
            if before is not None:
                for number in self._unread(before):
                    write.decide(number, "accept", f"read with {', '.join(n.name for n in read.layouts)}")
            result = self._written(write, read, done, findings, held, before)
        self._names, self._next = names, write.revision + 1
        self._taken.add(read.sha256)
        self._memory.kept((r, answers[id(r)].target) for r in sorting.readings_of(done.kept))
        if read.kind != "readings":
            self._judged_by = None
            self._memory.forget()
            self._registers.clear()
        return result

    def _known_names(self, write: Write) -> dict[str, set[str]]:
        known = self._names if self._names is not None else neighbours.names(write)
        return {column: set(known[column]) | checks.KNOWN_FROM_THE_START[column] for column in checks.NAMES}

    def _sorted(self, write: Write, read: Parsed, answers: Mapping[int, Said]) -> Sorted:
        done = Sorted()
        rows = self._met_before(write, read.rows, done)
        rows = sorting.unread(rows, done)
        records = [r for r in rows if not isinstance(r.record, Reading)]
        for kind, (register, _) in REGISTERS.items():
            mine = sorting.hidden([r for r in records if r.kind == kind], done)
            known = neighbours.in_force(write, register, [r.record for r in mine]) if mine else []
            new = [row for row, there in zip(mine, known, strict=True) if not there]
            done.already += [row for row, there in zip(mine, known, strict=True) if there]
            done.kept += sorting.doubt_limits(new, self._judging()[0], done) if register == "spec" else new
        measured = [r for r in rows if isinstance(r.record, Reading)]
        left = sorting.already_known(measured, write.known(sorting.readings_of(measured)), done)
        seen = {id(r) for r in sorting.hidden([row for row, _ in left], done)}
        left = [(row, doubt) for row, doubt in left if id(row) in seen]
        builds = list(
            dict.fromkeys(r.record.build for r, _ in left if isinstance(r.record, Reading) and r.record.build)
        )
        beside: Any = neighbours.of_builds(write, builds)
        later: dict[int, Doubt] = {}
        left = sorting.doubt_sizes(left, answers, beside, done, later=later)
        at = registry.scene([r for r, _ in left], answers, beside, self.around(write))
        left = sorting.doubt_plausibility(left, at, done, later)
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
        self, write: Write, read: Parsed, done: Sorted, findings: Sequence[Finding], held: Sequence[HeldRow],
        before: Mapping[str, Any] | None,
    ) -> FileResult:  # fmt: skip
        counts = {"kept": len(done.kept), "held": len(done.holding), "already_kept": len(done.already)}
        status = status_of(**counts, waits=any(n.severity == "stop" for n in read.notes))
        batch = Batch(read.name, read.sha256, read.kind, read.content, len(read.rows))
        number = before["file_id"] if before else write.add_file(batch, status=status, **counts)
        for one in read.layouts:
            if write.file(one.digest) is None:
                kept = Batch(one.name, one.digest, "layout", one.content, 0)
                write.add_file(kept, status="kept", kept=0, held=0, already_kept=0)
        for kind, (_, method) in REGISTERS.items():
            records = [r.record for r in done.kept if r.kind == kind]
            if records:
                getattr(write, method)(number, records)
        write.add_readings(number, sorting.readings_of(done.kept))
        ids = write.add_findings(number, findings, held) if findings else []
        said = [finding_document(i, f) for i, f in zip(ids, findings, strict=True)]
        return FileResult(read.name, read.sha256, read.kind, status, len(read.rows), **counts, findings=said)
