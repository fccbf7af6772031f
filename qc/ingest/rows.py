"""The cells of a file to typed rows: header found, columns named, each row a record or its doubts."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from typing import Final

from qc.errors import FileError
from qc.ingest.grid import Grid
from qc.ingest.kinds import KINDS, canonical, kind_of, missing_sentence
from qc.ingest.line import Doubt, Line, Shop
from qc.ingest.number_marks import Marks, from_said, marks
from qc.ingest.shop_records import TYPED
from qc.ingest.typed_numbers import decimals
from qc.records import Reading, Record

EXAMPLE: Final = "example:"  # a row of our templates whose first cell begins so is not read
CELL: Final = "cell"  # field of a row that is one cell of a sheet: the letters of its column
MARKS: Final = "number marks"  # field of a row whose table writes thousands with a mark: which ones
WRITTEN: Final = "as written"  # field of a row whose value was worked out from the cell: the cell's text
EXPLANATION: Final = "explanation:"  # so does the first cell of a template's sheet that is not to be read
_NUMBERS: Final = frozenset({
    "value", "target", "lower", "upper", "station_mm", "part_c", "gauge_c", "resolution",
    "standard_uncertainty", "common_part", "correction",
})  # fmt: skip
_HEADER_WITHIN: Final = 10  # rows in which a header is looked for


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a file: what it says, and the record it makes or the doubts that keep it from being one."""

    kind: str
    number: int
    sheet: str | None
    names: tuple[str, ...]
    cells: tuple[str, ...]
    record: Record | None
    doubts: tuple[Doubt, ...] = ()
    hidden: str = ""  # "row", "column" or "sheet"

    @property
    def fields(self) -> tuple[tuple[str, str], ...]:
        """The row as read: each column's name in the header, and its cell."""
        return tuple((n, c) for n, c in zip(self.names, self.cells, strict=False) if n)


@dataclass(frozen=True, slots=True)
class Table:
    """The rows of one sheet below its header, which stands in row `number`."""

    kind: str
    number: int
    header: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    grid: Grid

    @property
    def unknown(self) -> tuple[str, ...]:
        """Columns that we do not use."""
        used = KINDS[self.kind].columns
        return tuple(h.strip() for h in self.header if h.strip() and canonical(h) not in used)


def _header_at(grid: Grid) -> int | None:
    for i, (_, cells) in enumerate(islice(grid.rows, _HEADER_WITHIN)):
        if kind_of(cells) is not None:
            return i
    return None


def headed(grid: Grid) -> bool:
    """Whether a sheet has a header we know, so that each of its rows is one record."""
    return _header_at(grid) is not None


def _table(grid: Grid, at: int) -> Table:
    number, header = grid.rows[at]
    kind = kind_of(header)
    assert kind is not None
    named = [c for c in map(canonical, header) if c in KINDS[kind].columns]
    twice = sorted({c for c in named if named.count(c) > 1})
    if twice:
        raise FileError(
            f"the column {', '.join(twice)} stands twice in the header: rename or remove one of them"
        )
    return Table(kind, number, header, grid.rows[at + 1 :], grid)


def _explains(grid: Grid) -> bool:
    return bool(grid.rows) and grid.rows[0][1][0].strip().casefold().startswith(EXPLANATION)


def tables(grids: Sequence[Grid]) -> tuple[list[Table], list[str]]:
    """Tables of a file, and the names of sheets that are none of ours.

    Raises
    ------
    FileError
        When no sheet has a header we know, or one of them lacks a required column.
    """
    found, passed_over = [], []
    for grid in grids:
        if _explains(grid) or not grid.rows:
            continue
        at = _header_at(grid)
        if at is not None:
            found.append(_table(grid, at))
            continue
        _refuse_near_miss(grid)
        passed_over.append(grid.sheet or "")
    if not found:
        raise FileError(_nothing_known(grids))
    return found, passed_over


def _refuse_near_miss(grid: Grid) -> None:
    for _, cells in islice(grid.rows, _HEADER_WITHIN):
        sentence = missing_sentence(cells)
        if sentence:
            raise FileError(f"sheet {grid.sheet}: {sentence}" if grid.sheet else sentence)


def _nothing_known(grids: Sequence[Grid]) -> str:
    first = next((g.rows[0][1] for g in grids if g.rows and not _explains(g)), None)
    if first is None:
        return "the file is empty: nothing to read"
    seen = ", ".join(c.strip() for c in first if c.strip())[:200]
    wanted = ", ".join(KINDS["readings"].required)
    return f"no header we know: its first row reads {seen}; a readings file has {wanted} (see qc template)"


