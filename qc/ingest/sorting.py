"""What becomes of each row of a file: kept, held under one finding, or already kept."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from qc.ingest import checks, doubted, identity, words
from qc.ingest.kinds import canonical
from qc.ingest.line import Doubt
from qc.ingest.plausible import limits, registry
from qc.ingest.plausible.scene import Scene, Suspicion
from qc.ingest.rows import CELL, Row
from qc.ingest.specified import Said
from qc.records import Finding, HeldRow, Reading, Spec

# fields of a held row that begin so are not the file's: what `correct` takes, what was corrected before
PROPOSED = "proposed "
CORRECTED = "corrected "
_NONE: Mapping[int, Doubt] = {}


@dataclass(slots=True)
class Sorted:
    """The rows of one file, sorted.

    said : what a plausibility check says of the rows it holds, by code and cause
    marked : what such checks say of rows that count
    """

    kept: list[Row] = field(default_factory=list)
    already: list[Row] = field(default_factory=list)
    holding: list[Row] = field(default_factory=list)
    said: dict[tuple[str, str], Suspicion] = field(default_factory=dict)
    marked: list[tuple[Suspicion, list[tuple[Row, Doubt]]]] = field(default_factory=list)

    def hold(self, row: Row, *doubts: Doubt) -> None:
        """Hold a row for these doubts, the first of which decides about it."""
        self.holding.append(replace(row, doubts=doubts))

    def findings(self) -> tuple[list[Finding], list[HeldRow]]:
        """Findings of the held rows, in the order in which they first occur, and the rows."""
        groups = words.grouped(self.holding)
        number = {key: i for i, key in enumerate(groups)}
        said = [
            registry.finding(self.said[key], pairs) if key in self.said else doubted.finding(key[0], pairs)
            for key, pairs in groups.items()
        ]
        held = [
            HeldRow(r.number, r.sheet, number[r.doubts[0].code, r.doubts[0].cause], told_fields(r), r.record)
            for r in self.holding
        ]
        counts = {id(row) for row in self.kept}
        for doubt, pairs in self.marked:
            left = [(row, d) for row, d in pairs if id(row) in counts]
            if left:
                said.append(registry.finding(doubt, left))
        return said, held


def told_fields(row: Row) -> tuple[tuple[str, str], ...]:
    """A row as read, and what is proposed for its cells."""
    proposed = [(PROPOSED + d.column, d.proposal) for d in row.doubts if d.proposal]
    return row.fields + tuple(proposed)


def _hidden(row: Row) -> Doubt:
    text = row.fields[0][1] if row.fields else ""
    column = row.fields[0][0] if row.fields else ""
    if row.hidden == "sheet":
        return Doubt("hidden_sheet", row.sheet or "", column, text)
    if row.hidden == "column":
        told = dict(row.fields)
        value = next((h for h in told if canonical(h) == "value"), "value")
        letters = told.get(CELL, value)
        return Doubt("hidden_column", letters, letters, told.get(value, ""))
    return Doubt("hidden_row", "", column, text)


def unread(rows: Iterable[Row], found: Sorted) -> list[Row]:
    """Hold the rows of which a cell cannot be read; the others."""
    left = []
    for row in rows:
        if row.record is None:
            found.hold(row, *row.doubts)
        else:
            left.append(row)
    return left


def hidden(rows: Iterable[Row], found: Sorted) -> list[Row]:
    """Hold the rows that nobody sees; the others."""
    left = []
    for row in rows:
        if row.hidden:
            found.hold(row, _hidden(row))
        else:
            left.append(row)
    return left


def readings_of(rows: Iterable[Row]) -> list[Reading]:
    """The readings among the records of rows."""
    return [r.record for r in rows if isinstance(r.record, Reading)]


def already_known(
    rows: Sequence[Row], known: Sequence[Sequence[identity.Version]], found: Sorted
) -> list[tuple[Row, Doubt | None]]:
    """Leave out the rows that are already kept; the others, each with what stands against it.

    Parameters
    ----------
    rows : sequence of Row
        All with a reading.
    known : sequence, one an entry of `rows`
        What the store knows at each place.
    """
    left: list[tuple[Row, Doubt | None]] = []
    seen: dict[tuple[object, ...], list[Reading]] = {}
    for row, versions in zip(rows, known, strict=True):
        reading = row.record
        assert isinstance(reading, Reading)
        here = seen.setdefault(reading.place, [])
        verdict = identity.against(reading, versions)
        if verdict is False and here:
            verdict = identity.against(reading, here, "file")
        here.append(reading)
        if verdict is True:
            found.already.append(row)
        else:
            left.append((row, verdict or None))
    return left


def doubt_sizes(
    rows: Sequence[tuple[Row, Doubt | None]],
    answers: Mapping[int, Said],
    kept: Iterable[Reading],
    found: Sorted,
    settled: frozenset[str] = frozenset(),
    later: dict[int, Doubt] | None = None,
) -> list[tuple[Row, Doubt | None]]:
    """Hold deviations without any target and sizes far from theirs; the others.

    Parameters
    ----------
    rows : sequence of (Row, Doubt or None)
    answers : mapping of id() of a reading to what the specifications say of it
    kept : iterable of Reading
        Counting readings of the same builds, for the median of a block.
    settled : frozenset of str
        Codes a person has decided about for these rows.
    later : dict, optional
        Takes the doubts, by id() of the row, on sizes that are far off without being another unit: such rows
        are among the others, as a plausibility check may explain them better.
    """
    readings = readings_of(r for r, _ in rows)
    middles = checks.medians([*readings, *kept])
    left = []
    for row, against in rows:
        reading = row.record
        assert isinstance(reading, Reading)
        target = answers[id(reading)].target
        source = reading.source
        far = None
        if reading.relative and target is None and "no_target" not in settled:
            far = Doubt("no_target", reading.characteristic, source.column, source.text)
        elif "far_from_target" not in settled:
            far = checks.far_from_target(reading, target, middles.get(checks.block_of(reading)))
        if far is not None and later is not None and checks.unexplained(far):
            later[id(row)] = far
            far = None
        if far is None:
            left.append((row, against))
        else:
            found.hold(row, far)
    return left


def doubt_plausibility(
    rows: Sequence[tuple[Row, Doubt | None]], at: Scene, found: Sorted, later: Mapping[int, Doubt] = _NONE
) -> list[tuple[Row, Doubt | None]]:
    """Hold what the plausibility checks stop, note what they ask about; the others.

    A row that reads otherwise than an earlier one of this file, which a check now holds, is the one to keep.

    Parameters
    ----------
    rows : sequence of (Row, Doubt or None)
        All with a reading, those of the scene in its order.
    later : mapping of id() of a row to a doubt
        Holds a row that no check has held.
    """
    held = _noted(registry.judged(at), at.lines, found)
    left = []
    for i, (row, against) in enumerate(rows):
        if i in held:
            continue
        if id(row) in later:
            found.hold(row, later[id(row)])
        else:
            left.append((row, against))
    return _first_again(left) if held else left


def _first_again(rows: Sequence[tuple[Row, Doubt | None]]) -> list[tuple[Row, Doubt | None]]:
    """The rows, without doubts that stood only against rows of this file that are held now."""
    seen: set[tuple[object, ...]] = set()
    left: list[tuple[Row, Doubt | None]] = []
    for row, against in rows:
        place = row.record.place if isinstance(row.record, Reading) else ()
        if against is not None and against.cause == "file" and place not in seen:
            against = None
        seen.add(place)
        left.append((row, against))
    return left


def doubt_limits(rows: Sequence[Row], known: Sequence[Spec], found: Sorted) -> list[Row]:
    """Hold limits that cannot be meant, note those that are strange; the others.

    Parameters
    ----------
    rows : sequence of Row
        All with a Spec.
    known : sequence of Spec
        Those in force.
    """
    held = _noted(limits.doubts(rows, known), rows, found) if rows else set()
    return [row for i, row in enumerate(rows) if i not in held]


def _noted(doubts: Iterable[Suspicion], lines: Sequence[Row], found: Sorted) -> set[int]:
    """Positions of the rows that were held; what is only asked about is marked."""
    held: set[int] = set()
    for doubt in doubts:
        pairs = registry.pairs(lines, doubt)
        if doubt.severity != "stop":
            found.marked.append((doubt, pairs))
            continue
        found.said[doubt.code, doubt.cause] = doubt
        held |= set(doubt.rows)
        for row, why in pairs:
            found.hold(row, why)
    return held


def doubt_identity(
    rows: Sequence[tuple[Row, Doubt | None]],
    kept: Iterable[Reading],
    found: Sorted,
    settled: frozenset[str] = frozenset(),
) -> list[Row]:
    """Hold what reads otherwise than we know, or repeats a sheet; the others."""
    new = []
    for row, against in rows:
        if against is not None and against.code not in settled:
            found.hold(row, against)
        else:
            new.append(row)
    if "perhaps_again" in settled:
        return new
    again = identity.perhaps_again(readings_of(new), kept)
    left = []
    for i, row in enumerate(new):
        if i in again:
            found.hold(row, again[i])
        else:
            left.append(row)
    return left
