"""Whether the figures of one line of a centre list agree with each other: actual, nominal, deviation, out."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from qc import units
from qc.errors import NumberError
from qc.ingest.kinds import folded
from qc.ingest.line import Doubt

_FAR_UM: Final = 1000  # no housing moves by 1 mm: such a figure is another unit, axis or frame
_HALF: Final = Decimal("0.02")  # of the nominal: how near a radius comes to half of it
_WITHIN: Final = frozenset({"", "ok", "in", "pass", "passed", "no", "-", "--", "---", "0", "good", "within"})
_BEYOND: Final = frozenset({"out", "x", "yes", "*", "**", "***", "nok", "fail", "failed", "bad", "no good"})


@dataclass(frozen=True, slots=True)
class Figures:
    """Figures of one line, None for one that is not given; each with half its last place."""

    actual: Decimal
    nominal: Decimal | None
    deviation: Decimal | None
    plus: Decimal | None
    minus: Decimal | None
    slack: Decimal


def plain(text: str) -> Decimal | None:
    """The number of a cell, None for a blank or unreadable one."""
    try:
        return units.number(text) if text else None
    except NumberError:
        return None


def _last_place(value: Decimal | None) -> Decimal:
    if value is None:
        return Decimal(0)
    exponent = value.as_tuple().exponent
    return Decimal(1).scaleb(exponent) / 2 if isinstance(exponent, int) else Decimal(0)


def figures(texts: Mapping[str, str]) -> Figures | None:
    """Figures of a line by the roles of its columns; None where its actual is no number."""
    actual = plain(texts.get("actual", ""))
    if actual is None:
        return None
    nominal, deviation = plain(texts.get("nominal", "")), plain(texts.get("deviation", ""))
    slack = _last_place(actual) + _last_place(nominal) + _last_place(deviation)
    return Figures(
        actual, nominal, deviation, plain(texts.get("plus", "")), plain(texts.get("minus", "")), slack
    )


def doubts(texts: Mapping[str, str], unit: str, diameter: bool, column: str) -> list[Doubt]:
    """What stands against a line's actual.

    Parameters
    ----------
    texts : mapping
        The line's texts by the roles of its columns.
    unit : str
        Key of the unit of its figures.
    diameter : bool
        Whether it is a diameter or radius, which can be half of its nominal, and not a place.
    column : str
        Letters of the column of the actual.
    """
    f = figures(texts)
    if f is None:
        return []
    text = texts["actual"]
    if _halved(f) and diameter:
        return [Doubt("half_of_nominal", "", column, text, f"{f.actual * 2:f}", texts.get("nominal", ""))]
    if f.nominal is not None and not diameter and _um(f.actual - f.nominal, unit) > _FAR_UM:
        return [Doubt("far_from_nominal", "", column, text, "", texts.get("nominal", ""))]
    if _disagrees(f):
        return [Doubt("deviation_contradicts", "", column, text, "", texts.get("deviation", ""))]
    said = texts.get("out", "")
    if _out_contradicts(f, said):
        return [Doubt("out_contradicts", "", column, text, "", said or "nothing")]
    return []


def _um(value: Decimal, unit: str) -> Decimal:
    return abs(Decimal(units.ticks(value, unit))) / units.TICKS_PER_UM


def _halved(f: Figures) -> bool:
    return bool(f.nominal) and f.nominal is not None and abs(f.actual * 2 / f.nominal - 1) < _HALF


def _disagrees(f: Figures) -> bool:
    if f.nominal is None or f.deviation is None:
        return False
    return abs(f.actual - f.nominal - f.deviation) > f.slack


def _beyond(f: Figures, minus: Decimal) -> Decimal | None:
    """How far beyond its tolerances a line is, None where that is not known."""
    if f.plus is None or (f.nominal is None and f.deviation is None):
        return None
    off = f.deviation if f.deviation is not None else f.actual - (f.nominal or 0)
    return max(off - f.plus, minus - off, Decimal(0))


def _out_contradicts(f: Figures, said: str) -> bool:
    """Whether the column of what is out says otherwise than the tolerances, however the lower is signed."""
    if f.minus is None:
        return False
    amounts = {_beyond(f, m) for m in (f.minus, -abs(f.minus))}
    if None in amounts:
        return False
    known = [a for a in amounts if a is not None]
    slack = _last_place(f.actual if f.deviation is None else f.deviation)  # tolerances are exact
    number = plain(said)
    if number is not None:
        return all(abs(abs(number) - a) > slack + _last_place(number) for a in known)
    word = folded(said) if folded(said) or not said else said.strip()
    if word in _WITHIN:
        return all(a > slack for a in known)
    return word in _BEYOND and all(a == 0 for a in known)


def limits(texts: Mapping[str, str], unsigned: bool) -> tuple[str, str]:
    """Lower and upper limit of a diameter as sizes; blank where the list does not surely say them.

    A lower tolerance without a sign may be meant as one below: the layout says so, or it gives no limit.
    """
    f = figures(texts)
    if f is None or f.nominal is None or f.plus is None or f.minus is None:
        return "", ""
    minus, written = f.minus, texts.get("minus", "").lstrip()
    if minus > 0 and not written.startswith("+"):
        if not unsigned:
            return "", ""
        minus = -minus
    return f"{f.nominal + minus:f}", f"{f.nominal + f.plus:f}"
