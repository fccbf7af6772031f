"""The nouns that travel through the house: frozen, typed, without behaviour beyond naming themselves.

Lengths in ticks (1e-5 um; `qc.units`), times in microseconds since 1970 UTC, unless a field's name says
otherwise. None means "not said".
"""

from dataclasses import dataclass, field
from typing import Literal

Severity = Literal["stop", "ask", "note"]
FileStatus = Literal["kept", "part_held", "held", "already_kept"]


@dataclass(frozen=True, slots=True)
class Source:
    """Where something was read: file (SHA-256), sheet or None, row from 1, column, raw text."""

    sha256: str
    row: int
    column: str
    text: str
    sheet: str | None = None

    @property
    def place(self) -> str:
        """`FILE:ROW:COLUMN`, FILE the first 12 digits; in a workbook ROW is `SHEET!7`."""
        row = str(self.row) if self.sheet is None else f"{self.sheet}!{self.row}"
        return f"{self.sha256[:12]}:{row}:{self.column}"


@dataclass(frozen=True, slots=True)
class Reading:
    """One number from one gauge.

    `value` is the size in ticks; with `relative` it is the distance from the target of the specification in
    force (the row gave none). `lower`, `upper` are in the same form as `value` (sizes, or distances when
    `relative`). `pass_` is None where the row left it blank. `made_is_date`: only a date was given (counted
    as noon).
    """

    source: Source
    machine: str
    operation: str
    characteristic: str
    method: str
    state: str
    feature: str
    value: int
    unit: str
    measured_at: int
    made_at: int
    build: str | None = None
    engine: str | None = None
    serial: str | None = None
    relative: bool = False
    target: int | None = None
    lower: int | None = None
    upper: int | None = None
    station: int | None = None
    clock: int | None = None
    trial: int = 1
    pass_: int | None = None
    order: int | None = None
    made_is_date: bool = False
    gauge: str | None = None
    operator: str | None = None
    sized_with: str | None = None
    master: str | None = None
    torque: str | None = None
    material: str | None = None
    part_c: float | None = None
    gauge_c: float | None = None
    note: str | None = None

    @property
    def place(self) -> tuple[object, ...]:
        """What two rows about the same place agree in (identity of a reading)."""
        return (
            self.build or "", self.machine, self.operation, self.characteristic, self.method, self.state,
            self.feature, self.station, self.clock, self.trial, self.pass_, self.made_at, self.gauge or "",
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Spec:
    """One row of a specification; blank fields are None and match anything.

    `reading` is "deviation" (lower, upper are signed distances from the build's target, target an offset
    from it) or "size". `since` in microseconds, None = always; `issue` is the document's own revision.
    """

    characteristic: str
    reading: Literal["deviation", "size"]
    unit: str
    lower: int | None = None
    target: int | None = None
    upper: int | None = None
    build: str | None = None
    engine: str | None = None
    operation: str | None = None
    feature: str | None = None
    station: int | None = None
    clock: int | None = None
    state: str | None = None
    since: int | None = None
    issue: str | None = None
    said_by: str | None = None  # the row's column `source`: book, drawing, builder
    source: Source | None = None


@dataclass(frozen=True, slots=True)
class Event:
    """What happened to a machine or a gauge at a time; blank operation means all of that machine's."""

    event: str
    at: int
    machine: str | None = None
    gauge: str | None = None
    operation: str | None = None
    at_is_date: bool = False
    note: str | None = None
    source: Source | None = None


@dataclass(frozen=True, slots=True)
class Gauge:
    """One row of a gauge's history; lengths in ticks, dates in microseconds."""

    gauge: str
    kind: str | None = None
    resolution: int | None = None
    standard_uncertainty: int | None = None
    common_part: int | None = None
    unit: str | None = None
    calibrated_on: int | None = None
    due_on: int | None = None
    master: str | None = None
    value: int | None = None
    correction: int | None = None
    certificate: str | None = None
    source: Source | None = None


@dataclass(frozen=True, slots=True)
class Build:
    """One engine going through the shop; `engine` is its family."""

    build: str
    engine: str | None = None
    serial: str | None = None
    material: str | None = None
    received_on: int | None = None
    shipped_on: int | None = None
    note: str | None = None
    source: Source | None = None


@dataclass(frozen=True, slots=True)
class Machine:
    """One machine, from a date on."""

    machine: str
    kind: str | None = None
    since: int | None = None
    note: str | None = None
    source: Source | None = None


@dataclass(frozen=True, slots=True)
class PlanRow:
    """One position that a complete measurement has; blank feature means every feature of the build."""

    characteristic: str
    engine: str | None = None
    feature: str | None = None
    station: int | None = None
    clock: int | None = None
    state: str | None = None
    since: int | None = None
    issue: str | None = None
    source: Source | None = None


Record = Reading | Spec | Event | Gauge | Build | Machine | PlanRow


@dataclass(frozen=True, slots=True)
class Cell:
    """A cell that a finding names."""

    row: int
    column: str
    text: str
    sheet: str | None = None


@dataclass(frozen=True, slots=True)
class Finding:
    """A doubt about cells of a file: where, what is seen, why it is doubted, a proposal, what it changes."""

    severity: Severity
    code: str
    cells: tuple[Cell, ...]
    saw: str
    doubt: str
    proposal: str
    effect: str
    count: int = 0  # cells named; may be more than are listed

    @property
    def size(self) -> int:
        """Number of cells the finding is about."""
        return self.count or len(self.cells)


@dataclass(frozen=True, slots=True)
class Trace:
    """How an answer's figure came about: method, source, and the ids of the readings behind it."""

    method: str
    source: str
    readings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class HeldRow:
    """One row of a file kept out of the figures; `finding` is an index into the batch's findings.

    `reading` is what it would be if accepted, None where it could not be read; `fields` the row as read.
    """

    row: int
    sheet: str | None
    finding: int
    fields: tuple[tuple[str, str], ...]
    reading: Record | None = None


@dataclass(frozen=True, slots=True)
class Batch:
    """What a reader and the checks made of one file."""

    name: str
    sha256: str
    kind: str
    content: bytes
    rows: int
    records: tuple[Record, ...] = ()
    findings: tuple[Finding, ...] = ()
    held: tuple[HeldRow, ...] = ()


@dataclass(frozen=True, slots=True)
class Revision:
    """One write: number in the order of commit, UTC time, who, by which command, why."""

    number: int
    at: int
    by: str
    command: str
    reason: str | None = None


@dataclass(frozen=True, slots=True)
class Asked:
    """The filters of a question; empty tuples mean all. Times in microseconds, both ends included."""

    machine: tuple[str, ...] = ()
    operation: tuple[str, ...] = ()
    characteristic: tuple[str, ...] = ()
    method: tuple[str, ...] = ()
    state: tuple[str, ...] = ()
    feature: tuple[str, ...] = ()
    engine: tuple[str, ...] = ()
    build: tuple[str, ...] = ()
    gauge: tuple[str, ...] = ()
    since: int | None = None
    until: int | None = None
    as_of: int | None = None
    # as the person wrote it, for the head
    text: dict[str, object] = field(default_factory=dict, compare=False)