def lines(table: Table, shop: Shop, sha256: str) -> Iterator[tuple[Line, tuple[str, ...]]]:
    """Yield each row as a line, and its cells as written."""
    used = KINDS[table.kind].columns
    columns = [(i, c) for i, h in enumerate(table.header) if (c := canonical(h)) in used and c is not None]
    headers = {c: table.header[i].strip() for i, c in columns}
    width = len(table.header)
    for number, cells in table.rows:
        if cells[0].strip().casefold().startswith(EXAMPLE):
            continue
        stripped = [*map(str.strip, cells), *("" for _ in range(width - len(cells)))]
        texts = {c: stripped[i] for i, c in columns if stripped[i]}
        line = Line(shop, sha256, number, table.grid.sheet, texts, headers)
        beyond = [text for text in stripped[width:] if text]
        if beyond:
            # a decimal comma between commas makes one cell two: all that follows stands in the wrong column
            line.doubts.append(Doubt("too_many_cells", "", f"beyond {table.header[-1].strip()}", beyond[0]))
        yield line, cells


def typed(table: Table, shop: Shop, sha256: str) -> list[Row]:
    """Every row below the header, example rows and blank ones left out."""
    make, grid = TYPED[table.kind], table.grid
    names = tuple(h.strip() for h in table.header)
    way, out_of_sight, unworked = _marks(table), _value_hidden(table), _unworked(table)
    cut = _cut_off(table) if grid.unended else ()
    found = []
    for line, cells in lines(table, shop, sha256):
        line.marks = way
        record = make(line)
        doubts = _doubts(line, unworked.get(line.number, []))
        doubts += cut if line.number == table.rows[-1][0] else ()
        hidden = "sheet" if grid.hidden else "row" if line.number in grid.hidden_rows else out_of_sight
        record = None if doubts else record
        told, said = (names, cells) if way is None else _with_marks(names, cells, way)
        found.append(Row(table.kind, line.number, grid.sheet, told, said, record, doubts, hidden))
    return found


def _unworked(table: Table) -> dict[int, list[str]]:
    """Headers of the cells that hold a formula or an error and no figure, by row: they are no blank ones."""
    found: dict[int, list[str]] = {}
    for row, i in table.grid.formulas:
        # a note changes no figure: one that begins like a formula is text to whoever wrote it
        if i < len(table.header) and canonical(table.header[i]) not in (None, "note"):
            found.setdefault(row, []).append(table.header[i].strip())
    return found


def _doubts(line: Line, empty: Sequence[str]) -> tuple[Doubt, ...]:
    if not empty:
        return tuple(line.doubts)
    said = [Doubt("formula_without_value", "", h, "") for h in sorted(empty)]
    return (*said, *(d for d in line.doubts if d.column not in empty))


def _cut_off(table: Table) -> tuple[Doubt, ...]:
    """A doubt about the last figure of a file that may have been cut off in the middle of it."""
    if len(table.rows) < 3 or len(table.rows[-1][1]) != len(table.header):
        return ()
    *others, last = (cells[-1] for _, cells in table.rows if len(cells) == len(table.header))
    least = min((-1 if (d := decimals(text)) is None else d for text in others), default=-1)
    mine = decimals(last)
    if canonical(table.header[-1]) not in _NUMBERS or mine is None or mine >= least:
        return ()
    return (Doubt("perhaps_cut", "", table.header[-1].strip(), last.strip()),)


def _marks(table: Table) -> Marks | None:
    numbers = [i for i, h in enumerate(table.header) if canonical(h) in _NUMBERS]
    return marks(cells[i] for _, cells in table.rows for i in numbers if i < len(cells))


def _with_marks(
    names: tuple[str, ...], cells: tuple[str, ...], way: Marks
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    # read again after a decision, the row alone would not prove how its numbers are written
    filled = (*cells, *("" for _ in range(len(names) - len(cells))))[: len(names)]
    return (*names, MARKS), (*filled, way.said)


def _value_hidden(table: Table) -> str:
    seen = [canonical(h) for i, h in enumerate(table.header) if i not in table.grid.hidden_columns]
    return "" if table.kind != "readings" or "value" in seen else "column"


def retyped(row: Row, shop: Shop, sha256: str, changes: dict[str, str]) -> Row:
    """The same row read again, with other texts in some columns and what the shop says by now."""
    used = KINDS[row.kind].columns
    headers = {c: h for h, _ in row.fields if (c := canonical(h)) is not None and c in used}
    place = dict(row.fields).get(CELL)
    headers |= {"value": place} if place is not None else {}
    texts = {c: t.strip() for h, t in row.fields if (c := canonical(h)) is not None and c in used} | changes
    line = Line(shop, sha256, row.number, row.sheet, {c: t for c, t in texts.items() if t}, headers)
    way = dict(row.fields).get(MARKS)
    line.marks = from_said(way) if way else None
    record = TYPED[row.kind](line)
    doubts = tuple(line.doubts)
    written = dict(row.fields).get(WRITTEN)
    if written is not None and isinstance(record, Reading):
        record = replace(record, source=replace(record.source, text=written))
    return replace(row, record=None if doubts else record, doubts=doubts)
