"""Whether the figures of one line of a centre list agree with each other: actual, nominal, deviation, out."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from qc import units
from qc.errors import NumberError
from qc.ingest.kinds import folded
from qc.ingest.line import Doubt
from qc.ingest.typed_numbers import decimals

_FAR_UM: Final = 1000  # no housing moves by 1 mm: such a figure is another unit, axis or frame
_HALF: Final = Decimal("0.02")  # of the nominal: how near a radius comes to half of it
_WITHIN: Final = frozenset({"", "ok", "in", "pass", "passed", "no", "-", "--", "---", "0", "good", "within"})
_BEYOND: Final = frozenset({"out", "x", "yes", "*", "**", "***", "nok", "fail", "failed", "bad", "no good"})


@dataclass(frozen=True, slots=True)
class Figures:
    """Figures of one line, None for one that is not given; `half` is half a last place by role.

    The places are those of a whole column: a workbook shows 64 for 64.0000. A nominal with fewer of them than
    the actual has is exact.
    """

    actual: Decimal
    nominal: Decimal | None
    deviation: Decimal | None
    plus: Decimal | None
    minus: Decimal | None
    half: Mapping[str, Decimal]

    @property
    def slack(self) -> Decimal:
        """How far actual minus nominal may be from the deviation by rounding alone."""
        nominal = self.half["nominal"] if self.half["nominal"] <= self.half["actual"] else Decimal(0)
        return self.half["actual"] + self.half["deviation"] + nominal


def plain(text: str) -> Decimal | None:
    """The number of a cell, None for a blank or unreadable one."""
    try:
        return units.number(text) if text else None
    except NumberError:
        return None


def places(texts: Iterable[str]) -> int:
    """Digits behind the mark that a column is written with: the most of any of its cells."""
    return max((d for t in texts if (d := decimals(t)) is not None), default=0)


def figures(texts: Mapping[str, str], written: Mapping[str, int]) -> Figures | None:
    """Figures of a line by the roles of its columns; None where its actual is no number.

    Parameters
    ----------
    written : mapping
        Digits behind the mark of each column, as `places` gives them.
    """
    actual = plain(texts.get("actual", ""))
    if actual is None:
        return None
    nominal, deviation = plain(texts.get("nominal", "")), plain(texts.get("deviation", ""))
    roles = ("actual", "nominal", "deviation", "out")
    half = {r: Decimal(1).scaleb(-written.get(r, 0)) / 2 for r in roles}
    return Figures(
        actual, nominal, deviation, plain(texts.get("plus", "")), plain(texts.get("minus", "")), half
    )


def doubts(
    texts: Mapping[str, str], written: Mapping[str, int], unit: str, diameter: bool, column: str
) -> list[Doubt]:
    """What stands against a line's actual.

    Parameters
    ----------
    texts : mapping
        The line's texts by the roles of its columns.
    written : mapping
        Digits behind the mark of each column.
    unit : str
        Key of the unit of its figures.
    diameter : bool
        Whether it is a diameter or radius, which can be half of its nominal, and not a place.
    column : str
        Letters of the column of the actual.
    """
    f = figures(texts, written)
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
    return f.nominal is not None and f.nominal != 0 and abs(f.actual * 2 / f.nominal - 1) < _HALF


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
    slack = f.half["actual" if f.deviation is None else "deviation"]  # tolerances are exact
    number = plain(said)
    if number is not None:
        return all(abs(abs(number) - a) > slack + f.half["out"] for a in known)
    word = folded(said) or said.strip()
    if word in _WITHIN:
        return all(a > slack for a in known)
    return word in _BEYOND and all(a == 0 for a in known)


def limits(texts: Mapping[str, str], unsigned: bool) -> tuple[str, str]:
    """Lower and upper limit of a diameter as sizes; blank where the list does not surely say them.

    A lower tolerance without a sign may be meant as one below: the layout says so, or it gives no limit.
    """
    f = figures(texts, {})
    if f is None or f.nominal is None or f.plus is None or f.minus is None:
        return "", ""
    minus, written = f.minus, texts.get("minus", "").lstrip()
    if minus > 0 and not written.startswith("+"):
        if not unsigned:
            return "", ""
        minus = -minus
    return f"{f.nominal + minus:f}", f"{f.nominal + f.plus:f}"
