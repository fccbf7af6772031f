"""Reader of our own bench sheets: every filled cell a reading, whatever was typed over around it."""

from collections.abc import Iterator
from dataclasses import dataclass, field

from qc.errors import NumberError
from qc.ingest import bench_key, bench_sheet, beside, cellwise, keys, typed_numbers
from qc.ingest.cellwise import CellRead, Place, letters, row_of
from qc.ingest.grid import Grid
from qc.ingest.line import Doubt, Shop, number_ticks
from qc.ingest.rows import Row
from qc.records import Cell, Finding
from qc.units import TARGET_UNIT, number

_LABELS = dict(bench_sheet.FILL_IN)


def claims(grid: Grid) -> bool:
    """Whether a sheet is one of ours, however much was typed over."""
    return any(c.strip().startswith(bench_key.MARK) for _, cells in grid.rows for c in cells)


@dataclass(slots=True)
class _Table:
    """One table's rows by what their key says; `at` is the column in which the keys stand."""

    key: bench_key.TableKey | None
    at: int
    number: int
    heading: list[Cell] = field(default_factory=list)
    keyed: dict[str, tuple[int, tuple[str, ...]]] = field(default_factory=dict)
    places: list[tuple[int, str, str, tuple[str, ...]]] = field(default_factory=list)
    added: list[Cell] = field(default_factory=list)


def read(grid: Grid, shop: Shop, sha256: str) -> CellRead:
    """Rows of a sheet, and findings about what was typed beside its cells."""
    tables, stray = _tables(grid)
    rows: list[Row] = []
    said: list[Finding] = []
    added: list[Cell] = []
    for table in tables:
        if table.key is None:
            said.append(beside.key_spoilt(table.added))
            continue
        one = _Reader(grid, shop, sha256, table, table.key)
        rows += one.rows()
        said += one.findings
        added += one.added
    said += beside.added(added, stray)
    return CellRead(tuple(rows), tuple(said))


def _tables(grid: Grid) -> tuple[list[_Table], list[Cell]]:
    """Tables in the sheet's order, and cells that stand above them."""
    found: list[_Table] = []
    stray: list[Cell] = []
    for row in grid.rows:
        number_, cells = row
        at = next((i for i, c in enumerate(cells) if c.strip().startswith(bench_key.MARK)), None)
        if at is not None:
            found.append(_Table(bench_key.table(cells[at]), at, number_))
            found[-1].heading = [c for c in _cells(grid, row) if not c.text.startswith(bench_key.MARK)]
            if found[-1].key is None:
                found[-1].added += _cells(grid, row)
        elif not found:
            stray += _cells(grid, row)
        else:
            _into(found[-1], grid, row)
    return found, stray


def _cells(grid: Grid, row: tuple[int, tuple[str, ...]]) -> list[Cell]:
    return [Cell(row[0], letters(i), c.strip(), grid.sheet) for i, c in enumerate(row[1]) if c.strip()]


def _into(table: _Table, grid: Grid, row: tuple[int, tuple[str, ...]]) -> None:
    number_, cells = row
    key = cells[table.at].strip() if table.at < len(cells) else ""
    place = bench_key.placed(key)
    known = key in (bench_key.COLUMNS, bench_key.HEAD, bench_key.WORDS, *bench_key.ROWS)
    if table.key is None or not (place or known or key.startswith(bench_key.FILLED)):
        table.added += _cells(grid, row)
    elif place:
        table.places.append((number_, *place, cells))
    elif key in table.keyed:
        table.added += _cells(grid, (number_, ("",) * (table.at + 1) + cells[table.at + 1 :]))
    else:
        table.keyed[key] = (number_, cells)


