"""Reader of XLSX workbooks: every sheet's cells as the text that a person would have typed for them."""

from datetime import date, datetime, time, timedelta
from io import BytesIO

from python_calamine import CalamineError, CalamineWorkbook

from qc.errors import FileError
from qc.ingest import visibility
from qc.ingest.grid import Grid, bounded

Value = bool | int | float | str | date | datetime | time | timedelta | None


def claims(head: bytes, name: str) -> bool:
    """Whether a file is ours to read: packed, as XLSX is; its name does not matter."""
    return head.startswith(b"PK\x03\x04")


def _moment(at: datetime) -> str:
    # a workbook stores days as a binary fraction: what was typed as 08:15 may come back a microsecond short
    rounded = at + timedelta(microseconds=500)
    rounded = rounded.replace(microsecond=rounded.microsecond // 1000 * 1000)
    return rounded.isoformat(timespec="milliseconds" if rounded.microsecond else "seconds")


def _text(value: Value) -> str:
    if value is None or isinstance(value, str):
        return value or ""
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, int | float):
        return format(value, ".15g")  # the digits a workbook itself keeps and shows
    if isinstance(value, datetime):
        return _moment(value)
    return value.isoformat() if isinstance(value, date | time) else str(value)


def _grid(book: CalamineWorkbook, sheet: visibility.Sheet) -> Grid:
    raw = book.get_sheet_by_name(sheet.name).to_python(skip_empty_area=False)
    rows = []
    longest = 0
    for number, values in enumerate(raw, start=1):
        texts = tuple(_text(v) for v in values)
        if any(t.strip() for t in texts):
            longest = max(longest, max(map(len, texts)))
            rows.append((number, texts))
    bounded(1, 1, longest, f"sheet {sheet.name}")
    there = dict(rows)
    empty = {(r, c) for r, c in sheet.formulas if not "".join(there.get(r, ())[c : c + 1]).strip()}
    return Grid(
        tuple(rows), sheet.name, sheet.hidden_rows, sheet.hidden, sheet.hidden_columns, sheet.merged,
        frozenset(empty),
    )  # fmt: skip


def cells(data: bytes) -> list[Grid]:
    """Cells of every sheet, rows numbered as the sheet shows them.

    Raises
    ------
    FileError
        No workbook, damaged, with a password, or beyond the bounds.
    """
    seen = visibility.sheets(data)
    if not seen:
        raise FileError("the workbook has no sheet with cells: save it again as XLSX")
    for sheet in seen:
        bounded(sheet.rows, sheet.columns, 0, f"sheet {sheet.name}")
    try:
        book = CalamineWorkbook.from_filelike(BytesIO(data))
        return [_grid(book, sheet) for sheet in seen if sheet.rows]
    except CalamineError as fault:
        raise FileError(f"the workbook is damaged ({fault}): open it and save it again as XLSX") from None
