"""The nouns of the house as text and back, and what identifies a place."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import fields
from functools import cache
from hashlib import blake2b
from typing import Any

from qc.records import Build, Cell, Event, Gauge, Machine, PlanRow, Reading, Record, Source, Spec

_NOUNS: dict[str, type[Any]] = {n.__name__: n for n in (Reading, Spec, Event, Gauge, Build, Machine, PlanRow)}


def digest(reading: Reading) -> bytes:
    """What identifies a reading's place in the store (16 bytes): blank equals blank."""
    told = "\x1f".join(["" if part is None else str(part) for part in reading.place])
    return blake2b(told.encode("utf-8", "backslashreplace"), digest_size=16).digest()


def fields_digest(told: Sequence[tuple[str, str]]) -> bytes:
    """What identifies a row that could not be read (16 bytes): the texts of its cells."""
    return blake2b(
        packed_fields(told).encode("utf-8", "backslashreplace"), digest_size=16, person=b"as read"
    ).digest()


def clean(text: str | None) -> str | None:
    """Text that every back end takes: NUL becomes its picture, half a character its escape."""
    if text is None or text.isprintable():
        return text
    return text.replace("\x00", "\N{SYMBOL FOR NULL}").encode("utf-8", "backslashreplace").decode("utf-8")


def packed(record: Record) -> str:
    """A record as JSON, read back by `unpacked`."""
    told = {name: getattr(record, name) for name in _names(type(record).__name__)}
    if record.source is not None:
        told["source"] = {name: getattr(record.source, name) for name in _names("Source")}
    return json.dumps({"noun": type(record).__name__, **told})


def unpacked(text: str) -> Record:
    """The record that `packed` wrote; fields this version does not know are left out."""
    told = json.loads(text)
    noun = _NOUNS[told.pop("noun")]
    if told.get("source") is not None:
        told["source"] = Source(**told["source"])
    record: Record = noun(**{name: value for name, value in told.items() if name in _names(noun.__name__)})
    return record


def packed_cells(cells: Sequence[Cell]) -> str:
    """Cells as JSON, at most 200 of them."""
    return json.dumps([[c.row, c.column, c.text, c.sheet] for c in cells[:200]])


def unpacked_cells(text: str) -> list[Cell]:
    """The cells that `packed_cells` wrote."""
    return [
        Cell(row=row, column=column, text=told, sheet=sheet) for row, column, told, sheet in json.loads(text)
    ]


def packed_fields(told: Sequence[tuple[str, str]]) -> str:
    """A row as read, as JSON; names may repeat."""
    return json.dumps([list(pair) for pair in told])


def unpacked_fields(text: str) -> dict[str, str]:
    """The row that `packed_fields` wrote."""
    return dict(json.loads(text))


def packed_scope(scope: Mapping[str, object]) -> str:
    """Scope of an exclusion as JSON, in one spelling."""
    told = {
        name: list(value) if isinstance(value, tuple | list | set) else value for name, value in scope.items()
    }
    return json.dumps(told, sort_keys=True)


@cache
def _names(noun: str) -> tuple[str, ...]:
    return tuple(item.name for item in fields(_NOUNS.get(noun, Source)))
