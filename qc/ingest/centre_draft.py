"""A first layout of a list of housing centres as TOML: what it does not prove is commented out."""

import re
from collections.abc import Iterator
from typing import Final

from qc.ingest import centre_columns, draft, keys
from qc.ingest.addresses import Block, Cells
from qc.ingest.cellwise import letters
from qc.ingest.centre_columns import Columns
from qc.ingest.drafted import quoted
from qc.ingest.kinds import folded
from qc.ingest.layout_centres import NEEDED, OUTRIGHT

_ASKED: Final = {
    "build": "which engine: a text, {cell = \"B2\"}, {tab = true} or {file = true}",
    "machine": "which machine made it", "operation": "at which operation: line_bore, line_hone",
    "state": "how it was held when measured: caps_torqued, free, ...", "unit": "mm, um, in, thou, ...",
    "date": "when it was measured: {cell = \"H2\"}",
}  # fmt: skip
_LABELS: Final = {**draft.LABELS, "job": "build", "part": "build", "block": "build", "jobno": "build"}
_MEANINGS: Final = "vertical, horizontal, along, diameter or radius; -vertical points down; - leaves it out"
_DIGITS = re.compile(r"\d+")


def text(cells: Cells, name: str) -> str:
    """The TOML of a first layout for a list of centres; blank where a sheet is none."""
    columns = centre_columns.columns(cells)
    if columns is None:
        return ""
    lines = [
        "# What the lines of such a list mean. Lines behind # are not said yet: complete them, then take",
        "# the # away.",
        f"file = [{quoted(name)}]", "", "[text]  # stands in these cells, so that no other list is taken "
        "for it",
    ]  # fmt: skip
    lines += [
        f"{letters(i)}{columns.row} = {quoted(cells.text(columns.row, i))}"
        for role, i in sorted(columns.at.items(), key=lambda item: item[1])
        if role in ("feature", "axis", "nominal", "actual", "deviation")
    ]
    return "\n".join([*lines, "", "[[centres]]", *_items(cells, columns), *_names(cells, columns)]) + "\n"


def _items(cells: Cells, columns: Columns) -> Iterator[str]:
    said = dict(_labelled(cells, columns.row))
    has = set(columns.at) | ({"date"} if "measured_at" in columns.at else set())
    has |= {"unit"} if columns.unit else set()
    for key in NEEDED:
        if key in said:
            yield f"{key} = {said[key]}"
        elif key not in has:
            yield f'# {key} = ""  # {_ASKED[key]}'


def _labelled(cells: Cells, header: int) -> Iterator[tuple[str, str]]:
    """What the page's heading says: a label, and the cell or the rest of the cell that it speaks of."""
    for row, column, told in cells.filled():
        if row >= header:
            return
        label, colon, rest = told.partition(":")
        key = _LABELS.get(folded(label))
        here, beside = Block(row, column, row, column).text, Block(row, column + 1, row, column + 1).text
        if key is None:
            continue
        if rest.strip():
            yield key, f"{{cell = {quoted(here)}, after = {quoted(label + colon)}}}"
        elif cells.text(row, column + 1):
            yield key, f"{{cell = {quoted(beside)}}}"


def _names(cells: Cells, columns: Columns) -> Iterator[str]:
    rows = [row for row, _ in cells.grid.rows if row > columns.row]
    axes, features = (
        dict.fromkeys(t for r in rows if (t := cells.text(r, columns.at[role])) and t != cells.text(
            columns.row, columns.at[role])) for role in ("axis", "feature"))  # fmt: skip
    if not all(folded(a).strip(".:") in OUTRIGHT for a in axes):
        pairs = ", ".join(f"{quoted(a)} = {quoted(OUTRIGHT.get(folded(a).strip('.:'), ''))}" for a in axes)
        yield f"# axes = {{{pairs}}}  # what each is: {_MEANINGS}"
    if not all(keys.feature(f) for f in features):
        pairs = ", ".join(f"{quoted(f)} = {quoted(_guess(f))}" for f in features)
        yield f"# features = {{{pairs}}}  # which main each name is; - leaves it out"
    if any(not cells.text(r, columns.at["feature"]) and cells.text(r, columns.at["actual"]) for r in rows):
        yield "# fill_down = true  # if a blank name means the one above"


def _guess(name: str) -> str:
    known = keys.feature(name) or keys.near_feature(name)
    if known:
        return known if known.startswith("main-") else ""
    digits = _DIGITS.findall(name)
    return f"main-{int(digits[0])}" if len(digits) == 1 and 0 < int(digits[0]) < 20 else ""
