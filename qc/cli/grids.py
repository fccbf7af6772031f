"""Cells of a sheet beside what they become, as a grid on a terminal."""

from collections.abc import Mapping, Sequence
from itertools import groupby
from typing import Any, Final

import click

from qc.cli.printed import table

Cell = Mapping[str, Any]
_PLACE: Final = ("feature", "station_mm", "clock_deg")
_WHOLE: Final = ("build", "reading", "unit", "target")
_SAID: Final = {"station_mm": "mm", "clock_deg": "deg"}


def show(cells: Sequence[Cell]) -> None:
    """Print each table: rows and columns as in the sheet, each cell as written and what it becomes."""
    for _, group in groupby(cells, key=lambda c: (c["sheet"], c["table"])):
        _table(list(group))


def _table(cells: Sequence[Cell]) -> None:
    first = cells[0]
    whole = [f"{k} {first[k]}" for k in _WHOLE if first[k] and _same(cells, k)]
    where = f"{first['sheet']}: " if first["sheet"] else ""
    click.echo(f"{where}{', '.join(whole)}")
    rows = sorted({c["row"] for c in cells})
    columns = sorted({c["column"] for c in cells}, key=lambda letters: (len(letters), letters))
    down = [k for k in (*_PLACE, *_WHOLE) if not _same(cells, k) and _each(cells, "row", k)]
    left = [k for k in (*_PLACE, *_WHOLE) if k not in down and not _same(cells, k)]
    across = [k for k in left if _each(cells, "column", k)]
    by_place = {(c["row"], c["column"]): c for c in cells}
    head = ("row", *(_label(_of(cells, "column", letters), letters, across) for letters in columns))
    lines = [
        (_label(_of(cells, "row", row), str(row), down), *(_cell(by_place.get((row, x))) for x in columns))
        for row in rows
    ]
    table(head, lines, left=len(head))


def _same(cells: Sequence[Cell], key: str) -> bool:
    return len({c[key] for c in cells}) == 1


def _of(cells: Sequence[Cell], axis: str, value: object) -> list[Cell]:
    return [c for c in cells if c[axis] == value]


def _each(cells: Sequence[Cell], axis: str, key: str) -> bool:
    """Whether every row (or column) has one text of that key."""
    return all(_same(_of(cells, axis, value), key) for value in {c[axis] for c in cells})


def _label(cells: Sequence[Cell], start: str, keys: Sequence[str]) -> str:
    texts = [f"{cells[0][k]} {_SAID.get(k, '')}".strip() for k in keys if cells[0][k]]
    return " ".join([start, *texts])


def _cell(cell: Cell | None) -> str:
    if cell is None:
        return ""
    return f"{cell['text']} = {'waits' if cell['waits'] else cell['becomes']}"


def waiting(cells: Sequence[Cell]) -> None:
    """Print why cells would wait, each reason once."""
    reasons: dict[str, list[str]] = {}
    for cell in cells:
        if cell["waits"]:
            reasons.setdefault(cell["waits"], []).append(f"{cell['cell']} {cell['text']!r}")
    for reason, places in reasons.items():
        more = f" and {len(places) - 4} more" if len(places) > 4 else ""
        click.echo(f"waits: {', '.join(places[:4])}{more}: {reason}")
