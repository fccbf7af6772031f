"""What a decision about a doubt would change: each cell as written and as proposed, and both verdicts."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from qc import units
from qc.catalogue import CATALOGUE
from qc.errors import FileError
from qc.ingest import sources
from qc.ingest.addresses import column_index
from qc.ingest.desk import Desk
from qc.ingest.grid import Grid
from qc.ingest.kinds import canonical
from qc.ingest.rows import CELL, Row, retyped
from qc.ingest.specified import Said, said
from qc.ingest.taking import Waiting, waiting_rows
from qc.records import Reading
from qc.store import Store

MOST: Final = 200  # rows shown of one finding
_ABOVE, _BELOW, _LEFT, _WIDE = 3, 8, 6, 9  # rows and columns of the file shown around the first such cell


@dataclass(frozen=True, slots=True)
class Read:
    """A row as a reading would count: its size, distance from target, and whether it is inside its limits.

    value, deviation : in the row's own unit; None where the text cannot be read, or no target is known
    verdict : conforms, does_not_conform, or None where no limits are known
    """

    value: float | None
    deviation: float | None
    unit: str
    verdict: str | None


@dataclass(frozen=True, slots=True)
class Changed:
    """One held row: where it stands, its text, what is proposed, and how each would count."""

    sheet: str | None
    row: int
    column: str
    about: str
    text: str
    proposed: str
    as_written: Read
    as_proposed: Read | None


def changes(store: Store, finding_id: int) -> list[Changed]:
    """The rows that a finding holds, as they are and as proposed; at most `MOST` of them."""
    waiting = waiting_rows(store, finding_id)[:MOST]
    shop = Desk(store, by="", command="").shop
    proposed = [
        retyped(w.row, shop, w.sha256, _ours(w)) if w.proposed and _ours(w) else None for w in waiting
    ]
    both: list[Row | None] = [*(w.row for w in waiting), *proposed]
    there = [row.record for row in both if row is not None and isinstance(row.record, Reading)]
    answers = dict(zip(map(id, there), said(there, store.specs(), store.builds()), strict=True))
    return [
        _changed(w, _read(w.row, answers), None if row is None else _read(row, answers))
        for w, row in zip(waiting, proposed, strict=True)
    ]


def _ours(waiting: Waiting) -> dict[str, str]:
    """Proposed texts by our own names of columns."""
    cell = dict(waiting.row.fields).get(CELL)
    named = {("value" if h == cell else canonical(h)): text for h, text in waiting.proposed.items()}
    return {name: text for name, text in named.items() if name is not None}


def _changed(waiting: Waiting, written: Read, proposed: Read | None) -> Changed:
    row = waiting.row
    record = row.record
    source = record.source if isinstance(record, Reading) else None
    column = source.column if source is not None else next(iter(waiting.proposed), "value")
    text = source.text if source is not None else dict(row.fields).get(column, "")
    names = (record.build, record.feature) if isinstance(record, Reading) else ()
    about = " ".join(name for name in names if name)
    said_instead = ", ".join(waiting.proposed.values())
    return Changed(row.sheet, row.number, column, about, text, said_instead, written, proposed)


def _read(row: Row, answers: Mapping[int, Said]) -> Read:
    r = row.record
    if not isinstance(r, Reading):
        return Read(None, None, "", None)
    told = answers[id(r)]
    size = r.value if not r.relative else None if told.target is None else told.target + r.value
    coded = CATALOGUE[r.characteristic].coded
    off = None if size is None or told.target is None or not coded else size - told.target
    unit = units.TARGET_UNIT.get(r.unit, r.unit) if coded else r.unit
    return Read(
        None if size is None else float(units.exact(size, unit)),
        None if off is None else float(units.exact(off, "um")),
        unit,
        _verdict(size, told),
    )


def _verdict(size: int | None, told: Said) -> str | None:
    if size is None or (told.lower is None and told.upper is None):
        return None
    low = told.lower is not None and size < told.lower
    high = told.upper is not None and size > told.upper
    return "does_not_conform" if low or high else "conforms"


def grid(store: Store, finding: Any) -> dict[str, Any] | None:
    """The file's own cells around the first one in doubt, None where it cannot be shown as a grid.

    Parameters
    ----------
    finding
        With `file`, `sha256` and `cells`.
    """
    if not finding.cells:
        return None
    first = finding.cells[0]
    try:
        found = sources.grids(store.file_content(finding.sha256), finding.file)
    except FileError:
        return None
    sheet = next((g for g in found if g.sheet == first.sheet), found[0] if found else None)
    if sheet is None or not sheet.rows:
        return None
    return _around(sheet, {(c.row, c.column) for c in finding.cells if c.sheet == first.sheet}, first.row)


def _around(sheet: Grid, doubted: set[tuple[int, str]], row: int) -> dict[str, Any]:
    header = [cell.strip() for cell in sheet.rows[0][1]]
    places = {(number, i) for number, name in doubted if (i := _index(name, header)) is not None}
    at = next((i for number, i in places if number == row), 0)
    start = max(0, at - _LEFT)
    near = [(n, cells) for n, cells in sheet.rows[1:] if row - _ABOVE <= n <= row + _BELOW]
    shown: Sequence[tuple[int, Sequence[str]]] = [sheet.rows[0], *near]
    return {
        "sheet": sheet.sheet,
        "rows": [
            {"row": number,
             "cells": [{"text": text, "doubted": (number, start + i) in places}
                       for i, text in enumerate(cells[start : start + _WIDE])]}
            for number, cells in shown
        ],
    }  # fmt: skip


def _index(name: str, header: Sequence[str]) -> int | None:
    """Place of a column by its header's text, or by its letter."""
    if name.strip() in header:
        return list(header).index(name.strip())
    return column_index(name) if name.isalpha() and name.isupper() and len(name) <= 3 else None
