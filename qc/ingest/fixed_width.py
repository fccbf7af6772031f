"""Reader of centre lists in columns of fixed width: cells parted by blanks that stand under each other."""

import re
from collections.abc import Sequence
from typing import Final

from qc.errors import FileError
from qc.ingest import centre_columns, delimited
from qc.ingest.grid import Grid, bounded

_MOST_LINES: Final = 5_000
_WIDEST: Final = 2_000
_CELL = re.compile(r"\S+(?: \S+)*")  # words with one blank between are one heading
_WORD = re.compile(r"\S+")
_PARTED: Final = (";", "\t", "|")


def _header(lines: Sequence[str]) -> int | None:
    """Number of the line that heads the list, None where there is none."""
    for i, line in enumerate(lines[: centre_columns.WITHIN]):
        if len(line) <= _WIDEST and not any(s in line for s in _PARTED) and _headings(line):
            return i
    return None


def _headings(line: str) -> list[tuple[int, int]]:
    """Where each heading begins and ends; none where the line is no header."""
    for pattern in (_CELL, _WORD):
        found = list(pattern.finditer(line))
        if len(found) >= 4 and centre_columns.likeness([m[0] for m in found]):
            return [m.span() for m in found]
    return []


def claims(head: bytes, name: str) -> bool:
    """Whether a file is ours to read: text with the header of a centre list, its columns parted by blanks."""
    if not delimited.claims(head, name):
        return False
    try:
        text = delimited.decoded(delimited.whole_lines(head))
    except FileError:
        return False
    return _header(text.splitlines()) is not None


def cells(data: bytes) -> list[Grid]:
    """Cells of the file, line numbers being the file's own.

    Raises
    ------
    FileError
        When its columns do not stand under each other, or beyond the bounds.
    """
    lines = delimited.decoded(data).splitlines()
    bounded(len(lines), 1, 0, "the file")
    if len(lines) > _MOST_LINES:
        raise FileError(f"the list has {len(lines)} lines; at most {_MOST_LINES} are read: split it")
    wide = next((n for n, line in enumerate(lines, start=1) if len(line) > _WIDEST), None)
    if wide is not None:
        raise FileError(f"line {wide} of the list has more than {_WIDEST} characters: export it as CSV")
    lines = [line.expandtabs(8).rstrip() for line in lines]
    at = _header(lines)
    if at is None:
        raise FileError("the list has no header with feature, axis, nominal and actual: export it as CSV")
    starts = _borders(lines, at)
    rows: list[tuple[int, tuple[str, ...]]] = []
    rows += [(n, (line.strip(),)) for n, line in enumerate(lines[:at], start=1) if line.strip()]
    rows += [
        (n, _split(line, starts)) for n, line in enumerate(lines[at:], start=at + 1) if not _ruled(line)
    ]
    return [Grid(tuple(rows))]


def _ruled(line: str) -> bool:
    """Whether a line is blank or drawn: dashes and the like alone."""
    return not any(c.isalnum() for c in line)


def _split(line: str, starts: Sequence[int]) -> tuple[str, ...]:
    ends = [*starts[1:], len(line)]
    return tuple(line[a:b].strip() for a, b in zip(starts, ends, strict=True))


def _borders(lines: Sequence[str], at: int) -> list[int]:
    """Where each column begins.

    Raises
    ------
    FileError
        When a cell stands under two headings or under none.
    """
    headings = _headings(lines[at])
    table = [line for line in lines[at + 1 :] if not _ruled(line)]
    blank = [all(c >= len(line) or line[c] == " " for line in table) for c in range(_WIDEST)]
    segments = _segments(blank, max((len(line) for line in table), default=0))
    owner = [_under(s, headings) for s in segments]
    for i, own in enumerate(owner):
        if own is None and i and owner[i - 1] is not None and segments[i][0] - segments[i - 1][1] == 1:
            owner[i] = owner[i - 1]  # the second word of a name under a short heading
    crossing = next((s for s, own in zip(segments, owner, strict=True) if own is None), None)
    if crossing is not None:
        raise FileError(
            f"the columns of the list do not stand under their headings (at character {crossing[0] + 1}): "
            "export it as CSV"
        )
    starts = []
    for k, (begin, _) in enumerate(headings):
        mine = [s[0] for s, own in zip(segments, owner, strict=True) if own == k]
        starts.append(min([begin, *mine]))
    starts[0] = 0
    return starts


def _segments(blank: Sequence[bool], width: int) -> list[tuple[int, int]]:
    """Runs of characters between blanks that go through all lines."""
    found: list[tuple[int, int]] = []
    begin: int | None = None
    for c in range(width + 1):
        filled = c < width and not blank[c]
        if filled and begin is None:
            begin = c
        elif not filled and begin is not None:
            found.append((begin, c))
            begin = None
    return found


def _under(segment: tuple[int, int], headings: Sequence[tuple[int, int]]) -> int | None:
    """The one heading that a run of characters stands under, None for none or several."""
    touched = [k for k, (a, b) in enumerate(headings) if segment[0] < b and a < segment[1]]
    return touched[0] if len(touched) == 1 else None
