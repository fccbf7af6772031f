"""An answer as CSV: comma, point, UTF-8, lines ended as RFC 4180 says; blank where there is nothing."""

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from qc.export.table import Cell, harmless, table


def text(answer: Mapping[str, Any]) -> str:
    """CSV of an answer's table."""
    return lines(*table(answer))


def lines(columns: Sequence[str], rows: Iterable[Sequence[Cell]]) -> str:
    """CSV of columns and lines."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(columns)
    writer.writerows([_cell(value) for value in row] for row in rows)
    return out.getvalue()


def _cell(value: Cell) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return harmless(value)
    return repr(value) if isinstance(value, float) else str(value)
