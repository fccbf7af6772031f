"""Findings about what stands in a sheet beside its readings, so that nothing is lost without a word."""

from collections.abc import Sequence
from typing import Final

from qc.ingest.addresses import Block, Cells
from qc.ingest.layout import Layout, TableLayout
from qc.ingest.typed_numbers import decimals
from qc.ingest.words import MOST_CELLS
from qc.records import Cell, Finding

NEEDS_LAYOUT: Final = "needs_layout"
SAY_IT: Final = (
    "Say it in a layout (qc layout try FILE --write LAYOUT.toml writes a first one) and take the file in "
    "again."
)
_LISTED: Final = 4


def said(cells: Sequence[Cell]) -> str:
    """Cells in words: "F7 ('see note'), G9 ('x') and 2 more"."""
    first = ", ".join(f"{c.column}{c.row}" + (f" ({c.text!r})" if c.text else "") for c in cells[:_LISTED])
    sheet = f" of sheet {cells[0].sheet}" if cells[0].sheet else ""
    rest = len(cells) - _LISTED
    return first + (f" and {rest} more" if rest > 0 else "") + sheet


def _finding(severity: str, code: str, cells: Sequence[Cell], *words: str) -> Finding:
    saw, doubt, proposal, effect = words
    return Finding(severity, code, tuple(cells[:MOST_CELLS]), saw, doubt, proposal, effect, len(cells))  # type: ignore[arg-type]


def _verb(cells: Sequence[Cell]) -> str:
    return "stands" if len(cells) == 1 else "stand"


def added(inside: Sequence[Cell], outside: Sequence[Cell]) -> list[Finding]:
    """What was added to a bench sheet: numbers among its readings wait, words are noted."""
    numbers = [c for c in inside if decimals(c.text) is not None]
    words = [c for c in (*inside, *outside) if c not in numbers]
    found = []
    if numbers:
        found.append(_finding(
            "stop", "added_numbers", numbers,
            f"{said(numbers)} {_verb(numbers)} where the sheet asks for nothing.",
            "No key says which place or feature they are about.",
            "Write them into a file of readings (qc template readings) or a sheet with those positions, "
            "and take that in; then discard this.",
            "They are in no figure.",
        ))  # fmt: skip
    if words:
        found.append(_finding(
            "note", "added_words", words, f"{said(words)} {_verb(words)} beside what the sheet asks for.",
            "They are no readings.", "Nothing, if they change nothing.", "They stay in the file as kept.",
        ))  # fmt: skip
    return found


def typed_over(cells: Sequence[tuple[Cell, str]], name: str, counts: bool) -> Finding:
    """A target or limit that is not what the sheet was written with.

    Parameters
    ----------
    cells : sequence of (Cell, str)
        Each with the text it was written with.
    counts : bool
        Whether the new text counts (targets) or not (limits).
    """
    now = [c for c, _ in cells]
    before = ", ".join(dict.fromkeys(b or "blank" for _, b in cells))
    effect = (
        "The readings are judged against what stands there now."
        if counts
        else "It is not used: limits come from the specifications."
    )
    proposal = (
        "Accept if the target was changed on purpose; otherwise discard these readings and correct the sheet."
        if counts
        else "If a limit is to change, say so with qc spec add."
    )
    return _finding(
        "ask" if counts else "note", f"{name}_typed_over", now,
        f"The {name} reads {said(now)}; it was written as {before}.",
        "Somebody typed over it after the sheet was written.", proposal, effect,
    )  # fmt: skip


def key_spoilt(cells: Sequence[Cell]) -> Finding:
    """A table whose key was changed: what its cells are about is no longer certain."""
    return _finding(
        "stop", "key_spoilt", cells, f"The key of the table at {said(cells[:1])} was changed.",
        "Without it nobody can be sure what build, state and unit its cells are about.",
        "Put the cell back as it was written (undo, or copy it from a new sheet) and take the file in "
        "again; or discard the table.",
        f"{len(cells)} cells of the table are in no figure.",
    )  # fmt: skip