class _Reader:
    """Reads one table whose key is whole."""

    def __init__(self, grid: Grid, shop: Shop, sha256: str, table: _Table, key: bench_key.TableKey) -> None:
        self.grid, self.shop, self.sha256, self.table, self.key = grid, shop, sha256, table, key
        self.findings: list[Finding] = []
        self.added = list(table.added)
        self.columns: dict[int, tuple[str, dict[str, str]]] = {}
        self.notes_at: int | None = None
        self._over: dict[str, list[tuple[Cell, str]]] = {n: [] for n in ("target", "lower", "upper")}
        self._unmeasured: list[Cell] = []
        self._find_columns()
        self.first = min(self.columns, default=table.at + 1)

    def _find_columns(self) -> None:
        _, cells = self.table.keyed.get(bench_key.COLUMNS, (0, ()))
        for i, text in enumerate(cells):
            told = bench_key.columned(text)
            if told is not None:
                self.columns[i] = told
            elif text.strip() == bench_key.NOTE and i > self.table.at:
                self.notes_at = i

    def rows(self) -> list[Row]:
        """Readings of the table; what stands beside them is in `added` and `findings`."""
        common = self._common()
        against = self._heading_doubts()
        by_column = {i: self._column(i) for i in self.columns}
        self._extras()
        found, read = [], set()
        for n, station, clock, cells in self.table.places:
            doubts = against + self._label_doubts(n, station, clock, cells)
            row_note = self._note(n, cells)
            for i, text in self._values(n, cells):
                texts, mine = by_column[i]
                told = {**common, **texts, "station_mm": station, "clock_deg": clock, "value": text}
                told["note"] = "; ".join(x for x in (texts.get("note", ""), row_note) if x)
                at = Place(self.grid.sheet, n, letters(i), self.grid.hidden_at(n, i))
                found.append(row_of(self.shop, self.sha256, at, told, [*doubts, *mine]))
                read |= {n, -1 - i}
        self._notes_without_reading(read)
        self.findings += self._said()
        return cellwise.hold_finer(found, self.key.unit) if self.key.reading == "deviation" else found

    def _said(self) -> list[Finding]:
        said = [beside.typed_over(cells, n, n == "target") for n, cells in self._over.items() if cells]
        return said + ([beside.not_measured(self._unmeasured)] if self._unmeasured else [])

    def _common(self) -> dict[str, str]:
        told = dict(self.key.fields)
        for name in _LABELS:
            n, cells = self.table.keyed.get(bench_key.FILLED + name, (0, ()))
            filled = [(i, c.strip()) for i, c in enumerate(cells) if i >= self.first and c.strip()]
            if filled:
                told[name] = filled[0][1]
                self.added += [Cell(n, letters(i), c, self.grid.sheet) for i, c in filled[1:]]
        return told

    def _heading_doubts(self) -> list[Doubt]:
        title = self.table.heading[0].text if self.table.heading else ""
        self.added += self.table.heading[1:]
        if title == bench_sheet.title(self.key):
            return []
        if not title.startswith(self.key.build) or title[len(self.key.build) :][:1].isalnum():
            cause = f"build {self.key.build}|{title or 'nothing'}"
            return [Doubt("bench_contradicts", cause, letters(self.table.at + 1), title)]
        self.added.append(self.table.heading[0])
        return []

    def _column(self, i: int) -> tuple[dict[str, str], list[Doubt]]:
        """Texts that hold for a column of readings, and what speaks against it."""
        feature, given = self.columns[i]
        texts, doubts = {"feature": feature}, []
        n, head = self._keyed(bench_key.HEAD, i)
        other = keys.feature(head) if head else None
        if other is not None and other != feature:
            doubts.append(Doubt("bench_contradicts", f"{feature}|{head}", letters(i), head))
        elif head and other is None:
            self.added.append(Cell(n, letters(i), head, self.grid.sheet))
        for name in ("target", "order", "note"):
            texts[name] = self._keyed(name, i)[1]
        self._typed_over(i, given)
        return texts, doubts

    def _keyed(self, key: str, i: int) -> tuple[int, str]:
        n, cells = self.table.keyed.get(key, (0, ()))
        return n, cells[i].strip() if i < len(cells) else ""

    def _typed_over(self, i: int, given: dict[str, str]) -> None:
        aim = TARGET_UNIT.get(self.key.unit, self.key.unit)
        for name, before in given.items():
            n, text = self._keyed(name, i)
            unit = aim if name == "target" and self.key.reading == "deviation" else self.key.unit
            if not before and not text or not n:
                continue
            if not before or not text or number_ticks(text, unit) != number_ticks(before, unit):
                cell = Cell(n, letters(i), text, self.grid.sheet)
                self._over[name].append((cell, before))

    def _label_doubts(self, n: int, station: str, clock: str, cells: tuple[str, ...]) -> list[Doubt]:
        labels = [(i, cells[i].strip()) for i in range(self.table.at + 1, min(self.first, len(cells)))]
        wanted = [number(t) for t in (station, clock) if t]
        doubts = []
        for i, text in labels:
            if not text:
                continue
            try:
                seen = number(text)
            except NumberError:
                self.added.append(Cell(n, letters(i), text, self.grid.sheet))
                continue
            if seen in wanted:
                wanted.remove(seen)
            else:
                place = ", ".join(x for x in (station and f"{station} mm", clock and f"{clock} deg") if x)
                doubts.append(Doubt("bench_contradicts", f"{place or 'no depth'}|{text}", letters(i), text))
        return doubts

    def _note(self, n: int, cells: tuple[str, ...]) -> str:
        at = self.notes_at
        return cells[at].strip() if at is not None and at < len(cells) else ""

    def _values(self, n: int, cells: tuple[str, ...]) -> Iterator[tuple[int, str]]:
        for i, text in enumerate(cells):
            cell = Cell(n, letters(i), text.strip(), self.grid.sheet)
            if not text.strip() or i < self.first or i == self.notes_at:
                continue
            if i not in self.columns:
                self.added.append(cell)
            elif typed_numbers.not_measured(text):
                self._unmeasured.append(cell)
            else:
                yield i, text.strip()

    def _extras(self) -> None:
        """Note what stands in keyed rows beside their own cells."""
        for key, (n, cells) in self.table.keyed.items():
            for i, text in enumerate(cells):
                if i <= self.table.at or not text.strip() or i in self.columns or i == self.notes_at:
                    continue
                if key == bench_key.COLUMNS or (i < self.first and self._ours(key, text.strip())):
                    continue
                if not (key.startswith(bench_key.FILLED) and i >= self.first):
                    self.added.append(Cell(n, letters(i), text.strip(), self.grid.sheet))

    def _ours(self, key: str, text: str) -> bool:
        """Whether a label is one that we wrote."""
        if key == bench_key.WORDS:
            return text == bench_sheet.how(self.key)
        return text in bench_sheet.labels(key, self.key)

    def _notes_without_reading(self, read: set[int]) -> None:
        n, cells = self.table.keyed.get(bench_key.NOTE, (0, ()))
        lonely = [Cell(n, letters(i), cells[i].strip(), self.grid.sheet) for i in self.columns
                  if i < len(cells) and cells[i].strip() and -1 - i not in read]  # fmt: skip
        for n, _, _, cells in self.table.places:
            text = self._note(n, cells)
            if text and n not in read:
                lonely.append(Cell(n, letters(self.notes_at or 0), text, self.grid.sheet))
        self.added += lonely
