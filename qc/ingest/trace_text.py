"""Reader of profiles in plain text: spacing first and heights, columns of places and heights, or heights.

What such a file holds a layout says, as nothing in it does; units are proved by its header or the layout.
Bounds: MOST_HEAD lines before the figures, and those of `trace`.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

from qc.errors import FileError, UnitError
from qc.ingest.delimited import decoded, whole_lines
from qc.ingest.trace import MOST_POINTS, Profile, bounded, counted, even_spacing, um_per

if TYPE_CHECKING:
    from numpy import float64
    from numpy.typing import NDArray

Content = Literal["spacing_first", "x_z", "z"]
CONTENTS: Final[tuple[Content, ...]] = ("spacing_first", "x_z", "z")
MOST_HEAD: Final = 60
_FEWEST: Final = 50  # lines of figures that look like a trace
_LIKELY: Final = 65_536  # bytes that are looked at
_GAP: Final = frozenset({"nan", "bad"})
_DOT: Final = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?"
_COMMA: Final = _DOT.replace(r"\.", ",")
# figures with a point, between which a comma may stand; figures with a comma
_MARKS: Final = (
    (re.compile(_DOT), re.compile(r"\s*[;,\t]\s*|\s+")),
    (re.compile(_COMMA), re.compile(r"\s*[;\t]\s*|\s+")),
)
_IN_BRACKETS = re.compile(r"[\(\[]\s*([^\(\)\[\]]*?)\s*[\)\]]")


@dataclass(frozen=True, slots=True)
class Written:
    """What a layout says of a text file: its content, and units or the spacing (a text with its unit).

    spacing_after : how the line of the header begins behind which the spacing stands
    """

    content: Content
    x_unit: str = ""
    z_unit: str = ""
    spacing: str = ""
    spacing_after: str = ""


def claims(head: bytes, name: str) -> bool:
    """Whether a file looks like a trace: nothing but one or two figures a line, after some lines of words."""
    try:
        start = head[:_LIKELY]
        text = decoded(whole_lines(start) if len(start) == _LIKELY else start)
    except FileError:
        return False
    lines = [line for line in text.splitlines() if line.strip()]
    for columns in (1, 2):
        for number, separator in _MARKS:
            first = _first(lines, columns, number, separator)
            if first is not None and len(lines) - first >= _FEWEST:
                return True
    return False


def _first(
    lines: Sequence[str], columns: int, number: re.Pattern[str], separator: re.Pattern[str]
) -> int | None:
    """First line from which on every line holds that many figures, None where none does."""
    first = len(lines)
    while first and _figures(lines[first - 1], columns, number, separator) is not None:
        first -= 1
    return first if first < len(lines) and first <= MOST_HEAD else None


def _figures(
    line: str, columns: int, number: re.Pattern[str], separator: re.Pattern[str]
) -> list[str] | None:
    texts = separator.split(line.strip())
    if texts and not texts[-1] and len(texts) == columns + 1:
        texts.pop()  # a separator behind the last figure
    fits = len(texts) == columns and all(number.fullmatch(t) or t.casefold() in _GAP for t in texts)
    return texts if fits else None


def profiles(data: bytes, written: Written) -> list[Profile]:
    """The one profile of the file.

    Raises
    ------
    FileError
        No such content, a unit that nothing proves, or beyond the bounds.
    """
    bounded(data)
    lines = [line for line in decoded(data).splitlines() if line.strip()]
    head, columns = _read(lines, 2 if written.content == "x_z" else 1)
    if written.content == "x_z":
        return [_of_columns(head, columns, written)]
    if written.content == "z":
        if not written.z_unit:
            raise FileError('nothing says the unit of its heights: write z_unit = "um" (or another)')
        return [Profile(_spacing(head, written), columns[0] * _um(written.z_unit))]
    if any(_um(u) != 1 for line in head for u in _IN_BRACKETS.findall(line) if _length(u)):
        raise FileError('its header names another unit than um: say content = "x_z" or "z" in the layout')
    values = columns[0]
    return [Profile(float(values[0]), values[1:])]


def _read(lines: Sequence[str], wanted: int) -> tuple[list[str], list["NDArray[float64]"]]:
    """Lines before the figures, and the columns of figures; a line that is none is refused."""
    import numpy as np

    for number, separator in _MARKS:
        first = _first(lines, wanted, number, separator)
        if first is None:
            continue
        counted(len(lines) - first, 1)
        rows = [_figures(line, wanted, number, separator) or [] for line in lines[first:]]
        columns = [
            np.array([np.nan if t.casefold() in _GAP else float(t.replace(",", ".")) for t in texts])
            for texts in zip(*rows, strict=True)
        ]
        for column in columns:
            column[~(np.abs(column) < 1e12)] = np.nan
        head = list(lines[:first])
        _refuse_figures_in(head, wanted)
        return head, columns
    each = "one figure" if wanted == 1 else "two figures"
    raise FileError(
        f"it does not hold {each} a line to its end (first other line: {_odd(lines, wanted)!r}): put that "
        "line right, or say its content in the layout"
    )


def _refuse_figures_in(head: Sequence[str], wanted: int) -> None:
    """A line of figures among the words of a header is a line of another form: what follows it is not all."""
    for line in head:
        if any(_figures(line, n, *mark) is not None for n in (1, 2, 3) for mark in _MARKS):
            raise FileError(
                f"the line {line.strip()[:40]!r} stands before words or holds not {wanted} figures as those "
                "below do: put the lines there right or export it again"
            )


def _odd(lines: Sequence[str], wanted: int) -> str:
    seen = False
    for line in lines[: MOST_POINTS + MOST_HEAD]:
        fits = any(_figures(line, wanted, *mark) is not None for mark in _MARKS)
        if seen and not fits:
            return line.strip()[:40]
        seen = seen or fits
    return (lines[0] if lines else "").strip()[:40]


def _of_columns(head: Sequence[str], columns: Sequence["NDArray[float64]"], written: Written) -> Profile:
    x_um, z_um = _units(head, (written.x_unit, written.z_unit), ("x_unit", "z_unit"))
    return Profile(even_spacing(columns[0]) * x_um, columns[1] * z_um)


def _units(head: Sequence[str], said: Sequence[str], keys: Sequence[str]) -> list[float]:
    """Lengths of the units of the columns [um]: as the header or the layout says, who must agree."""
    named = _named(head) or [""] * len(keys)
    if not any(named):
        _refuse_half(head, said, keys)
    found = []
    for in_head, in_layout, key in zip(named, said, keys, strict=True):
        if not in_head and not in_layout:
            raise FileError(f'nothing says the unit of a column: write {key} = "um" (or another)')
        lengths = {_um(u) for u in (in_head, in_layout) if u}
        if len(lengths) > 1:
            raise FileError(
                f"its header says {in_head}, the layout {key} = {in_layout}: put right whichever is wrong"
            )
        found.append(lengths.pop())
    return found


def _refuse_half(head: Sequence[str], said: Sequence[str], keys: Sequence[str]) -> None:
    """Refuse a layout against a header that names a unit, though not one for each column."""
    for unit in _IN_BRACKETS.findall(head[-1]) if head else []:
        if _length(unit) and _um(unit) not in {_um(u) for u in said if u} and any(said):
            layout = " and ".join(f"{k} = {u}" for k, u in zip(keys, said, strict=True) if u)
            raise FileError(f"its header names {unit}, the layout {layout}: put right whichever is wrong")


def _um(unit: str) -> float:
    try:
        return um_per(unit)
    except UnitError as fault:
        raise FileError(str(fault)) from None


def _named(head: Sequence[str]) -> list[str]:
    """Units that the line just before the figures names for two columns; empty where it does not."""
    line = head[-1].strip() if head else ""
    bracketed = [u for u in _IN_BRACKETS.findall(line) if _length(u)]
    if len(bracketed) == 2:
        return bracketed
    cells = [c for c in re.split(r"[;,\t]|\s+", line) if c]
    return cells if len(cells) == 2 and all(map(_length, cells)) else []


def _length(text: str) -> bool:
    try:
        return um_per(text) > 0
    except UnitError:
        return False


def _spacing(head: Sequence[str], written: Written) -> float:
    """Step between the heights [um], from the layout or the line of the header that it names."""
    text = written.spacing
    if written.spacing_after:
        start = written.spacing_after.casefold()
        rest = [h.strip()[len(start) :] for h in head if h.strip().casefold().startswith(start)]
        if len(rest) != 1:
            raise FileError(f"{len(rest)} lines of its header begin with {written.spacing_after!r}, not one")
        text = rest[0]
    said = re.fullmatch(rf"[\s:=]*({_DOT}|{_COMMA})\s*[\(\[]?\s*([^\d\s\(\)\[\]]+)\s*[\)\]]?\s*", text)
    if said is None:
        raise FileError(f'the spacing reads {text.strip()[:40]!r}: say it with its unit, spacing = "0.5 um"')
    return float(said[1].replace(",", ".")) * _um(said[2])
