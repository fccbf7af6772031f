"""Whether everything a gauge read in a file lies off by one amount, its form as ever: zeroed wrong?"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from math import sqrt
from typing import Any, Final, NamedTuple

import numpy as np

from qc.catalogue import CATALOGUE
from qc.ingest.plausible.fit import Fit, fitted, steps
from qc.ingest.plausible.past import Past
from qc.ingest.plausible.registered import day
from qc.ingest.plausible.scene import Scene, Suspicion
from qc.ingest.plausible.values import verdict_changes
from qc.units import TICKS_PER_UM

CODES: Final = ("gauge_not_zeroed",)
RIVALS: Final = True
_TABLE: Final = ("gauge", "build", "machine", "operation", "characteristic", "method", "state")
_LEAST: Final = 4  # readings of a table
_BLOCKS: Final = 3  # past ones that make a usual level
_KNOWN: Final = 15  # past ones whose ends tell as much as their spread
_OFF: Final = 5.5  # spreads of block levels
_MOST: Final = 120 * TICKS_PER_UM  # more is another oversize, or a turn of the dial
_FORM: Final = 2.0  # times the usual spread that a block's own may be


class Moved(NamedTuple):
    """One table of a gauge: its rows, how far it lies off, and the spread of such levels [ticks]."""

    at: list[int]
    off: float
    spread: float
    form: bool

    @property
    def strange(self) -> bool:
        """Whether the table as a whole is not where its series is."""
        return abs(self.off) > _OFF * self.spread and abs(self.off) < _MOST and self.form


def doubts(scene: Scene) -> Iterator[Suspicion]:
    """Yield one suspicion a gauge."""
    groups: dict[tuple[Any, ...], list[int]] = defaultdict(list)
    for i, key in enumerate(zip(*(scene.columns[n].tolist() for n in _TABLE), strict=True)):
        if key[0] is not None and key[1] is not None:
            groups[key].append(i)
    gauges: dict[str, list[Moved]] = defaultdict(list)
    for key, at in groups.items():
        moved = _moved(scene, key, at)
        if moved is not None:
            gauges[key[0]].append(moved)
    for gauge, tables in gauges.items():
        off = [t.off for t in tables]
        one_way = all(x > 0 for x in off) or all(x < 0 for x in off)
        if one_way and any(t.strange for t in tables) and _together(tables):
            yield _suspicion(scene, gauge, tables)


def _moved(scene: Scene, key: tuple[Any, ...], at: list[int]) -> Moved | None:
    c = scene.columns
    deviation = c["deviation"][at]
    if len(at) < _LEAST or not CATALOGUE[key[4]].coded or np.isnan(deviation).any():
        return None
    past = scene.past(key[2:]).like(True, c["unit"][at[0]])
    if len(past.levels) < _BLOCKS:
        return None
    step = steps(c["text"][at].tolist(), c["unit"][at].tolist())
    fit = fitted(key[4], c["feature"][at].tolist(), c["station"][at], c["clock"][at], c["size"][at],
                 deviation, step)  # fmt: skip
    return Moved(at, fit.level - past.level, _level_spread(past, len(set(c["feature"][at].tolist()))),
                 _formed(fit, past))  # fmt: skip


def _level_spread(past: Past, bores: int) -> float:
    """Spread of block levels [ticks], never less than what bores and the gauge's step alone make.

    Where many blocks are known and their levels end soon, as those of parts as they come do, twice the
    farthest of them is far enough.
    """
    n = len(past.levels)
    few = 1.0 + 4.0 / n  # a spread of few blocks is itself uncertain
    floor = max(x for x in (past.spread / sqrt(bores), past.spread * (0.35 + 2 / n), past.step / 3) if x == x)
    told = max(x for x in (past.level_spread * few, floor) if x == x)
    if n < _KNOWN:
        return told
    ends = float(np.max(np.abs(past.levels - past.level)))
    return max(floor, min(told, (2.2 * ends + past.step) / _OFF))


def _formed(fit: Fit, past: Past) -> bool:
    """Whether the block's spread is what it usually is: a step of the gauge leaves form alone."""
    allowed = max(x for x in (past.spread * _FORM, fit.step, past.step, 0.0) if x == x)
    return not fit.spread > allowed


def _together(tables: Sequence[Moved]) -> bool:
    """Whether one amount explains all tables of the gauge."""
    weights = np.array([1 / t.spread**2 for t in tables])
    off = np.array([t.off for t in tables])
    middle = float(np.sum(weights * off) / np.sum(weights))
    return bool(np.all(np.abs(off - middle) <= 3.5 * np.array([t.spread for t in tables])))


def _suspicion(scene: Scene, gauge: str, tables: Sequence[Moved]) -> Suspicion:
    at = sorted(i for t in tables for i in t.at)
    weights = np.array([1 / t.spread**2 for t in tables])
    off = float(np.sum(weights * np.array([t.off for t in tables])) / np.sum(weights))
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
