"""Doubts about cells to findings: where, what is seen, why doubted, what is proposed, what it changes."""

from collections.abc import Iterable, Mapping, Sequence
from types import MappingProxyType
from typing import Final, NamedTuple

from qc import units
from qc.catalogue import CATALOGUE, EVENTS, STATES
from qc.ingest.line import Doubt
from qc.ingest.rows import Row
from qc.records import Cell, Finding

MOST_CELLS: Final = 200  # of one finding that are listed; its count tells all
_LONGEST_TEXT: Final = 60  # characters of a cell that a sentence shows


class _Words(NamedTuple):
    saw: str
    doubt: str
    proposal: str


_UNREADABLE: Final[Mapping[str, _Words]] = MappingProxyType({
    "missing_value": _Words(
        "The column {cause} is blank in {rows}.",
        "It must be filled: without it nobody can tell what the row is about.",
        "Fill the cells here or in the file, or discard the rows.",
    ),
    "not_a_number": _Words(
        "The column {column} reads {texts} in {rows}.",
        "That is not one plain number.",
        "Write numbers like 93.008 or 93,008, without units, marks or words; leave out what was not "
        "measured.",
    ),
    "not_whole": _Words(
        "The column {column} reads {texts} in {rows}.",
        "It counts, so only whole numbers from 1 fit.",
        "Write 1, 2, 3, ... or leave it blank.",
    ),
    "unknown_unit": _Words(
        "The unit {text} stands in {rows}.",
        "Nobody here knows it, and a wrong unit is a wrong size.",
        "Write one of " + ", ".join(units.UNITS) + ".",
    ),
    "unit_kind": _Words(
        "The unit {text} stands beside {characteristic} in {rows}.",
        "{characteristic} is measured in {fitting}.",
        "Correct the unit or the characteristic.",
    ),
    "unknown_characteristic": _Words(
        "The characteristic {text} stands in {rows}.",
        "The catalogue has none of that name.",
        "{is_it}",
    ),
    "unknown_feature": _Words(
        "The feature {texts} stands in {rows}.",
        "It names no hole, journal or face we know.",
        "Write cyl-3, main-2, rod-5, main-2-upper, main-2-lower, deck-left, deck-right, whole or "
        "master.{near}",
    ),
    "unknown_state": _Words(
        "The state {text} stands in {rows}.",
        "States are never mixed, so it must be one we know.",
        "Write one of " + ", ".join(STATES) + ", or leave it blank.{near}",
    ),
    "unknown_event": _Words(
        "The event {text} stands in {rows}.", "No event of that name is known.",
        "Write one of " + ", ".join(EVENTS) + ".{near}",
    ),
    "unknown_reading": _Words(
        "The column reading says {text} in {rows}.",
        "It can only say whether the value is a size or a deviation from the target.",
        "Write size or deviation.",
    ),
    "reading_unsaid": _Words(
        "The lower limit in {rows} is not above nought and the column reading is blank.",
        "A size below nought is hardly meant; a distance below the target usually is.",
        "Are these distances from the target? Then write deviation in the column reading, otherwise size.",
    ),
    "not_coded": _Words(
        "{cause} is given as a deviation in {rows}.",
        "It has no target of its own to deviate from: it is charted as it is.",
        "Write the value itself and size in the column reading.",
    ),
    "not_a_direction": _Words(
        "The direction {texts} stands in {rows}.",
        "A direction lies between 0 and 360 degrees.",
        "Write degrees, or thrust (90) or crank (0).",
    ),
    "impossible_date": _Words(
        "The column {column} reads {texts} in {rows}.",
        "That is no date and time that exists.",
        "Write it like 2026-04-03 or 2026-04-03T08:15.",
    ),
    "date_order": _Words(
        "Dates are written like {first} ({rows}).",
        "{order_doubt}",
        "Accept if the day comes first, correct if the month does. It is asked once and kept as the "
        "shop's setting.",
    ),
    "serial_date": _Words(
        "Dates are written as bare numbers like {first} ({rows}).",
        "A workbook counts days so, but from two different years, and any other number looks the same.",
        "{serial} Accept if that is right; otherwise format the cells as dates in the file.",
    ),
    "limits_reversed": _Words(
        "The lower limit is above the upper one in {rows}.",
        "Nothing can lie between them.",
        "Correct the limits: exchange them, or see whether a sign or a point was lost.",
    ),
    "too_many_cells": _Words(
        "{Rows} have more cells than the header has columns: {texts} too many.",
        "One cell became two, perhaps by a decimal comma between commas: the rest stands in wrong columns.",
        "Write a decimal point, or put the cell in quotes, and take the file in again; or discard the rows.",
    ),
    "no_limit": _Words(
        "Neither lower, target nor upper is filled in {rows}.", "Such a row limits nothing.",
        "Fill at least one of them, or discard the rows.",
    ),
    "master_check": _Words(
        "The column {column} reads {texts} in {rows}.",
        "A master's check belongs to no build: build blank, operation check, feature master, machine "
        "the gauge's name.",
        "Correct these cells, or the characteristic.",
    ),
    "not_a_reading": _Words(
        "{Cells} {read} {texts}.",
        "That is not one plain number, so nobody can be sure what was measured.",
        "Correct takes the number that was meant; discard leaves the cells out.",
    ),
    "heading_contradicts": _Words(
        "The layout says {before}, but a heading above {rows} says {now}.",
        "Then the layout is for another sheet, or the sheet has changed.",
        "Accept takes what the layout says; otherwise discard, and put the layout right.",
    ),
    "formula_without_value": _Words(
        "{Cells} hold a formula or an error, and no figure.",
        "The program that saved the file left no result beside it.",
        "Open the file in a spreadsheet program, save it, and take it in again; or correct takes the figure.",
    ),
    "odd_decimals": _Words(
        "{Cells} {read} {texts}, finer than the deviations beside it.",
        "It may be a size or a distance in inches or millimetres among counts of a smaller unit.",
        "Correct takes what was meant; accept takes the figures as they stand.",
    ),
    "bench_contradicts": _Words(
        "The sheet was written for {before}, but reads {now} there ({rows}).",
        "Either somebody typed over it, or the sheet was used for something else.",
        "Accept takes what the sheet was written for; otherwise discard, and write a sheet for the other.",
    ),
    "thousands_mark": _Words(
        "The size {texts} stands in {rows}, in a unit smaller than a millimetre.",
        "Its mark could stand between thousands or before the fraction, and nothing in the file tells which.",
        "Is it {near_number}? Correct takes that; otherwise write sizes without thousands marks, or in mm.",
    ),
    "perhaps_cut": _Words(
        "The file ends within {rows}, without an end of the line, and there reads {texts}.",
        "All other figures of that column have more decimals, so the file may have been cut off there.",
        "Copy or export the file again and take it in; accept takes the figure as it stands.",
    ),
    "hidden_column": _Words(
        "The column {cause} is hidden in the workbook ({rows}).",
        "Somebody put it out of sight; nobody checking the sheet sees its figures.",
        "Accept to take them in, discard to leave them out for good.",
    ),
    "hidden_row": _Words(
        "{Rows} are hidden in the workbook.",
        "Somebody put them out of sight; nobody checking the sheet sees them.",
        "Accept to take them in, discard to leave them out for good.",
    ),
    "hidden_sheet": _Words(
        "The sheet {cause} is hidden in the workbook ({rows}).",
        "Somebody put it out of sight; nobody checking the file sees it.",
        "Accept to take it in, discard to leave it out for good.",
    ),
    "no_target": _Words(
        "{Rows} give deviations of {cause} without a target.",
        "No specification in force gives one for that build either, so their sizes are not known.",
        "Add the build's target as a specification and accept, or correct the column target.",
    ),
})  # fmt: skip


