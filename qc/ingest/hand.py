"""Reader of foreign hand sheets whose meaning a layout tells: each value cell a reading."""

from collections.abc import Iterator, Mapping

from qc import units
from qc.errors import UnitError
from qc.ingest import beside, cellwise, draft, keys, logger, typed_numbers
from qc.ingest.cellwise import CellRead, Place, letters, row_of
from qc.ingest.kinds import folded
from qc.ingest.layout import ITEMS, Names, TableLayout
from qc.ingest.line import Doubt, unit_key
from qc.ingest.meaning import Sheet, converted, item_text, meaning, unit_in
from qc.ingest.rows import Row
from qc.records import Cell, Finding


def read(sheet: Sheet) -> CellRead:
    """Readings of a tab by its layout, and findings about what was left over."""
    rows: list[Row] = []
    said: list[Finding] = []
    covered: set[tuple[int, int]] = set()
    for log in sheet.layout.logs:
        told = logger.read(sheet, log)
        rows += told.rows
        said += told.findings
    for table in sheet.layout.tables:
        covered |= set(_covered(table))
        if table.missing:
            said.append(beside.layout_says_not(sheet.layout.name, table, sheet.cells))
            continue
        one = _Table(sheet, table)
        rows += one.rows()
        said += one.findings
    if sheet.layout.tables:
        said += beside.left_over(sheet.cells, covered, [t.values for t in sheet.layout.tables])
    return CellRead(tuple(rows), tuple(said))


def _covered(table: TableLayout) -> Iterator[tuple[int, int]]:
    blocks = [table.values, *(n.cells for n in table.lines.values())]
    blocks += [i.cell for i in (*table.items.values(), table.target) if i is not None and i.cell is not None]
    for one in blocks:
        yield from one.cells()


class _Table:
    """Reads one table of a tab."""

    def __init__(self, sheet: Sheet, table: TableLayout) -> None:
        self.sheet, self.table, self.cells = sheet, table, sheet.cells
        self.findings: list[Finding] = []
        self.common = {ITEMS[k]: item_text(i, sheet) for k, i in table.items.items()}
        self.common["unit"] = unit_in(self.common["unit"])
        self._aim = self._target_unit()
        self._against = self._heading_doubts()

    def _target_unit(self) -> str:
        try:
            unit = units.unit(self.common["unit"])
        except UnitError:
            return ""
        deviation = folded(self.common["reading"]) in ("deviation", "dev")
        return units.TARGET_UNIT.get(unit, unit) if deviation else unit

    def _heading_doubts(self) -> list[Doubt]:
        """What the headings above a table say against its layout: another unit, another state."""
        before = [t.values.bottom for t in self.sheet.layout.tables]
        first = max((b for b in before if b < self.table.values.top), default=0)
        above = [t for r, _, t in self.cells.filled() if first < r < self.table.values.top]
        doubts = []
        for key, named in (("unit", draft.units_named(above)), ("state", draft.states_named(above))):
            said = self.common.get(key, "")
            if named and said and _key(key, said) not in named and key + "s" not in self.table.lines:
                cause = f"{key} {said}|{' or '.join(named)}"
                doubts.append(Doubt("heading_contradicts", cause, key, said))
        return doubts

    def rows(self) -> list[Row]:
        """Readings of the table; cells that say that nothing was measured are noted."""
        found: list[Row] = []
        unmeasured: list[Cell] = []
        for row, column in self.table.values.cells():
            text = self.cells.text(row, column)
            empty = (row, column) in self.cells.grid.formulas
            if typed_numbers.not_measured(text):
                unmeasured.append(self.cells.cell(row, column))
            elif text or empty:
                found.append(self._row(row, column, text, empty))
        if unmeasured:
            self.findings.append(beside.not_measured(unmeasured))
        if folded(self.common["reading"]) in ("deviation", "dev"):
            return cellwise.hold_finer(found, self.common["unit"])
        return found

    def _row(self, row: int, column: int, text: str, empty: bool) -> Row:
        told = {**self.common, **self._placed(row, column), "value": text}
        doubts = list(self._against)
        if empty:
            doubts.append(Doubt("formula_without_value", "", letters(column), text))
        at = Place(self.cells.grid.sheet, row, letters(column), self.cells.grid.hidden_at(row, column))
        return row_of(self.sheet.shop, self.sheet.sha256, at, told, doubts)

    def _placed(self, row: int, column: int) -> dict[str, str]:
        """What a cell's row and column say of it."""
        told: dict[str, str] = {}
        for kind, names in self.table.lines.items():
            text = self._name(kind, names, row, column)
            if kind == "targets":
                told["target"] = converted(text, names.unit, self._aim)
            else:
                told[_COLUMNS[kind]] = text
        target = self.table.target
        if "target" not in told and target is not None and target.said:
            told["target"] = converted(item_text(target, self.sheet), target.unit, self._aim)
        return told

    def _name(self, kind: str, names: Names, row: int, column: int) -> str:
        block = names.cells
        at = column - block.left if names.across else row - block.top
        if not 0 <= at < block.size:
            return ""
        first = at - at % names.span
        if names.list:
            return meaning(kind, names, names.list[first // names.span])
        place = (block.top, block.left + first) if names.across else (block.top + first, block.left)
        text = self.cells.joined(*place)
        return meaning(kind, names, text) if text else ""


def _key(kind: str, text: str) -> str:
    found = unit_key(text) if kind == "unit" else keys.state(text)
    return found or text


_COLUMNS: Mapping[str, str] = {
    "features": "feature", "stations": "station_mm", "directions": "clock_deg", "order": "order",
    "states": "state",
}  # fmt: skip
