"""An answer on a terminal: numbers, dates and small tables, without arithmetic but the unit of the shop."""

import shutil
import sys
import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final
from zoneinfo import ZoneInfo

import click

Row = Mapping[str, Any]
_DIGITS: Final = {"um": 1, "tenth": 2, "uin": 1, "mm": 4, "in": 5, "deg": 1, "%": 1, "min": 1, "share": 3}
_DIGITS_FINE: Final = {"um": 3, "uin": 1}
_INCH: Final = {"um": "tenth", "mm": "in"}
_FINE: Final = ("ra", "rz", "rk", "rpk", "rvk", "vo")  # texture is read in uin where sizes are read in tenths
NOTHING: Final = "-"
WIDEST: Final = 100


@dataclass(frozen=True, slots=True)
class Shown:
    """How this shop reads its numbers: in mm and um, or in inches, tenths and uin; times in its own zone."""

    inch: bool
    zone: str

    def unit(self, row: Row) -> str:
        """Unit a row's values are shown in."""
        unit = str(row.get("unit") or "")
        if not self.inch or unit not in _INCH:
            return unit
        return "uin" if unit == "um" and row.get("characteristic") in _FINE else _INCH[unit]

    def number(self, value: object, row: Row) -> str:
        """One value of a row in the shop's unit."""
        if not isinstance(value, int | float) or isinstance(value, bool):
            return NOTHING
        unit, own = self.unit(row), str(row.get("unit") or "")
        if unit != own:
            from qc.units import per_um

            value = value * per_um(unit) / per_um(own)
        fine = row.get("characteristic") in _FINE and own == "um"
        return signed(value, (_DIGITS_FINE if fine else _DIGITS).get(unit, 3))

    def interval(self, interval: Row | None, row: Row) -> str:
        """Both ends of an interval."""
        if not interval:
            return NOTHING
        return span(self.number(interval.get("lower"), row), self.number(interval.get("upper"), row))

    def day(self, at: object) -> str:
        """Day of a time in the shop's zone."""
        if not isinstance(at, str) or not at:
            return NOTHING
        if len(at) == len("2026-05-03"):
            return at
        return datetime.fromisoformat(at).astimezone(ZoneInfo(self.zone)).date().isoformat()


def shown(settings: Mapping[str, str], zone: str) -> Shown:
    """How a shop with these settings reads its numbers."""
    return Shown(inch=settings.get("units") == "inch", zone=zone)


def minus(text: str) -> str:
    """Put a true minus before a negative number where the terminal can print one."""
    if not text.startswith("-") or text == NOTHING:
        return text
    try:
        "\N{MINUS SIGN}".encode(getattr(sys.stdout, "encoding", None) or "ascii")
    except (UnicodeEncodeError, LookupError):
        return text
    return "\N{MINUS SIGN}" + text[1:]


def signed(value: float, digits: int) -> str:
    """One number with so many decimals; a rounded nought has no sign."""
    text = f"{value:.{digits}f}"
    return minus(text[1:] if text.startswith("-") and not text.strip("-0.") else text)


def plain(value: object, digits: int = 2) -> str:
    """One number without a unit, or a mark for none."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return NOTHING
    return str(value) if isinstance(value, int) else signed(value, digits)


def span(lower: str, upper: str) -> str:
    """Both ends of an interval; an open end is said in words."""
    if lower == NOTHING and upper == NOTHING:
        return NOTHING
    if lower == NOTHING:
        return f"up to {upper}"
    return f"{lower} and more" if upper == NOTHING else f"{lower} to {upper}"


def bounds(interval: Row | None, digits: int = 2) -> str:
    """Both ends of an interval without a unit."""
    if not interval:
        return NOTHING
    return span(plain(interval.get("lower"), digits), plain(interval.get("upper"), digits))


def share(fraction: object) -> str:
    """Show a fraction as a percentage."""
    return f"{fraction * 100:.1f} %" if isinstance(fraction, int | float) else NOTHING


def sentences(rows: Sequence[Row]) -> None:
    """Print the headline of each row on a line of its own."""
    for row in rows:
        if row.get("sentence"):
            said(str(row["sentence"]))


def said(text: str, indent: str = "") -> None:
    """Print a sentence, broken where the terminal ends (at 100 columns where there is none)."""
    width = shutil.get_terminal_size((WIDEST, 24)).columns if sys.stdout.isatty() else WIDEST
    lines = textwrap.wrap(
        minus_inside(text), max(40, min(width, WIDEST)), initial_indent=indent,
        subsequent_indent=f"{indent}  ", break_long_words=False, break_on_hyphens=False,
    )  # fmt: skip
    click.echo("\n".join(lines))


def minus_inside(text: str) -> str:
    """A sentence as it is, but without characters this terminal has no way to print."""
    try:
        text.encode(getattr(sys.stdout, "encoding", None) or "ascii")
    except (UnicodeEncodeError, LookupError):
        return text.replace("\N{MINUS SIGN}", "-").encode("ascii", "replace").decode("ascii")
    return text


def table(heads: Sequence[str], rows: Sequence[Sequence[str]], left: int = 1) -> None:
    """Print a small table: the first `left` columns aligned left, the rest right, two spaces between."""
    if not rows:
        return
    lines = [tuple(heads), *(tuple(row) for row in rows)]
    widths = [max(len(line[i]) for line in lines) for i in range(len(heads))]
    click.echo()
    for line in lines:
        cells = [
            cell.ljust(width) if i < left else cell.rjust(width)
            for i, (cell, width) in enumerate(zip(line, widths, strict=True))
        ]
        click.echo(minus_inside("  " + "  ".join(cells).rstrip()))


def cautions(document: Mapping[str, Any]) -> None:
    """Print what a reader must know before acting on the answer."""
    found = document.get("cautions") or ()
    if found:
        click.echo()
    for caution in found:
        said(f"Caution: {caution}")
