"""A reading's identity `FILE:ROW:COLUMN` and the row it stands for."""

import re
from typing import Final

from sqlalchemy import Connection, and_, func, select

from qc.errors import QuestionError
from qc.store import tables

FILE_DIGITS: Final = 12
_SHAPE: Final = re.compile(r"([0-9a-f]{12}):(?:([^:]*)!)?(\d+):(.*)", re.DOTALL)
_CORRECTED: Final = re.compile(r"(.*)/([2-9]|[1-9]\d+)", re.DOTALL)


def told(sha256: str, sheet: str | None, row: int, column: str, correction: int) -> str:
    """Identity of a reading; `correction` 0 is the cell's first."""
    line = str(row) if sheet is None else f"{sheet}!{row}"
    return f"{sha256[:FILE_DIGITS]}:{line}:{column}" + (f"/{correction}" if correction else "")


def found(connection: Connection, reading_id: str) -> tuple[int, int]:
    """Series and arrival number of the reading with that id.

    Raises
    ------
    QuestionError
        When there is none.
    """
    shape = _SHAPE.fullmatch(reading_id)
    if shape is not None:
        start, sheet, row, column = shape.groups()
        corrected = _CORRECTED.fullmatch(column)
        candidates = [(column, 0)]
        if corrected is not None:
            candidates.append((corrected[1], int(corrected[2])))
        for name, correction in candidates:
            there = _row(connection, start, sheet, int(row), name, correction)
            if there is not None:
                return there
    raise QuestionError(
        f"there is no reading {reading_id!r} in this store: take the id from qc readings (FILE:ROW:COLUMN)"
    )


def _row(
    connection: Connection, start: str, sheet: str | None, row: int, column: str, correction: int
) -> tuple[int, int] | None:
    r, c, f = tables.reading.c, tables.context.c, tables.file.c
    there = connection.execute(
        select(r.series_id, r.arrival)
        .join_from(tables.file, tables.context, c.file_id == f.id)
        .join(tables.reading, r.context_id == c.id)
        .where(
            and_(
                f.sha256 >= start, f.sha256 < start + "g", c.column == column,
                c.sheet.is_(None) if sheet is None else c.sheet == sheet, r.row == row,
                r.correction == correction,
            )
        )
    ).first()  # fmt: skip
    return None if there is None else (there.series_id, there.arrival)


def taken(connection: Connection, file_id: int) -> dict[tuple, int]:
    """Highest correction of each cell (sheet, row, column) of a file that has a reading."""
    r, c = tables.reading.c, tables.context.c
    rows = connection.execute(
        select(c.sheet, r.row, c.column, func.max(r.correction))
        .join_from(tables.context, tables.reading, r.context_id == c.id)
        .where(c.file_id == file_id)
        .group_by(c.sheet, r.row, c.column)
    )
    return {(sheet, row, column): highest for sheet, row, column, highest in rows}
