"""What a workbook hides and how far its sheets reach, read from its XML before anything else touches the
file.

The sheet reader allocates the whole rectangle up to the last cell and tells no hidden rows: both are
looked up here,
entities off and sizes bounded.
"""

import re
import zipfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from io import BytesIO
from typing import Final

from qc.errors import FileError
from qc.ingest import package
from qc.ingest.elements import walk
from qc.ingest.grid import MOST_CELLS

MOST_BYTES: Final = 200_000_000
MOST_PARTS: Final = 2_000
_CELL = re.compile(r"([A-Z]{1,3})(\d{1,7})")
_LOOKED_AT: Final = ("workbook.xml", ".rels")  # besides the sheets; other parts are only measured

Attributes = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet: its name, whether it is hidden, its hidden rows, and its last row and column (from 1).

    hidden_columns count from 0; merged are the addresses of joined cells; formulas are row and column (from
    0) of the cells that a formula for a number or an error fills.
    """

    name: str
    hidden: bool
    hidden_rows: frozenset[int]
    rows: int
    columns: int
    hidden_columns: frozenset[int] = frozenset()
    merged: tuple[str, ...] = ()
    formulas: frozenset[tuple[int, int]] = frozenset()


def column_number(letters: str) -> int:
    """Number of a column from its letters, A = 1."""
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - 64
    return number


def _unpacked(data: bytes) -> dict[str, bytes]:
    """Every part that we or the sheet reader will parse, unpacked within the bounds."""
    too_large = f"the workbook unpacks to more than {MOST_BYTES // 1_000_000} MB: split it"
    try:
        with zipfile.ZipFile(BytesIO(data)) as book:
            names = book.namelist()
            if len(names) > MOST_PARTS:
                raise FileError(f"the workbook has {len(names)} parts: save only the sheets that are needed")
            parts: dict[str, bytes] = {}
            left = MOST_BYTES
            if sum(one.file_size for one in book.infolist()) > left:
                raise FileError(too_large)
            for name in names:
                part = package.part(book, name, left, too_large)
                left -= len(part)
                if name.endswith(_LOOKED_AT) or name.startswith("xl/worksheets/"):
                    parts[name] = part
            return parts
    except package.DAMAGED as fault:
        raise FileError(
            f"the workbook is damaged or locked by a password ({fault}): open it, save it again as "
            "XLSX without one"
        ) from None


def _walk(xml: bytes, started: Callable[[str, Attributes], None]) -> None:
    walk(
        xml, lambda name, attributes: started(name.rpartition(":")[2], attributes),
        declared="the workbook declares entities in its XML, which no office program does: save it again",
        damaged="the workbook is damaged ({fault}): open it and save it again as XLSX",
    )  # fmt: skip


def _said_true(text: str | None) -> bool:
    return text in ("1", "true", "on")


class _Reach:
    """Walks a sheet's XML: how far its cells reach, what is hidden or joined, which are formulas."""

    def __init__(self, name: str, hidden: bool, xml: bytes) -> None:
        self.name, self.hidden = name, hidden
        self.row = self.column = self.last_row = self.last_column = self.cells = 0
        self.hidden_rows: set[int] = set()
        self.hidden_columns: set[int] = set()
        self.merged: list[str] = []
        self.formulas: set[tuple[int, int]] = set()
        self._text = False
        self._known: dict[str, Callable[[Attributes], None]] = {
            "c": self._cell, "row": self._row, "f": self._formula, "col": self._column,
            "mergeCell": lambda a: self.merged.append(a.get("ref", "")),
        }  # fmt: skip
        _walk(xml, self._started)

    def _started(self, name: str, attributes: Attributes) -> None:
        known = self._known.get(name)
        if known is not None:
            known(attributes)

    def _row(self, attributes: Attributes) -> None:
        said = attributes.get("r", "")
        self.row = int(said) if said.isdigit() and len(said) < 9 else self.row + 1
        self.column = 0
        if _said_true(attributes.get("hidden")):
            self.hidden_rows.add(self.row)

    def _cell(self, attributes: Attributes) -> None:
        place = _CELL.fullmatch(attributes.get("r", ""))
        self.column = column_number(place[1]) if place else self.column + 1
        self.cells += 1
        if self.cells > MOST_CELLS:
            raise FileError(f"sheet {self.name} has more than {MOST_CELLS} cells: split it")
        self.last_row = max(self.last_row, int(place[2]) if place else self.row)
        self.last_column = max(self.last_column, self.column)
        self._text = attributes.get("t") == "str"
        if attributes.get("t") == "e":
            self.formulas.add((self.row, self.column - 1))

    def _formula(self, _: Attributes) -> None:
        # one that makes a text may well make an empty one: then nothing is missing
        if not self._text:
            self.formulas.add((self.row, self.column - 1))

    def _column(self, attributes: Attributes) -> None:
        ends = [attributes.get(n, "") for n in ("min", "max")]
        if _said_true(attributes.get("hidden")) and all(e.isdigit() and len(e) < 6 for e in ends):
            self.hidden_columns |= set(range(int(ends[0]) - 1, min(int(ends[1]), 16_384)))

    @property
    def sheet(self) -> Sheet:
        """What was found."""
        return Sheet(
            self.name, self.hidden, frozenset(self.hidden_rows), self.last_row, self.last_column,
            frozenset(self.hidden_columns), tuple(self.merged), frozenset(self.formulas),
        )  # fmt: skip


def sheets(data: bytes) -> list[Sheet]:
    """Sheets of a workbook in its order.

    Raises
    ------
    FileError
        No workbook, damaged, with a password, or beyond the bounds.
    """
    parts = _unpacked(data)
    if "xl/workbook.xml" not in parts:
        raise FileError("this is a packed file but no XLSX workbook: save the sheet as XLSX or CSV")
    listed: list[tuple[str, bool, str]] = []
    targets: dict[str, str] = {}

    def in_book(name: str, attributes: Attributes) -> None:
        if name == "sheet":
            link = next((v for k, v in attributes.items() if k.rpartition(":")[2] == "id"), "")
            hidden = attributes.get("state", "visible") != "visible"
            listed.append((attributes.get("name", ""), hidden, link))

    def in_links(name: str, attributes: Attributes) -> None:
        if name == "Relationship":
            targets[attributes.get("Id", "")] = attributes.get("Target", "")

    _walk(parts["xl/workbook.xml"], in_book)
    _walk(parts.get("xl/_rels/workbook.xml.rels", b"<none/>"), in_links)
    found = []
    for name, hidden, link in listed:
        target = targets.get(link, "")
        xml = parts.get(target.lstrip("/") if target.startswith("/") else f"xl/{target}")
        if xml is not None:
            found.append(_Reach(name, hidden, xml).sheet)
    return found
