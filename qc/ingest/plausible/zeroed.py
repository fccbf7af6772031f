"""Whether everything a gauge read in a file lies off by one amount, its form as ever: zeroed wrong?"""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from math import sqrt
from typing import Any, Final, NamedTuple

import numpy as np

from qc.catalogue import CATALOGUE
from qc.ingest.plausible.fit import fitted, steps
from qc.ingest.plausible.levels import quantile, usual
from qc.ingest.plausible.registered import day
from qc.ingest.plausible.scene import Scene, Suspicion
from qc.ingest.plausible.values import verdict_changes
from qc.units import TICKS_PER_UM

CODES: Final = ("gauge_not_zeroed",)
RIVALS: Final = True
TABLE: Final = ("gauge", "build", "machine", "operation", "characteristic", "method", "state")
_LEAST: Final = 4  # readings of a table
MOST: Final = 120 * TICKS_PER_UM  # more is another oversize, or a turn of the dial
# likewise where only other engines tell: it may be stock left for the next step, 0.05 mm or more (common
# practice, no source)
_OF_OTHERS: Final = 30 * TICKS_PER_UM
_STEPS: Final = 1.5  # of the gauge: what is nearer may be one step, rounded
_AGREE: Final = 3.5  # spreads that a table may be from the amount that is common to all


class Moved(NamedTuple):
    """One table of a gauge: its rows, how far off, the spread of such levels, the gauge's step [ticks].

    of : by how many blocks the spread is told
    form : whether its readings scatter about its level as they usually do
    """

    at: list[int]
    off: float
    spread: float
    step: float
    of: int
    form: bool

    @property
    def limit(self) -> float:
        """Beyond this the table alone is not where its series is [ticks]."""
        return quantile(self.of) * self.spread


def doubts(scene: Scene) -> Iterator[Suspicion]:
    """Yield one suspicion a gauge."""
    gauges: dict[str, dict[tuple[Any, ...], list[Moved]]] = defaultdict(lambda: defaultdict(list))
    for key, at in scene.groups(TABLE).items():
        table = None if key[0] is None or key[1] is None else moved(scene, key, at)
        if table is not None:
            gauges[key[0]][key[1:5]].append(table)
    for gauge, work in gauges.items():
        tables = [t for some in work.values() for t in some]
        off = [t.off for t in tables]
        one_way = all(x > 0 for x in off) or all(x < 0 for x in off)
        if _strange(work) and one_way and _together(tables):
            yield _suspicion(scene, gauge, tables)


def moved(scene: Scene, key: tuple[Any, ...], at: list[int]) -> Moved | None:
    """How far a table (`TABLE`) is from its series; None where unknown, off 0 where it may be so."""
    c = scene.columns
    deviation = c["deviation"][at]
    if len(at) < _LEAST or not CATALOGUE[key[4]].coded or np.isnan(deviation).any():
        return None
    past = scene.past(key[2:])
    step = steps(c["text"][at].tolist(), c["unit"][at].tolist())
    fit = fitted(True, c["feature"][at].tolist(), c["station"][at], c["clock"][at], c["size"][at],
                 deviation, step)  # fmt: skip
    told = usual(past, fit, c["engine"][at[0]], c["unit"][at[0]])
    if told is None:
        return None
    off = fit.level - told.centre
    limit = quantile(told.of) * told.spread
    # another engine may be aimed at in another way: stock left on, for one
    far = abs(off) > limit and (told.known or not told.own and abs(off) > _OF_OTHERS)
    return Moved(at, 0.0 if far else off, told.spread, step, told.of, told.form)


def _strange(work: Mapping[tuple[Any, ...], Sequence[Moved]]) -> bool:
    """Whether all that a gauge read is not where it usually is.

    What was read of one characteristic in several states is one witness: the block itself may be off.
    """
    formed = [[t for t in some if t.form] for some in work.values()]
    witnesses = [
        (np.mean([t.off for t in some]), np.mean([t.spread for t in some]), min(t.of for t in some))
        for some in formed
        if some
    ]
    if not witnesses:
        return False
    off, spread = _common(np.array([w[0] for w in witnesses]), np.array([w[1] for w in witnesses]))
    rounding = max(_STEPS * t.step for some in formed for t in some)
    return max(rounding, quantile(min(w[2] for w in witnesses)) * spread) < abs(off) < MOST


def _common(off: np.ndarray, spread: np.ndarray) -> tuple[float, float]:
    """Amount that is common to all, by inverse variances, and its spread."""
    weights = 1 / spread**2
    return float(np.sum(weights * off) / np.sum(weights)), 1 / sqrt(float(np.sum(weights)))


def _arrays(tables: Sequence[Moved]) -> tuple[np.ndarray, np.ndarray]:
    return np.array([t.off for t in tables]), np.array([t.spread for t in tables])


def _together(tables: Sequence[Moved]) -> bool:
    """Whether one amount explains all tables of the gauge."""
    off, spread = _arrays(tables)
    return bool(np.all(np.abs(off - _common(off, spread)[0]) <= _AGREE * spread))


def _suspicion(scene: Scene, gauge: str, tables: Sequence[Moved]) -> Suspicion:
    at = sorted(i for t in tables for i in t.at)
    off = _common(*_arrays(tables))[0]
    stop = any(verdict_changes(scene, i, float(scene.columns["size"][i]) - off) for i in at)
    last = _master(scene, gauge)
    return Suspicion(
        tuple(at), "gauge_not_zeroed", "stop" if stop else "ask", gauge,
        f"Everything read on {gauge} here lies {off / TICKS_PER_UM:+.0f} um from where such work usually is: "
        "{who}.",
        f"The form is as ever; a gauge zeroed wrong makes just such a step{last}.",
        f"Read {gauge}'s master. If the gauge was wrong, discard these rows and measure again; if the master "
        "reads right, accept: then the machine moved.",
    )  # fmt: skip


def _master(scene: Scene, gauge: str) -> str:
    """The last reading of the gauge's master, in words."""
    series = (gauge, "check", "master_check", CATALOGUE["master_check"].methods[0], "unstated")
    told = [r for b in scene.load([series])[series].blocks for r in b.readings]
    if not told or told[-1].deviation != told[-1].deviation:
        return ""
    return f" (its master last read {told[-1].deviation / TICKS_PER_UM:+.1f} um, on {day(told[-1].made_at)})"
