"""Numbers, units and times as a person reads them; the only place of the pages where a unit is converted."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final
from zoneinfo import ZoneInfo

from qc.units import per_um

MINUS: Final = "\N{MINUS SIGN}"
TEXTURE: Final = frozenset({"ra", "rz", "rk", "rpk", "rvk", "vo"})


@dataclass(frozen=True, slots=True)
class Shown:
    """How a row's unit is shown: its words, the factor from the row's unit, the decimals the gauge earns."""

    words: str
    factor: float
    decimals: int


_ONE: Final = {
    "deg": Shown("°", 1.0, 1),
    "%": Shown("%", 1.0, 1),
    "min": Shown("min", 1.0, 1),
    "share": Shown("of the tolerance", 1.0, 2),
    "mm": Shown("mm", 1.0, 3),
}
_INCH: Final = {"mm": Shown("in", 1000 * per_um("in"), 4), "um": Shown("tenths", per_um("tenth"), 1)}


def shown(unit: str, system: str, characteristic: str = "") -> Shown:
    """How a row in this unit is shown under the shop's setting `units`.

    Parameters
    ----------
    unit : str
        Unit of an answer's row: um, mm, deg, %, min or share.
    system : {"metric", "inch"}
    characteristic : str
        Texture is read in um and uin, everything else of that size in um and tenths of a thou.
    """
    texture = characteristic in TEXTURE
    if system == "inch" and unit in ("um", "mm"):
        return Shown("µin", per_um("uin"), 1) if texture else _INCH[unit]
    if unit == "um":
        return Shown("µm", 1.0, 2 if texture or characteristic == "vo" else 1)
    return _ONE.get(unit, Shown(unit, 1.0, 2))


def number(value: float | None, decimals: int, *, sign: bool = False) -> str:
    """A number with a true minus sign; `sign` writes the plus too; a missing one is a dash."""
    if value is None:
        return "\N{EN DASH}"
    text = f"{abs(value):.{decimals}f}"
    if float(text) == 0:
        return text
    return (MINUS if value < 0 else "+" if sign else "") + text


def quantity(value: float | None, how: Shown, *, sign: bool = False, unit: bool = True) -> str:
    """A row's number in the shop's unit, with the unit once."""
    if value is None:
        return number(None, 0)
    text = number(value * how.factor, how.decimals, sign=sign)
    return f"{text} {how.words}" if unit and how.words != "°" else text + (how.words if unit else "")


def spread(value: float | None, how: Shown, *, unit: bool = True) -> str:
    """A standard deviation: one decimal more than a value where it is small."""
    if value is None:
        return number(None, 0)
    finer = how.decimals + (1 if abs(value * how.factor) < 1 else 0)
    return quantity(value, Shown(how.words, how.factor, finer), unit=unit)


def interval(
    found: Mapping[str, Any] | None, decimals: int, factor: float = 1.0, *, sign: bool = False
) -> str:
    """`1.12 to 1.61` of an answer's interval; an open end is said."""
    if not found:
        return ""
    lower, upper = (None if found.get(k) is None else found[k] * factor for k in ("lower", "upper"))
    if lower is None and upper is None:
        return ""
    if lower is None:
        return f"at most {number(upper, decimals, sign=sign)}"
    if upper is None:
        return f"at least {number(lower, decimals, sign=sign)}"
    return f"{number(lower, decimals, sign=sign)} to {number(upper, decimals, sign=sign)}"


def share(found: Mapping[str, Any] | None) -> str:
    """`11 of 12 (0.62 to 1.00)` of a counted fraction with its interval."""
    if not found or found.get("of") is None:
        return ""
    between = interval(found.get("interval"), 2)
    return f"{found['n']} of {found['of']}" + (f" ({between})" if between else "")


_LENGTH = re.compile(rf"([+{MINUS}-]?\d+(?:\.\d+)?)(?: to ([+{MINUS}-]?\d+(?:\.\d+)?))? um\b")


def in_units(text: str, system: str, characteristic: str = "") -> str:
    """An answer's sentence with its lengths in the shop's unit; sentences are written in um."""
    how = shown("um", system, characteristic)

    def one(told: str) -> str:
        if system != "inch":
            return told
        sign = told.startswith("+")
        return number(float(told.replace(MINUS, "-")) * how.factor, how.decimals, sign=sign)

    def lengths(found: re.Match[str]) -> str:
        ends = [one(end) for end in found.groups() if end]
        return f"{' to '.join(ends)} {how.words}"

    return _LENGTH.sub(lengths, text)


def many(count: int, one: str, several: str | None = None) -> str:
    """`1 block`, `2 blocks`."""
    return f"{count} {one if count == 1 else several or one + 's'}"


def local(at: str | None, zone: str) -> datetime | None:
    """An answer's time in the shop's zone."""
    if not at:
        return None
    when = datetime.fromisoformat(at)
    return when.astimezone(ZoneInfo(zone)) if when.tzinfo else when


def day(at: str | None, zone: str) -> str:
    """`3 May 2026` of an answer's time."""
    when = local(at, zone)
    return "" if when is None else f"{when.day} {when:%b %Y}"


def month(text: str) -> str:
    """`May 2026` of `2026-05`."""
    return f"{datetime.fromisoformat(text + '-01'):%B %Y}"
