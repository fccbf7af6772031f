"""What a figure might have meant: the slips of one cell, each turned back, and which of them fits best."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property
from itertools import combinations
from typing import Final

from qc import units
from qc.catalogue import CATALOGUE
from qc.errors import NumberError
from qc.ingest.checks import FAR, INCH
from qc.units import TARGET_UNIT, TICKS_PER_UM

DIAMETERS: Final = frozenset({
    "bore_diameter", "tunnel_diameter", "rod_bore_diameter", "journal_diameter", "pin_diameter", "shell_bore",
    "piston_diameter",
})  # fmt: skip
# revolutions of a dial and steps of oversizes [um]: 0.010 in, 0.020 in, 0.5 mm, 1 mm, 0.2 mm, ...
REVOLUTIONS: Final = (254, 508, 500, 1000, 200)
OVERSIZES: Final = (250, 500, 750, 1000, 254, 508, 762, 1016)
_INCH: Final = frozenset({254, 508, 762, 1016})
_OTHER_SYSTEM: Final = 0.3
_PRIOR: Final = {
    "unit_slip": 0.0, "deviation_unit": 0.1, "forms_mixed": 0.1, "half_or_double": 0.05, "nought": 0.0,
    "decimal_slip": 0.2, "digits_exchanged": 0.25, "sign_reversed": 0.2, "dial_revolution": 0.1,
    "wrong_bore": 0.1,
}  # fmt: skip
_WALLS: Final = (3e8, 8e8)  # two walls of a shell [ticks]
_FAINT: Final = 0.3  # of two digits apart, and of an added digit: rarer slips


@dataclass(frozen=True, slots=True)
class Meaning:
    """One slip turned back: the code, what tells cells of one slip, the size meant [ticks], its text.

    column : what the text is for, by our name
    """

    code: str
    cause: str
    size: float
    text: str
    prior: float
    column: str = "value"


@dataclass(frozen=True)
class Figure:
    """One cell: what is written, what it was taken for, and what it should be.

    size, wanted : as read and as expected [ticks]; target : NaN without one
    unit, text, characteristic : as read
    signed : whether a figure of this characteristic may be below nought
    """

    text: str
    unit: str
    characteristic: str
    size: float
    target: float
    wanted: float
    signed: bool = False

    @cached_property
    def number(self) -> Decimal | None:
        """The figure as written, None where a person corrected it beyond recognition."""
        try:
            return units.number(self.text)
        except NumberError:
            return None

    @cached_property
    def typed(self) -> int:
        """The figure in its unit [ticks]."""
        return 0 if self.number is None else units.ticks(self.number, self.unit)

    @property
    def base(self) -> float:
        """What was added to the figure to make it a size [ticks]: its target where it is a deviation."""
        return self.size - self.typed

    @property
    def deviates(self) -> bool:
        """Whether the figure was written as a distance from the target."""
        return abs(self.base) > 1 and self.target == self.target

    def written(self, size: float) -> str:
        """Text of another size, in the form and unit of this figure."""
        ticks = round(size - self.base)
        value = round(units.exact(ticks, self.unit), 7 if self.unit in ("in", "mm") else 4).normalize()
        return f"{value:f}"


def _other_units(f: Figure) -> Iterator[Meaning]:
    assert f.number is not None
    code = "deviation_unit" if f.deviates else "unit_slip"
    for other in ("mm", "um", "in", "thou", "tenth", "uin"):
        if units.kind(f.unit) != "length" or other == f.unit:
            continue
        if other == "uin" and CATALOGUE[f.characteristic].family != "lognormal":
            continue  # only roughness is written in it
        same = (other in units.METRIC) == (f.unit in units.METRIC)
        if same and not f.deviates and f.characteristic in DIAMETERS:
            continue  # a point that was lost, rather
        size, prior = f.base + units.ticks(f.number, other), _PRIOR[code] + (0.15 if same else 0)
        if not f.deviates and f.target == f.target and abs(f.target - f.wanted) > FAR:
            yield Meaning(code, other, size, other, prior, "unit")  # the target is in that unit too
        else:
            yield Meaning(code, other, size, f.written(size), prior)
    for factor, cause in ((INCH, "small"), (1 / INCH, "large")):
        size = f.base + float(f.typed * factor)
        if units.kind(f.unit) == "length" and not f.deviates:
            yield Meaning("unit_slip", cause, size, f.written(size), 0.15)


def _other_form(f: Figure) -> Iterator[Meaning]:
    assert f.number is not None
    if f.target != f.target:
        return
    if f.deviates:
        size = float(units.ticks(f.number, TARGET_UNIT.get(f.unit, f.unit)))
        yield Meaning("forms_mixed", "size", size, f.written(size), _PRIOR["forms_mixed"])
        return
    signed = f.text.strip()[:1] in ("+", "-")  # no size has a sign
    if not signed and (abs(f.typed) > abs(f.target) / 4 or not f.number):
        return
    inch = f.unit not in units.METRIC
    for other in ("tenth", "thou", "um") if inch else ("um", "tenth", "thou"):
        size = f.target + units.ticks(f.number, other)
        faint = (0.1 if (other == "um") == inch else 0.0) - (_SIGNED if signed else 0.0)
        yield Meaning(
            "forms_mixed", f"deviation|{other}", size, f.written(size), _PRIOR["forms_mixed"] + faint
        )


def _half(f: Figure) -> Iterator[Meaning]:
    if f.deviates or not CATALOGUE[f.characteristic].coded:
        return  # nothing else has a radius
    for factor, cause in ((2.0, "half"), (0.5, "double")):
        size = f.size * factor
        yield Meaning("half_or_double", cause, size, f.written(size), _PRIOR["half_or_double"])


def _nought(f: Figure) -> Iterator[Meaning]:
    if f.number is not None and not f.number:
        yield Meaning("nought", "", f.wanted, "", _PRIOR["nought"])


def _point(f: Figure) -> Iterator[Meaning]:
    """The point elsewhere, a nought dropped, a digit too many."""
    assert f.number is not None
    told: set[Decimal] = set()
    shifts: list[tuple[Decimal | None, float]] = [(f.number.scaleb(k), 0.0) for k in (-1, 1, -2, 2, -3, 3)]
    whole, point, part = f.text.strip().replace(",", ".").partition(".")
    if not point and len(part or whole) > 4:
        digits = whole.lstrip("+-")
        shifts += [(_decimal(f"{digits[:k]}.{digits[k:]}"), 0.0) for k in range(1, len(digits))]
    if point:
        full = _FAINT if part.endswith("0") else 0.0  # written to the last digit: none was left out
        shifts += [(_decimal(f"{whole}.{part[:k]}0{part[k:]}"), full) for k in range(len(part) + 1)]
        shifts += [(_decimal(f"{whole}.{part[:k]}{part[k + 1 :]}"), _FAINT) for k in range(len(part) - 1)]
    for value, faint in shifts:
        if value is not None and value != f.number and value not in told:
            told.add(value)
            size = f.base + units.ticks(value, f.unit)
            yield Meaning("decimal_slip", "", size, f"{value:f}", _PRIOR["decimal_slip"] + faint)


def _decimal(text: str) -> Decimal | None:
    try:
        return units.number(text)
    except NumberError:
        return None


def _exchanged(f: Figure) -> Iterator[Meaning]:
    text = f.text.strip()
    places = [i for i, c in enumerate(text) if c.isdigit()]
    for n, (i, k) in enumerate(combinations(range(len(places)), 2)):
        a, b = places[i], places[k]
        if text[a] == text[b] or n > 60:
            continue
        changed = text[:a] + text[b] + text[a + 1 : b] + text[a] + text[b + 1 :]
        value = _decimal(changed)
        if value is not None:
            size = f.base + units.ticks(value, f.unit)
            faint = 0.0 if k == i + 1 else _FAINT
            yield Meaning("digits_exchanged", "", size, changed, _PRIOR["digits_exchanged"] + faint)


def _sign(f: Figure) -> Iterator[Meaning]:
    if f.typed and (f.deviates or f.signed):
        size = f.base - f.typed
        yield Meaning("sign_reversed", "", size, f.written(size), _PRIOR["sign_reversed"])


def _turned(f: Figure) -> Iterator[Meaning]:
    if f.characteristic not in DIAMETERS:
        return
    for amount in sorted({*REVOLUTIONS, *OVERSIZES}):
        for sign in (1, -1):
            size = f.size - sign * amount * TICKS_PER_UM
            faint = 0.0 if amount in (500, 254, 250, 508, 1000) else 0.1
            # dials and oversizes are those of the sheet's own system: 0.25 mm on a metric one, not 0.010 in
            faint += 0.0 if (amount in _INCH) != (f.unit in units.METRIC) else _OTHER_SYSTEM
            yield Meaning(
                "dial_revolution",
                f"{sign * amount}",
                size,
                f.written(size),
                _PRIOR["dial_revolution"] + faint,
            )


def _walls(f: Figure) -> Iterator[Meaning]:
    if f.characteristic not in ("tunnel_diameter", "rod_bore_diameter", "shell_bore") or f.deviates:
        return
    off = f.size - f.wanted
    into_shell = f.characteristic != "shell_bore" and off < 0
    if (into_shell or (f.characteristic == "shell_bore" and off > 0)) and _WALLS[0] <= abs(off) <= _WALLS[1]:
        other = "shell_bore" if into_shell else "tunnel_diameter"
        yield Meaning("wrong_bore", other, f.wanted, "", _PRIOR["wrong_bore"])


_SLIPS: Final[tuple[Callable[[Figure], Iterator[Meaning]], ...]] = (
    _nought, _other_units, _half, _other_form, _point, _exchanged, _sign, _turned, _walls,
)  # fmt: skip


def _shifted(f: Figure) -> Iterator[Meaning]:
    assert f.number is not None
    for k in (-1, 1, -2, 2, -3, 3):
        value = f.number.scaleb(k)
        size = f.base + units.ticks(value, f.unit)
        yield Meaning("decimal_slip", f"{k}", size, f"{value:f}", _PRIOR["decimal_slip"])


_OF_TABLES: Final = (_nought, _other_units, _half, _other_form, _shifted, _sign, _turned, _walls)
_GROSSLY: Final = 50.0  # times as far off: then few figures are near by chance
_OF_DIGITS: Final = ("decimal_slip", "digits_exchanged")  # many ways to be near by chance
_SIGNED: Final = 0.15  # in favour of a distance: the figure has a sign
_EXACT: Final = 25 * TICKS_PER_UM  # an amount that is known to the um is asked for more exactly


def meanings(f: Figure, within: float, all_alike: bool = False) -> list[tuple[float, Meaning]]:
    """Slips that bring a figure to what is wanted, best first, each with its score.

    Parameters
    ----------
    within : float
        How far the size meant may be from the one wanted [ticks].
    all_alike : bool
        Whether all figures of a block are looked at: slips of single digits are no explanation then.
    """
    if f.number is None:
        return []
    found: dict[tuple[str, str], tuple[float, Meaning]] = {}
    for slip in _OF_TABLES if all_alike else _SLIPS:
        for one in slip(f):
            off = abs(one.size - f.wanted)
            most = min(within, _EXACT) if one.code == "dial_revolution" else within
            near = within if abs(f.size - f.wanted) > _GROSSLY * within else within / 2
            most = near if one.code in _OF_DIGITS else most
            key, score = (one.code, one.cause), off / within + one.prior
            if off <= most and (key not in found or score < found[key][0]):
                found[key] = (score, one)
    return sorted(found.values(), key=lambda pair: pair[0])
