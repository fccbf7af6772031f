"""One file read and typed, before it meets the store: its rows and what is noted about it as a whole."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from qc.ingest import sources, spread, traces
from qc.ingest.grid import Grid
from qc.ingest.kinds import KINDS, canonical
from qc.ingest.layout import Layout
from qc.ingest.line import Shop
from qc.ingest.rows import MARKS, Row, Table, tables, typed
from qc.ingest.times import form
from qc.ingest.words import MOST_CELLS
from qc.records import Cell, Finding, Reading

_ORDERS: Final = {"day_first": "the day first", "month_first": "the month first", "serial": "a count of days"}


@dataclass(frozen=True, slots=True)
class Parsed:
    """A file's kind, rows in the file's order, notes, and how its header writes our names of columns."""

    name: str
    sha256: str
    content: bytes
    kind: str
    rows: tuple[Row, ...]
    notes: tuple[Finding, ...]
    headers: dict[str, str]
    layouts: tuple[Layout, ...] = ()


def parsed(name: str, data: bytes, shop: Shop, sha256: str, layouts: Sequence[Layout] = ()) -> Parsed:
    """A file's rows; `layouts` tell what the cells of foreign sheets mean.

    Raises
    ------
    FileError
        When the file as a whole cannot be read.
    """
    traced = traces.read(data, name, shop, sha256, layouts)
    rest: list[Grid] = []
    if traced is None:
        told, rest = spread.read(sources.grids(data, name), shop, sha256, name, layouts)
    else:
        told = traced
    found, passed_over = tables(rest) if rest or not told.any else ([], [])
    rows = tuple(row for table in found for row in typed(table, shop, sha256)) + told.rows
    kinds = [k for k in KINDS if any(t.kind == k for t in found) or (k == "readings" and told.any)]
    headers = {c: h.strip() for t in found for h in t.header if (c := canonical(h)) is not None}
    passed_over = [*passed_over, *told.passed_over]
    notes = [*told.findings, *_unused(found), *_sheets(passed_over), *_dates(found, rows, shop)]
    notes += [*_marks(rows), *_out_of_sight(found)]
    return Parsed(name, sha256, data, "+".join(kinds), rows, tuple(notes), headers, told.layouts)


def _unused(found: Sequence[Table]) -> list[Finding]:
    cells = [Cell(t.number, h, h, t.grid.sheet) for t in found for h in t.unknown]
    if not cells:
        return []
    names = ", ".join(dict.fromkeys(c.text for c in cells))
    many = len({c.text for c in cells}) > 1
    return [
        Finding(
            "note", "unknown_column", tuple(cells),
            f"The column{'s' if many else ''} {names} {'are' if many else 'is'} not used.",
            "No file of this kind has a column of that name.", "Nothing, if it is no use here; or rename it.",
            "The cells stay in the file as kept; no figure uses them.",
        )
    ]  # fmt: skip


def _sheets(names: Sequence[str]) -> list[Finding]:
    if not names:
        return []
    return [
        Finding(
            "note", "sheet_not_read", tuple(Cell(1, "A", "", n) for n in names),
            f"The sheet{'s' if len(names) > 1 else ''} {', '.join(names)} "
            f"{'were' if len(names) > 1 else 'was'} not read.",
            "None of the first rows is a header we know.", "Nothing, if no readings stand there.",
            "Nothing of it is in the figures.",
        )
    ]  # fmt: skip


def _dates(found: Sequence[Table], rows: Sequence[Row], shop: Shop) -> list[Finding]:
    """Say once that dates were read as the shop's setting says."""
    if shop.date_order is None:
        return []
    wanted = "serial" if shop.date_order == "serial" else "day_or_month"
    columns = (
        "measured_at",
        "made_at",
        "at",
        "since",
        "received_on",
        "shipped_on",
        "calibrated_on",
        "due_on",
    )
    cells = [
        Cell(row.number, h, text, row.sheet)
        for row in rows
        for h, text in row.fields
        if canonical(h) in columns and form(text) == wanted
    ]
    if not cells:
        return []
    return [
        Finding(
            "note", "date_order", tuple(cells[:MOST_CELLS]), f"Dates are written like {cells[0].text}.",
            f"They were read with {_ORDERS[shop.date_order]}, as the shop's setting date_order says.",
            "Nothing, if that is right.", "The readings count at those times.", len(cells),
        )
    ]  # fmt: skip


def _out_of_sight(found: Sequence[Table]) -> list[Finding]:
    """Ask about hidden columns beside the values; a hidden column of values holds its rows."""
    cells = [
        Cell(t.number, t.header[i].strip(), t.header[i].strip(), t.grid.sheet)
        for t in found
        for i in sorted(t.grid.hidden_columns)
        if i < len(t.header) and canonical(t.header[i]) in KINDS[t.kind].columns
        and canonical(t.header[i]) != "value" and any(c[i].strip() for _, c in t.rows if i < len(c))
    ]  # fmt: skip
    if not cells:
        return []
    many = len(cells) > 1
    return [
        Finding(
            "ask", "columns_hidden", tuple(cells[:MOST_CELLS]),
            f"The column{'s' if many else ''} {', '.join(dict.fromkeys(c.text for c in cells))} "
            f"{'are' if many else 'is'} hidden in the workbook.",
            "Nobody checking the sheet sees what stands there, and it changes what the figures mean.",
            "Accept if it is right; otherwise discard the readings and correct the file.",
            "The rows count as read, hidden columns and all.", len(cells),
        )
    ]  # fmt: skip


def _marks(rows: Sequence[Row]) -> list[Finding]:
    """Ask about a file in which some values have a decimal point and some a comma."""
    own = (r for r in rows if MARKS not in r.names)  # others are written in a way that the file proves
    sources_ = [r.record.source for r in own if isinstance(r.record, Reading)]
    comma = [s for s in sources_ if "," in s.text]
    if not comma or len(comma) == len(sources_):
        return []
    point = [s for s in sources_ if "." in s.text]
    if not point:
        return []
    fewer = min((comma, point), key=len)
    cells = tuple(Cell(s.row, s.column, s.text, s.sheet) for s in fewer[:MOST_CELLS])
    return [
        Finding(
            "ask", "decimal_marks", cells,
            f"Values are written both like {comma[0].text} and like {point[0].text}.",
            "In one file one mark is usual; a comma can also part thousands.",
            f"Accept if {fewer[0].text} is read right; otherwise discard these cells and correct the file.",
            "They count as read, point and comma alike as the decimal mark.", len(fewer),
        )
    ]  # fmt: skip
