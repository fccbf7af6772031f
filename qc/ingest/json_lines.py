"""Reader of JSON lines: one object a line, its keys the columns of a file we know.

Source: RFC 8259 (JSON); one value a line, lines ended by a line feed (JSON Lines, common practice).
"""

import json
from typing import Any

from qc.errors import FileError
from qc.ingest.delimited import decoded
from qc.ingest.grid import Grid, bounded


def claims(head: bytes, name: str) -> bool:
    """Whether a file is ours to read: its first character opens an object; its name does not matter."""
    for mark in (b"\xef\xbb\xbf", b"\xff\xfe", b"\xfe\xff"):
        head = head.removeprefix(mark)
    return head[:256].replace(b"\x00", b"").lstrip()[:1] == b"{"  # UTF-16 has a nought beside each letter


def _text(value: Any, line: int) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, str):
        return value
    raise FileError(
        f"line {line} holds a list or an object inside its object: write one text or number a key"
    )


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    told = dict(pairs)
    if len(told) < len(pairs):
        raise ValueError("a key stands in it twice")
    return told


def _constant(text: str) -> str:
    raise ValueError(f"{text} is no number of JSON")


def _line(text: str, number: int) -> dict[str, str]:
    try:
        # numbers stay as they are written: no digit is lost, none is made up
        told = json.loads(
            text, object_pairs_hook=_object, parse_float=str, parse_int=str, parse_constant=_constant
        )
    except (ValueError, RecursionError) as fault:
        raise FileError(f"line {number} is no JSON object ({fault}): put it right or export again") from None
    if not isinstance(told, dict):
        raise FileError(f"line {number} is JSON but no object: write {{...}} on each line")
    return {key: _text(value, number) for key, value in told.items()}


def cells(data: bytes) -> list[Grid]:
    """Cells of the file; rows are its lines, the row of keys counts as row 0.

    Raises
    ------
    FileError
        No JSON lines, a key twice in one line, or beyond the bounds.
    """
    lines = [(n, t) for n, t in enumerate(decoded(data).split("\n"), start=1) if t.strip()]
    told = [(n, _line(t, n)) for n, t in lines]
    keys = list(dict.fromkeys(key for _, one in told for key in one))
    longest = max((len(t) for _, one in told for t in one.values()), default=0)
    bounded(len(told), len(keys), longest, "the file")
    rows = tuple((n, tuple(one.get(key, "") for key in keys)) for n, one in told)
    return [Grid(((0, tuple(keys)), *rows))]
