"""An answer as CSV: comma, point, UTF-8, lines ended as RFC 4180 says; blank where there is nothing."""

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from qc.export.table import Cell, guarded, harmless, table


def text(answer: Mapping[str, Any]) -> str:
    """CSV of an answer's table."""
    return lines(*table(answer))


def lines(columns: Sequence[str], rows: Iterable[Sequence[Cell]], *, exact: bool = False) -> str:
    """CSV of columns and lines.

    Parameters
    ----------
    exact : bool
        Whether every text must be had back as it was; formulas are made harmless anyway.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(columns)
    writer.writerows([_cell(value, exact) for value in row] for row in rows)
    return out.getvalue()


def _cell(value: Cell, exact: bool) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return guarded(value) if exact else harmless(value)
    if isinstance(value, Decimal):
        return format(value, "f")
    return repr(value) if isinstance(value, float) else str(value)
