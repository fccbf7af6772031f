"""Held rows taken in, as they are written or as they should read."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Final, Literal

import pandas as pd

from qc.errors import InputError, QuestionError
from qc.ingest import centre_words, companions, sorting
from qc.ingest.desk import REGISTERS, Desk
from qc.ingest.kinds import canonical, kind_of
from qc.ingest.plausible import registry
from qc.ingest.rows import CELL, Row, retyped
from qc.ingest.sorting import CORRECTED, PROPOSED, Sorted
from qc.ingest.words import unreadable
from qc.records import Cell, Reading, Source
from qc.store import Store, Write, neighbours

Decision = Literal["accept", "correct", "discard"]
Correction = str | Mapping[str, str] | None
_READABLE: Final = frozenset({
    "hidden_row", "hidden_column", "hidden_sheet", "perhaps_cut", "far_from_target", "no_target",
    "reads_otherwise", "other_target", "perhaps_again", "bench_contradicts", "odd_decimals",
    "heading_contradicts", *centre_words.ACCEPTED,
}) | registry.CODES  # fmt: skip
# what was held for these had passed the plausibility checks, or a person has just settled them
_BELIEVED: Final = frozenset({"far_from_target", "perhaps_again"}) | registry.CODES
_ORDER_OF: Final[Mapping[tuple[str, str], str]] = {
    ("date_order", "accept"): "day_first",
    ("date_order", "correct"): "month_first",
    ("serial_date", "accept"): "serial",
}
_REPLACING: Final = frozenset({"reads_otherwise", "other_target"})


@dataclass(frozen=True, slots=True)
class Waiting:
    """One held row: its number in the store, its file, the row as read, and texts by column for its cells."""

    number: int
    file_id: int
    sha256: str
    row: Row
    proposed: Mapping[str, str]
    corrected: Mapping[str, str]


def waiting_rows(store: Store, finding_id: int) -> list[Waiting]:
    """The rows that a finding still holds."""
    held = store.held()
    return [_row(r) for r in held[held["finding_id"] == finding_id].itertuples()]


def _row(held: Any) -> Waiting:
    fields = tuple((h, t) for h, t in held.fields.items() if not h.startswith(PROPOSED))
    proposed = {h.removeprefix(PROPOSED): t for h, t in held.fields.items() if h.startswith(PROPOSED)}
    sheet = None if pd.isna(held.sheet) else held.sheet
    kind = kind_of(h for h, _ in fields) or "readings"
    names, cells = tuple(h for h, _ in fields), tuple(t for _, t in fields)
    row = Row(kind, int(held.row), sheet, names, cells, held.reading)
    corrected = {h.removeprefix(CORRECTED): t for h, t in fields if h.startswith(CORRECTED)}
    return Waiting(int(held.id), int(held.file_id), held.sha256, row, proposed, corrected)


class Taking:
    """Takes held rows in, as they are or corrected."""

    def __init__(
        self, store: Store, write: Write, finding: Any, decision: Decision, reason: str, by: str
    ) -> None:
        self.store, self.write, self.finding = store, write, finding
        self.decision, self.reason = decision, reason
        self.desk = Desk(store, by=by, command=f"held {decision}")
        self.shop = self.desk.shop
        self._corrected: set[Source] = set()

    def all(self, waiting: list[Waiting], correction: Correction) -> tuple[int, int]:
        """Take in what the decision is about; rows kept, and rows held again for another reason."""
        order = _ORDER_OF.get((self.finding.code, self.decision)) if correction is None else None
        if order is not None:
            return self._said_order(order, waiting)
        if self.decision == "accept" and self.finding.code not in _READABLE:
            raise QuestionError(
                f"the cells of finding {self.finding.id} cannot be read as they are: correct or discard them"
            )
        changes = {w.number: self._changes(w, correction) for w in waiting}
        if self.decision == "correct":
            waiting = [w for w in waiting if changes[w.number]]
        if not waiting:
            raise QuestionError(f"finding {self.finding.id} has no proposal: say what the cells should read")
        return self._take(int(self.finding.id), self.finding.code, waiting, changes)

    def _said_order(self, order: str, waiting: list[Waiting]) -> tuple[int, int]:
        """Read dates as the person says; day and month so from now on, in all that waits."""
        self.shop = replace(self.shop, date_order=order, times_read={})
        groups = {int(self.finding.id): waiting}
        if order != "serial":
            self.write.set("date_order", order)
            others = self.store.findings()
            alike = others[(others["code"] == "date_order") & (others["severity"] == "stop")]["id"]
            groups |= {
                int(i): waiting_rows(self.store, int(i)) for i in alike if int(i) != int(self.finding.id)
            }
        kept = held = 0
        for number, rows in groups.items():
            k, h = self._take(number, self.finding.code, rows, {w.number: {} for w in rows})
            kept, held = kept + k, held + h
        return kept, held

    def _changes(self, waiting: Waiting, correction: Correction) -> dict[str, str]:
        """Texts by our names of columns that the row should read instead."""
        if self.decision == "accept":
            return {}
        if correction is None:
            said: Mapping[str, str] = waiting.proposed
        elif isinstance(correction, str):
            said = {c.column: correction for c in self._named(waiting)}
        else:
            said = self._for_row(waiting.row, correction)
        changes = {}
        cell = dict(waiting.row.fields).get(CELL)
        for column, text in said.items():
            name = "value" if column == cell else canonical(column)
            if name is None:
                raise QuestionError(f"there is no column {column!r}: name one of the file's columns")
            changes[name] = text.strip()
        return changes

    def _named(self, waiting: Waiting) -> list[Any]:
        cells = [
            c for c in self.finding.cells if c.row == waiting.row.number and c.sheet == waiting.row.sheet
        ]
        cell = dict(waiting.row.fields).get(CELL)
        if cell is not None and canonical((cells or list(self.finding.cells))[0].column) is None:
            return [Cell(waiting.row.number, cell, "", waiting.row.sheet)]  # of the row's cells its own
        return cells or list(self.finding.cells[:1])

    @staticmethod
    def _for_row(row: Row, correction: Mapping[str, str]) -> dict[str, str]:
        here = f"{row.number}" if row.sheet is None else f"{row.sheet}!{row.number}"
        said = {c: t for c, t in correction.items() if ":" not in c}
        told = {c.rpartition(":")[2]: t for c, t in correction.items() if c.rpartition(":")[0] == here}
        cell = dict(row.fields).get(CELL)
        return said | {c: t for c, t in told.items() if cell is None or c == cell or canonical(c) is not None}

    def _take(
        self, number: int, code: str, waiting: list[Waiting], changes: Mapping[int, dict[str, str]]
    ) -> tuple[int, int]:
        pairs = [(w, self._read(w, code, changes[w.number])) for w in waiting]
        self.write.decide(number, self.decision, self.reason, [w.number for w in waiting])
        kept = held = 0
        for file_id in dict.fromkeys(w.file_id for w in waiting):
            done = Sorted()
            self._sort(file_id, [(w, row) for w, row in pairs if w.file_id == file_id], code, done)
            findings, rows = done.findings()
            self.write.add_findings(file_id, findings, rows)
            numbers = [w.number for w in waiting]
            companions.close(self.store, self.write, file_id, numbers, self.decision, self.reason)
            kept, held = kept + len(done.kept) + len(done.already), held + len(done.holding)
        return kept, held

    def _read(self, waiting: Waiting, code: str, changes: dict[str, str]) -> Row:
        row = waiting.row
        changes = {**waiting.corrected, **changes}
        if row.record is None or changes:
            row = retyped(row, self.shop, waiting.sha256, changes)
            # were it held again, what a person said is not asked twice
            fields = {h: t for h, t in row.fields if not h.startswith(CORRECTED)}
            fields |= {CORRECTED + column: text for column, text in changes.items()}
            row = replace(row, names=tuple(fields), cells=tuple(fields.values()))
            if isinstance(row.record, Reading) and isinstance(waiting.row.record, Reading):
                # the text stays the file's own: what a person put in its place is told by the decision
                row = replace(row, record=replace(row.record, source=waiting.row.record.source))
        if changes and row.record is not None and row.record.source is not None:
            self._corrected.add(row.record.source)
        # what a person has just written is refused at once, not held under another doubt
        said = [(canonical(d.column) or "value", d) for d in row.doubts]
        again = [d for name, d in said if d.code == code or (row.record is None and name in changes)]
        if again:
            why = unreadable(again[0].code, [(row, again[0])])
            raise InputError(f"that cannot be read either: {why.saw} {why.doubt} {why.proposal}")
        return row

    def _sort(self, file_id: int, pairs: list[tuple[Waiting, Row]], code: str, done: Sorted) -> None:
        """Keep what nothing else stands against; the rest is held again, under what does."""
        waiting = {id(row): w for w, row in pairs}
        rows = sorting.unread([row for _, row in pairs], done)
        for row in rows:
            if not isinstance(row.record, Reading):
                getattr(self.write, REGISTERS[row.kind][1])(file_id, [row.record])
                done.kept.append(row)
        measured = [row for row in rows if isinstance(row.record, Reading)]
        readings = sorting.readings_of(measured)
        # a value made void once counts again when a person says so
        known = [
            [k for k in versions if k.status != "voided" and not self._is_itself(waiting[id(row)], k)]
            for row, versions in zip(measured, self.write.known(readings), strict=True)
        ]
        settled = frozenset({code} | (_REPLACING if code in _REPLACING else frozenset()))
        kept: Any = neighbours.of_builds(self.write, list({r.build for r in readings if r.build}))
        left = sorting.already_known(measured, known, done)
        # a deviation still without a target stays held: its size is not known
        answers = self.desk.specified([r for r, _ in left])
        left = sorting.doubt_sizes(left, answers, kept, done, settled - {"no_target"})
        if self.decision == "correct" or code not in _BELIEVED | _REPLACING:
            at = registry.scene([r for r, _ in left], answers, kept, self.desk.around(self.write))
            left = sorting.doubt_plausibility(left, at, done)
        new = sorting.doubt_identity(left, [], done, settled | {"perhaps_again"})
        self._keep(file_id, new)
        done.kept += new

    def _keep(self, file_id: int, rows: list[Row]) -> None:
        """Add readings; one that stands against a counting one voids it."""
        together: dict[object, Reading] = {}
        alone: list[Reading] = []
        readings = sorting.readings_of(rows)
        for reading, versions in zip(readings, self.write.known(readings), strict=True):
            if reading.place in together or any(k.status == "counts" for k in versions):
                alone.append(reading)
            else:
                together[reading.place] = reading
        for suffix in (None, 2):
            some = [r for r in together.values() if self._suffix(r) == suffix]
            self.write.add_readings(file_id, some, suffix=suffix)
        for reading in alone:
            counting = [k.reading_id for k in self.write.known([reading])[0] if k.status == "counts"]
            replaces = {0: counting[-1] or ""}
            self.write.add_readings(file_id, [reading], replaces=replaces, suffix=self._suffix(reading))

    def _suffix(self, reading: Reading) -> int | None:
        """2 for what a person corrected, now or before."""
        return 2 if reading.source in self._corrected else None

    def _is_itself(self, waiting: Waiting, known: Any) -> bool:
        """Whether the store tells of this very cell, whose first text a correction has discarded."""
        record = waiting.row.record
        if not isinstance(record, Reading) or known.status not in ("held", "discarded"):
            return False
        told = (known.value, known.relative, known.target, known.lower, known.upper)
        return told == (record.value, record.relative, record.target, record.lower, record.upper)