def rows_said(numbers: Sequence[int], most: int = 6) -> str:
    """The rows in words: "row 7", "rows 2-9, 14 and 12 more"."""
    ordered = sorted(set(numbers))
    runs: list[list[int]] = []
    for n in ordered:
        if runs and n == runs[-1][1] + 1:
            runs[-1][1] = n
        else:
            runs.append([n, n])
    said = [str(a) if a == b else f"{a}-{b}" for a, b in runs]
    rest = sum(b - a + 1 for a, b in runs[most:])
    return (
        ("row " if len(ordered) == 1 else "rows ")
        + ", ".join(said[:most])
        + (f" and {rest} more" if rest else "")
    )


def places_said(rows: Iterable[Row]) -> str:
    """The rows in words, sheet by sheet where there are sheets."""
    by_sheet: dict[str | None, list[int]] = {}
    for row in rows:
        by_sheet.setdefault(row.sheet, []).append(row.number)
    return "; ".join(rows_said(n) + (f" of sheet {s}" if s else "") for s, n in by_sheet.items())


def texts_said(texts: Iterable[str], most: int = 4) -> str:
    """Different texts, each in quotes, the first few of them."""
    seen = list(dict.fromkeys(texts))
    rest = len(seen) - most
    return ", ".join(repr(shortened(t)) for t in seen[:most]) + (f" and {rest} more" if rest > 0 else "")


def shortened(text: str) -> str:
    """A cell's text as far as a sentence has room for it."""
    return text if len(text) <= _LONGEST_TEXT else f"{text[: _LONGEST_TEXT - 3]}..."


def waiting(count: int) -> str:
    """Effect of a finding that holds rows."""
    rows = "1 row waits and is" if count == 1 else f"{count} rows wait and are"
    return f"{rows} in no figure until this is decided."


