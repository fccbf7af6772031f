"""Sheets in which every cell is a reading of its own: their cells to rows like those of a readings file."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from qc.ingest.line import Doubt, Line, Shop
from qc.ingest.readings import reading
from qc.ingest.rows import CELL, Row
from qc.ingest.typed_numbers import finer_than_others
from qc.records import Finding

# a doubt about the number itself says which cells it is about: their columns differ
_RECODED: Final = {"not_a_number": "not_a_reading"}


@dataclass(frozen=True, slots=True)
class CellRead:
    """What a sheet's cells tell: rows, and findings about what is no reading."""

    rows: tuple[Row, ...] = ()
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class Place:
    """Where a cell stands: sheet, row from 1, letters of its column, and whether anybody sees it."""

    sheet: str | None
    number: int
    column: str
    hidden: str = ""


def letters(index: int) -> str:
    """Letters of a column from its number, 0 = A."""
    said = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        said = chr(65 + rest) + said
    return said


def row_of(shop: Shop, sha256: str, at: Place, texts: Mapping[str, str], doubts: Sequence[Doubt] = ()) -> Row:
    """A cell as a row of a readings file.

    Parameters
    ----------
    texts : mapping
        Texts by our names of columns, `value` being the cell's own.
    doubts : sequence of Doubt
        What stands against the cell already; it is held for the first of them.
    """
    filled = {name: text.strip() for name, text in texts.items() if text.strip()}
    line = Line(shop, sha256, at.number, at.sheet, filled, {"value": at.column})
    record = reading(line)
    settled = {d.column for d in doubts}
    found = [*doubts, *(_recoded(d, at.column) for d in line.doubts if d.column not in settled)]
    return Row(
        "readings", at.number, at.sheet, (*filled, CELL), (*filled.values(), at.column),
        None if found else record, tuple(found), at.hidden,
    )  # fmt: skip


def _recoded(doubt: Doubt, column: str) -> Doubt:
    if doubt.column != column:
        return doubt
    return replace(doubt, code=_RECODED.get(doubt.code, doubt.code))


def hold_finer(rows: Sequence[Row], unit: str) -> list[Row]:
    """The rows, those held that have more decimals than people write beside the others."""
    texts = [dict(r.fields).get("value", "") for r in rows]
    fine = finer_than_others(texts, unit)
    return [_held(r) if f and r.record is not None else r for r, f in zip(rows, fine, strict=True)]


def _held(row: Row) -> Row:
    told = dict(row.fields)
    return replace(row, record=None, doubts=(Doubt("odd_decimals", "", told[CELL], told["value"]),))
