"""Readings that count, marked by a doubt: made void, or put right, when a person says so."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, Final

from qc.errors import FileError, InputError, QuestionError
from qc.ingest.desk import Desk
from qc.ingest.kinds import canonical
from qc.ingest.line import Shop
from qc.ingest.parsed import parsed
from qc.ingest.rows import CELL, Row, retyped
from qc.records import Cell, Reading
from qc.store import Store, Write, undoing

ABOUT_LIMITS: Final = frozenset({"other_limits", "window_passed_over"})
_LAYOUT: Final = "discard these cells, put the file right and take it in again"


def changed(
    store: Store, write: Write, finding: Any, decision: str, reason: str, correction: Any, by: str
) -> int:
    """Void what the cells of an `ask` are about, or let them count as they should read; how many count anew.

    Raises
    ------
    QuestionError
        A finding about limits, one that lists fewer cells than it names, or cells that no longer count.
    InputError
        A correction that cannot be read either.
    """
    if finding.code in ABOUT_LIMITS:
        raise QuestionError(f"finding {finding.id} is about limits: accept it, and correct the specification")
    if finding.count > len(finding.cells):
        raise QuestionError(
            f"finding {finding.id} names {finding.count} cells and lists {len(finding.cells)}: accept it and "
            "exclude them (qc exclude add), or put the file right and take it in again"
        )
    rows = {(c.sheet, c.row): c for c in finding.cells}
    counting = undoing.counting(write, int(finding.file_id), list(rows))
    if not counting:
        raise QuestionError(f"nothing that finding {finding.id} names counts any more: accept it")
    if decision == "discard":
        for one, _ in counting:
            write.void(one, reason)
        return 0
    texts = _texts(finding, rows, correction)
    named = [(one, source) for one, source in counting if (source.sheet, source.row) in texts]
    if not named:
        raise QuestionError("the correction names none of these cells: write ROW:COLUMN=TEXT, or one text")
    shop = Desk(store, by=by, command="held").shop
    there = _rows(store, finding, shop)
    for one, source in named:
        place = (source.sheet, source.row)
        row = _corrected(there.get((*place, source.column)), shop, finding, texts[place])
        assert isinstance(row.record, Reading)
        record = replace(row.record, source=source)
        write.add_readings(int(finding.file_id), [record], replaces={0: one}, suffix=2)
    return len(named)


def _texts(
    finding: Any, rows: Mapping[tuple[str | None, int], Cell], correction: Any
) -> dict[tuple[str | None, int], dict[str, str]]:
    """Texts by our names of columns that each row should read."""
    if correction is None:
        raise QuestionError(
            f"the readings of finding {finding.id} count, so no proposal is kept for them: write what the "
            "cells should read (--to TEXT, or --cell ROW:COLUMN=TEXT for each)"
        )
    if isinstance(correction, str):
        return {place: {_ours(cell.column): correction} for place, cell in rows.items()}
    told: dict[tuple[str | None, int], dict[str, str]] = {}
    for place, cell in rows.items():
        here = f"{place[1]}" if place[0] is None else f"{place[0]}!{place[1]}"
        for name, text in correction.items():
            at, colon, column = name.rpartition(":")
            if not colon or at == here:
                told.setdefault(place, {})[_ours(column if colon else name) or _ours(cell.column)] = text
    return told


def _ours(column: str) -> str:
    return canonical(column) or "value"


def _rows(store: Store, finding: Any, shop: Shop) -> dict[tuple[str | None, int, str], Row]:
    """The file's rows by sheet, row and the column their value stands in."""
    try:
        read = parsed(finding.file, store.file_content(finding.sha256), shop, finding.sha256)
    except FileError as unread:
        raise QuestionError(f"the cells of {finding.file} were read by a layout: {_LAYOUT}") from unread
    found = {}
    for row in read.rows:
        if isinstance(row.record, Reading):
            found[row.sheet, row.number, row.record.source.column] = row
    return found


def _corrected(row: Row | None, shop: Shop, finding: Any, texts: dict[str, str]) -> Row:
    if row is None or dict(row.fields).get(CELL) is not None:
        raise QuestionError(f"the cells of {finding.file} were read by a layout: {_LAYOUT}")
    new = retyped(row, shop, finding.sha256, texts)
    if not isinstance(new.record, Reading):
        said = ", ".join(texts.values())
        raise InputError(f"{said!r} cannot be read either: write a number like 93.008, without unit or words")
    return new
