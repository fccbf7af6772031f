"""An answer as a workbook: its table on one sheet, what was asked on another, the same bytes every time."""

import io
from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal
from typing import Any, Final

from qc import __version__
from qc.errors import QuestionError
from qc.export.json import compact
from qc.export.table import Cell, harmless, table

# a workbook carries its time of making; a fixed one keeps equal answers equal to the byte
# (and the format knows no zone)
_MADE: Final = datetime(2000, 1, 1)  # noqa: DTZ001
_MOST_LINES: Final = 1_048_575  # rows of a sheet less its header (ECMA-376, from memory)
_OPTIONS: Final = {
    "in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False,
    "nan_inf_to_errors": False,
}  # fmt: skip


def content(answer: Mapping[str, Any]) -> bytes:
    """Workbook of an answer.

    Raises
    ------
    QuestionError
        When it has more lines than a sheet holds.
    """
    import xlsxwriter

    columns, rows = table(answer)
    if len(rows) > _MOST_LINES:
        raise QuestionError(
            f"a sheet holds {_MOST_LINES} lines, this answer has {len(rows)}: write it as .csv"
        )
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, _OPTIONS) as book:
        book.set_properties({"created": _MADE})
        bold = book.add_format({"bold": True})
        sheet = book.add_worksheet(str(answer["answer"]))
        sheet.freeze_panes(1, 0)
        for place, name in enumerate(columns):
            sheet.write_string(0, place, name, bold)
            sheet.set_column(place, place, min(max(10, len(name) + 2), 40))
        for line, row in enumerate(rows, start=1):
            for place, value in enumerate(row):
                _write(sheet, line, place, value)
        _about(book.add_worksheet("about"), answer)
    return out.getvalue()


def _write(sheet: Any, line: int, place: int, value: Cell) -> None:
    if value is None:
        return
    if isinstance(value, bool):
        sheet.write_boolean(line, place, value)
    elif isinstance(value, int | float | Decimal):
        sheet.write_number(line, place, float(value))
    else:
        sheet.write_string(line, place, harmless(value))


def _about(sheet: Any, answer: Mapping[str, Any]) -> None:
    facts = [
        ("answer", answer["answer"]),
        ("revision", answer.get("revision")),
        ("asked", compact(answer.get("asked") or {})),
        ("zone", answer.get("zone")),
        ("product version", __version__),
        *(("caution", caution) for caution in answer.get("cautions") or ()),
    ]
    sheet.set_column(0, 0, 16)
    sheet.set_column(1, 1, 100)
    for line, (name, value) in enumerate(facts):
        sheet.write_string(line, 0, name)
        _write(sheet, line, 1, value)
