"""Runs of one and the same figure that the usual spread makes unbelievable: filled down, or nominal copied.

How likely a run is follows from how often neighbours of these places read alike in the blocks before, and
from what the table's other readings foretell (`together`); the mean of the two logarithms is believed. A
coarse gauge makes long runs likely, and they pass.
"""

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from math import erf, fsum, log, sqrt
from typing import Any, Final

import numpy as np

from qc.ingest.plausible.past import Past, PastReading
from qc.ingest.plausible.rounded import ROUNDED
from qc.ingest.plausible.scene import Scene, Suspicion
from qc.ingest.plausible.together import Together, shown_step, together

CODES: Final = ("nominal_copied", "filled_down")
RIVALS: Final = True
_LEAST: Final = 5  # equal figures in a row that are looked at
# of such a run somewhere in a table by chance: on target, of another figure
_CHANCE: Final = {True: log(2e-3), False: log(1.5e-3)}
_TABLE: Final = ("build", "machine", "operation", "characteristic", "method", "state")
_NEAR: Final = 4  # rows of the file, between which others may stand
_MOST: Final = 0.95  # of two neighbours: nothing is certain to repeat
_LEAST_LIKELY: Final = 0.02  # a pattern may be another in this block
_MET: Final = 20  # neighbours that tell how often they read alike

Link = tuple[tuple[Any, Any], tuple[Any, Any]]
SAME_BORE: Final[Link] = (("same", None), ("bore", None))
OTHER_BORE: Final[Link] = (("other", None), ("bore", None))
_WITHIN: Final = 0.5  # of two readings of one bore, where nothing tells


def doubts(scene: Scene) -> Iterator[Suspicion]:
    """Yield one suspicion a run."""
    for key, at in scene.groups(_TABLE).items():
        if key[0] is not None and len(at) >= _LEAST:
            yield from _of_table(scene, key, at)


def _of_table(scene: Scene, key: tuple[Any, ...], at: list[int]) -> Iterator[Suspicion]:
    likely: Likely | None = None
    rounded = scene.memo.get(ROUNDED, frozenset())
    doubted: set[int] = set()
    for nominal in (True, False):
        for run in _runs(scene, at, nominal):
            if rounded.issuperset(run) or doubted.issuperset(run):
                continue
            likely = likely or Likely(scene, scene.past(key[1:]), at)
            if _chance(scene, at, run, nominal, (likely, together(scene, key, at))) < _CHANCE[nominal]:
                doubted |= set(run)
                yield _suspicion(scene, run, nominal)


def _chance(
    scene: Scene, at: Sequence[int], run: Sequence[int], nominal: bool,
    told: tuple["Likely", Together | None],
) -> float:  # fmt: skip
    """Logarithm of how many such runs chance gives a table: the mean of what is told in two ways."""
    likely, beside = told
    ways: list[Callable[[Sequence[int]], float]] = [likely.target if nominal else likely.filled]
    if beside is not None:
        ways.append(beside.chance if nominal else partial(_after_first, beside))
    return fsum(_anywhere(scene, at, run, nominal, way) for way in ways) / len(ways)


def _after_first(beside: Together, run: Sequence[int]) -> float:
    return beside.chance(run, run[:1])


def _anywhere(
    scene: Scene, at: Sequence[int], run: Sequence[int], nominal: bool,
    chance: Callable[[Sequence[int]], float],
) -> float:  # fmt: skip
    """Logarithm of how many such runs chance gives a table: anywhere in it, in whole bores, in all of it.

    A nominal size is copied for a bore, for some, for all; there are fewer of these than places for a run.
    """
    best = chance(run) + log(len(at))
    if not nominal:
        return best
    if len(run) == len(at):
        return chance(run)
    feature = scene.columns["feature"]
    mine = set(run)
    cut = {feature[i] for i in at if i not in mine}
    whole = [i for i in run if feature[i] not in cut]
    if len(whole) >= _LEAST:
        best = min(best, chance(whole) + log(len({feature[i] for i in at})))
    return best


def _runs(scene: Scene, at: Sequence[int], nominal: bool) -> Iterator[list[int]]:
    """Neighbours in the file with the same figure, or all on their targets."""
    text, unit, row, off = (scene.columns[n] for n in ("text", "unit", "row", "deviation"))

    def alike(a: int, b: int) -> bool:
        same = off[a] == off[b] == 0 if nominal else text[a] == text[b] and unit[a] == unit[b]
        return bool(same) and row[b] - row[a] < _NEAR

    run: list[int] = []
    for i in at:
        if run and alike(run[-1], i):
            run.append(i)
            continue
        if len(run) >= _LEAST:
            yield run
        run = [i]
    if len(run) >= _LEAST:
        yield run


