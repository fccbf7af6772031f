"""What a bench sheet says about itself in its first column, so that it is read back as it was meant.

Every table has a row with all that holds for it, every column its feature and the target it was written with,
every row of readings its depth and direction. Plain cells are used for it: they move with their rows and
columns, and every program keeps them.
"""

import json
import re
from dataclasses import asdict, dataclass
from hashlib import blake2b
from typing import Final

from qc import units
from qc.errors import NumberError

MARK: Final = "qc sheet 1"
COLUMNS: Final = "columns"
HEAD: Final = "head"
WORDS: Final = "words"
NOTE: Final = "note"
FILLED: Final = "fill "  # then the column of a readings file that the cell fills
ROWS: Final = ("target", "lower", "upper", "order", NOTE)
_TABLE = re.compile(rf"{MARK} (\{{.*\}}) ([0-9a-f]{{8}})", re.DOTALL)
_PLACE = re.compile(r"at (-|[0-9.]+) (-|[0-9.]+)")


@dataclass(frozen=True, slots=True)
class TableKey:
    """What holds for every reading of one table of a bench sheet; texts as in a readings file."""

    build: str
    machine: str
    operation: str
    characteristic: str
    method: str
    state: str
    reading: str
    unit: str
    engine: str = ""
    serial: str = ""
    pass_: str = ""

    def text(self) -> str:
        """The key as it stands in its cell, with a digest that tells a key typed over."""
        body = json.dumps(asdict(self), ensure_ascii=True, separators=(",", ":"))
        return f"{MARK} {body} {_digest(body)}"

    @property
    def fields(self) -> dict[str, str]:
        """Texts by our names of columns."""
        told = asdict(self)
        told["pass"] = told.pop("pass_")
        return told


def _digest(body: str) -> str:
    return blake2b(body.encode("utf-8"), digest_size=4).hexdigest()


def table(text: str) -> TableKey | None:
    """The key that a cell holds, None for a cell without one or with one that was changed."""
    found = _TABLE.fullmatch(text.strip())
    if found is None or _digest(found[1]) != found[2]:
        return None
    try:
        return TableKey(**json.loads(found[1]))
    except (TypeError, ValueError):
        return None


def place(station: int | None, clock: int | None) -> str:
    """Key of a row of readings [ticks of depth and direction]."""
    return f"at {_plain(station, 'mm')} {_plain(clock, 'deg')}"


def _plain(ticks: int | None, unit: str) -> str:
    return "-" if ticks is None else f"{units.exact(ticks, unit).normalize():f}"


def placed(text: str) -> tuple[str, str] | None:
    """Depth [mm] and direction [deg] of a row of readings as texts, blank where not said; None for another
    row.
    """
    found = _PLACE.fullmatch(text.strip())
    if found is None:
        return None
    station, clock = ("" if part == "-" else part for part in found.groups())
    try:
        for part in filter(None, (station, clock)):
            units.number(part)
    except NumberError:
        return None
    return station, clock


def column(feature: str, target: str, lower: str = "", upper: str = "") -> str:
    """Key of a column of readings: its feature, and the target and limits it was written with."""
    return " ".join(part or "-" for part in (feature, target, lower, upper))


def columned(text: str) -> tuple[str, dict[str, str]] | None:
    """Feature of a column's key, and the target and limits by name; None for another cell."""
    parts = text.split()
    if len(parts) != 4:
        return None
    given = {n: "" if p == "-" else p for n, p in zip(ROWS[:3], parts[1:], strict=True)}
    return parts[0], given