def not_measured(cells: Sequence[Cell]) -> Finding:
    """Cells that say that nothing was measured."""
    return _finding(
        "note", "not_measured", cells,
        f"{said(cells)} {'says' if len(cells) == 1 else 'say'} that nothing was measured.",
        "A dash or N/A is no number.", "Nothing, if that is right.", "There is no reading there.",
    )  # fmt: skip


def layout_says_not(name: str, table: TableLayout, cells: Cells) -> Finding:
    """A table that a layout describes, but not enough to read it."""
    keys = ", ".join(table.missing)
    return unread_table(
        cells, table.values, f"the layout {name} does not say its {keys}",
        f"Write {'it' if len(table.missing) == 1 else 'them'} into the layout and take the file in again.",
    )  # fmt: skip


def unread_log(cells: Cells, rows: Sequence[tuple[int, int]], why: str, cure: str) -> Finding:
    """A gauge's list that waits because its order does not tell what was measured where."""
    found = [cells.cell(*place) for place in rows]
    return _finding(
        "stop", NEEDS_LAYOUT, found, f"The gauge's list was not read: {why}.",
        "Only their order tells what was measured where: one too many shifts all that follow.", cure,
        f"Its {len(found)} readings are in no figure.",
    )  # fmt: skip


def read_with(layout: Layout, what: str, cell: Cell) -> Finding:
    """By which layout a sheet, file or trace was read."""
    return Finding(
        "note", "read_with_layout", (cell,), f"{what} was read with the layout {layout.name}.",
        f"The layout as it was (SHA-256 {layout.digest[:12]}) is kept in the store beside the file.",
        "Nothing, if the layout is right.", "The readings mean what it says.",
    )  # fmt: skip


def unread_table(cells: Cells, values: Block, why: str, cure: str) -> Finding:
    """A table that waits because what its cells mean is not certain."""
    found = [cell for place in values.cells() if (cell := cells.cell(*place)).text]
    where = f" of sheet {cells.grid.sheet}" if cells.grid.sheet else ""
    return _finding(
        "stop", NEEDS_LAYOUT, found, f"The table at {values.text}{where} was not read: {why}.",
        "What a figure means is never guessed: a wrong unit, state or place is a wrong reading.", cure,
        f"Its {len(found)} cells are in no figure.",
    )  # fmt: skip


def left_over(cells: Cells, covered: set[tuple[int, int]], values: Sequence[Block]) -> list[Finding]:
    """Numbers on a tab that its layout does not speak of: asked about beside a table, noted elsewhere."""
    near: list[Cell] = []
    far: list[Cell] = []
    for row, column, text in cells.filled():
        if (row, column) in covered or decimals(text) is None:
            continue
        cell = cells.cell(row, column)
        (near if any(_near(row, column, b) for b in values) else far).append(cell)
    found = []
    if near:
        found.append(_finding(
            "ask", "beside_the_table", near,
            f"{said(near)} {_verb(near)} beside a table that the layout describes.",
            "A row or column may have been added to the sheet.",
            "If they are readings, widen the table in the layout; otherwise accept.",
            "They are in no figure.",
        ))  # fmt: skip
    if far:
        found.append(_finding(
            "note", "numbers_not_read", far, f"{said(far)} {_verb(far)} outside the tables of the layout.",
            "The layout does not speak of them.", "Nothing, if they are no readings.",
            "They are in no figure.",
        ))  # fmt: skip
    return found


def _near(row: int, column: int, b: Block) -> bool:
    below = row in (b.bottom + 1, b.bottom + 2) and b.left <= column <= b.right
    aside = column in (b.right + 1, b.right + 2) and b.top <= row <= b.bottom
    return below or aside


def other_channels(cells: Cells, rows: Sequence[tuple[int, int]], only: str) -> Finding:
    """Readings of a gauge's list that stand under another channel than the layout's."""
    found = [cells.cell(*place) for place in rows]
    return _finding(
        "note", "other_channels", found, f"{len(found)} readings of the list are not of channel {only}.",
        "The layout is for that channel alone.", "Nothing, if the others belong to something else.",
        "They are in no figure.",
    )  # fmt: skip
