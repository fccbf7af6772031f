"""Text to number, and the only place where a unit is converted.

A stored value is a whole number of *ticks*: 1e-5 um for lengths, 1e-5 deg, 1e-5 % and 1e-5 min for the
others. Every unit of the file contract is a whole number of ticks, so inch and millimetre files agree to the
bit. Factors: 1 in = 25.4 mm exactly (international inch, 1959; ISO 31-1 / ISO 80000-3, from memory).
"""

import re
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Final

from qc.errors import NumberError, UnitError

TICKS_PER_UM: Final = 100_000

_TICKS: Final[dict[str, tuple[str, int]]] = {
    "mm": ("length", 100_000_000),
    "um": ("length", 100_000),
    "in": ("length", 2_540_000_000),
    "thou": ("length", 2_540_000),
    "tenth": ("length", 254_000),
    "uin": ("length", 2_540),
    "deg": ("angle", 100_000),
    "%": ("percent", 100_000),
    "min": ("time", 100_000),
}
_ALSO: Final = {
    "µm": "um", "μm": "um", "micron": "um", "microns": "um", '"': "in", "inch": "in", "inches": "in",
    "tenths": "tenth", "µin": "uin", "μin": "uin", "microinch": "uin", "°": "deg", "degree": "deg",
    "degrees": "deg", "percent": "%", "millimetre": "mm", "millimeter": "mm", "minutes": "min",
}  # fmt: skip
UNITS: Final = tuple(_TICKS)
METRIC: Final = frozenset({"mm", "um"})
# the unit of a target that stands beside a deviation in the key's unit (file contract)
TARGET_UNIT: Final = {"mm": "mm", "um": "mm", "in": "in", "thou": "in", "tenth": "in", "uin": "in"}

_MINUS = str.maketrans({"\N{MINUS SIGN}": "-", "\N{EN DASH}": "-", "\N{HYPHEN}": "-",
                        "\N{NON-BREAKING HYPHEN}": "-", "\N{NO-BREAK SPACE}": " ",
                        "\N{NARROW NO-BREAK SPACE}": " ", "\N{FULLWIDTH PLUS SIGN}": "+"})  # fmt: skip
_MOST_DIGITS = 7  # before the point, less one: a hundred million inches still fit the store's whole numbers
_NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d{1,3})?")


def unit(text: str) -> str:
    """Key of a unit as the file contract writes it.

    Parameters
    ----------
    text : str
        As read; case, spaces and the everyday spellings ("inch", "µm") do not matter.

    Raises
    ------
    UnitError
        When nobody knows it.
    """
    cleaned = text.strip()
    for candidate in (cleaned, cleaned.lower()):
        key = _ALSO.get(candidate, candidate)
        if key in _TICKS:
            return key
    raise UnitError(f"the unit {cleaned!r} is unknown: write one of {', '.join(UNITS)}")


def kind(unit_key: str) -> str:
    """Kind of quantity a unit measures: length, angle, percent or time."""
    return _TICKS[unit_key][0]


def number(text: str) -> Decimal:
    """One exact number.

    A decimal comma is read where no decimal point stands beside it; any dash that people type for minus is
    one.

    Raises
    ------
    NumberError
        For anything else: fractions, words, two numbers, thousands marks, an exponent beyond three digits.
    """
    cleaned = text.translate(_MINUS).strip()
    if not _NUMBER.fullmatch(cleaned):
        raise NumberError(f"{text.strip()!r} is not one plain number: write it like 93.008 or 93,008")
    value = Decimal(cleaned.replace(",", "."))
    if value and not -12 <= value.adjusted() <= _MOST_DIGITS:
        raise NumberError(f"{text.strip()!r} is far outside anything a gauge shows")
    return value


def ticks(value: Decimal, unit_key: str) -> int:
    """Whole ticks of a value; digits finer than a tick are rounded half to even [1e-5 um, deg, %, min]."""
    return int((value * _TICKS[unit_key][1]).to_integral_value(rounding=ROUND_HALF_EVEN))


def exact(count: int, unit_key: str) -> Decimal:
    """Value in a unit of a whole number of ticks; rounded to 28 digits where the inch does not divide it."""
    return Decimal(count) / _TICKS[unit_key][1]


def per_um(unit_key: str) -> float:
    """Factor from um to a length unit, for showing [unit/um]."""
    return TICKS_PER_UM / _TICKS[unit_key][1]
