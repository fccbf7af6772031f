"""Whether a row tells of a reading we have: kept already, read otherwise, other target, perhaps again."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import Final, Protocol

from qc.ingest.checks import shown
from qc.ingest.line import Doubt
from qc.records import Reading

MANY: Final = 6  # equal values of one build in another file that make a copied sheet likelier than chance
_STATUS: Final = {
    "counts": "is kept", "voided": "was kept and voided", "held": "waits for a decision",
    "discarded": "was discarded",
    "file": "stands further up in this file",
}  # fmt: skip


class Version(Protocol):
    """What is known at a place: value, target and limits [ticks], and what became of it."""

    @property
    def value(self) -> int: ...  # noqa: D102
    @property
    def relative(self) -> bool: ...  # noqa: D102
    @property
    def target(self) -> int | None: ...  # noqa: D102
    @property
    def lower(self) -> int | None: ...  # noqa: D102
    @property
    def upper(self) -> int | None: ...  # noqa: D102
    @property
    def status(self) -> str: ...  # noqa: D102


def same_value(reading: Reading, known: "Version | Reading") -> bool:
    """Whether both say the same size (or the same distance from a target that neither gives)."""
    return reading.value == known.value and reading.relative == known.relative


def same(reading: Reading, known: "Version | Reading") -> bool:
    """Whether value, target and limits all agree."""
    mine = (reading.target, reading.lower, reading.upper)
    return same_value(reading, known) and mine == (known.target, known.lower, known.upper)


def against(
    reading: Reading, known: Sequence["Version | Reading"], status: str | None = None
) -> Doubt | bool:
    """True where the reading is already kept, False where its place is new, else the doubt that holds it.

    Parameters
    ----------
    reading : Reading
    known : sequence
        Everything known at its place.
    status : str or None
        Of all of them (`file`), None where each says its own.
    """
    if any(same(reading, k) for k in known):
        return True
    if not known:
        return False
    equal = [k for k in known if same_value(reading, k)]
    other = _speaking(equal or known)
    became = status or str(getattr(other, "status", "counts"))
    cause = "file" if status else ""
    if equal:
        beside = f"{_judged(other, reading.unit)} {_STATUS[became]}"
        return Doubt("other_target", cause, reading.source.column, reading.source.text, "", beside)
    beside = f"{shown(other.value, reading.unit)} {_STATUS[became]}"
    return Doubt("reads_otherwise", cause, reading.source.column, reading.source.text, "", beside)


def _speaking(known: Sequence["Version | Reading"]) -> "Version | Reading":
    return next((k for k in reversed(known) if getattr(k, "status", "counts") == "counts"), known[-1])


def _judged(known: "Version | Reading", unit: str) -> str:
    said = [
        f"{name} {shown(size, unit)}"
        for name, size in (("target", known.target), ("lower", known.lower), ("upper", known.upper))
        if size is not None
    ]
    return ", ".join(said) or "the one without target and limits"


Position = tuple[object, ...]


def position(r: Reading) -> Position:
    """What a reading shares with itself measured again: its place without time, gauge, state and method."""
    return (
        r.build,
        r.machine,
        r.operation,
        r.characteristic,
        r.feature,
        r.station,
        r.clock,
        r.trial,
        r.pass_,
    )


def _differing(reading: Reading, known: Reading) -> tuple[str, ...]:
    pairs = (("made_at", "time"), ("gauge", "gauge"), ("state", "state"), ("method", "method"))
    return tuple(word for name, word in pairs if getattr(reading, name) != getattr(known, name))


def perhaps_again(readings: Sequence[Reading], kept: Iterable[Reading]) -> dict[int, Doubt]:
    """Doubts, by index, on readings that repeat the values of kept readings of their build.

    A build's rows are doubted when 6 or more of them, and at least half of those that can be compared,
    repeat the
    value of a kept reading and differ from it only in time, gauge, state or method. The half is ours: a
    coarse gauge
    repeats some values by chance when bores are read again under another state (common practice, no source).

    Parameters
    ----------
    readings : sequence of Reading
        New ones, at places not known.
    kept : iterable of Reading
        Those that count now, of the same builds.
    """
    there: dict[Position, list[Reading]] = defaultdict(list)
    for r in kept:
        there[position(r)].append(r)
    compared: dict[str, int] = defaultdict(int)
    repeats: dict[str, dict[int, Reading]] = defaultdict(dict)
    for i, r in enumerate(readings):
        if r.build is None or not (near := there.get(position(r))):
            continue
        compared[r.build] += 1
        equal = next((k for k in near if same_value(r, k)), None)
        if equal is not None:
            repeats[r.build][i] = equal
    found: dict[int, Doubt] = {}
    for build, pairs in repeats.items():
        if len(pairs) < MANY or 2 * len(pairs) < compared[build]:
            continue
        words = dict.fromkeys(w for i, k in pairs.items() for w in _differing(readings[i], k))
        cause = f"{build}|{' and '.join(words)}"
        for i in pairs:
            source = readings[i].source
            found[i] = Doubt("perhaps_again", cause, source.column, source.text, "", f"build {build}")
    return found
