"""Whether a reading is believable: how far it is from its target, and whether its names are known."""

import re
from collections import defaultdict
from collections.abc import Iterable, Mapping
from decimal import Decimal
from statistics import median_low
from typing import Final

from qc import units
from qc.catalogue import CATALOGUE, OPERATIONS
from qc.errors import NumberError
from qc.ingest.kinds import folded
from qc.ingest.line import Doubt
from qc.records import Reading, Record

FAR: Final = 100 * units.TICKS_PER_UM * 10  # 1 mm [ticks]
INCH: Final = Decimal("25.4")
_WITHIN: Final = 0.01  # of the ratio 25.4, so that wear and stock do not hide the slip
NAMES: Final = ("machine", "operation", "engine", "gauge")
KNOWN_FROM_THE_START: Final[Mapping[str, frozenset[str]]] = {
    "machine": frozenset({"bench"}), "operation": frozenset(OPERATIONS), "engine": frozenset(),
    "gauge": frozenset(),
}  # fmt: skip


def shown(ticks: int, unit: str) -> str:
    """A size in the unit it was read in, as people write it."""
    value = units.exact(ticks, unit)
    return f"{round(value, 7).normalize():f} {unit}"


def _length(reading: Reading) -> bool:
    entry = CATALOGUE[reading.characteristic]
    return entry.coded and entry.kind == "length"


def block_of(reading: Reading) -> tuple[str, ...]:
    """Readings that should be of one size: of a build after one operation, or of a master on a gauge."""
    if reading.build is None:
        return ("", reading.machine, reading.master or "", reading.characteristic)
    return (reading.build, reading.operation, reading.characteristic)


def medians(readings: Iterable[Reading]) -> dict[tuple[str, ...], int]:
    """Median size of each block's characteristic [ticks]."""
    sizes = defaultdict(list)
    for r in readings:
        if _length(r) and not r.relative:
            sizes[block_of(r)].append(r.value)
    return {block: median_low(values) for block, values in sizes.items()}


def far_from_target(reading: Reading, target: int | None, middle: int | None) -> Doubt | None:
    """A doubt where a size is more than 1 mm from its target, or from its block's median when it has none.

    Parameters
    ----------
    reading : Reading
    target : int or None
        Of this reading [ticks].
    middle : int or None
        Median of its block [ticks].
    """
    if not _length(reading):
        return None
    reference = target if target is not None else middle
    if reading.relative:
        off, size = reading.value, None if target is None else target + reading.value
    elif reference is None:
        return None
    else:
        off, size = reading.value - reference, reading.value
    if abs(off) <= FAR:
        return None
    slip = _slip(size, reference)
    name = "target" if target is not None else "median of the block"
    beside = (
        f"{name} {shown(reference, _target_unit(reading.unit))}" if reference is not None else "no target"
    )
    cause = f"{reading.characteristic}|{slip}|{_system(reading.unit)}|{name}"
    return Doubt(
        "far_from_target",
        cause,
        reading.source.column,
        reading.source.text,
        _converted(reading, slip),
        beside,
    )


def unexplained(doubt: Doubt) -> bool:
    """Whether a size is far from its target, and no unit that was mixed up tells why."""
    return doubt.code == "far_from_target" and not doubt.cause.split("|")[1]


def _target_unit(unit: str) -> str:
    return units.TARGET_UNIT.get(unit, unit)


def _system(unit: str) -> str:
    return "metric" if unit in units.METRIC else "inch"


def _slip(size: int | None, reference: int | None) -> str:
    """`small` where the size times 25.4 is the reference, `large` where it is 25.4 times the reference."""
    if not size or not reference or (size < 0) != (reference < 0):
        return ""
    for name, ratio in (("small", reference / size), ("large", size / reference)):
        if abs(ratio / 25.4 - 1) <= _WITHIN:
            return name
    return ""


def _converted(reading: Reading, slip: str) -> str:
    """Text of the value after the conversion that was forgotten, in the row's own unit."""
    if not slip:
        return ""
    try:
        value = units.number(reading.source.text)
    except NumberError:
        return ""
    if units.ticks(value, reading.unit) != reading.value:
        return ""  # a deviation: its distance cannot be converted alone
    return f"{(value * INCH if slip == 'small' else round(value / INCH, 10)).normalize():f}"


_READ_ALIKE: Final = str.maketrans("oli", "011")  # hone-l for hone-1 (common practice, no source)


def alike(name: str, known: str) -> bool:
    """Whether two names differ only in case, spaces, dashes or one letter; another digit is another name.

    A letter typed for the digit that looks like it is no other digit.
    """
    if name == known:
        return False
    a, b = folded(name), folded(known)
    if a.translate(_READ_ALIKE) == b.translate(_READ_ALIKE):
        return True
    return re.findall(r"\d", a) == re.findall(r"\d", b) and _one_letter_apart(a, b)


def _one_letter_apart(a: str, b: str) -> bool:
    if abs(len(a) - len(b)) > 1:
        return False
    start = 0
    while start < min(len(a), len(b)) and a[start] == b[start]:
        start += 1
    if len(a) == len(b):
        exchanged = a[start : start + 2] == b[start : start + 2][::-1] and a[start + 2 :] == b[start + 2 :]
        return a[start + 1 :] == b[start + 1 :] or exchanged
    longer, shorter = (a, b) if len(a) > len(b) else (b, a)
    return longer[start + 1 :] == shorter[start:]


def new_names(records: Iterable[Record], known: Mapping[str, set[str]]) -> dict[tuple[str, str], str]:
    """Names not met before, as (column, name), each with the known name it is alike, or an empty text.

    Parameters
    ----------
    records : iterable of Record
        In the file's order: a name is known from its first row on.
    known : mapping of column to names
        Grows by what is found.
    """
    found: dict[tuple[str, str], str] = {}
    for r in records:
        for column in NAMES:
            name = getattr(r, column, None)
            if name is None or name in known[column]:
                continue
            found[column, name] = next((k for k in sorted(known[column]) if alike(name, k)), "")
            known[column].add(name)
    return found