class Likely:
    """How likely runs are in one table: how often neighbours read alike in the blocks before."""

    def __init__(self, scene: Scene, past: Past, at: Sequence[int]) -> None:
        c = scene.columns
        self.scene = scene
        told = past.like(not np.isnan(c["target"][list(at)]).any(), c["unit"][at[0]])
        self.links = Counter[Link]()
        self.alike = {True: Counter[Link](), False: Counter[Link]()}
        self.on_target = [0, 0]
        for block in told.blocks:
            # another unit is written in other steps
            if block.readings[0].unit == c["unit"][at[0]]:
                self._learn(block.readings)
        self.spread = told.spread if told.spread == told.spread else _own_spread(scene, at)
        self.step = shown_step(scene, told, at)

    def _learn(self, readings: Sequence[PastReading]) -> None:
        for a, b in zip(readings[:-1], readings[1:], strict=True):
            same = a.feature == b.feature
            for key in ((_place(a), _place(b)), SAME_BORE) if same else (OTHER_BORE,):
                self.links[key] += 1
                self.alike[False][key] += a.text == b.text
                self.alike[True][key] += a.deviation == b.deviation
        off = [r.deviation == 0 for r in readings if r.deviation == r.deviation]
        self.on_target[0] += sum(off)
        self.on_target[1] += len(off)

    def filled(self, run: Sequence[int]) -> float:
        """Logarithm of the chance that all readings of a run read like the first."""
        return self._run(run, False)

    def target(self, run: Sequence[int]) -> float:
        """Logarithm of the chance that all readings of a run are their targets to the last digit."""
        met, of = self.on_target
        first = log((met + 1) / (of + 2)) if of >= _MET else log(_equal(self.spread, self.step))
        return first + self._run(run, True)

    def _run(self, run: Sequence[int], nominal: bool) -> float:
        return sum(log(self._link(a, b, nominal)) for a, b in zip(run[:-1], run[1:], strict=True))

    def _link(self, a: int, b: int, nominal: bool) -> float:
        """Chance that two neighbours read alike."""
        first, then = self.scene.rows[a], self.scene.rows[b]
        same = first.feature == then.feature
        for key in ((_place(first), _place(then)), SAME_BORE) if same else (OTHER_BORE,):
            if self.links[key] >= _MET:
                return max(_LEAST_LIKELY, (self.alike[nominal][key] + 1) / (self.links[key] + 2))
        # nothing like it was met: normal readings about the block, whatever the place
        return max(_WITHIN if same else 0.0, _equal(sqrt(2) * self.spread, self.step))


def _place(r: Any) -> tuple[Any, Any]:
    return r.station, r.clock


def _own_spread(scene: Scene, at: Sequence[int]) -> float:
    """Spread of the table itself: of what differs from its neighbours, else nothing."""
    off = scene.columns["deviation"][list(at)]
    off = scene.columns["size"][list(at)] if np.isnan(off).any() else off
    different = np.unique(off)
    return float(np.std(different)) if len(different) > 3 else float("nan")


def _equal(spread: float, step: float) -> float:
    """Chance that a normal figure of mean nought is written as nought."""
    if spread != spread or spread <= 0:
        return _MOST
    return min(_MOST, max(_LEAST_LIKELY, erf(step / (2 * sqrt(2) * spread))))


def _suspicion(scene: Scene, run: Sequence[int], nominal: bool) -> Suspicion:
    first = scene.rows[run[0]]
    text, n = first.source.text, len(run)
    where = f"{first.characteristic}|{first.source.row}"
    if nominal:
        return Suspicion(
            tuple(run), "nominal_copied", "ask", where,
            f"{n} readings in a row of {{who}} are the target to the last digit ({{texts}} {first.unit}).",
            "Work scatters about its target; so many readings exactly on it are hardly read off a gauge.",
            "Was the nominal size copied? Discard the rows and measure, or accept if each was read.",
        )  # fmt: skip
    return Suspicion(
        tuple(run), "filled_down", "ask", where,
        f"{{who}} {{read}} {text} {first.unit}, {n} times in a row.",
        "Here readings usually differ by more than the gauge's step; such a run is hardly read off a gauge.",
        "Was one cell filled down? Discard the rows and measure, or accept if each was read.",
    )  # fmt: skip
