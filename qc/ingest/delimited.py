"""Reader of text files with comma, semicolon, tab or bar between the cells."""

import csv
import io
import re
from collections.abc import Iterator
from contextlib import suppress
from itertools import islice
from typing import Final

from qc.errors import FileError
from qc.ingest import centre_columns
from qc.ingest.grid import MOST_CELLS, MOST_ROWS, Grid, bounded
from qc.ingest.kinds import likeness

_SEPARATORS: Final = (",", ";", "\t", "|")
_BOMS: Final = (
    (b"\xef\xbb\xbf", "utf-8-sig"),
    (b"\xff\xfe\x00\x00", "utf-32"),
    (b"\x00\x00\xfe\xff", "utf-32"),
    (b"\xff\xfe", "utf-16"),
    (b"\xfe\xff", "utf-16"),
)
_NOT_TEXT: Final = (
    b"%PDF",
    b"PK\x03\x04",
    b"\xd0\xcf\x11\xe0",
    b"\x89PNG",
    b"\xff\xd8\xff",
    b"GIF8",
    b"PAR1",
    b"SQLite",
    b"<?xml",
    b"\xef\xbb\xbf<?xml",
)
_CONTROLS: Final = bytes(b for b in range(1, 32) if b not in b"\t\n\f\r")  # nought: half of UTF-16
_START: Final = 65_536  # bytes that hold the header for sure
_SEP_LINE = re.compile(r"sep=(.)\r?\n?", re.IGNORECASE)


def claims(head: bytes, name: str) -> bool:
    """Whether a file is ours to read: text, by its first bytes; its name does not matter."""
    if head.startswith(_NOT_TEXT):
        return False
    head = head[:4096]
    return (len(head) - len(head.translate(None, _CONTROLS))) * 50 <= len(head)


def decoded(data: bytes) -> str:
    """Text of a file: by its byte order mark, else UTF-8, else UTF-16 where every second byte is nought,
    else cp1252.

    Raises
    ------
    FileError
        When it is no text in any of them.
    """
    for mark, encoding in _BOMS:
        if data.startswith(mark):
            return _strictly(data, encoding)
    if b"\x00" in data[:4096]:
        return _strictly(data, _wide(data[:4096]))
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return _strictly(data, "cp1252")


def _wide(head: bytes) -> str:
    even, odd = head[0::2].count(0), head[1::2].count(0)
    half = max(len(head) // 2, 1)
    if odd > 0.4 * half and even < 0.1 * half:
        return "utf-16-le"
    if even > 0.4 * half and odd < 0.1 * half:
        return "utf-16-be"
    raise FileError("the file holds NUL bytes and is no text: export it again as CSV or XLSX")


def _strictly(data: bytes, encoding: str) -> str:
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError as fault:
        raise FileError(
            f"the file is no text we can read (byte {fault.start} does not fit {encoding}): save it "
            "as CSV in UTF-8"
        ) from None
    if "\x00" in text:
        raise FileError("the file holds NUL characters and is no text: export it again as CSV or XLSX")
    return text


def _rows(text: str, separator: str) -> Iterator[tuple[int, tuple[str, ...]]]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    line, left = 1, MOST_CELLS
    while True:
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as fault:
            raise FileError(
                f"line {line} cannot be split into cells ({fault}): close or remove the stray quote "
                "mark there"
            ) from None
        bounded(1, len(cells), max(map(len, cells), default=0), f"line {line}")
        left -= len(cells)
        if left < 0 or line > MOST_ROWS:
            raise FileError(f"the file has more than {MOST_CELLS} cells or {MOST_ROWS} lines: split it")
        yield line, tuple(cells)
        line = reader.line_num + 1


def _first_rows(text: str, separator: str, most: int) -> list[tuple[str, ...]]:
    found: list[tuple[str, ...]] = []
    with suppress(FileError):  # a wrong separator breaks on quote marks; the real reading says what is wrong
        found.extend(row for _, row in islice(_rows(text, separator), most))
    return found


def _separator(text: str) -> str:
    start = text[:20_000]

    def score(separator: str) -> tuple[int, int]:
        rows = _first_rows(start, separator, 20)
        named = [max(likeness(row), centre_columns.likeness(row)) for row in rows]
        return (max(named, default=0), max(map(len, rows), default=0))

    there = [s for s in _SEPARATORS if s in start]
    return there[0] if len(there) == 1 else max(there, key=score, default=",")


def whole_lines(start: bytes) -> bytes:
    """The start of a file without the line that it breaks off in; of UTF-16 without half a character."""
    if b"\x00" in start:
        return start[: len(start) // 4 * 4]
    return start[: start.rfind(b"\n") + 1] or start


def first_rows(data: bytes, most: int = 12) -> list[tuple[str, ...]]:
    """The first rows of a file, enough to tell its kind.

    Raises
    ------
    FileError
        When it is no text.
    """
    text = decoded(whole_lines(data[:_START]) if len(data) > _START else data)
    said = _SEP_LINE.match(text)
    return _first_rows(text, said[1] if said else _separator(text), most)


def cells(data: bytes) -> list[Grid]:
    """Cells of the file, line numbers being the file's own.

    Raises
    ------
    FileError
        No text, a quote mark that is never closed, or beyond the bounds.
    """
    text = decoded(data)
    said = _SEP_LINE.match(text)
    separator = said[1] if said else _separator(text)
    rows = tuple((line, row) for line, row in _rows(text, separator) if any(c.strip() for c in row))
    if said and rows and rows[0][0] == 1:
        rows = rows[1:]
    bounded(len(rows), 1, 0, "the file")
    return [Grid(rows, unended=not text.endswith(("\n", "\r")))]
