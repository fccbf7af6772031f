"""Whether figures end in 0 or 5 only, though the gauge shows every digit: rounded by hand."""

from collections.abc import Iterable, Iterator
from math import log
from typing import Any, Final

from qc import units
from qc.errors import NumberError
from qc.ingest.plausible.scene import Scene, Suspicion

CODES: Final = ("digit_preference",)
RIVALS: Final = False
_TABLE: Final = ("build", "machine", "operation", "characteristic", "method", "state", "unit")
ROUNDED: Final = "rounded rows"  # what the check of runs need not ask again
_LEAST: Final = 12  # readings of a table
_NEARLY_ALL: Final = 0.9
_BY_CHANCE: Final = 0.2  # of ten last digits two are 0 and 5
_HABIT: Final = 0.5  # a gauge or shop that mostly ends so anyway is asked nothing
_CHANCE: Final = log(1e-6)


def doubts(scene: Scene) -> Iterator[Suspicion]:
    """Yield one suspicion a table."""
    for key, at in scene.groups(_TABLE).items():
        if key[0] is None or len(at) < _LEAST:
            continue
        ended, told = _ending(scene.columns["text"][at].tolist())
        if told < _LEAST or ended < _NEARLY_ALL * told or len({scene.columns["text"][i] for i in at}) < 3:
            continue
        usual = _usual(scene, key, set(at))
        if usual is not None and usual < _HABIT and _tail(ended, told, max(usual, _BY_CHANCE)) < _CHANCE:
            scene.memo.setdefault(ROUNDED, set()).update(at)
            yield _suspicion(scene, at, ended, told)


def _ending(texts: Iterable[str]) -> tuple[int, int]:
    """How many figures end in 0 or 5, of how many."""
    ended = told = 0
    for text in texts:
        try:
            digits = units.number(text).as_tuple().digits
        except NumberError:
            continue
        told += 1
        ended += digits[-1] in (0, 5)
    return ended, told


def _usual(scene: Scene, key: tuple[Any, ...], mine: set[int]) -> float | None:
    """Share of figures that usually end so: before in the series, else on the same gauge in this file."""
    past = scene.past(key[1:6])
    ended, told = _ending(r.text for b in past.blocks for r in b.readings if r.unit == key[6])
    if told < _LEAST:
        gauge, unit = scene.columns["gauge"], scene.columns["unit"]
        first = next(iter(mine))
        beside = [
            i for i in range(len(scene))
            if i not in mine and gauge[i] == gauge[first] and unit[i] == key[6] and gauge[i] is not None
        ]  # fmt: skip
        ended, told = _ending(scene.columns["text"][beside].tolist())
    return ended / told if told >= _LEAST else None


def _tail(ended: int, told: int, share: float) -> float:
    """Logarithm of a bound on the chance of so many or more endings.

    Source: Chernoff's bound, exp(-n D(ended/told || share)), from memory.
    """
    part = ended / told
    if part <= share:
        return 0.0
    rest = (1 - part) * log((1 - part) / (1 - share)) if part < 1 else 0.0
    return -told * (part * log(part / share) + rest)


def _suspicion(scene: Scene, at: list[int], ended: int, told: int) -> Suspicion:
    first = scene.rows[at[0]]
    return Suspicion(
        tuple(at), "digit_preference", "ask", f"{first.build}|{first.characteristic}|{first.operation}",
        f"{ended} of {told} figures of {{who}} end in 0 or 5.",
        "Elsewhere the gauge shows every digit; these were rounded, and form and spread suffer from that.",
        "Were they read off coarsely? Discard them and read the gauge to its last digit, or accept them so.",
    )  # fmt: skip
