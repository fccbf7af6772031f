"""Empty files to fill in: header, lists, an example row that is not read, and explanations."""

from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from qc import units
from qc.catalogue import CATALOGUE, EVENTS, OPERATIONS, STATES
from qc.errors import FileError, QuestionError
from qc.ingest.explained import said
from qc.ingest.kinds import KINDS, FileKind
from qc.ingest.rows import EXAMPLE, EXPLANATION

_CREATED: Final = datetime(2026, 1, 1, tzinfo=UTC).replace(tzinfo=None)  # the same bytes every time
_ROWS: Final = 2_000  # that carry lists and formats
_ALSO: Final = {"plan": "measuring_plan", "specs": "specifications"}
_DATES: Final = frozenset({"measured_at", "made_at", "at"})
_DAYS: Final = frozenset({"since", "received_on", "shipped_on", "calibrated_on", "due_on"})
_NUMBERS: Final = frozenset({
    "value", "station_mm", "target", "lower", "upper", "order", "trial", "pass", "part_c", "gauge_c",
    "resolution", "standard_uncertainty", "common_part", "correction",
})  # fmt: skip
_FEATURES: Final = (
    *(f"cyl-{n}" for n in range(1, 13)), *(f"main-{n}" for n in range(1, 8)),
    *(f"rod-{n}" for n in range(1, 13)),
    *(f"main-{n}-{half}" for n in range(1, 8) for half in ("upper", "lower")),
    "deck-left", "deck-right", "whole", "master",
)  # fmt: skip
_LISTS: Final[Mapping[str, tuple[str, ...]]] = {
    "characteristic": tuple(CATALOGUE), "unit": units.UNITS, "state": STATES, "operation": OPERATIONS,
    "reading": ("size", "deviation"), "event": tuple(EVENTS), "feature": _FEATURES,
}  # fmt: skip
_FREE: Final = frozenset({"operation", "feature"})  # others than those of the list may be written


def kind_named(name: str) -> FileKind:
    """The file kind of that name.

    Raises
    ------
    QuestionError
        When there is none.
    """
    key = name.strip().lower().replace("-", "_").replace(" ", "_")
    kind = KINDS.get(_ALSO.get(key, key))
    if kind is None:
        raise QuestionError(f"there is no file kind {name!r}: name one of {', '.join(sorted(KINDS))}")
    return kind


def write(kind: str, path: str | Path) -> None:
    """Write an empty file of a kind.

    Parameters
    ----------
    kind : str
        readings, specifications, events, gauges, builds, machines or measuring_plan (plan).
    path : path
        An XLSX file that is not there yet.

    Raises
    ------
    QuestionError
        No such kind.
    FileError
        The file is there already, is to be something else than XLSX, or cannot be written.
    """
    import xlsxwriter
    from xlsxwriter.exceptions import XlsxWriterException

    wanted, place = kind_named(kind), Path(path)
    if place.suffix.lower() != ".xlsx":
        raise FileError(f"an empty file is a workbook: name it {place.stem}.xlsx")
    if place.exists():
        raise FileError(f"{place.name} is there already and is left alone: name another file")
    book = xlsxwriter.Workbook(str(place), {"strings_to_formulas": False, "strings_to_urls": False})
    book.set_properties({"created": _CREATED, "title": f"empty file of {wanted.key}"})
    _sheet(book, wanted)
    _explanation(book, wanted)
    _lists(book, wanted)
    try:
        book.close()
    except (XlsxWriterException, OSError):
        raise FileError(
            f"{place.name} cannot be written: check its folder and your right to write there"
        ) from None


def _sheet(book: Any, kind: FileKind) -> None:
    sheet = book.add_worksheet(kind.key)
    strong = book.add_format({"bold": True, "bottom": 1})
    needed = book.add_format({"bold": True, "bottom": 1, "bg_color": "#E8EEF4"})
    pale = book.add_format({"italic": True, "font_color": "#777777", "num_format": "@"})
    sheet.freeze_panes(1, 0)
    for i, column in enumerate(kind.columns):
        sheet.set_column(i, i, max(12, len(column) + 2), book.add_format({"num_format": _format(column)}))
        sheet.write_string(0, i, column, needed if column in kind.required else strong)
        sheet.write_string(1, i, said(kind.key, column)[1], pale)
        _list(sheet, i, column)
    sheet.write_string(1, 0, f"{EXAMPLE} this row is not read", pale)


def _format(column: str) -> str:
    if column in _DATES:
        return "yyyy-mm-dd hh:mm"
    if column in _DAYS:
        return "yyyy-mm-dd"
    return "General" if column in _NUMBERS or column == "clock_deg" else "@"


def _list(sheet: Any, i: int, column: str) -> None:
    if column not in _LISTS:
        return
    at = list(_LISTS).index(column)
    letter = chr(ord("A") + at)
    sheet.data_validation(2, i, _ROWS, i, {
        "validate": "list", "source": f"=lists!${letter}$4:${letter}${3 + len(_LISTS[column])}",
        "error_type": "warning" if column in _FREE else "stop",
        "error_title": column,
        "error_message": "Not in the list." if column in _FREE else "Take one of the list.",
    })  # fmt: skip


def _explanation(book: Any, kind: FileKind) -> None:
    sheet = book.add_worksheet("columns")
    sheet.set_column(0, 0, 24)
    sheet.set_column(1, 1, 10)
    sheet.set_column(2, 2, 110)
    sheet.write_string(0, 0, f"{EXPLANATION} {kind.says}; this sheet is not read")
    for i, text in enumerate(("column", "must be", "what to write")):
        sheet.write_string(1, i, text)
    one_of = {c for group in kind.needs_one for c in group}
    for row, column in enumerate(kind.columns, start=2):
        must = "filled" if column in kind.required else "one of them" if column in one_of else ""
        for i, text in enumerate((column, must, said(kind.key, column)[0])):
            sheet.write_string(row, i, text)


def _lists(book: Any, kind: FileKind) -> None:
    sheet = book.add_worksheet("lists")
    sheet.write_string(0, 0, f"{EXPLANATION} words that the columns take; this sheet is not read")
    for i, (column, words) in enumerate(_LISTS.items()):
        sheet.set_column(i, i, 22)
        sheet.write_string(2, i, column)
        for row, word in enumerate(words, start=3):
            sheet.write_string(row, i, word)