def cells_of(pairs: Sequence[tuple[Row, Doubt]]) -> tuple[Cell, ...]:
    """The cells that doubts are about, as many as a finding lists."""
    return tuple(Cell(r.number, d.column, d.text, r.sheet) for r, d in pairs[:MOST_CELLS])


def _order_doubt(texts: Sequence[str]) -> str:
    first_beyond = [t for t in texts if int("".join(c if c.isdigit() else " " for c in t).split()[0]) > 12]
    second_beyond = [t for t in texts if int("".join(c if c.isdigit() else " " for c in t).split()[1]) > 12]
    question = _question(texts[0])
    if first_beyond and not second_beyond:
        return f"{question} {first_beyond[0]!r} in the same file can only have the day first."
    if second_beyond and not first_beyond:
        return f"{question} {second_beyond[0]!r} in the same file can only have the month first."
    return f"{question} It could be read either way."


_MONTHS: Final = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
    "November",
    "December",
)  # fmt: skip


def _question(text: str) -> str:
    day, month = (int(p) for p in "".join(c if c.isdigit() else " " for c in text).split()[:2])
    if not 1 <= month <= 12:
        return f"Is {text.split()[0]} written with the day first?"
    ending = "th" if 10 < day % 100 < 14 else {1: "st", 2: "nd", 3: "rd"}.get(day % 10, "th")
    return f"Is {text.split()[0]} the {day}{ending} of {_MONTHS[month - 1]}?"


def _filled(code: str, pairs: Sequence[tuple[Row, Doubt]]) -> dict[str, str]:
    doubt = pairs[0][1]
    texts = [d.text for _, d in pairs]
    characteristic = doubt.cause.partition(":")[0]
    entry = CATALOGUE.get(characteristic)
    rows = places_said(r for r, _ in pairs)
    near = doubt.proposal
    return {
        "column": doubt.column, "cause": doubt.cause, "text": repr(shortened(doubt.text)),
        "texts": texts_said(texts),
        "first": shortened(texts[0]), "rows": rows, "Rows": rows[:1].upper() + rows[1:],
        "characteristic": characteristic,
        "fitting": ", ".join(u for u in units.UNITS if entry and units.kind(u) == entry.kind),
        "near": f" Is it {near}?" if near else "", "near_number": near,
        "before": doubt.cause.partition("|")[0], "now": doubt.cause.partition("|")[2],
        "Cells": _cells_said(pairs), "read": "read" if len(pairs) > 1 else "reads",
        "is_it": f"Is it {near}? Correct takes that." if near else "Correct it to a key of the catalogue.",
        "order_doubt": _order_doubt(texts) if code == "date_order" else "",
        "serial": _serial_words(texts[0]) if code == "serial_date" else "",
    }  # fmt: skip


def _cells_said(pairs: Sequence[tuple[Row, Doubt]], most: int = 6) -> str:
    lettered = [d.column.isalpha() and d.column.isupper() for _, d in pairs]
    named = [
        f"{d.column}{r.number}" if short else f"{d.column} in row {r.number}"
        for (r, d), short in zip(pairs, lettered, strict=True)
    ]
    rest = len(named) - most
    where = f" of sheet {pairs[0][0].sheet}" if pairs[0][0].sheet else ""
    word = "Cells" if len(named) > 1 else "Cell"
    return f"{word} {', '.join(named[:most])}" + (f" and {rest} more" if rest > 0 else "") + where


def _serial_words(text: str) -> str:
    from datetime import UTC, datetime, timedelta

    from qc.ingest.times import parse_at

    at, _ = parse_at(text, UTC, "serial")
    day = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(microseconds=at)
    return f"Counted from 1900, {text} is {day:%Y-%m-%d}."


def unreadable(code: str, pairs: Sequence[tuple[Row, Doubt]]) -> Finding:
    """The finding that holds rows of which a cell cannot be read as it stands.

    Parameters
    ----------
    code : str
        What is wrong.
    pairs : sequence of (Row, Doubt)
        The rows in the file's order, each with its doubt of that code and one common cause.
    """
    words = _UNREADABLE[code]
    filled = _filled(code, pairs)
    saw, doubt, proposal = (text.format(**filled) for text in words)
    held = len({(r.sheet, r.number) for r, _ in pairs})
    return Finding("stop", code, cells_of(pairs), saw, doubt, proposal, waiting(held), len(pairs))


def grouped(rows: Iterable[Row]) -> dict[tuple[str, str], list[tuple[Row, Doubt]]]:
    """Doubts of rows by code and cause, in the order in which they first occur."""
    found: dict[tuple[str, str], list[tuple[Row, Doubt]]] = {}
    for row in rows:
        for doubt in row.doubts:
            found.setdefault((doubt.code, doubt.cause), []).append((row, doubt))
    return found
