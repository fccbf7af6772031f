"""What a reader hands on: the text of every cell with its place, within bounds that every reader keeps."""

from dataclasses import dataclass, field
from typing import Final

from qc.errors import FileError

MOST_COLUMNS: Final = 500
MOST_ROWS: Final = 1_048_576
MOST_CELLS: Final = 5_000_000
LONGEST_CELL: Final = 10_000


@dataclass(frozen=True, slots=True)
class Grid:
    """The cells of one file or sheet as text.

    rows : pairs of (the file's own line or the sheet's row, from 1) and the cells
    sheet : name of the sheet, None where the file has none
    hidden_rows : rows a person does not see; hidden : the whole sheet is not seen
    hidden_columns : columns not seen, from 0; merged : cells joined into one, as addresses
    formulas : row and column (from 0) of cells that a formula fills with no text
    unended : a text whose last line has no end, as one has that was cut off
    """

    rows: tuple[tuple[int, tuple[str, ...]], ...]
    sheet: str | None = None
    hidden_rows: frozenset[int] = field(default_factory=frozenset)
    hidden: bool = False
    hidden_columns: frozenset[int] = field(default_factory=frozenset)
    merged: tuple[str, ...] = ()
    formulas: frozenset[tuple[int, int]] = field(default_factory=frozenset)
    unended: bool = False

    def hidden_at(self, row: int, column: int) -> str:
        """What keeps a cell out of sight: its sheet, row or column; blank for one that is seen."""
        if self.hidden:
            return "sheet"
        if row in self.hidden_rows:
            return "row"
        return "column" if column in self.hidden_columns else ""


def bounded(rows: int, columns: int, longest: int, where: str) -> None:
    """Refuse what no measurement file is.

    Raises
    ------
    FileError
        More rows, columns, cells or a longer cell than we read.
    """
    if columns > MOST_COLUMNS:
        raise FileError(
            f"{where} has {columns} columns; at most {MOST_COLUMNS} are read: save only the columns "
            "that are needed"
        )
    if rows > MOST_ROWS or rows * columns > MOST_CELLS:
        raise FileError(f"{where} has {rows} rows of {columns} columns; split it into smaller files")
    if longest > LONGEST_CELL:
        raise FileError(f"{where} has a cell of {longest} characters; at most {LONGEST_CELL} are read")
