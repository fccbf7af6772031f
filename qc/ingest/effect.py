"""What a decision about a doubt would change: each cell as written and as proposed, and both verdicts."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from qc import units
from qc.catalogue import CATALOGUE
from qc.errors import FileError
from qc.history.readings import inside, typed
from qc.ingest import sources
from qc.ingest.addresses import column_index
from qc.ingest.as_frame import as_frame
from qc.ingest.desk import Desk
from qc.ingest.grid import Grid
from qc.ingest.kinds import canonical
from qc.ingest.rows import CELL, Row, retyped
from qc.ingest.taking import Waiting, waiting_rows
from qc.records import Reading
from qc.store import Store

MOST: Final = 200  # rows shown of one finding
_ABOVE, _BELOW, _LEFT, _WIDE = 3, 8, 6, 9  # rows and columns of the file shown around the first such cell


@dataclass(frozen=True, slots=True)
class Read:
    """A row as a reading would count: its size, distance from target, and whether it is inside its limits.

    value : as read, in the row's own unit; None where the text cannot be read
    value_20 : brought to 20 degC, None where it is judged as read
    not_at_20 : why one that was read warm or cold is judged as read, else None
    deviation : from the target [um], of what is judged; None where no target is known
    verdict : conforms, does_not_conform, or None where no limits are known
    """

    value: float | None
    deviation: float | None
    unit: str
    verdict: str | None
    value_20: float | None = None
    not_at_20: str | None = None


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
    judged = _judged(store, there)
    return [
        _changed(w, _read(w.row, judged), None if row is None else _read(row, judged))
        for w, row in zip(waiting, proposed, strict=True)
    ]


def _judged(store: Store, readings: Sequence[Reading]) -> dict[int, Read]:
    """Each reading as the answers would judge it, by id()."""
    if not readings:
        return {}
    told = typed(as_frame(readings), store.specs(), store.builds(), store.gauges())
    low, high, shown = (told[n].to_numpy(dtype=float) for n in ("lower_limit", "upper_limit", "shown"))
    limited = ~(np.isnan(low) & np.isnan(high)) & ~np.isnan(shown)
    within = inside(shown, low, high)
    return {
        id(r): _as_judged(r, row, bool(w) if has else None)
        for r, row, w, has in zip(readings, told.to_dict("records"), within, limited, strict=True)
    }


def _as_judged(r: Reading, row: Mapping[Any, Any], within: bool | None) -> Read:
    coded = CATALOGUE[r.characteristic].coded
    unit = units.TARGET_UNIT.get(r.unit, r.unit) if coded else r.unit
    as_read, warm = (_in(row[name], unit) for name in ("size_as_read", "size"))
    return Read(
        as_read,
        float(row["shown"]) if coded and not np.isnan(row["shown"]) else None,
        unit,
        None if within is None else "conforms" if within else "does_not_conform",
        warm if row["at_20"] else None,
        row["not_at_20"] if isinstance(row["not_at_20"], str) else None,
    )


def _in(ticks: float, unit: str) -> float | None:
    return None if np.isnan(ticks) else float(units.exact(round(ticks), unit))


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


def _read(row: Row, judged: Mapping[int, Read]) -> Read:
    return judged[id(row.record)] if isinstance(row.record, Reading) else Read(None, None, "", None)


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
