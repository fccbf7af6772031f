"""Whether the limits of a specification table can be meant: printed tables are as dirty as sheets.

What a window of each characteristic may be is drawn wide, so that a slip by ten or by 25.4 leaves it: it
tells slips, it is no advice. Common practice and workshop manuals, widened; no limit of it is used.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from math import log
from statistics import median
from types import MappingProxyType
from typing import Any, Final

from qc import units
from qc.catalogue import CATALOGUE
from qc.errors import NumberError
from qc.ingest.checks import shown
from qc.ingest.kinds import canonical
from qc.ingest.plausible.scene import Suspicion
from qc.ingest.rows import Row
from qc.ingest.words import places_said
from qc.records import Spec

CODES: Final = ("limits_equal", "limits_disagree", "target_outside", "size_implausible", "window_implausible")
# narrowest and widest window, or lowest and highest upper limit where only that is given [um, deg, %, min]
_WINDOW: Final[Mapping[str, tuple[float, float]]] = MappingProxyType({
    "bore_diameter": (4, 250), "tunnel_diameter": (4, 100), "rod_bore_diameter": (4, 60),
    "journal_diameter": (3, 80), "pin_diameter": (3, 80), "shell_wall": (2, 60), "shell_bore": (4, 120),
    "piston_diameter": (4, 150), "main_clearance": (6, 200), "rod_clearance": (6, 200),
    "piston_clearance": (6, 250), "end_play": (20, 600), "rod_side_clearance": (30, 800),
    "ring_gap": (40, 2000), "deck_height": (10, 1000), "master_check": (0.4, 30), "bore_taper": (2, 150),
    "bore_out_of_round": (2, 150), "bore_barrel": (2, 100), "tunnel_out_of_round": (2, 60),
    "tunnel_offset": (3, 150), "deck_flatness": (5, 300), "ra": (0.03, 5), "rz": (0.2, 30), "rk": (0.05, 8),
    "rpk": (0.02, 3), "rvk": (0.1, 10), "minutes_per_bore": (0.2, 240),
})  # fmt: skip
# smallest and largest diameter, wall or height [mm]
_SIZE: Final[Mapping[str, tuple[float, float]]] = MappingProxyType({
    "bore_diameter": (25, 400), "piston_diameter": (25, 400), "tunnel_diameter": (15, 350),
    "shell_bore": (15, 350), "journal_diameter": (12, 300), "pin_diameter": (12, 300),
    "rod_bore_diameter": (15, 300), "shell_wall": (0.6, 12), "deck_height": (50, 1200),
})  # fmt: skip
_UNLIKE: Final = 8.0  # times the other windows of the characteristic, or that part of them
# what puts a figure right: (unit it stands in or blank for any, factor, the slip in words)
_SLIPS: Final = (
    ("mm", Decimal("25.4"), "inches stand for millimetres"),
    ("in", 1 / Decimal("25.4"), "millimetres stand for inches"),
    ("um", Decimal("0.0254"), "uin stand for um"), ("uin", 1 / Decimal("0.0254"), "um stand for uin"),
    ("um", Decimal(1000), "millimetres stand for um"), ("mm", Decimal("0.001"), "um stand for millimetres"),
    ("", Decimal(10), "the point is one place off"), ("", Decimal("0.1"), "the point is one place off"),
    ("", Decimal(100), "the point is two places off"), ("", Decimal("0.01"), "the point is two places off"),
)  # fmt: skip
_LIMITS: Final = ("lower", "target", "upper")


def doubts(rows: Sequence[Row], known: Sequence[Spec]) -> Iterator[Suspicion]:
    """Yield what is doubted of specification rows; each row is doubted once, positions count in `rows`.

    Parameters
    ----------
    rows : sequence of Row
        New ones, each with a Spec.
    known : sequence of Spec
        Those in force, for comparison.
    """
    specs = [r.record for r in rows if isinstance(r.record, Spec)]
    taken: set[int] = set()
    for group in (_equal, _disagree, _outside, _sizes, _windows):
        for doubt in group(rows, specs, known):
            if not taken & set(doubt.rows):
                taken |= set(doubt.rows)
                yield doubt


def _where(rows: Sequence[Row], spec: Spec, *at: int) -> str:
    place = places_said(rows[i] for i in at)
    of = " ".join(x for x in (spec.engine, spec.build, spec.operation, spec.feature) if x)
    label = CATALOGUE[spec.characteristic].label
    return f"{place[:1].upper()}{place[1:]} ({label}{', ' + of if of else ''})"


def _effect(stop: bool, n: int) -> str:
    if stop:
        return f"{'The row waits' if n == 1 else 'The rows wait'} and no reading is judged by it until then."
    return "The limits count as they stand, and readings are judged by them."


def _equal(rows: Sequence[Row], specs: Sequence[Spec], _: Sequence[Spec]) -> Iterator[Suspicion]:
    for i, s in enumerate(specs):
        if s.lower is not None and s.lower == s.upper:
            yield Suspicion(
                (i,), "limits_equal", "stop", str(i),
                f"{_where(rows, s, i)}: lower and upper limit are both {_shown(s.lower, s)}.",
                "No reading lies between them but that one; rounding to too few digits makes such a row.",
                "Take the limits from the other unit's column or the drawing and correct them.",
                _effect(True, 1), {}, "lower",
            )  # fmt: skip


def _key(s: Spec) -> tuple[Any, ...]:
    return (s.characteristic, s.reading, s.build, s.engine, s.operation, s.feature, s.station, s.clock,
            s.state, s.since, s.issue)  # fmt: skip


def _disagree(rows: Sequence[Row], specs: Sequence[Spec], _: Sequence[Spec]) -> Iterator[Suspicion]:
    """Rows that say the same limits in millimetres and in inches, and do not agree."""
    metric: dict[tuple[Any, ...], list[int]] = defaultdict(list)
    inch: dict[tuple[Any, ...], list[int]] = defaultdict(list)
    for i, s in enumerate(specs):
        if CATALOGUE[s.characteristic].kind == "length":
            (metric if s.unit in units.METRIC else inch)[_key(s)].append(i)
    for key in metric.keys() & inch.keys():
        a, b = metric[key][0], inch[key][0]
        for name in _LIMITS:
            said = _apart(rows[a], specs[a], rows[b], specs[b], name)
            if said:
                yield Suspicion(
                    (a, b), "limits_disagree", "stop", f"{a}|{b}",
                    f"{_where(rows, specs[a], a, b)}: the {name} limit reads {said}.".replace(
                        "target limit", "target"),
                    "The two units disagree by more than their rounding, so one of them is misprinted.",
                    "See which of them the drawing or the other rows bear out; discard or correct the other.",
                    _effect(True, 2), {}, name,
                )  # fmt: skip
                break


def _apart(row: Row, a: Spec, other: Row, b: Spec, name: str) -> str:
    """Both figures in words where they differ by more than their last digits allow, else an empty text."""
    one, two = getattr(a, name), getattr(b, name)
    if one is None or two is None:
        return ""
    allowed = _grain(_text(row, name), a.unit) + _grain(_text(other, name), b.unit)
    return f"{_shown(one, a)} and {_shown(two, b)}" if abs(one - two) > allowed else ""


def _text(row: Row, name: str) -> str:
    return next((text for header, text in row.fields if canonical(header) == name), "")


def _grain(text: str, unit: str) -> float:
    """Half a unit of the last written digit [ticks]."""
    try:
        exponent = units.number(text).as_tuple().exponent
    except NumberError:
        return 0.0
    return units.ticks(Decimal(1).scaleb(int(exponent)), unit) / 2 + 1


def _outside(rows: Sequence[Row], specs: Sequence[Spec], _: Sequence[Spec]) -> Iterator[Suspicion]:
    for i, s in enumerate(specs):
        if s.target is None:
            continue
        low = s.lower is not None and s.target < s.lower
        high = s.upper is not None and s.target > s.upper
        if low or high:
            limit = s.lower if low else s.upper
            stop = s.reading == "size"
            yield Suspicion(
                (i,), "target_outside", "stop" if stop else "ask", str(i),
                f"{_where(rows, s, i)}: the target {_shown(s.target, s)} lies "
                f"{'below the lower' if low else 'above the upper'} limit {_shown(limit or 0, s)}.",
                "Who aims outside the limits makes nothing that conforms.",
                "Correct the target or the limits; accept if it is meant so.", _effect(stop, 1), {}, "target",
            )  # fmt: skip


def _sizes(rows: Sequence[Row], specs: Sequence[Spec], _: Sequence[Spec]) -> Iterator[Suspicion]:
    """Sizes that no engine has in that unit, such as millimetres in an inch column."""
    for i, s in enumerate(specs):
        if s.reading != "size" or s.characteristic not in _SIZE:
            continue
        for name in _LIMITS:
            size = getattr(s, name)
            if size is not None and not _has(s, size):
                slip = _slip(s.unit, size / units.TICKS_PER_UM / 1000, _SIZE[s.characteristic], None)
                yield Suspicion(
                    (i,), "size_implausible", "stop", str(i),
                    f"{_where(rows, s, i)}: {name} reads {_shown(size, s)}.",
                    f"No engine has a {CATALOGUE[s.characteristic].label} of that size.",
                    (f"It would fit if {slip}. " if slip else "")
                    + "Correct the figure or the unit; accept if it is true.",
                    _effect(True, 1), {}, name,
                )  # fmt: skip
                break


def _has(s: Spec, size: int) -> bool:
    low, high = _SIZE[s.characteristic]
    return low <= size / units.TICKS_PER_UM / 1000 <= high


def _width(s: Spec) -> float | None:
    """Width of a window, or its upper limit where that stands alone [um, deg, %, min]."""
    if s.upper is not None and s.lower is not None:
        return (s.upper - s.lower) / units.TICKS_PER_UM
    form = CATALOGUE[s.characteristic]
    alone = s.upper if not form.coded and s.upper is not None and s.upper > 0 else None
    return None if alone is None else alone / units.TICKS_PER_UM


def _windows(rows: Sequence[Row], specs: Sequence[Spec], known: Sequence[Spec]) -> Iterator[Suspicion]:
    usual: dict[tuple[str, bool], list[float]] = defaultdict(list)
    for s in (*known, *specs):
        if (width := _width(s)) is not None:
            usual[s.characteristic, s.lower is None].append(width)
    for i, s in enumerate(specs):
        width = _width(s)
        if width is None or width <= 0:
            continue
        low, high = _WINDOW.get(s.characteristic, (0.0, float("inf")))
        others = usual[s.characteristic, s.lower is None]
        if not low <= width <= high:
            yield _window(rows, s, i, width, (low, high), others, True)
        elif len(others) > 3 and not 1 / _UNLIKE <= width / median(others) <= _UNLIKE:
            yield _window(rows, s, i, width, (low, high), others, False)


def _window(
    rows: Sequence[Row], s: Spec, i: int, width: float, fits: tuple[float, float], others: list[float],
    stop: bool,
) -> Suspicion:  # fmt: skip
    unit = CATALOGUE[s.characteristic].unit
    middle = median(others) if len(others) > 3 else None
    slip = _slip(s.unit, width, fits, middle)
    alone = s.lower is None
    saw = f"an upper limit of {width:g} {unit}" if alone else f"a window {width:g} {unit} wide"
    beside = f"; the others of the list are about {middle:g} {unit}" if middle is not None else ""
    label = CATALOGUE[s.characteristic].label
    why = f"That is far from what a {label} is held to" if stop else f"Other limits of {label} are unlike it"
    return Suspicion(
        (i,), "window_implausible", "stop" if stop else "ask", str(i),
        f"{_where(rows, s, i)}: {saw}{beside}.", f"{why}.",
        (f"It would fit if {slip}. " if slip else "")
        + "Correct the limits or the unit; accept if the drawing says so.",
        _effect(stop, 1), {}, "upper",
    )  # fmt: skip


def _slip(unit: str, figure: float, fits: tuple[float, float], middle: float | None) -> str:
    """Which slip would bring a figure nearest to where it belongs, in words, or an empty text."""
    aim = middle or (fits[0] * fits[1]) ** 0.5
    told = []
    for of, factor, why in _SLIPS:
        put_right = figure * float(factor)
        if of in ("", unit) and fits[0] <= put_right <= fits[1]:
            told.append((abs(log(put_right / aim)), why))
    return min(told)[1] if told else ""


def _shown(ticks: int, s: Spec) -> str:
    return shown(ticks, s.unit)
