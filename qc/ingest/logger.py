"""Reader of gauge loggers' lists by a layout: one reading a row, whose order alone says what it is about."""

from decimal import Decimal
from typing import Final

from qc import units
from qc.errors import NumberError, TimeError
from qc.ingest import beside, times
from qc.ingest.cellwise import CellRead, Place, letters, row_of
from qc.ingest.kinds import folded
from qc.ingest.layout import ITEMS, LogLayout
from qc.ingest.line import Doubt, unit_key
from qc.ingest.meaning import Sheet, converted, item_text, unit_in
from qc.ingest.rows import Row

_TOGETHER: Final = 2_000_000  # two presses within 2 s with one value are likely one reading [us]
_ZEROED: Final = 10 * 1000 * units.TICKS_PER_UM  # a size below 10 mm is the gauge set to zero [ticks]


def read(sheet: Sheet, log: LogLayout) -> CellRead:
    """Readings of a list, or the finding that says why its order cannot be trusted."""
    cells = sheet.cells
    if log.missing:
        keys = ", ".join(log.missing)
        why = f"the layout {sheet.layout.name} does not say its {keys}"
        return _unread(sheet, log, _rows(sheet, log), why, f"Write {keys} into the layout.")
    rows = _rows(sheet, log)
    doubt = _suspects(sheet, log, rows)
    if len(rows) != len(log.order):
        count = f"it has {len(rows)} readings where the layout's order has {len(log.order)}"
        doubt = f"{count}; {doubt}" if doubt else count
    if doubt:
        cure = "Correct the list (double presses, zero settings) or the layout, and take it in again."
        return _unread(sheet, log, rows, doubt, cure)
    common = {ITEMS[k]: item_text(i, sheet) for k, i in log.items.items()}
    found = [_row(sheet, log, common, n, spot) for n, spot in zip(rows, log.order, strict=True)]
    others = [r for r in range(log.first, cells.last_row + 1) if cells.text(r, log.value) and r not in rows]
    said = () if not others else (beside.other_channels(cells, [(r, log.value) for r in others], log.only),)
    return CellRead(tuple(found), said)


def _rows(sheet: Sheet, log: LogLayout) -> list[int]:
    """Rows with a value, of the channel that is read."""
    cells = sheet.cells
    return [
        row
        for row in range(log.first, cells.last_row + 1)
        if cells.text(row, log.value) and (log.channel is None or cells.text(row, log.channel) == log.only)
    ]


def _unread(sheet: Sheet, log: LogLayout, rows: list[int], why: str, cure: str) -> CellRead:
    return CellRead((), (beside.unread_log(sheet.cells, [(r, log.value) for r in rows], why, cure),))


def _suspects(sheet: Sheet, log: LogLayout, rows: list[int]) -> str:
    """Double presses and zero settings in words, blank where none is seen."""
    double = [b for a, b in zip(rows, rows[1:], strict=False) if _pressed_twice(sheet, log, a, b)]
    zeroed = [r for r in rows if _zeroed(sheet, log, r)]
    said = []
    if double:
        said.append(f"row{'s' if len(double) > 1 else ''} {_listed(double)} repeat the one before within 2 s")
    if zeroed:
        said.append(f"row{'s' if len(zeroed) > 1 else ''} {_listed(zeroed)} read like the gauge set to zero")
    return "; ".join(said)


def _listed(rows: list[int]) -> str:
    return ", ".join(map(str, rows[:6])) + (f" and {len(rows) - 6} more" if len(rows) > 6 else "")


def _when(sheet: Sheet, log: LogLayout, row: int) -> str:
    return " ".join(filter(None, (sheet.cells.text(row, c) for c in log.times)))


def _pressed_twice(sheet: Sheet, log: LogLayout, first: int, second: int) -> bool:
    if sheet.cells.text(first, log.value) != sheet.cells.text(second, log.value):
        return False
    try:
        ends = [
            times.parse_at(_when(sheet, log, row), sheet.shop.zone, sheet.shop.date_order or "day_first")[0]
            for row in (first, second)
        ]
    except TimeError:
        return False
    return bool(log.times) and abs(ends[1] - ends[0]) <= _TOGETHER


def _zeroed(sheet: Sheet, log: LogLayout, row: int) -> bool:
    """Whether a size is so small that the gauge was being set; deviations do not tell."""
    item = log.items.get("reading")
    unit = unit_key(_unit(sheet, log, row))
    if item is None or item_text(item, sheet) != "size" or unit is None or units.kind(unit) != "length":
        return False
    try:
        size = units.ticks(units.number(sheet.cells.text(row, log.value)), unit)
    except NumberError:
        return False
    return abs(Decimal(size)) < _ZEROED


def _unit(sheet: Sheet, log: LogLayout, row: int) -> str:
    if log.unit is not None:
        return sheet.cells.text(row, log.unit)
    item = log.items.get("unit")
    return unit_in(item_text(item, sheet)) if item is not None else ""


def _row(sheet: Sheet, log: LogLayout, common: dict[str, str], row: int, spot: tuple[str, str, str]) -> Row:
    flag = _unit(sheet, log, row)
    unit = common.get("unit") or flag
    feature, station, clock = spot
    told = {**common, "feature": feature, "station_mm": station, "clock_deg": clock, "unit": unit}
    told["value"] = sheet.cells.text(row, log.value)
    if log.times:
        told["measured_at"] = _when(sheet, log, row)
    if log.target is not None and log.target.said:
        key = unit_key(unit) or ""
        aim = units.TARGET_UNIT.get(key, key) if folded(common["reading"]) in ("deviation", "dev") else key
        told["target"] = converted(item_text(log.target, sheet), log.target.unit, aim)
    grid = sheet.cells.grid
    doubts = []
    if log.unit is not None and unit_key(unit) != unit_key(flag):
        cause = f"unit {unit}|{flag or 'nothing'}"
        doubts.append(Doubt("heading_contradicts", cause, letters(log.unit), flag))
    place = Place(grid.sheet, row, letters(log.value), grid.hidden_at(row, log.value))
    return row_of(sheet.shop, sheet.sha256, place, told, doubts)
