"""Cells of a sheet by their addresses: B7, C5:J5."""

import re
from collections.abc import Iterator
from dataclasses import dataclass

from qc.errors import FileError
from qc.ingest.cellwise import letters
from qc.ingest.grid import Grid
from qc.records import Cell

_ONE = re.compile(r"\$?([A-Za-z]{1,3})\$?([1-9]\d{0,6})")


@dataclass(frozen=True, slots=True)
class Block:
    """A rectangle of cells: rows from 1, columns from 0, both ends included."""

    top: int
    left: int
    bottom: int
    right: int

    @property
    def text(self) -> str:
        """Its address."""
        first = f"{letters(self.left)}{self.top}"
        last = f"{letters(self.right)}{self.bottom}"
        return first if first == last else f"{first}:{last}"

    @property
    def across(self) -> bool:
        """Whether it is one row; a single cell is one too."""
        return self.top == self.bottom

    @property
    def down(self) -> bool:
        """Whether it is one column of several rows."""
        return self.left == self.right and self.bottom > self.top

    @property
    def size(self) -> int:
        """Number of its cells."""
        return (self.bottom - self.top + 1) * (self.right - self.left + 1)

    def cells(self) -> Iterator[tuple[int, int]]:
        """Yield row and column of each cell, row by row."""
        for row in range(self.top, self.bottom + 1):
            for column in range(self.left, self.right + 1):
                yield row, column


def column_index(said: str) -> int:
    """Number of a column from its letters, A = 0."""
    number = 0
    for letter in said.upper():
        number = number * 26 + ord(letter) - 64
    return number - 1


def block(text: str) -> Block:
    """The cells of an address like B7 or C5:J5.

    Raises
    ------
    FileError
        When it is no address.
    """
    parts = [_ONE.fullmatch(p.strip()) for p in text.split(":")]
    if len(parts) > 2 or None in parts:
        raise FileError(f"{text!r} is no address of cells: write it like B7 or C5:J5")
    ends = [(int(p[2]), column_index(p[1])) for p in parts if p is not None]
    (top, left), (bottom, right) = ends[0], ends[-1]
    if bottom < top or right < left:
        raise FileError(f"{text!r} runs backwards: write the upper left cell first")
    return Block(top, left, bottom, right)


class Cells:
    """Texts of a sheet by row and column."""

    def __init__(self, grid: Grid) -> None:
        self.grid = grid
        self._rows = dict(grid.rows)
        self._joined = {
            place: (m.top, m.left) for m in map(_merged, grid.merged) for place in m.cells()
        }  # fmt: skip

    @property
    def last_row(self) -> int:
        """Number of the last row with anything in it."""
        return max(self._rows, default=0)

    def text(self, row: int, column: int) -> str:
        """Text of a cell, blank outside the sheet."""
        cells = self._rows.get(row, ())
        return cells[column].strip() if column < len(cells) else ""

    def cell(self, row: int, column: int) -> Cell:
        """A cell as findings name it."""
        return Cell(row, letters(column), self.text(row, column), self.grid.sheet)

    def joined(self, row: int, column: int) -> str:
        """Text of a cell, that of the whole where cells are joined."""
        return self.text(*self._joined.get((row, column), (row, column)))

    def filled(self) -> Iterator[tuple[int, int, str]]:
        """Yield row, column and text of each cell that is not blank."""
        for row, cells in self.grid.rows:
            for column, text in enumerate(cells):
                if text.strip():
                    yield row, column, text.strip()

    def filled_row(self, row: int) -> Iterator[tuple[int, int, str]]:
        """Yield row, column and text of each cell of one row that is not blank."""
        for column, text in enumerate(self._rows.get(row, ())):
            if text.strip():
                yield row, column, text.strip()


def _merged(reference: str) -> Block:
    return block(reference)
